//! What must hold in every state between two steps, and in both states of a restart. One function a rule; each
//! says which rule, and for whom it is broken.
//!
//! Where the text leaves it open: who leads the stack joins nobody (`settled`); of pieces that something failed cut
//! off, it counts how many lead themselves, not who leads which (`one-brain`); a unit under `split:` that is apart is
//! left out of a cold start, whatever cut it off.

use super::derive::{Islands, Link, clashes, link, lit, primaries};
pub use super::happened::stays_up;
use super::happened::{happenings, restarts, unsettled};
use super::joining::{crowded, unequal};
use super::operation::Operation;
use super::progress::{Done, Memory, Situation, leg_carries};
use super::setting::{CableRow, Setting};
use super::settle::cold_start;
use super::state::{Port, State};
use super::table::{CableId, PortId, UnitId, UnitSet, UplinkId};
pub use super::unread::up_unread;

/// A rule of the model.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Rule {
    /// The incumbent's primary is the baseline's, or one under `new-primary:`.
    PrimaryKept,
    /// No live unit restarts or is switched off, unless it leaves or is under `restart:`.
    NoLiveRestart,
    /// The live units that stay are powered and in one island.
    NeverSplit,
    /// No island holds one id twice, now or after a cold start.
    NoIdClash,
    /// No two boxes are bridged as plain Ethernet, now or after a cold start.
    NoStrayLink,
    /// Every kept pair has a leg that carries, now and after a cold start.
    UplinksUp,
    /// No unit that is or was live leads another island.
    OneBrain,
    /// Every election is decided by the order.
    Decided,
    /// After a cold start the live units are one island with the same primary.
    ColdStart,
    /// Nothing that disturbs follows a join before the unit is ready.
    Settled,
    /// A joining unit loses its merge by more than uptime or MAC.
    LosesMerge,
    /// No live unit differs from the primary in what must be equal.
    SameKeys,
    /// No port group that stacks carries anything else.
    GroupFree,
    /// The last state is the target.
    ReachesTarget,
}

impl Rule {
    /// Every rule.
    pub const ALL: [Self; 14] = [
        Self::PrimaryKept,
        Self::NoLiveRestart,
        Self::NeverSplit,
        Self::NoIdClash,
        Self::NoStrayLink,
        Self::UplinksUp,
        Self::OneBrain,
        Self::Decided,
        Self::ColdStart,
        Self::Settled,
        Self::LosesMerge,
        Self::SameKeys,
        Self::GroupFree,
        Self::ReachesTarget,
    ];

    /// The rule's stable name.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::PrimaryKept => "primary-kept",
            Self::NoLiveRestart => "no-live-restart",
            Self::NeverSplit => "never-split",
            Self::NoIdClash => "no-id-clash",
            Self::NoStrayLink => "no-stray-link",
            Self::UplinksUp => "uplinks-up",
            Self::OneBrain => "one-brain",
            Self::Decided => "decided",
            Self::ColdStart => "cold-start",
            Self::Settled => "settled",
            Self::LosesMerge => "loses-merge",
            Self::SameKeys => "same-keys",
            Self::GroupFree => "group-free",
            Self::ReachesTarget => "reaches-target",
        }
    }
}

/// For whom a rule is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Subject {
    /// The stack as a whole.
    Stack,
    /// One unit.
    Unit(UnitId),
    /// One cable.
    Cable(CableId),
    /// One uplink pair.
    Uplink(UplinkId),
    /// One of the pieces that something failed cut off, by how many there are: it matters that there is one more, not
    /// who leads which.
    Piece(u8),
}

/// One broken rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Breach {
    /// The rule.
    pub rule: Rule,
    /// For whom.
    pub subject: Subject,
    /// Not now, but after a cold start.
    pub cold: bool,
}

/// Breaches as they are found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Breaches(pub Vec<Breach>);

impl Breaches {
    pub(super) fn now(&mut self, rule: Rule, subject: Subject) {
        self.push(Breach { rule, subject, cold: false });
    }

    fn cold(&mut self, rule: Rule, subject: Subject) {
        self.push(Breach { rule, subject, cold: true });
    }

    fn push(&mut self, breach: Breach) {
        if !self.0.contains(&breach) {
            self.0.push(breach);
        }
    }
}

/// Checks a whole step: what it did, each state in which units were down, the state after it.
#[must_use]
pub fn after_step(setting: &Setting, before: &Situation, operation: Operation, done: &Done) -> Breaches {
    checked(setting, before, operation, done, |_| true, |_| false)
}

/// As [`after_step`], where every rule is known to hold before the step: what a cold start brings is
/// looked at only if the step changed something that it depends on.
#[must_use]
pub fn after_lawful_step(setting: &Setting, before: &Situation, operation: Operation, done: &Done) -> Breaches {
    checked(setting, before, operation, done, |_| other_cold_start(setting, before, done), |_| false)
}

/// The first breach of [`after_lawful_step`] that counts: the rules after it are not asked. `lawful`: a situation, and its
/// incumbent island, of which no breach would count; where a cold start brings the same there, it is not looked at.
pub fn first_after_lawful_step(
    setting: &Setting,
    before: &Situation,
    operation: Operation,
    done: &Done,
    counts: impl Fn(&Breach) -> bool,
    lawful: Option<(&Situation, UnitSet)>,
) -> Option<Breach> {
    let known = |incumbent: UnitSet| {
        lawful.is_some_and(|(other, of)| of == incumbent && same_cold_start(setting, other, &done.after))
    };
    let boots = |incumbent: UnitSet| other_cold_start(setting, before, done) && !known(incumbent);
    let enough = |found: &Breaches| found.0.iter().any(&counts);
    checked(setting, before, operation, done, boots, enough).0.into_iter().find(&counts)
}

/// Asks one rule after the other until what was found is enough. `boots`: whether a cold start must be looked at, by the
/// incumbent island.
fn checked(
    setting: &Setting,
    before: &Situation,
    operation: Operation,
    done: &Done,
    boots: impl Fn(UnitSet) -> bool,
    enough: impl Fn(&Breaches) -> bool,
) -> Breaches {
    let mut breaches = Breaches::default();
    restarts(setting, before, operation, done, &mut breaches);
    happenings(setting, before, done, &mut breaches);
    unsettled(before, operation, done, &mut breaches);
    for down in &done.events.downs {
        if enough(&breaches) {
            return breaches;
        }
        let held = Situation { state: down.clone(), memory: before.memory };
        in_state(setting, &held, true, &mut breaches);
    }
    if enough(&breaches) {
        return breaches;
    }
    let incumbent = in_state_now(setting, &done.after, &done.islands, false, &mut breaches);
    if !enough(&breaches) && boots(incumbent) {
        after_cold_start(setting, &done.after, incumbent, &mut breaches);
    }
    breaches
}

/// Whether a cold start may bring something else after a step than before it.
fn other_cold_start(setting: &Setting, before: &Situation, done: &Done) -> bool {
    !done.events.downs.is_empty() || !same_cold_start(setting, before, &done.after)
}

/// Whether a cold start brings the same in two situations: boxes, cables, what is saved, who leads, what counts. What a
/// box has saved that no cable leads to, and that neither is live nor may lead, is nothing to anybody else.
pub(super) fn same_cold_start(setting: &Setting, before: &Situation, after: &Situation) -> bool {
    let (old, new) = (&before.state, &after.state);
    let same_shared = old.plugged == new.plugged
        && old.saved == new.saved
        && before.memory == Memory { unread: before.memory.unread, readable: before.memory.readable, ..after.memory };
    let same_ports = old.ports.alike(&new.ports, Port::saved_unlike);
    let same_unit = |id: UnitId| {
        let (is, was) = (&new.units[id], &old.units[id]);
        (is.powered, is.primary, is.saved_id, is.saved_priority, is.saved_keys, is.saved_lone)
            == (was.powered, was.primary, was.saved_id, was.saved_priority, was.saved_keys, was.saved_lone)
            && (same_ports
                || setting.units[id].ports.iter().all(|port| new.ports[*port].saved_unlike(old.ports[*port]) == 0))
    };
    let matters = after.memory.live.or(setting.may_lead);
    let stands_apart = |id: UnitId| {
        let cabled = |port: &PortId| setting.ports[*port].cables.iter().any(|cable| new.plugged.contains(*cable));
        !matters.contains(id)
            && new.units[id].powered == old.units[id].powered
            && !setting.units[id].ports.iter().any(cabled)
    };
    let same_units = || setting.units.ids().all(|id| same_unit(id) || stands_apart(id));
    same_shared && (same_ports && old.units == new.units || same_units())
}

/// Checks one settled state. `down`: it is the state of a restart in which units are down.
pub fn in_state(setting: &Setting, situation: &Situation, down: bool, breaches: &mut Breaches) {
    let islands = Islands::of(setting, &situation.state);
    let incumbent = in_state_now(setting, situation, &islands, down, breaches);
    after_cold_start(setting, situation, incumbent, breaches);
}

/// The rules that speak of the state itself; gives its incumbent island.
fn in_state_now(
    setting: &Setting,
    situation: &Situation,
    islands: &Islands,
    down: bool,
    breaches: &mut Breaches,
) -> UnitSet {
    let state = &situation.state;
    let incumbent = situation.incumbent_among(setting, state, islands);
    leads(setting, situation, islands, incumbent, breaches);
    together(setting, situation, islands, incumbent, down, breaches);
    for island in islands.iter().filter(|island| clashes(state, *island)) {
        breaches.now(Rule::NoIdClash, Subject::Unit(island.first().unwrap_or_else(|| super::table::Id::at(0))));
    }
    for cable in stray(setting, state, incumbent) {
        breaches.now(Rule::NoStrayLink, Subject::Cable(cable));
    }
    for uplink in setting.kept_pairs.iter().filter(|uplink| !pair_up(setting, situation, state, incumbent, *uplink)) {
        breaches.now(Rule::UplinksUp, Subject::Uplink(uplink));
    }
    for unit in unequal(setting, state, incumbent).and(situation.memory.live).iter() {
        breaches.now(Rule::SameKeys, Subject::Unit(unit));
    }
    for unit in crowded(setting, state, incumbent).iter() {
        breaches.now(Rule::GroupFree, Subject::Unit(unit));
    }
    incumbent
}

/// `primary-kept` and `one-brain`.
fn leads(setting: &Setting, situation: &Situation, islands: &Islands, incumbent: UnitSet, breaches: &mut Breaches) {
    let (state, memory) = (&situation.state, &situation.memory);
    let someone_up = memory.live.iter().any(|unit| state.units[unit].powered);
    if memory.founded && incumbent.is_empty() && someone_up {
        breaches.now(Rule::PrimaryKept, Subject::Stack);
    }
    let mut pieces = 0;
    for island in islands.iter().filter(|island| *island != incumbent) {
        for leader in primaries(state, island).and(memory.was_live).minus(setting.may_split).iter() {
            let cut_off = memory.stranded.contains(leader);
            pieces += u8::from(cut_off);
            breaches.now(Rule::OneBrain, if cut_off { Subject::Piece(pieces) } else { Subject::Unit(leader) });
        }
    }
}

/// `never-split`.
fn together(
    setting: &Setting,
    situation: &Situation,
    islands: &Islands,
    incumbent: UnitSet,
    down: bool,
    breaches: &mut Breaches,
) {
    let (state, memory) = (&situation.state, &situation.memory);
    let stay = memory.live.minus(setting.leaving);
    let main = if incumbent.is_empty() { largest(islands, stay) } else { incumbent };
    for unit in stay.minus(main).minus(setting.may_split).minus(memory.stranded).iter() {
        let restarting = down && !state.units[unit].powered && setting.may_restart.contains(unit);
        if !restarting {
            breaches.now(Rule::NeverSplit, Subject::Unit(unit));
        }
    }
}

fn largest(islands: &Islands, of: UnitSet) -> UnitSet {
    islands
        .iter()
        .fold(UnitSet::EMPTY, |best, island| if island.and(of).len() > best.and(of).len() { island } else { best })
}

/// Stray links between units, and lit far cables outside the incumbent island.
fn stray(setting: &Setting, state: &State, incumbent: UnitSet) -> impl Iterator<Item = CableId> {
    let is_stray = move |cable: &CableId| match setting.cables[*cable] {
        CableRow::Units(..) => link(setting, state, *cable) == Link::Stray,
        CableRow::Far(_, port) => lit(setting, state, *cable) && !incumbent.contains(setting.unit_of(port)),
    };
    state.plugged.iter().filter(is_stray)
}

/// Whether a pair has a leg that carries and may be counted on.
fn pair_up(setting: &Setting, situation: &Situation, state: &State, incumbent: UnitSet, uplink: UplinkId) -> bool {
    let proven = setting.uplinks[uplink].legs.minus(situation.memory.unproven);
    proven.iter().any(|leg| leg_carries(setting, state, incumbent, state.running.legs, leg))
}

/// The rules that speak of a cold start.
fn after_cold_start(setting: &Setting, situation: &Situation, incumbent: UnitSet, breaches: &mut Breaches) {
    let Memory { live, uncounted, founded, .. } = situation.memory;
    let (cold, events, islands) = cold_start(setting, &situation.state);
    if let Some(unit) = events.clash.first() {
        breaches.cold(Rule::NoIdClash, Subject::Unit(unit));
        return;
    }
    if events.undecided.meets(live) {
        breaches.cold(Rule::Decided, Subject::Stack);
    }
    let up = islands.iter().fold(UnitSet::EMPTY, UnitSet::or);
    let counted = live.minus(setting.leaving).minus(uncounted).and(up);
    // what carries on: the incumbent's island, else the one with most of the live units
    let led = situation.incumbent_among(setting, &cold, &islands);
    let island = if led.is_empty() { largest(&islands, counted) } else { led };
    for cable in stray(setting, &cold, island) {
        breaches.cold(Rule::NoStrayLink, Subject::Cable(cable));
    }
    if !founded || incumbent.is_empty() {
        return;
    }
    // who is apart under `split:` need not come back into the stack, and does not say which piece it is
    let excused = setting.may_split.minus(incumbent);
    let counting = counted.minus(excused);
    let main = match excused.meets(live) {
        false => island,
        true => match situation.incumbent_with_most(setting, &cold, &islands, live.minus(excused)) {
            none if none.is_empty() => largest(&islands, counting),
            led => led,
        },
    };
    let leader = primaries(&situation.state, incumbent);
    if !counting.is_empty() && !primaries(&cold, main).within(leader.or(setting.may_lead)) {
        breaches.cold(Rule::ColdStart, Subject::Stack);
    }
    for unit in counting.minus(main).iter() {
        breaches.cold(Rule::ColdStart, Subject::Unit(unit));
    }
    for unit in unequal(setting, &cold, island).and(live).iter() {
        breaches.cold(Rule::SameKeys, Subject::Unit(unit));
    }
    for uplink in setting.kept_pairs.iter().filter(|uplink| !pair_up(setting, situation, &cold, island, *uplink)) {
        breaches.cold(Rule::UplinksUp, Subject::Uplink(uplink));
    }
}
