//! The ways back of a plan -> what templates see of them: steps with words, and their own snippet files.

use super::context::{SegmentView, StackView, StepFile, UnitView, WayBackView};
use super::error::RenderError;
use super::shared::Shared;
use super::story::{segment_views, unit_of};
use super::words::Words;
use super::{Dossier, segments, steps, story};
use crate::model::document::{Action, Move, Phase, PlanDocument, StepEntry, WayBack};
use crate::platform::OnePer;

/// Every way back, in the order of the steps that they serve.
pub(super) fn views(
    dossier: &Dossier,
    words: &Words,
    stack: &StackView,
    units: &[UnitView],
) -> Result<Vec<WayBackView>, RenderError> {
    let plan = dossier.rehearsed.plan();
    let width = plan.steps.len().to_string().len().max(2);
    let base = PlanDocument { moves: None, steps: Vec::new(), ways_back: None, slips: None, ..plan.clone() };
    let mut slips = plan.ways_back_slips.iter().flatten();
    let ways = plan.ways_back.iter().flatten().zip(dossier.rehearsed.back());
    ways.map(|(way, states)| {
        let [first, last] = way.after;
        let own = PlanDocument { slips: slips.next().cloned(), ..as_plan(&base, way) };
        let mut steps = steps::views(&own, states, words)?;
        let cut = segments::cut(&own.steps, &own.units);
        let minutes = plan.steps.get(last as usize - 1).and_then(|step| step.stop_here.as_ref());
        let minutes = minutes.and_then(|stop| stop.way_back_minutes).unwrap_or_default();
        let mut view = WayBackView {
            first,
            last,
            range: format!("{first:0width$}-to-{last:0width$}"),
            then: way.then,
            minutes: steps::whole_minutes(minutes, true),
            steps: Vec::new(),
            segments: Vec::new(),
        };
        let mut files = segment_views(&own, &cut, &steps);
        for (segment, file) in cut.iter().zip(&mut files) {
            file.files = paths(dossier, stack, units, &view, file)?;
            let Some(path) = file.files.first() else { continue };
            for (order, position) in segment.positions().enumerate() {
                if let Some(step) = steps.get_mut(position) {
                    let (first_step, last_step) = (file.first_step, file.last_step);
                    step.file = Some(StepFile { path: path.clone(), opens: order == 0, first_step, last_step });
                }
            }
        }
        (view.steps, view.segments) = (steps.into_iter().map(Shared::new).collect(), files);
        Ok(view)
    })
    .collect()
}

fn paths(
    dossier: &Dossier,
    stack: &StackView,
    units: &[UnitView],
    way: &WayBackView,
    view: &SegmentView,
) -> Result<Vec<String>, RenderError> {
    let outputs = dossier.platform.outputs.iter().filter(|output| output.one_per == OnePer::WayBackSegment);
    let unit = unit_of(units, view);
    outputs.map(|output| story::path(&output.path, stack, unit.as_ref(), Some(view), Some(way))).collect()
}

/// A way back as a plan of its own, so that it is told as the plan is.
fn as_plan(base: &PlanDocument, way: &WayBack) -> PlanDocument {
    let [first, last] = way.after;
    let title =
        if first == last { format!("Back from step {last}") } else { format!("Back from steps {first} to {last}") };
    let steps = way.steps.iter().enumerate().map(|(position, step)| StepEntry {
        number: position as u32 + 1,
        in_move: Some(1),
        phase: phase(&step.action),
        at: step.at.clone(),
        action: step.action.clone(),
        needs: None,
        why: None,
        minutes: None,
        predicts: None,
        stop_here: None,
    });
    let moves = Some(vec![Move { number: 1, title, phase: Phase::Join }]);
    PlanDocument { moves, steps: steps.collect(), warnings: Vec::new(), ..base.clone() }
}

fn phase(action: &Action) -> Phase {
    match action {
        Action::ConnectCable { .. } | Action::DisconnectCable { .. } => Phase::Cable,
        Action::Await { .. } | Action::Expect { .. } => Phase::Settle,
        _ => Phase::Join,
    }
}
