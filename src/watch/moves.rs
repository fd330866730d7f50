//! Lines -> numbered steps in moves, and what each step needs.

use std::collections::BTreeMap;

use crate::model::derive::{Link, becomes_protected, link, side_links};
use crate::model::document::{Move, Phase, StepEntry};
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::table::{CableId, UnitId};

use super::script::Line;

/// What a person would call what an operation has just reached, if it reached something whole.
#[must_use]
pub fn milestone(setting: &Setting, before: &Situation, after: &Situation, operation: Operation) -> Option<String> {
    let live = after.memory.live;
    let old = side_links(setting, &before.state, live);
    let fresh = side_links(setting, &after.state, live).into_iter().find(|link| !old.contains(link));
    if let Some((one, other)) = fresh {
        let closes = becomes_protected(setting, before, after);
        let (a, b) = (&setting.units[one.0].key, &setting.units[other.0].key);
        return Some(if closes {
            "Close the ring".to_owned()
        } else {
            format!("Bring up the link between {a} and {b}")
        });
    }
    if let Some(cable) = joined_cable(setting, before, after) {
        let [one, other] = setting.cable_names(cable);
        return Some(format!("Add the cable between {one} and {other}"));
    }
    let pair = |id| &setting.uplinks[id].name;
    match operation {
        Operation::SetPriority(unit, _) => Some(format!("Give {} its new priority", setting.units[unit].key)),
        Operation::FormUplink(id, _) => Some(format!("Form uplink pair {}", pair(id))),
        Operation::DropUplink(id) => Some(format!("Drop uplink pair {}", pair(id))),
        Operation::AddLeg(leg) | Operation::DropLeg(leg) => {
            Some(format!("Change the legs of uplink pair {}", pair(setting.legs[leg].uplink)))
        }
        Operation::GuardSplit(id) => Some(format!("Put the split guard over uplink pair {}", pair(id))),
        Operation::UnguardSplit(id) => Some(format!("Take the split guard off uplink pair {}", pair(id))),
        _ => None,
    }
}

/// A cable that has begun to carry beside others of its link.
fn joined_cable(setting: &Setting, before: &Situation, after: &Situation) -> Option<CableId> {
    let up = |situation: &Situation, cable: CableId| link(setting, &situation.state, cable) == Link::Stack;
    after.state.plugged.iter().find(|cable| up(after, *cable) && !up(before, *cable))
}

/// Numbers the lines, cuts them into moves, and says what each step needs.
#[must_use]
pub fn moves(lines: Vec<Line>) -> (Vec<Move>, Vec<StepEntry>) {
    let titles = titles(&lines);
    let mut moves: Vec<Move> = Vec::new();
    let mut steps = Vec::new();
    let mut opens = true;
    let mut last_of_unit: BTreeMap<Option<UnitId>, u32> = BTreeMap::new();
    let mut last_after_staging: Option<u32> = None;
    for (position, line) in lines.into_iter().enumerate() {
        let number = position as u32 + 1;
        if opens {
            let title = titles.get(position).cloned().unwrap_or_default();
            moves.push(Move { number: moves.len() as u32 + 1, title, phase: line.phase });
        }
        opens = line.closes.is_some();
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

/// For each line, the title of the move that it belongs to.
fn titles(lines: &[Line]) -> Vec<String> {
    let mut titles = vec![String::new(); lines.len()];
    let mut title = "Save and check the whole stack".to_owned();
    for (line, slot) in lines.iter().zip(titles.iter_mut()).rev() {
        if let Some(closes) = &line.closes {
            title = closes.clone();
        }
        slot.clone_from(&title);
    }
    titles
}
