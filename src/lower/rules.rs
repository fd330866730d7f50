//! What must hold of an intent on its platform.

use std::fmt::Display;

use super::layout::Layout;
use crate::diag::{Code, Diagnostic, Findings, listed};
use crate::intent::{Intent, Leg, Member};
use crate::model::PortName;
use crate::model::traits::Topology;
use crate::platform::{HardwareModel, Platform};
use crate::source::{Located, Span};

/// The codes of this file and of the layout.
pub(super) const CODES: &[&Code] = &[
    &PRIORITY_STEP,
    &SIDES_UNKNOWN,
    &SIDE_WITHOUT_PORT,
    &UNEQUAL_SIDES,
    &TOO_FEW_PORTS,
    &OUTSIDE_RANGE,
    &NOT_SUPPORTED,
    &UNKNOWN_MODEL,
    &MODELS_DO_NOT_STACK,
    &UNKNOWN_PORT,
    &CANNOT_STACK,
    &SPEEDS_DIFFER,
    &TOO_MANY_CABLES,
    &NO_SUCH_CABLE,
    &DISABLED_PORT_IN_USE,
    &CAPACITY_TOO_SMALL,
];

pub(super) const PRIORITY_STEP: Code = Code {
    name: "priority-step",
    explanation: "A member without `priority` gets one from its role and its id. The platform's range of priorities is too \
small for its range of ids to keep members apart that way, so every member needs one that is written out.",
};
pub(super) const SIDES_UNKNOWN: Code = Code {
    name: "sides-unknown",
    explanation: "Which ports of a member can stack is known from its `model` or from its `sides`. This one has neither.",
};
pub(super) const SIDE_WITHOUT_PORT: Code = Code {
    name: "side-without-port",
    explanation: "The order of the members says who is cabled to whom, and a side that is cabled needs a port.",
};
pub(super) const UNEQUAL_SIDES: Code = Code {
    name: "unequal-sides",
    explanation: "The ports of an east side pair with those of the next member's west side, position by position. If one \
list is longer, one of its ports has no other end.",
};
pub(super) const TOO_FEW_PORTS: Code = Code {
    name: "too-few-ports",
    explanation: "Ports for the two sides are taken from those of the model that can stack and carry no uplink leg. There \
are fewer than the cabling needs.",
};
/// Outside what the platform allows.
pub(super) const OUTSIDE_RANGE: Code = Code {
    name: "outside-range",
    explanation: "An id or a priority lies outside what the dialect says that the platform takes.",
};
pub(super) const NOT_SUPPORTED: Code =
    Code { name: "not-supported", explanation: "The platform does not support this topology, or not as many members." };
pub(super) const UNKNOWN_MODEL: Code =
    Code { name: "unknown-model", explanation: "A member's `model` is not in the dialect's hardware catalogue." };
pub(super) const MODELS_DO_NOT_STACK: Code = Code {
    name: "models-do-not-stack",
    explanation: "The catalogue lists with which others a model stacks, and these two members' models are not a pair of it.",
};
pub(super) const UNKNOWN_PORT: Code =
    Code { name: "unknown-port", explanation: "The member's model has no port of this name." };
pub(super) const CANNOT_STACK: Code = Code {
    name: "cannot-stack",
    explanation: "Only some ports of a model can stack, and this one of a member's sides cannot.",
};
pub(super) const SPEEDS_DIFFER: Code = Code {
    name: "speeds-differ",
    explanation: "The two ends of a link run at different speeds, so that it would stay dark.",
};
pub(super) const TOO_MANY_CABLES: Code =
    Code { name: "too-many-cables", explanation: "The platform holds fewer parallel cables on one side." };
pub(super) const NO_SUCH_CABLE: Code = Code {
    name: "no-such-cable",
    explanation: "An entry under `cables:` says what is known of a cable that the cabling order and the sides give. No cable \
of the stack has these two ends.",
};
pub(super) const DISABLED_PORT_IN_USE: Code = Code {
    name: "disabled-port-in-use",
    explanation: "`disabled_ports` lists ports of a stack as it stands that are neither bound to a side nor carry an uplink. \
A port that is in use cannot be disabled.",
};
pub(super) const CAPACITY_TOO_SMALL: Code = Code {
    name: "capacity-too-small",
    explanation: "The ports of an uplink pair's legs together carry less than its `capacity_gbps` asks for.",
};

/// Looks at everything that needs no other intent and reports all that is wrong.
pub(super) fn check(intent: &Intent, layout: &Layout, platform: &Platform, findings: &mut Findings) {
    ranges(intent, platform, findings);
    supported(intent, platform, findings);
    let catalogue = Catalogue { layout, platform };
    for member in &intent.members {
        model(member, platform, findings);
        written_sides(member, catalogue, findings);
    }
    legs(intent, catalogue, findings);
    stacks_together(intent, platform, findings);
    disabled_ports(intent, layout, findings);
    speeds(catalogue, findings);
    known_cables(intent, layout, findings);
}

fn ranges(intent: &Intent, platform: &Platform, findings: &mut Findings) {
    let (ids, priorities) = (platform.traits.member_id.range, platform.traits.priority.range);
    for member in &intent.members {
        within(("id", "ids"), &member.id, ids, findings);
        if let Some(priority) = &member.priority {
            within(("priority", "priorities"), priority, priorities, findings);
        }
    }
}

fn within<T: PartialOrd + Display>(
    (one, many): (&str, &str),
    number: &Located<T>,
    (low, high): (T, T),
    findings: &mut Findings,
) {
    if !(&low..=&high).contains(&&number.value) {
        let message = format!("{one} {} is outside {low}-{high}, the {many} of this platform", number.value);
        findings.error(Diagnostic::error(&OUTSIDE_RANGE, number.span, message));
    }
}

fn supported(intent: &Intent, platform: &Platform, findings: &mut Findings) {
    let word = |topology: &Topology| match topology {
        Topology::Chain => "chain",
        Topology::Ring => "ring",
    };
    if !platform.traits.topologies.contains(&intent.topology.value) {
        let legal = listed(platform.traits.topologies.iter().map(word), "or");
        let message =
            format!("this platform does not support a {}; {legal} would be right", word(&intent.topology.value));
        findings.error(Diagnostic::error(&NOT_SUPPORTED, intent.topology.span, message));
    }
    let most = usize::from(platform.traits.max_members);
    if let Some(member) = intent.members.get(most) {
        let message = format!("this is member {} of the stack, and this platform supports {most}", most + 1);
        findings.error(Diagnostic::error(&NOT_SUPPORTED, member.name.span, message));
    }
}

fn model(member: &Member, platform: &Platform, findings: &mut Findings) {
    let Some(model) = member.model.as_ref().filter(|model| !platform.models.contains_key(model.as_str())) else {
        return;
    };
    let names = || platform.models.keys().map(String::as_str);
    let message =
        format!("`{}` is not a model of this dialect; {} would be right", model.as_str(), listed(names(), "or"));
    let diagnostic = Diagnostic::error(&UNKNOWN_MODEL, model.span, message);
    let otherwise = "leave `model:` out and list the ports under `sides:`";
    findings.error(diagnostic.help_nearest(model.as_str(), names(), otherwise));
}

/// What the platform knows of the hardware of a layout's members.
#[derive(Clone, Copy)]
struct Catalogue<'a> {
    layout: &'a Layout,
    platform: &'a Platform,
}

impl<'a> Catalogue<'a> {
    fn of(self, member: &str) -> Option<&'a HardwareModel> {
        self.platform.model(self.layout.member(member)?.model.as_deref())
    }
}

fn known_port(member: &Member, port: &PortName, place: Span, known: Catalogue<'_>, findings: &mut Findings) -> bool {
    let Some(model) = known.of(member.name.as_str()) else { return true };
    if model.port(port).is_some() {
        return true;
    }
    let ranges = model.ports.iter().map(|range| match &range.last {
        Some(last) => format!("{}-{last}", range.first),
        None => range.first.to_string(),
    });
    let message = format!(
        "port `{port}` is not a port of {}, which has {}",
        member.name.as_str(),
        ranges.collect::<Vec<_>>().join(", ")
    );
    findings.error(Diagnostic::error(&UNKNOWN_PORT, place, message));
    false
}

fn written_sides(member: &Member, known: Catalogue<'_>, findings: &mut Findings) {
    let Some(sides) = &member.sides else { return };
    let most = usize::from(known.platform.traits.sides.max_cables);
    for (side, ports) in [("west", &sides.west), ("east", &sides.east)] {
        if let Some(port) = ports.get(most) {
            let message =
                format!("the {side} side of {} has {} ports, and holds {most}", member.name.as_str(), ports.len());
            findings.error(Diagnostic::error(&TOO_MANY_CABLES, port.span, message));
        }
        for port in ports {
            let fits = known_port(member, &port.value, port.span, known, findings);
            let Some(model) = known.of(member.name.as_str()).filter(|_| fits) else { continue };
            if model.port(&port.value).is_some_and(|found| !found.stacking) {
                let can = model.stacking_ports();
                let can = listed(can.iter().map(PortName::as_str), "or");
                let message = format!("port `{}` of {} cannot stack; {can} can", port.value, member.name.as_str());
                findings.error(Diagnostic::error(&CANNOT_STACK, port.span, message));
            }
        }
    }
}

fn legs(intent: &Intent, known: Catalogue<'_>, findings: &mut Findings) {
    for leg in intent.uplink_pairs.iter().flat_map(|pair| &pair.legs) {
        if let Some(member) = intent.member(leg.member.as_str()) {
            known_port(member, &leg.port.value, leg.port.span, known, findings);
        }
    }
}

/// Looks whether every pair can carry what it must. Of a stack as it stands that is nothing to refuse: the change may
/// be the cure.
pub(super) fn capacities(intent: &Intent, layout: &Layout, platform: &Platform, findings: &mut Findings) {
    let known = Catalogue { layout, platform };
    for pair in &intent.uplink_pairs {
        let speed = |leg: &Located<Leg>| Some(known.of(leg.member.as_str())?.port(&leg.port.value)?.gbps);
        let carries: Option<f64> = pair.legs.iter().map(speed).sum();
        let Some((wanted, carries)) = pair.capacity_gbps.as_ref().zip(carries) else { continue };
        if carries < wanted.value {
            let message = format!(
                "the legs of {} carry {carries} Gbit/s together, and {} are asked for",
                pair.name.as_str(),
                wanted.value
            );
            findings.error(Diagnostic::error(&CAPACITY_TOO_SMALL, wanted.span, message));
        }
    }
}

fn stacks_together(intent: &Intent, platform: &Platform, findings: &mut Findings) {
    let known = |member: &'_ Member| member.model.as_ref().map(|model| (model.to_string(), model.span));
    let stacks = |one: &str, other: &str| {
        one == other
            || platform
                .models
                .get(one)
                .and_then(|model| model.stacks_with.as_ref())
                .is_none_or(|list| list.iter().any(|name| name == other))
    };
    let models: Vec<(String, Span)> = intent.members.iter().filter_map(known).collect();
    for (index, (one, place)) in models.iter().enumerate() {
        let other = models.iter().take(index).find(|(other, _)| !stacks(one, other) || !stacks(other, one));
        if let Some((other, first)) = other {
            let message = format!("model {one} does not stack with {other}");
            let diagnostic = Diagnostic::error(&MODELS_DO_NOT_STACK, *place, message);
            findings.error(diagnostic.related(*first, format!("{other} is used here")));
        }
    }
}

fn disabled_ports(intent: &Intent, layout: &Layout, findings: &mut Findings) {
    for (member, placed) in
        intent.members.iter().filter_map(|member| Some((member, layout.member(member.name.as_str())?)))
    {
        for port in member.disabled_ports.iter().filter(|port| placed.is_used(&port.value)) {
            let message =
                format!("port `{}` of {} is in use, and cannot be one of its disabled ports", port.value, placed.name);
            findings.error(Diagnostic::error(&DISABLED_PORT_IN_USE, port.span, message).help("take it off the list"));
        }
    }
}

fn speeds(known: Catalogue<'_>, findings: &mut Findings) {
    let speed = |(name, port): &(String, PortName)| {
        let member = known.layout.member(name)?;
        let model = known.of(name)?;
        // a port that cannot stack is a fault of its own
        let port = model.port(port).filter(|port| port.stacking)?;
        Some((port.gbps, member.place))
    };
    for cable in &known.layout.cables {
        let (Some((east, first)), Some((west, place))) = (speed(&cable.east), speed(&cable.west)) else { continue };
        if (east - west).abs() > f64::EPSILON {
            let ((from, out), (to, into)) = (&cable.east, &cable.west);
            let message = format!(
                "{from} port {out} runs at {east} Gbit/s and {to} port {into} at {west}, and a link needs one speed"
            );
            let diagnostic = Diagnostic::error(&SPEEDS_DIFFER, place, message);
            findings.error(diagnostic.related(first, "the other end is here"));
        }
    }
}

fn known_cables(intent: &Intent, layout: &Layout, findings: &mut Findings) {
    for cable in &intent.cables {
        let [one, other] = cable.ends.as_slice() else { continue };
        let known = |end: &str| layout.member(end).is_some();
        if !known(one.parts().0) || !known(other.parts().0) {
            continue;
        }
        let is = |end: &(String, PortName), written: (&str, &str)| end.0 == written.0 && end.1.as_str() == written.1;
        let found = layout.cables.iter().any(|real| {
            (is(&real.east, one.parts()) && is(&real.west, other.parts()))
                || (is(&real.east, other.parts()) && is(&real.west, one.parts()))
        });
        if !found {
            let message = format!("no cable of this stack joins {} and {}", one.as_str(), other.as_str());
            let ends = |end: &(String, PortName)| format!("{}:{}", end.0, end.1);
            let near = layout.cables.iter().find(|real| is(&real.east, one.parts()) || is(&real.west, one.parts()));
            let diagnostic = Diagnostic::error(&NO_SUCH_CABLE, one.span, message);
            findings.error(match near {
                Some(real) => diagnostic.help(format!("write {} and {}", ends(&real.east), ends(&real.west))),
                None => diagnostic.help("leave the entry out, or correct its ends"),
            });
        }
    }
}
