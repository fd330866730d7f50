//! What changes -> one sentence, the same for the runbook, the command line and a refusal.

use super::ladder::in_cabling_order;
use crate::lower::Delta;
use crate::model::document::{PlanDocument, Status, UnitEntry};
use crate::model::names::list;
use crate::model::traits::Topology;

/// The most members of a new stack that are named; of more, the first and the last.
const MOST_NAMES: usize = 8;

/// The sentence of a plan, which names the members as they are cabled.
#[must_use]
pub fn headline(plan: &PlanDocument, topology: Option<Topology>, delta: &Delta) -> String {
    let after: Vec<&UnitEntry> = plan.units.iter().filter(|unit| unit.status != Status::Leaving).collect();
    let after = in_cabling_order(&plan.target, &after);
    let members: Vec<&str> = after.iter().map(|unit| unit.member.as_str()).collect();
    sentence(&plan.stack, &members, topology, delta)
}

/// One sentence that says what the change does to this stack, with a full stop.
/// `members` are those of the target, in cabling order; `topology` is the target's.
#[must_use]
pub fn sentence(stack: &str, members: &[&str], topology: Option<Topology>, delta: &Delta) -> String {
    let parts = if delta.new_stack { vec![built(stack, members, topology)] } else { changed(stack, delta) };
    match parts.as_slice() {
        [] => format!("Nothing changes in {stack}."),
        parts => capitalised(&format!("{}.", list(parts))),
    }
}

/// A stack that was not there before.
fn built(stack: &str, members: &[&str], topology: Option<Topology>) -> String {
    let shape = match (topology, members.len()) {
        (_, 1) => "a stack of one".to_owned(),
        (Some(Topology::Ring), count) => format!("a ring of {count}"),
        (Some(Topology::Chain), count) => format!("a chain of {count}"),
        (None, count) => format!("a stack of {count}"),
    };
    let names: Vec<String> = members.iter().map(|name| (*name).to_owned()).collect();
    match (names.as_slice(), names.len()) {
        ([first, .., last], count) if count > MOST_NAMES => format!("builds {stack}, {shape}, {first} to {last}"),
        _ => format!("builds {stack}, {shape}: {}", list(&names)),
    }
}

/// Each difference in its own words.
fn changed(stack: &str, delta: &Delta) -> Vec<String> {
    let mut parts = Vec::new();
    let mut say = |names: &[String], words: &dyn Fn(&str) -> String| {
        if !names.is_empty() {
            parts.push(words(&list(names)));
        }
    };
    say(&delta.added, &|names| format!("adds {names} to {stack}"));
    say(&delta.removed, &|names| format!("takes {names} out of {stack}"));
    say(&delta.replaced, &|names| format!("exchanges the box of {names}"));
    say(&delta.reweighted, &|names| format!("gives {names} a new priority"));
    let renumbered: Vec<String> =
        delta.renumbered.iter().map(|(name, old, new)| format!("{name} from member id {old} to {new}")).collect();
    say(&renumbered, &|names| format!("renumbers {names}"));
    if let Some((old, new)) = &delta.primary_moves {
        parts.push(format!("hands the primary's role from {old} to {new}"));
    }
    parts.extend(shape(delta));
    parts.extend(links(delta));
    let mut say = |names: &[String], words: &str| {
        if !names.is_empty() {
            parts.push(format!("{words} {}", pairs(names)));
        }
    };
    say(&delta.uplinks_formed, "forms");
    say(&delta.uplinks_dropped, "dissolves");
    say(&delta.uplinks_changed, "changes the legs of");
    parts.extend(guard(delta));
    parts
}

fn shape(delta: &Delta) -> Option<String> {
    match delta.topology? {
        (Topology::Chain, Topology::Ring) => Some("closes the chain into a ring".to_owned()),
        (Topology::Ring, Topology::Chain) => Some("opens the ring into a chain".to_owned()),
        (Topology::Chain, Topology::Chain) | (Topology::Ring, Topology::Ring) => None,
    }
}

/// Links between members that stay: moved to other ports, or cables plugged and unplugged. What a new shape, a
/// newcomer or a leaver brings along needs no words of its own.
fn links(delta: &Delta) -> Vec<String> {
    let both = |[one, other]: &[String; 2]| [member(one).to_owned(), member(other).to_owned()];
    let gone: Vec<[String; 2]> = delta.cables_removed.iter().map(both).collect();
    let came: Vec<[String; 2]> = delta.cables_added.iter().map(both).collect();
    let mut moved: Vec<&[String; 2]> = came.iter().filter(|link| gone.contains(link)).collect();
    moved.dedup();
    let rest = |cables: &[[String; 2]], at_most: usize| {
        let rest: Vec<[String; 2]> = cables.iter().filter(|ends| !moved.contains(&&both(ends))).cloned().collect();
        if rest.len() <= at_most { Vec::new() } else { rest }
    };
    let shape = |wanted| usize::from(delta.topology == Some(wanted));
    let plugged = rest(&delta.cables_added, delta.removed.len() + shape((Topology::Chain, Topology::Ring)));
    let unplugged = rest(&delta.cables_removed, delta.added.len() + shape((Topology::Ring, Topology::Chain)));
    let moved = moved.iter().map(|[one, other]| format!("moves the link between {one} and {other} to other ports"));
    moved.chain(cables("plugs", &plugged)).chain(cables("unplugs", &unplugged)).collect()
}

fn cables(verb: &str, cables: &[[String; 2]]) -> Option<String> {
    match cables {
        [] => None,
        [[one, other]] => Some(format!("{verb} the cable between {} and {}", spoken(one), spoken(other))),
        many => Some(format!("{verb} {} cables between members that stay", many.len())),
    }
}

fn member(end: &str) -> &str {
    end.split_once(':').map_or(end, |(member, _)| member)
}

fn spoken(end: &str) -> String {
    end.split_once(':').map_or_else(|| end.to_owned(), |(member, port)| format!("{member} port {port}"))
}

fn pairs(names: &[String]) -> String {
    let word = if names.len() == 1 { "uplink pair" } else { "uplink pairs" };
    format!("{word} {}", list(names))
}

fn guard(delta: &Delta) -> Option<String> {
    match delta.guard.as_ref()? {
        (None, Some(new)) => Some(format!("puts the split guard on uplink pair {new}")),
        (Some(old), None) => Some(format!("takes the split guard off uplink pair {old}")),
        (Some(old), Some(new)) => Some(format!("moves the split guard from uplink pair {old} to {new}")),
        (None, None) => None,
    }
}

fn capitalised(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::MemberId;

    #[test]
    fn a_newcomer_and_a_closed_ring_are_one_sentence() {
        let delta = Delta {
            added: vec!["ramp-3".into()],
            topology: Some((Topology::Chain, Topology::Ring)),
            ..Delta::default()
        };
        let said = sentence("ferry-core", &["ramp-1", "ramp-2", "ramp-3"], Some(Topology::Ring), &delta);
        assert_eq!(said, "Adds ramp-3 to ferry-core and closes the chain into a ring.");
    }

    #[test]
    fn a_new_stack_names_its_shape_and_members() {
        let delta = Delta { new_stack: true, ..Delta::default() };
        let members = ["press-1", "press-2", "press-3"];
        let said = sentence("mill", &members, Some(Topology::Ring), &delta);
        assert_eq!(said, "Builds mill, a ring of 3: press-1, press-2 and press-3.");
        let many: Vec<String> = (1..=16).map(|number| format!("press-{number}")).collect();
        let many: Vec<&str> = many.iter().map(String::as_str).collect();
        let said = sentence("mill", &many, Some(Topology::Ring), &delta);
        assert_eq!(said, "Builds mill, a ring of 16, press-1 to press-16.");
        assert_eq!(sentence("mill", &["press-1"], None, &delta), "Builds mill, a stack of one: press-1.");
    }

    #[test]
    fn every_difference_has_words() {
        let delta = Delta {
            removed: vec!["a".into()],
            replaced: vec!["b".into()],
            renumbered: vec![("c".into(), MemberId(2), MemberId(5))],
            reweighted: vec!["d".into()],
            primary_moves: Some(("e".into(), "f".into())),
            topology: Some((Topology::Ring, Topology::Chain)),
            cables_added: vec![
                ["e:5".into(), "f:6".into()],
                ["g:1".into(), "h:2".into()],
                ["g:2".into(), "i:1".into()],
            ],
            cables_removed: vec![
                ["e:1".into(), "f:2".into()],
                ["g:3".into(), "k:4".into()],
                ["h:3".into(), "k:5".into()],
            ],
            uplinks_formed: vec!["up".into(), "down".into()],
            uplinks_dropped: vec!["old".into()],
            uplinks_changed: vec!["border".into()],
            guard: Some((None, Some("border".into()))),
            ..Delta::default()
        };
        assert_eq!(
            sentence("s", &[], None, &delta),
            "Takes a out of s, exchanges the box of b, gives d a new priority, renumbers c from member id 2 to 5, \
             hands the primary's role from e to f, opens the ring into a chain, \
             moves the link between e and f to other ports, plugs 2 cables between members that stay, \
             unplugs 2 cables between members that stay, \
             forms uplink pairs up and down, dissolves uplink pair old, changes the legs of uplink pair border \
             and puts the split guard on uplink pair border."
        );
        assert_eq!(sentence("s", &[], None, &Delta::default()), "Nothing changes in s.");
    }
}
