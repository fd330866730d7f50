//! A template and its context -> text, within limits: fuel, output size, no file, no process.
//!
//! A line break in an output comes from a template's own text, never from a value: printing a value that
//! holds a control character is an error, and so is printing a value that is missing.

use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, Write};
use std::rc::Rc;
use std::sync::{Arc, LazyLock, Mutex};

use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Value, ValueKind};
use minijinja::{AutoEscape, Environment, Error, ErrorKind, Output, State, UndefinedBehavior};

use super::error::{RenderCode, RenderError};
use crate::platform::{OutputKind, Platform};

/// Instructions that one output may take: some fifty times what the runbook of a change of 16 members takes.
const FUEL: u64 = 8_000_000;
/// Instructions that all outputs and words of one bundle may take together.
const ALL_FUEL: u64 = 12_000_000;
/// Instructions that a name or a path may take.
const SHORT_FUEL: u64 = 20_000;
/// Bytes that one output may have.
const MAX_OUTPUT: usize = 16 * 1024 * 1024;
/// Bytes that all outputs of one bundle may have together.
const ALL_OUTPUT: usize = 64 * 1024 * 1024;
/// Characters that one tag or expression may have: what is nested or chained in it takes room on the stack.
const LONGEST_EXPRESSION: usize = 8_000;
/// Name under which the manifest's templates for paths and ports stand.
pub(super) const MANIFEST: &str = "dialect.yaml";

/// The templates of one dialect: an engine for each way of escaping, made at its first need and parsed once. What they
/// spend on one bundle is counted together.
pub struct Engines {
    files: Arc<BTreeMap<String, String>>,
    made: RefCell<BTreeMap<&'static str, Rc<Engine>>>,
    spent: Rc<Spent>,
    reached: Arc<Mutex<BTreeSet<String>>>,
}

/// What was spent on one bundle so far.
#[derive(Default)]
struct Spent {
    fuel: Cell<u64>,
    bytes: Cell<usize>,
}

impl Engines {
    /// All templates of the dialect. Each is parsed at its first need.
    #[must_use]
    pub fn new(platform: &Platform) -> Self {
        let files = Arc::new(platform.files.clone());
        Self { files, made: RefCell::default(), spent: Rc::default(), reached: Arc::default() }
    }

    /// Begins the next bundle, with the fuel of one.
    pub fn begin(&self) {
        self.spent.fuel.set(0);
        self.spent.bytes.set(0);
    }

    /// The engine that escapes as this kind asks.
    pub(super) fn of(&self, kind: OutputKind) -> Rc<Engine> {
        let make = || {
            let (files, reached) = (Arc::clone(&self.files), Arc::clone(&self.reached));
            let mut environment = bare(escaping(kind), FUEL);
            environment.set_loader(move |path| {
                let found = files.get(path).cloned();
                if found.as_deref().is_some_and(is_endless) {
                    let why = format!("an expression is longer than {LONGEST_EXPRESSION} characters");
                    return Err(Error::new(ErrorKind::SyntaxError, why));
                }
                if let (Some(_), Ok(mut reached)) = (&found, reached.lock()) {
                    reached.insert(path.to_owned());
                }
                Ok(found)
            });
            Rc::new(Engine { environment, spent: Rc::clone(&self.spent) })
        };
        Rc::clone(self.made.borrow_mut().entry(kind.as_str()).or_insert_with(make))
    }

    /// The templates that were asked for so far.
    pub(super) fn reached(&self) -> BTreeSet<String> {
        self.reached.lock().map(|reached| reached.clone()).unwrap_or_default()
    }
}

/// The templates of one dialect, set up for one kind of output.
pub(super) struct Engine {
    environment: Environment<'static>,
    spent: Rc<Spent>,
}

impl Engine {
    /// Whether the template at this path is there and parses.
    ///
    /// # Errors
    /// A template that is missing or does not parse.
    pub(super) fn parse(&self, template: &str) -> Result<(), RenderError> {
        self.environment.get_template(template).map(|_| ()).map_err(|error| RenderError::from_engine(&error, template))
    }

    /// Renders the template at this path of the dialect.
    ///
    /// # Errors
    /// A template that is missing or fails, or an output that passes a limit.
    pub(super) fn render(&self, template: &str, context: &Value) -> Result<String, RenderError> {
        let (text, fuel) = render_in(&self.environment, template, context).map_err(|fault| match fault.code {
            RenderCode::TemplateFailed => self.in_detail(template, context).unwrap_or(fault),
            _ => fault,
        })?;
        self.spent.fuel.set(self.spent.fuel.get() + fuel);
        self.spent.bytes.set(self.spent.bytes.get() + text.len());
        let beyond = |code, what: &str| Err(RenderError::new(code, what).in_template(template));
        if self.spent.fuel.get() > ALL_FUEL {
            return beyond(RenderCode::TemplateFuel, "all outputs together ran out of fuel, here at last");
        }
        if self.spent.bytes.get() > ALL_OUTPUT {
            return beyond(RenderCode::OutputTooLarge, "all outputs together are larger than 64 MiB, here at last");
        }
        Ok(text)
    }

    /// The fault once more, from an engine that takes the time to note places and values.
    fn in_detail(&self, template: &str, context: &Value) -> Option<RenderError> {
        let mut environment = self.environment.clone();
        environment.clear_templates();
        environment.set_debug(true);
        render_in(&environment, template, context).err()
    }
}

/// The text, and the fuel that it took.
fn render_in(environment: &Environment, template: &str, context: &Value) -> Result<(String, u64), RenderError> {
    let found = environment.get_template(template).map_err(|error| RenderError::from_engine(&error, template))?;
    let mut sink = Sink::default();
    let done = found.render_captured_to(context.clone(), &mut sink);
    let done = done.map(|captured| captured.state().fuel_levels().map_or(0, |(consumed, _)| consumed));
    sink.finish(done, template)
}

/// A short template of the manifest itself: a path or an interface name.
///
/// # Errors
/// A template that does not parse or fails.
pub(super) fn render_short(source: &str, context: &Value) -> Result<String, RenderError> {
    if is_endless(source) {
        let why = format!("an expression is longer than {LONGEST_EXPRESSION} characters");
        return Err(RenderError::new(RenderCode::TemplateSyntax, why).in_manifest(source));
    }
    // interface names are rendered by the hundred: one engine without templates serves them all
    static SHORT: LazyLock<Environment<'static>> =
        LazyLock::new(|| bare(AutoEscape::Custom("text".into()), SHORT_FUEL));
    SHORT
        .render_named_str(MANIFEST, source, context.clone())
        .map_err(|error| RenderError::from_engine(&error, MANIFEST).in_manifest(source))
}

/// Whether a tag or an expression is longer than any that a person writes.
fn is_endless(text: &str) -> bool {
    text.len() > LONGEST_EXPRESSION && longest_tag(text) > LONGEST_EXPRESSION
}

/// The characters of the longest tag or expression; one without an end reaches to the end of the text.
fn longest_tag(text: &str) -> usize {
    let starts = text.match_indices("{%").chain(text.match_indices("{{")).map(|(at, _)| at);
    let length = |at: usize| {
        let rest = text.get(at..).unwrap_or("");
        rest.find("%}").into_iter().chain(rest.find("}}")).min().unwrap_or(rest.len())
    };
    starts.map(length).max().unwrap_or(0)
}

/// An engine without templates.
fn bare(escaping: AutoEscape, fuel: u64) -> Environment<'static> {
    let mut environment = Environment::new();
    environment.set_debug(false);
    environment.set_syntax(syntax());
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_fuel(Some(fuel));
    environment.set_auto_escape_callback(move |_| escaping.clone());
    environment.set_formatter(print);
    environment.remove_filter("safe");
    // a width of its own makes text of any size in one instruction
    environment.remove_filter("format");
    environment.add_filter("code", in_code_block);
    environment
}

/// A line that holds only a tag leaves no line in the output.
fn syntax() -> SyntaxConfig {
    SyntaxConfig::builder()
        .trim_blocks(true)
        .lstrip_blocks(true)
        .keep_trailing_newline(true)
        .build()
        .unwrap_or_default()
}

/// How values are escaped in each kind of output.
fn escaping(kind: OutputKind) -> AutoEscape {
    match kind {
        OutputKind::Text => AutoEscape::Custom("text".into()),
        OutputKind::Markdown => AutoEscape::Custom("markdown".into()),
        OutputKind::Csv => AutoEscape::Custom("csv".into()),
        OutputKind::Json => AutoEscape::Json,
        OutputKind::Html | OutputKind::Xml | OutputKind::Svg => AutoEscape::Html,
    }
}

/// Prints one value of a template.
fn print(out: &mut Output, state: &mut State, value: &Value) -> Result<(), Error> {
    let kind = match state.auto_escape() {
        AutoEscape::Custom(kind) => kind.clone(),
        AutoEscape::None => "text".into(),
        AutoEscape::Html => "html".into(),
        _ => return minijinja::escape_formatter(out, state, value),
    };
    if value.is_safe() {
        return Ok(out.write_str(value.as_str().unwrap_or_default())?);
    }
    let text = printable(value)?;
    let escaped = match kind.as_ref() {
        "markdown" => escape_markdown(&text),
        "csv" => escape_csv(&text),
        "html" => escape_html(&text),
        _ => text,
    };
    Ok(out.write_str(&escaped)?)
}

/// The text of a value that may be printed on its own.
fn printable(value: &Value) -> Result<String, Error> {
    match value.kind() {
        ValueKind::String | ValueKind::Number | ValueKind::Bool => {}
        ValueKind::Undefined => return Err(ErrorKind::UndefinedError.into()),
        ValueKind::None => return Err(wrong("a value that is none is printed; ask with `is not none` first")),
        _ => return Err(wrong("a list or a map is printed; print its parts")),
    }
    let text = value.to_string();
    match text.chars().find(|one| !is_plain(*one)) {
        Some(found) => Err(wrong(format!("a value holds the control character U+{:04X}", u32::from(found)))),
        None => Ok(text),
    }
}

fn wrong(detail: impl Into<String>) -> Error {
    Error::new(ErrorKind::InvalidOperation, detail.into())
}

/// Neither a control character, nor a line or paragraph separator, nor one that turns the reading direction.
pub(super) fn is_plain(one: char) -> bool {
    !one.is_control() && !matches!(one, '\u{2028}' | '\u{2029}' | '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// Inside a fenced code block of Markdown nothing is escaped, so that columns stay upright.
fn in_code_block(value: &Value) -> Result<Value, Error> {
    let text = printable(value)?;
    if text.contains("```") || text.contains("~~~") {
        return Err(wrong("a value would end the code block that it is printed in"));
    }
    Ok(Value::from_safe_string(text))
}

/// Backslashes before what Markdown (CommonMark) would read as a mark; an underscore inside a word is none.
fn escape_markdown(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = ' ';
    let mut rest = text.chars().peekable();
    while let Some(one) = rest.next() {
        let in_word = before.is_alphanumeric() && rest.peek().is_some_and(|next| next.is_alphanumeric());
        if matches!(one, '\\' | '`' | '*' | '[' | ']' | '<' | '>' | '|' | '&') || (matches!(one, '_' | '~') && !in_word)
        {
            out.push('\\');
        }
        out.push(one);
        before = one;
    }
    out
}

/// The five signs that mean something in HTML and XML, also inside quotes, as Jinja2 writes them. The engine's own way
/// writes a slash in six bytes, and port names are full of them.
fn escape_html(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for one in text.chars() {
        match one {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&#34;"),
            '\'' => out.push_str("&#39;"),
            other => out.push(other),
        }
    }
    out
}

/// Quotes a field as RFC 4180 asks.
fn escape_csv(text: &str) -> String {
    if text.contains([',', '"']) || text != text.trim() {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// Takes what is rendered, up to the limit.
#[derive(Default)]
struct Sink {
    bytes: Vec<u8>,
    full: Cell<bool>,
}

impl Write for Sink {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        if self.bytes.len() + bytes.len() > MAX_OUTPUT {
            self.full.set(true);
            return Err(io::ErrorKind::FileTooLarge.into());
        }
        self.bytes.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Sink {
    fn finish(self, done: Result<u64, Error>, template: &str) -> Result<(String, u64), RenderError> {
        if self.full.get() {
            let message = format!("the output is larger than {} MiB", MAX_OUTPUT / 1024 / 1024);
            return Err(RenderError::new(RenderCode::OutputTooLarge, message).in_template(template));
        }
        let fuel = done.map_err(|error| RenderError::from_engine(&error, template))?;
        let text = String::from_utf8(self.bytes).map_err(|_| {
            RenderError::new(RenderCode::OutputMalformed, "the output is not UTF-8").in_template(template)
        })?;
        Ok((text, fuel))
    }
}
