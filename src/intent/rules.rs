//! The rules that a schema cannot say and that need no platform.

use std::collections::BTreeMap;
use std::net::IpAddr;

use super::{Intent, Member};
use crate::diag::{Code, Diagnostic, Findings};
use crate::model::document::Role;
use crate::model::traits::Topology;
use crate::source::Span;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[
    &USED_TWICE,
    &RESERVED_NAME,
    &PORT_USED_TWICE,
    &ONE_PRIMARY,
    &TWO_STANDBYS,
    &RING_OF_ONE,
    &LEGS_ON_ONE_MEMBER,
    &UNKNOWN_MEMBER,
    &UNKNOWN_UPLINK,
    &NO_SUCH_MOMENT,
    &NOT_AN_ADDRESS,
];

/// Something that belongs to one thing is used for two.
pub const USED_TWICE: Code = Code {
    name: "used-twice",
    explanation: "Names, ids, serial numbers and MAC addresses tell members apart, so that each stands once; so do the names \
of uplink pairs, and so does each end of a cable.",
};
/// A name that means something else.
pub const RESERVED_NAME: Code = Code {
    name: "reserved-name",
    explanation: "`far` is the word for the equipment at the other end of an uplink pair, so nothing else can be named so.",
};
/// A port with two uses.
pub const PORT_USED_TWICE: Code = Code {
    name: "port-used-twice",
    explanation: "A port takes one cable: it belongs to one side of its member or carries one leg of one uplink pair.",
};
/// Not exactly one primary.
pub const ONE_PRIMARY: Code = Code {
    name: "one-primary",
    explanation: "Exactly one member has `role: primary`. It leads the stack; every change is planned so that it goes on to.",
};
/// More than one standby.
pub const TWO_STANDBYS: Code = Code {
    name: "two-standbys",
    explanation: "At most one member has `role: standby`: the one that takes over if the primary fails.",
};
/// A ring needs two members.
pub const RING_OF_ONE: Code = Code {
    name: "ring-of-one",
    explanation: "A ring joins the last member to the first, which takes at least two. One member alone is a chain.",
};
/// A pair that one failure cuts.
pub const LEGS_ON_ONE_MEMBER: Code = Code {
    name: "legs-on-one-member",
    explanation: "The legs of an uplink pair sit on at least two members, so that one member can fail or restart and the pair \
still carries.",
};
/// No member of this name.
pub const UNKNOWN_MEMBER: Code =
    Code { name: "unknown-member", explanation: "A leg or a cable names a member that is not in the list of members." };
/// No uplink pair of this name.
pub const UNKNOWN_UPLINK: Code = Code {
    name: "unknown-uplink",
    explanation: "`split_guard` names one of the uplink pairs: the one over which two halves of a split stack find each other.",
};
/// A date or time that does not exist.
pub const NO_SUCH_MOMENT: Code = Code {
    name: "no-such-moment",
    explanation: "A moment has the form of RFC 3339, but the calendar has no such day or the clock no such time.",
};
/// Not an address that can be pinged.
pub const NOT_AN_ADDRESS: Code = Code {
    name: "not-an-address",
    explanation: "`witnesses` lists IPv4 or IPv6 addresses, without a prefix length: names could not be looked up while the \
network is worked on.",
};

/// Looks at everything and reports all that is wrong.
pub(super) fn check(intent: &Intent, findings: &mut Findings) {
    if intent.members.is_empty() {
        return;
    }
    reserved(intent, findings);
    duplicates(intent, findings);
    roles(intent, findings);
    if let (Topology::Ring, [only]) = (intent.topology.value, intent.members.as_slice()) {
        let message = format!("a ring takes two members or more, and {} is alone", only.name.as_str());
        let diagnostic = Diagnostic::error(&RING_OF_ONE, intent.topology.span, message);
        findings.error(
            diagnostic.related(only.name.span, "the only member").help("write `topology: chain`, or add members"),
        );
    }
    names(intent, findings);
    ports(intent, findings);
    legs(intent, findings);
    change(intent, findings);
}

fn reserved(intent: &Intent, findings: &mut Findings) {
    let members = intent.members.iter().map(|member| &member.name);
    let all = members.chain(intent.uplink_pairs.iter().map(|pair| &pair.name)).chain([&intent.stack]);
    for name in all.filter(|name| name.as_str() == "far") {
        let message = "`far` is reserved for the equipment at the other end of an uplink pair";
        findings.error(Diagnostic::error(&RESERVED_NAME, name.span, message).help("take another name"));
    }
}

/// What is used so far: the first place of each.
struct Seen<'a> {
    what: &'a str,
    first: BTreeMap<String, Span>,
}

impl<'a> Seen<'a> {
    fn new(what: &'a str) -> Self {
        Self { what, first: BTreeMap::new() }
    }

    fn take(&mut self, value: String, place: Span, findings: &mut Findings) {
        if let Some(first) = self.first.get(&value) {
            let message = format!("the {} `{value}` is used twice, and belongs to one only", self.what);
            findings.error(Diagnostic::error(&USED_TWICE, place, message).related(*first, "first used here"));
        } else {
            self.first.insert(value, place);
        }
    }
}

fn duplicates(intent: &Intent, findings: &mut Findings) {
    let [mut names, mut ids, mut serials, mut macs] = ["name", "id", "serial number", "MAC address"].map(Seen::new);
    for member in &intent.members {
        names.take(member.name.to_string(), member.name.span, findings);
        ids.take(member.id.value.to_string(), member.id.span, findings);
        if let Some(serial) = &member.serial {
            serials.take(serial.to_string(), serial.span, findings);
        }
        if let Some(mac) = &member.mac {
            macs.take(mac.canonical(), mac.span, findings);
        }
    }
    let mut pairs = Seen::new("name");
    for pair in &intent.uplink_pairs {
        pairs.take(pair.name.to_string(), pair.name.span, findings);
    }
    let mut ends = Seen::new("end");
    for end in intent.cables.iter().flat_map(|cable| &cable.ends) {
        ends.take(end.as_str().to_owned(), end.span, findings);
    }
}

fn roles(intent: &Intent, findings: &mut Findings) {
    let of = |role: Role| intent.members.iter().filter(move |member| member.role() == role);
    let place = |member: &Member| member.role.as_ref().map_or(member.name.span, |role| role.span);
    let mut primaries = of(Role::Primary);
    match (primaries.next(), primaries.next()) {
        (None, _) => {
            let message = "no member has the role `primary`, and one has to lead";
            let help = "add `role: primary` to one member";
            findings.error(Diagnostic::error(&ONE_PRIMARY, intent.members_place(), message).help(help));
        }
        (Some(first), Some(second)) => {
            let message = format!("{} is a second primary, and a stack has one", second.name.as_str());
            findings.error(
                Diagnostic::error(&ONE_PRIMARY, place(second), message).related(place(first), "the first one is here"),
            );
        }
        (Some(_), None) => {}
    }
    let mut standbys = of(Role::Standby);
    if let (Some(first), Some(second)) = (standbys.next(), standbys.next()) {
        let message = format!("{} is a second standby, and a stack has one at most", second.name.as_str());
        findings.error(
            Diagnostic::error(&TWO_STANDBYS, place(second), message).related(place(first), "the first one is here"),
        );
    }
}

fn names(intent: &Intent, findings: &mut Findings) {
    let legs = intent.uplink_pairs.iter().flat_map(|pair| &pair.legs).map(|leg| (leg.member.as_str(), leg.member.span));
    let ends = intent.cables.iter().flat_map(|cable| &cable.ends).map(|end| (end.parts().0, end.span));
    for (name, place) in legs.chain(ends).filter(|(name, _)| intent.member(name).is_none()) {
        let diagnostic = Diagnostic::error(&UNKNOWN_MEMBER, place, format!("`{name}` is not a member of this stack"));
        let known = intent.members.iter().map(|member| member.name.as_str());
        findings.error(diagnostic.help_nearest(name, known, "name one of the members"));
    }
    let known = || intent.uplink_pairs.iter().map(|pair| pair.name.as_str());
    if let Some(guard) = intent.split_guard.as_ref().filter(|guard| known().all(|name| name != guard.as_str())) {
        let message = format!("`{}` is not an uplink pair of this stack", guard.as_str());
        let diagnostic = Diagnostic::error(&UNKNOWN_UPLINK, guard.span, message);
        let otherwise = "name one of the uplink pairs, or leave `split_guard` out";
        findings.error(diagnostic.help_nearest(guard.as_str(), known(), otherwise));
    }
}

/// Every use of a port: sides, then legs.
fn ports(intent: &Intent, findings: &mut Findings) {
    let mut first: BTreeMap<(String, String), (Span, String)> = BTreeMap::new();
    let sides = intent.members.iter().flat_map(|member| {
        let sides = member.sides.iter().flat_map(|sides| [("west", &sides.west), ("east", &sides.east)]);
        sides.flat_map(move |(side, ports)| {
            ports.iter().map(move |port| (member.name.as_str(), port, format!("its {side} side")))
        })
    });
    let legs = intent.uplink_pairs.iter().flat_map(|pair| {
        pair.legs.iter().map(|leg| (leg.member.as_str(), &leg.port, format!("the uplink pair {}", pair.name.as_str())))
    });
    for (member, port, usage) in sides.chain(legs) {
        let key = (member.to_owned(), port.to_string());
        if let Some((place, other)) = first.get(&key) {
            let message = if *other == usage {
                format!("port `{}` of {member} is used twice by {usage}", port.value)
            } else {
                format!("port `{}` of {member} is used by {other} and by {usage}, and takes one cable", port.value)
            };
            findings.error(Diagnostic::error(&PORT_USED_TWICE, port.span, message).related(*place, "first used here"));
        } else {
            first.insert(key, (port.span, usage));
        }
    }
}

fn legs(intent: &Intent, findings: &mut Findings) {
    for pair in &intent.uplink_pairs {
        let Some((first, rest)) = pair.legs.split_first().filter(|(_, rest)| !rest.is_empty()) else { continue };
        if let Some(last) = rest.last().filter(|_| rest.iter().all(|leg| leg.member.as_str() == first.member.as_str()))
        {
            let name = first.member.as_str();
            let message =
                format!("all legs of {} are on {name}, and they need two members or more", pair.name.as_str());
            let diagnostic = Diagnostic::error(&LEGS_ON_ONE_MEMBER, last.member.span, message);
            findings.error(diagnostic.related(first.member.span, "the first leg is here"));
        }
    }
}

fn change(intent: &Intent, findings: &mut Findings) {
    let Some(change) = &intent.change else { return };
    for window in change.window.iter().chain(&change.hands).filter(|window| !window.start.exists()) {
        let message = format!("`{}` is not in the calendar or not on the clock", window.start.as_str());
        findings.error(Diagnostic::error(&NO_SUCH_MOMENT, window.start.span, message));
    }
    for witness in change.witnesses.iter().filter(|witness| witness.as_str().parse::<IpAddr>().is_err()) {
        let message = format!("`{}` is not an IPv4 or IPv6 address", witness.as_str());
        findings.error(Diagnostic::error(&NOT_AN_ADDRESS, witness.span, message));
    }
}
