//! What is known of a slip, or of a cold start, without doing it -> held to what comes of doing it in full.
//!
//! Of the plan's own slips. Those of ways back go the same way through the model; the second judge alone recounts them.
//! Of cold starts, those after one wrong operation.

use ringwright::model::rules::{after_lawful_step, after_step};
use ringwright::model::slips::{Slip, slips};
use ringwright::rehearse::Rehearsed;

use super::outcome::Failure;

/// Of one plan: every slip, and every operation of one.
///
/// # Errors
/// Something else comes of it when it is done in full.
pub fn hold(rehearsed: &Rehearsed) -> Result<(), Failure> {
    let trail = rehearsed.trail();
    let acts = trail.acts(rehearsed);
    let Some(script) = trail.script(&acts) else { return Ok(()) };
    for slip in slips(&script) {
        let (found, seen, full) =
            (script.replay(slip), script.replay_seen(slip, |_, _| {}), script.replay_in_full(slip));
        if found != full || seen != full {
            let text = format!("{slip:?}: {found:?} and {seen:?}, in full {full:?}");
            return Err(Failure::new("a slip ends otherwise when it is done in full", text));
        }
        let (Slip::Mistype(step, other) | Slip::WrongUnit(step, other)) = slip else { continue };
        let Some(standing) = script.standing(step).filter(|standing| standing.excused.0.is_empty()) else { continue };
        let before = &standing.situation;
        let Ok(done) = before.step(script.setting, other) else { continue };
        let (lawful, full) =
            (after_lawful_step(script.setting, before, other, &done), after_step(script.setting, before, other, &done));
        if lawful != full {
            let text = format!("{other:?} at step {step}: {lawful:?}, in full {full:?}");
            return Err(Failure::new("a cold start brings something else than before", text));
        }
    }
    Ok(())
}
