//! `ringwright dialect`: what the author of a dialect needs, from the first file to a trial on two spare units.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};

use super::{Exit, FindingsAs, Reader, Request, Standing, terminal};
use crate::compile::{COMPILER, compile, prove};
use crate::diag::{Code, Diagnostic};
use crate::lint::{cases, lint, scaffold, trial};
use crate::model::document::Inputs;
use crate::platform::{CASES, MANIFEST, Platform, builtin_files};
use crate::render::{Dossier, context_json, words};
use crate::source::{FileId, Span};

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&CASE_DIFFERS, &NO_CASES, &IN_THE_WAY, &BAD_NAME];

/// A golden case that differs.
const CASE_DIFFERS: Code = Code {
    name: "case-differs",
    explanation: "A golden case holds what a dialect rendered when somebody last read it and found it right. It renders \
something else now. Read the difference: put the template right, or take the new text with `--bless`.",
};
/// A dialect without golden cases.
const NO_CASES: Code = Code {
    name: "no-cases",
    explanation: "A golden case is a folder `tests/<case>/` in the dialect's, with an `intent.yaml`, a `baseline.yaml` where \
a stack already runs, and `expected/`, which `--bless` writes.",
};
/// Something that stands where new files would go.
const IN_THE_WAY: Code = Code {
    name: "in-the-way",
    explanation: "A new dialect, or the copy of one, goes into a folder that is not there or is empty, so that nothing of \
anybody's is overwritten.",
};
/// A folder whose name is no dialect's.
const BAD_NAME: Code = Code {
    name: "dialect-name",
    explanation: "A dialect is named as its folder is. A name begins with a letter or a digit and holds letters, digits, `.`, \
`_` and `-`, at most 63 in all.",
};

/// Work on a dialect: the templates and habits of one platform.
#[derive(Args)]
pub(super) struct Dialect {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Begin a dialect on top of another one: it renders at once, with a remark at every place to edit.
    New(New),
    /// Tell what a dialect's templates forget, swap, hard-code or leave over.
    Lint(Folder),
    /// Render a dialect's golden cases and show what differs.
    Test(Test),
    /// Print the data that templates see for an intent, as JSON.
    Context(Context),
    /// Write a dialect out as a folder that stands on its own.
    Export(Export),
    /// Print a bench exercise for two spare units that tries what the dialect's traits say.
    Trial(Folder),
}

/// A folder to begin a dialect in.
#[derive(Args)]
struct New {
    /// The new dialect's folder; its name is the dialect's.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// The dialect that it is laid on: a built-in one, or a folder relative to the new one.
    #[arg(long, value_name = "DIALECT", default_value = "neutral")]
    extends: String,
}

/// A dialect.
#[derive(Args)]
struct Folder {
    /// The dialect: a built-in one's name, or a folder.
    #[arg(value_name = "DIALECT")]
    dialect: String,
    /// How findings are written.
    #[arg(long, value_enum, value_name = "AS", default_value_t)]
    findings: FindingsAs,
}

/// A dialect whose cases are rendered.
#[derive(Args)]
struct Test {
    #[command(flatten)]
    dialect: Folder,
    /// Take what is rendered now for right.
    #[arg(long)]
    bless: bool,
}

/// An intent whose context is printed.
#[derive(Args)]
struct Context {
    /// The intent.
    #[arg(value_name = "INTENT")]
    intent: PathBuf,
    /// The stack as it stands, instead of what the intent names.
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    /// Another dialect than the intent's.
    #[arg(long, value_name = "DIALECT")]
    dialect: Option<String>,
    /// A folder that may hold dialects, beside the intent's own.
    #[arg(long, value_name = "DIR")]
    dialect_root: Vec<PathBuf>,
    /// What the templates of steps and facts see and say instead, one after the other.
    #[arg(long)]
    words: bool,
}

/// A dialect that is written out.
#[derive(Args)]
struct Export {
    /// The dialect: a built-in one's name, or a folder.
    #[arg(value_name = "DIALECT")]
    dialect: String,
    /// The folder to write.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

impl Dialect {
    pub(super) fn run(self) -> Exit {
        let mut reader = Reader::default();
        let as_data = match &self.command {
            Command::Lint(folder) | Command::Trial(folder) => folder.findings,
            Command::Test(test) => test.dialect.findings,
            Command::New(_) | Command::Context(_) | Command::Export(_) => FindingsAs::Text,
        };
        let said = match &self.command {
            Command::New(new) => new.run(&mut reader),
            Command::Lint(folder) => folder.lint(&mut reader),
            Command::Test(test) => test.run(&mut reader),
            Command::Context(context) => context.run(&mut reader),
            Command::Export(export) => export.run(&mut reader),
            Command::Trial(folder) => folder.trial(&mut reader),
        };
        reader.findings.sort();
        terminal::findings(&reader.findings, &reader.sources, as_data);
        if let (Some(text), FindingsAs::Text) = (said, as_data) {
            terminal::print(&text);
        }
        terminal::exit(&reader.findings, reader.unreadable)
    }
}

/// The dialect of a name or a folder.
fn load(reader: &mut Reader, dialect: &str) -> Option<Platform> {
    let named = reader.sources.add("the command line", dialect);
    reader.dialect_named(dialect, whole(named, dialect)).ok()
}

fn whole(file: FileId, text: &str) -> Span {
    Span::new(file, 0..text.len())
}

impl New {
    fn run(&self, reader: &mut Reader) -> Option<String> {
        let name = self.folder.file_name().and_then(|name| name.to_str()).unwrap_or("");
        if !is_name(name) {
            let message = format!("`{}` does not end in the name of a dialect", self.folder.display());
            reader
                .findings
                .error(Diagnostic::error(&BAD_NAME, None, message).help("name the folder as the dialect: `./ours`"));
            return None;
        }
        let is_folder = self.extends.contains('/') || self.extends.starts_with('.');
        let base = if is_folder { self.folder.join(&self.extends).display().to_string() } else { self.extends.clone() };
        // the folder need not be there for the one beside it to be found
        fs::create_dir_all(&self.folder).ok();
        let Some(platform) = load(reader, &base) else {
            // nothing was written: an empty folder of ours goes again
            let _ = fs::remove_dir(&self.folder);
            return None;
        };
        let files = scaffold::files(name, &platform, &self.extends);
        write_new(reader, &self.folder, &files)?;
        Some(format!(
            "{} files are in {}. Edit them, then: ringwright dialect lint {}\n",
            files.len(),
            self.folder.display(),
            self.folder.display()
        ))
    }
}

fn is_name(name: &str) -> bool {
    let sign = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-');
    name.len() <= 63 && name.chars().all(sign) && name.starts_with(|c: char| c.is_ascii_alphanumeric())
}

/// Writes files into a folder that is not there or empty.
fn write_new(reader: &mut Reader, folder: &Path, files: &BTreeMap<String, String>) -> Option<()> {
    let full = fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some());
    if full || folder.is_file() {
        let message = format!("`{}` is there already, and something is in it", folder.display());
        reader.findings.error(Diagnostic::error(&IN_THE_WAY, None, message).help("name a folder that is not there"));
        return None;
    }
    for (path, text) in files {
        let path = folder.join(path);
        let made = path.parent().map_or(Ok(()), fs::create_dir_all).and_then(|()| fs::write(&path, text));
        if let Err(error) = made {
            reader.cannot_write(&path, &error);
            return None;
        }
    }
    Some(())
}

impl Folder {
    fn lint(&self, reader: &mut Reader) -> Option<String> {
        let platform = load(reader, &self.dialect)?;
        lint(&platform, &reader.sources, &mut reader.findings);
        let name = &platform.name;
        Some(match reader.findings.all().len() {
            0 => format!("nothing is wrong with the dialect {name}\n"),
            1 => format!("one thing is wrong with the dialect {name}\n"),
            count => format!("{count} things are wrong with the dialect {name}\n"),
        })
    }

    fn trial(&self, reader: &mut Reader) -> Option<String> {
        let platform = load(reader, &self.dialect)?;
        match trial::trial(&platform) {
            Ok(text) => Some(text),
            Err(fault) => {
                let place = platform.file_ids.get(MANIFEST).map(|file| Span::new(*file, 0..0))?;
                let found = crate::compile::template_fault(&fault, &platform, &reader.sources, place);
                reader.findings.error(found);
                None
            }
        }
    }
}

impl Test {
    fn run(&self, reader: &mut Reader) -> Option<String> {
        let dialect = &self.dialect.dialect;
        load(reader, dialect)?;
        let root = Path::new(dialect).join(CASES);
        let mut names: Vec<PathBuf> = fs::read_dir(&root)
            .map(|entries| entries.filter_map(|entry| entry.ok().map(|entry| entry.path())).collect())
            .unwrap_or_default();
        names.retain(|path| path.join("intent.yaml").is_file());
        names.sort();
        if names.is_empty() {
            let message = format!("there is no golden case in `{}`", root.display());
            let help = "put an `intent.yaml` into a folder of it, and run this with `--bless`";
            reader.findings.error(Diagnostic::error(&NO_CASES, None, message).help(help));
            return None;
        }
        let mut fine = 0;
        for case in &names {
            fine += usize::from(self.case(reader, case) == Some(true));
        }
        let count = names.len();
        let cases = if count == 1 { "one case".to_owned() } else { format!("{count} cases") };
        Some(match (self.bless, count - fine) {
            (true, 0) => format!("{cases} written anew: read the difference before you keep it\n"),
            (true, left) => format!("{} of {cases} could not be written anew\n", left),
            (false, 0) => format!("{cases}: as expected\n"),
            (false, differ) => format!("{cases}: {fine} as expected, {differ} not\n"),
        })
    }

    /// Whether a case is as it was; where it is not, the difference is a finding.
    fn case(&self, reader: &mut Reader, case: &Path) -> Option<bool> {
        let (intent, baseline) = (case.join("intent.yaml"), case.join("baseline.yaml"));
        let from = baseline.is_file().then_some(baseline.as_path());
        let request = Request { intent: &intent, from: Standing::or_named(from), dialect: Some(&self.dialect.dialect) };
        let opened = reader.open(&request).ok()?;
        let before = opened.baseline.as_ref();
        let compiled = compile(&reader.sources, &opened.intent, before, &opened.platform, &mut reader.findings).ok()?;
        let made = cases::kept(&compiled.bundle);
        let expected = case.join("expected");
        if self.bless {
            let _ = fs::remove_dir_all(&expected);
            return write_new(reader, &expected, &made).map(|()| true);
        }
        let known = if expected.is_dir() {
            reader.files(&fs::canonicalize(&expected).ok()?, None).ok()?
        } else {
            BTreeMap::new()
        };
        let difference = cases::difference(&known, &made);
        if difference.is_empty() {
            return Some(true);
        }
        let message = format!("the golden case `{}` renders something else", case.display());
        reader
            .findings
            .error(Diagnostic::error(&CASE_DIFFERS, None, message).help("read the difference; `--bless` takes it"));
        if self.dialect.findings == FindingsAs::Text {
            terminal::print(&difference);
        }
        Some(false)
    }
}

impl Context {
    fn run(&self, reader: &mut Reader) -> Option<String> {
        *reader = Reader::new(self.dialect_root.clone());
        let request = Request {
            intent: &self.intent,
            from: Standing::or_named(self.from.as_deref()),
            dialect: self.dialect.as_deref(),
        };
        let opened = reader.open(&request).ok()?;
        let (intent, platform) = (&opened.intent, &opened.platform);
        let problem = opened.problem;
        let Inputs { intent: own, baseline, dialect } = opened.inputs;
        let mut digests = BTreeMap::from([("intent".to_owned(), own), ("dialect".to_owned(), dialect)]);
        digests.extend(baseline.map(|baseline| ("baseline".to_owned(), baseline)));
        let rehearsed = prove(&problem, intent, &digests, &mut reader.findings).ok()?;
        let (delta, site) = (&problem.delta, &problem.site);
        let dossier = Dossier { rehearsed: &rehearsed, delta, site, platform, compiler: COMPILER, inputs: &digests };
        let words = || words(&dossier).map(|heard| serde_json::to_value(heard).unwrap_or_default());
        match if self.words { words() } else { context_json(&dossier) } {
            Ok(context) => Some(format!("{context:#}\n")),
            Err(fault) => {
                let found = crate::compile::template_fault(&fault, platform, &reader.sources, intent.dialect.span);
                reader.findings.error(found);
                None
            }
        }
    }
}

/// The files of a dialect that extends none: those of all that it is laid on, and one manifest.
fn standing(platform: &Platform) -> BTreeMap<String, String> {
    let mut files = platform.files.clone();
    files.insert(MANIFEST.to_owned(), platform.manifest.clone());
    files
}

impl Export {
    fn run(&self, reader: &mut Reader) -> Option<String> {
        let files = match builtin_files(&self.dialect) {
            Some(files) => files,
            None => standing(&load(reader, &self.dialect)?),
        };
        write_new(reader, &self.folder, &files)?;
        Some(format!("{} files are in {}\n", files.len(), self.folder.display()))
    }
}
