//! A revision of version control -> each stack as it stood then, as far as it was carried out.
//!
//! A change that was merged stands in the rack only once it was carried out. What says so is the record that
//! `ringwright done` writes beside the intent: the revision looks it up, and takes the intent that it names. Git is
//! asked by starting it; whatever comes from outside reaches it behind `--end-of-options` or on its standard input.

use std::collections::BTreeMap;
use std::fmt;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::Mutex;

use super::super::done::{DoneRecord, record_path};
use super::super::open::is_standard_input;
use super::super::{Reader, Standing};
use crate::diag::{Code, Diagnostic, Reported};
use crate::source::sha256;

/// No record at the revision.
pub const NO_DONE_RECORD: Code = Code {
    name: "no-done-record",
    explanation: "`--from-git` takes a stack as it stood at a revision, and no record at that revision says which revision \
stands in the rack. So the intent of the revision itself is taken: if it was merged and never carried out, the plan begins \
from a stack that is not there. `ringwright done INTENT`, after the change, writes the record; commit it.",
};
/// A record that does not fit.
pub const DONE_RECORD_WRONG: Code = Code {
    name: "done-record-wrong",
    explanation: "The record beside an intent says which revision of it stands in the rack, and what its digest is. The record \
cannot be read, or the intent at that revision is not there, or is another one: nothing is planned on it. Look into the \
rack, and write the record anew with `ringwright done`.",
};
/// What git does not give.
pub const GIT_FAILED: Code = Code {
    name: "git-failed",
    explanation: "Version control was asked for the stack as it stood and gave no answer: the intent lies in another repository \
or in none, its path cannot be said to git, or git failed.",
};

/// Why a revision cannot be had.
#[derive(Debug)]
pub(in super::super) struct GitFault(String);

impl fmt::Display for GitFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// One revision of the repository that the intents lie in.
pub(in super::super) struct Revision {
    root: PathBuf,
    /// As it was named.
    name: String,
    commit: String,
    /// Files that have moved since, by their paths of today.
    moved: BTreeMap<String, String>,
    objects: Mutex<Objects>,
}

/// Git's own reader of objects: asked on its standard input, it answers on its standard output.
struct Objects {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
}

/// What git says to some arguments.
pub(in super::super) fn ask(folder: &Path, arguments: &[&str]) -> Result<Vec<u8>, GitFault> {
    let said = Command::new("git").arg("-C").arg(folder).args(arguments).stdin(Stdio::null()).output();
    let said = said.map_err(|error| GitFault(format!("git cannot be started: {error}")))?;
    if said.status.success() {
        return Ok(said.stdout);
    }
    let told = String::from_utf8_lossy(&said.stderr);
    Err(GitFault(told.lines().next().unwrap_or("git failed and did not say why").to_owned()))
}

/// The same as one line of text.
pub(in super::super) fn line(folder: &Path, arguments: &[&str]) -> Result<String, GitFault> {
    let said = ask(folder, arguments)?;
    let text = String::from_utf8(said).map_err(|_| GitFault("what git says is not text in UTF-8".to_owned()))?;
    Ok(text.trim_end_matches('\n').to_owned())
}

/// The folder that a file lies in.
pub(in super::super) fn home(file: &Path) -> PathBuf {
    let parent = if is_standard_input(file) { None } else { file.parent() };
    parent.filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new(".")).to_owned()
}

/// The top of the repository that a folder lies in.
///
/// # Errors
/// It lies in none.
pub(in super::super) fn top(folder: &Path) -> Result<PathBuf, GitFault> {
    let top = line(folder, &["rev-parse", "--show-toplevel"]);
    let top =
        top.map_err(|GitFault(why)| GitFault(format!("`{}` is in no git repository: {why}", folder.display())))?;
    std::fs::canonicalize(&top).map_err(|error| GitFault(format!("`{top}` cannot be looked at: {error}")))
}

/// A file's path from the top of its repository, `/` between parts.
///
/// # Errors
/// It lies elsewhere, or has a name that git cannot be asked for on a line.
pub(in super::super) fn inside(root: &Path, file: &Path) -> Result<String, GitFault> {
    let folder = home(file);
    let real = std::fs::canonicalize(&folder)
        .map_err(|error| GitFault(format!("`{}` cannot be looked at: {error}", folder.display())))?;
    let outside = || GitFault(format!("`{}` lies outside the repository `{}`", file.display(), root.display()));
    let real = real.join(file.file_name().ok_or_else(outside)?);
    let path = real.strip_prefix(root).map_err(|_| outside())?.to_str().ok_or_else(outside)?;
    if path.contains('\n') {
        return Err(GitFault(format!("`{}` has a line break in its name", file.display())));
    }
    Ok(path.to_owned())
}

impl Revision {
    /// Opens a revision of the repository that a file lies in.
    ///
    /// # Errors
    /// No git, no repository, or no such revision in it.
    pub(in super::super) fn open(name: &str, near: &Path) -> Result<Self, GitFault> {
        let root = top(&home(near))?;
        let commit = format!("{name}^{{commit}}");
        let asked = line(&root, &["rev-parse", "--verify", "--quiet", "--end-of-options", &commit]);
        let commit = asked.map_err(|_| {
            let shallow = line(&root, &["rev-parse", "--is-shallow-repository"]).is_ok_and(|said| said == "true");
            let why = if shallow { "; the clone is shallow: fetch its history first" } else { "" };
            GitFault(format!("there is no revision `{name}` in `{}`{why}", root.display()))
        })?;
        let moved = moved(&root, &commit)?;
        let objects = Mutex::new(Objects::open(&root)?);
        Ok(Self { root, name: name.to_owned(), commit, moved, objects })
    }

    /// The text of a file at a commit; none if it is not there.
    fn text(&self, commit: &str, path: &str) -> Result<Option<String>, GitFault> {
        let mut objects = self.objects.lock().map_err(|_| GitFault("git's answers are lost".to_owned()))?;
        objects.text(&format!("{commit}:{path}"))
    }
}

/// What has moved since a commit: new path, old path.
fn moved(root: &Path, commit: &str) -> Result<BTreeMap<String, String>, GitFault> {
    let arguments =
        ["diff", "--name-status", "--find-renames", "--diff-filter=R", "-z", "--end-of-options", commit, "--"];
    let said = String::from_utf8_lossy(&ask(root, &arguments)?).into_owned();
    let mut parts = said.split('\0').filter(|part| !part.is_empty());
    let mut moved = BTreeMap::new();
    while let (Some(_), Some(old), Some(new)) = (parts.next(), parts.next(), parts.next()) {
        moved.insert(new.to_owned(), old.to_owned());
    }
    Ok(moved)
}

impl Objects {
    fn open(root: &Path) -> Result<Self, GitFault> {
        let mut command = Command::new("git");
        command.arg("-C").arg(root).args(["cat-file", "--batch"]).stdin(Stdio::piped()).stdout(Stdio::piped());
        let child = command.stderr(Stdio::null()).spawn();
        let mut child = child.map_err(|error| GitFault(format!("git cannot be started: {error}")))?;
        match (child.stdin.take(), child.stdout.take()) {
            (Some(input), Some(output)) => Ok(Self { child, input, output: BufReader::new(output) }),
            _ => Err(GitFault("git has no standard input or output".to_owned())),
        }
    }

    fn text(&mut self, object: &str) -> Result<Option<String>, GitFault> {
        let lost = |error: std::io::Error| GitFault(format!("git does not answer: {error}"));
        self.input.write_all(format!("{object}\n").as_bytes()).and_then(|()| self.input.flush()).map_err(lost)?;
        let mut head = String::new();
        self.output.read_line(&mut head).map_err(lost)?;
        let head = head.trim_end();
        if head.ends_with(" missing") {
            return Ok(None);
        }
        let size = head.rsplit(' ').next().and_then(|size| size.parse::<usize>().ok());
        let (Some(size), true) = (size, head.contains(" blob ")) else {
            return Err(GitFault(format!("git answers `{head}` where a file was asked for")));
        };
        // a line break follows
        let mut bytes = vec![0; size + 1];
        self.output.read_exact(&mut bytes).map_err(lost)?;
        bytes.truncate(size);
        String::from_utf8(bytes).map(Some).map_err(|_| GitFault(format!("`{object}` is not text in UTF-8")))
    }
}

impl Drop for Objects {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The stack as it stands, as far as version control knows it.
pub(in super::super) enum Baseline {
    /// Nobody asked version control.
    NotAsked,
    /// It was not there: the stack is new.
    New,
    /// It was there.
    Text {
        /// What messages call it.
        shown: String,
        /// The text.
        text: String,
    },
}

impl Baseline {
    /// Looks a stack up at a revision, and reports what is wrong with that.
    ///
    /// # Errors
    /// [`Reported`], if it cannot be had.
    pub(in super::super) fn of(
        revision: Option<&Revision>,
        intent: &Path,
        reader: &mut Reader,
    ) -> Result<Self, Reported> {
        let Some(revision) = revision else { return Ok(Self::NotAsked) };
        let failed = |reader: &mut Reader, GitFault(why): GitFault| {
            reader.findings.error(Diagnostic::error(&GIT_FAILED, None, why))
        };
        let path = match inside(&revision.root, intent) {
            Ok(path) => revision.moved.get(&path).cloned().unwrap_or(path),
            Err(fault) => return Err(failed(reader, fault)),
        };
        let record = record_path(Path::new(&path)).to_string_lossy().into_owned();
        let shown = |commit: &str, path: &str| format!("{}:{path}", commit.get(..12).unwrap_or(commit));
        match revision.text(&revision.commit, &record) {
            Err(fault) => Err(failed(reader, fault)),
            Ok(Some(text)) => match stood(revision, &text) {
                Ok((commit, path, text)) => Ok(Self::Text { shown: shown(&commit, &path), text }),
                Err(why) => {
                    let message = format!("the record `{}` {why}", shown(&revision.commit, &record));
                    let found = Diagnostic::error(&DONE_RECORD_WRONG, None, message);
                    Err(reader
                        .findings
                        .error(found.help("look into the rack, and write it anew with `ringwright done`")))
                }
            },
            Ok(None) => match revision.text(&revision.commit, &path) {
                Err(fault) => Err(failed(reader, fault)),
                Ok(None) => Ok(Self::New),
                Ok(Some(text)) => {
                    let message = format!(
                        "no record says that `{path}` of {} was carried out; it is taken as the stack that stands",
                        revision.name
                    );
                    let found = Diagnostic::warning(&NO_DONE_RECORD, None, message);
                    reader.findings.warn(found.help("after a change, `ringwright done` writes the record"));
                    Ok(Self::Text { shown: shown(&revision.commit, &path), text })
                }
            },
        }
    }

    /// The same for opening the intent; a file that a person names comes first.
    pub(in super::super) fn standing<'a>(&'a self, file: Option<&'a Path>) -> Standing<'a> {
        match (file, self) {
            (Some(file), _) => Standing::File(file),
            (None, Self::NotAsked) => Standing::Named,
            (None, Self::New) => Standing::New,
            (None, Self::Text { shown, text }) => Standing::Text { shown, text },
        }
    }
}

/// The intent that a record says stands in the rack: commit, path, text.
fn stood(revision: &Revision, record: &str) -> Result<(String, String, String), String> {
    let record: DoneRecord = serde_json::from_str(record).map_err(|error| format!("cannot be read: {error}"))?;
    let hexadecimal = record.revision.len() >= 40 && record.revision.bytes().all(|byte| byte.is_ascii_hexdigit());
    if !hexadecimal || record.path.contains('\n') {
        return Err("does not name a revision and a path".to_owned());
    }
    let text = revision.text(&record.revision, &record.path).map_err(|GitFault(why)| why)?;
    let text =
        text.ok_or_else(|| format!("names `{}` at {}, which is not in this clone", record.path, record.revision))?;
    if sha256([text.as_bytes()]) != record.intent {
        return Err("has the digest of another intent than the one at its revision".to_owned());
    }
    Ok((record.revision, record.path, text))
}
