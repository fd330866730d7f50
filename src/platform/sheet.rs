//! A platform's traits -> what a proof rests on, as sentences: each habit with where it is written and on what it was
//! tried, as far as the dialect says so.

use super::{Platform, Trust};
use crate::model::document::TrustLine;
use crate::model::traits::{
    ActivationScope, Admission, BindingEffect, ConsoleAfterJoin, Criterion, Differs, Facing, FactoryPorts, GroupEffect,
    Handover, IdEffect, Loser, PriorityEffect, SaveScope, SeenOn, StackMac, StackMode, StandbySeat, StoredWhen,
    Topology, Traits, Wins,
};

/// Every habit that a proof on this platform rests on.
#[must_use]
pub fn trust_sheet(platform: &Platform) -> Vec<TrustLine> {
    let traits = &platform.traits;
    let all = numbers(traits).into_iter().chain(elections(traits)).chain(ports(traits)).chain(members(traits));
    all.map(|(habit, text)| {
        let said = trust_of(platform, habit);
        let known = |field: fn(&Trust) -> &Option<crate::intent::FreeText>| {
            said.and_then(|trust| field(trust).as_ref()).map(ToString::to_string)
        };
        let (source, tried_on) = (known(|trust| &trust.source), known(|trust| &trust.tried_on));
        TrustLine { habit: habit.to_owned(), text, source, tried_on }
    })
    .collect()
}

/// What is said of a habit itself, or of the whole that it is part of.
fn trust_of<'a>(platform: &'a Platform, habit: &str) -> Option<&'a Trust> {
    let mut path = habit;
    loop {
        if let Some(trust) = platform.trust.get(path) {
            return Some(trust);
        }
        path = path.rsplit_once('.')?.0;
    }
}

type Line = (&'static str, String);

fn numbers(traits: &Traits) -> Vec<Line> {
    let (ids, priorities) = (&traits.member_id, &traits.priority);
    let stored = |what: StoredWhen| match what {
        StoredWhen::AtOnce => "outlives a restart as soon as it is typed",
        StoredWhen::WithSave => "outlives a restart only once it is saved",
    };
    let late = ids.takes_effect == IdEffect::AfterRestart;
    let mut lines = vec![
        ("member_id.range", format!("member ids run from {} to {}", ids.range.0, ids.range.1)),
        ("member_id.factory", format!("a unit out of its box has member id {}", ids.factory)),
        (
            "member_id.takes_effect",
            format!("a new member id counts {}", if late { "after a restart" } else { "at once" }),
        ),
        (
            "priority.range",
            format!(
                "priorities run from {} to {}, and the {} wins",
                priorities.range.0,
                priorities.range.1,
                if priorities.wins == Wins::Highest { "highest" } else { "lowest" }
            ),
        ),
        ("priority.factory", format!("a unit out of its box has priority {}", priorities.factory)),
        (
            "priority.takes_effect",
            match priorities.takes_effect {
                PriorityEffect::AtOnce => "a new priority counts at once, for the choice of the standby too".to_owned(),
                PriorityEffect::NextElection => "a new priority counts in the next election".to_owned(),
            },
        ),
        ("stored.priority", format!("a new priority {}", stored(traits.stored.priority))),
        ("stored.binding", format!("a bound or released port {}", stored(traits.stored.binding))),
    ];
    if !late {
        lines.push(("stored.id", format!("a new member id {}", stored(traits.stored.id))));
    }
    lines
}

fn elections(traits: &Traits) -> Vec<Line> {
    let list = |all: &[Criterion]| all.iter().map(|one| criterion(*one)).collect::<Vec<_>>().join(", then ");
    let (boot, merge) = (list(&traits.election.boot), list(&traits.election.merge));
    let loser = match traits.joining.loser {
        Loser::Restarts => "the units on the losing side of a merge restart by themselves and join",
        Loser::Waits => "the units on the losing side of a merge wait for a restart by hand",
        Loser::Absorbed => "the units on the losing side of a merge join without a restart",
    };
    let boots = match traits.joining.preempts {
        false => "a unit that boots into a running stack never takes the lead from its primary",
        true => "a unit that boots into a running stack takes the lead if it is the better one",
    };
    let seat = match traits.standby {
        StandbySeat::Best => "the standby is always the best of the others",
        StandbySeat::Sticky => "the standby keeps its seat until it goes, and takes over without an election",
    };
    let lead = match traits.handover {
        Handover::None => "the lead moves only when its holder goes down",
        Handover::OldRestarts => "the lead is handed over by a command, and the former primary restarts",
        Handover::KeepsRunning => "the lead is handed over by a command, and nobody restarts",
    };
    vec![
        match boot == merge {
            true => ("election", format!("an election compares {boot}")),
            false => ("election", format!("an election compares {boot}; where two primaries meet, {merge}")),
        },
        ("joining.loser", loser.to_owned()),
        ("joining.preempts", boots.to_owned()),
        ("standby", seat.to_owned()),
        ("handover", lead.to_owned()),
    ]
}

fn criterion(one: Criterion) -> &'static str {
    match one {
        Criterion::Priority => "the priority",
        Criterion::Uptime => "the time since the last boot",
        Criterion::LowestMac => "the lowest MAC address",
        Criterion::HighestMac => "the highest MAC address",
        Criterion::LowestId => "the lowest member id",
        Criterion::Acting => "who leads already",
        Criterion::Size => "the size of the part that each led",
    }
}

fn ports(traits: &Traits) -> Vec<Line> {
    let facing = match traits.sides.facing {
        Facing::Opposite => "a link comes up only between an east and a west side",
        Facing::Any => "a link comes up between any two sides",
    };
    let out = if traits.factory_ports == FactoryPorts::Enabled { "in use" } else { "out of use" };
    let bound = match traits.binding.takes_effect {
        BindingEffect::AtOnce => "a port's binding counts at once",
        BindingEffect::OnActivation => {
            "a port's binding counts once the bindings are put into force, or after a restart"
        }
        BindingEffect::AfterRestart => "a port's binding counts after a restart",
        BindingEffect::Fixed => "the stacking ports are always bound and in force: a cable or power makes the link",
    };
    let kinds = traits.neighbours.seen_on.iter().map(|kind| match kind {
        SeenOn::Stray => "plain Ethernet between two boxes",
        SeenOn::Unmatched => "a lit cable that carries nothing",
        SeenOn::Stack => "a working stack link",
    });
    let seen = kinds.collect::<Vec<_>>().join(", ");
    let seen = if seen.is_empty() { "nowhere on stacking cables".to_owned() } else { format!("on {seen}") };
    let mut lines = vec![
        ("sides.facing", facing.to_owned()),
        ("sides.max_cables", format!("a side holds at most {} parallel cables", traits.sides.max_cables)),
        ("factory_ports", format!("the ports of a unit out of its box are {out}")),
        ("binding.takes_effect", bound.to_owned()),
        ("neighbours.seen_on", format!("IEEE 802.1AB neighbours show {seen}")),
        ("port_name", format!("interfaces are named by `{}`", traits.port_name)),
    ];
    if traits.binding.takes_effect != BindingEffect::Fixed {
        let first = if traits.binding.port_disabled { "must be out of use" } else { "may be in use" };
        lines.push(("binding.port_disabled", format!("a port {first} when it is bound or released")));
    }
    if traits.binding.takes_effect == BindingEffect::OnActivation {
        let covers = match traits.activate.scope {
            ActivationScope::Stack => "every unit of the stack",
            ActivationScope::Unit => "the unit on which it is typed",
        };
        let then =
            if traits.activate.restarts { "and restarts those whose bindings change" } else { "and restarts nobody" };
        lines.push(("activate", format!("one activation covers {covers}, {then}")));
    }
    let group = match traits.port_groups.takes_effect {
        GroupEffect::AtOnce => "with the binding",
        GroupEffect::AfterRestart => "at the unit's next boot",
    };
    lines.push((
        "port_groups",
        format!("ports that the catalogue lists as a group change to stacking together, {group}"),
    ));
    lines
}

fn members(traits: &Traits) -> Vec<Line> {
    let save =
        if traits.save.scope == SaveScope::Stack { "every unit of the stack" } else { "the unit on which it is typed" };
    let cabling = |topology: &Topology| if *topology == Topology::Chain { "a chain" } else { "a ring" };
    let cablings = traits.topologies.iter().map(cabling).collect::<Vec<_>>().join(" or ");
    let admission = match traits.admission {
        Admission::Open => "the stack lets in whoever is linked and may join",
        Admission::Id => "the stack lets in only units whose member id it was told",
        Admission::Serial => "the stack lets in only units whose serial it was told",
    };
    let mode = match traits.stack_mode {
        StackMode::Always => "a unit out of its box can stack as it is",
        StackMode::Switched => "a unit out of its box must be put into stack mode, which counts after a restart",
    };
    let mut lines = vec![
        ("save.scope", format!("one save covers {save}")),
        ("topologies", format!("a stack is cabled as {cablings}, of at most {} members", traits.max_members)),
        ("admission", admission.to_owned()),
        ("stack_mode", mode.to_owned()),
    ];
    if traits.join_keys.is_empty() {
        lines.push(("join_keys", "nothing else need be equal for a unit to join".to_owned()));
    }
    lines.extend(traits.join_keys.iter().map(|key| {
        let differs = match key.differs {
            Differs::Refused => "is kept out",
            Differs::Updates => "takes the primary's and restarts once more by itself",
            Differs::Joins => "joins all the same, and must not",
        };
        ("join_keys", format!("a unit with another {} than the primary {differs}", key.name))
    }));
    let mac = match traits.stack_mac {
        StackMac::Stays => "the stack keeps its own address under a new primary",
        StackMac::Moves => "the stack's own address moves with its primary, and the uplinks go down for a moment",
    };
    let console = match traits.console_after_join {
        ConsoleAfterJoin::Own => "any console of the stack reaches the whole stack",
        ConsoleAfterJoin::Primary => "every console of the stack leads to its primary's",
        ConsoleAfterJoin::Mute => "only the primary's console answers once a unit has joined",
    };
    lines.extend([("stack_mac", mac.to_owned()), ("console_after_join", console.to_owned())]);
    lines
}
