//! The least cost by a search that opens the cheapest situation first and knows nothing else.
//!
//! It shares the model with the planner and nothing else: single operations, every port setting, no order
//! given to what commutes; only equal situations are tried once, and those left of which [`Ahead`] says that
//! they cannot be on a least way, which is looked at on every step. What it takes for granted:
//! an operator who looks and waits wherever that is of use, since looks and waits cost nothing here.

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap, HashMap};

use ringwright::model::document::Side;
use ringwright::model::operation::Operation;
use ringwright::model::progress::{Situation, neighbour_shows};
use ringwright::model::reached::differences;
use ringwright::model::rules::{Breaches, after_step, in_state, up_unread};
use ringwright::model::setting::Setting;
use ringwright::model::table::{LegId, LegSet, PortId, UnitId};
use ringwright::model::{MemberId, Priority};

use crate::ahead::{Ahead, too_much};
use crate::packed::{Packing, touched_ports};
use crate::price::{Cost, Price, Seen, sum};

/// What a search found.
#[derive(Clone, Debug)]
pub struct Found {
    pub cost: Cost,
    /// One order of least cost; a step without an operation founds the new stack.
    pub steps: Vec<Option<Operation>>,
    /// How many situations it opened.
    pub opened: usize,
}

struct Node {
    bytes: Box<[u8]>,
    cost: Cost,
    from: Option<(usize, Option<Operation>)>,
}

/// The ids and priorities that the search may give to any unit.
pub struct Numbers {
    ids: BTreeSet<MemberId>,
    priorities: BTreeSet<Priority>,
}

impl Numbers {
    /// Those that stand anywhere in the baseline or in the target, and the factory's.
    pub fn of(setting: &Setting) -> Self {
        let states = [&setting.baseline, &setting.target];
        let rows = || states.iter().flat_map(|state| setting.units.ids().map(|unit| &state.units[unit]));
        let legal = |id: &MemberId| setting.legal_id(*id);
        let ids = rows().flat_map(|row| [row.id, row.saved_id]).chain([setting.traits.member_id.factory]);
        let priorities = rows().flat_map(|row| [row.priority, row.saved_priority]);
        let priorities = priorities.chain([setting.traits.priority.factory]);
        Self {
            ids: ids.filter(legal).collect(),
            priorities: priorities.filter(|priority| setting.legal_priority(*priority)).collect(),
        }
    }
}

/// Finds the least cost, or nothing if no order keeps every rule.
pub fn search(setting: &Setting) -> Option<Found> {
    Search::new(setting, false).run()
}

/// The same by what is spent alone, whatever is ahead; what is said of that is still looked at on each step.
pub fn search_blindly(setting: &Setting) -> Option<Found> {
    Search::new(setting, true).run()
}

struct Search<'a> {
    setting: &'a Setting,
    blind: bool,
    packing: Packing,
    ahead: Ahead<'a>,
    price: Price<'a>,
    numbers: Numbers,
    ports: Vec<PortId>,
    nodes: Vec<Node>,
    best: HashMap<Box<[u8]>, Cost>,
    queue: BinaryHeap<(Reverse<Cost>, Reverse<usize>)>,
}

/// A search that opens more is no test any more.
const MOST: usize = 40_000;

impl<'a> Search<'a> {
    fn new(setting: &'a Setting, blind: bool) -> Self {
        Self {
            setting,
            blind,
            packing: Packing::new(setting),
            ahead: Ahead::new(setting),
            price: Price::new(setting),
            numbers: Numbers::of(setting),
            ports: touched_ports(setting),
            nodes: Vec::new(),
            best: HashMap::new(),
            queue: BinaryHeap::new(),
        }
    }

    fn run(mut self) -> Option<Found> {
        let start = Situation::start(self.setting);
        let mut breaches = Breaches::default();
        in_state(self.setting, &start, false, &mut breaches);
        assert!(breaches.0.is_empty(), "the baseline breaks a rule: {breaches:?}");
        self.push(&start, self.price.seen_at_first(), [0; 5], None);
        let mut opened = 0;
        while let Some((_, Reverse(at))) = self.queue.pop() {
            let Node { bytes, cost, .. } = &self.nodes[at];
            let cost = *cost;
            if self.best[bytes] < cost {
                continue;
            }
            opened += 1;
            assert!(opened < MOST, "too large for a search without reductions");
            let (situation, seen) = self.packing.unpack(bytes);
            assert!(self.packing.pack(&situation, seen) == *bytes, "unpacked is not what was packed");
            if situation.memory.founded && differences(self.setting, &situation.state).0.is_empty() {
                assert_eq!(self.ahead.of(&situation), [0; 5], "something is ahead at the target");
                return Some(Found { cost, steps: self.steps_to(at), opened });
            }
            self.open(at, cost, &situation, seen);
        }
        None
    }

    fn steps_to(&self, mut at: usize) -> Vec<Option<Operation>> {
        let mut steps = Vec::new();
        while let Some((before, operation)) = self.nodes[at].from {
            steps.push(operation);
            at = before;
        }
        steps.reverse();
        steps
    }

    fn open(&mut self, at: usize, cost: Cost, situation: &Situation, seen: Seen) {
        let left = self.ahead.of(situation);
        if !situation.memory.founded {
            let mut founded = situation.clone();
            founded.found_stack(self.setting);
            let mut breaches = Breaches::default();
            in_state(self.setting, &founded, false, &mut breaches);
            if !founded.memory.live.is_empty() && breaches.0.is_empty() {
                assert!(!too_much(left, [0; 5], self.ahead.of(&founded)), "less is ahead for founding alone");
                self.push(&founded, seen, cost, Some((at, None)));
            }
        }
        for operation in operations(self.setting, &self.numbers, &self.ports, situation) {
            let Ok(done) = situation.step(self.setting, operation) else { continue };
            let mut seen = seen;
            let own = self.price.of(&mut seen, situation, operation, &done);
            let after_cost = sum(cost, own);
            let next = looked(self.setting, done.after.clone());
            let bytes = self.packing.pack(&next, seen);
            if self.best.get(&bytes).is_some_and(|known| *known <= after_cost) {
                continue;
            }
            let lawful = after_step(self.setting, situation, operation, &done).0.is_empty();
            if lawful && up_unread(self.setting, situation, operation, &done).is_none() {
                let later = self.ahead.of(&next);
                let told = || format!("{operation:?} costs {own:?}, and ahead are {left:?}, then {later:?}");
                assert!(!too_much(left, own, later), "{}", told());
                self.push_packed(bytes, after_cost, later, Some((at, Some(operation))));
            }
        }
    }

    fn push(&mut self, situation: &Situation, seen: Seen, cost: Cost, from: Option<(usize, Option<Operation>)>) {
        let bytes = self.packing.pack(&looked(self.setting, situation.clone()), seen);
        if self.best.get(&bytes).is_none_or(|known| cost < *known) {
            self.push_packed(bytes, cost, self.ahead.of(situation), from);
        }
    }

    fn push_packed(&mut self, bytes: Box<[u8]>, cost: Cost, left: Cost, from: Option<(usize, Option<Operation>)>) {
        self.best.insert(bytes.clone(), cost);
        let rank = if self.blind { cost } else { sum(cost, left) };
        self.queue.push((Reverse(rank), Reverse(self.nodes.len())));
        self.nodes.push(Node { bytes, cost, from });
    }
}

/// Every operation that may be tried on a unit, a port, a cable or a pair; nothing is left out but what
/// changes nothing (enabling what is enabled) or is refused at sight (binding what is bound).
fn operations(setting: &Setting, numbers: &Numbers, ports: &[PortId], situation: &Situation) -> Vec<Operation> {
    let state = &situation.state;
    let mut all = Vec::new();
    for unit in setting.units.ids() {
        let row = &state.units[unit];
        if !row.powered {
            all.push(Operation::PowerOn(unit));
            continue;
        }
        all.extend([Operation::PowerOff(unit), Operation::Restart(unit), Operation::Wipe(unit)]);
        all.extend([Operation::Activate(unit), Operation::Save(unit)]);
        let ids = numbers.ids.iter().filter(|id| **id != row.id || **id != row.saved_id);
        all.extend(ids.map(|id| Operation::AssignId(unit, *id)));
        let others = numbers.priorities.iter().filter(|priority| **priority != row.priority);
        all.extend(others.map(|priority| Operation::SetPriority(unit, *priority)));
    }
    let powered = |unit: UnitId| state.units[unit].powered;
    for port in ports.iter().copied().filter(|port| powered(setting.unit_of(*port))) {
        let value = state.ports[port];
        let toggle = if value.enabled() { Operation::DisablePort } else { Operation::EnablePort };
        all.push(toggle(port));
        if value.side() == Side::None {
            all.extend([Operation::BindPort(port, Side::West), Operation::BindPort(port, Side::East)]);
        } else {
            all.push(Operation::ReleasePort(port));
        }
    }
    // a cable step is none of staging, and the first unit of a new stack founds it with its last stage step
    let cables = setting.cables.ids().filter(|_| situation.memory.founded);
    let plug =
        |cable| if state.plugged.contains(cable) { Operation::Disconnect(cable) } else { Operation::Connect(cable) };
    all.extend(cables.map(plug));
    all.extend(pair_operations(setting));
    all
}

fn pair_operations(setting: &Setting) -> Vec<Operation> {
    let mut all = Vec::new();
    for uplink in setting.uplinks.ids() {
        let legs: Vec<LegId> = setting.uplinks[uplink].legs.iter().collect();
        let some = (1..1_u32 << legs.len()).map(|chosen| {
            legs.iter().enumerate().filter(|(at, _)| chosen >> at & 1 == 1).map(|(_, leg)| *leg).collect::<LegSet>()
        });
        all.extend(some.map(|legs| Operation::FormUplink(uplink, legs)));
        all.extend([Operation::DropUplink(uplink), Operation::GuardSplit(uplink), Operation::UnguardSplit(uplink)]);
        all.extend(legs.iter().flat_map(|leg| [Operation::AddLeg(*leg), Operation::DropLeg(*leg)]));
    }
    all
}

/// Everything that can be seen has been looked at, everyone who joined was waited for.
pub fn looked(setting: &Setting, mut situation: Situation) -> Situation {
    situation.memory.unready.iter().for_each(|unit| situation.found_ready(unit));
    for leg in situation.memory.unproven.iter() {
        if situation.carries(setting, leg) {
            situation.found_carrying(leg);
        }
    }
    for cable in situation.memory.unread.iter() {
        if neighbour_shows(setting, &situation.state, cable) {
            situation.found_neighbour(cable);
        }
    }
    situation
}

/// The operations of an order, for a failure's message.
pub fn told(setting: &Setting, steps: &[Option<Operation>]) -> String {
    let one = |step: &Option<Operation>| match step {
        None => "founded".to_owned(),
        Some(Operation::Connect(cable)) => format!("plug {}", setting.cable_names(*cable).join(" - ")),
        Some(Operation::Disconnect(cable)) => format!("unplug {}", setting.cable_names(*cable).join(" - ")),
        Some(Operation::EnablePort(port)) => format!("enable {}", setting.end_name(*port)),
        Some(Operation::DisablePort(port)) => format!("disable {}", setting.end_name(*port)),
        Some(Operation::ReleasePort(port)) => format!("release {}", setting.end_name(*port)),
        Some(Operation::BindPort(port, side)) => format!("bind {} {}", setting.end_name(*port), side.as_str()),
        Some(operation) => format!("{operation:?}"),
    };
    steps.iter().map(one).collect::<Vec<_>>().join("; ")
}
