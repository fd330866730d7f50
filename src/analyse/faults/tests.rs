//! Faults of stacks whose answers are worked out by hand.

use crate::diag::Findings;
use crate::lower::lower;
use crate::model::document::FaultEntry;
use crate::model::naming::setting;
use crate::model::setting::Setting;
use crate::model::table::{Id, UnitId, UnitSet};
use crate::source::Sources;
use crate::{intent, platform};

use super::{Field, Survey, advice, cold_starts, entry, pair_entry, survives};

/// Members `m-1` … `m-n`, the first the primary, the second the standby; legs of one pair, guarded or not.
pub struct Mill {
    pub ring: bool,
    pub members: usize,
    pub cables: usize,
    pub legs: Vec<usize>,
    pub guard: bool,
    pub extra: &'static str,
}

pub const RING: Mill = Mill { ring: true, members: 4, cables: 1, legs: Vec::new(), guard: false, extra: "" };

impl Mill {
    pub fn setting(&self) -> Setting {
        let topology = if self.ring { "ring" } else { "chain" };
        let mut text = format!("format: 1\nstack: mill\ndialect: neutral\ntopology: {topology}\nmembers:\n");
        let ports = |first: usize| {
            let list: Vec<String> = (0..self.cables).map(|cable| format!("\"{}\"", first + cable * 2)).collect();
            list.join(", ")
        };
        for number in 1..=self.members {
            let role = ["primary", "standby", "member"][(number - 1).min(2)];
            let sides = format!("{{west: [{}], east: [{}]}}", ports(49), ports(50));
            text +=
                &format!("  - {{name: m-{number}, id: {number}, role: {role}, serial: S-{number}, sides: {sides}}}\n");
        }
        if !self.legs.is_empty() {
            text += "uplink_pairs:\n  - name: yard\n    legs:\n";
        }
        for (place, number) in self.legs.iter().enumerate() {
            let port = 40 + place;
            text += &format!(
                "      - {{member: m-{number}, port: \"{port}\", far: {{device: far-{place}, port: \"1\"}}}}\n"
            );
        }
        if self.guard {
            text += "split_guard: yard\n";
        }
        text += self.extra;
        let (mut sources, mut findings) = (Sources::default(), Findings::default());
        let file = sources.add("intent.yaml", text);
        let intent = intent::read(&sources, file, &mut findings).unwrap();
        let platform = platform::builtin("neutral", intent.dialect.span, &mut sources, &mut findings).unwrap();
        let problem = lower(&intent, Some(&intent), &platform, &mut findings)
            .unwrap_or_else(|_| panic!("{:?}", findings.all().iter().map(|one| &one.message).collect::<Vec<_>>()));
        setting(&problem.documents()).unwrap()
    }
}

fn field(setting: &Setting) -> Field<'_> {
    Field::new(setting, &setting.target, setting.all_units())
}

fn all(setting: &Setting) -> Vec<FaultEntry> {
    let survey = Survey::of(field(setting));
    let singles = survey.field.singles.iter().zip(&survey.singles);
    let singles = singles.map(|(one, outcome)| entry(setting, &[one.fault], outcome));
    singles.chain(survey.pairs().map(|pair| pair_entry(&survey, &pair))).collect()
}

fn of<'e>(all: &'e [FaultEntry], faults: &[&str]) -> &'e FaultEntry {
    all.iter().find(|entry| entry.faults == faults).unwrap_or_else(|| panic!("{faults:?} was not tried"))
}

fn owned(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

#[test]
fn kinds_stand_in_their_order_and_each_in_natural_order() {
    let setting = Mill { cables: 2, members: 11, legs: vec![10, 2], ..RING }.setting();
    let names: Vec<String> =
        all(&setting).into_iter().filter(|one| one.faults.len() == 1).flat_map(|one| one.faults).collect();
    let kinds: Vec<&str> = names.iter().map(|name| name.split_once(' ').unwrap().0).collect();
    let count = |kind| kinds.iter().filter(|one| **one == kind).count();
    assert_eq!(["link", "cable", "unit", "leg"].map(count), [11, 22, 11, 2]);
    assert!(kinds.is_sorted_by_key(|kind| ["link", "cable", "unit", "leg"].iter().position(|one| one == kind)));
    // the ring closes from the east of m-11 to the west of m-1, whose first cable is in port 49
    assert_eq!(names[..3], owned(&["link m-1:49 m-11:50", "link m-1:50 m-2:49", "link m-2:50 m-3:49"]));
    assert_eq!(names[11..14], owned(&["cable m-1:49 m-11:50", "cable m-1:50 m-2:49", "cable m-1:51 m-11:52"]));
    assert_eq!(names[44..], owned(&["leg m-2:41", "leg m-10:40"]));
}

#[test]
fn an_election_that_is_not_decided_is_advised_against() {
    let mut setting = Mill { ring: false, legs: vec![1, 4], ..RING }.setting();
    let tied = || advice(&Survey::of(field(&setting)), &[]).into_iter().find(|told| told.contains("not decided"));
    assert_eq!(tied(), None);
    let of = |number: usize| UnitId::at(number - 1);
    let same = setting.target.units[of(3)].priority;
    setting.target.units[of(4)].priority = same;
    setting.target.units[of(4)].saved_priority = same;
    // nobody knows the address of either, and both have been up as long
    let told = advice(&Survey::of(field(&setting)), &[]);
    assert_eq!(
        told.first().map(String::as_str),
        Some(
            "give m-3 and m-4 priorities of their own: after 2 of 9 single faults an election is not decided, for \
instance after `link m-2:50 m-3:49`"
        )
    );
}

#[test]
fn a_ring_survives_any_single_fault_and_a_chain_does_not() {
    for (ring, cut) in [(true, false), (false, true)] {
        let setting = Mill { ring, legs: vec![1, 3], ..RING }.setting();
        let survey = Survey::of(field(&setting));
        let lost = survey.singles.iter().any(|one| !survives(&survey.healthy, one));
        assert_eq!(lost, cut, "ring: {ring}");
        assert!(survives(&survey.healthy, &survey.healthy));
    }
}

#[test]
fn a_chain_breaks_where_it_is_cut_and_the_far_part_restarts_when_it_heals() {
    let setting = Mill { ring: false, legs: vec![1, 2], ..RING }.setting();
    let all = all(&setting);
    let cut = of(&all, &["link m-2:50 m-3:49"]);
    assert_eq!(cut.islands, [owned(&["m-1", "m-2"]), owned(&["m-3", "m-4"])]);
    assert_eq!(cut.primary, [Some("m-1".to_owned()), Some("m-3".to_owned())]);
    assert_eq!((&cut.in_service, &cut.cut_off), (&owned(&["m-1", "m-2"]), &owned(&["m-3", "m-4"])));
    assert_eq!((&cut.uplinks_up, &cut.restarts_on_heal), (&owned(&["yard"]), &owned(&["m-3", "m-4"])));
    assert!(!cut.split_brain);
    // a failed unit is neither cut off nor among those that restart
    let failed = of(&all, &["unit m-2"]);
    assert_eq!((&failed.cut_off, &failed.restarts_on_heal), (&owned(&["m-3", "m-4"]), &owned(&["m-3", "m-4"])));
    // the primary fails: the standby leads, and the primary comes back into a led island
    let lead = of(&all, &["unit m-1"]);
    assert_eq!((&lead.primary, &lead.restarts_on_heal), (&vec![Some("m-2".to_owned())], &Vec::new()));
}

#[test]
fn without_a_guard_two_islands_with_a_leg_are_a_split_brain_and_with_one_the_better_stays() {
    let faults = ["link m-1:49 m-4:50", "link m-2:50 m-3:49"];
    let open = Mill { legs: vec![1, 3], ..RING }.setting();
    let open = all(&open);
    let brains = of(&open, &faults);
    assert!(brains.split_brain);
    assert_eq!((brains.in_service.len(), brains.cut_off.len()), (4, 0));
    let guarded = Mill { legs: vec![1, 3], guard: true, ..RING }.setting();
    let guarded = all(&guarded);
    let kept = of(&guarded, &faults);
    assert!(!kept.split_brain);
    assert_eq!((&kept.in_service, &kept.cut_off), (&owned(&["m-1", "m-2"]), &owned(&["m-3", "m-4"])));
}

#[test]
fn a_guard_that_lost_a_leg_on_a_unit_that_is_up_is_not_relied_on() {
    let setting = Mill { ring: false, legs: vec![1, 3, 4], guard: true, ..RING }.setting();
    let all = all(&setting);
    assert!(!of(&all, &["link m-1:50 m-2:49"]).split_brain);
    assert!(of(&all, &["link m-1:50 m-2:49", "leg m-4:42"]).split_brain);
    // on a unit that is off, it is the unit that is missing
    assert!(!of(&all, &["link m-1:50 m-2:49", "unit m-4"]).split_brain);
    let both = ["unit m-4", "leg m-4:42"];
    assert_eq!(of(&all, &both).cut_off, Vec::<String>::new());
}

#[test]
fn one_cable_of_several_changes_no_island_and_both_are_the_link() {
    let setting = Mill { ring: false, cables: 2, legs: vec![1, 4], ..RING }.setting();
    let all = all(&setting);
    assert_eq!(of(&all, &["cable m-2:50 m-3:49"]).islands.len(), 1);
    let both = of(&all, &["cable m-2:50 m-3:49", "cable m-2:52 m-3:51"]);
    let link = of(&all, &["link m-2:50 m-3:49"]);
    assert_eq!(FaultEntry { faults: link.faults.clone(), ..both.clone() }, *link);
    let own = ["link m-2:50 m-3:49", "cable m-2:50 m-3:49"];
    assert!(!all.iter().any(|entry| entry.faults == own), "a link was tried with its own cable");
    let foreign = ["link m-2:50 m-3:49", "cable m-1:50 m-2:49"];
    assert_eq!(of(&all, &foreign).islands, link.islands);
}

/// What is not tried anew must come out as if it were.
#[test]
fn shortcuts_say_what_trying_says() {
    for (ring, cables, legs) in [(true, 1, vec![1, 3]), (false, 2, vec![2, 3]), (true, 3, vec![1, 2, 4])] {
        let setting = Mill { ring, cables, legs, guard: true, ..RING }.setting();
        let survey = Survey::of(field(&setting));
        for pair in survey.pairs() {
            let (a, b) = (survey.field.singles[pair.of.0], survey.field.singles[pair.of.1]);
            let wreck = survey.field.strike(a.cables.or(b.cables), a.down.or(b.down));
            assert_eq!(survey.field.serve(&wreck, a.legs.or(b.legs)), pair.outcome, "{:?} {:?}", a.fault, b.fault);
        }
    }
}

#[test]
fn a_stack_without_uplinks_has_nothing_in_service() {
    let setting = RING.setting();
    let survey = Survey::of(field(&setting));
    assert_eq!((survey.healthy.in_service, survey.healthy.cut_off), (UnitSet::EMPTY, setting.all_units()));
    // it survives as one piece all the same
    assert!(survey.singles.iter().all(|one| survives(&survey.healthy, one)));
}

#[test]
fn every_unit_can_lead_after_a_staggered_cold_start() {
    for members in [1, 2, 3, 6, 8] {
        let setting = Mill { members, ring: members > 2, ..RING }.setting();
        let field = field(&setting);
        let found = cold_starts(&field);
        assert_eq!(found.every_order, members <= super::cold::EXACT);
        assert_eq!(found.leaders, setting.all_units(), "{members} members");
        assert_eq!(found.order.len(), members);
        assert!(found.restarts <= found.at_most && found.at_most <= (members - 1) * members.saturating_sub(2) / 2);
    }
    // a chain of three: the ends come first, each leads; the middle joins them, and the worse end restarts
    let setting = Mill { members: 3, ring: false, ..RING }.setting();
    let found = cold_starts(&field(&setting));
    assert_eq!((found.restarts, found.at_most), (1, 1));
}

/// Beyond the members of which every order is tried, the orders that are tried come near to the worst.
#[test]
fn orders_that_are_tried_are_as_bad_as_the_worst_of_few_members() {
    for (ring, members) in [(false, 4), (true, 5), (false, 6), (true, 6)] {
        let setting = Mill { members, ring, ..RING }.setting();
        let (exact, some) = (cold_starts(&field(&setting)), super::cold::some_orders(&field(&setting)));
        assert_eq!(exact.leaders, some.leaders);
        assert!(some.restarts <= exact.restarts && exact.restarts <= some.at_most);
        assert_eq!(some.restarts, exact.restarts, "ring: {ring}, {members} members");
    }
}
