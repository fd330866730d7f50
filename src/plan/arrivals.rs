//! What newcomers still need on their own, and which links a plug makes: parts of the bound.
//!
//! - Each newcomer is staged in one of its ways, so that the least of them counts, with all that its way leaves to do.
//! - One that joins with less weight is given its own afterwards.
//! - One that is made live by a plug has a binding in force by then, and saved where a cold start counts it from its
//!   join. While it is outside, that is its own activation (or a boot) and its own save: none in the stack is any of
//!   them, and the save after its join, which gives it its copy, is another.
//! - While a ring is open that shall be closed, a link both ends of which are as they shall be, and act, is made by its
//!   plug; or one end is typed once more, which takes minutes that come before links not typed. So it is with the end
//!   of a newcomer that is still to be staged: its stage takes no minutes, and whatever is typed afterwards does.

use crate::model::document::{SaveWhen, Side};
use crate::model::setting::Setting;
use crate::model::state::Port;
use crate::model::table::{PortId, UnitSet};
use crate::model::traits::{BindingEffect, StoredWhen};

use super::bound::{is_there, likely, port_steps};
use super::links::is_made;
use super::node::Node;
use super::stage::Stage;
use super::work::{LinkWork, Newcomer, Work};

/// What newcomers still need on their own.
#[derive(Clone, Copy, Debug, Default)]
pub struct Arrivals {
    /// Steps of stages to come that are not on ports.
    pub stages: i64,
    /// Own weights of those that are not staged yet and will join with less.
    pub weights: i64,
    /// Saves of those whom a plug brings in, that no stage counted here holds.
    pub saves: i64,
    /// The same for activations, or boots in their place.
    pub activations: i64,
}

/// Counts it. `late`: those whom a plug brings in.
#[must_use]
pub fn arrivals(setting: &Setting, work: &Work, node: &Node, late: UnitSet) -> Arrivals {
    let mut sum = Arrivals::default();
    for newcomer in &work.newcomers {
        let (unit, late) = (newcomer.unit, late.contains(newcomer.unit));
        if node.staged.contains(unit) {
            let values = setting.units[unit].ports.iter().map(|port| node.situation.state.ports[*port]);
            if late {
                let (save, activation) = lacks(setting, values);
                sum.saves += save;
                sum.activations += activation;
            }
            continue;
        }
        let whole = |stage: &Stage| {
            let (save, activation) = lacks(setting, stage.values.iter().map(|(_, value)| *value));
            let bare = stage.operations.len() as i64 - stage_port_steps(setting, stage);
            bare + if late { save + activation } else { 0 }
        };
        sum.stages += newcomer.stages.iter().map(whole).min().unwrap_or(0);
        sum.weights += i64::from(is_light(newcomer));
    }
    sum
}

/// Whether it joins with less weight, whichever way it is staged.
fn is_light(newcomer: &Newcomer) -> bool {
    !newcomer.stages.is_empty() && newcomer.stages.iter().all(|stage| stage.light)
}

/// Whether a unit needs a save, and an activation, before a plug can bring it in to stay.
fn lacks(setting: &Setting, ports: impl Iterator<Item = Port>) -> (i64, i64) {
    let saved = setting.save == SaveWhen::BeforeLink && setting.traits.stored.binding == StoredWhen::WithSave;
    let lazy = setting.traits.binding.takes_effect == BindingEffect::OnActivation;
    let (stored, active) = ports.fold((false, false), |(stored, active), port| {
        (stored || port.saved_side() != Side::None, active || port.active())
    });
    (i64::from(saved && !stored), i64::from(lazy && !active))
}

fn stage_port_steps(setting: &Setting, stage: &Stage) -> i64 {
    let boxed = Port::default().with_enabled(setting.factory_enabled());
    stage
        .ports
        .iter()
        .map(|port| {
            let shall = setting.target.ports[*port];
            port_steps(setting, boxed, shall.side(), shall.enabled())
        })
        .sum()
}

/// How many links come up by a plug for the first time, while a ring is open that shall be closed.
#[must_use]
pub fn made_by_a_plug(setting: &Setting, work: &Work, node: &Node) -> i64 {
    let (state, minutes) = (&node.situation.state, &setting.traits.minutes);
    if likely(&minutes.command) == 0 || likely(&minutes.activate) == 0 {
        return 0;
    }
    let ready = |port: PortId| {
        let (is, shall) = (state.ports[port], setting.target.ports[port]);
        let set = is.active() && (is.side(), is.enabled()) == (shall.side(), shall.enabled());
        set || !is_there(setting, node.staged, setting.unit_of(port))
    };
    let stays = node.situation.memory.live.minus(setting.leaving);
    let by_plug = |link: &LinkWork| {
        link.cables.iter().all(|(cable, a, b)| !state.plugged.contains(*cable) && ready(*a) && ready(*b))
            && link.cables.iter().any(|(_, a, b)| [*a, *b].iter().any(|port| stays.contains(setting.unit_of(*port))))
    };
    let whole = || work.links.iter().filter(|link| !link.crowded);
    let made = whole().filter(|link| is_made(setting, state, link)).count() as i64;
    // what was up once and went down again comes up a second time
    let again = (i64::from(node.seen.count_ones()) - made).max(0);
    let coming = whole().filter(|link| !is_made(setting, state, link) && by_plug(link)).count() as i64;
    (coming - again).max(0)
}
