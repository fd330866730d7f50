//! The whole line for one stack: intent -> problem -> route -> plan -> rehearsal -> bundle.

pub mod budgets;
mod refusal;
pub mod shapes;

use std::collections::BTreeMap;

use crate::diag::{Code, Diagnostic, Findings, Reported};
use crate::intent::Intent;
use crate::lower::{Problem, lower};
use crate::model::document::Inputs;
use crate::model::naming::setting;
use crate::model::setting::Setting;
use crate::plan::back::WaysBack;
use crate::plan::consents::{Need, needs};
use crate::plan::{NoRoute, route, setting_of};
use crate::platform::Platform;
use crate::rehearse::{Rehearsed, Verdict, judge};
use crate::render::{Bundle, Dossier, Engines, Part, RenderError, digest, render_with};
use crate::source::{FileId, Sources, Span};
use crate::watch::{Drawn, Origin, Plugs, document, drawn, plugs};

use refusal::{idle_consents, no_route};
use shapes::Shapes;

/// Name and version, as every output says them.
pub const COMPILER: &str = concat!("ringwright ", env!("CARGO_PKG_VERSION"));

/// The codes of this stage.
pub const CODES: &[&Code] = &[
    &CONSENT_NEEDED,
    &CONSENT_NOT_NEEDED,
    &NO_SAFE_ORDER,
    &SEARCH_LIMIT,
    &PLAN_NOT_PROVED,
    &TOO_LARGE,
    &budgets::BUDGET_SINGLE_FAULT,
    &budgets::BUDGET_LINK_LOAD,
    &budgets::BUDGET_UNPROTECTED,
];

/// The change takes consents that were not given.
pub const CONSENT_NEEDED: Code = Code {
    name: "consent-needed",
    explanation: "The change cannot be done without a consequence that a person must agree to: a unit of the running \
stack restarts (`restart:`), another unit leads (`new-primary:`), a unit is off or cut off for a while (`split:`). The \
message lists all that the best plan takes; write them under `change.accept`, one by one, and the plan uses no more.",
};
/// A consent that the plan does not use.
pub const CONSENT_NOT_NEEDED: Code = Code {
    name: "consent-not-needed",
    explanation: "A consent stands in the intent that the best plan does not use. Leave it out: a consent that waits for \
its use would let a later change do what nobody was asked about.",
};
/// No order keeps every rule.
pub const NO_SAFE_ORDER: Code = Code {
    name: "no-safe-order",
    explanation: "Every order of the operations that the change needs would break a rule, for instance restart a unit \
that carries traffic. The message names the rules that were broken most often on the way.",
};
/// The search used up its budget.
pub const SEARCH_LIMIT: Code = Code {
    name: "search-limit",
    explanation: "The search for a safe order opened as many situations as it may and found none. Split the change into \
smaller ones: each can be planned from the state that the one before it leaves.",
};
/// The judge refused our own plan.
pub const PLAN_NOT_PROVED: Code = Code {
    name: "plan-not-proved",
    explanation: "The plan that was found did not pass the replay. That is a fault in ringwright: nothing was written. \
Please keep the intent and the baseline with your report.",
};
/// More than a plan can hold.
pub const TOO_LARGE: Code =
    Code { name: "too-large", explanation: "A plan holds at most 80 boxes, 1023 listed ports and 511 cables." };

/// What comes out for one stack.
#[derive(Clone, Debug)]
pub struct Compiled {
    /// What was to be done.
    pub problem: Problem,
    /// The proved plan.
    pub rehearsed: Rehearsed,
    /// The files.
    pub bundle: Bundle,
}

/// Compiles one intent, against the stack as it stands or against boxes out of their packaging.
///
/// # Errors
/// [`Reported`], if the intent is wrong, the change cannot be planned, or a template fails.
pub fn compile(
    sources: &Sources,
    intent: &Intent,
    baseline: Option<&Intent>,
    platform: &Platform,
    findings: &mut Findings,
) -> Result<Compiled, Reported> {
    compile_with(&Engines::new(platform), sources, intent, baseline, platform, findings)
}

/// The same with the platform's templates, parsed before.
///
/// # Errors
/// As [`compile`].
pub fn compile_with(
    engines: &Engines,
    sources: &Sources,
    intent: &Intent,
    baseline: Option<&Intent>,
    platform: &Platform,
    findings: &mut Findings,
) -> Result<Compiled, Reported> {
    let problem = lower(intent, baseline, platform, findings)?;
    compile_problem(&Material { engines, sources, intent, baseline, platform, shapes: None }, problem, findings)
}

/// What a stack is compiled with.
#[derive(Clone, Copy)]
pub struct Material<'a> {
    /// The platform's templates, parsed before.
    pub engines: &'a Engines,
    /// The files.
    pub sources: &'a Sources,
    /// The intent.
    pub intent: &'a Intent,
    /// The stack as it stands.
    pub baseline: Option<&'a Intent>,
    /// The platform.
    pub platform: &'a Platform,
    /// What was found for other stacks, where it may serve this one.
    pub shapes: Option<&'a Shapes>,
}

/// The same, where the intent was lowered before.
///
/// # Errors
/// As [`compile`].
pub fn compile_problem(
    material: &Material<'_>,
    problem: Problem,
    findings: &mut Findings,
) -> Result<Compiled, Reported> {
    let Material { engines, sources, intent, baseline, platform, shapes } = *material;
    let digests = digests(sources, intent, baseline, platform);
    let rehearsed = prove_with(shapes, &problem, intent, &digests, findings)?;
    let dossier = Dossier {
        rehearsed: &rehearsed,
        delta: &problem.delta,
        site: &problem.site,
        platform,
        compiler: COMPILER,
        inputs: &digests,
    };
    let bundle = render_with(&dossier, engines)
        .map_err(|error| findings.error(template_fault(&error, platform, sources, intent.dialect.span)))?;
    Ok(Compiled { problem, rehearsed, bundle })
}

/// Plans a problem and has the judge replay the plan from its document alone.
///
/// # Errors
/// [`Reported`], if there is no plan.
pub fn prove(
    problem: &Problem,
    intent: &Intent,
    digests: &BTreeMap<String, String>,
    findings: &mut Findings,
) -> Result<Rehearsed, Reported> {
    prove_with(None, problem, intent, digests, findings)
}

fn prove_with(
    shapes: Option<&Shapes>,
    problem: &Problem,
    intent: &Intent,
    digests: &BTreeMap<String, String>,
    findings: &mut Findings,
) -> Result<Rehearsed, Reported> {
    let (place, mark) = (intent.stack.span, findings.mark());
    let setting = setting(&problem.documents()).map_err(|faults| {
        let first = faults.first().map_or_else(String::new, |fault| format!("{} at {}", fault.text, fault.pointer));
        findings.error(Diagnostic::error(&TOO_LARGE, place, format!("this change cannot be held in a plan: {first}")))
    })?;
    budgets::of_the_stack(intent, &problem.site, &setting, findings);
    let plugs = plugs(&setting, problem);
    let shared = shapes.and_then(|shapes| shapes.found(&setting, &plugs, find));
    let found = shared.unwrap_or_else(|| find(&setting, &plugs));
    let (needs, drawn) = found.map_err(|none| no_route(&none, &setting, intent, findings))?;
    idle_consents(&setting, intent, &needs, findings);
    let input = |name: &str| digests.get(name).cloned();
    let inputs = Inputs {
        intent: input("intent").unwrap_or_default(),
        baseline: input("baseline"),
        dialect: input("dialect").unwrap_or_default(),
    };
    let origin = Origin { compiler: COMPILER.to_owned(), inputs };
    let rehearsed = proved(judge(&document(problem, origin, drawn)), place, findings)?;
    budgets::of_the_change(intent, &rehearsed, findings);
    findings.failed_since(mark).map(|()| rehearsed)
}

/// What a setting takes, and its route with looks and ways back.
fn find(setting: &Setting, plugs: &Plugs) -> Result<(Vec<Need>, Drawn), NoRoute> {
    let route = route(setting)?;
    let setting = setting_of(setting, &route);
    let needs = needs(&setting, &route);
    let back = WaysBack::of(&setting);
    Ok((needs, drawn(&setting, plugs, &route, &|situation| back.from(situation))))
}

/// What the judge says of our own plan: an objection is a fault in the program, never the intent's.
fn proved(verdict: Verdict, place: Span, findings: &mut Findings) -> Result<Rehearsed, Reported> {
    for warning in &verdict.warnings {
        findings.warn(Diagnostic::warning(crate::rehearse::code(warning.code), place, warning.text.clone()));
    }
    verdict.rehearsed.ok_or_else(|| {
        let objections = verdict.objections.iter().map(|objection| {
            let step = objection.step.map_or_else(String::new, |step| format!(" at step {step}"));
            format!("{}{step}: {}", objection.code, objection.text)
        });
        let message = format!("our own plan was refused: {}", objections.collect::<Vec<_>>().join("; "));
        findings.error(Diagnostic::error(&PLAN_NOT_PROVED, place, message))
    })
}

/// What went wrong while a dialect was rendered, at its place in the template where that is known.
#[must_use]
pub fn template_fault(error: &RenderError, platform: &Platform, sources: &Sources, place: Span) -> Diagnostic {
    let Some(code) = error.code.code() else {
        return Diagnostic::error(&PLAN_NOT_PROVED, place, error.to_string());
    };
    let file = error.template.as_ref().and_then(|path| platform.file_ids.get(path)).copied();
    let Some(file) = file else { return Diagnostic::error(code, place, error.to_string()) };
    let text = sources.text(file);
    let at = match &error.part {
        Some(Part::Bytes(range)) => Span::new(file, range.clone()),
        Some(Part::Text(part)) => {
            let start = text.find(&**part).unwrap_or(0);
            Span::new(file, start..start + part.len().min(text.len() - start))
        }
        None => line_span(file, text, error.line.unwrap_or(1)),
    };
    let diagnostic = Diagnostic::error(code, at, error.message.clone()).related(place, "the dialect is named here");
    match &*error.in_play {
        [] => diagnostic,
        known => diagnostic.help(format!("look at what the template sees here: {}", known.join(", "))),
    }
}

/// The text of a line, counted from 1, without what it is indented by; of a very long one, how it begins.
fn line_span(file: FileId, text: &str, line: usize) -> Span {
    const MOST: usize = 120;
    let start: usize = text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
    let found = text.get(start..).and_then(|rest| rest.lines().next()).unwrap_or("");
    let indent = found.len() - found.trim_start().len();
    let shown: usize = found.trim().chars().take(MOST).map(char::len_utf8).sum();
    Span::new(file, start + indent..start + indent + shown)
}

/// `sha256:…` of every input.
fn digests(
    sources: &Sources,
    intent: &Intent,
    baseline: Option<&Intent>,
    platform: &Platform,
) -> BTreeMap<String, String> {
    let of = |intent: &Intent| digest(sources.text(intent.file()).as_bytes());
    let mut digests =
        BTreeMap::from([("intent".to_owned(), of(intent)), ("dialect".to_owned(), platform.digest.clone())]);
    digests.extend(baseline.map(|baseline| ("baseline".to_owned(), of(baseline))));
    digests
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rehearse::Objection;

    fn somewhere() -> (Span, Findings) {
        let mut sources = Sources::default();
        (Span { file: sources.add("intent.yaml", String::new()), start: 0, end: 0 }, Findings::default())
    }

    #[test]
    fn a_plan_of_our_own_that_the_judge_refuses_is_our_fault() {
        let objection = Objection {
            code: "never-split",
            step: Some(4),
            pointer: "/steps/3".to_owned(),
            text: "ramp-2 is live and no longer in the stack".to_owned(),
        };
        let verdict = Verdict { rehearsed: None, objections: vec![objection], warnings: Vec::new() };
        let (place, mut findings) = somewhere();
        assert!(proved(verdict, place, &mut findings).is_err());
        let told: Vec<_> = findings.all().iter().map(|found| (found.code.name, found.message.as_str())).collect();
        let message = "our own plan was refused: never-split at step 4: ramp-2 is live and no longer in the stack";
        assert_eq!(told, [("plan-not-proved", message)]);
    }
}
