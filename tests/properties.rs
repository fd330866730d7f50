//! What holds of the model whatever is done to it: random yards, random habits of the platform,
//! random operations.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that cannot go on has failed"
)]

mod yard;

use std::io::Write as _;
use std::process::{Command, Stdio};

use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::{RngAlgorithm, TestRng, TestRunner};
use ringwright::model::derive::{Islands, primaries, protected};
use ringwright::model::document::{Action, Side};
use ringwright::model::names::{MemberId, Priority};
use ringwright::model::naming::document;
use ringwright::model::operation::Operation;
use ringwright::model::progress::Situation;
use ringwright::model::setting::Setting;
use ringwright::model::settle::{Events, cold_start, settle};
use ringwright::model::state::State;
use ringwright::model::table::{CableId, Id, LegId, LegSet, PortId, UnitId, UnitSet, UplinkId};
use ringwright::model::traits::{
    ActivationScope, BindingEffect, Criterion, Election, Facing, FactoryPorts, Handover, IdEffect, Loser, Mode,
    PriorityEffect, SaveScope, StackMode, StandbySeat, StoredWhen, Traits, Wins,
};
use yard::{PORTS, Yard, cable, end, neutral, port, unit};

/// Every trait of the model at any of its values.
fn any_traits() -> impl Strategy<Value = Traits> {
    let elections = [
        vec![Criterion::Priority, Criterion::Uptime, Criterion::LowestMac],
        vec![Criterion::Priority, Criterion::LowestId],
        vec![Criterion::Uptime, Criterion::LowestMac],
        vec![Criterion::LowestMac, Criterion::Priority],
    ];
    let merges = [
        vec![Criterion::Priority, Criterion::Uptime, Criterion::HighestMac],
        vec![Criterion::Acting, Criterion::Size, Criterion::Priority],
        vec![Criterion::Size, Criterion::LowestId],
    ];
    let lists = (prop::sample::select(elections.to_vec()), prop::option::of(prop::sample::select(merges.to_vec())));
    (any::<u32>(), lists, 0..3_u8, 1..4_u16).prop_map(|(bits, (election, merge), binding, max_cables)| {
        let bit = |at: u16| bits >> at & 1 == 1;
        let stored = |at| if bit(at) { StoredWhen::AtOnce } else { StoredWhen::WithSave };
        let mut traits = neutral();
        traits.member_id.takes_effect = if bit(0) { IdEffect::AtOnce } else { IdEffect::AfterRestart };
        traits.priority.wins = if bit(1) { Wins::Lowest } else { Wins::Highest };
        traits.election = Election { merge: merge.unwrap_or_else(|| election.clone()), boot: election };
        (traits.stored.id, traits.stored.priority, traits.stored.binding) = (stored(2), stored(3), stored(4));
        traits.sides.facing = if bit(5) { Facing::Any } else { Facing::Opposite };
        traits.sides.max_cables = max_cables;
        traits.factory_ports = if bit(6) { FactoryPorts::Disabled } else { FactoryPorts::Enabled };
        traits.binding.port_disabled = bit(7);
        traits.binding.takes_effect = match binding {
            0 => BindingEffect::AtOnce,
            1 => BindingEffect::OnActivation,
            _ => BindingEffect::AfterRestart,
        };
        traits.joining.loser = if bit(8) { Loser::Waits } else { Loser::Restarts };
        traits.save.scope = if bit(9) { SaveScope::Unit } else { SaveScope::Stack };
        if bit(10) && bit(11) {
            traits.joining.loser = Loser::Absorbed;
        }
        traits.joining.preempts = bit(12) && bit(13);
        traits.activate.scope = if bit(14) { ActivationScope::Unit } else { ActivationScope::Stack };
        traits.activate.restarts = bit(15) && bit(16);
        traits.standby = if bit(17) { StandbySeat::Sticky } else { StandbySeat::Best };
        traits.priority.takes_effect = if bit(18) { PriorityEffect::NextElection } else { PriorityEffect::AtOnce };
        traits.handover = match (bit(19), bit(20)) {
            (false, _) => Handover::None,
            (true, false) => Handover::OldRestarts,
            (true, true) => Handover::KeepsRunning,
        };
        traits.stack_mode = if bit(21) && bit(22) && bit(23) { StackMode::Switched } else { StackMode::Always };
        traits
    })
}

/// A yard of boxes: every pair of stacking ports of two boxes has a cable at hand, and one uplink pair
/// may have a leg on each.
fn yard_setting(traits: Traits, count: usize) -> Setting {
    let mut yard = Yard::new(traits, count);
    yard.pair = (0..count).map(|position| end(position, "47")).collect();
    let plug = |one: String, other: String| Action::ConnectCable { ends: [one, other] };
    let far = (0..count).map(|position| plug("far:border".to_owned(), end(position, "47")));
    let mut actions: Vec<Action> = far.collect();
    for (one, other) in (0..count).flat_map(|one| (one + 1..count).map(move |other| (one, other))) {
        for (near, far) in PORTS[1..].iter().flat_map(|near| PORTS[1..].iter().map(move |far| (near, far))) {
            actions.push(plug(end(one, near), end(other, far)));
        }
    }
    yard.setting(&actions)
}

/// Raw numbers that stand for one operation in any setting.
type Dice = (u8, u16, u16);

fn any_dice() -> impl Strategy<Value = Vec<Dice>> {
    prop::collection::vec((any::<u8>(), any::<u16>(), any::<u16>()), 0..90)
}

fn nth<I: Id>(number: u16, count: usize) -> I {
    I::at(usize::from(number) % count)
}

/// The operation that some dice stand for; what links boxes comes up more often than what does not.
fn operation(setting: &Setting, (kind, a, b): Dice) -> Operation {
    let unit: UnitId = nth(a, setting.units.len());
    let port: PortId = nth(a, setting.ports.len());
    let cable: CableId = nth(a, setting.cables.len());
    let leg: LegId = nth(a, setting.legs.len());
    let pair: UplinkId = nth(0, 1);
    let legs: LegSet = setting.legs.ids().filter(|leg| b >> leg.position() & 1 == 1).collect();
    match kind % 40 {
        0..=3 => Operation::PowerOn(unit),
        4 => Operation::PowerOff(unit),
        5 | 6 => Operation::Restart(unit),
        7 if b % 3 == 0 => Operation::HandOver(unit),
        7 if b % 3 == 1 => Operation::SetMode(unit, Mode::Stack),
        7 => Operation::Wipe(unit),
        8 | 9 => Operation::AssignId(unit, MemberId(b % 7)),
        10 | 11 => Operation::SetPriority(unit, Priority(u32::from(b % 9) * 20)),
        12..=14 => Operation::DisablePort(port),
        15..=17 => Operation::EnablePort(port),
        18..=23 => Operation::BindPort(port, if b % 2 == 0 { Side::East } else { Side::West }),
        24 => Operation::ReleasePort(port),
        25 | 26 => Operation::Activate(unit),
        27..=29 => Operation::Save(unit),
        30..=33 => Operation::Connect(cable),
        34 => Operation::Disconnect(cable),
        35 => Operation::FormUplink(pair, legs),
        36 => Operation::AddLeg(leg),
        37 => Operation::DropLeg(leg),
        38 => {
            if b % 2 == 0 {
                Operation::GuardSplit(pair)
            } else {
                Operation::UnguardSplit(pair)
            }
        }
        _ => Operation::DropUplink(pair),
    }
}

/// Boxes that are on, with ids and sides of their own, so that random cables make stacks of them.
fn prepared(setting: &Setting) -> Situation {
    let mut situation = Situation::start(setting);
    for unit in setting.units.ids() {
        let mut operations = vec![
            Operation::PowerOn(unit),
            Operation::AssignId(unit, MemberId(unit.position() as u16 + 1)),
            Operation::SetPriority(unit, Priority(90 - unit.position() as u32)),
        ];
        for (at, port) in setting.units[unit].ports.iter().skip(1).enumerate() {
            let side = if at % 2 == 0 { Side::West } else { Side::East };
            operations.extend([
                Operation::DisablePort(*port),
                Operation::BindPort(*port, side),
                Operation::EnablePort(*port),
            ]);
        }
        operations.extend([Operation::Save(unit), Operation::Restart(unit)]);
        for operation in operations {
            if let Ok(done) = situation.step(setting, operation) {
                situation = done.after;
            }
        }
    }
    situation
}

/// How far the boxes are made ready before the walk begins.
#[derive(Clone, Copy, Debug)]
enum Ready {
    InBoxes,
    Prepared,
    Chain,
    Ring,
}

#[derive(Clone, Debug)]
struct Walk {
    traits: Traits,
    count: usize,
    ready: Ready,
    dice: Vec<Dice>,
}

fn any_walk() -> impl Strategy<Value = Walk> {
    let ready = prop::sample::select(vec![Ready::InBoxes, Ready::Prepared, Ready::Chain, Ready::Ring]);
    let walk = |(traits, count, ready, dice)| Walk { traits, count, ready, dice };
    (any_traits(), 1..6_usize, ready, any_dice()).prop_map(walk)
}

impl Walk {
    fn setting(&self) -> Setting {
        yard_setting(self.traits.clone(), self.count)
    }

    fn start(&self, setting: &Setting) -> Situation {
        let mut situation = match self.ready {
            Ready::InBoxes => return Situation::start(setting),
            Ready::Prepared | Ready::Chain | Ready::Ring => prepared(setting),
        };
        let links = match self.ready {
            Ready::InBoxes | Ready::Prepared => 0,
            Ready::Chain => self.count - 1,
            Ready::Ring => {
                if self.count > 1 {
                    self.count
                } else {
                    0
                }
            }
        };
        for one in 0..links {
            let other = (one + 1) % self.count;
            let plug = Operation::Connect(cable(setting, (one, "50"), (other, "49")));
            if let Ok(done) = situation.step(setting, plug) {
                if !done.events.clash.is_empty() {
                    return situation;
                }
                situation = done.after;
            }
        }
        situation
    }
}

/// Walks until an id clash, which the model does not go beyond; calls `check` after every step.
fn walk(
    scenario: &Walk,
    setting: &Setting,
    mut check: impl FnMut(&Setting, &Situation, Operation, &Situation) -> Result<(), TestCaseError>,
) -> Result<Situation, TestCaseError> {
    let mut situation = scenario.start(setting);
    for dice in &scenario.dice {
        let operation = operation(setting, *dice);
        let Ok(done) = situation.step(setting, operation) else { continue };
        if !done.events.clash.is_empty() {
            break;
        }
        check(setting, &situation, operation, &done.after)?;
        situation = done.after;
    }
    Ok(situation)
}

fn powered(setting: &Setting, state: &State) -> UnitSet {
    setting.units.ids().filter(|unit| state.units[*unit].powered).collect()
}

fn saved_part(setting: &Setting, state: &State) -> String {
    let units = setting.units.ids().map(|unit| (state.units[unit].saved_id, state.units[unit].saved_priority));
    let ports = setting.ports.ids().map(|port| (state.ports[port].saved_enabled(), state.ports[port].saved_side()));
    format!("{:?} {:?} {:?}", units.collect::<Vec<_>>(), ports.collect::<Vec<_>>(), state.saved)
}

fn saved_everywhere(setting: &Setting, situation: Situation) -> Situation {
    let save = |situation: Situation, unit| {
        situation.step(setting, Operation::Save(unit)).map_or(situation, |done| done.after)
    };
    powered(setting, &situation.state).iter().fold(situation, save)
}

/// Whether every unit that is on would boot into exactly what it runs.
fn at_rest(setting: &Setting, state: &State) -> bool {
    powered(setting, state).iter().all(|unit| {
        let row = &state.units[unit];
        let mut ports = setting.units[unit].ports.iter().map(|port| state.ports[*port]);
        let in_force = ports.all(|port| port.is_stored() && port.active() == (port.side() != Side::None));
        in_force && (row.id, row.priority) == (row.saved_id, row.saved_priority) && !row.waiting
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_refused_operation_leaves_no_trace_and_stays_refused(scenario in any_walk()) {
        let setting = &scenario.setting();
        let mut situation = scenario.start(setting);
        for dice in &scenario.dice {
            let operation = operation(setting, *dice);
            let before = situation.clone();
            match situation.step(setting, operation) {
                Ok(done) if done.events.clash.is_empty() => situation = done.after,
                Ok(_) => break,
                Err(refusal) => {
                    prop_assert_eq!(&situation, &before);
                    prop_assert_eq!(situation.step(setting, operation).err(), Some(refusal));
                }
            }
        }
    }

    #[test]
    fn the_same_step_twice_is_the_same(scenario in any_walk()) {
        walk(&scenario, &scenario.setting(), |setting, before, operation, _| {
            let (one, other) = (before.step(setting, operation), before.step(setting, operation));
            prop_assert_eq!(format!("{one:?}"), format!("{other:?}"));
            Ok(())
        })?;
    }

    /// Where a step cannot change an island, the islands before are taken over.
    #[test]
    fn the_islands_of_a_step_are_those_of_its_state(scenario in any_walk()) {
        walk(&scenario, &scenario.setting(), |setting, before, operation, after| {
            let done = before.step(setting, operation).unwrap();
            prop_assert_eq!(&done.islands, &Islands::of(setting, &after.state), "after {:?}", operation);
            Ok(())
        })?;
    }

    #[test]
    fn a_settled_state_settles_no_further(scenario in any_walk()) {
        walk(&scenario, &scenario.setting(), |setting, _, operation, after| {
            let (mut again, mut events) = (after.state.clone(), Events::default());
            settle(setting, &Islands::of(setting, &after.state), &mut again, &mut events);
            prop_assert_eq!(&again, &after.state, "after {:?}", operation);
            prop_assert!(events.merges.is_empty() && events.restarts.is_empty() && events.clash.is_empty());
            Ok(())
        })?;
    }

    #[test]
    fn islands_part_the_powered_units_and_each_has_one_primary(scenario in any_walk()) {
        walk(&scenario, &scenario.setting(), |setting, _, operation, after| {
            let state = &after.state;
            let mut seen = UnitSet::EMPTY;
            for island in Islands::of(setting, state).iter() {
                prop_assert!(!island.is_empty() && !island.meets(seen));
                seen = seen.or(island);
                let able = island.iter().any(|unit| !state.units[unit].waiting);
                prop_assert_eq!(primaries(state, island).len(), usize::from(able), "after {:?}", operation);
                prop_assert!(primaries(state, island).iter().all(|unit| !state.units[unit].waiting));
            }
            prop_assert_eq!(seen, powered(setting, state));
            Ok(())
        })?;
    }

    #[test]
    fn restarts_never_touch_what_is_saved(scenario in any_walk()) {
        let setting = &scenario.setting();
        let last = walk(&scenario, setting, |_, _, _, _| Ok(()))?;
        for unit in powered(setting, &last.state).iter() {
            let Ok(once) = last.step(setting, Operation::Restart(unit)) else { continue };
            prop_assert_eq!(saved_part(setting, &once.after.state), saved_part(setting, &last.state));
            if !once.events.clash.is_empty() {
                continue;
            }
            let row = &once.after.state.units[unit];
            prop_assert_eq!((row.id, row.priority), (row.saved_id, row.saved_priority));
            if let Ok(twice) = once.after.step(setting, Operation::Restart(unit)) {
                prop_assert_eq!(saved_part(setting, &twice.after.state), saved_part(setting, &last.state));
            }
        }
    }

    #[test]
    fn what_was_saved_is_there_after_a_restart(scenario in any_walk()) {
        let setting = &scenario.setting();
        let last = walk(&scenario, setting, |_, _, _, _| Ok(()))?;
        for unit in powered(setting, &last.state).iter() {
            let Ok(saved) = last.step(setting, Operation::Save(unit)) else { continue };
            let Ok(restarted) = saved.after.step(setting, Operation::Restart(unit)) else { continue };
            let (before, after) = (&saved.after.state, &restarted.after.state);
            if !restarted.events.clash.is_empty() {
                continue;
            }
            prop_assert_eq!(after.units[unit].priority, before.units[unit].priority);
            if setting.traits.member_id.takes_effect == IdEffect::AtOnce {
                prop_assert_eq!(after.units[unit].id, before.units[unit].id);
            }
            for port in setting.units[unit].ports.iter().copied() {
                let settings = |state: &State| (state.ports[port].enabled(), state.ports[port].side());
                prop_assert_eq!(settings(after), settings(before));
                prop_assert_eq!(after.ports[port].active(), before.ports[port].side() != Side::None);
            }
        }
    }

    #[test]
    fn a_stack_that_is_saved_comes_back_as_it_was(scenario in any_walk()) {
        let setting = &scenario.setting();
        let last = walk(&scenario, setting, |_, _, _, _| Ok(()))?;
        let state = &saved_everywhere(setting, last).state;
        if at_rest(setting, state) {
            let (cold, events, _) = cold_start(setting, state);
            let islands = |state: &State| Islands::of(setting, state).iter().collect::<Vec<_>>();
            prop_assert!(events.clash.is_empty() && events.merges.is_empty());
            prop_assert_eq!(islands(&cold), islands(state));
        }
    }

    #[test]
    fn a_state_reads_back_from_its_document(scenario in any_walk()) {
        let setting = &scenario.setting();
        let last = walk(&scenario, setting, |_, _, _, _| Ok(()))?;
        let written = document(setting, &last.state);
        let mut yard = Yard::new(setting.traits.clone(), setting.units.len());
        yard.state = written.clone();
        yard.pair = (0..setting.units.len()).map(|position| end(position, "47")).collect();
        let again = yard.setting(&[]);
        prop_assert_eq!(document(&again, &again.baseline), written);
    }
}

/// A chain cabled, bound, activated and saved comes back from a power failure as the same chain.
#[test]
fn a_saved_chain_survives_a_cold_start() {
    for count in 2..6 {
        let setting = yard_setting(neutral(), count);
        let mut situation = prepared(&setting);
        for position in 1..count {
            let plug = Operation::Connect(cable(&setting, (position - 1, "50"), (position, "49")));
            situation = situation.step(&setting, plug).unwrap().after;
        }
        situation = situation.step(&setting, Operation::Save(unit(&setting, 0))).unwrap().after;
        assert!(situation.state.ports[port(&setting, 0, "50")].is_stored());
        let (cold, events, _) = cold_start(&setting, &situation.state);
        assert!(events.undecided.is_empty() && events.clash.is_empty());
        for state in [&situation.state, &cold] {
            assert_eq!(Islands::of(&setting, state).iter().collect::<Vec<_>>(), [setting.all_units()]);
            assert_eq!(primaries(state, setting.all_units()), UnitSet::one(unit(&setting, 0)));
        }
    }
}

/// Random walks must reach states worth looking at, or the properties say nothing.
#[test]
fn random_walks_make_stacks() {
    let (mut largest, mut cut, mut safe, mut rest) = (0, 0, 0, 0);
    for (setting, state) in random_states(400) {
        let islands: Vec<UnitSet> = Islands::of(&setting, &state).iter().collect();
        largest = largest.max(islands.iter().map(|island| island.len()).max().unwrap_or(0));
        cut += usize::from(islands.len() > 1);
        rest += usize::from(at_rest(&setting, &state) && islands.iter().any(|island| island.len() > 1));
        safe += islands.iter().filter(|island| island.len() > 2 && protected(&setting, &state, **island)).count();
    }
    let told = format!("largest {largest}, several islands {cut}, protected {safe}, at rest {rest}");
    assert!(largest >= 4 && cut > 20 && safe > 5 && rest > 5, "{told}");
}

/// Random states, the same in every run.
fn random_states(count: usize) -> Vec<(Setting, State)> {
    let seed = TestRng::from_seed(RngAlgorithm::ChaCha, &[7; 32]);
    let mut runner = TestRunner::new_with_rng(ProptestConfig::default(), seed);
    let draw = |runner: &mut TestRunner| {
        let scenario = any_walk().new_tree(runner).unwrap().current();
        let setting = scenario.setting();
        let last = walk(&scenario, &setting, |_, _, _, _| Ok(())).unwrap();
        (setting, last.state)
    };
    (0..count).map(|_| draw(&mut runner)).collect()
}

/// Islands and bridges by another hand: `tests/oracles/graphs.py` computes them from the documents of
/// states with the library networkx, from lit cables on.
#[test]
fn networkx_agrees_on_islands_and_bridges() {
    let mut input = String::new();
    for (setting, state) in random_states(600) {
        let names = |units: UnitSet| setting.keys(units);
        let islands: Vec<UnitSet> = Islands::of(&setting, &state).iter().collect();
        let safe: Vec<bool> = islands.iter().map(|island| protected(&setting, &state, *island)).collect();
        let line = serde_json::json!({
            "facing": setting.traits.sides.facing,
            "state": document(&setting, &state),
            "islands": islands.iter().map(|island| names(*island)).collect::<Vec<_>>(),
            "protected": safe,
            "all_protected": protected(&setting, &state, powered(&setting, &state)),
        });
        input.push_str(&format!("{line}\n"));
    }
    let oracle = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/oracles/graphs.py");
    let mut child = Command::new(yard::python())
        .args(["-B", oracle])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python3 runs the oracle");
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    let told = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.success(), "{told}\n(networkx is needed: tests/run installs it)");
    assert_eq!(told.trim(), "600 states agree");
}
