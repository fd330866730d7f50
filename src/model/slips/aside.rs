//! A slip that leaves cables plugged otherwise, where the stack hangs together as it should all the same.
//!
//! A wrong cable is pulled out of a ring, or one that should go stays: nobody may notice for many steps, and all that
//! they do goes as it is meant. Such a slip is not settled and judged anew at every step. The course has been through
//! all of it but the cables, and the rules ask of these only which islands they make, which of them are stray, and what
//! a cold start makes of them. Where that is the same, the standing is the meant one with the cables as they are; where
//! it is not known to be, the step is done in full. So is a look at one of these cables or its ports: others show what
//! they should. `tests/flow/slipped.rs` holds what is known so to what comes of doing it all.

use std::cell::{Cell, OnceCell};

use crate::model::acts::Act;
use crate::model::derive::{Islands, Link, is_bridge, stack_links, unit_link};
use crate::model::document::Fact;
use crate::model::naming::port_of;
use crate::model::operation::Operation;
use crate::model::progress::{Done, Situation};
use crate::model::replay::Standing;
use crate::model::rules::same_cold_start;
use crate::model::setting::{CableRow, Setting};
use crate::model::settle::{Events, cold_start};
use crate::model::state::State;
use crate::model::table::{CableId, CableSet, PortId};

/// What is known of one place of a course: before a step, or after the last.
#[derive(Clone, Default)]
pub(super) struct Place {
    /// Nothing but what was typed or plugged came of the step that leads here.
    is_quiet: bool,
    /// A cold start brings the same before that step and after it.
    same_cold: OnceCell<bool>,
    now: OnceCell<Web>,
    /// The same after a power failure; none where units restart in it, or meet.
    cold: OnceCell<Option<Web>>,
}

/// How units hang together, and by which cables.
#[derive(Clone)]
struct Web {
    state: State,
    islands: Islands,
    links: CableSet,
    /// Links without which two units part, among those that were asked for.
    bridges: Cell<CableSet>,
    asked: Cell<CableSet>,
}

/// Cables that are not as they should be: pulled, or plugged still.
#[derive(Clone, Copy)]
struct Apart {
    gone: CableSet,
    more: CableSet,
}

impl Place {
    /// A place that a step leads to; none: a look, or a wait.
    pub(super) fn after(before: &Islands, done: Option<&Done>) -> Self {
        let is_quiet =
            done.is_none_or(|done| is_quiet(&done.events) && done.joined.is_empty() && done.islands == *before);
        Self { is_quiet, ..Self::default() }
    }

    fn leaves_cold(&self, same_cold: impl FnOnce() -> bool) -> bool {
        *self.same_cold.get_or_init(same_cold)
    }

    /// Whether the islands stay as they are, and no link between units is stray.
    fn is_firm(&self, setting: &Setting, standing: &Standing, apart: Apart) -> bool {
        let web = || Web::of(setting, standing.situation.state.clone(), standing.islands().clone());
        self.now.get_or_init(web).holds(setting, apart)
    }

    /// The same after a power failure.
    fn is_firm_cold(&self, setting: &Setting, standing: &Standing, apart: Apart) -> bool {
        let web = || {
            let (state, events, islands) = cold_start(setting, &standing.situation.state);
            is_quiet(&events).then(|| Web::of(setting, state, islands))
        };
        self.cold.get_or_init(web).as_ref().is_some_and(|web| web.holds(setting, apart))
    }
}

/// Whether nobody restarted, met or was down.
fn is_quiet(events: &Events) -> bool {
    let Events { restarts, downs, passing: _, merges, clash, undecided: _ } = events;
    restarts.is_empty() && downs.is_empty() && merges.is_empty() && clash.is_empty()
}

impl Web {
    fn of(setting: &Setting, state: State, islands: Islands) -> Self {
        let links = stack_links(setting, &state);
        Self { state, islands, links, bridges: Cell::new(CableSet::EMPTY), asked: Cell::new(CableSet::EMPTY) }
    }

    /// Whether the islands stay as they are: what goes is no bridge, and what is there beside the links is dark or leads
    /// nowhere else.
    fn holds(&self, setting: &Setting, apart: Apart) -> bool {
        let goes = |cable: CableId| !self.links.contains(cable) || !self.is_bridge(setting, cable);
        let stays = |cable: CableId| match setting.cables[cable] {
            CableRow::Units(a, b) => match unit_link(setting, &self.state, a, b) {
                Link::Dark => true,
                Link::Stack => self.islands.around(setting.unit_of(a)).contains(setting.unit_of(b)),
                Link::Unmatched | Link::Stray | Link::Far => false,
            },
            CableRow::Far(..) => false,
        };
        apart.gone.iter().all(goes) && apart.more.iter().all(stays)
    }

    fn is_bridge(&self, setting: &Setting, cable: CableId) -> bool {
        if !self.asked.get().contains(cable) {
            self.asked.set(self.asked.get().with(cable));
            if is_bridge(setting, self.links, cable) {
                self.bridges.set(self.bridges.get().with(cable));
            }
        }
        self.bridges.get().contains(cable)
    }
}

impl Apart {
    /// What is plugged otherwise in two situations that are the same in all else; none where they are not, or where
    /// nothing is known of such cables: of two that are gone, of one to a far end, of one whose far end was not read.
    fn of(setting: &Setting, meant: &Standing, standing: &Standing) -> Option<Self> {
        let (should, is) = (&meant.situation, &standing.situation);
        let (old, new) = (&should.state, &is.state);
        let same = old.now == new.now
            && should.memory == is.memory
            && (old.running, old.saved) == (new.running, new.saved)
            && meant.excused == standing.excused
            && meant.islands() == standing.islands()
            && old.units == new.units
            && old.ports == new.ports;
        let apart = Self { gone: old.plugged.minus(new.plugged), more: new.plugged.minus(old.plugged) };
        (same && apart.is_known(setting, should)).then_some(apart)
    }

    fn is_known(self, setting: &Setting, should: &Situation) -> bool {
        let moved = self.gone.or(self.more);
        let between = |cable: CableId| matches!(setting.cables[cable], CableRow::Units(..));
        self.gone.len() < 2 && moved.iter().all(between) && !moved.meets(should.memory.unread)
    }

    /// Whether a port is one of theirs.
    fn has(self, setting: &Setting, port: PortId) -> bool {
        let mut moved = self.gone.or(self.more).iter();
        moved.any(|cable| setting.cables[cable].unit_ends().any(|end| end == port))
    }

    /// Whether a fact may be another by these cables.
    fn shows(self, setting: &Setting, fact: &Fact) -> bool {
        let at = |end: &str| port_of(setting, end).map_or(true, |port| self.has(setting, port));
        match fact {
            Fact::Here { .. }
            | Fact::Unit { .. }
            | Fact::Uplink { .. }
            | Fact::Guard { .. }
            | Fact::Admitted { .. }
            | Fact::Saved { .. }
            | Fact::Ask { .. } => false,
            Fact::Port { unit, port, .. } => at(&format!("{unit}:{port}")),
            Fact::Neighbour { end, .. } | Fact::Plug { end, .. } => at(end),
            Fact::Link { ends, .. } | Fact::Cable { ends, .. } => ends.iter().any(|end| at(end)),
        }
    }

    /// Whether an operation has to do with these cables or their ports.
    fn touches(self, setting: &Setting, operation: Operation) -> bool {
        let has = |port: PortId| self.has(setting, port);
        match operation {
            Operation::Wipe(_) => true,
            Operation::Connect(cable) | Operation::Disconnect(cable) => setting.cables[cable].unit_ends().any(has),
            Operation::DisablePort(port)
            | Operation::EnablePort(port)
            | Operation::BindPort(port, _)
            | Operation::ReleasePort(port) => has(port),
            _ => false,
        }
    }
}

/// A course and what is known of its places: how it should stand before each step, and after the last.
#[derive(Clone, Copy)]
pub(super) struct Course<'a> {
    pub(super) setting: &'a Setting,
    pub(super) acts: &'a [Act<'a>],
    pub(super) standings: &'a [Standing],
    pub(super) places: &'a [Place],
}

impl Course<'_> {
    /// The furthest step of so many that is come to with nothing else wrong than cables, and how it stands before it;
    /// none where the first step must be done in full.
    pub(super) fn along(self, standing: &Standing, first: usize, most: usize) -> Option<(usize, Standing)> {
        let meant = self.standings.get(first)?;
        if meant.situation.state.plugged == standing.situation.state.plugged {
            return None;
        }
        let apart = Apart::of(self.setting, meant, standing)?;
        let last = (first..).take(most).take_while(|step| self.is_aside(apart, *step).unwrap_or(false)).last()?;
        let mut after = self.standings.get(last + 1)?.clone();
        let plugged = &mut after.situation.state.plugged;
        *plugged = plugged.minus(apart.gone).or(apart.more);
        Some((last + 1, after))
    }

    /// Whether a step brings what it should in all but these cables.
    fn is_aside(self, apart: Apart, step: usize) -> Option<bool> {
        let setting = self.setting;
        let (meant, next) = (self.standings.get(step)?, self.standings.get(step + 1)?);
        let place = self.places.get(step + 1)?;
        let brings = match self.acts.get(step)? {
            Act::Await(..) => true,
            Act::Expect(facts) => !facts.iter().any(|fact| apart.shows(setting, fact)),
            Act::Do(operation) => {
                let same_cold = || same_cold_start(setting, &meant.situation, &next.situation);
                let is_firm_cold = || place.leaves_cold(same_cold) || place.is_firm_cold(setting, next, apart);
                !apart.touches(setting, *operation) && place.is_firm(setting, next, apart) && is_firm_cold()
            }
        };
        Some(place.is_quiet && brings && apart.is_known(setting, &next.situation))
    }
}

/// How it stands once a wrong cable is pulled at a place of a course, where nothing else comes of it.
pub(super) fn unplugged(setting: &Setting, meant: &Standing, place: &Place, cable: CableId) -> Option<Standing> {
    let apart = Apart { gone: CableSet::one(cable), more: CableSet::EMPTY };
    let situation = &meant.situation;
    let is_known = situation.state.plugged.contains(cable) && apart.is_known(setting, situation);
    if !is_known || !place.is_firm(setting, meant, apart) || !place.is_firm_cold(setting, meant, apart) {
        return None;
    }
    let mut after = meant.clone();
    after.situation.state.plugged.remove(cable);
    after.situation.state.now += 1;
    Some(after)
}
