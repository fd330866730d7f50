//! What a route takes that people must agree to: found on the route itself, one consent after the other left
//! out and the route replayed.

use crate::model::derive::primaries;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::reached::differences;
use crate::model::rules::{after_step, in_state};
use crate::model::setting::{Point, Setting};
use crate::model::settle::cold_start;
use crate::model::table::{UnitId, UnitSet};

use super::Route;

/// What somebody must agree to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A live unit restarts or is switched off.
    Restart,
    /// Another unit leads.
    NewPrimary,
    /// A live unit is off or apart for a while.
    Split,
}

/// One consent that a route takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Need {
    /// What for.
    pub kind: Kind,
    /// For whom.
    pub unit: UnitId,
    /// Likely minutes, in hundredths, that the unit is out of the stack or restarting.
    pub out: i64,
}

/// The setting with every consent given that can serve. Nobody need agree that a unit which leaves goes down;
/// it must neither lead nor run apart. `lead`: who else may lead.
#[must_use]
pub fn all_granted(setting: &Setting, lead: UnitSet) -> Setting {
    let stay = setting.all_units().minus(setting.leaving);
    Setting {
        may_restart: stay.or(setting.may_restart),
        may_lead: lead.or(setting.may_lead),
        may_split: stay.or(setting.may_split),
        ..setting.clone()
    }
}

/// A setting that grants just these, besides nothing.
#[must_use]
pub fn granting(setting: &Setting, needs: &[Need]) -> Setting {
    let of = |kind: Kind| {
        let named = needs.iter().filter(|need| need.kind == kind);
        named.fold(UnitSet::EMPTY, |all, need| all.or(setting.units[need.unit].siblings.with(need.unit)))
    };
    Setting {
        may_restart: of(Kind::Restart),
        may_lead: of(Kind::NewPrimary),
        may_split: of(Kind::Split),
        ..setting.clone()
    }
}

/// Who may restart, lead, and be apart.
pub(super) const fn given(setting: &Setting) -> [UnitSet; 3] {
    [setting.may_restart, setting.may_lead, setting.may_split]
}

/// What a route takes, of what its setting grants; least first.
#[must_use]
pub fn needs(granted: &Setting, route: &Route) -> Vec<Need> {
    let seen = observe(granted, route);
    let observed = Setting {
        may_restart: granted.may_restart.and(seen.restarts),
        may_lead: granted.may_lead.and(seen.leads),
        may_split: granted.may_split.and(seen.away),
        ..granted.clone()
    };
    // what was not seen to happen may still decide which piece is the stack
    let mut setting = if is_lawful(&observed, route) { observed } else { granted.clone() };
    let mut needs = Vec::new();
    for kind in [Kind::Restart, Kind::NewPrimary, Kind::Split] {
        for unit in set_of(&setting, kind).iter() {
            let mut less = setting.clone();
            remove(&mut less, kind, granted.units[unit].siblings.with(unit));
            if is_lawful(&less, route) {
                setting = less;
            } else {
                let out = seen.minutes.iter().find(|(own, _)| *own == unit).map_or(0, |(_, minutes)| *minutes);
                needs.push(Need { kind, unit, out });
            }
        }
    }
    // boxes of one member share a consent
    let member = |need: &Need| granted.units[need.unit].member.clone();
    let mut kept: Vec<Need> = Vec::new();
    for need in needs {
        if !kept.iter().any(|other| other.kind == need.kind && member(other) == member(&need)) {
            kept.push(need);
        }
    }
    kept
}

pub(super) fn set_of(setting: &Setting, kind: Kind) -> UnitSet {
    match kind {
        Kind::Restart => setting.may_restart,
        Kind::NewPrimary => setting.may_lead,
        Kind::Split => setting.may_split,
    }
}

fn remove(setting: &mut Setting, kind: Kind, units: UnitSet) {
    match kind {
        Kind::Restart => setting.may_restart = setting.may_restart.minus(units),
        Kind::NewPrimary => setting.may_lead = setting.may_lead.minus(units),
        Kind::Split => setting.may_split = setting.may_split.minus(units),
    }
}

/// What happens on a route.
#[derive(Default)]
struct Seen {
    restarts: UnitSet,
    leads: UnitSet,
    away: UnitSet,
    minutes: Vec<(UnitId, i64)>,
}

fn observe(setting: &Setting, route: &Route) -> Seen {
    let mut seen = Seen::default();
    replay(setting, route, &mut |before, operation, done| {
        let live = before.memory.live.minus(setting.leaving);
        let typed = match operation {
            Operation::Restart(unit) | Operation::PowerOff(unit) => UnitSet::one(unit),
            _ => UnitSet::EMPTY,
        };
        seen.restarts = seen.restarts.or(typed.or(done.events.restarts));
        let restart = super::bound::likely(&setting.traits.minutes.restart);
        let own = crate::model::cost::own_minutes(setting, operation, Point::Likely).as_hundredths();
        let mut note = |out: UnitSet, minutes: i64| {
            seen.away = seen.away.or(out);
            for unit in out.iter() {
                match seen.minutes.iter_mut().find(|(known, _)| *known == unit) {
                    Some((_, sum)) => *sum += minutes,
                    None => seen.minutes.push((unit, minutes)),
                }
            }
        };
        note(live.minus(done.incumbent_before), own);
        for down in &done.events.downs {
            note(live.minus(before.incumbent_in(setting, down)), restart);
            let (cold, ..) = cold_start(setting, down);
            seen.leads = seen.leads.or(primaries(&cold, setting.all_units()));
            seen.leads = seen.leads.or(primaries(down, setting.all_units()));
        }
        note(live.minus(done.after.incumbent(setting)), 0);
        let (cold, ..) = cold_start(setting, &done.after.state);
        seen.leads = seen.leads.or(primaries(&cold, setting.all_units()));
        seen.leads = seen.leads.or(primaries(&done.after.state, setting.all_units()));
        true
    });
    seen
}

/// Whether every step of a route keeps every rule, and its end is the target.
pub(super) fn is_lawful(setting: &Setting, route: &Route) -> bool {
    let mut inherited = crate::model::rules::Breaches::default();
    in_state(setting, &Situation::start(setting), false, &mut inherited);
    let mut lawful = true;
    let end = replay(setting, route, &mut |before, operation, done| {
        let breaches = after_step(setting, before, operation, done);
        lawful &= breaches.0.iter().all(|breach| inherited.0.contains(breach)) && !before.tears(setting, done);
        if !inherited.0.is_empty() {
            let mut lasting = crate::model::rules::Breaches::default();
            in_state(setting, &done.after, false, &mut lasting);
            inherited.0.retain(|breach| lasting.0.contains(breach));
        }
        lawful
    });
    lawful && end.is_some_and(|end| differences(setting, &end.state).0.is_empty())
}

type Look<'a> = dyn FnMut(&Situation, Operation, &crate::model::progress::Done) -> bool + 'a;

/// Replays the change of a route; gives its end, unless a step is refused or the look stops it.
fn replay(setting: &Setting, route: &Route, look: &mut Look<'_>) -> Option<Situation> {
    let mut situation = Situation::start(setting);
    let founder = setting.founder();
    for (unit, operations) in &route.stages {
        for operation in operations {
            let Ok(done) = situation.step(setting, *operation) else { return None };
            situation = done.after;
        }
        if founder == Some(*unit) {
            situation.found_stack(setting);
        }
    }
    for operation in &route.steps {
        let Ok(done) = situation.step(setting, *operation) else { return None };
        if !look(&situation, *operation, &done) {
            return None;
        }
        situation = done.after.looked(setting);
    }
    Some(situation)
}
