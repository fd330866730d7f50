//! Paths -> an intent, the stack as it stands, and the platform.

use std::collections::BTreeMap;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::folder;
use crate::compile::template_fault;
use crate::diag::{Code, Diagnostic, Findings, Mark, Reported};
use crate::intent::{self, Intent};
use crate::lower;
use crate::model::document::Inputs;
use crate::platform::{self, Layer, Platform, assemble, too_many};
use crate::render::coverage;
use crate::source::{FileId, Sources, Span};
use crate::yaml::MAX_BYTES;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&CANNOT_READ, &CANNOT_WRITE, &NOT_TEXT, &DIALECT_OUTSIDE, &DIALECT_TOO_BIG];

/// A file or folder that cannot be read.
pub const CANNOT_READ: Code = Code {
    name: "cannot-read",
    explanation: "A file or folder is not there, or may not be read. Paths in an intent are relative to the intent's folder; \
those on the command line, to the current one.",
};
/// A file that cannot be written.
pub const CANNOT_WRITE: Code = Code {
    name: "cannot-write",
    explanation: "A file or a folder could not be made: its place may not be written, is no folder, or is full.",
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
pub(super) const DIALECT_TOO_BIG: Code = Code {
    name: "dialect-too-big",
    explanation: "A dialect has at most 1000 files with 16 MiB together, in folders at most 8 deep. A folder with more is most likely the wrong one.",
};

const MAX_PLAN: usize = 64 << 20;

/// What is to be opened.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// The intent.
    pub intent: &'a Path,
    /// The stack as it stands.
    pub from: Standing<'a>,
    /// A dialect instead of the intent's: a built-in one's name, or a folder.
    pub dialect: Option<&'a str>,
}

/// Where the stack as it stands is described.
#[derive(Clone, Copy, Debug, Default)]
pub enum Standing<'a> {
    /// Where the intent says, if it does.
    #[default]
    Named,
    /// In this file, whatever the intent says.
    File(&'a Path),
    /// In this text, whatever the intent says.
    Text {
        /// What messages call it.
        shown: &'a str,
        /// The text.
        text: &'a str,
    },
    /// Nowhere, whatever the intent says: the stack is new.
    New,
}

impl<'a> Standing<'a> {
    /// The file that a person names on the command line, or what the intent says.
    #[must_use]
    pub fn or_named(file: Option<&'a Path>) -> Self {
        file.map_or(Self::Named, Self::File)
    }
}

/// What was opened.
#[derive(Debug)]
pub struct Opened {
    /// The intent.
    pub intent: Intent,
    /// The stack as it stands.
    pub baseline: Option<Intent>,
    /// The platform.
    pub platform: Arc<Platform>,
    /// What is to be done.
    pub problem: lower::Problem,
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
    /// Dialects that were opened without any finding, by their names or their places and the bounds that held for them.
    dialects: BTreeMap<(PathBuf, Option<PathBuf>), Arc<Platform>>,
    /// So many of the sources belong to those.
    pub(super) kept: usize,
}

/// What `-` is called in messages.
pub const STANDARD_INPUT: &str = "standard input";

impl Reader {
    /// A reader that takes dialects from these folders too.
    #[must_use]
    pub fn new(dialect_roots: Vec<PathBuf>) -> Self {
        Self { dialect_roots, ..Self::default() }
    }

    /// Forgets the last intent and what was found in it; the dialects stay.
    pub fn turn_page(&mut self) {
        self.sources.truncate(self.kept);
        self.findings = Findings::default();
        self.unreadable = false;
    }

    /// Forgets everything but where dialects may lie.
    pub fn begin_anew(&mut self) {
        *self = Self::new(std::mem::take(&mut self.dialect_roots));
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
        let problem = match (&platform, &baseline) {
            (Ok(platform), Ok(baseline)) => {
                Some(lower::lower(draft.look(), baseline.as_ref(), platform, &mut self.findings))
            }
            _ => None,
        };
        let intent = draft.accept(&self.findings, mark)?;
        let (baseline, platform) = (baseline?, platform?);
        let again = || lower::lower(&intent, baseline.as_ref(), &platform, &mut self.findings);
        let problem = problem.unwrap_or_else(again)?;
        let inputs = Inputs {
            intent: self.sources.digest(file),
            baseline: baseline.as_ref().map(|baseline| self.sources.digest(baseline.file())),
            dialect: platform.digest.clone(),
        };
        Ok(Opened { intent, baseline, platform, problem, inputs })
    }

    fn baseline(&mut self, intent: &Intent, request: &Request<'_>) -> Option<Result<Intent, Reported>> {
        let named = intent.change.as_ref().and_then(|change| change.from.as_ref());
        let (path, place) = match (request.from, named) {
            (Standing::File(path), _) => (path.to_owned(), None),
            (Standing::Named, Some(path)) => (beside(request.intent, path.as_str()), Some(path.span)),
            (Standing::Text { shown, text }, _) => {
                let file = self.sources.add(shown, text);
                return Some(intent::read(&self.sources, file, &mut self.findings));
            }
            (Standing::Named, None) | (Standing::New, _) => return None,
        };
        Some(self.read(&path, place).and_then(|file| intent::read(&self.sources, file, &mut self.findings)))
    }

    fn dialect(&mut self, intent: &Intent, request: &Request<'_>) -> Result<Arc<Platform>, Reported> {
        let name = request.dialect.unwrap_or(intent.dialect.as_str()).to_owned();
        self.dialect_of(&name, intent.dialect.span, request)
    }

    /// The dialect of this name, or in this folder, for an intent.
    pub(super) fn dialect_of(
        &mut self,
        name: &str,
        place: Span,
        request: &Request<'_>,
    ) -> Result<Arc<Platform>, Reported> {
        let mark = self.findings.mark();
        if request.dialect.is_some() || is_builtin(name) {
            let key = (PathBuf::from(name), None);
            if let Some(known) = self.dialects.get(&key) {
                return Ok(Arc::clone(known));
            }
            let opened = self.dialect_named(name, place)?;
            return Ok(self.keep(key, opened, mark));
        }
        let home = request.intent.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let folder = beside(request.intent, name);
        // a link may lead elsewhere by now: only real places are the same
        let real = |path: &Path| fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let key = (real(&folder), Some(real(home)));
        if let Some(known) = self.dialects.get(&key) {
            return Ok(Arc::clone(known));
        }
        let opened = self.dialect_at(&folder, Some(place), Some(home))?;
        Ok(self.keep(key, opened, mark))
    }

    /// Keeps a dialect for the next intent, if nothing is to be said of it each time.
    fn keep(&mut self, key: (PathBuf, Option<PathBuf>), platform: Platform, mark: Mark) -> Arc<Platform> {
        let platform = Arc::new(platform);
        if self.findings.nothing_since(mark) {
            self.dialects.insert(key, Arc::clone(&platform));
            self.kept = self.sources.len();
        }
        platform
    }

    /// The dialect that a person names on the command line, who has allowed it, and what it extends.
    ///
    /// # Errors
    /// [`Reported`], if there is none, or it is wrong.
    pub fn dialect_named(&mut self, name: &str, place: Span) -> Result<Platform, Reported> {
        if is_builtin(name) {
            return platform::builtin(name, place, &mut self.sources, &mut self.findings);
        }
        self.dialect_at(Path::new(name), Some(place), None)
    }

    /// The dialect in a folder, with all that it extends; `bounds` is the folder that they lie in, if one is set.
    ///
    /// # Errors
    /// [`Reported`], if there is none, it is wrong, or it lies elsewhere.
    pub fn dialect_at(
        &mut self,
        folder: &Path,
        place: Option<Span>,
        bounds: Option<&Path>,
    ) -> Result<Platform, Reported> {
        let mut folder = folder.to_owned();
        let mut seen = vec![self.allowed(&folder, place, bounds)?];
        let mut layers = vec![self.layer(&folder, place)?];
        while let Some((name, place)) = layers.last().and_then(Layer::extends) {
            let name = name.to_owned();
            too_many(&layers, place, &mut self.findings)?;
            if is_builtin(&name) {
                layers.push(Layer::built_in(&name, place, &mut self.sources, &mut self.findings)?);
                continue;
            }
            folder = folder.join(&name);
            let real = self.allowed(&folder, Some(place), bounds)?;
            if seen.contains(&real) {
                let message = format!("`{name}` extends this dialect itself, directly or by others between");
                return Err(self.findings.error(Diagnostic::error(&platform::EXTENDS_CYCLE, place, message)));
            }
            seen.push(real);
            layers.push(self.layer(&folder, Some(place))?);
        }
        let platform = assemble(layers, &mut self.sources, &mut self.findings)?;
        let mark = self.findings.mark();
        for fault in coverage(&platform).err().into_iter().flatten() {
            let manifest = platform.file_ids.get(platform::MANIFEST).map(|file| Span::new(*file, 0..0));
            let Some(named) = place.or(manifest) else { continue };
            self.findings.error(template_fault(&fault, &platform, &self.sources, named));
        }
        self.findings.failed_since(mark)?;
        Ok(platform)
    }

    /// The real place of a dialect's folder, if that is where one may lie.
    fn allowed(&mut self, folder: &Path, place: Option<Span>, bounds: Option<&Path>) -> Result<PathBuf, Reported> {
        let real = fs::canonicalize(folder).map_err(|error| self.cannot_read(folder, place, &error))?;
        let Some(home) = bounds else { return Ok(real) };
        let roots = self.dialect_roots.iter().map(PathBuf::as_path).chain([home]);
        if roots.filter_map(|root| fs::canonicalize(root).ok()).any(|root| real.starts_with(root)) {
            return Ok(real);
        }
        let message = format!("the dialect's folder `{}` lies outside the intent's folder", folder.display());
        let help = "move it there, or allow its place with `--dialect-root`";
        Err(self.findings.error(Diagnostic::error(&DIALECT_OUTSIDE, place, message).help(help)))
    }

    fn layer(&mut self, folder: &Path, place: Option<Span>) -> Result<Layer, Reported> {
        let real = fs::canonicalize(folder).map_err(|error| self.cannot_read(folder, place, &error))?;
        let files = self.files(&real, place)?;
        Layer::read(files, &folder.display().to_string(), place, &mut self.sources, &mut self.findings)
    }

    /// Every file in a folder, by its path inside; nothing that a link has outside it.
    ///
    /// # Errors
    /// [`Reported`], if one cannot be read, or they are too many.
    pub fn files(&mut self, folder: &Path, place: Option<Span>) -> Result<BTreeMap<String, String>, Reported> {
        folder::read(self, folder, place)
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
    pub(super) fn read(&mut self, path: &Path, place: Option<Span>) -> Result<FileId, Reported> {
        let text = self.text(path, place, MAX_BYTES)?;
        let shown = if is_standard_input(path) { STANDARD_INPUT.to_owned() } else { path.display().to_string() };
        Ok(self.sources.add(shown, text))
    }

    /// The text of a file, and not more of it than needed to say that it is too large.
    pub(super) fn text(&mut self, path: &Path, place: Option<Span>, most: usize) -> Result<String, Reported> {
        let mut bytes = Vec::new();
        let most_read = most as u64 + 1;
        let read = if is_standard_input(path) {
            std::io::stdin().lock().take(most_read).read_to_end(&mut bytes)
        } else {
            fs::File::open(path).and_then(|file| file.take(most_read).read_to_end(&mut bytes))
        };
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

    /// A file that cannot be written.
    pub fn cannot_write(&mut self, path: &Path, error: &std::io::Error) -> Reported {
        self.unreadable = true;
        let message = format!("`{}` cannot be written: {}", path.display(), error.kind());
        self.findings.error(Diagnostic::error(&CANNOT_WRITE, None, message))
    }

    pub(super) fn cannot_read(&mut self, path: &Path, place: Option<Span>, error: &std::io::Error) -> Reported {
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

/// Whether a path says that the text comes from standard input.
#[must_use]
pub fn is_standard_input(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// Whether a dialect's name is that of a built-in one, and no folder.
fn is_builtin(name: &str) -> bool {
    !name.contains('/') && !name.starts_with('.')
}

/// A path that a file names, relative to that file.
pub(super) fn beside(file: &Path, named: &str) -> PathBuf {
    file.parent().map_or_else(|| PathBuf::from(named), |folder| folder.join(named))
}
