//! Port speeds, what the uplinks must carry and what members ask for -> the load on each stack link, healthy and after
//! each single fault, and what limits.
//!
//! What a member asks for goes the shortest way, counted in stack links, to the nearest members with a living leg; where
//! several first steps are equally short, it is shared evenly between them at each of them. (An IEEE 802.1AX group that
//! spans members may be told to share in another way; this is the common one, which keeps traffic off the stack links.)
//! Members without a `demand_gbps` share evenly what the uplinks must carry beyond the demands that are given: the sum of
//! the pairs' `capacity_gbps`, else of their legs' speeds.

use super::faults::{Fault, Home, Survey, fault_name, links, names};
use crate::model::setting::Setting;
use crate::model::table::{CableId, CableSet, Id, LegSet, PortId, UnitId, UnitSet};

/// What is known of speeds and demands. All in Gbit/s.
#[derive(Clone, Copy)]
pub struct Known<'a> {
    /// The speed of a port.
    pub speed: &'a dyn Fn(PortId) -> Option<f64>,
    /// What a member asks of the uplinks.
    pub demand: &'a dyn Fn(UnitId) -> Option<f64>,
    /// What an uplink pair must carry, by its name.
    pub must_carry: &'a dyn Fn(&str) -> Option<f64>,
}

/// The load on one thing.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// The stack link, named as in faults, or `uplinks`.
    pub on: String,
    /// What it carries.
    pub gbps: f64,
    /// What it can carry.
    pub capacity_gbps: f64,
}

impl Load {
    /// In hundredths of its capacity.
    #[must_use]
    pub fn percent(&self) -> f64 {
        if self.capacity_gbps > 0.0 { self.gbps * 100.0 / self.capacity_gbps } else { f64::INFINITY }
    }
}

/// Loads of the finished stack.
#[derive(Clone, Debug, PartialEq)]
pub struct Capacity {
    /// What all members ask for.
    pub demand_gbps: f64,
    /// What all uplinks can carry.
    pub uplinks_gbps: f64,
    /// Each stack link's load without any fault, in the order of faults.
    pub healthy: Vec<Load>,
    /// Each stack link's highest load after any single fault, with that fault.
    pub worst: Vec<(Load, String)>,
    /// The highest load of the uplinks after any single fault that leaves one, with that fault.
    pub worst_uplinks: Option<(Load, String)>,
}

impl Capacity {
    /// What asks for most of its capacity without any fault: a link, or the uplinks.
    #[must_use]
    pub fn limit(&self) -> Load {
        let uplinks = Load { on: "uplinks".to_owned(), gbps: self.demand_gbps, capacity_gbps: self.uplinks_gbps };
        self.healthy
            .iter()
            .fold(uplinks, |most, load| if load.percent() > most.percent() { load.clone() } else { most })
    }

    /// The stack link with the highest load after a single fault, with that fault.
    #[must_use]
    pub fn worst_link(&self) -> Option<&(Load, String)> {
        self.worst.iter().reduce(|most, one| if one.0.percent() > most.0.percent() { one } else { most })
    }
}

/// A stack link with what it can carry.
struct Wire {
    name: String,
    cables: Vec<(CableId, f64)>,
    ends: (UnitId, UnitId),
}

/// The stack as a net of links, with what each unit asks for.
struct Net<'a> {
    setting: &'a Setting,
    members: UnitSet,
    wires: Vec<Wire>,
    legs: Vec<(Home, f64)>,
    demands: Vec<f64>,
}

/// Works it out; none where a speed of a link or a leg is not known, or nothing is asked for.
#[must_use]
pub fn capacity(survey: &Survey<'_>, known: Known<'_>) -> Option<Capacity> {
    let (field, setting) = (&survey.field, survey.field.setting);
    let legs = leg_speeds(survey, known)?;
    let demands = demands(survey, known, &legs)?;
    let net = Net { setting, members: field.members, wires: wires(survey, known)?, legs, demands };
    let healthy = net.flow(&Cut { up: field.members, cables: CableSet::EMPTY, lost: LegSet::EMPTY });
    let mut worst: Vec<Option<(Load, String)>> = vec![None; net.wires.len()];
    let mut worst_uplinks: Option<(Load, String)> = None;
    for single in &field.singles {
        let flow = net.flow(&Cut { up: field.members.minus(single.down), cables: single.cables, lost: single.legs });
        let name = fault_name(setting, single.fault);
        for (load, most) in flow.loads.into_iter().zip(&mut worst) {
            keep_worse(most, load, &name);
        }
        keep_worse(&mut worst_uplinks, flow.uplinks, &name);
    }
    Some(Capacity {
        demand_gbps: net.demands.iter().sum(),
        uplinks_gbps: healthy.uplinks.capacity_gbps,
        healthy: healthy.loads,
        worst: worst.into_iter().flatten().collect(),
        worst_uplinks,
    })
}

/// Keeps the higher load; what is gone carries nothing.
fn keep_worse(most: &mut Option<(Load, String)>, load: Load, fault: &str) {
    if load.capacity_gbps > 0.0 && most.as_ref().is_none_or(|(one, _)| load.percent() > one.percent()) {
        *most = Some((load, fault.to_owned()));
    }
}

/// The stack links; a cable is as fast as its slower end.
fn wires(survey: &Survey<'_>, known: Known<'_>) -> Option<Vec<Wire>> {
    let (field, setting) = (&survey.field, survey.field.setting);
    let speed = |cable: CableId| {
        let speeds: Option<Vec<f64>> = setting.cables[cable].unit_ends().map(known.speed).collect();
        speeds?.into_iter().reduce(f64::min)
    };
    let wire = |cables: Vec<CableId>| {
        let first = *cables.first()?;
        let mut ports = setting.cables[first].unit_ends();
        let ends = (setting.unit_of(ports.next()?), setting.unit_of(ports.next()?));
        let cables: Option<Vec<(CableId, f64)>> =
            cables.into_iter().map(|cable| Some((cable, speed(cable)?))).collect();
        Some(Wire { name: fault_name(setting, Fault::Link(first)), cables: cables?, ends })
    };
    links(setting, field.state, field.members).into_iter().map(wire).collect()
}

fn leg_speeds(survey: &Survey<'_>, known: Known<'_>) -> Option<Vec<(Home, f64)>> {
    let setting = survey.field.setting;
    let speed = |home: &Home| {
        let port = setting.legs[home.leg].ports.iter().copied().find(|port| setting.unit_of(*port) == home.unit)?;
        Some((*home, (known.speed)(port)?))
    };
    let legs: Option<Vec<_>> = survey.field.terms.homes.iter().map(speed).collect();
    legs.filter(|legs| !legs.is_empty())
}

/// What each unit asks for, by its position; a unit that is no member asks for nothing.
fn demands(survey: &Survey<'_>, known: Known<'_>, legs: &[(Home, f64)]) -> Option<Vec<f64>> {
    let (setting, members) = (survey.field.setting, survey.field.members);
    let given: Vec<Option<f64>> =
        setting.units.ids().map(|unit| if members.contains(unit) { (known.demand)(unit) } else { Some(0.0) }).collect();
    let silent = given.iter().filter(|one| one.is_none()).count();
    let carried = setting.uplinks.entries().map(|(uplink, row)| {
        let own = || legs.iter().filter(|(home, _)| home.uplink == uplink).map(|(_, gbps)| gbps).sum::<f64>();
        if survey.healthy.uplinks_up.contains(uplink) { (known.must_carry)(&row.name).unwrap_or_else(own) } else { 0.0 }
    });
    let rest = (carried.sum::<f64>() - given.iter().flatten().sum::<f64>()).max(0.0);
    let share = if silent > 0 { rest / silent as f64 } else { 0.0 };
    let demands: Vec<f64> = given.into_iter().map(|one| one.unwrap_or(share)).collect();
    demands.iter().any(|one| *one > 0.0).then_some(demands)
}

/// What is missing.
struct Cut {
    up: UnitSet,
    cables: CableSet,
    lost: LegSet,
}

/// What flows.
struct Flow {
    loads: Vec<Load>,
    uplinks: Load,
}

impl Net<'_> {
    /// What each link and the uplinks carry.
    fn flow(&self, cut: &Cut) -> Flow {
        let mut loads: Vec<Load> = self.wires.iter().map(|wire| wire.idle(cut)).collect();
        let open: Vec<bool> = loads.iter().map(|load| load.capacity_gbps > 0.0).collect();
        let legs = || self.legs.iter().filter(|(home, _)| cut.up.contains(home.unit) && !cut.lost.contains(home.leg));
        let order = self.distances(&open, legs().map(|(home, _)| home.unit).collect());
        let distance = |unit: UnitId| order.iter().find(|(other, _)| *other == unit).map(|(_, far)| *far);
        let asked = |unit: UnitId| self.demands.get(unit.position()).copied().unwrap_or(0.0);
        let mut carried: Vec<f64> =
            self.setting.units.ids().map(|unit| if distance(unit).is_some() { asked(unit) } else { 0.0 }).collect();
        let served = carried.iter().sum();
        // the farthest first: each hands on what it carries
        for (unit, far) in order.iter().rev().filter(|(_, far)| *far > 0) {
            let nearer = || self.next_to(&open, *unit).filter(|(_, next)| distance(*next) == Some(far - 1));
            let share = carried.get(unit.position()).copied().unwrap_or(0.0) / nearer().count().max(1) as f64;
            for (wire, next) in nearer() {
                if let (Some(load), Some(sum)) = (loads.get_mut(wire), carried.get_mut(next.position())) {
                    load.gbps += share;
                    *sum += share;
                }
            }
        }
        let capacity_gbps = legs().map(|(_, gbps)| gbps).sum();
        Flow { loads, uplinks: Load { on: "uplinks".to_owned(), gbps: served, capacity_gbps } }
    }

    /// Units with how many links they are from the nearest gate, the nearest first.
    fn distances(&self, open: &[bool], gates: UnitSet) -> Vec<(UnitId, usize)> {
        let mut order: Vec<(UnitId, usize)> = gates.and(self.members).iter().map(|unit| (unit, 0)).collect();
        let (mut seen, mut at) = (gates, 0);
        while let Some((unit, far)) = order.get(at).copied() {
            for (_, next) in self.next_to(open, unit) {
                if !seen.contains(next) {
                    seen.insert(next);
                    order.push((next, far + 1));
                }
            }
            at += 1;
        }
        order
    }

    /// The links of a unit that work, each with the unit at its other end.
    fn next_to<'s>(&'s self, open: &'s [bool], unit: UnitId) -> impl Iterator<Item = (usize, UnitId)> + 's {
        let working = self.wires.iter().zip(open).enumerate().filter(|(_, (_, open))| **open);
        working.filter_map(move |(at, (wire, _))| match wire.ends {
            (one, other) if one == unit => Some((at, other)),
            (one, other) if other == unit => Some((at, one)),
            _ => None,
        })
    }
}

impl Wire {
    /// The link without any load.
    fn idle(&self, cut: &Cut) -> Load {
        let up = cut.up.contains(self.ends.0) && cut.up.contains(self.ends.1);
        let cables = self.cables.iter().filter(|(cable, _)| up && !cut.cables.contains(*cable));
        Load { on: self.name.clone(), gbps: 0.0, capacity_gbps: cables.map(|(_, gbps)| gbps).sum() }
    }
}

/// Loads in words, a line each; the members that ask are named where something is short.
#[must_use]
pub fn told(survey: &Survey<'_>, capacity: &Capacity) -> Vec<String> {
    let limit = capacity.limit();
    let over = capacity.demand_gbps / capacity.uplinks_gbps;
    let mut lines = vec![format!(
        "{} members ask for {} Gbit/s of uplinks with {}: {over:.2} to 1; what limits without a fault is {} at {} %",
        names(survey.field.setting, survey.field.members).len(),
        short(capacity.demand_gbps),
        short(capacity.uplinks_gbps),
        limit.on,
        short(limit.percent())
    )];
    lines.extend(capacity.healthy.iter().map(|load| {
        let after = capacity.worst.iter().find(|(worst, _)| worst.on == load.on);
        let after = after.map_or_else(String::new, |(worst, fault)| {
            format!("; at most {} % after `{fault}`", short(worst.percent()))
        });
        format!(
            "{}: {} of {} Gbit/s, {} %{after}",
            load.on,
            short(load.gbps),
            short(load.capacity_gbps),
            short(load.percent())
        )
    }));
    lines.extend(capacity.worst_uplinks.as_ref().map(|(load, fault)| {
        let (gbps, capacity, percent) = (short(load.gbps), short(load.capacity_gbps), short(load.percent()));
        format!("uplinks: at most {gbps} of {capacity} Gbit/s, {percent} % after `{fault}`")
    }));
    lines
}

/// A number with one decimal at most.
fn short(number: f64) -> String {
    let text = format!("{number:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::faults::finished;
    use crate::analyse::faults::tests::{Mill, RING};

    /// Stack ports of 40 Gbit/s, uplinks of 10; every member asks for 4.
    fn of(mill: &Mill, demand: Option<f64>) -> Option<Capacity> {
        let setting = mill.setting();
        let speed = |port: PortId| Some(if setting.ports[port].stacking { 40.0 } else { 10.0 });
        let survey = Survey::of(finished(&setting));
        capacity(&survey, Known { speed: &speed, demand: &|_| demand, must_carry: &|_| None })
    }

    fn gbps(capacity: &Capacity) -> Vec<f64> {
        capacity.healthy.iter().map(|load| load.gbps).collect()
    }

    #[test]
    fn a_chain_with_its_legs_at_one_end_carries_all_over_the_last_link() {
        let found = of(&Mill { ring: false, legs: vec![1, 2], ..RING }, Some(4.0)).unwrap();
        assert_eq!(gbps(&found), [0.0, 8.0, 4.0]);
        assert_eq!((found.demand_gbps, found.uplinks_gbps), (16.0, 20.0));
        // the uplinks limit: 16 of 20, where the fullest link carries 8 of 40
        assert_eq!((found.limit().on.as_str(), found.limit().percent()), ("uplinks", 80.0));
        let (load, fault) = found.worst_link().unwrap();
        assert_eq!((load.on.as_str(), load.gbps, fault.as_str()), ("link m-1:50 m-2:49", 12.0, "leg m-2:41"));
        let (uplinks, fault) = found.worst_uplinks.unwrap();
        assert_eq!((uplinks.percent(), fault.as_str()), (160.0, "leg m-1:40"));
    }

    #[test]
    fn equal_ways_share() {
        // m-2 and m-4 are as near to m-1 as to m-3
        let found = of(&Mill { legs: vec![1, 3], ..RING }, Some(4.0)).unwrap();
        assert_eq!(gbps(&found), [2.0; 4]);
    }

    #[test]
    fn members_that_say_nothing_share_what_the_uplinks_carry() {
        let found = of(&Mill { legs: vec![1, 3], ..RING }, None).unwrap();
        assert_eq!((found.demand_gbps, gbps(&found)), (20.0, vec![2.5; 4]));
        assert_eq!(of(&RING, Some(4.0)), None);
        assert_eq!(of(&Mill { legs: vec![1, 3], ..RING }, Some(0.0)), None);
    }
}
