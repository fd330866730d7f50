//! Paths and how to go through them -> every intent done, told in order, and one sentence at the end.

mod crew;
mod find;
pub(super) mod git;
pub(super) mod twice;

use std::collections::BTreeSet;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use clap::Args;
use signal_hook::consts::{SIGINT, SIGTERM};

pub(super) use crew::{Tools, Worker};
pub(super) use find::plain;

use super::open::is_standard_input;
use super::{Exit, FindingsAs, Request, Standing, terminal};
use crate::diag::Code;
use crate::report::{self, Case, Entry};
use crew::Crew;
use find::{Found, Shard};

/// The codes of this folder.
pub(super) const CODES: &[&Code] =
    &[&twice::STACK_TWICE, &twice::BESIDE_UNREAD, &git::NO_DONE_RECORD, &git::DONE_RECORD_WRONG, &git::GIT_FAILED];

/// The intents that are meant, and how to go through them.
#[derive(Args, Clone, Debug)]
pub(super) struct Fleet {
    /// The intents: files, folders (every `intent.yaml` and `*.intent.yaml` in them, ignore files respected), `-`.
    #[arg(required = true, value_name = "INTENT")]
    paths: Vec<PathBuf>,
    /// The intent of the stack as it stands; it comes before the one that the intent names.
    #[arg(long, value_name = "BASELINE", conflicts_with = "from_git")]
    pub(super) from: Option<PathBuf>,
    /// Take each stack as it stands from this revision of version control.
    #[arg(long, value_name = "REV", allow_hyphen_values = true)]
    pub(super) from_git: Option<String>,
    /// A folder in which dialects may lie, besides each intent's own.
    #[arg(long, value_name = "DIR")]
    dialect_root: Vec<PathBuf>,
    /// One part of the intents, for one job of many: 2/3 is the second of three.
    #[arg(long, value_name = "K/N")]
    shard: Option<Shard>,
    /// Threads; as many as there are processors, if not given.
    #[arg(long, value_name = "N")]
    threads: Option<NonZeroUsize>,
    /// Open, parse and search everything anew for each intent (slower; to measure what sharing brings).
    #[arg(long, hide = true)]
    share_nothing: bool,
    /// Say nothing but findings.
    #[arg(long, short)]
    pub(super) quiet: bool,
    /// Write what passed and what did not as JUnit XML.
    #[arg(long, value_name = "FILE")]
    junit: Option<PathBuf>,
    /// How to write the findings.
    #[arg(long, value_enum, default_value_t, value_name = "FORM")]
    pub(super) findings: FindingsAs,
}

/// What came out of one intent.
pub(super) struct Done<T> {
    /// What was found, its places written out.
    pub(super) entries: Vec<Entry>,
    /// The same drawn, for a person.
    pub(super) drawn: String,
    /// How it ended.
    pub(super) exit: Exit,
    /// Whatever else came out.
    pub(super) fruit: T,
}

/// The intents of one run.
pub(super) struct Intents {
    /// Their paths, in the order in which they are told.
    pub(super) all: Vec<PathBuf>,
    /// Those that a person named one by one.
    pub(super) named: BTreeSet<PathBuf>,
    /// Whether it is one, named by itself.
    pub(super) alone: bool,
    /// Set when the program is told to end.
    ended: Arc<AtomicBool>,
}

/// What was found in all of them, and how the worst ended.
#[derive(Default)]
pub(super) struct Sum {
    entries: Vec<Entry>,
    cases: Vec<Case>,
    exit: Option<Exit>,
}

impl Fleet {
    /// Finds the intents.
    ///
    /// # Errors
    /// How the run ends, if there are none, or a folder cannot be looked at.
    pub(super) fn intents(&self) -> Result<Intents, Exit> {
        let Found { intents, named, unreadable } = find::intents(&self.paths);
        if !unreadable.is_empty() {
            unreadable.iter().for_each(|one| terminal::error(&format!("{one}\n")));
            return Err(Exit::Unusable);
        }
        let alone = intents.len() == 1 && named.len() == 1;
        if self.from.is_some() && !alone {
            terminal::error("--from names the stack as it stands of one intent; give one intent with it\n");
            return Err(Exit::Unusable);
        }
        if intents.is_empty() {
            terminal::error("no intent was found: an intent's file is `intent.yaml` or ends in `.intent.yaml`\n");
            return Err(Exit::Unusable);
        }
        let ended = Arc::new(AtomicBool::new(false));
        if !alone {
            for signal in [SIGINT, SIGTERM] {
                // without it the run ends at once, which writing survives too
                let _ = signal_hook::flag::register(signal, Arc::clone(&ended));
            }
        }
        Ok(Intents { all: intents, named, alone, ended })
    }

    /// Those of this run's part.
    pub(super) fn part(&self, intents: Vec<PathBuf>) -> Vec<PathBuf> {
        find::part(intents, self.shard)
    }

    /// The revision to compare with, if one is named.
    ///
    /// # Errors
    /// How the run ends, if it cannot be had.
    pub(super) fn revision(&self, intents: &Intents) -> Result<Option<git::Revision>, Exit> {
        let Some(name) = &self.from_git else { return Ok(None) };
        let near = intents.all.first().map_or(Path::new("."), PathBuf::as_path);
        git::Revision::open(name, near).map(Some).map_err(|fault| {
            terminal::error(&format!("{fault}\n"));
            Exit::Unusable
        })
    }

    fn crew<'a>(&'a self, intents: &'a Intents, progress: bool) -> Crew<'a> {
        let processors = || std::thread::available_parallelism().map_or(1, NonZeroUsize::get);
        Crew {
            threads: self.threads.map_or_else(processors, NonZeroUsize::get),
            roots: &self.dialect_root,
            shares: !self.share_nothing,
            progress: progress && !self.quiet,
            ended: &intents.ended,
        }
    }

    /// What each intent says of itself; what comes on standard input comes once, and is not looked at.
    pub(super) fn glances(&self, intents: &Intents) -> twice::Glances {
        let mut glances = twice::Glances::new();
        let look = |worker: &mut Worker, intent: &Path| {
            let asked = Request { intent, from: Standing::Named, dialect: None };
            (!is_standard_input(intent)).then(|| worker.reader.glance(&asked)).flatten()
        };
        self.crew(intents, false).over(&intents.all, look, |intent, glance| {
            glances.extend(glance.map(|glance| (intent.to_owned(), glance)));
        });
        glances
    }

    /// Does the work for each of these, and writes what is found in their order.
    pub(super) fn each<T: Send>(
        &self,
        (intents, part): (&Intents, &[PathBuf]),
        sum: &mut Sum,
        work: impl Fn(&mut Worker, &Path) -> Done<T> + Sync,
        mut tell: impl FnMut(&Path, &[Entry], T),
    ) {
        let done = self.crew(intents, true).over(part, work, |intent, done| {
            if self.findings == FindingsAs::Text && !done.drawn.is_empty() {
                terminal::error(&done.drawn);
            }
            tell(intent, &done.entries, done.fruit);
            sum.add(intent, done.entries, done.exit);
        });
        if done < part.len() {
            let left = part.len() - done;
            terminal::error(&format!("told to end: {done} of {} stacks are done, {left} were not begun\n", part.len()));
            sum.worsen(Exit::Unusable);
        }
    }

    /// Says what is wrong with an intent beside another one.
    pub(super) fn refuse(&self, sum: &mut Sum, intent: &Path, entry: Entry, exit: Exit) {
        if self.findings == FindingsAs::Text {
            let at = entry.place.as_ref();
            let at = at.map_or_else(String::new, |at| format!(" ({}:{}:{})", at.file, at.line, at.column));
            terminal::error(&format!("error[{}]: {}{at}\n\n", entry.code, entry.message));
        }
        sum.add_more(intent, entry, exit);
    }

    /// Writes the reports; gives the exit status of the whole run.
    pub(super) fn finish(&self, command: &str, sum: Sum) -> Exit {
        match self.findings {
            FindingsAs::Text => {}
            FindingsAs::Json => terminal::print(&report::json_of(&sum.entries)),
            FindingsAs::Sarif => terminal::print(&report::sarif(&sum.entries)),
        }
        let mut exit = sum.exit.unwrap_or(Exit::Fine);
        if let Some(path) = &self.junit
            && let Err(error) = std::fs::write(path, report::junit(command, &sum.cases))
        {
            terminal::error(&format!("`{}` cannot be written: {}\n", path.display(), error.kind()));
            exit = worse(exit, Exit::Unusable);
        }
        exit
    }

    /// Says a sentence to a person, unless told to be quiet or to write data.
    pub(super) fn say(&self, sentence: &str) {
        if self.findings == FindingsAs::Text && !self.quiet {
            terminal::print(sentence);
        }
    }
}

impl Sum {
    /// Takes in what was found in one intent.
    pub(super) fn add(&mut self, intent: &Path, entries: Vec<Entry>, exit: Exit) {
        let failed = match exit {
            Exit::Fine => None,
            Exit::Differs => Some("the files on disk are not what would be written".to_owned()),
            Exit::Refused | Exit::Unusable | Exit::Fault => Some(format!("exit status {}", exit.status()))
                .filter(|_| !entries.iter().any(|entry| entry.severity == "error")),
        };
        self.entries.extend(entries.iter().cloned());
        self.cases.push(Case { name: intent.display().to_string(), entries, failed });
        self.worsen(exit);
    }

    /// Takes in something more of an intent that was taken in before, or the first of it.
    fn add_more(&mut self, intent: &Path, entry: Entry, exit: Exit) {
        let name = intent.display().to_string();
        let Some(case) = self.cases.iter_mut().find(|case| case.name == name) else {
            return self.add(intent, vec![entry], exit);
        };
        case.entries.push(entry.clone());
        self.entries.push(entry);
        self.worsen(exit);
    }

    /// The run ends at least so badly.
    pub(super) fn worsen(&mut self, exit: Exit) {
        self.exit = Some(self.exit.map_or(exit, |before| worse(before, exit)));
    }
}

/// What a run of several ends with: a fault of our own before what could not be used, that before a refusal.
fn worse(one: Exit, other: Exit) -> Exit {
    let rank = |exit: Exit| match exit {
        Exit::Fine => 0,
        Exit::Differs => 1,
        Exit::Refused => 2,
        Exit::Unusable => 3,
        Exit::Fault => 4,
    };
    if rank(other) > rank(one) { other } else { one }
}

/// What a worker has found about one intent, as it leaves the worker.
pub(super) fn done<T>(worker: &mut Worker, form: FindingsAs, exit: Exit, fruit: T) -> Done<T> {
    let reader = &mut worker.reader;
    reader.findings.sort();
    let entries = report::entries(&reader.findings, &reader.sources);
    let drawn = match form {
        FindingsAs::Text if !entries.is_empty() => terminal::drawn(&reader.findings, &reader.sources),
        FindingsAs::Text | FindingsAs::Json | FindingsAs::Sarif => String::new(),
    };
    Done { entries, drawn, exit, fruit }
}
