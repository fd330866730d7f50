//! Cables that do not run straight from a unit to the next -> lanes beside the boxes, so that no two lie on each other.

/// A cable that takes a lane, by the two rows that it joins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span {
    /// The upper row.
    pub top: usize,
    /// The lower row.
    pub bottom: usize,
}

/// The lane of each span, counted from the boxes outwards. Two spans that have a row in common take different lanes;
/// short ones stay inside, so that few lines cross.
#[must_use]
pub fn lanes(spans: &[Span]) -> Vec<usize> {
    let mut order: Vec<(usize, &Span)> = spans.iter().enumerate().collect();
    order.sort_by_key(|(at, span)| (span.bottom - span.top, span.top, *at));
    let mut taken: Vec<Vec<Span>> = Vec::new();
    let mut found = vec![0; spans.len()];
    for (at, span) in order {
        let meets = |other: &Span| span.top <= other.bottom && other.top <= span.bottom;
        let free = taken.iter().position(|lane| !lane.iter().any(meets)).unwrap_or(taken.len());
        if free == taken.len() {
            taken.push(Vec::new());
        }
        taken.get_mut(free).into_iter().for_each(|lane| lane.push(*span));
        found.get_mut(at).into_iter().for_each(|lane| *lane = free);
    }
    found
}

/// How many lanes there are.
#[must_use]
pub fn count(lanes: &[usize]) -> usize {
    lanes.iter().max().map_or(0, |most| most + 1)
}

/// The lines that end at a row, top to bottom, so that none crosses another there: those that come from above, the
/// inner ones first, then those that go down, the outer ones first. Each is a span's position and whether it goes down.
#[must_use]
pub fn ends(spans: &[Span], lanes: &[usize], row: usize) -> Vec<(usize, bool)> {
    let lane = |at: usize| lanes.get(at).copied().unwrap_or(0);
    let those = |down: bool| {
        let here = move |span: &Span| if down { span.top == row } else { span.bottom == row };
        let mut those: Vec<usize> = spans.iter().enumerate().filter(|(_, span)| here(span)).map(|(at, _)| at).collect();
        those.sort_by_key(|at| lane(*at));
        those
    };
    let up = those(false).into_iter().map(|at| (at, false));
    up.chain(those(true).into_iter().rev().map(|at| (at, true))).collect()
}

/// What tells a lane's cable from others: `a` to `z`, then `aa` and so on.
#[must_use]
pub fn letter(position: usize) -> String {
    let mut left = position + 1;
    let mut letters = Vec::new();
    while left > 0 {
        left -= 1;
        letters.push(char::from(b'a' + (left % 26) as u8));
        left /= 26;
    }
    letters.iter().rev().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spans(all: &[(usize, usize)]) -> Vec<Span> {
        all.iter().map(|(top, bottom)| Span { top: *top, bottom: *bottom }).collect()
    }

    #[test]
    fn spans_that_meet_take_different_lanes_and_short_ones_stay_inside() {
        assert_eq!(lanes(&spans(&[(0, 4), (0, 2), (2, 4), (3, 5)])), [2, 0, 1, 0]);
        assert_eq!(lanes(&spans(&[(0, 3), (0, 3), (5, 7)])), [0, 1, 0]);
        assert_eq!(lanes(&[]), [0; 0]);
        assert_eq!((count(&[1, 0]), count(&[])), (2, 0));
    }

    #[test]
    fn lines_at_one_box_do_not_cross() {
        let all = spans(&[(0, 2), (0, 3), (1, 2), (2, 4), (2, 5)]);
        let taken = lanes(&all);
        assert_eq!(ends(&all, &taken, 0), [(1, true), (0, true)]);
        assert_eq!(ends(&all, &taken, 2).len(), 4);
        let order: Vec<(bool, usize)> = ends(&all, &taken, 2).into_iter().map(|(at, down)| (down, taken[at])).collect();
        assert!(order.windows(2).all(|pair| match (pair[0], pair[1]) {
            ((false, one), (false, other)) => one < other,
            ((true, one), (true, other)) => one > other,
            ((false, _), (true, _)) => true,
            ((true, _), (false, _)) => false,
        }));
    }

    #[test]
    fn letters_go_on_after_the_last() {
        assert_eq!([0, 25, 26, 51, 52, 702].map(letter), ["a", "z", "aa", "az", "ba", "aaa"]);
    }
}
