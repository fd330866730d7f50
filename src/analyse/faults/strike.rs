//! Faults in a state -> what settles, what stays in service, what healing restarts. All by the model's own settle and
//! election; nothing of them is done here a second time.

use crate::model::derive::{Islands, primaries};
use crate::model::election::{Ballot, elect};
use crate::model::settle::{Events, boot, fill_seats, settle, take_down};
use crate::model::state::State;
use crate::model::table::{CableSet, LegSet, UnitId, UnitSet, UplinkId, UplinkSet};

use super::single::{Field, Home};

/// What is left of the stack once a fault has settled, uplink legs aside.
#[derive(Clone, Debug)]
pub struct Wreck {
    state: State,
    islands: Islands,
    down: UnitSet,
    restarts: UnitSet,
    undecided: UnitSet,
}

/// What follows from a fault.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Outcome {
    /// The islands of powered members.
    pub islands: Vec<Island>,
    /// Members in service.
    pub in_service: UnitSet,
    /// Powered members that are not.
    pub cut_off: UnitSet,
    /// Pairs with a living leg in service.
    pub uplinks_up: UplinkSet,
    /// Whether two islands serve, each for itself.
    pub split_brain: bool,
    /// Members other than the failed ones that restart by themselves when it heals.
    pub restarts: UnitSet,
    /// Members between which an election, after the fault or when it heals, is not decided. Of them the first leads, or
    /// stays, in what is said beside this.
    pub undecided: UnitSet,
}

/// A piece of the stack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Island {
    /// Its members.
    pub units: UnitSet,
    /// Who leads it.
    pub primary: Option<UnitId>,
}

/// What is agreed about uplinks: where the legs are, and which pair carries the split guard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Terms {
    /// The legs that carry, each with its unit.
    pub homes: Vec<Home>,
    /// The pair that carries the guard.
    pub guard: Option<UplinkId>,
}

impl Terms {
    /// Of some legs, those whose unit is among others.
    #[must_use]
    pub fn legs_on(&self, units: UnitSet, legs: LegSet) -> LegSet {
        let on = self.homes.iter().filter(|home| units.contains(home.unit) && legs.contains(home.leg));
        on.map(|home| home.leg).collect()
    }
}

impl Wreck {
    /// What has settled.
    #[must_use]
    pub const fn state(&self) -> &State {
        &self.state
    }
}

impl Field<'_> {
    /// Unplugs cables and takes units down, lets the rest settle, and heals all of it at once.
    #[must_use]
    pub fn strike(&self, cables: CableSet, down: UnitSet) -> Wreck {
        let setting = self.setting;
        let mut now = self.state.clone();
        now.now += 1;
        now.plugged = now.plugged.minus(cables);
        down.iter().for_each(|unit| take_down(setting, &mut now, unit));
        if !self.members.iter().any(|unit| now.units[unit].powered) {
            // with nobody of the stack up, its common settings are what is saved
            now.running = now.saved;
        }
        let mut events = Events::default();
        let islands = settle(setting, &self.islands, &mut now, &mut events);
        fill_seats(setting, self.state, &mut now, &islands, &mut events);
        let healed = self.heal(&now, &islands, down);
        let restarts = healed.restarts.minus(down).and(self.members);
        let undecided = events.undecided.or(healed.undecided).and(self.members);
        Wreck { state: now, islands, down, restarts, undecided }
    }

    /// Every cable is lit again and every unit has power again: what comes of it.
    fn heal(&self, struck: &State, islands: &Islands, down: UnitSet) -> Events {
        let mut now = struck.clone();
        now.now += 1;
        now.plugged = self.state.plugged;
        down.iter().for_each(|unit| boot(self.setting, &mut now, unit));
        let mut events = Events::default();
        settle(self.setting, islands, &mut now, &mut events);
        events
    }

    /// What stays in service where these legs are lost too. A leg whose unit has power carries, since a fault changes no
    /// port and no other cable.
    #[must_use]
    pub fn serve(&self, wreck: &Wreck, lost: LegSet) -> Outcome {
        self.serve_on(&self.terms, wreck, lost)
    }

    /// The same where something else is agreed about uplinks.
    #[must_use]
    pub fn serve_on(&self, terms: &Terms, wreck: &Wreck, lost: LegSet) -> Outcome {
        let alive = terms.homes.iter().map(|home| home.leg).collect::<LegSet>().minus(lost);
        let pieces = || wreck.islands.iter().map(|island| island.and(self.members)).filter(|piece| !piece.is_empty());
        let guard = terms.guard.filter(|guard| {
            // a leg lost on a unit that is up looks like the split itself
            let suspect = lost.and(self.setting.uplinks[*guard].legs);
            terms.legs_on(self.members.minus(wreck.down), suspect).is_empty()
        });
        let guarded = guard.map(|guard| alive.and(self.setting.uplinks[guard].legs));
        let holds = |piece: UnitSet, legs: LegSet| !terms.legs_on(piece, legs).is_empty();
        let serving: Vec<UnitSet> = match guarded {
            None => pieces().filter(|piece| holds(*piece, alive)).collect(),
            Some(legs) => {
                let rivals = pieces().filter(|piece| holds(*piece, legs)).fold(UnitSet::EMPTY, UnitSet::or);
                let leaders = primaries(&wreck.state, rivals);
                let ballot = Ballot::Guard(&wreck.islands);
                let stays = elect(self.setting, &wreck.state, ballot, leaders);
                let winner = stays.map_or(UnitSet::EMPTY, |stays| wreck.islands.around(stays.winner));
                pieces().filter(|piece| piece.meets(winner)).collect()
            }
        };
        let in_service = serving.iter().copied().fold(UnitSet::EMPTY, UnitSet::or);
        let up = terms.legs_on(in_service, alive);
        let island = |units| Island { units, primary: primaries(&wreck.state, units).first() };
        let powered = pieces().fold(UnitSet::EMPTY, UnitSet::or);
        Outcome {
            islands: pieces().map(island).collect(),
            in_service,
            cut_off: powered.minus(in_service),
            uplinks_up: up.iter().map(|leg| self.setting.legs[leg].uplink).collect(),
            split_brain: serving.len() > 1,
            restarts: wreck.restarts,
            undecided: wreck.undecided,
        }
    }
}
