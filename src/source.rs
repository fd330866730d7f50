//! Files that were read, and places in them.
//!
//! A [`Span`] is a file's number and a range of bytes: small, `Copy`, resolved to a line and a column
//! only by whoever prints it. Deliberately absent: reading a file, which happens at the rim.

use std::borrow::Cow;
use std::ops::{Deref, Range};

use schemars::{JsonSchema, Schema, SchemaGenerator};
use sha2::{Digest, Sha256};

/// The number of a file in its [`Sources`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(u32);

impl FileId {
    /// The number itself.
    #[must_use]
    pub const fn index(self) -> u32 {
        self.0
    }

    /// The file of this number.
    #[must_use]
    pub const fn from_index(index: u32) -> Self {
        Self(index)
    }
}

/// A range of bytes in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// The first byte.
    pub start: u32,
    /// The byte after the last one.
    pub end: u32,
}

impl Span {
    /// The bytes of a file from `range.start` up to, not including, `range.end`.
    #[must_use]
    pub fn new(file: FileId, range: Range<usize>) -> Self {
        let clamp = |byte: usize| u32::try_from(byte).unwrap_or(u32::MAX);
        Self { file, start: clamp(range.start), end: clamp(range.end) }
    }

    /// The range as indices into the file's text.
    #[must_use]
    pub fn range(self) -> Range<usize> {
        self.start as usize..self.end as usize
    }

    /// From the start of this span to the end of the other.
    #[must_use]
    pub fn to(self, other: Self) -> Self {
        Self { end: other.end.max(self.start), ..self }
    }
}

/// A value and where it was written.
#[derive(Clone, Copy, Debug)]
pub struct Located<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub span: Span,
}

impl<T> Deref for Located<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.value
    }
}

impl<T: JsonSchema> JsonSchema for Located<T> {
    fn inline_schema() -> bool {
        T::inline_schema()
    }

    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn schema_id() -> Cow<'static, str> {
        T::schema_id()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        T::json_schema(generator)
    }
}

/// All files of one run.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<SourceFile>,
}

#[derive(Clone, Debug)]
struct SourceFile {
    path: String,
    text: String,
    /// The byte at which each line begins.
    lines: Vec<usize>,
}

/// A line and a column, both counted from 1; the column in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// The line.
    pub line: usize,
    /// The column.
    pub column: usize,
}

impl Sources {
    /// Takes in a file under the path that messages shall show.
    pub fn add(&mut self, path: impl Into<String>, text: impl Into<String>) -> FileId {
        let id = FileId(u32::try_from(self.files.len()).unwrap_or(u32::MAX));
        let text = text.into();
        let lines = std::iter::once(0).chain(text.match_indices('\n').map(|(newline, _)| newline + 1)).collect();
        self.files.push(SourceFile { path: path.into(), text, lines });
        id
    }

    /// How many files there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.files.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.files.is_empty()
    }

    /// Forgets all files after the first so many.
    pub fn truncate(&mut self, count: usize) {
        self.files.truncate(count);
    }

    /// The path of a file, as messages show it.
    #[must_use]
    pub fn path(&self, file: FileId) -> &str {
        self.files.get(file.0 as usize).map_or("", |found| &found.path)
    }

    /// The whole text of a file.
    #[must_use]
    pub fn text(&self, file: FileId) -> &str {
        self.files.get(file.0 as usize).map_or("", |found| &found.text)
    }

    /// The text under a span.
    #[must_use]
    pub fn slice(&self, span: Span) -> &str {
        self.text(span.file).get(span.range()).unwrap_or("")
    }

    /// `sha256:…` over a file's text.
    #[must_use]
    pub fn digest(&self, file: FileId) -> String {
        sha256([self.text(file).as_bytes()])
    }

    /// Line and column of a byte of a file; past the end, those of the end.
    #[must_use]
    pub fn position(&self, file: FileId, byte: u32) -> Position {
        let Some(found) = self.files.get(file.0 as usize) else { return Position { line: 1, column: 1 } };
        let mut end = (byte as usize).min(found.text.len());
        while !found.text.is_char_boundary(end) {
            end -= 1;
        }
        let line = found.lines.partition_point(|start| *start <= end);
        let start = found.lines.get(line.saturating_sub(1)).copied().unwrap_or(0);
        let column = found.text.get(start..end).unwrap_or("").chars().count() + 1;
        Position { line, column }
    }
}

/// `sha256:…` over some bytes, one piece after the other.
#[must_use]
pub fn sha256<'a>(pieces: impl IntoIterator<Item = &'a [u8]>) -> String {
    let mut hash = Sha256::new();
    pieces.into_iter().for_each(|piece| hash.update(piece));
    let digits = hash.finalize().into_iter().flat_map(|byte| [byte >> 4, byte & 15]);
    digits.fold("sha256:".to_owned(), |mut text, digit| {
        text.extend(char::from_digit(u32::from(digit), 16));
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_counts_characters_and_a_position_never_leaves_the_file() {
        let mut sources = Sources::default();
        let file = sources.add("pier.yaml", "a: é\nb: x");
        assert_eq!(sources.position(file, 5), Position { line: 1, column: 5 });
        assert_eq!(sources.position(file, 6), Position { line: 2, column: 1 });
        assert_eq!(sources.position(file, 4), sources.position(file, 3), "inside a character");
        assert_eq!(sources.position(file, 900), Position { line: 2, column: 5 });
        assert_eq!(sources.slice(Span::new(file, 3..5)), "é");
    }

    /// The example of FIPS 180-2, appendix B.1.
    #[test]
    fn a_digest_is_the_known_one() {
        let digest = "sha256:ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(sha256(["a".as_bytes(), "bc".as_bytes()]), digest);
    }
}
