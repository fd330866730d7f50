//! Paths -> an intent, the stack as it stands, and the platform.

use std::collections::BTreeMap;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::diag::{Code, Diagnostic, Findings, Reported};
use crate::intent::{self, Intent};
use crate::lower;
use crate::model::document::Inputs;
use crate::platform::{self, Platform};
use crate::source::{FileId, Sources, Span};
use crate::yaml::MAX_BYTES;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&CANNOT_READ, &NOT_TEXT, &DIALECT_OUTSIDE, &DIALECT_TOO_BIG];

/// A file or folder that cannot be read.
pub const CANNOT_READ: Code = Code {
    name: "cannot-read",
    explanation: "A file or folder is not there, or may not be read. Paths in an intent are relative to the intent's folder; \
those on the command line, to the current one.",
};
/// A file that is no text.
pub const NOT_TEXT: Code = Code {
    name: "not-text",
    explanation: "Every file that is read is text in UTF-8. This one has a byte that UTF-8 does not have in its place: it is \
most likely in an older encoding, or no text at all.",
};
/// A dialect that an intent may not reach.
pub const DIALECT_OUTSIDE: Code = Code {
    name: "dialect-outside",
    explanation: "An intent names its dialect's folder, and an intent may come from somebody else. So the folder must lie in \
the intent's own folder, or in one that the command line allows by `--dialect-root`. Links that lead out do not help.",
};
/// A dialect that holds too much.
pub const DIALECT_TOO_BIG: Code = Code {
    name: "dialect-too-big",
    explanation: "A dialect has at most 1000 files with 16 MiB together, in folders at most 8 deep. A folder with more is most likely the wrong one.",
};

const MAX_PLAN: usize = 64 << 20;
const MAX_FILES: usize = 1000;
const MAX_TOTAL: usize = 16 << 20;
const MAX_DEPTH: usize = 8;

/// What is to be opened.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// The intent.
    pub intent: &'a Path,
    /// The stack as it stands, before the one that the intent names.
    pub from: Option<&'a Path>,
    /// A dialect instead of the intent's: a built-in one's name, or a folder.
    pub dialect: Option<&'a str>,
}

/// What was opened.
#[derive(Debug)]
pub struct Opened {
    /// The intent.
    pub intent: Intent,
    /// The stack as it stands.
    pub baseline: Option<Intent>,
    /// The platform.
    pub platform: Platform,
    /// Digests of what was read.
    pub inputs: Inputs,
}

/// Reads files, and keeps what was found in them.
#[derive(Debug, Default)]
pub struct Reader {
    /// The files.
    pub sources: Sources,
    /// What was found.
    pub findings: Findings,
    /// Whether a file could not be read at all.
    pub unreadable: bool,
    dialect_roots: Vec<PathBuf>,
}

impl Reader {
    /// A reader that takes dialects from these folders too.
    #[must_use]
    pub fn new(dialect_roots: Vec<PathBuf>) -> Self {
        Self { dialect_roots, ..Self::default() }
    }

    /// Opens an intent with all that it names, and reports all that is wrong.
    ///
    /// # Errors
    /// [`Reported`], if anything is.
    pub fn open(&mut self, request: &Request<'_>) -> Result<Opened, Reported> {
        let mark = self.findings.mark();
        let file = self.read(request.intent, None)?;
        let draft = intent::draft(&self.sources, file, &mut self.findings)?;
        let platform = self.dialect(draft.look(), request);
        let baseline = self.baseline(draft.look(), request).transpose();
        // every rule speaks before the first fault ends the run
        if let (Ok(platform), Ok(baseline)) = (&platform, &baseline) {
            lower::examine(draft.look(), baseline.as_ref(), platform, &mut self.findings);
        }
        let intent = draft.accept(&self.findings, mark)?;
        let (baseline, platform) = (baseline?, platform?);
        let inputs = Inputs {
            intent: self.sources.digest(file),
            baseline: baseline.as_ref().map(|baseline| self.sources.digest(baseline.file())),
            dialect: platform.digest.clone(),
        };
        Ok(Opened { intent, baseline, platform, inputs })
    }

    fn baseline(&mut self, intent: &Intent, request: &Request<'_>) -> Option<Result<Intent, Reported>> {
        let named = intent.change.as_ref().and_then(|change| change.from.as_ref());
        let (path, place) = match (request.from, named) {
            (Some(path), _) => (path.to_owned(), None),
            (None, Some(path)) => (beside(request.intent, path.as_str()), Some(path.span)),
            (None, None) => return None,
        };
        Some(self.read(&path, place).and_then(|file| intent::read(&self.sources, file, &mut self.findings)))
    }

    fn dialect(&mut self, intent: &Intent, request: &Request<'_>) -> Result<Platform, Reported> {
        let (name, place) = (request.dialect.unwrap_or(intent.dialect.as_str()).to_owned(), intent.dialect.span);
        if !name.contains('/') && !name.starts_with('.') {
            return platform::builtin(&name, place, &mut self.sources, &mut self.findings);
        }
        let folder = if request.dialect.is_some() { PathBuf::from(&name) } else { beside(request.intent, &name) };
        let real = fs::canonicalize(&folder).map_err(|error| self.cannot_read(&folder, Some(place), &error))?;
        let home = request.intent.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let roots = self.dialect_roots.iter().map(PathBuf::as_path).chain([home]);
        let mut roots = roots.filter_map(|root| fs::canonicalize(root).ok());
        // a person who names a dialect on the command line has allowed it
        let allowed = request.dialect.is_some() || roots.any(|root| real.starts_with(root));
        drop(roots);
        if !allowed {
            let message = format!("the dialect's folder `{name}` lies outside the intent's folder");
            let help = "move it there, or allow its place with `--dialect-root`";
            return Err(self.findings.error(Diagnostic::error(&DIALECT_OUTSIDE, place, message).help(help)));
        }
        let mut files = BTreeMap::new();
        let mut walk = Walk { reader: self, place, root: &real, files: &mut files, total: 0 };
        walk.folder(&real, 0)?;
        platform::load(files, &folder.display().to_string(), Some(place), &mut self.sources, &mut self.findings)
    }

    /// Takes in a plan's file.
    ///
    /// # Errors
    /// [`Reported`], if it cannot be read.
    pub fn plan(&mut self, path: &Path) -> Result<FileId, Reported> {
        let text = self.text(path, None, MAX_PLAN)?;
        Ok(self.sources.add(path.display().to_string(), text))
    }

    /// Whether a file begins as JSON does; false if it cannot be read, which its reading will report.
    #[must_use]
    pub fn starts_with_brace(&self, path: &Path) -> bool {
        let mut first = Vec::new();
        let read = fs::File::open(path).and_then(|file| file.take(1024).read_to_end(&mut first));
        read.is_ok() && first.trim_ascii_start().starts_with(b"{")
    }

    /// Takes in a file; the place is where it was named.
    fn read(&mut self, path: &Path, place: Option<Span>) -> Result<FileId, Reported> {
        let text = self.text(path, place, MAX_BYTES)?;
        Ok(self.sources.add(path.display().to_string(), text))
    }

    /// The text of a file, and not more of it than needed to say that it is too large.
    fn text(&mut self, path: &Path, place: Option<Span>, most: usize) -> Result<String, Reported> {
        let mut bytes = Vec::new();
        let read = fs::File::open(path).and_then(|file| file.take(most as u64 + 1).read_to_end(&mut bytes));
        read.map_err(|error| self.cannot_read(path, place, &error))?;
        let cut = bytes.len() > most;
        match String::from_utf8(bytes) {
            Ok(text) => Ok(text),
            // the cut may have gone through a character
            Err(error) if cut => Ok(String::from_utf8_lossy(error.as_bytes()).into_owned()),
            Err(error) => {
                let byte = error.utf8_error().valid_up_to() + 1;
                let message = format!("`{}` is not text in UTF-8: byte {byte} does not fit", path.display());
                Err(self.findings.error(Diagnostic::error(&NOT_TEXT, place, message)))
            }
        }
    }

    fn cannot_read(&mut self, path: &Path, place: Option<Span>, error: &std::io::Error) -> Reported {
        self.unreadable = true;
        let why = match error.kind() {
            std::io::ErrorKind::NotFound => "it is not there".to_owned(),
            std::io::ErrorKind::PermissionDenied => "it may not be read".to_owned(),
            std::io::ErrorKind::IsADirectory => "it is a folder, and a file is wanted".to_owned(),
            kind => kind.to_string(),
        };
        let message = format!("`{}` cannot be read: {why}", path.display());
        self.findings.error(Diagnostic::error(&CANNOT_READ, place, message))
    }
}

/// A path that a file names, relative to that file.
fn beside(file: &Path, named: &str) -> PathBuf {
    file.parent().map_or_else(|| PathBuf::from(named), |folder| folder.join(named))
}

/// Reads a dialect's folder, and nothing that a link has outside it.
struct Walk<'a> {
    reader: &'a mut Reader,
    place: Span,
    root: &'a Path,
    files: &'a mut BTreeMap<String, String>,
    total: usize,
}

impl Walk<'_> {
    fn folder(&mut self, folder: &Path, depth: usize) -> Result<(), Reported> {
        let entries = fs::read_dir(folder).and_then(Iterator::collect::<std::io::Result<Vec<_>>>);
        let mut paths: Vec<PathBuf> = match entries {
            Ok(entries) => entries.into_iter().map(|entry| entry.path()).collect(),
            Err(error) => return Err(self.reader.cannot_read(folder, Some(self.place), &error)),
        };
        paths.retain(|path| path.file_name().is_some_and(|name| !name.to_string_lossy().starts_with('.')));
        paths.sort();
        for path in paths {
            let real =
                fs::canonicalize(&path).map_err(|error| self.reader.cannot_read(&path, Some(self.place), &error))?;
            if !real.starts_with(self.root) {
                let message = format!("`{}` leads out of the dialect's folder", path.display());
                return Err(self.reader.findings.error(Diagnostic::error(&DIALECT_OUTSIDE, self.place, message)));
            }
            if real.is_dir() && depth < MAX_DEPTH {
                self.folder(&path, depth + 1)?;
            } else {
                self.file(&path)?;
            }
        }
        Ok(())
    }

    fn file(&mut self, path: &Path) -> Result<(), Reported> {
        let text = self.reader.text(path, Some(self.place), MAX_TOTAL)?;
        self.total += text.len();
        if self.total > MAX_TOTAL || self.files.len() >= MAX_FILES {
            let message = "the dialect's folder holds more than 1000 files or 16 MiB";
            return Err(self.reader.findings.error(Diagnostic::error(&DIALECT_TOO_BIG, self.place, message)));
        }
        let inside = path.strip_prefix(self.root).unwrap_or(path);
        let parts: Vec<_> = inside.components().map(|part| part.as_os_str().to_string_lossy()).collect();
        self.files.insert(parts.join("/"), text);
        Ok(())
    }
}
