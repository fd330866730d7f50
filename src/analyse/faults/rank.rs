//! What follows from faults -> which is worse.

use crate::model::table::UnitSet;

use super::strike::Outcome;

/// How bad an outcome is, the greater the worse: a split brain before anything else, then members cut off, uplink pairs
/// down, members that restart when it heals, pieces more than before, members out of service.
#[must_use]
pub fn severity(healthy: &Outcome, outcome: &Outcome) -> [usize; 6] {
    [
        usize::from(outcome.split_brain),
        outcome.cut_off.len(),
        healthy.uplinks_up.minus(outcome.uplinks_up).len(),
        outcome.restarts.len(),
        outcome.islands.len().saturating_sub(healthy.islands.len()),
        healthy.in_service.minus(outcome.in_service).len(),
    ]
}

/// Whether all members that are up stay in service as one stack, and every uplink pair that was up stays up.
#[must_use]
pub fn survives(healthy: &Outcome, outcome: &Outcome) -> bool {
    let fresh: UnitSet = outcome.cut_off.minus(healthy.cut_off);
    let pieces = outcome.islands.len() <= healthy.islands.len();
    pieces && fresh.is_empty() && !outcome.split_brain && healthy.uplinks_up.within(outcome.uplinks_up)
}
