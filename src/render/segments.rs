//! The steps of a plan -> what is typed or pasted in one go: a check and the run of typed steps after it.

use crate::model::document::{Action, Phase, Place, Status, StepEntry, UnitEntry};

/// One file's worth of steps, by their positions in the plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Segment {
    /// The `expect` that opens it.
    pub(super) check: Option<usize>,
    /// The typed steps.
    pub(super) typed: Vec<usize>,
    /// Where it is typed.
    pub(super) place: Place,
    /// The joining unit that it stages; none for the rest of the change.
    pub(super) stages: Option<String>,
}

impl Segment {
    /// The positions of all its steps, in order.
    pub(super) fn positions(&self) -> impl Iterator<Item = usize> {
        self.check.into_iter().chain(self.typed.iter().copied())
    }
}

/// Cuts the steps into segments, in the order of the plan.
pub(super) fn cut(steps: &[StepEntry], units: &[UnitEntry]) -> Vec<Segment> {
    let mut segments = Vec::new();
    let mut open: Option<Segment> = None;
    for (position, step) in steps.iter().enumerate() {
        let Some(place) = step.at.clone().filter(|_| stays_at_a_keyboard(&step.action)) else {
            close(&mut segments, open.take());
            continue;
        };
        let stages = staged_unit(step, &place, units);
        let is_check = matches!(step.action, Action::Expect { .. });
        let goes_on =
            open.as_ref().is_some_and(|segment| !is_check && segment.place == place && segment.stages == stages);
        if !goes_on {
            close(&mut segments, open.take());
        }
        let segment = open.get_or_insert_with(|| Segment { check: None, typed: Vec::new(), place, stages });
        if is_check {
            segment.check = Some(position);
        } else {
            segment.typed.push(position);
        }
        if matches!(step.action, Action::Restart { .. } | Action::Wipe { .. }) {
            close(&mut segments, open.take());
        }
    }
    close(&mut segments, open);
    segments
}

/// Keeps a segment in which something is typed; a look alone is no file.
fn close(segments: &mut Vec<Segment>, segment: Option<Segment>) {
    segments.extend(segment.filter(|segment| !segment.typed.is_empty()));
}

/// Whether the step is done at a keyboard without a wait: a look or something typed.
fn stays_at_a_keyboard(action: &Action) -> bool {
    match action {
        Action::PowerOn { .. }
        | Action::PowerOff { .. }
        | Action::ConnectCable { .. }
        | Action::DisconnectCable { .. }
        | Action::Await { .. } => false,
        Action::Restart { .. }
        | Action::Wipe { .. }
        | Action::AssignId { .. }
        | Action::SetPriority { .. }
        | Action::DisablePort { .. }
        | Action::EnablePort { .. }
        | Action::BindPort { .. }
        | Action::ReleasePort { .. }
        | Action::Activate { .. }
        | Action::Save { .. }
        | Action::HandOver { .. }
        | Action::SetMode { .. }
        | Action::SetKey { .. }
        | Action::Admit { .. }
        | Action::Forget { .. }
        | Action::FormUplink { .. }
        | Action::DropUplink { .. }
        | Action::AddLeg { .. }
        | Action::DropLeg { .. }
        | Action::GuardSplit { .. }
        | Action::UnguardSplit { .. }
        | Action::Expect { .. } => true,
    }
}

/// The joining unit that a step of staging is about, if it is one on that unit's console.
fn staged_unit(step: &StepEntry, place: &Place, units: &[UnitEntry]) -> Option<String> {
    match place {
        Place::Console(key) if step.phase == Phase::Stage => {
            units.iter().find(|unit| unit.key == *key && unit.status == Status::Joining).map(|unit| unit.key.clone())
        }
        Place::Console(_) | Place::Stack(_) | Place::Hands(_) => None,
    }
}

/// What a segment does, in a word or two, for the name of its file: its weightiest operation.
pub(super) fn name<'a>(actions: impl Iterator<Item = &'a Action>) -> &'static str {
    actions.map(weight).min().map_or("check", |(_, name)| name)
}

fn weight(action: &Action) -> (u8, &'static str) {
    match action {
        Action::AssignId { .. } => (0, "member-id"),
        Action::FormUplink { .. } | Action::DropUplink { .. } | Action::AddLeg { .. } | Action::DropLeg { .. } => {
            (1, "uplink-pairs")
        }
        Action::GuardSplit { .. } | Action::UnguardSplit { .. } => (2, "split-guard"),
        Action::BindPort { .. } => (3, "bind-ports"),
        Action::ReleasePort { .. } => (4, "release-ports"),
        Action::Activate { .. } => (5, "activate"),
        Action::HandOver { .. } => (5, "hand-over"),
        Action::SetMode { .. } => (5, "stack-mode"),
        Action::Admit { .. } => (5, "admit"),
        Action::Forget { .. } => (5, "forget"),
        Action::SetKey { .. } => (5, "equal-settings"),
        Action::SetPriority { .. } => (6, "priority"),
        Action::DisablePort { .. } => (7, "disable-ports"),
        Action::EnablePort { .. } => (8, "enable-ports"),
        Action::Wipe { .. } => (9, "wipe"),
        Action::Restart { .. } => (10, "restart"),
        Action::Save { .. } => (11, "save"),
        Action::PowerOn { .. }
        | Action::PowerOff { .. }
        | Action::ConnectCable { .. }
        | Action::DisconnectCable { .. }
        | Action::Await { .. }
        | Action::Expect { .. } => (12, "check"),
    }
}
