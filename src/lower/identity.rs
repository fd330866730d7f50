//! Two stacks by name -> which box is which: what serial numbers, MAC addresses, models and places say of it.
//!
//! A name is what a member is known by, and a serial number is what its box is known by. Everything else only
//! confirms the two, or contradicts them.

use std::collections::BTreeSet;

use super::layout::Layout;
use super::units::is_exchanged;
use crate::diag::{Code, Diagnostic, Findings};
use crate::intent::{Intent, Mac, Member, Serial};
use crate::source::Located;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&SERIAL_MOVES, &WHICH_BOX, &NAME_CHANGES];

pub(super) const SERIAL_MOVES: Code = Code {
    name: "serial-moves",
    explanation: "A serial number belongs to one box. The box that was one member cannot be another one after the change: \
that takes two changes, one that removes it and one that adds it.",
};
pub(super) const WHICH_BOX: Code = Code {
    name: "which-box",
    explanation: "A box keeps its serial number, its MAC address and its model. Only the serial number says whether a member \
is still the same box: a changed one is a replacement, one that is left out or only becomes known is none. Here the MAC \
address or the model says otherwise, so either a serial number is missing or one of the two is written wrongly.",
};
pub(super) const NAME_CHANGES: Code = Code {
    name: "name-changes",
    explanation: "One member vanishes and another comes with its id and between its neighbours. That may be the same box \
under a new name, which is nothing to plan, or another box in its place, which is a replacement: it keeps the member's \
name and gets a new serial number, so that uplink legs and consents go on to mean that place. To give a place a new name, \
use the name in the intent of the stack as it stands too. A newcomer with an id of its own, or at another place, is one \
member out and another in, and is planned so.",
};

/// Looks at the members of both stacks.
pub(super) fn check(new: (&Intent, &Layout), old: (&Intent, &Layout), findings: &mut Findings) {
    for member in &new.0.members {
        match old.0.member(member.name.as_str()) {
            Some(before) => contradictions(before, member, findings),
            None => new_name(member, new, old, findings),
        }
        for before in &old.0.members {
            moved(before, member, findings);
        }
    }
}

fn serial(member: &Member) -> Option<&Located<Serial>> {
    member.serial.as_ref()
}

fn is_replaced(before: &Member, after: &Member) -> bool {
    is_exchanged(serial(before).map(|serial| serial.as_str()), serial(after).map(|serial| serial.as_str()))
}

fn same_serial<'a>(before: &'a Member, after: &'a Member) -> Option<(&'a Located<Serial>, &'a Located<Serial>)> {
    serial(before).zip(serial(after)).filter(|(before, after)| before.as_str() == after.as_str())
}

fn same_mac<'a>(before: &'a Member, after: &'a Member) -> Option<(&'a Located<Mac>, &'a Located<Mac>)> {
    let both = before.mac.as_ref().zip(after.mac.as_ref());
    both.filter(|(before, after)| before.canonical() == after.canonical())
}

/// A member that keeps its box, and a model or a MAC address that says otherwise.
fn contradictions(before: &Member, after: &Member, findings: &mut Findings) {
    if is_replaced(before, after) {
        return;
    }
    let name = after.name.as_str();
    let help = if same_serial(before, after).is_some() {
        "correct it, or the serial number"
    } else {
        "correct it, or give both boxes their `serial:` if one takes the other's place"
    };
    let models = before.model.as_ref().zip(after.model.as_ref());
    if let Some((was, is)) = models.filter(|(was, is)| was.as_str() != is.as_str()) {
        let message = format!(
            "the model of {name} is {} here and {} as the stack stands, and a box keeps its model",
            is.as_str(),
            was.as_str()
        );
        let diagnostic = Diagnostic::error(&WHICH_BOX, is.span, message);
        findings.error(diagnostic.related(was.span, "its model as the stack stands").help(help));
    }
    let macs = before.mac.as_ref().zip(after.mac.as_ref());
    if let Some((was, is)) = macs.filter(|(was, is)| was.canonical() != is.canonical()) {
        let message = format!("the MAC address of {name} is another one as the stack stands, and a box keeps its own");
        let diagnostic = Diagnostic::error(&WHICH_BOX, is.span, message);
        findings.error(diagnostic.related(was.span, "its MAC address as the stack stands").help(help));
    }
}

/// A serial number or a MAC address of one box on another one.
fn moved(before: &Member, after: &Member, findings: &mut Findings) {
    let (old, new) = (before.name.as_str(), after.name.as_str());
    let same_name = old == new;
    if let Some((was, is)) = same_serial(before, after).filter(|_| !same_name) {
        let message = format!("the box `{}` is {old} as the stack stands, and cannot become {new}", is.as_str());
        let diagnostic = Diagnostic::error(&SERIAL_MOVES, is.span, message);
        findings.error(diagnostic.related(was.span, "it is this member now"));
        return;
    }
    if let Some((was, is)) = same_mac(before, after).filter(|_| !same_name || is_replaced(before, after)) {
        let other = if same_name { "its old box".to_owned() } else { old.to_owned() };
        let message = format!("{new} has the MAC address of {other} here, and each box has its own");
        let diagnostic = Diagnostic::error(&WHICH_BOX, is.span, message);
        let help = "write the MAC address of the new box, or leave `mac:` out";
        findings.error(diagnostic.related(was.span, "the box that has it as the stack stands").help(help));
    }
}

/// A newcomer that has the id and the neighbours of a member that is gone.
fn new_name(member: &Member, new: (&Intent, &Layout), old: (&Intent, &Layout), findings: &mut Findings) {
    let Some(gone) = predecessor(member, new.0, old.0) else { return };
    // that it is the same box is said already
    let told = same_serial(gone, member).is_some() || same_mac(gone, member).is_some();
    let known_as = |name: &str| {
        let successor = new.0.member(name).filter(|_| old.0.member(name).is_none());
        successor
            .and_then(|member| predecessor(member, new.0, old.0))
            .map_or(name, |gone| gone.name.as_str())
            .to_owned()
    };
    let (was, is) = (beside(old.1, gone.name.as_str()), beside(new.1, member.name.as_str()));
    if told || was != is.map(|names| names.iter().map(|name| known_as(name)).collect()) {
        return;
    }
    let (old_name, new_name) = (gone.name.as_str(), member.name.as_str());
    let message =
        format!("{new_name} has the id and the place of {old_name}, and what takes a member's place keeps its name");
    let diagnostic = Diagnostic::error(&NAME_CHANGES, member.name.span, message);
    let help = format!(
        "write `{old_name}` and the `serial:` of the new box, or write the new name into the stack as it stands too"
    );
    findings.error(diagnostic.related(gone.name.span, "this member is gone").help(help));
}

/// The member that is gone and had this newcomer's id.
fn predecessor<'a>(member: &Member, new: &Intent, old: &'a Intent) -> Option<&'a Member> {
    let gone = |before: &&Member| new.member(before.name.as_str()).is_none();
    old.members.iter().filter(gone).find(|before| before.id.value == member.id.value)
}

/// The members that a member is cabled to on its west and on its east side.
fn beside(layout: &Layout, name: &str) -> [BTreeSet<String>; 2] {
    let west = layout.cables.iter().filter(|cable| cable.west.0 == name).map(|cable| cable.east.0.clone());
    let east = layout.cables.iter().filter(|cable| cable.east.0 == name).map(|cable| cable.west.0.clone());
    [west.collect(), east.collect()]
}
