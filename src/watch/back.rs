//! A plan's lines -> its ways back: for every step past the staging, how to be where it all began.
//!
//! From the last step down: a way that was found serves every earlier step from which it leads back too, so that
//! there are few. Where none is found from a step, that step is undone and the way of the one before it goes on; where
//! that does not do either, the plan is followed to the next step that has a way.
//! Every way is replayed from every step that it serves, under every rule but the one that a way back may break.

use crate::model::acts::{Act, act};
use crate::model::derive::{Islands, primaries};
use crate::model::document::{Action, Fact, Until, WayBack, WayBackStep};
use crate::model::facts::{Spot, learn};
use crate::model::names::{MemberId, Minutes};
use crate::model::operation::{Operation, by_hands};
use crate::model::places::{operation_spot, proves_place};
use crate::model::progress::Situation;
use crate::model::reached::differences;
use crate::model::replay::{Standing, Stop};
use crate::model::rules::Rule;
use crate::model::setting::{Point, Setting};
use crate::model::slips::Script;
use crate::model::traits::{BindingEffect, Mode};

use super::looks;
use super::named::named;
use super::placing::place_on_way_back;

/// A rule that a way back may break.
const WAIVED: Option<Rule> = Some(Rule::Settled);

/// Finds operations that lead from a situation to the baseline.
pub type Finder<'a> = &'a dyn Fn(&Situation) -> Option<Vec<Operation>>;

/// Where a step is done, and the id of each unit then, by which ports and lines name it.
type Read = (Spot, Vec<MemberId>);

/// A way back under way: the steps that it serves, by their position.
struct Way {
    first: usize,
    last: usize,
    actions: Vec<Action>,
    /// Where each of them is done, and the numbers that units have there: the same from every step that the way
    /// serves, since a person reads one text.
    spots: Vec<Read>,
    /// It goes on with the way of the step before its first.
    goes_on: bool,
    /// What is done, without looks and waits; none where it goes on with another way.
    operations: Vec<Operation>,
}

/// The ways back of a plan, from the first step past the staging on, and the steps that have none.
#[must_use]
pub fn ways_back(script: &Script<'_>, first: usize, find: Finder<'_>) -> (Vec<WayBack>, Vec<u32>) {
    let going = script.setting.going_back();
    let mut ways: Vec<Way> = Vec::new();
    let mut without: Vec<usize> = Vec::new();
    // steps that only undo themselves, and wait for the way of the one before
    let mut open: Vec<(usize, Vec<Action>)> = Vec::new();
    for position in (first..script.acts.len()).rev() {
        let Some(gone) = script.standing(position + 1) else { continue };
        let standing = &gone.going_back(script.setting, &going);
        if open.is_empty()
            && let Some(way) = ways.last_mut().filter(|way| way.first == position + 1 && !way.goes_on)
            && (script.standing(position + 2) == Some(gone)
                || leads_back(&going, standing, &way.actions).as_ref() == Some(&way.spots))
        {
            way.first = position;
            continue;
        }
        let found = find(&standing.situation).map(|operations| shortened(&going, standing, operations));
        match found.and_then(|operations| way_of(&going, standing, position, operations)) {
            Some(way) => {
                close(script, &going, &way, std::mem::take(&mut open), &mut ways, &mut without);
                ways.push(way);
            }
            None => open.push((position, undone(script, position))),
        }
    }
    without.extend(open.into_iter().map(|(position, _)| position));
    without.sort_unstable();
    let without = onward(script, &going, &mut ways, without);
    (documents(ways), without.into_iter().map(|position| position as u32 + 1).collect())
}

/// A way of these operations, with looks and waits, if it leads back.
fn way_of(going: &Setting, from: &Standing, position: usize, operations: Vec<Operation>) -> Option<Way> {
    let bare = dressed(going, from, &operations)?;
    let actions = watched(going, from, &bare, bare.len());
    let spots = leads_back(going, from, &actions)?;
    Some(Way { first: position, last: position, actions, spots, goes_on: false, operations })
}

/// Follows the plan from steps without a way to the next one that has one, and goes that. Gives the steps for which
/// that does not do either.
fn onward(script: &Script<'_>, going: &Setting, ways: &mut Vec<Way>, without: Vec<usize>) -> Vec<usize> {
    let mut left = Vec::new();
    for position in without.into_iter().rev() {
        let from = script.standing(position + 1).map(|from| from.going_back(script.setting, going));
        let next = ways.iter_mut().filter(|way| way.first > position && !way.goes_on).min_by_key(|way| way.first);
        let (Some(from), Some(next)) = (from, next) else {
            left.push(position);
            continue;
        };
        if next.first == position + 1 && leads_back(going, &from, &next.actions).as_ref() == Some(&next.spots) {
            next.first = position;
            continue;
        }
        let still = script.acts.get(position + 1..=next.first).unwrap_or_default().iter();
        let still = still.filter_map(|act| if let Act::Do(operation) = act { Some(*operation) } else { None });
        let operations = still.chain(next.operations.iter().copied()).collect();
        match way_of(going, &from, position, operations) {
            Some(way) => ways.push(way),
            None => left.push(position),
        }
    }
    ways.sort_by_key(|way| std::cmp::Reverse(way.first));
    left.reverse();
    left
}

/// Steps that undo themselves, now that the way of the step before them is known: each is tried with all that
/// follows it.
fn close(
    script: &Script<'_>,
    going: &Setting,
    way: &Way,
    open: Vec<(usize, Vec<Action>)>,
    ways: &mut Vec<Way>,
    without: &mut Vec<usize>,
) {
    let mut found: Vec<Way> = Vec::new();
    let (mut rest, mut spots) = (way.actions.clone(), way.spots.clone());
    let mut broken = false;
    for (position, own) in open.into_iter().rev() {
        let from = script.standing(position + 1).map(|from| from.going_back(script.setting, going));
        let bare: Vec<Action> = own.iter().cloned().chain(rest.iter().cloned()).collect();
        // looks come into the step's own part alone: what follows is another way's text
        let with_looks = from.as_ref().map(|from| watched(going, from, &bare, own.len()));
        let all = with_looks.filter(|all| all.ends_with(&rest)).unwrap_or(bare);
        let own = all.get(..all.len() - rest.len()).unwrap_or_default().to_vec();
        let gone = from.and_then(|from| leads_back(going, &from, &all));
        let Some(gone) = gone.filter(|gone| !broken && gone.ends_with(&spots)) else {
            broken = true;
            without.push(position);
            continue;
        };
        (rest, spots) = (all, gone.clone());
        match found.last_mut().filter(|last| own.is_empty() && last.last + 1 == position && last.actions.is_empty()) {
            Some(last) => last.last = position,
            None => {
                let spots = gone.into_iter().take(own.len()).collect();
                let operations = Vec::new();
                found.push(Way { first: position, last: position, actions: own, spots, goes_on: true, operations });
            }
        }
    }
    ways.extend(found.into_iter().rev());
}

/// What undoes one step.
fn undone(script: &Script<'_>, position: usize) -> Vec<Action> {
    let (setting, Some(before)) = (script.setting, script.before(position)) else { return Vec::new() };
    let Some(Act::Do(operation)) = script.acts.get(position) else { return Vec::new() };
    let state = &before.state;
    let inverse = match *operation {
        Operation::PowerOn(unit) => Some(Operation::PowerOff(unit)),
        Operation::PowerOff(unit) => Some(Operation::PowerOn(unit)),
        Operation::AssignId(unit, _) => Some(Operation::AssignId(unit, state.units[unit].saved_id)),
        Operation::SetPriority(unit, _) => Some(Operation::SetPriority(unit, state.units[unit].priority)),
        Operation::DisablePort(port) => state.ports[port].enabled().then_some(Operation::EnablePort(port)),
        Operation::EnablePort(port) => (!state.ports[port].enabled()).then_some(Operation::DisablePort(port)),
        Operation::BindPort(port, _) => Some(Operation::ReleasePort(port)),
        Operation::ReleasePort(port) => Some(Operation::BindPort(port, state.ports[port].side())),
        Operation::Connect(cable) => Some(Operation::Disconnect(cable)),
        Operation::Disconnect(cable) => Some(Operation::Connect(cable)),
        Operation::FormUplink(pair, _) => Some(Operation::DropUplink(pair)),
        Operation::DropUplink(pair) => {
            let legs = setting.uplinks[pair].legs.and(state.running.legs);
            state.running.pairs.contains(pair).then_some(Operation::FormUplink(pair, legs))
        }
        Operation::AddLeg(leg) => (!state.running.legs.contains(leg)).then_some(Operation::DropLeg(leg)),
        Operation::DropLeg(leg) => state.running.legs.contains(leg).then_some(Operation::AddLeg(leg)),
        Operation::GuardSplit(pair) => Some(match state.running.guard {
            Some(other) => Operation::GuardSplit(other),
            None => Operation::UnguardSplit(pair),
        }),
        Operation::UnguardSplit(_) => state.running.guard.map(Operation::GuardSplit),
        Operation::HandOver(unit) => {
            let leader = primaries(state, Islands::of(setting, state).around(unit)).first();
            leader.map(Operation::HandOver)
        }
        Operation::SetMode(unit, _) => {
            let mode = if state.units[unit].saved_lone { Mode::Lone } else { Mode::Stack };
            Some(Operation::SetMode(unit, mode))
        }
        Operation::SetKey(unit, key, _) => {
            let before = state.units[unit].saved_keys.get(usize::from(key)).copied().filter(|value| *value != 0);
            before.map(|value| Operation::SetKey(unit, key, value))
        }
        Operation::Admit(unit, ticket) => {
            (!state.running.admitted.contains(ticket)).then_some(Operation::Forget(unit, ticket))
        }
        Operation::Forget(unit, ticket) => {
            state.running.admitted.contains(ticket).then_some(Operation::Admit(unit, ticket))
        }
        Operation::Restart(_) | Operation::Wipe(_) | Operation::Activate(_) | Operation::Save(_) => None,
    };
    let again = match *operation {
        Operation::ReleasePort(port) if setting.traits.binding.takes_effect == BindingEffect::OnActivation => {
            Some(Operation::Activate(setting.unit_of(port)))
        }
        _ => None,
    };
    inverse.into_iter().chain(again).map(|operation| named(setting, operation)).collect()
}

/// Without what is typed on ports that may as well stay as they are, and what only puts that into force: the
/// search makes links from the keyboard where it can, and on a way back a plug may make them.
fn shortened(going: &Setting, from: &Standing, mut operations: Vec<Operation>) -> Vec<Operation> {
    let port = |operation: &Operation| match operation {
        Operation::DisablePort(port)
        | Operation::EnablePort(port)
        | Operation::BindPort(port, _)
        | Operation::ReleasePort(port) => Some(*port),
        _ => None,
    };
    let ports: std::collections::BTreeSet<_> = operations.iter().filter_map(port).collect();
    let groups =
        ports.into_iter().map(|own| operations.iter().map(|one| port(one) == Some(own)).collect::<Vec<bool>>());
    let mut kept = vec![true; operations.len()];
    for group in groups.collect::<Vec<_>>() {
        let without: Vec<bool> = kept.iter().zip(&group).map(|(kept, own)| *kept && !own).collect();
        let picked = |kept: &[bool]| -> Vec<Operation> {
            operations.iter().zip(kept).filter(|(_, kept)| **kept).map(|(operation, _)| *operation).collect()
        };
        if arrives(going, from, &picked(&without)) {
            kept = without;
        }
    }
    let mut at = 0;
    operations.retain(|_| {
        at += 1;
        kept.get(at - 1) == Some(&true)
    });
    let idle = |operation: &Operation| matches!(operation, Operation::Activate(_));
    while let Some(position) = operations.iter().position(idle) {
        let mut fewer = operations.clone();
        fewer.remove(position);
        if !arrives(going, from, &fewer) {
            break;
        }
        operations = fewer;
    }
    operations
}

/// Whether bare operations lead to the baseline, with all looked at that can be.
fn arrives(going: &Setting, from: &Standing, operations: &[Operation]) -> bool {
    let mut standing = from.clone();
    standing.situation = standing.situation.looked(going);
    for operation in operations {
        if standing.operate(going, *operation, WAIVED).is_err() {
            return false;
        }
        standing.situation = standing.situation.looked(going);
    }
    differences(going, &standing.situation.state).0.is_empty()
}

/// Whether actions lead from a situation to the baseline, with every rule kept and every look so: then, how each of
/// them is read.
fn leads_back(going: &Setting, from: &Standing, actions: &[Action]) -> Option<Vec<Read>> {
    let acts = actions.iter().map(|action| act(going, action).ok()).collect::<Option<Vec<Act<'_>>>>()?;
    let mut standing = from.clone();
    let mut spots = Vec::new();
    for (position, one) in acts.iter().enumerate() {
        let at = standing.spot(going, &acts, position);
        let state = &standing.situation.state;
        let number = |unit| if state.units[unit].powered { state.units[unit].id } else { state.units[unit].saved_id };
        spots.push((at, going.units.ids().map(number).collect()));
        standing.go(going, one, at, WAIVED).ok()?;
    }
    differences(going, &standing.situation.state).0.is_empty().then_some(spots)
}

/// With looks by which a step that was left out, or a run of them at another place, shows before it does harm.
fn watched(going: &Setting, from: &Standing, actions: &[Action], own: usize) -> Vec<Action> {
    let placed = place_on_way_back(going, from, actions.to_vec(), own);
    if leads_back(going, from, &placed).is_some() { placed } else { actions.to_vec() }
}

/// Operations with the looks and waits that a person needs: the right console, whoever boots, new legs that
/// carry before others go, and the whole stack at the end.
fn dressed(going: &Setting, from: &Standing, operations: &[Operation]) -> Option<Vec<Action>> {
    let mut standing = from.clone();
    let mut actions = Vec::new();
    let mut segment = None;
    for operation in operations.iter().copied() {
        let at = operation_spot(going, &standing.situation, operation);
        if by_hands(operation) {
            segment = None;
        } else if segment != Some(at) {
            let facts = opening(going, &standing.situation, at);
            actions.push(expect(facts, "this is another console: go to the right one, and look again"));
            segment = Some(at);
        }
        let mut next = standing.clone();
        let mut done = next.operate(going, operation, WAIVED);
        if let Err(Stop::Broken(breach)) = &done
            && breach.rule == Rule::UplinksUp
        {
            let facts = new_legs(going, &standing.situation);
            facts.iter().for_each(|fact| learn(going, &mut standing.situation, fact));
            actions.push(expect(facts, "leave the other leg as it is, and look for light at both ends of this one"));
            next = standing.clone();
            done = next.operate(going, operation, WAIVED);
        }
        let done = done.ok()?;
        standing = next;
        actions.push(named(going, operation));
        let booted = match operation {
            Operation::Restart(unit) | Operation::PowerOn(unit) => Some(unit),
            _ => None,
        };
        for unit in done.events.restarts.iter().chain(booted) {
            let inside = standing.situation.incumbent(going).contains(unit);
            let until = if inside { Until::Ready } else { Until::Up };
            actions.push(Action::Await { unit: going.units[unit].key.clone(), until, limit: limit(going, until) });
            if inside {
                standing.situation.found_ready(unit);
            }
            segment = None;
        }
    }
    let whole = looks::whole_stack(going, &standing.situation);
    if !operations.is_empty() && !standing.situation.incumbent(going).is_empty() {
        let text = "the stack is not as it was: find out why it differs before anything else is done";
        actions.push(expect(whole, text));
    }
    Some(actions)
}

fn expect(facts: Vec<Fact>, otherwise: &str) -> Action {
    Action::Expect { facts, otherwise: Some(otherwise.to_owned()) }
}

/// What tells the console, without what differs between the steps that the way may serve, if that is enough.
fn opening(going: &Setting, situation: &Situation, at: Spot) -> Vec<Fact> {
    let (all, _) = looks::place(going, situation, at);
    let plain: Vec<Fact> = all
        .iter()
        .map(|fact| match fact {
            Fact::Here { id, serial, .. } => Fact::Here { id: *id, serial: serial.clone(), members: None },
            other => other.clone(),
        })
        .collect();
    if proves_place(going, situation, at, &plain) { plain } else { all }
}

/// Pairs with legs that carry and that no look has found carrying yet.
fn new_legs(going: &Setting, situation: &Situation) -> Vec<Fact> {
    let fresh = situation.memory.unproven.iter().filter(|leg| situation.carries(going, *leg));
    let pairs: std::collections::BTreeSet<_> = fresh.map(|leg| going.legs[leg].uplink).collect();
    pairs.into_iter().map(|pair| looks::pair_as_it_is(going, situation, pair)).collect()
}

/// How long a boot may take at worst, in whole minutes.
pub(super) fn limit(setting: &Setting, until: Until) -> Minutes {
    let minutes = &setting.traits.minutes;
    let limit = match until {
        Until::Up => minutes.restart.at(Point::Worst),
        Until::Joined | Until::Ready => minutes.restart.at(Point::Worst) + minutes.sync.at(Point::Worst),
    };
    Minutes::hundredths((limit.as_hundredths() + 99) / 100 * 100)
}

/// As the plan writes them; `at` is filled in by the rehearsal.
fn documents(ways: Vec<Way>) -> Vec<WayBack> {
    let document = |way: Way| WayBack {
        after: [way.first as u32 + 1, way.last as u32 + 1],
        steps: way.actions.into_iter().map(|action| WayBackStep { at: None, action }).collect(),
        then: way.goes_on.then_some(way.first as u32),
    };
    ways.into_iter().rev().map(document).collect()
}
