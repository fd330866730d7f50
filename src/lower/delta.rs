//! Two layouts -> the difference in the words of the intent.

use std::collections::BTreeSet;

use super::Delta;
use super::layout::{Layout, Placed, in_order, sorted};
use super::units::is_replaced;
use crate::intent::{Intent, UplinkPair};
use crate::model::document::Role;

/// What changes. Without a stack as it stands, everything is new and nothing else is said.
pub(super) fn between(old: Option<(&Intent, &Layout)>, new: (&Intent, &Layout)) -> Delta {
    let names = |layout: &Layout| layout.members.iter().map(|member| member.name.clone()).collect::<Vec<_>>();
    let Some((was, before)) = old else {
        let formed = new.0.uplink_pairs.iter().map(|pair| pair.name.to_string()).collect();
        let guard = new.0.split_guard.as_ref().map(|guard| (None, Some(guard.to_string())));
        return Delta { new_stack: true, added: names(new.1), uplinks_formed: formed, guard, ..Delta::default() };
    };
    let (is, after) = new;
    let stay: Vec<(&Placed, &Placed)> =
        after.members.iter().filter_map(|new| before.member(&new.name).map(|old| (old, new))).collect();
    let mut delta = Delta {
        added: names(after).into_iter().filter(|name| before.member(name).is_none()).collect(),
        removed: names(before).into_iter().filter(|name| after.member(name).is_none()).collect(),
        ..Delta::default()
    };
    for (old, new) in stay {
        if is_replaced(old, new) {
            delta.replaced.push(new.name.clone());
            continue;
        }
        if old.priority != new.priority {
            delta.reweighted.push(new.name.clone());
        }
        if old.id != new.id {
            delta.renumbered.push((new.name.clone(), old.id, new.id));
        }
    }
    let primary = |layout: &Layout| {
        layout.members.iter().find(|member| member.role == Role::Primary).map(|member| member.name.clone())
    };
    delta.primary_moves = primary(before).zip(primary(after)).filter(|(old, new)| old != new);
    let topologies = (was.topology.value, is.topology.value);
    delta.topology = Some(topologies).filter(|(old, new)| old != new);
    cables(&mut delta, before, after);
    uplinks(&mut delta, was, is);
    delta
}

fn cables(delta: &mut Delta, before: &Layout, after: &Layout) {
    let ends = |layout: &Layout| -> BTreeSet<[String; 2]> {
        let both = |name: &str| before.member(name).is_some() && after.member(name).is_some();
        let cables = layout.cables.iter().filter(|cable| both(&cable.east.0) && both(&cable.west.0));
        cables.map(|cable| sorted([&cable.east, &cable.west].map(|(name, port)| format!("{name}:{port}")))).collect()
    };
    let (was, is) = (ends(before), ends(after));
    delta.cables_added = in_order(is.difference(&was).cloned());
    delta.cables_removed = in_order(was.difference(&is).cloned());
}

fn uplinks(delta: &mut Delta, was: &Intent, is: &Intent) {
    let legs = |pair: &UplinkPair| -> BTreeSet<String> { pair.legs.iter().map(|leg| leg.end()).collect() };
    let of = |intent: &Intent, name: &str| intent.uplink_pairs.iter().find(|pair| pair.name.as_str() == name).map(legs);
    for pair in &is.uplink_pairs {
        match of(was, pair.name.as_str()) {
            None => delta.uplinks_formed.push(pair.name.to_string()),
            Some(old) if old != legs(pair) => delta.uplinks_changed.push(pair.name.to_string()),
            Some(_) => {}
        }
    }
    let gone = was.uplink_pairs.iter().filter(|pair| of(is, pair.name.as_str()).is_none());
    delta.uplinks_dropped = gone.map(|pair| pair.name.to_string()).collect();
    let guard = |intent: &Intent| intent.split_guard.as_ref().map(|guard| guard.to_string());
    delta.guard = Some((guard(was), guard(is))).filter(|(old, new)| old != new);
}
