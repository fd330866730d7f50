//! Every slip against a plan -> how many are caught, how many are harmless, and which would hurt.

use crate::model::acts::Act;
use crate::model::document::{DangerousSlip, SlipSteps, Slips};
use crate::model::slips::{End, Script, Slip, slips};

/// Tries every slip against a plan, or against the first `own` steps of a way back that goes on with another.
#[must_use]
pub fn tried(script: &Script<'_>, own: usize) -> Slips {
    let mut sums = Slips::default();
    for slip in slips(script).into_iter().filter(|slip| slip.steps().1 < own) {
        sums.tried += 1;
        match script.replay(slip).end {
            End::Caught(_) => sums.caught += 1,
            End::Harmless => sums.harmless += 1,
            End::Broken(_, rule) => sums.dangerous.push(DangerousSlip {
                slip: slip.kind().to_owned(),
                step: numbers(slip),
                with: slip.with(script.setting, operation(script, slip)),
                rule: rule.as_str().to_owned(),
            }),
        }
    }
    sums
}

fn operation(script: &Script<'_>, slip: Slip) -> Option<crate::model::operation::Operation> {
    match script.acts.get(slip.steps().0) {
        Some(Act::Do(operation)) => Some(*operation),
        Some(Act::Await(..) | Act::Expect(_)) | None => None,
    }
}

/// Step numbers count from 1.
fn numbers(slip: Slip) -> SlipSteps {
    let (first, last) = slip.steps();
    match slip {
        Slip::Swap(_) | Slip::Misplace { .. } => SlipSteps::Two([first as u32 + 1, last as u32 + 1]),
        Slip::LeaveOut(_) | Slip::Repeat(_) | Slip::Misplug { .. } | Slip::Mistype(..) | Slip::WrongUnit(..) => {
            SlipSteps::One(first as u32 + 1)
        }
    }
}
