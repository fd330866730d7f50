//! A dossier -> the context of its outputs: steps with words, segments with file names, the change in numbers.

use std::collections::BTreeMap;

use minijinja::context;

use super::context::{
    CONTEXT_FORMAT, ChangeView, Context, DialectView, NextView, ProofView, SegmentView, StackView, StepFile, StepView,
    TrustView, UnitView, WayBackView,
};
use super::engine::{Engines, render_short};
use super::error::RenderError;
use super::names::Names;
use super::operation::role_word;
use super::plain::{check_path, scope as as_scope};
use super::segments::{self, Segment};
use super::sentence::headline;
use super::service::{leaders, live_restarts, spare_cables};
use super::shared::Shared;
use super::times::times;
use super::words::{Heard, Words};
use super::{Dossier, back, cabling, cautions, faults, handover, house, labels, ladder, places, steps};
use crate::analyse::faults::Digest;
use crate::analyse::time;
use crate::model::Minutes;
use crate::model::document::{Action, PlanDocument, StateDocument, Status, TrustLine, UnitEntry};
use crate::model::traits::Topology;
use crate::picture::picture;
use crate::platform::OnePer;

/// The whole context of a dossier, its segments carrying the paths of their files.
pub(super) fn context_of(dossier: &Dossier, engines: &Engines, digest: &Digest) -> Result<Context, RenderError> {
    let plan = dossier.rehearsed.plan();
    let names = Names::new(plan, dossier.site);
    let words = Words::new(dossier.platform, engines, &plan.traits, &names);
    let mut steps = steps::views(plan, dossier.rehearsed.states(), &words)?;
    let units: Vec<UnitView> =
        plan.units.iter().map(|unit| unit_view(dossier, &names, unit)).collect::<Result<_, _>>()?;
    let stack = stack_view(dossier, plan);
    let cut = segments::cut(&plan.steps, &plan.units);
    let mut views = segment_views(plan, &cut, &steps);
    for (segment, view) in cut.iter().zip(&mut views) {
        view.files = paths(dossier, &stack, &units, segment, view)?;
        let Some(path) = view.files.first() else { continue };
        for (order, position) in segment.positions().enumerate() {
            if let Some(step) = steps.get_mut(position) {
                let (first_step, last_step) = (view.first_step, view.last_step);
                step.file = Some(StepFile { path: path.clone(), opens: order == 0, first_step, last_step });
            }
        }
    }
    let ways_back = back::views(dossier, &words, &stack, &units)?;
    let steps: Vec<Shared<StepView>> = steps.into_iter().map(Shared::new).collect();
    let places = places::rows(steps.iter().chain(ways_back.iter().flat_map(|way| &way.steps)).map(|step| &**step));
    let cables = cabling::rows(&names, plan)?;
    Ok(Context {
        format: CONTEXT_FORMAT,
        compiler: dossier.compiler.to_owned(),
        dialect: DialectView {
            name: dossier.platform.name.clone(),
            version: dossier.platform.version.clone(),
            summary: dossier.platform.summary.clone(),
            unsupported: dossier.platform.unsupported.clone(),
            trust: trust(plan),
        },
        stack,
        change: change_view(dossier, plan, &names)?,
        units,
        moves: steps::moves(plan, &steps),
        segments: views,
        ways_back,
        labels: labels::labels(&names, &cables),
        cables,
        places,
        times: house::minutes(&time(dossier.rehearsed)),
        faults: faults::view(digest),
        hand_over: handover::hand_over(&names, plan)?,
        picture: picture(dossier.rehearsed),
        unit: None,
        segment: None,
        way_back: None,
    })
}

/// What every template of words saw and said of a dossier.
pub(super) fn heard(dossier: &Dossier, engines: &Engines) -> Result<Vec<Heard>, RenderError> {
    let plan = dossier.rehearsed.plan();
    let names = Names::new(plan, dossier.site);
    let words = Words::new(dossier.platform, engines, &plan.traits, &names).listening();
    steps::views(plan, dossier.rehearsed.states(), &words)?;
    let units: Vec<UnitView> =
        plan.units.iter().map(|unit| unit_view(dossier, &names, unit)).collect::<Result<_, _>>()?;
    back::views(dossier, &words, &stack_view(dossier, plan), &units)?;
    Ok(words.heard())
}

/// The unit that a segment is typed at, if it is typed at a console.
pub(super) fn unit_of(units: &[UnitView], segment: &SegmentView) -> Option<UnitView> {
    use super::context::PlaceView;
    match &segment.place {
        PlaceView::Console { unit: key, .. } => units.iter().find(|unit| unit.key == *key).cloned(),
        PlaceView::Stack { .. } | PlaceView::Hands { .. } => None,
    }
}

/// Renders the path of an output; it sees `stack`, `unit`, `segment` and `way_back`.
pub(super) fn path(
    template: &str,
    stack: &StackView,
    unit: Option<&UnitView>,
    segment: Option<&SegmentView>,
    way_back: Option<&WayBackView>,
) -> Result<String, RenderError> {
    let scope = context! {
        way_back => as_scope(way_back),
        stack => as_scope(stack),
        unit => as_scope(unit),
        segment => as_scope(segment),
    };
    let path = render_short(template, &scope)?;
    check_path(&path).map_err(|fault| fault.in_manifest(template))?;
    Ok(path)
}

fn paths(
    dossier: &Dossier,
    stack: &StackView,
    units: &[UnitView],
    segment: &Segment,
    view: &SegmentView,
) -> Result<Vec<String>, RenderError> {
    let wanted = if segment.stages.is_some() { OnePer::StageSegment } else { OnePer::ChangeSegment };
    let outputs = dossier.platform.outputs.iter().filter(|output| output.one_per == wanted);
    let unit = unit_of(units, view);
    outputs.map(|output| path(&output.path, stack, unit.as_ref(), Some(view), None)).collect()
}

/// The segments with running numbers: each staged unit has its own, the rest of the change one more.
pub(super) fn segment_views(plan: &PlanDocument, cut: &[Segment], steps: &[StepView]) -> Vec<SegmentView> {
    let mut totals: BTreeMap<&Option<String>, usize> = BTreeMap::new();
    for segment in cut {
        *totals.entry(&segment.stages).or_default() += 1;
    }
    let mut used: BTreeMap<&Option<String>, usize> = BTreeMap::new();
    let mut views = Vec::new();
    for segment in cut {
        let number = used.entry(&segment.stages).or_default();
        *number += 10;
        let width = totals.get(&segment.stages).map_or(2, |total| (total * 10).to_string().len());
        views.extend(segment_view(plan, segment, steps, format!("{number:0width$}")));
    }
    views
}

fn segment_view(plan: &PlanDocument, segment: &Segment, steps: &[StepView], number: String) -> Option<SegmentView> {
    let (first, last) = (segment.positions().next()?, *segment.typed.last()?);
    // named for what is typed: the check before it may still be the move before's
    let entry = plan.steps.get(*segment.typed.first()?)?;
    let title = plan.moves.iter().flatten().find(|one| Some(one.number) == entry.in_move).map(|one| one.title.clone());
    let actions = segment.typed.iter().filter_map(|position| plan.steps.get(*position)).map(|step| &step.action);
    let next = steps.get(last + 1).zip(plan.steps.get(last + 1)).map(|(view, entry)| NextView {
        number: view.number,
        place: view.place.clone(),
        kind: super::operation::kind(&entry.action).to_owned(),
        lines: view.lines.clone(),
    });
    Some(SegmentView {
        number,
        name: segments::name(actions).to_owned(),
        title: title.unwrap_or_else(|| "All steps".to_owned()),
        staging: segment.stages.is_some(),
        place: steps.get(first)?.place.clone(),
        first_step: steps.get(first)?.number,
        last_step: steps.get(last)?.number,
        check: segment.check.and_then(|position| steps.get(position)).cloned().map(Shared::new),
        steps: segment.typed.iter().filter_map(|position| steps.get(*position)).cloned().map(Shared::new).collect(),
        ends_with_restart: plan
            .steps
            .get(last)
            .is_some_and(|step| matches!(step.action, Action::Restart { .. } | Action::Wipe { .. })),
        next,
        files: Vec::new(),
    })
}

fn stack_view(dossier: &Dossier, plan: &PlanDocument) -> StackView {
    let topology = dossier.site.topology.map(|topology| match topology {
        Topology::Chain => "chain".to_owned(),
        Topology::Ring => "ring".to_owned(),
    });
    let site = dossier.site;
    StackView { name: plan.stack.clone(), description: site.description.clone(), topology, vars: site.vars.clone() }
}

fn unit_view(dossier: &Dossier, names: &Names, unit: &UnitEntry) -> Result<UnitView, RenderError> {
    let status = match unit.status {
        Status::Live => "live",
        Status::Joining => "joining",
        Status::Leaving => "leaving",
    };
    Ok(UnitView {
        key: unit.key.clone(),
        member: unit.member.clone(),
        id: unit.id.0,
        priority: unit.priority.0,
        role: role_word(unit.role).to_owned(),
        status: status.to_owned(),
        serial: unit.serial.clone(),
        mac: unit.mac.clone(),
        model: unit.model.clone(),
        weight_kg: cautions::weight(dossier.platform, names, &unit.key)?,
        rack: names.free_text(&unit.key, "rack"),
        height_unit: names.free_text(&unit.key, "height_unit"),
        vars: dossier.site.member_vars.get(&unit.member).cloned().unwrap_or_default(),
    })
}

fn change_view(dossier: &Dossier, plan: &PlanDocument, names: &Names) -> Result<ChangeView, RenderError> {
    let without = |hidden: Status| plan.units.iter().filter(|unit| unit.status != hidden).collect::<Vec<_>>();
    let (before, after) = (without(Status::Joining), without(Status::Leaving));
    let times = times(plan, dossier.site.window.as_ref(), dossier.site.hands.as_ref());
    Ok(ChangeView {
        sentence: headline(plan, dossier.site.topology, dossier.delta),
        ticket: dossier.site.ticket.clone(),
        window: house::window(&times, dossier.site),
        hands: house::hands(&times, dossier.site),
        checks_before: house::checks(&dossier.site.checks_before),
        checks_after: house::checks(&dossier.site.checks_after),
        witnesses: dossier.site.witnesses.clone(),
        consents: plan.change.accept.clone(),
        proof: proof(plan, dossier.rehearsed.states()),
        before: ladder::ladder(names, &plan.baseline, &before)?,
        after: ladder::ladder(names, &plan.target, &after)?,
        warnings: plan.warnings.iter().map(|warning| warning.text.clone()).collect(),
    })
}

fn proof(plan: &PlanDocument, states: &[StateDocument]) -> ProofView {
    let primary = |state: &StateDocument, out: Status| {
        let leads =
            |unit: &&UnitEntry| unit.status != out && state.units.get(&unit.key).is_some_and(|unit| unit.primary);
        plan.units.iter().find(leads).map(|unit| unit.key.clone())
    };
    let before = primary(&plan.baseline, Status::Joining);
    let after = primary(&plan.target, Status::Leaving);
    let leads = |key: &String| states.iter().all(|state| state.units.get(key).is_some_and(|unit| unit.primary));
    let cost = plan.cost.as_ref();
    let minutes = |value: Option<Minutes>| value.unwrap_or_default();
    ProofView {
        live_restarts: live_restarts(plan),
        leaders: leaders(plan),
        member_minutes: minutes(cost.map(|cost| cost.member_minutes)).to_string(),
        spare_cables: spare_cables(plan).len(),
        primary_kept: before == after && before.as_ref().is_some_and(leads),
        primary_before: before,
        primary_after: after,
        unprotected_minutes: minutes(cost.map(|cost| cost.unprotected_minutes)).to_string(),
        half_protected_minutes: minutes(cost.map(|cost| cost.half_protected_minutes)).to_string(),
        likely_minutes: steps::whole_minutes(minutes(cost.map(|cost| cost.likely_minutes)), false),
        worst_minutes: steps::whole_minutes(minutes(cost.map(|cost| cost.worst_minutes)), true),
        steps: plan.steps.len(),
        cables: cost.map_or(0, |cost| cost.cables),
    }
}

/// What the proof rests on.
fn trust(plan: &PlanDocument) -> Vec<TrustView> {
    let view = |line: &TrustLine| TrustView {
        text: line.text.clone(),
        source: line.source.clone(),
        tried_on: line.tried_on.clone(),
    };
    plan.trust.iter().map(view).collect()
}
