//! Faults by their names -> the finished stack in them, and what follows.

use crate::analyse::faults::{Fault, Survey, consequence, entry, fault_name, finished, struck as state_of};
use crate::diag::nearest;
use crate::model::progress::Situation;
use crate::rehearse::Trail;

/// The finished stack of a plan in some faults, and one sentence on what follows.
///
/// # Errors
/// A name that no fault of it has.
pub(super) fn struck(names: &[String], trail: &Trail) -> Result<(Situation, String), String> {
    let setting = &trail.setting;
    let survey = Survey::of(finished(setting));
    let known: Vec<String> = survey.field.singles.iter().map(|single| fault_name(setting, single.fault)).collect();
    let mut positions = Vec::new();
    for name in names {
        let position = known.iter().position(|one| one == name).ok_or_else(|| {
            let meant = nearest(name, known.iter().map(String::as_str));
            let hint = meant.map_or_else(String::new, |meant| format!("; did you mean `{meant}`?"));
            format!("the finished stack has no fault `{name}`{hint}\n`ringwright faults` lists them all")
        })?;
        positions.push(position);
    }
    let (state, outcome) = state_of(&survey, &positions);
    let faults: Vec<Fault> =
        positions.iter().filter_map(|at| survey.field.singles.get(*at)).map(|single| single.fault).collect();
    let (healthy, entry) = (entry(setting, &[], &survey.healthy), entry(setting, &faults, &outcome));
    let last = trail.passed.last().map_or(&trail.start, |passed| &passed.situation);
    let said = format!("{}: {}.", entry.faults.join(" + "), consequence(&healthy, &entry));
    Ok((Situation { state, memory: last.memory }, said))
}
