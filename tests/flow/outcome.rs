//! A case -> what comes of it: compiled in process, once more with the consents that a refusal asks for.

use std::panic::{AssertUnwindSafe, catch_unwind};

use ringwright::compile::shapes::Shapes;
use ringwright::compile::{Compiled, Material, compile_problem};
use ringwright::diag::{Diagnostic, Findings, Severity};
use ringwright::intent::Intent;
use ringwright::lower::{Problem, lower};
use ringwright::model::Minutes;
use ringwright::model::document::Status;
use ringwright::model::naming::setting;
use ringwright::model::setting::Setting;
use ringwright::platform::Platform;
use ringwright::render::Engines;
use ringwright::source::Sources;
use ringwright::{intent, platform, rehearse};

use super::intents::Case;

/// What came of a case.
pub enum Outcome {
    /// A plan, and the consents that it took.
    Planned(Box<Compiled>, Vec<String>),
    /// No order keeps every rule, with any consent.
    NoSafeOrder(String),
    /// The search ended at its bound.
    SearchLimit,
    /// Refused by name.
    NotYet,
}

/// Something that must not happen. The symptom is the same for all cases of one fault.
pub struct Failure {
    pub symptom: String,
    pub text: String,
}

impl Failure {
    /// Numbers, and what stands in brackets, differ from case to case and are no part of a symptom.
    pub fn new(symptom: impl AsRef<str>, text: impl Into<String>) -> Self {
        let symptom = symptom.as_ref().split(['[', '{']).next().unwrap_or_default();
        let words = symptom.split(|letter: char| letter.is_ascii_digit()).filter(|word| !word.is_empty());
        Self { symptom: words.collect::<Vec<_>>().join("N"), text: text.into() }
    }
}

/// Compiles a case; a panic is a failure like others.
pub fn outcome(case: &Case) -> Result<Outcome, Failure> {
    catch_unwind(AssertUnwindSafe(|| compiled(case))).unwrap_or_else(|panic| {
        let text = panic.downcast_ref::<String>().cloned();
        let text = text.or_else(|| panic.downcast_ref::<&str>().map(|text| (*text).to_owned()));
        Err(Failure::new("panic", text.unwrap_or_default()))
    })
}

fn compiled(case: &Case) -> Result<Outcome, Failure> {
    let (first, findings) = build(case, &[], false);
    let (consents, cable) = match first {
        Some(plan) => {
            idle_consent(case, &plan)?;
            every_consent(case, &plan, &[])?;
            return accepted(plan, Vec::new(), &findings);
        }
        None => match refusal(&findings)? {
            Refused::For(consents) => (consents, false),
            Refused::WithoutCable(consents) => (consents, true),
            Refused::Finally(outcome) => return Ok(outcome),
        },
    };
    let (second, findings) = build(case, &consents, cable);
    match second {
        Some(plan) => {
            every_consent(case, &plan, &consents)?;
            accepted(plan, consents, &findings)
        }
        None => {
            let with = if cable { "a temporary cable and " } else { "" };
            let text = format!("with {with}{}: {}", consents.join(", "), told(&findings));
            let codes: Vec<String> = errors(&findings).map(named).collect();
            Err(Failure::new(format!("consents were given and it ends in {}", codes.join(", ")), text))
        }
    }
}

/// Of a share of the plans in which nobody is ever away: one consent to a restart can only make it dearer, so
/// the plan stays as it is, and a warning says that the consent is idle.
fn idle_consent(case: &Case, plan: &Compiled) -> Result<(), Failure> {
    let document = plan.rehearsed.plan();
    let live = document.units.iter().find(|unit| unit.status == Status::Live);
    let away = document.cost.as_ref().is_none_or(|cost| cost.member_minutes != Minutes::ZERO);
    let Some(unit) = live.filter(|_| case.number % 8 == 1 && !away) else { return Ok(()) };
    let consent = format!("restart:{}", unit.member);
    let (again, findings) = build(case, std::slice::from_ref(&consent), false);
    let warnings = findings.all().iter().filter(|found| found.code.name == "consent-not-needed").count();
    let steps = |plan: &Compiled| {
        format!("{:?}", plan.rehearsed.plan().steps.iter().map(|step| &step.action).collect::<Vec<_>>())
    };
    match again {
        None => Err(Failure::new("refused with a consent too many", format!("{consent}: {}", told(&findings)))),
        Some(_) if warnings != 1 => Err(Failure::new("nothing says that a consent is idle", consent)),
        Some(again) if steps(&again) != steps(plan) => Err(Failure::new("an idle consent changes the plan", consent)),
        Some(_) => Ok(()),
    }
}

/// Of a share of the plans: whoever agrees to everything, for everybody who lives, gets a plan that hurts no more.
///
/// Unless the cheaper one does not stand: what is granted too much can make another piece the stack.
fn every_consent(case: &Case, plan: &Compiled, asked: &[String]) -> Result<(), Failure> {
    let document = plan.rehearsed.plan();
    let mut members: Vec<&str> = Vec::new();
    for unit in document.units.iter().filter(|unit| unit.status == Status::Live) {
        if !members.contains(&unit.member.as_str()) {
            members.push(&unit.member);
        }
    }
    if case.number % 8 != 5 || members.is_empty() {
        return Ok(());
    }
    let kinds = ["restart", "new-primary", "split"];
    let mut all: Vec<String> =
        kinds.iter().flat_map(|kind| members.iter().map(move |member| format!("{kind}:{member}"))).collect();
    all.extend(asked.iter().filter(|consent| !all.contains(consent)).cloned().collect::<Vec<_>>());
    let (again, findings) = build(case, &all, document.change.temporary_cables);
    let away = |plan: &Compiled| plan.rehearsed.plan().cost.as_ref().map(|cost| cost.member_minutes);
    let stands = || {
        let mut document = document.clone();
        document.change.accept.clone_from(&all);
        rehearse::judge(&document).rehearsed.is_some()
    };
    match again {
        Some(again) if away(&again) > away(plan) && stands() => {
            let text = format!("{:?} minutes away, {:?} with fewer consents", away(&again), away(plan));
            Err(Failure::new("more consents make it dearer", text))
        }
        Some(_) => Ok(()),
        None if !stands() => Ok(()),
        None => Err(Failure::new(
            format!("refused with every consent: {}", errors(&findings).map(named).collect::<Vec<_>>().join(", ")),
            told(&findings),
        )),
    }
}

/// A plan that the judge accepts when it reads it again, that uses every consent and no other.
fn accepted(plan: Box<Compiled>, consents: Vec<String>, findings: &Findings) -> Result<Outcome, Failure> {
    let document = plan.rehearsed.plan();
    if document.change.accept != consents {
        let text = format!("{:?} were given, the plan has {:?}", consents, document.change.accept);
        return Err(Failure::new("other consents than were given", text));
    }
    if let Some(idle) = findings.all().iter().find(|found| found.code.name == "consent-not-needed") {
        return Err(Failure::new("a consent that was asked for is not needed", idle.message.clone()));
    }
    if rehearse::judge(document).rehearsed.is_none() {
        return Err(Failure::new("refused when read again", String::new()));
    }
    Ok(Outcome::Planned(plan, consents))
}

fn build(case: &Case, accept: &[String], cable: bool) -> (Option<Box<Compiled>>, Findings) {
    built(case, case.intent(accept, cable), case.baseline.clone(), None)
}

/// The model of a case, where it is lowered.
pub fn setting_of(case: &Case) -> Option<Setting> {
    let (mut sources, mut findings) = (Sources::default(), Findings::default());
    let read = Read::of(case, case.intent(&[], false), case.baseline.clone(), &mut sources, &mut findings)?;
    setting(&read.problem.documents()).ok()
}

/// A case, read and lowered.
struct Read {
    intent: Intent,
    old: Option<Intent>,
    platform: Platform,
    problem: Problem,
}

impl Read {
    fn of(
        case: &Case,
        text: String,
        baseline: Option<String>,
        sources: &mut Sources,
        findings: &mut Findings,
    ) -> Option<Self> {
        let place = sources.add("intent.yaml", text);
        let baseline = baseline.map(|text| sources.add("as-built.yaml", text));
        let intent = intent::read(sources, place, findings).ok()?;
        let old = baseline.map(|file| intent::read(sources, file, findings)).transpose().ok()?;
        let mut builtin = || {
            let name = intent.dialect.value.to_string();
            let neutral = platform::builtin(&name, intent.dialect.span, sources, findings).ok()?;
            Some(Platform { traits: case.traits.clone(), ..neutral })
        };
        let platform = case.platform.clone().or_else(&mut builtin)?;
        let problem = lower(&intent, old.as_ref(), &platform, findings).ok()?;
        Some(Self { intent, old, platform, problem })
    }
}

/// Compiles a text on a case's platform, with what was found for other stacks.
pub fn built(
    case: &Case,
    text: String,
    baseline: Option<String>,
    shapes: Option<&Shapes>,
) -> (Option<Box<Compiled>>, Findings) {
    let (mut sources, mut findings) = (Sources::default(), Findings::default());
    let read = Read::of(case, text, baseline, &mut sources, &mut findings);
    let built = read.and_then(|Read { intent, old, platform, problem }| {
        let engines = Engines::new(&platform);
        let (sources, engines, platform) = (&sources, &engines, &platform);
        let material = Material { engines, sources, intent: &intent, baseline: old.as_ref(), platform, shapes };
        compile_problem(&material, problem, &mut findings).ok().map(Box::new)
    });
    (built, findings)
}

fn errors(findings: &Findings) -> impl Iterator<Item = &Diagnostic> {
    findings.all().iter().filter(|found| found.severity == Severity::Error)
}

fn told(findings: &Findings) -> String {
    errors(findings).map(|found| format!("{}: {}", found.code.name, found.message)).collect::<Vec<_>>().join("\n")
}

/// The code, and the rule that our own plan broke.
fn named(error: &Diagnostic) -> String {
    let said = error.message.strip_prefix("our own plan was refused: ");
    let rule = said.and_then(|said| said.split([':', ' ']).next()).filter(|_| error.code.name == "plan-not-proved");
    rule.map_or_else(|| error.code.name.to_owned(), |rule| format!("{}: {rule}", error.code.name))
}

enum Refused {
    For(Vec<String>),
    /// Only a temporary cable makes it possible, with these.
    WithoutCable(Vec<String>),
    Finally(Outcome),
}

/// What a refusal means; one that the intent itself is to blame for is a fault of the generator or of lowering.
fn refusal(findings: &Findings) -> Result<Refused, Failure> {
    let errors: Vec<&Diagnostic> = errors(findings).collect();
    if !errors.is_empty() && errors.iter().all(|error| error.code.name == "not-yet") {
        return Ok(Refused::Finally(Outcome::NotYet));
    }
    let [error] = errors.as_slice() else {
        let codes: Vec<&str> = errors.iter().map(|error| error.code.name).collect();
        return Err(Failure::new(format!("{} errors: {}", errors.len(), codes.join(", ")), told(findings)));
    };
    match error.code.name {
        "consent-needed" => consents(error).map(Refused::For),
        "no-safe-order" if error.help.iter().any(|help| help.contains("temporary_cables: true")) => {
            let none = error.related.is_empty();
            if none { Ok(Vec::new()) } else { consents(error) }.map(Refused::WithoutCable)
        }
        "no-safe-order" => Ok(Refused::Finally(Outcome::NoSafeOrder(error.message.clone()))),
        "search-limit" => Ok(Refused::Finally(Outcome::SearchLimit)),
        _ => Err(Failure::new(named(error), told(findings))),
    }
}

/// One consent an entry, in back quotes at the beginning of its text.
fn consents(error: &Diagnostic) -> Result<Vec<String>, Failure> {
    let quoted =
        |text: &str| text.strip_prefix('`').and_then(|text| text.split_once('`')).map(|(name, _)| name.to_owned());
    let named: Option<Vec<String>> = error.related.iter().map(|related| quoted(&related.text)).collect();
    let known = |consent: &String| ["restart:", "new-primary:", "split:"].iter().any(|kind| consent.starts_with(kind));
    named.filter(|all| !all.is_empty() && all.iter().all(known)).ok_or_else(|| {
        let texts: Vec<&str> = error.related.iter().map(|related| related.text.as_str()).collect();
        Failure::new("a refusal names no consents", format!("{}\n{}", error.message, texts.join("\n")))
    })
}
