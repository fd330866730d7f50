//! The roles of an intent against the elections of its platform: after a cold start, who leads?

use std::cmp::Ordering;

use super::layout::{Layout, Placed};
use crate::diag::{Code, Diagnostic, Findings};
use crate::model::Traits;
use crate::model::document::Role;
use crate::model::traits::{Criterion, Wins};
use crate::platform::Platform;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&ROLE_LOSES, &ELECTION_UNDECIDED];

/// The member of a role would not win it.
pub(super) const ROLE_LOSES: Code = Code {
    name: "role-loses-election",
    explanation: "After a power failure all members start together and elect their primary anew. With the priorities \
written here another member would win than the one of role primary (or, among the others, of role standby), so the stack \
would not come back as it was. Leave the priorities out, and they are derived from the roles.",
};
/// Nothing decides who leads.
pub(super) const ELECTION_UNDECIDED: Code = Code {
    name: "election-undecided",
    explanation: "Two members tie for the primary's role in everything that the platform compares after a power failure. \
Who leads would be chance. Give them different priorities, or their MAC addresses where those decide.",
};

/// Looks whether every role wins its election.
pub(super) fn check(layout: &Layout, platform: &Platform, findings: &mut Findings) {
    let (low, high) = platform.traits.priority.range;
    let out_of_range = layout.members.iter().any(|member| !(low..=high).contains(&member.priority));
    let of = |role: Role| {
        let mut all = layout.members.iter().filter(move |member| member.role == role);
        all.next().filter(|_| all.next().is_none())
    };
    // two primaries, or a priority that the platform does not take, are faults of their own
    let Some(primary) = of(Role::Primary).filter(|_| !out_of_range) else { return };
    for other in layout.members.iter().filter(|member| member.name != primary.name) {
        match compare(primary, other, &platform.traits) {
            Some(Ordering::Less) => {}
            Some(Ordering::Greater) => loses(primary, other, "primary", findings),
            Some(Ordering::Equal) | None => undecided(primary, other, findings),
        }
    }
    let Some(standby) = of(Role::Standby) else { return };
    for other in layout.members.iter().filter(|member| member.role == Role::Member) {
        if compare(standby, other, &platform.traits) == Some(Ordering::Greater) {
            loses(standby, other, "standby", findings);
        }
    }
}

/// Which of two wins where both start together, so that uptime says nothing; less is better.
fn compare(one: &Placed, other: &Placed, traits: &Traits) -> Option<Ordering> {
    traits
        .election
        .boot
        .iter()
        .map(|criterion| match criterion {
            Criterion::Priority => match traits.priority.wins {
                Wins::Highest => other.priority.cmp(&one.priority),
                Wins::Lowest => one.priority.cmp(&other.priority),
            },
            // all start at once, and nobody leads yet
            Criterion::Uptime | Criterion::Acting | Criterion::Size => Ordering::Equal,
            Criterion::LowestMac => by_mac(one, other, false),
            Criterion::HighestMac => by_mac(one, other, true),
            Criterion::LowestId => one.id.cmp(&other.id),
        })
        .find(|order| order.is_ne())
}

fn by_mac(one: &Placed, other: &Placed, highest: bool) -> Ordering {
    match (&one.mac, &other.mac) {
        (Some(one), Some(other)) if highest => other.cmp(one),
        (Some(one), Some(other)) => one.cmp(other),
        (Some(_), None) => Ordering::Less,
        (None, Some(_)) => Ordering::Greater,
        (None, None) => Ordering::Equal,
    }
}

fn loses(member: &Placed, other: &Placed, role: &str, findings: &mut Findings) {
    let message = format!(
        "{} is the {role} with priority {}, and {} with priority {} would win over it",
        member.name, member.priority, other.name, other.priority
    );
    let diagnostic =
        Diagnostic::error(&ROLE_LOSES, member.place, message).related(other.place, "this member would win");
    findings.error(diagnostic.help("leave `priority:` out of both, or change one of them"));
}

fn undecided(member: &Placed, other: &Placed, findings: &mut Findings) {
    let message = format!("nothing decides whether {} or {} leads after a power failure", member.name, other.name);
    let diagnostic =
        Diagnostic::error(&ELECTION_UNDECIDED, member.place, message).related(other.place, "this member ties with it");
    findings.error(diagnostic.help("give the two different priorities"));
}
