//! The whole line for one stack: intent -> problem -> route -> plan -> rehearsal -> bundle.

pub mod budgets;
pub mod shapes;

use std::collections::BTreeMap;

use crate::diag::{Code, Diagnostic, Findings, Reported};
use crate::intent::Intent;
use crate::lower::{Problem, lower};
use crate::model::document::Inputs;
use crate::model::naming::setting;
use crate::model::setting::Setting;
use crate::plan::back::WaysBack;
use crate::plan::consents::{Kind, Need, needs};
use crate::plan::{NoRoute, granted, route, setting_of};
use crate::platform::Platform;
use crate::rehearse::{Rehearsed, Verdict, judge};
use crate::render::{Bundle, Dossier, Engines, Part, RenderError, digest, render_with};
use crate::source::{FileId, Sources, Span};
use crate::watch::{Drawn, Origin, Plugs, document, drawn, plugs};

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

fn no_route(none: &NoRoute, setting: &Setting, intent: &Intent, findings: &mut Findings) -> Reported {
    let place = intent.stack.span;
    let (code, message) = match none {
        NoRoute::Consents { needs, with_spare } => {
            return consents(setting, intent, needs, with_spare.as_deref(), findings);
        }
        NoRoute::Impossible { rules } => {
            let text = format!("no order of this change keeps every rule; in the way stand {}", rules.join(", "));
            (&NO_SAFE_ORDER, text)
        }
        NoRoute::Spare { needs } => return spare_needed(setting, intent, needs, findings),
        NoRoute::SearchLimit { opened } => (&SEARCH_LIMIT, format!("no safe order found among {opened} situations")),
    };
    findings.error(Diagnostic::error(code, place, message).help("split the change into smaller ones"))
}

/// Warns of every consent that the plan does not use: given in vain, it hides what a later change may take.
fn idle_consents(setting: &Setting, intent: &Intent, used: &[Need], findings: &mut Findings) {
    let used: Vec<String> =
        used.iter().map(|need| format!("{}:{}", consent_word(need.kind), setting.units[need.unit].member)).collect();
    for consent in intent.change.iter().flat_map(|change| &change.accept) {
        if !used.iter().any(|word| word == consent.as_str()) {
            let message = format!("the plan does not need the consent `{}`", consent.as_str());
            let diagnostic = Diagnostic::warning(&CONSENT_NOT_NEEDED, consent.span, message);
            findings.warn(diagnostic.help("leave it out"));
        }
    }
}

/// Refuses a change once, with everything that it takes.
fn consents(
    setting: &Setting,
    intent: &Intent,
    all: &[Need],
    with_spare: Option<&[Need]>,
    findings: &mut Findings,
) -> Reported {
    let list = |needs: &[Need]| list(setting, needs);
    let missing: Vec<Need> = all.iter().filter(|need| !granted(setting, need)).copied().collect();
    let message = format!("this change takes consents that it does not have: {}", list(&missing));
    let mut diagnostic = Diagnostic::error(&CONSENT_NEEDED, intent.stack.span, message);
    diagnostic = reasons(setting, intent, all, diagnostic);
    let spared = with_spare.map(|spared| match spared {
        [] => "; or allow `temporary_cables: true`, and none of them is needed".to_owned(),
        some => format!("; or allow `temporary_cables: true`, and it takes only {}", list(some)),
    });
    let renumbered = setting.units.ids().any(|unit| {
        let (is, shall) = (&setting.baseline.units[unit], &setting.target.units[unit]);
        setting.stays(unit) && !setting.joining.contains(unit) && is.saved_id != shall.saved_id
    });
    let moved = if renumbered { "; port configuration under the old number does not move by itself" } else { "" };
    let help = format!("write `accept: [{}]` under `change`{}{moved}", list(all), spared.unwrap_or_default());
    findings.error(diagnostic.help(help))
}

/// Refuses a change that only a cable of neither state makes possible, once, with everything that it takes.
fn spare_needed(setting: &Setting, intent: &Intent, needs: &[Need], findings: &mut Findings) -> Reported {
    let message =
        "no order of this change that keeps every rule was found without a temporary cable; with one, there is";
    let diagnostic =
        reasons(setting, intent, needs, Diagnostic::error(&NO_SAFE_ORDER, intent.stack.span, message.to_owned()));
    let accept = match needs {
        [] => String::new(),
        some => format!(" and `accept: [{}]`", list(setting, some)),
    };
    findings.error(diagnostic.help(format!("write `temporary_cables: true`{accept} under `change`")))
}

/// Each consent at its member, with its reason and its price.
fn reasons(setting: &Setting, intent: &Intent, needs: &[Need], mut diagnostic: Diagnostic) -> Diagnostic {
    for need in needs {
        let member = intent.member(&setting.units[need.unit].member);
        let place = member.map_or(intent.members_place(), |member| member.name.span);
        diagnostic = diagnostic.related(place, format!("`{}`: {}", word(setting, need), because(setting, need)));
    }
    diagnostic
}

/// A consent as an intent writes it.
fn word(setting: &Setting, need: &Need) -> String {
    format!("{}:{}", consent_word(need.kind), setting.units[need.unit].member)
}

fn list(setting: &Setting, needs: &[Need]) -> String {
    needs.iter().map(|need| word(setting, need)).collect::<Vec<_>>().join(", ")
}

/// How an intent writes a kind of consent.
const fn consent_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Restart => "restart",
        Kind::NewPrimary => "new-primary",
        Kind::Split => "split",
    }
}

/// Why a change takes a consent, and its price.
fn because(setting: &Setting, need: &Need) -> String {
    let (is, shall) = (&setting.baseline.units[need.unit], &setting.target.units[need.unit]);
    let minutes = crate::model::Minutes::hundredths(need.out);
    let price = if need.out > 0 { format!("; it is out of the stack for {minutes} minutes") } else { String::new() };
    let reason = match need.kind {
        Kind::Restart if setting.stays(need.unit) && is.saved_id != shall.saved_id => {
            "it acts on its new id only after a restart"
        }
        Kind::Restart if is.primary && !shall.primary => "it gives up the lead only when it restarts",
        Kind::Restart if shall.primary => "it acts on what it shall only after a restart",
        Kind::Restart => "it restarts to give up a lead, to use a new binding, or to come back into the stack",
        Kind::NewPrimary if is.primary => "it takes the lead back from the one that acts meanwhile",
        Kind::NewPrimary if shall.primary => "it shall lead, and does not lead now",
        Kind::NewPrimary => "it leads meanwhile, or would after a power failure",
        Kind::Split => "it is off or cut off while the stack is open",
    };
    format!("{reason}{price}")
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
