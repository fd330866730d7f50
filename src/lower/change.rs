//! What an intent says of its own change, against the stack as it stands.

use super::identity;
use super::layout::Layout;
use super::units::is_replaced;
use crate::diag::{Code, Diagnostic, Findings, nearest};
use crate::intent::Intent;
use crate::model::document::ChangeTerms;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&CONSENT_FOR_NOBODY, &DEAD_NOT_THERE, &DEAD_KEPT, &NOBODY_ALIVE, &OTHER_STACK];

pub(super) const CONSENT_FOR_NOBODY: Code = Code {
    name: "consent-for-nobody",
    explanation: "A consent names a member of the stack, before or after the change; `save-unsaved:` names the stack itself. \
A consent for nobody would be given in vain.",
};
pub(super) const DEAD_NOT_THERE: Code = Code {
    name: "dead-not-there",
    explanation: "`dead:` names members of the stack as it stands that have failed. Without such a stack, or for a name that \
is not in it, it says nothing.",
};
pub(super) const DEAD_KEPT: Code = Code {
    name: "dead-kept",
    explanation: "A member that has failed and is off either leaves the stack or is replaced, which a changed serial number \
says. It cannot stay as it is. A serial number that only becomes known changes nothing: so that the new box can be told \
from the failed one, the intent of the stack as it stands gives the failed one's.",
};
pub(super) const NOBODY_ALIVE: Code = Code {
    name: "nobody-alive",
    explanation: "Every member of the stack as it stands has failed, so there is no stack that could be changed while it \
runs. What comes in its place is a new stack, which is planned without one as it stands.",
};
pub(super) const OTHER_STACK: Code = Code {
    name: "other-stack",
    explanation: "The intent and the stack as it stands have different names, so one of the two files is most likely the \
wrong one. Renaming a stack is no change that can be typed.",
};

/// The terms as the plan holds them.
pub(super) fn terms(intent: &Intent) -> ChangeTerms {
    let Some(change) = &intent.change else { return ChangeTerms::default() };
    ChangeTerms {
        accept: change.accept.iter().map(|consent| consent.to_string()).collect(),
        save: change.save,
        dead: change.dead.iter().map(|name| name.to_string()).collect(),
        temporary_cables: change.temporary_cables,
    }
}

/// Looks at everything that takes both stacks to judge.
pub(super) fn check(new: (&Intent, &Layout), old: Option<(&Intent, &Layout)>, findings: &mut Findings) {
    let (intent, before) = (new.0, old.map(|(_, layout)| layout));
    match old.filter(|(baseline, _)| baseline.stack.as_str() != intent.stack.as_str()) {
        Some((baseline, _)) => other_stack(intent, baseline, findings),
        None => old.into_iter().for_each(|old| identity::check(new, old, findings)),
    }
    consents(intent, before, new.1, findings);
    dead(intent, before, new.1, findings);
    before.into_iter().for_each(|before| alive(intent, before, findings));
}

fn other_stack(intent: &Intent, baseline: &Intent, findings: &mut Findings) {
    let (here, there) = (&intent.stack, &baseline.stack);
    let message = format!("the stack is {} here and {} as it stands", here.as_str(), there.as_str());
    let diagnostic = Diagnostic::error(&OTHER_STACK, here.span, message);
    findings.error(diagnostic.related(there.span, "the stack as it stands is named here"));
}

fn consents(intent: &Intent, old: Option<&Layout>, new: &Layout, findings: &mut Findings) {
    let members = new.members.iter().chain(old.into_iter().flat_map(|old| &old.members));
    let names: Vec<&str> = members.map(|member| member.name.as_str()).collect();
    for consent in intent.change.iter().flat_map(|change| &change.accept) {
        let (kind, subject) = consent.parts();
        let of_stack = kind == "save-unsaved";
        let known = if of_stack { vec![intent.stack.as_str()] } else { names.clone() };
        if known.contains(&subject) {
            continue;
        }
        let what = if of_stack { "the name of this stack" } else { "a member of this stack" };
        let diagnostic = Diagnostic::error(&CONSENT_FOR_NOBODY, consent.span, format!("`{subject}` is not {what}"));
        findings.error(match nearest(subject, known) {
            Some(meant) => diagnostic.help(format!("write `{kind}:{meant}`")),
            None => diagnostic.help("leave the consent out"),
        });
    }
}

fn dead(intent: &Intent, old: Option<&Layout>, new: &Layout, findings: &mut Findings) {
    for name in intent.change.iter().flat_map(|change| &change.dead) {
        let Some(before) = old.and_then(|old| old.member(name.as_str())) else {
            let message = format!("`{}` is not a member of the stack as it stands", name.as_str());
            let known = old.into_iter().flat_map(|old| &old.members).map(|member| member.name.as_str());
            let diagnostic = Diagnostic::error(&DEAD_NOT_THERE, name.span, message);
            let otherwise = "name the stack as it stands under `from:`, or leave the entry out";
            findings.error(diagnostic.help_nearest(name.as_str(), known, otherwise));
            continue;
        };
        if let Some(after) = new.member(name.as_str()).filter(|after| !is_replaced(before, after)) {
            let message = format!("{} has failed, and must leave or be replaced", name.as_str());
            let diagnostic = Diagnostic::error(&DEAD_KEPT, name.span, message).related(after.place, "it is kept here");
            findings.error(match (&before.serial, &after.serial) {
                (None, Some(_)) => diagnostic
                    .related(before.place, "the failed box has no serial number here")
                    .help("write the `serial:` of the failed box into the stack as it stands"),
                (_, _) => diagnostic.help("take the member out, or give it the `serial:` of the new box"),
            });
        }
    }
}

fn alive(intent: &Intent, old: &Layout, findings: &mut Findings) {
    let mut dead = intent.change.iter().flat_map(|change| &change.dead);
    let has_failed = |name: &str| dead.clone().any(|dead| dead.as_str() == name);
    let all = old.members.iter().all(|member| has_failed(&member.name));
    if let Some(first) = dead.next().filter(|_| all) {
        let message = "every member of the stack as it stands has failed, and a change needs one that runs";
        let help = "leave `dead:` and the stack as it stands out, and plan a new stack";
        findings.error(Diagnostic::error(&NOBODY_ALIVE, first.span, message).help(help));
    }
}
