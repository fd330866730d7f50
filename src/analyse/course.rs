//! Activities with three-point estimates, and what each waits for -> the expected time of all, and the critical path.

use crate::model::Minutes;

/// A three-point estimate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Estimated {
    /// If all goes well.
    pub best: Minutes,
    /// As it usually goes.
    pub likely: Minutes,
    /// If much goes wrong.
    pub worst: Minutes,
}

impl Estimated {
    /// Six times the expected value, in hundredths of a minute: exact, so that sums are.
    const fn six_times(self) -> i64 {
        self.best.as_hundredths() + 4 * self.likely.as_hundredths() + self.worst.as_hundredths()
    }

    /// The expected value by the usual formula of PERT, (best + 4 likely + worst) / 6, to the hundredth.
    #[must_use]
    pub const fn expected(self) -> Minutes {
        sixth(self.six_times())
    }

    /// Both, one after the other.
    #[must_use]
    pub fn then(self, next: Self) -> Self {
        Self { best: self.best + next.best, likely: self.likely + next.likely, worst: self.worst + next.worst }
    }
}

const fn sixth(of: i64) -> Minutes {
    Minutes::hundredths((of + 3) / 6)
}

/// A piece of work.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Activity {
    /// How long it takes.
    pub takes: Estimated,
    /// What must be done before, by position: all of it stands before the activity itself.
    pub needs: Vec<usize>,
}

/// How long activities take together, where each begins as soon as it may.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Course {
    /// The sum of the expected values on the critical path.
    pub expected: Minutes,
    /// Where every activity takes its best value.
    pub best: Minutes,
    /// Where every activity takes its likely value.
    pub likely: Minutes,
    /// Where every activity takes its worst value.
    pub worst: Minutes,
    /// The critical path by positions: the activities whose expected values make the whole as long as it is. Of several
    /// such paths, the one whose activities stand first.
    pub path: Vec<usize>,
}

/// Works it out.
#[must_use]
pub fn course(activities: &[Activity]) -> Course {
    let (expected, path) = longest(activities, Estimated::six_times);
    let of = |point: fn(Estimated) -> Minutes| {
        Minutes::hundredths(longest(activities, |takes| point(takes).as_hundredths()).0)
    };
    Course {
        expected: sixth(expected),
        best: of(|takes| takes.best),
        likely: of(|takes| takes.likely),
        worst: of(|takes| takes.worst),
        path,
    }
}

/// The longest way through the activities, and its length.
fn longest(activities: &[Activity], length: impl Fn(Estimated) -> i64) -> (i64, Vec<usize>) {
    // when each ends, and what it waited for
    let mut ends: Vec<(i64, Option<usize>)> = Vec::with_capacity(activities.len());
    for activity in activities {
        let end = |at: usize| ends.get(at).map(|(end, _)| *end);
        let last = activity.needs.iter().filter_map(|at| Some((end(*at)?, std::cmp::Reverse(*at)))).max();
        let (start, from) = last.map_or((0, None), |(end, at)| (end, Some(at.0)));
        ends.push((start + length(activity.takes), from));
    }
    let last = ends.iter().enumerate().max_by_key(|(at, (end, _))| (*end, std::cmp::Reverse(*at)));
    let total = last.map_or(0, |(_, (end, _))| *end);
    let mut path: Vec<usize> = std::iter::successors(last.map(|(at, _)| at), |at| ends.get(*at)?.1).collect();
    path.reverse();
    (total, path)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn activity(best: i64, likely: i64, worst: i64, needs: &[usize]) -> Activity {
        let whole = |minutes: i64| Minutes::hundredths(minutes * 100);
        let takes = Estimated { best: whole(best), likely: whole(likely), worst: whole(worst) };
        Activity { takes, needs: needs.to_vec() }
    }

    /// A published lecture example of PERT three-point estimates, by the formula (o + 4m + p) / 6: ten activities, A to
    /// J, of which C, F, H and J are critical and take 17 together.
    #[test]
    fn a_published_example_comes_out() {
        let [a, b, c, d, e, f, g, h, j] = [0, 1, 2, 3, 4, 5, 6, 7, 9];
        let all = [
            activity(5, 6, 7, &[]),
            activity(1, 3, 5, &[]),
            activity(1, 4, 7, &[]),
            activity(1, 2, 3, &[a]),
            activity(1, 2, 9, &[b]),
            activity(1, 5, 9, &[c]),
            activity(2, 2, 8, &[c]),
            activity(4, 4, 10, &[e, f]),
            activity(2, 5, 8, &[d]),
            activity(2, 2, 8, &[h, g]),
        ];
        let found = course(&all);
        assert_eq!(found.expected, Minutes::hundredths(1700));
        assert_eq!(found.path, [c, f, h, j]);
        let expected = all.iter().map(|one| one.takes.expected().as_hundredths() / 100).collect::<Vec<_>>();
        assert_eq!(expected, [6, 3, 4, 2, 3, 5, 3, 5, 5, 3]);
        // likely, C, F, H and J take 4 + 5 + 4 + 2; at best, 1 + 1 + 4 + 2
        assert_eq!((found.likely, found.best), (Minutes::hundredths(1500), Minutes::hundredths(800)));
    }

    #[test]
    fn sums_are_exact() {
        // a sixth of 0.20 + 4 times 0.20 + 1 is 0.3333…: three of them are one minute
        let odd = Estimated {
            best: Minutes::hundredths(20),
            likely: Minutes::hundredths(20),
            worst: Minutes::hundredths(100),
        };
        assert_eq!(odd.expected(), Minutes::hundredths(33));
        let all: Vec<Activity> =
            (0..3).map(|at: usize| Activity { takes: odd, needs: at.checked_sub(1).into_iter().collect() }).collect();
        assert_eq!(course(&all).expected, Minutes::hundredths(100));
        assert_eq!(odd.then(odd).then(odd).expected(), Minutes::hundredths(100));
    }

    #[test]
    fn of_equal_paths_the_first_is_named_and_nothing_takes_no_time() {
        let one = activity(1, 1, 1, &[]);
        let all = [one.clone(), one, activity(1, 1, 1, &[0, 1])];
        assert_eq!(course(&all).path, [0, 2]);
        let none = course(&[]);
        assert_eq!((none.expected, none.path), (Minutes::ZERO, vec![]));
    }
}
