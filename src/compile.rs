//! The whole line for one stack: intent -> problem -> route -> plan -> rehearsal -> bundle.

use std::collections::BTreeMap;

use crate::diag::{Code, Diagnostic, Findings, Reported};
use crate::intent::Intent;
use crate::lower::{Problem, lower, not_yet};
use crate::model::document::Inputs;
use crate::model::naming::{Documents, setting};
use crate::plan::{NoRoute, route};
use crate::platform::Platform;
use crate::rehearse::{Rehearsed, Verdict, judge};
use crate::render::{Bundle, Dossier, RenderError, digest, render};
use crate::source::{Sources, Span};
use crate::watch::{Origin, plan};

/// Name and version, as every output says them.
pub const COMPILER: &str = concat!("ringwright ", env!("CARGO_PKG_VERSION"));

/// The codes of this stage.
pub const CODES: &[&Code] = &[&NO_SAFE_ORDER, &SEARCH_LIMIT, &PLAN_NOT_PROVED, &TEMPLATE, &TOO_LARGE];

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
/// A template fails.
pub const TEMPLATE: Code = Code {
    name: "template",
    explanation: "A template of the dialect could not be rendered, or what it rendered is not what its kind says.",
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
    let problem = lower(intent, baseline, platform, findings)?;
    not_yet(&problem, intent, findings)?;
    let digests = digests(sources, intent, baseline, platform);
    let rehearsed = prove(&problem, intent.stack.span, &digests, findings)?;
    let dossier = Dossier {
        rehearsed: &rehearsed,
        delta: &problem.delta,
        site: &problem.site,
        platform,
        compiler: COMPILER,
        inputs: &digests,
    };
    let bundle = render(&dossier).map_err(|error| template_fault(&error, intent.dialect.span, findings))?;
    Ok(Compiled { problem, rehearsed, bundle })
}

/// Plans a problem and has the judge replay the plan from its document alone. `place` stands for
/// the intent as a whole.
///
/// # Errors
/// [`Reported`], if there is no plan.
pub fn prove(
    problem: &Problem,
    place: Span,
    digests: &BTreeMap<String, String>,
    findings: &mut Findings,
) -> Result<Rehearsed, Reported> {
    let documents = Documents {
        stack: &problem.stack,
        traits: &problem.traits,
        change: &problem.change,
        units: &problem.units,
        baseline: &problem.baseline,
        target: &problem.target,
        actions: &[],
    };
    let setting = setting(&documents).map_err(|faults| {
        let first = faults.first().map_or_else(String::new, |fault| format!("{} at {}", fault.text, fault.pointer));
        findings.error(Diagnostic::error(&TOO_LARGE, place, format!("this change cannot be held in a plan: {first}")))
    })?;
    let route = route(&setting).map_err(|none| no_route(&none, place, findings))?;
    let input = |name: &str| digests.get(name).cloned();
    let inputs = Inputs {
        intent: input("intent").unwrap_or_default(),
        baseline: input("baseline"),
        dialect: input("dialect").unwrap_or_default(),
    };
    let document = plan(&setting, problem, &route, Origin { compiler: COMPILER.to_owned(), inputs });
    proved(judge(&document), place, findings)
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

fn no_route(none: &NoRoute, place: Span, findings: &mut Findings) -> Reported {
    let (code, message) = match none {
        NoRoute::Impossible { rules } => {
            let text = format!("no order of this change keeps every rule; in the way stand {}", rules.join(", "));
            (&NO_SAFE_ORDER, text)
        }
        NoRoute::SearchLimit { opened } => (&SEARCH_LIMIT, format!("no safe order found among {opened} situations")),
    };
    findings.error(Diagnostic::error(code, place, message).help("split the change into smaller ones"))
}

fn template_fault(error: &RenderError, place: Span, findings: &mut Findings) -> Reported {
    findings.error(Diagnostic::error(&TEMPLATE, place, error.to_string()))
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

    #[test]
    fn a_search_that_finds_nothing_says_which_way_it_ended() {
        let (place, mut findings) = somewhere();
        no_route(&NoRoute::Impossible { rules: vec!["loses-merge", "settled"] }, place, &mut findings);
        no_route(&NoRoute::SearchLimit { opened: 7 }, place, &mut findings);
        let told: Vec<_> = findings.all().iter().map(|found| (found.code.name, found.message.as_str())).collect();
        assert_eq!(
            told,
            [
                ("no-safe-order", "no order of this change keeps every rule; in the way stand loses-merge, settled"),
                ("search-limit", "no safe order found among 7 situations"),
            ]
        );
    }
}
