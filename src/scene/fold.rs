//! Units with their lines, and the room for them -> which of them are drawn.

use super::line::Line;

/// The lines that are drawn for one unit: its row, and the links to the next one.
pub struct Block {
    /// Its row.
    pub row: Vec<Line>,
    /// The links to the next one.
    pub links: Vec<Line>,
    /// Whether the step is about it.
    pub about: bool,
    /// Whether the step changes it or one of its links.
    pub changed: bool,
}

/// Which units are drawn: those that the step is about, then those that it changes, then the nearest to them, as
/// many as there is room for.
#[must_use]
pub fn kept(blocks: &[&Block], room: Option<usize>) -> Vec<bool> {
    if room.is_none_or(|room| tall(blocks, &vec![true; blocks.len()]) <= room) {
        return vec![true; blocks.len()];
    }
    let room = room.unwrap_or(0);
    let anchors: Vec<usize> = {
        let about = |at: &usize| blocks.get(*at).is_some_and(|block| block.about);
        let changed = |at: &usize| blocks.get(*at).is_some_and(|block| block.changed);
        let some: Vec<usize> = (0..blocks.len()).filter(about).collect();
        if some.is_empty() { (0..blocks.len()).filter(changed).collect() } else { some }
    };
    let distance = |at: usize| anchors.iter().map(|anchor| anchor.abs_diff(at)).min().unwrap_or(at);
    let mut ranked: Vec<(bool, bool, usize, usize)> =
        blocks.iter().enumerate().map(|(at, block)| (!block.about, !block.changed, distance(at), at)).collect();
    ranked.sort_unstable();
    let mut kept = vec![false; blocks.len()];
    for (other, _, _, at) in ranked {
        if let Some(slot) = kept.get_mut(at) {
            *slot = true;
        }
        if tall(blocks, &kept) > room && kept.iter().filter(|kept| **kept).count() > 1 {
            if let Some(slot) = kept.get_mut(at) {
                *slot = false;
            }
            // a step's own units are worth a second look
            if other {
                break;
            }
        }
    }
    kept
}

/// The lines that these units take, links between two that are drawn and folds among them.
fn tall(blocks: &[&Block], kept: &[bool]) -> usize {
    let mut before = true;
    let mut lines = 0;
    for (at, (block, shown)) in blocks.iter().zip(kept).enumerate() {
        let next = kept.get(at + 1).copied().unwrap_or(true);
        lines += match (*shown, before) {
            (true, _) => block.row.len() + if next { block.links.len() } else { 0 },
            (false, true) => 1,
            (false, false) => 0,
        };
        before = *shown;
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blocks(about: &[usize], changed: &[usize]) -> Vec<Block> {
        let block = |at| Block {
            row: vec![Line::new()],
            links: vec![Line::new()],
            about: about.contains(&at),
            changed: changed.contains(&at),
        };
        (0..16).map(block).collect()
    }

    fn drawn(blocks: &[Block], room: usize) -> Vec<usize> {
        let blocks: Vec<&Block> = blocks.iter().collect();
        let kept = kept(&blocks, Some(room));
        assert!(tall(&blocks, &kept) <= room.max(3), "{kept:?} in {room}");
        (0..16).filter(|at| kept[*at]).collect()
    }

    #[test]
    fn with_room_nothing_is_folded() {
        assert_eq!(drawn(&blocks(&[3], &[]), 32).len(), 16);
    }

    #[test]
    fn the_unit_of_the_step_stays_in_view() {
        for at in 0..16 {
            for room in 3..32 {
                assert!(drawn(&blocks(&[at], &[]), room).contains(&at), "{at} in {room}");
            }
        }
        assert_eq!(drawn(&blocks(&[7], &[]), 7), [6, 7, 8]);
        assert_eq!(drawn(&blocks(&[0, 15], &[]), 4), [0, 15]);
    }

    #[test]
    fn then_come_those_that_it_changes() {
        assert_eq!(drawn(&blocks(&[7], &[2]), 7), [2, 6, 7]);
    }
}
