//! [`Dossier`] and the dialect's templates -> [`Bundle`]: every file of one stack, in memory.
//!
//! Words belong to the templates, order belongs to the plan. Deliberately absent: the disk. Only a
//! [`Rehearsed`] plan can be rendered, so nothing is printed that was not proved.

mod back;
mod bench;
mod cabling;
mod care;
mod cautions;
mod codes;
mod context;
mod engine;
mod error;
mod faults;
mod handover;
mod house;
mod labels;
mod ladder;
mod markup;
mod names;
mod operation;
mod places;
mod plain;
mod record;
mod segments;
mod sentence;
mod service;
mod shared;
mod steps;
mod story;
mod times;
mod words;

#[cfg(test)]
mod tests;

use std::collections::{BTreeMap, BTreeSet};

use minijinja::context as scope;

pub use bench::Bench;
pub use codes::CODES;
pub use context::{
    ActingUnit, CONTEXT_FORMAT, CableView, CareView, CautionView, Context, EndView, FactView, OperationView, PlaceView,
    PortView, SegmentView, StepView, WordsScope,
};
pub use error::{Part, RenderCode, RenderError};
pub use faults::commons;
pub use plain::csv_columns;
pub use record::{BundleRecord, DialectRecord, PLAN_FILE, RECORD_FILE, RECORD_FORMAT, digest};
pub use sentence::{headline, sentence};
pub use service::{leaders, live_restarts, spare_cables};
pub use shared::Shared;
pub use steps::whole_minutes;
pub use times::{HandsWork, Times, TurnBack, times};
pub use words::{Heard, coverage, fact_template, step_template};

pub use engine::Engines;

use crate::analyse::faults::{self as analysed, Digest};
use crate::lower::{Delta, Site};
use crate::model::document::PlanDocument;
use crate::platform::{OnePer, OutputKind, OutputSpec, Platform};

use crate::rehearse::Rehearsed;

/// Everything that a bundle is rendered from.
#[derive(Clone, Copy, Debug)]
pub struct Dossier<'a> {
    /// The proved plan.
    pub rehearsed: &'a Rehearsed,
    /// What changes, for the sentence.
    pub delta: &'a Delta,
    /// What people want to read beside the plan.
    pub site: &'a Site,
    /// The dialect.
    pub platform: &'a Platform,
    /// What writes the bundle: name and version.
    pub compiler: &'a str,
    /// `sha256:…` of every input, by what it is used as (`intent`, `baseline`, `dialect`).
    pub inputs: &'a BTreeMap<String, String>,
}

/// The files of one stack, in memory.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bundle {
    /// The stack's name, which is the folder's name too.
    pub stack: String,
    /// Each file by its path inside the folder, `/` between parts; `bundle.json` among them.
    pub files: BTreeMap<String, Vec<u8>>,
    /// What `bundle.json` says.
    pub record: BundleRecord,
    /// The file to begin with: the first output of the whole stack that is for people.
    pub opens_with: Option<String>,
}

/// Renders every declared output, the plan and the record.
///
/// # Errors
/// A template that is missing or fails, a value with a control character, an output that is not what its kind
/// says, a path that leaves the bundle or is there twice.
pub fn render(dossier: &Dossier) -> Result<Bundle, RenderError> {
    render_with(dossier, &Engines::new(dossier.platform))
}

/// The same with templates that were parsed before: those of the dossier's dialect.
///
/// # Errors
/// As [`render`].
pub fn render_with(dossier: &Dossier, engines: &Engines) -> Result<Bundle, RenderError> {
    let digest = digest_of(dossier);
    let plan = PlanDocument { faults: Some(digest.entry.clone()), ..dossier.rehearsed.plan().clone() };
    let plan = plain::as_json(&plan)?;
    plain::check_texts(&plan, dossier.site)?;
    let context = story::context_of(dossier, engines, &digest)?;
    let mut files = Files::default();
    files.add(PLAN_FILE.to_owned(), record::readable_json(&plan), None)?;
    files.reserve(RECORD_FILE);
    let mut opens_with = None;
    for one in render_outputs(dossier.platform, engines, &context)? {
        let for_people = matches!(one.kind, OutputKind::Text | OutputKind::Markdown | OutputKind::Html);
        if one.one_per == OnePer::Stack && for_people && opens_with.is_none() {
            opens_with = Some(one.path.clone());
        }
        files.add(one.path, one.text, Some(&one.declared))?;
    }
    Ok(Bundle { opens_with, ..seal(dossier, files)? })
}

/// The data that templates see.
///
/// # Errors
/// As [`render`], for what the words need.
pub fn context(dossier: &Dossier) -> Result<Context, RenderError> {
    story::context_of(dossier, &Engines::new(dossier.platform), &digest_of(dossier))
}

fn digest_of(dossier: &Dossier) -> Digest {
    analysed::digest(dossier.rehearsed, &commons(dossier.site))
}

/// The same as JSON.
///
/// # Errors
/// As [`render`], for what the words need.
pub fn context_json(dossier: &Dossier) -> Result<serde_json::Value, RenderError> {
    plain::as_json(&context(dossier)?)
}

/// What every template of words saw of a dossier, and what it said.
///
/// # Errors
/// As [`render`], for what the words need.
pub fn words(dossier: &Dossier) -> Result<Vec<Heard>, RenderError> {
    story::heard(dossier, &Engines::new(dossier.platform))
}

/// One file that a template made.
#[derive(Clone, Debug)]
pub struct Rendered {
    /// Its path inside the bundle.
    pub path: String,
    /// The template, by its path in the dialect's folder.
    pub template: String,
    /// Its path as the manifest declares it.
    pub declared: String,
    /// What it says it is.
    pub kind: OutputKind,
    /// How often its template is rendered.
    pub one_per: OnePer,
    /// The segment that it is for, if it is for one.
    pub segment: Option<SegmentView>,
    /// Its text, checked as its kind.
    pub text: String,
}

/// Every declared output; an optional one without text is left out.
fn render_outputs(platform: &Platform, engines: &Engines, context: &Context) -> Result<Vec<Rendered>, RenderError> {
    let root = plain::scope(context);
    let mut rendered = Vec::new();
    for output in &platform.outputs {
        let engine = engines.of(output.kind);
        for (unit, segment, way) in subjects(output, context) {
            let path = story::path(&output.path, &context.stack, unit.as_ref(), segment, way)?;
            let scope = scope! {
                unit => plain::scope(&unit),
                segment => plain::scope(segment),
                way_back => plain::scope(way.map(context::WayBackView::in_short)),
                ..root.clone()
            };
            let text = engine.render(&output.template, &scope)?;
            if output.optional && text.trim().is_empty() {
                continue;
            }
            plain::check_file(output.kind, &text).map_err(|fault| fault.in_template(&output.template))?;
            let (template, declared) = (output.template.clone(), output.path.clone());
            let (kind, one_per) = (output.kind, output.one_per);
            rendered.push(Rendered { path, template, declared, kind, one_per, segment: segment.cloned(), text });
        }
    }
    Ok(rendered)
}

/// What an output is rendered once for.
type Subject<'c> = (Option<context::UnitView>, Option<&'c SegmentView>, Option<&'c context::WayBackView>);

fn subjects<'c>(output: &OutputSpec, context: &'c Context) -> Vec<Subject<'c>> {
    let segments = |staging: bool| {
        let chosen = context.segments.iter().filter(move |segment| segment.staging == staging);
        chosen.map(|segment| (story::unit_of(&context.units, segment), Some(segment), None)).collect()
    };
    match output.one_per {
        OnePer::Stack => vec![(None, None, None)],
        OnePer::JoiningUnit => {
            let joining = context.units.iter().filter(|unit| unit.status == "joining");
            joining.map(|unit| (Some(unit.clone()), None, None)).collect()
        }
        OnePer::StageSegment => segments(true),
        OnePer::ChangeSegment => segments(false),
        OnePer::WayBackSegment => {
            let ways = context.ways_back.iter();
            let each = ways.flat_map(|way| way.segments.iter().map(move |segment| (way, segment)));
            each.map(|(way, segment)| (story::unit_of(&context.units, segment), Some(segment), Some(way))).collect()
        }
    }
}

/// Adds the record, which holds the digest of all other files.
fn seal(dossier: &Dossier, files: Files) -> Result<Bundle, RenderError> {
    let mut files = files.by_path;
    let platform = dossier.platform;
    let record = BundleRecord {
        format: RECORD_FORMAT,
        stack: dossier.rehearsed.plan().stack.clone(),
        compiler: dossier.compiler.to_owned(),
        dialect: DialectRecord {
            name: platform.name.clone(),
            version: platform.version.clone(),
            digest: platform.digest.clone(),
        },
        inputs: dossier.inputs.clone(),
        files: files.iter().map(|(path, bytes)| (path.clone(), digest(bytes))).collect(),
    };
    let value = plain::as_json(&record)?;
    files.insert(RECORD_FILE.to_owned(), record::readable_json(&value).into_bytes());
    Ok(Bundle { stack: record.stack.clone(), files, record, opens_with: None })
}

/// Whether all files have paths of their own, beside the plan and the record.
fn apart(rendered: &[Rendered]) -> Result<(), RenderError> {
    let mut files = Files::default();
    [PLAN_FILE, RECORD_FILE].into_iter().for_each(|path| files.reserve(path));
    rendered.iter().try_for_each(|one| files.add(one.path.clone(), String::new(), Some(&one.declared)))
}

/// Files by path: none twice, none that is a folder of another.
#[derive(Default)]
struct Files {
    by_path: BTreeMap<String, Vec<u8>>,
    taken: BTreeSet<String>,
}

impl Files {
    /// Keeps a path free for what is written last.
    fn reserve(&mut self, path: &str) {
        self.taken.insert(path.to_owned());
    }

    fn add(&mut self, path: String, text: String, declared: Option<&str>) -> Result<(), RenderError> {
        let folders =
            |path: &str| path.match_indices('/').map(|(at, _)| path.split_at(at).0.to_owned()).collect::<Vec<_>>();
        let inside = format!("{path}/");
        let clash = self.taken.contains(&path)
            || self.taken.range(inside.clone()..).next().is_some_and(|other| other.starts_with(&inside))
            || folders(&path).iter().any(|folder| self.taken.contains(folder));
        if clash {
            let message = format!("`{path}` is the path of two outputs, or a file and a folder at once");
            let fault = RenderError::new(RenderCode::OutputTwice, message);
            return Err(declared.map_or(fault.clone(), |path| fault.in_manifest(path)));
        }
        self.taken.insert(path.clone());
        self.by_path.insert(path, text.into_bytes());
        Ok(())
    }
}
