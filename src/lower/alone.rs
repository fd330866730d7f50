//! An intent read by itself, as the next change will read it -> warnings where it says something else than what this
//! change leaves.

use super::layout::{Layout, Placed, lay_out};
use super::units::Boxes;
use crate::diag::{Code, Diagnostic, Findings};
use crate::intent::{Intent, Member};
use crate::model::PortName;
use crate::model::document::StateDocument;
use crate::platform::Platform;

/// The codes of this file.
pub(super) const CODES: &[&Code] = &[&NOT_AS_BUILT];

pub(super) const NOT_AS_BUILT: Code = Code {
    name: "not-as-built",
    explanation: "Once the change is done, this intent is the stack as it stands for the next one, and is then read by \
itself. Here it would say something else than what the change leaves: sides that keep the ports of the stack as it stands, \
where the intent alone would derive others, or a port that is listed as disabled and that nothing disables, for \
`disabled_ports` only tells of a stack as it stands. The next change would start from a stack that is not there.",
};

/// Looks at the sides that were derived and the ports that are listed as disabled.
pub(super) fn check(
    (intent, layout): (&Intent, &Layout),
    has_baseline: bool,
    boxes: &Boxes,
    target: &StateDocument,
    platform: &Platform,
    findings: &mut Findings,
) {
    // without a stack as it stands, the intent was read by itself
    if has_baseline {
        // what is wrong with it is said of the intent as it is meant
        let alone = lay_out(intent, None, platform, &mut Findings::default());
        for member in intent.members.iter().filter(|member| member.sides.is_none()) {
            derived(member, layout, &alone, findings);
        }
    }
    for member in &intent.members {
        let unit = target.units.get(&boxes.new_key(member.name.as_str()));
        let Some(saved) = unit.and_then(|unit| unit.saved.as_ref()) else { continue };
        for port in &member.disabled_ports {
            if saved.ports.get(&port.value).is_some_and(|state| state.enabled) {
                let message = format!(
                    "port `{}` of {} stays enabled, and is listed as disabled",
                    port.value,
                    member.name.as_str()
                );
                let diagnostic = Diagnostic::warning(&NOT_AS_BUILT, port.span, message);
                findings.warn(diagnostic.help("take it off the list, or disable it once the change is done"));
            }
        }
    }
}

fn derived(member: &Member, layout: &Layout, alone: &Layout, findings: &mut Findings) {
    let name = member.name.as_str();
    let (Some(is), Some(would)) = (layout.member(name), alone.member(name)) else { return };
    let (west, east) = (cabled(is, &is.west), cabled(is, &is.east));
    // of a side that the intent alone would cable, the first ports are in use
    if would.west.starts_with(&west) && would.east.starts_with(&east) {
        return;
    }
    let message = format!("read by itself, this intent does not say the ports that the sides of {name} keep");
    let help = format!("add `sides: {{west: [{}], east: [{}]}}`", written(&west), written(&east));
    findings.warn(Diagnostic::warning(&NOT_AS_BUILT, member.name.span, message).help(help));
}

/// The ports of a side that hold a cable, in the order of the cables.
fn cabled(placed: &Placed, side: &[PortName]) -> Vec<PortName> {
    side.iter().filter(|port| placed.bound.contains_key(port)).cloned().collect()
}

fn written(ports: &[PortName]) -> String {
    ports.iter().map(|port| format!("\"{port}\"")).collect::<Vec<_>>().join(", ")
}
