//! A stack and how often its parts fail -> lines that compare it: as it is, and with each single improvement. For
//! comparison only; see `availability`.

use super::availability::{Part, Ring, Times, parallel};
use super::faults::{Field, links};
use crate::model::table::{UnitId, UnitSet};

/// Minutes of a year of 365 days.
const YEAR: f64 = 525_600.0;

/// What is known of failures and repairs.
#[derive(Clone, Copy)]
pub struct Failures<'a> {
    /// Of a unit.
    pub unit: &'a dyn Fn(UnitId) -> Option<Times>,
    /// Of a cable with its two ports; uplink legs too.
    pub link: Times,
}

/// A stack as a ring of parts, with what the parts are.
#[derive(Clone, Debug, PartialEq)]
struct Stack {
    units: Vec<UnitId>,
    /// The cables from each unit to the next; 0 where there is no link.
    cables: Vec<usize>,
}

/// The two figures that are compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// How likely all members are up and together.
    pub together: f64,
    /// How likely the member that reaches an uplink least does, and its position.
    pub least: Option<(f64, UnitId)>,
}

/// The figures of a stack; none where it is neither a chain nor a ring, or a time is not known.
#[must_use]
pub fn figures(field: &Field<'_>, failures: Failures<'_>) -> Option<Figures> {
    let stack = laid_out(field)?;
    Some(of(&stack, &ring(field, &stack, failures, failures.link.availability())?))
}

fn of(stack: &Stack, ring: &Ring) -> Figures {
    let any = ring.units.iter().any(|unit| !unit.legs.is_empty());
    let each = stack.units.iter().enumerate().map(|(at, unit)| (ring.reaches(at), *unit));
    let least = each.filter(|_| any).reduce(|least, one| if one.0 < least.0 { one } else { least });
    Figures { together: ring.together(), least }
}

/// Lines for people: the stack, then what each single improvement would bring.
#[must_use]
pub fn told(field: &Field<'_>, failures: Failures<'_>, called: &str) -> Vec<String> {
    let Some(stack) = laid_out(field) else { return Vec::new() };
    let cable = failures.link.availability();
    let Some(ring_now) = ring(field, &stack, failures, cable) else { return Vec::new() };
    let now = of(&stack, &ring_now);
    let mut lines = vec![line(field, called, &now)];
    if let Some((gap, links)) = stack.cables.iter().position(|count| *count == 0).zip(Some(stack.cables.len())) {
        let mut closed = stack.clone();
        if let Some(cables) = closed.cables.get_mut(gap).filter(|_| links > 2) {
            *cables = 1;
            lines.extend(
                ring(field, &closed, failures, cable)
                    .map(|ring| line(field, "with the ring closed", &of(&closed, &ring))),
            );
        }
    }
    let doubled = stack.cables.iter().enumerate().filter(|(_, count)| **count > 0).filter_map(|(at, count)| {
        let mut wider = stack.clone();
        *wider.cables.get_mut(at)? = count + 1;
        let found = of(&wider, &ring(field, &wider, failures, cable)?);
        let name = |at: usize| Some(&field.setting.units[*stack.units.get(at % stack.units.len())?].key);
        Some((found, format!("with one cable more between {} and {}", name(at)?, name(at + 1)?)))
    });
    let best = doubled.reduce(|best, one| if one.0.together > best.0.together { one } else { best });
    lines.extend(best.map(|(found, called)| line(field, &called, &found)));
    let faster = Times { mttr_hours: failures.link.mttr_hours / 2.0, ..failures.link }.availability();
    lines.extend(
        ring(field, &stack, failures, faster)
            .map(|ring| line(field, "with cables repaired in half the time", &of(&stack, &ring))),
    );
    let unit = |unit| (failures.unit)(unit).map(|times| Times { mttr_hours: times.mttr_hours / 2.0, ..times });
    let units = ring(field, &stack, Failures { unit: &unit, ..failures }, cable);
    lines.extend(units.map(|ring| line(field, "with units repaired in half the time", &of(&stack, &ring))));
    lines
}

fn line(field: &Field<'_>, called: &str, figures: &Figures) -> String {
    let missed = |likely: f64| format!("{likely:.6}, {:.1} minutes a year not", (1.0 - likely) * YEAR);
    let least = figures.least.map_or_else(String::new, |(likely, unit)| {
        format!("; {} reaches an uplink least: {}", field.setting.units[unit].key, missed(likely))
    });
    format!("{called}: all members together {}{least}", missed(figures.together))
}

/// The stack with its parts' availabilities.
fn ring(field: &Field<'_>, stack: &Stack, failures: Failures<'_>, cable: f64) -> Option<Ring> {
    let unit = |unit: &UnitId| {
        let legs = field.terms.homes.iter().filter(|home| home.unit == *unit).map(|_| failures.link.availability());
        Some(Part { up: (failures.unit)(*unit)?.availability(), legs: legs.collect() })
    };
    let units: Option<Vec<Part>> = stack.units.iter().map(unit).collect();
    Some(Ring { units: units?, links: stack.cables.iter().map(|count| parallel(cable, *count)).collect() })
}

/// The members along their links: a chain from one end, a ring from its lowest unit, pieces one after the other.
fn laid_out(field: &Field<'_>) -> Option<Stack> {
    let setting = field.setting;
    let mut open: Vec<(UnitSet, usize)> = links(setting, field.state, field.members)
        .iter()
        .map(|cables| {
            let ends = cables.iter().take(1).flat_map(|cable| setting.cables[*cable].unit_ends());
            (ends.map(|port| setting.unit_of(port)).collect(), cables.len())
        })
        .collect();
    let degree = |unit: UnitId, open: &[(UnitSet, usize)]| open.iter().filter(|(ends, _)| ends.contains(unit)).count();
    if field.members.iter().any(|unit| degree(unit, &open) > 2) {
        return None;
    }
    let is_ring = !field.members.is_empty() && field.members.iter().all(|unit| degree(unit, &open) == 2);
    let mut stack = Stack { units: Vec::new(), cables: Vec::new() };
    let mut left = field.members;
    while let Some(start) = left.iter().find(|unit| is_ring || degree(*unit, &open) < 2) {
        let mut at = start;
        loop {
            left.remove(at);
            stack.units.push(at);
            let Some(position) = open.iter().position(|(ends, _)| ends.contains(at)) else {
                stack.cables.push(0);
                break;
            };
            let (ends, cables) = open.remove(position);
            stack.cables.push(cables);
            let next = ends.minus(UnitSet::one(at)).first()?;
            if !left.contains(next) {
                break;
            }
            at = next;
        }
    }
    // what is left is a ring beside other pieces
    left.is_empty().then_some(stack)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::faults::finished;
    use crate::analyse::faults::tests::{Mill, RING};

    const SURE: Times = Times { mtbf_hours: 1.0, mttr_hours: 0.0 };
    const CABLE: Times = Times { mtbf_hours: 99.0, mttr_hours: 1.0 };

    fn together(mill: &Mill) -> f64 {
        let setting = mill.setting();
        figures(&finished(&setting), Failures { unit: &|_| Some(SURE), link: CABLE }).unwrap().together
    }

    #[test]
    fn chains_rings_and_parallel_cables_have_their_closed_forms() {
        let near = |one: f64, other: f64| assert!((one - other).abs() < 1e-12, "{one} is not {other}");
        near(together(&Mill { ring: false, ..RING }), 0.970_299);
        near(together(&RING), 0.999_407_97);
        near(together(&Mill { members: 8, ..RING }), 0.997_309_922_260);
        near(together(&Mill { ring: false, cables: 2, ..RING }), 0.9999_f64.powi(3));
        near(together(&Mill { members: 2, ..RING }), 0.9999);
        near(together(&Mill { members: 1, ring: false, ..RING }), 1.0);
    }

    #[test]
    fn each_improvement_is_better_and_said() {
        let setting = Mill { ring: false, legs: vec![1, 2], ..RING }.setting();
        let lines = told(&finished(&setting), Failures { unit: &|_| Some(CABLE), link: CABLE }, "finished");
        let figure = |line: &String| line.split("together ").nth(1).unwrap()[..8].parse::<f64>().unwrap();
        assert_eq!(lines.len(), 5, "{lines:?}");
        assert!(lines[1].starts_with("with the ring closed: "));
        assert!(lines[0].contains("m-4 reaches an uplink least"));
        assert!(lines[1..].iter().all(|line| figure(line) > figure(&lines[0])), "{lines:?}");
    }
}
