//! A mistake asked for by the number of a step -> the walk with it; or what could be asked for.

use clap::Args;

use crate::model::acts::Act;
use crate::model::facts::Spot;
use crate::model::operation::by_hands;
use crate::model::slips::{Script, Slip, slips, typed_runs};
use crate::scene::{self, Line, Walk};

/// Which mistake.
#[derive(Args)]
pub(super) struct Mistake {
    /// Print what comes of it if this step is left out.
    #[arg(long, value_name = "N", group = "part")]
    leave_out: Option<usize>,
    /// Print what comes of it if this step, and all that is typed in one go with it, is typed at another place.
    #[arg(long, value_name = "N", group = "part")]
    misplace: Option<usize>,
    /// The other place: a unit, for its console, or `stack`.
    #[arg(long, value_name = "PLACE", requires = "misplace")]
    at: Option<String>,
}

impl Mistake {
    pub(super) fn asked(&self) -> bool {
        self.leave_out.is_some() || self.misplace.is_some()
    }

    /// The walk with the mistake.
    ///
    /// # Errors
    /// Says what is wrong with what is asked for, and what would be right.
    pub(super) fn told(&self, walk: &Walk<'_>, script: &Script<'_>, columns: usize) -> Result<Vec<Line>, String> {
        let number = self.leave_out.or(self.misplace).unwrap_or_default();
        let step = number.checked_sub(1).filter(|step| *step < walk.last());
        let step = step.ok_or_else(|| format!("there is no step {number}: the plan has 1 to {}", walk.last()))?;
        let slip = match self.leave_out {
            Some(_) => left_out(script, step)?,
            None => misplaced(script, step, self.at.as_deref())?,
        };
        Ok(scene::slipped(walk, script, slip, columns))
    }
}

fn left_out(script: &Script<'_>, step: usize) -> Result<Slip, String> {
    let does = |step: &usize| matches!(script.acts.get(*step), Some(Act::Do(_)));
    if does(&step) {
        return Ok(Slip::LeaveOut(step));
    }
    let next = (step..script.acts.len()).find(does).or_else(|| (0..step).rfind(does));
    let next = next.map_or_else(String::new, |next| format!("; the nearest one is step {}", next + 1));
    Err(format!(
        "step {} is {}: only a step that changes something can be left out{next}",
        step + 1,
        kind(script, step)
    ))
}

fn misplaced(script: &Script<'_>, step: usize, at: Option<&str>) -> Result<Slip, String> {
    let slips = slips(script);
    let misplaced = slips.iter().filter_map(|slip| match slip {
        Slip::Misplace { first, last, at } => Some((*first, *last, *at)),
        _ => None,
    });
    let misplaced: Vec<(usize, usize, Spot)> = misplaced.collect();
    let number = step + 1;
    let others: Vec<_> =
        misplaced.iter().copied().filter(|(first, last, _)| (*first..=*last).contains(&step)).collect();
    let mut places: Vec<String> = others.iter().map(|(.., at)| format!("--at {}", name(script, *at))).collect();
    places.sort();
    let wanted = |(.., spot): &(usize, usize, Spot)| at.is_none_or(|at| name(script, *spot) == at);
    let mut chosen = others.iter().copied().filter(wanted);
    match (chosen.next(), chosen.next(), at) {
        (Some((first, last, at)), None, _) => return Ok(Slip::Misplace { first, last, at }),
        (Some(_), Some(_), _) => {
            return Err(format!("step {number} can be typed at several other places: say {}", either(&places)));
        }
        (None, _, Some(at)) if !others.is_empty() => {
            return Err(format!("`{at}` is no other place for step {number}: say {}", either(&places)));
        }
        (None, ..) => {}
    }
    let mut runs: Vec<String> = misplaced.iter().map(|(first, last, _)| range(*first, *last)).collect();
    runs.dedup();
    let can = match runs.as_slice() {
        [] => "no step of this plan can be misplaced".to_owned(),
        runs => format!("steps that can be misplaced: {}", runs.join(", ")),
    };
    let run = typed_runs(script).into_iter().find(|(first, last, _)| (*first..=*last).contains(&step));
    Err(match run {
        Some(_) => format!("at step {number} there is no other place at which anybody could type; {can}"),
        None => format!("step {number} is {}: only what is typed can be misplaced; {can}", kind(script, step)),
    })
}

fn kind(script: &Script<'_>, step: usize) -> &'static str {
    match script.acts.get(step) {
        Some(Act::Do(operation)) if by_hands(*operation) => "done by hands",
        Some(Act::Do(_)) => "typed",
        Some(Act::Await(..)) => "a wait",
        Some(Act::Expect(_)) | None => "a look",
    }
}

/// A place as `--at` takes it.
fn name(script: &Script<'_>, at: Spot) -> String {
    match at {
        Spot::Console(unit) => script.setting.units[unit].key.clone(),
        Spot::Stack | Spot::Hands => "stack".to_owned(),
    }
}

fn range(first: usize, last: usize) -> String {
    if first == last { (first + 1).to_string() } else { format!("{} to {}", first + 1, last + 1) }
}

/// "a", "a or b", "a, b or c".
fn either(names: &[String]) -> String {
    match names {
        [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
        names => names.concat(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_could_be_said_is_listed() {
        let names = ["a", "b", "c"].map(str::to_owned);
        assert_eq!(either(&names), "a, b or c");
        assert_eq!(either(&names[..1]), "a");
        assert_eq!((range(3, 3), range(3, 5)), ("4".to_owned(), "4 to 6".to_owned()));
    }
}
