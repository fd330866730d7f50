//! Why a change is refused, in words: what it takes that was not granted, each with its reason and its price.

use crate::diag::{Diagnostic, Findings, Reported};
use crate::intent::Intent;
use crate::model::setting::Setting;
use crate::plan::consents::{Kind, Need};
use crate::plan::{NoRoute, granted};

use super::{CONSENT_NEEDED, CONSENT_NOT_NEEDED, NO_SAFE_ORDER, SEARCH_LIMIT};

/// Reports that there is no route.
pub(super) fn no_route(none: &NoRoute, setting: &Setting, intent: &Intent, findings: &mut Findings) -> Reported {
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
pub(super) fn idle_consents(setting: &Setting, intent: &Intent, used: &[Need], findings: &mut Findings) {
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
