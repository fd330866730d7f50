//! The events of a YAML parser -> a [`Node`].
//!
//! Goes on after a fault that leaves the rest readable, so that one run finds them all. Nothing here
//! recurses: a file cannot exhaust the stack.

use std::collections::{BTreeMap, btree_map};

use saphyr_parser::{Event, Marker, Parser, ScalarStyle, Span as Marks};

use super::{Data, Entry, Node, scalar};
use crate::diag::{Code, Diagnostic, Findings, Reported};
use crate::source::{FileId, Sources, Span};

/// The largest file that is read, in bytes.
pub const MAX_BYTES: usize = 4 << 20;
/// The deepest nesting of lists and maps.
const MAX_DEPTH: usize = 64;

/// The file is no YAML.
pub const NOT_YAML: Code = Code {
    name: "not-yaml",
    explanation: "The file cannot be read as YAML 1.2 at all. Most often a bracket or a quote is not closed, a tab \
indents a line, or a value with `: ` or ` #` in it wants quotes. Only the first such place is shown, because what \
follows it cannot be told apart.",
};
/// The file is too large.
pub const TOO_BIG: Code = Code {
    name: "too-big",
    explanation: "A file over 4 MiB is refused before it is read: the intent of the largest stack takes some kilobytes, \
so a larger one is most likely the wrong file.",
};
/// Lists and maps are nested too deeply.
pub const TOO_DEEP: Code = Code {
    name: "too-deep",
    explanation: "Lists and maps may stand in each other 64 deep. An intent needs some six levels; free data under \
`vars` has the rest.",
};
/// One key twice in a map.
pub const DUPLICATE_KEY: Code = Code {
    name: "duplicate-key",
    explanation: "A key stands twice in one map. Some readers take the first value and some the last, so neither is \
taken. Keep one of the two.",
};
/// An anchor, an alias or a tag.
pub const NOT_PLAIN: Code = Code {
    name: "not-plain",
    explanation: "Anchors (`&name`), aliases (`*name`) and tags (`!name`) are refused: a file must say what it says in \
the place where it is read, and a small file of aliases can grow beyond any memory. Write the value out.",
};
/// More than one document.
pub const SECOND_DOCUMENT: Code = Code {
    name: "second-document",
    explanation: "A file holds one document. After a line `---` or `...` nothing more may follow, because a reader that \
takes the first document only would miss it without a word. Put the second one into a file of its own.",
};
/// A key that is not text.
pub const KEY_NOT_TEXT: Code = Code {
    name: "key-not-text",
    explanation: "Every key is text. A key that reads as a number, as true or false, or as nothing wants quotes; a list \
or a map cannot be a key.",
};

/// Reads a file into a tree. Faults that leave the tree readable are reported, and the tree is returned.
///
/// # Errors
/// [`Reported`], if there is no tree at all.
pub fn read(sources: &Sources, file: FileId, findings: &mut Findings) -> Result<Node, Reported> {
    let text = sources.text(file);
    if text.len() > MAX_BYTES {
        let message =
            format!("this file has more than {} MiB, and no intent or dialect needs as much", MAX_BYTES >> 20);
        return Err(findings.error(Diagnostic::error(&TOO_BIG, Span::new(file, 0..0), message)));
    }
    let mut builder =
        Builder { file, text, lines: line_starts(text), last: (0, 0, 0), findings, open: Vec::new(), root: None };
    let mut parser = Parser::new_from_str(text);
    while let Some(next) = parser.next_event() {
        match next {
            Ok((event, marks)) => builder.take(event, marks)?,
            Err(fault) => {
                // what is missing at the end of a file is missing after its last word
                let byte = builder.byte(*fault.marker()).min(text.trim_end().len());
                let place = Span::new(file, byte..byte);
                let message = format!("this cannot be read as YAML: {}", fault.info());
                return Err(builder.findings.error(Diagnostic::error(&NOT_YAML, place, message)));
            }
        }
    }
    let empty = Node { span: Span::new(file, 0..0), data: Data::Null };
    Ok(builder.root.unwrap_or(empty))
}

struct Builder<'a> {
    file: FileId,
    text: &'a str,
    lines: Vec<usize>,
    /// Line, column and byte of the last place, so that a long line is walked once.
    last: (usize, usize, usize),
    findings: &'a mut Findings,
    open: Vec<Open>,
    root: Option<Node>,
}

/// What stands before the value that comes next in a map.
enum Key {
    /// Nothing: a key comes next.
    Awaited,
    /// A key.
    Read(String, Span),
    /// A key that was refused, and its value with it.
    Refused,
}

/// A list or map that is not closed yet.
enum Open {
    List { start: Span, items: Vec<Node>, refused: bool },
    Map { start: Span, entries: Vec<Entry>, seen: BTreeMap<String, Span>, key: Key, refused: bool },
}

impl Builder<'_> {
    fn take(&mut self, event: Event<'_>, marks: Marks) -> Result<(), Reported> {
        let span = self.span(marks.start, marks.end);
        match event {
            Event::Nothing | Event::StreamStart | Event::StreamEnd | Event::DocumentEnd => {}
            Event::DocumentStart(_) => return self.start_document(span),
            Event::Alias(_) => {
                self.refuse(span, "an alias");
                self.put(Node { span, data: Data::Refused });
            }
            Event::Scalar(text, style, anchor, tag) => {
                let refused = self.refuse_marks(span, anchor, tag.is_some());
                let data = if refused { Data::Refused } else { self.scalar(&text, style, span) };
                self.put(Node { span, data });
            }
            Event::SequenceStart(anchor, tag) => {
                let refused = self.refuse_marks(span, anchor, tag.is_some());
                return self.deeper(Open::List { start: span, items: Vec::new(), refused }, span);
            }
            Event::MappingStart(anchor, tag) => {
                let refused = self.refuse_marks(span, anchor, tag.is_some());
                return self.deeper(
                    Open::Map { start: span, entries: Vec::new(), seen: BTreeMap::new(), key: Key::Awaited, refused },
                    span,
                );
            }
            Event::SequenceEnd | Event::MappingEnd => self.close(span),
        }
        Ok(())
    }

    fn start_document(&mut self, span: Span) -> Result<(), Reported> {
        if self.root.is_none() {
            return Ok(());
        }
        let message = "a second document begins here, and a file holds one";
        let help = "put it into a file of its own";
        Err(self.findings.error(Diagnostic::error(&SECOND_DOCUMENT, span, message).help(help)))
    }

    fn deeper(&mut self, open: Open, span: Span) -> Result<(), Reported> {
        if self.open.len() >= MAX_DEPTH {
            let message = format!("lists and maps stand in each other more than {MAX_DEPTH} deep here");
            return Err(self.findings.error(Diagnostic::error(&TOO_DEEP, span, message)));
        }
        self.open.push(open);
        Ok(())
    }

    fn close(&mut self, end: Span) {
        let node = match self.open.pop() {
            Some(Open::List { start, items, refused }) => {
                let last = items.last().map_or(start, |item| item.span);
                Node { span: around(start, last, end), data: if refused { Data::Refused } else { Data::List(items) } }
            }
            Some(Open::Map { start, entries, refused, .. }) => {
                let last = entries.last().map_or(start, |entry| entry.value.span);
                Node { span: around(start, last, end), data: if refused { Data::Refused } else { Data::Map(entries) } }
            }
            None => return,
        };
        self.put(node);
    }

    /// A finished node goes into what is open around it: as an item, a key or a value.
    fn put(&mut self, node: Node) {
        let findings = &mut *self.findings;
        match self.open.last_mut() {
            None => self.root = Some(node),
            Some(Open::List { items, .. }) => items.push(node),
            Some(Open::Map { entries, seen, key, .. }) => match std::mem::replace(key, Key::Awaited) {
                Key::Awaited => *key = key_of(node, findings),
                Key::Refused => {}
                Key::Read(name, place) => match seen.entry(name) {
                    btree_map::Entry::Occupied(first) => duplicate(first.key(), *first.get(), place, findings),
                    btree_map::Entry::Vacant(free) => {
                        let name = free.key().clone();
                        free.insert(place);
                        entries.push(Entry { key: name, key_span: place, value: beside(node, place) });
                    }
                },
            },
        }
    }

    fn scalar(&mut self, text: &str, style: ScalarStyle, span: Span) -> Data {
        if style != ScalarStyle::Plain {
            return Data::Text(text.to_owned());
        }
        scalar::resolve(text).unwrap_or_else(|why| {
            let help = format!("write a plain decimal number, or put the characters in quotes: \"{text}\"");
            let message = format!("`{text}` is no number that can stand here: {why}");
            self.findings.error(Diagnostic::error(&scalar::NUMBER_FORM, span, message).help(help));
            Data::Refused
        })
    }

    fn refuse_marks(&mut self, span: Span, anchor: usize, tag: bool) -> bool {
        match (anchor > 0, tag) {
            (false, false) => return false,
            (true, _) => self.refuse(span, "a value with an anchor"),
            (false, true) => self.refuse(span, "a value with a tag"),
        }
        true
    }

    fn refuse(&mut self, span: Span, what: &str) {
        let message = format!("{what} stands here, and a file must say its values in place");
        self.findings.error(Diagnostic::error(&NOT_PLAIN, span, message).help("write the value out"));
    }

    /// The parser counts characters; spans count bytes. Lines are exact, so each is counted from its start.
    fn span(&mut self, start: Marker, end: Marker) -> Span {
        let (start, end) = (self.byte(start), self.byte(end));
        Span::new(self.file, start..end.max(start))
    }

    fn byte(&mut self, mark: Marker) -> usize {
        let Some(&line) = self.lines.get(mark.line().saturating_sub(1)) else { return self.text.len() };
        let (from, skip) = match self.last {
            (same, column, byte) if same == mark.line() && column <= mark.col() => (byte, mark.col() - column),
            _ => (line, mark.col()),
        };
        let rest = self.text.get(from..).unwrap_or("");
        let byte = rest.char_indices().nth(skip).map_or(self.text.len(), |(offset, _)| from + offset);
        self.last = (mark.line(), mark.col(), byte);
        byte
    }
}

fn line_starts(text: &str) -> Vec<usize> {
    let bytes = text.as_bytes();
    let ends = bytes
        .iter()
        .enumerate()
        .filter(|&(index, &byte)| byte == b'\n' || (byte == b'\r' && bytes.get(index + 1) != Some(&b'\n')));
    std::iter::once(0).chain(ends.map(|(index, _)| index + 1)).collect()
}

/// A flow collection ends at its bracket; a block one at its last item, not where the next key begins.
fn around(start: Span, last: Span, end: Span) -> Span {
    let closes_here = start.start != start.end && end.start != end.end;
    if closes_here { start.to(end) } else { start.to(last) }
}

/// The text of a key.
fn key_of(node: Node, findings: &mut Findings) -> Key {
    match node.data {
        Data::Text(text) => return Key::Read(text, node.span),
        Data::Refused => return Key::Refused,
        Data::Null | Data::Bool(_) | Data::Number(_) | Data::List(_) | Data::Map(_) => {}
    }
    let message = "this key is not text, and every key is";
    findings.error(Diagnostic::error(&KEY_NOT_TEXT, node.span, message).help("put the key in quotes"));
    Key::Refused
}

/// A value of no text stands where the parser noticed it, maybe a line further; its key is the better place.
fn beside(node: Node, key: Span) -> Node {
    if node.data == Data::Null && node.span.start == node.span.end { Node { span: key, ..node } } else { node }
}

fn duplicate(key: &str, first: Span, second: Span, findings: &mut Findings) {
    let message = format!("the key `{key}` stands twice in this map");
    let diagnostic = Diagnostic::error(&DUPLICATE_KEY, second, message).related(first, "first used here");
    findings.error(diagnostic.help("keep one of the two"));
}
