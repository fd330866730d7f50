//! What the intent says that the finished stack and the change must keep to -> an error where they do not, which names
//! the fault that breaks it.

use crate::analyse::capacity::{Capacity, Known, Load, capacity};
use crate::analyse::faults::{Fault, Field, Survey, fault_name, finished, survives};
use crate::diag::{Code, Diagnostic, Findings};
use crate::intent::{Budgets, Intent};
use crate::lower::Site;
use crate::model::names::Minutes;
use crate::model::setting::Setting;
use crate::model::table::{PortId, UnitId};
use crate::rehearse::Rehearsed;

/// A single fault does harm.
pub const BUDGET_SINGLE_FAULT: Code = Code {
    name: "budget-single-fault",
    explanation: "`budgets.survives_any_single_fault` asks that no single fault of the finished stack cuts off a member that \
is up, splits the stack in two that both serve, or takes an uplink pair down. The message names the worst fault that \
does; `ringwright faults` lists them all and says what would cure them.",
};
/// A link is too full.
pub const BUDGET_LINK_LOAD: Code = Code {
    name: "budget-link-load",
    explanation: "`budgets.link_load_percent` asks that no stack link carries more than so much of its capacity, without a \
fault or after any single one. What members ask for (`demand_gbps`) goes the shortest way to the nearest living uplink \
leg; where speeds or demands are not known, the budget cannot be kept.",
};
/// The change is unprotected for too long.
pub const BUDGET_UNPROTECTED: Code = Code {
    name: "budget-unprotected",
    explanation: "`budgets.unprotected_minutes` bounds the likely minutes of the change in which one broken link would split \
a stack that is a ring before or after it. The message names the first step after which that is so, and the fault.",
};

/// Holds a finished stack to its budgets.
pub fn of_the_stack(intent: &Intent, site: &Site, setting: &Setting, findings: &mut Findings) {
    let Some(budgets) = &intent.budgets else { return };
    let survives = budgets.survives_any_single_fault.as_ref().filter(|wanted| wanted.value);
    if survives.is_none() && budgets.link_load_percent.is_none() {
        return;
    }
    let survey = Survey::of(finished(setting));
    if let Some((wanted, fault)) = survives.zip(worst(&survey)) {
        let tried = survey.singles.len();
        let message = format!(
            "`{}` does harm, and no single fault may; {} of {tried} do",
            fault_name(setting, fault),
            survey.unsurvived()
        );
        let help = "see `ringwright faults` for what would cure it";
        findings.error(Diagnostic::error(&BUDGET_SINGLE_FAULT, wanted.span, message).help(help));
    }
    link_load(budgets, &survey, loads(&survey, intent, site).as_ref(), findings);
}

/// The worst single fault that is not survived.
fn worst(survey: &Survey<'_>) -> Option<Fault> {
    let harms = |at: &usize| survey.singles.get(*at).is_some_and(|outcome| !survives(&survey.healthy, outcome));
    let at = survey.ranked().into_iter().find(harms)?;
    Some(survey.field.singles.get(at)?.fault)
}

/// The loads of a finished stack, by what the catalogue and the intent say.
#[must_use]
pub fn loads(survey: &Survey<'_>, intent: &Intent, site: &Site) -> Option<Capacity> {
    let setting = survey.field.setting;
    let speed = |port: PortId| {
        let row = &setting.ports[port];
        site.speeds.of(&setting.units[row.unit].member, &row.name)
    };
    let demand = |unit: UnitId| Some(intent.member(&setting.units[unit].member)?.demand_gbps.as_ref()?.value);
    let must_carry = |pair: &str| site.capacity_gbps.get(pair).copied();
    capacity(survey, Known { speed: &speed, demand: &demand, must_carry: &must_carry })
}

fn link_load(budgets: &Budgets, survey: &Survey<'_>, capacity: Option<&Capacity>, findings: &mut Findings) {
    let Some(most) = &budgets.link_load_percent else { return };
    let Some(capacity) = capacity else {
        let message = "the load of the links is not known, and a budget is set for it";
        let help = "give each member a `model` with port speeds, and the stack an uplink pair";
        findings.error(Diagnostic::error(&BUDGET_LINK_LOAD, most.span, message).help(help));
        return;
    };
    let healthy = capacity.healthy.iter().map(|load| (load, None));
    let after = capacity.worst.iter().map(|(load, fault)| (load, Some(fault)));
    let fullest = healthy.chain(after).reduce(|most, one| if one.0.percent() > most.0.percent() { one } else { most });
    let Some((load, fault)) = fullest.filter(|(load, _)| load.percent() > most.value) else { return };
    let Load { on, gbps, capacity_gbps } = load;
    let when = fault.map_or_else(|| "without any fault".to_owned(), |fault| format!("after `{fault}`"));
    let percent = load.percent();
    let message = format!(
        "`{on}` carries {gbps:.1} of {capacity_gbps:.1} Gbit/s {when}, that is {percent:.1} %, and {} % is the most",
        most.value
    );
    let members = survey.field.members.len();
    let help = format!("add a cable there, or uplink legs nearer to the {members} members");
    findings.error(Diagnostic::error(&BUDGET_LINK_LOAD, most.span, message).help(help));
}

/// Holds a proved change to its budget.
pub fn of_the_change(intent: &Intent, rehearsed: &Rehearsed, findings: &mut Findings) {
    let most = intent.budgets.as_ref().and_then(|budgets| budgets.unprotected_minutes.as_ref());
    let Some((most, cost)) = most.zip(rehearsed.plan().cost) else { return };
    let minutes = cost.unprotected_minutes + cost.half_protected_minutes;
    if minutes.as_hundredths() as f64 <= most.value * 100.0 {
        return;
    }
    let named = first_unprotected(rehearsed)
        .map_or_else(String::new, |(step, fault)| format!(": from step {step} on, `{fault}` would split it"));
    let message =
        format!("the stack is unprotected for {minutes} minutes, and {} are the most{named}", spoken(most.value));
    let help = "allow `temporary_cables: true` under `change`, or raise the budget";
    findings.error(Diagnostic::error(&BUDGET_UNPROTECTED, most.span, message).help(help));
}

fn spoken(minutes: f64) -> Minutes {
    Minutes::hundredths((minutes * 100.0).round() as i64)
}

/// The first step past the staging after which one broken link splits the live units, and that link.
fn first_unprotected(rehearsed: &Rehearsed) -> Option<(u32, String)> {
    let trail = rehearsed.trail();
    rehearsed.plan().steps.iter().zip(&trail.passed).find_map(|(step, passed)| {
        let field = Field::new(&trail.setting, &passed.situation.state, passed.situation.memory.live);
        let survey = Survey::of(field);
        let whole = survey.healthy.islands.len();
        let mut singles = survey.field.singles.iter().zip(&survey.singles);
        let (single, _) =
            singles.find(|(one, outcome)| matches!(one.fault, Fault::Link(_)) && outcome.islands.len() > whole)?;
        Some((step.number, fault_name(&trail.setting, single.fault)))
    })
}
