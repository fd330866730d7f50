//! What must hold of a manifest beyond its shape.

use std::collections::BTreeSet;

use super::HardwareModel;
use super::load::place;
use super::manifest::Manifest;
use crate::diag::{Code, Diagnostic, Findings};
use crate::model::document::Action;
use crate::model::state::MAX_KEYS;
use crate::model::traits::{Criterion, Estimate, Traits};
use crate::source::Span;
use crate::yaml::Node;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[
    &UNKNOWN_DIALECT,
    &NO_MANIFEST,
    &EXTENDS_CYCLE,
    &UNKNOWN_KIND,
    &RANGE_ORDER,
    &TRAIT_VALUE,
    &ESTIMATE_ORDER,
    &PORT_RANGE,
    &OUTPUT_PATH,
];

/// No dialect of this name.
pub(super) const UNKNOWN_DIALECT: Code = Code {
    name: "unknown-dialect",
    explanation: "`dialect:` names either a built-in dialect or a folder, relative to the intent's file; a folder's name \
holds a `/`, as in `./ours` or `../dialects/ours`.",
};
/// A folder without a manifest.
pub(super) const NO_MANIFEST: Code = Code {
    name: "no-manifest",
    explanation: "A dialect is a folder with a file `dialect.yaml` in it, which says what the platform's habits are and \
which files a bundle holds.",
};
/// Dialects that extend each other without an end.
pub const EXTENDS_CYCLE: Code = Code {
    name: "extends-cycle",
    explanation: "`extends:` takes from another dialect every file and key that this one does not have. The row of \
dialects that it begins comes to an end, after at most eight of them.",
};
/// An operation that does not exist.
pub(super) const UNKNOWN_KIND: Code = Code {
    name: "unknown-kind",
    explanation: "`silent:` names kinds of operation that take no text on this platform, each with the reason. A kind that \
does not exist is refused, because a misspelt one would leave the right one without a word; so is one that people do \
by hand, wait for or look at, and one that takes a unit away, because nobody would be told.",
};
/// A range the wrong way round.
pub(super) const RANGE_ORDER: Code = Code {
    name: "range-order",
    explanation: "A range is its lowest and its highest value, in this order, and the value out of the box lies in it.",
};
/// A trait that contradicts itself.
pub(super) const TRAIT_VALUE: Code = Code {
    name: "trait-value",
    explanation: "A trait has the right shape, but not a value that a platform can have: an election compares at least \
one thing and none twice, the two sides have different names, at least one topology and one cable a side are supported.",
};
/// Estimates out of order.
pub(super) const ESTIMATE_ORDER: Code = Code {
    name: "estimate-order",
    explanation: "Of a three-point estimate, the best is at most the likely one, and the likely one at most the worst.",
};
/// A range of ports that is none.
pub(super) const PORT_RANGE: Code = Code {
    name: "port-range",
    explanation: "A range of ports goes from `first` to `last`, which differ only in the number at their end; each port of \
a model belongs to one range.",
};
/// An output outside its bundle.
pub const OUTPUT_PATH: Code = Code {
    name: "output-path",
    explanation: "An output goes to a path inside the bundle's folder: relative, `/` between its parts, no part `..`.",
};

/// Looks at everything and reports all that is wrong.
pub(super) fn check(manifest: &Manifest, tree: &Node, findings: &mut Findings) {
    ranges(&manifest.platform, tree, findings);
    values(&manifest.platform, tree, findings);
    estimates(&manifest.platform, tree, findings);
    catalogue(manifest, tree, findings);
    outputs(manifest, tree, findings);
    silent(manifest, tree, findings);
}

fn ranges(traits: &Traits, tree: &Node, findings: &mut Findings) {
    let id = (
        u32::from(traits.member_id.range.0.0),
        u32::from(traits.member_id.range.1.0),
        u32::from(traits.member_id.factory.0),
    );
    let priority = (traits.priority.range.0.0, traits.priority.range.1.0, traits.priority.factory.0);
    for (name, (low, high, factory)) in [("member_id", id), ("priority", priority)] {
        if low > high {
            let place = place(tree, &format!("platform.{name}.range"));
            let message = format!("the range begins at {low} and ends at {high}, and the lower end comes first");
            findings.error(Diagnostic::error(&RANGE_ORDER, place, message).help(format!("write [{high}, {low}]")));
        } else if !(low..=high).contains(&factory) {
            let place = place(tree, &format!("platform.{name}.factory"));
            let message = format!("the value out of the box is {factory}, and must lie in {low}-{high}");
            findings.error(Diagnostic::error(&RANGE_ORDER, place, message));
        }
    }
}

fn values(traits: &Traits, tree: &Node, findings: &mut Findings) {
    let lists = [&traits.election.boot, &traits.election.merge];
    let twice = |list: &&Vec<Criterion>| {
        list.iter().any(|criterion| list.iter().filter(|other| *other == criterion).count() > 1)
    };
    let faults = [
        (
            lists.iter().any(|list| list.is_empty()),
            "election",
            "an election compares at least one thing, and here it compares none",
        ),
        (lists.iter().any(twice), "election", "an election compares each thing once, and here one stands twice"),
        (
            traits.sides.names.west == traits.sides.names.east,
            "sides.names",
            "the two sides have one name, and need two",
        ),
        (traits.sides.max_cables == 0, "sides.max_cables", "a side holds at least one cable, and here none"),
        (traits.topologies.is_empty(), "topologies", "a platform supports at least one topology, and here none"),
        (traits.max_members == 0, "max_members", "a stack has at least one member, and here none"),
        (
            !traits.port_name.contains("port") || !traits.port_name.contains("member_id"),
            "port_name",
            "an interface's name holds the `port` and the `member_id`, or two units would have the same, and this one does not",
        ),
    ];
    let keys: Vec<&str> = traits.join_keys.iter().map(|key| key.name.as_str()).collect();
    let plain = |name: &&str| {
        (1..=31).contains(&name.len())
            && name.starts_with(|sign: char| sign.is_ascii_lowercase())
            && name.chars().all(|sign| sign.is_ascii_lowercase() || sign.is_ascii_digit() || sign == '-')
    };
    let faults = faults.into_iter().chain([
        (
            keys.len() > MAX_KEYS,
            "join_keys",
            "at most four things must be equal on all members, and here more are listed",
        ),
        (
            keys.iter().collect::<BTreeSet<_>>().len() < keys.len(),
            "join_keys",
            "each thing stands once, and here one twice",
        ),
        (
            !keys.iter().all(plain),
            "join_keys",
            "a name is of lower-case letters, digits and dashes, and here one is not",
        ),
    ]);
    for (_, path, message) in faults.into_iter().filter(|(wrong, _, _)| *wrong) {
        findings.error(Diagnostic::error(&TRAIT_VALUE, place(tree, &format!("platform.{path}")), message));
    }
}

fn estimates(traits: &Traits, tree: &Node, findings: &mut Findings) {
    let minutes = &traits.minutes;
    let all: [(&str, &Estimate); 8] = [
        ("restart", &minutes.restart),
        ("sync", &minutes.sync),
        ("command", &minutes.command),
        ("cable", &minutes.cable),
        ("power", &minutes.power),
        ("save", &minutes.save),
        ("activate", &minutes.activate),
        ("check", &minutes.check),
    ];
    for (name, estimate) in all {
        let best = estimate.best.unwrap_or(estimate.likely);
        if best > estimate.likely || estimate.likely > estimate.worst {
            let (likely, worst) = (estimate.likely, estimate.worst);
            let message = format!("the minutes are {best}, {likely} and {worst}, and must not fall from best to worst");
            findings.error(Diagnostic::error(
                &ESTIMATE_ORDER,
                place(tree, &format!("platform.minutes.{name}")),
                message,
            ));
        }
    }
}

fn catalogue(manifest: &Manifest, tree: &Node, findings: &mut Findings) {
    for (name, model) in &manifest.models {
        let at = tree.get("models").and_then(|models| models.entry(name)).map_or(tree.head(), |entry| entry.key_span);
        for range in model.ports.iter().filter(|range| range.expand().is_none()) {
            let last = range.last.as_ref().map_or("", |last| last.as_str());
            let message = format!("`{}` to `{last}` of model {name} is no range of ports", range.first);
            findings.error(Diagnostic::error(&PORT_RANGE, at, message));
        }
        let ports = model.all_ports();
        let mut pairs = ports.iter().zip(ports.iter().skip(1));
        if let Some((port, _)) = pairs.find(|(one, next)| one.name == next.name) {
            let message = format!("port `{}` of model {name} stands in two ranges, and belongs to one", port.name);
            findings.error(Diagnostic::error(&PORT_RANGE, at, message));
        }
        groups(name, model, at, findings);
        for other in model.stacks_with.iter().flatten().filter(|other| !manifest.models.contains_key(*other)) {
            let message = format!("model {name} stacks with `{other}`, which is not in this catalogue");
            findings.error(Diagnostic::error(&TRAIT_VALUE, at, message));
        }
    }
}

fn outputs(manifest: &Manifest, tree: &Node, findings: &mut Findings) {
    for (index, output) in manifest.outputs.iter().enumerate() {
        let path = &output.path;
        let leaves =
            path.is_empty() || path.starts_with('/') || path.contains('\\') || path.split('/').any(|part| part == "..");
        if leaves {
            let at = [crate::yaml::Segment::Key("outputs".to_owned()), crate::yaml::Segment::Index(index)];
            let place = tree.at(&at).and_then(|node| node.get("path")).map_or(tree.head(), |node| node.span);
            let message = format!("the path `{path}` leaves the bundle's folder, and must stay inside it");
            findings.error(Diagnostic::error(&OUTPUT_PATH, place, message));
        }
    }
}

/// Port groups name ports of the model, none twice.
fn groups(name: &str, model: &HardwareModel, at: Span, findings: &mut Findings) {
    let ports = model.all_ports();
    let mut seen = BTreeSet::new();
    for port in model.port_groups.iter().flatten() {
        let known = ports.iter().any(|one| one.name == *port);
        let message = match (known, seen.insert(port)) {
            (true, true) => continue,
            (false, _) => format!("a port group of model {name} holds `{port}`, which is none of its ports"),
            (true, false) => format!("port `{port}` of model {name} stands in port groups twice, and belongs to one"),
        };
        findings.error(Diagnostic::error(&PORT_RANGE, at, message));
    }
}

/// What people do or look at takes words on every platform, and so does whatever takes a unit away.
const NEVER_SILENT: [&str; 8] =
    ["expect", "await", "power-on", "power-off", "connect-cable", "disconnect-cable", "restart", "wipe"];

/// Kinds that are silent are kinds of operation that may be, each with a reason.
fn silent(manifest: &Manifest, tree: &Node, findings: &mut Findings) {
    for (kind, why) in &manifest.silent {
        let entry = tree.get("silent").and_then(|kinds| kinds.entry(kind));
        let place = entry.map_or(tree.head(), |entry| entry.key_span);
        let fault = match (NEVER_SILENT.contains(&kind.as_str()), why.as_str().trim().is_empty()) {
            (true, _) => format!("`{kind}` may not be silent: people do it, wait for it or look at it"),
            (false, true) => format!("`{kind}` is silent without a reason, and needs one"),
            (false, false) => continue,
        };
        findings.error(Diagnostic::error(&UNKNOWN_KIND, place, fault).help("give it a template under `steps/`"));
    }
    for kind in manifest.silent.keys().filter(|kind| !Action::KINDS.contains(&kind.as_str())) {
        let entry = tree.get("silent").and_then(|kinds| kinds.entry(kind));
        let place = entry.map_or(tree.head(), |entry| entry.key_span);
        let message = format!("`{kind}` is no kind of operation");
        let help = "name one of those under `steps/`";
        let diagnostic = Diagnostic::error(&UNKNOWN_KIND, place, message);
        findings.error(diagnostic.help_nearest(kind, Action::KINDS.iter().copied(), help));
    }
}
