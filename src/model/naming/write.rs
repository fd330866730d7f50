//! A [`State`] of indices -> its document, with names, as the plan writes it.

use super::habits;
use crate::model::document::{
    Admitted, RunningPort, RunningSettings, SavedPort, SavedSettings, SharedPair, SharedSettings, StateDocument,
    UnitState,
};
use crate::model::setting::Setting;
use crate::model::state::{Shared, State};
use crate::model::table::{LegId, UnitId, UplinkId};
use crate::model::traits::{Admission, Mode, PriorityEffect};

/// A state with names, as the plan writes it.
#[must_use]
pub fn document(setting: &Setting, state: &State) -> StateDocument {
    let mut cables: Vec<[String; 2]> = state.plugged.iter().map(|cable| setting.cable_names(cable)).collect();
    cables.sort();
    StateDocument {
        units: setting
            .units
            .ids()
            .map(|unit| (setting.units[unit].key.clone(), unit_document(setting, state, unit)))
            .collect(),
        cables,
        shared: SharedPair {
            running: shared_document(setting, &state.running),
            saved: shared_document(setting, &state.saved),
        },
    }
}

fn unit_document(setting: &Setting, state: &State, unit: UnitId) -> UnitState {
    let row = &state.units[unit];
    let ports = || setting.units[unit].ports.iter().map(|port| (setting.ports[*port].name.clone(), state.ports[*port]));
    UnitState {
        powered: row.powered,
        booted_at: i64::from(row.booted_at),
        primary: row.primary,
        waiting: row.waiting,
        copy: row.copy,
        standby: row.standby,
        counts: (row.powered && setting.traits.priority.takes_effect == PriorityEffect::NextElection)
            .then_some(row.counts),
        running: row.powered.then(|| RunningSettings {
            id: row.id,
            priority: row.priority,
            keys: habits::named_keys(setting, row.keys),
            mode: if row.lone { Mode::Lone } else { Mode::Stack },
            ports: ports()
                .map(|(name, p)| (name, RunningPort { enabled: p.enabled(), side: p.side(), active: p.active() }))
                .collect(),
        }),
        saved: row.bootable.then(|| SavedSettings {
            id: row.saved_id,
            priority: row.saved_priority,
            keys: habits::named_keys(setting, row.saved_keys),
            mode: if row.saved_lone { Mode::Lone } else { Mode::Stack },
            ports: ports()
                .map(|(name, p)| (name, SavedPort { enabled: p.saved_enabled(), side: p.saved_side() }))
                .collect(),
        }),
    }
}

fn shared_document(setting: &Setting, shared: &Shared) -> SharedSettings {
    let legs_of = |uplink: UplinkId| -> Vec<String> {
        let legs = setting.uplinks[uplink].legs.and(shared.legs);
        legs.iter().map(|leg: LegId| setting.legs[leg].name.clone()).collect()
    };
    SharedSettings {
        uplinks: shared.pairs.iter().map(|uplink| (setting.uplinks[uplink].name.clone(), legs_of(uplink))).collect(),
        guard: shared.guard.map(|uplink| setting.uplinks[uplink].name.clone()),
        admitted: (setting.traits.admission != Admission::Open).then(|| {
            let mut all: Vec<Admitted> =
                shared.admitted.iter().map(|ticket| (&setting.tickets[ticket]).into()).collect();
            all.sort();
            all
        }),
    }
}
