//! Lines -> numbered steps in moves, and what each step needs.

use std::collections::BTreeMap;

use crate::model::document::{Move, Phase, StepEntry};
use crate::model::table::UnitId;

use super::script::Line;

/// Numbers the lines, cuts them into moves, and says what each step needs.
#[must_use]
pub fn moves(lines: Vec<Line>) -> (Vec<Move>, Vec<StepEntry>) {
    let mut moves: Vec<Move> = Vec::new();
    let mut steps = Vec::new();
    let mut last_of_unit: BTreeMap<Option<UnitId>, u32> = BTreeMap::new();
    let mut last_after_staging: Option<u32> = None;
    for (position, line) in lines.into_iter().enumerate() {
        let number = position as u32 + 1;
        if moves.last().is_none_or(|last| last.title != line.title) {
            moves.push(Move { number: moves.len() as u32 + 1, title: line.title, phase: line.phase });
        }
        let needs = match (line.phase, last_after_staging) {
            (Phase::Stage, _) => last_of_unit.get(&line.stages).copied().into_iter().collect(),
            (_, Some(last)) => vec![last],
            (_, None) => {
                let mut last: Vec<u32> = last_of_unit.values().copied().collect();
                last.sort_unstable();
                last
            }
        };
        if line.phase == Phase::Stage {
            last_of_unit.insert(line.stages, number);
        } else {
            last_after_staging = Some(number);
        }
        steps.push(StepEntry {
            number,
            in_move: Some(moves.len() as u32),
            phase: line.phase,
            at: None,
            action: line.action,
            needs: Some(needs),
            why: Some(line.why),
            minutes: None,
            predicts: None,
            stop_here: None,
        });
    }
    (moves, steps)
}
