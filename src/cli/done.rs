//! `ringwright done`: an intent that was carried out -> the record beside it that says so.

use std::path::{Path, PathBuf};

use clap::Args;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::fleet::git;
use super::{Exit, Reader, terminal};
use crate::compile::COMPILER;
use crate::source::sha256;

/// The version of the record's shape.
const RECORD_FORMAT: u32 = 1;

/// Which revision of an intent stands in the rack.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DoneRecord {
    /// The version of this shape.
    pub format: u32,
    /// The stack's name.
    pub stack: String,
    /// The commit whose intent was carried out, whole.
    pub revision: String,
    /// The intent's path at that commit, from the top of the repository.
    pub path: String,
    /// `sha256:…` of the intent at that commit.
    pub intent: String,
    /// What wrote this: name and version.
    pub compiler: String,
}

/// Record that an intent was carried out: the stack in the rack is as the last commit says.
#[derive(Args)]
pub(super) struct Done {
    /// The intent, as it is committed.
    #[arg(value_name = "INTENT")]
    intent: PathBuf,
}

/// The record's place: beside the intent, its name with `.done.json` for `.yaml`.
pub(super) fn record_path(intent: &Path) -> PathBuf {
    intent.with_extension("done.json")
}

impl Done {
    pub(super) fn run(self) -> Exit {
        match self.record() {
            Ok(sentence) => {
                terminal::print(&sentence);
                Exit::Fine
            }
            Err((exit, why)) => {
                terminal::error(&format!("{why}\n"));
                exit
            }
        }
    }

    fn record(&self) -> Result<String, (Exit, String)> {
        let unusable = |why: String| (Exit::Unusable, why);
        let git_failed = |fault: git::GitFault| (Exit::Unusable, fault.to_string());
        let shown = self.intent.display();
        let bytes = std::fs::read(&self.intent)
            .map_err(|error| unusable(format!("`{shown}` cannot be read: {}", error.kind())))?;
        let request = super::Request { intent: &self.intent, from: super::Standing::New, dialect: None };
        let glance = Reader::default().glance(&request);
        let glance = glance
            .ok_or_else(|| (Exit::Refused, format!("`{shown}` names no stack; look at it with `ringwright check`")))?;
        let root = git::top(&git::home(&self.intent)).map_err(git_failed)?;
        let path = git::inside(&root, &self.intent).map_err(git_failed)?;
        let revision = git::line(&root, &["rev-parse", "--verify", "--quiet", "HEAD"]);
        let revision =
            revision.map_err(|_| (Exit::Refused, format!("nothing is committed in `{}` yet", root.display())))?;
        let object = format!("{revision}:{path}");
        let committed = git::ask(&root, &["cat-file", "blob", &object]);
        if committed.ok().as_ref() != Some(&bytes) {
            let why = format!("`{shown}` is not as the last commit has it; commit what stands in the rack first");
            return Err((Exit::Refused, why));
        }
        let record = DoneRecord {
            format: RECORD_FORMAT,
            stack: glance.stack,
            path,
            intent: sha256([bytes.as_slice()]),
            compiler: COMPILER.to_owned(),
            revision,
        };
        let place = record_path(&self.intent);
        // plain data with text keys: writing it cannot fail
        let text = serde_json::to_string_pretty(&record).unwrap_or_default() + "\n";
        let failed =
            |error: std::io::Error| unusable(format!("`{}` cannot be written: {}", place.display(), error.kind()));
        std::fs::write(&place, text).map_err(failed)?;
        Ok(format!(
            "{} stands in the rack as {} has it; commit `{}`\n",
            record.stack,
            record.revision.get(..12).unwrap_or(&record.revision),
            place.display()
        ))
    }
}
