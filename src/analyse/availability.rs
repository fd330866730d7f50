//! How often parts fail and how long a repair takes -> how likely it is that all members are together, and that each
//! reaches a living uplink. For comparison only: parts are taken to fail and to be repaired independently of each other,
//! which no rack promises.
//!
//! Steady-state availability is MTBF / (MTBF + MTTR), where MTBF is the mean time up and MTTR the mean time to restoration
//! (terms of IEC 60050-192, common practice); the published project-management example of 100 h up and 5 h down is 0.952.
//!
//! The probability that all members are together is the all-terminal reliability of a path or a cycle. For one survival
//! probability p of n links, a path has p^(n-1) and a cycle p^n + n p^(n-1) (1-p) (Colbourn, The Combinatorics of Network
//! Reliability, 1987, from memory; recomputed by enumeration). Here each link has its own p, that of parallel cables being
//! 1 - (1-p)^k, and every unit must be up as well. A chain is computed as a ring whose closing link never works.
//!
//! Whether a member reaches an uplink is summed over the first part that fails on either way round, which is exact too
//! and takes as many sums as the square of the parts. Other shapes than chains and rings are not computed.

/// A stack as a ring of parts: unit, link to the next unit, next unit, …; the last link leads back to the first unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Ring {
    /// The units in order.
    pub units: Vec<Part>,
    /// How likely each link to the next unit works: 0 where there is none.
    pub links: Vec<f64>,
}

/// A unit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Part {
    /// How likely it is up.
    pub up: f64,
    /// How likely each of its uplink legs works.
    pub legs: Vec<f64>,
}

/// Mean times in hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Times {
    /// Mean time up.
    pub mtbf_hours: f64,
    /// Mean time to restoration.
    pub mttr_hours: f64,
}

impl Times {
    /// Steady-state availability.
    #[must_use]
    pub fn availability(self) -> f64 {
        self.mtbf_hours / (self.mtbf_hours + self.mttr_hours)
    }
}

/// Several cables that do the work of one.
#[must_use]
pub fn parallel(one: f64, cables: usize) -> f64 {
    (0..cables).fold(1.0, |left, _| left * (1.0 - one)).mul_add(-1.0, 1.0)
}

impl Ring {
    /// How likely all members are up and together.
    #[must_use]
    pub fn together(&self) -> f64 {
        let units: f64 = self.units.iter().map(|unit| unit.up).product();
        if self.units.len() < 2 {
            return units;
        }
        let broken = |at: usize| -> f64 {
            let each = self.links.iter().enumerate();
            each.map(|(other, works)| if other == at { 1.0 - works } else { *works }).product()
        };
        let whole: f64 = self.links.iter().product();
        units * (whole + (0..self.links.len()).map(broken).sum::<f64>())
    }

    /// How likely a member is up and reaches a living leg, over units that are up and links that work.
    #[must_use]
    pub fn reaches(&self, member: usize) -> f64 {
        let Some(own) = self.units.get(member) else { return 0.0 };
        // around the ring: link, unit, link, …, link; a link has no legs
        let count = self.units.len();
        let mut parts: Vec<(f64, f64)> = Vec::with_capacity(2 * count);
        for step in 0..count {
            let link = self.links.get((member + step) % count).copied().unwrap_or(0.0);
            parts.push((link, 1.0));
            if let Some(unit) = self.units.get((member + step + 1) % count).filter(|_| step + 1 < count) {
                parts.push((unit.up, dark(unit)));
            }
        }
        own.up * (1.0 - dark(own) * unreached(&parts))
    }
}

/// How likely no leg of a unit works.
fn dark(unit: &Part) -> f64 {
    unit.legs.iter().map(|works| 1.0 - works).product()
}

/// How likely no leg works on any part that is reached from either end: each part works with the first number, and has no
/// living leg with the second.
fn unreached(parts: &[(f64, f64)]) -> f64 {
    let works = |part: &(f64, f64)| part.0 * part.1;
    let all: f64 = parts.iter().map(works).product();
    let mut sum = all;
    let mut before = 1.0;
    for (first, part) in parts.iter().enumerate() {
        // the first that fails from one end is here; from the other end, here too or at a later part
        let mut after = 1.0;
        for (last, other) in parts.iter().enumerate().rev().take_while(|(last, _)| *last >= first) {
            let here = if last == first { 1.0 - part.0 } else { (1.0 - part.0) * (1.0 - other.0) };
            sum += before * here * after;
            after *= works(other);
        }
        before *= works(part);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(count: usize, link: f64, closing: f64, up: f64, legs: &[(usize, f64)]) -> Ring {
        let of = |at: usize| legs.iter().filter(|(unit, _)| *unit == at).map(|(_, works)| *works).collect();
        let units = (0..count).map(|at| Part { up, legs: of(at) }).collect();
        let links = (0..count).map(|at| if at + 1 == count { closing } else { link }).collect();
        Ring { units, links }
    }

    fn near(one: f64, other: f64) {
        assert!((one - other).abs() < 1e-12, "{one} is not {other}");
    }

    /// Every state of every part.
    fn enumerated(ring: &Ring, asks: impl Fn(&[bool], &[bool], &[Vec<bool>]) -> bool) -> f64 {
        let count = ring.units.len();
        let legs: Vec<(usize, usize)> = ring
            .units
            .iter()
            .enumerate()
            .flat_map(|(at, unit)| (0..unit.legs.len()).map(move |leg| (at, leg)))
            .collect();
        let mut sum = 0.0;
        for state in 0..1_u32 << (2 * count + legs.len()) {
            let bit = |at: usize| state >> at & 1 == 1;
            let weigh = |works: bool, likely: f64| if works { likely } else { 1.0 - likely };
            let units: Vec<bool> = (0..count).map(bit).collect();
            let links: Vec<bool> = (0..count).map(|at| bit(count + at)).collect();
            let mut alive: Vec<Vec<bool>> = vec![Vec::new(); count];
            let mut likely = 1.0;
            for at in 0..count {
                likely *= weigh(units[at], ring.units[at].up) * weigh(links[at], ring.links[at]);
            }
            for (number, (unit, leg)) in legs.iter().enumerate() {
                alive[*unit].push(bit(2 * count + number));
                likely *= weigh(bit(2 * count + number), ring.units[*unit].legs[*leg]);
            }
            if asks(&units, &links, &alive) {
                sum += likely;
            }
        }
        sum
    }

    fn reached(units: &[bool], links: &[bool], from: usize) -> Vec<bool> {
        let count = units.len();
        let mut met = vec![false; count];
        met[from] = units[from];
        for _ in 0..count {
            for at in 0..count {
                let next = (at + 1) % count;
                if links[at] && units[at] && units[next] && (met[at] || met[next]) {
                    (met[at], met[next]) = (true, true);
                }
            }
        }
        met
    }

    #[test]
    fn published_figures_come_out() {
        near((Times { mtbf_hours: 100.0, mttr_hours: 5.0 }.availability() * 1000.0).round(), 952.0);
        near(ring(4, 0.99, 0.0, 1.0, &[]).together(), 0.970_299);
        near(ring(4, 0.99, 0.99, 1.0, &[]).together(), 0.999_407_97);
        near(ring(8, 0.99, 0.99, 1.0, &[]).together(), 0.997_309_922_260);
        near(parallel(0.9, 2), 0.99);
        near(parallel(0.9, 0), 0.0);
    }

    #[test]
    fn sums_are_what_trying_every_state_gives() {
        for (count, closing) in [(1, 0.0), (2, 0.0), (2, 0.8), (3, 0.8), (4, 0.0), (4, 0.8), (5, 0.7)] {
            let legs = [(0, 0.6), (count / 2, 0.7), (count - 1, 0.9)];
            let ring = ring(count, 0.9, closing, 0.95, &legs);
            near(ring.together(), enumerated(&ring, |units, links, _| reached(units, links, 0).iter().all(|met| *met)));
            for member in 0..count {
                let asks = |units: &[bool], links: &[bool], alive: &[Vec<bool>]| {
                    let met = reached(units, links, member);
                    (0..count).any(|at| met[at] && alive[at].iter().any(|works| *works))
                };
                near(ring.reaches(member), enumerated(&ring, asks));
            }
        }
    }

    #[test]
    fn nobody_reaches_what_is_not_there() {
        let ring = ring(3, 0.9, 0.9, 0.9, &[]);
        near(ring.reaches(1), 0.0);
        near(ring.reaches(7), 0.0);
    }
}
