//! Lines with all looks that could serve -> the fewest looks with which no step that is left out, and no run of
//! steps at another place, does harm before somebody sees it.
//!
//! The looks that every plan must have stay where they are (but that for a new leg, where no later step counts on it); a
//! fact more in one of them costs no step and is taken first. Of the others those are kept, and new ones set, that stop
//! the most slips each, until none is left that could be stopped. What a look would catch, and would not be caught
//! without it, keeps it there, whatever the slip is.

use std::collections::BTreeSet;

use crate::model::acts::{Act, act};
use crate::model::document::{Action, Fact, Phase, Reason, WayBack};
use crate::model::facts::{Spot, View, names_unit};
use crate::model::operation::{Operation, by_hands, unit_of};
use crate::model::places::{self, spot, typing_spots, unit_spot};
use crate::model::replay::Standing;
use crate::model::setting::Setting;
use crate::model::slips::{End, Script, Slip, slips, typed_runs};

use super::back::{Finder, ways_back};
use super::chosen::{Chance, Chosen, Point, Want, choose, is_free};
use super::evidence::telling;
use super::looks;
use super::script::Line;

/// What lines are replayed on.
#[derive(Clone, Copy)]
enum Basis<'s> {
    /// A plan.
    Plan(&'s Setting),
    /// A way back, from where it begins; looks may come into so many of its first lines.
    Back(&'s Setting, &'s Standing, usize),
}

impl<'s> Basis<'s> {
    const fn setting(self) -> &'s Setting {
        match self {
            Self::Plan(setting) | Self::Back(setting, ..) => setting,
        }
    }

    fn script<'a>(self, acts: &'a [Act<'a>], lines: &[Line]) -> Option<Script<'a>>
    where
        's: 'a,
    {
        match self {
            Self::Plan(setting) => Script::new(setting, acts, founding(setting, lines)),
            Self::Back(going, from, _) => Script::way_back(going, from.clone(), acts),
        }
    }
}

/// Sets the looks. Once is enough: a look that is taken away is one that no slip needs, and a new one hides none.
#[must_use]
pub fn place(setting: &Setting, lines: Vec<Line>) -> Vec<Line> {
    let lines = better(Basis::Plan(setting), &lines, true).unwrap_or(lines);
    (1..lines.len()).rev().fold(lines, |lines, at| once(setting, &lines, at).unwrap_or(lines))
}

/// Without a look that nobody needs: at a place of which the one before it has just told which it is, or for a leg that
/// no later step counts on. None where a slip, or a step, needs it.
fn once(setting: &Setting, lines: &[Line], at: usize) -> Option<Vec<Line>> {
    let facts = |at: usize| match lines.get(at).map(|line| &line.action) {
        Some(Action::Expect { facts, .. }) => facts.as_slice(),
        _ => &[],
    };
    let tells = |fact: &&Fact| matches!(fact, Fact::Here { .. } | Fact::Ask { .. });
    let told = |fact: &Fact| facts(at - 1).contains(fact);
    let code = lines.get(at)?.why.code.as_str();
    let of_leg = code == looks::LEG_CARRIES;
    let again = facts(at).iter().any(|fact| tells(&fact)) && facts(at).iter().filter(tells).all(told);
    if !of_leg && (!again || looks::is_demanded(code)) {
        return None;
    }
    let fewer: Vec<Line> =
        lines.iter().enumerate().filter(|(line, _)| *line != at).map(|(_, line)| line.clone()).collect();
    let (fewer_acts, acts) = (acts(setting, &fewer)?, acts(setting, lines)?);
    let without = Script::new(setting, &fewer_acts, founding(setting, &fewer))?;
    let with = Script::new(setting, &acts, founding(setting, lines))?;
    let elsewhere = again && with.spot(at - 1) != with.spot(at);
    if elsewhere || !again && opens(&with, at) {
        return None;
    }
    let harm = |script: &Script<'_>| slips(script).iter().filter(|slip| script.replay(**slip).is_dangerous()).count();
    (harm(&without) <= harm(&with)).then_some(fewer)
}

/// Sets looks on a way back, beside those that it has: into its first `own` lines, or after them.
#[must_use]
pub fn place_on_way_back(going: &Setting, from: &Standing, actions: Vec<Action>, own: usize) -> Vec<Action> {
    let line = |action: &Action| Line {
        action: action.clone(),
        phase: Phase::Settle,
        why: Reason { code: String::new(), text: String::new() },
        stages: None,
        title: String::new(),
    };
    let lines: Vec<Line> = actions.iter().map(line).collect();
    match better(Basis::Back(going, from, own), &lines, false) {
        Some(placed) => placed.into_iter().map(|line| line.action).collect(),
        None => actions,
    }
}

/// The ways back of lines, and the steps that have none.
#[must_use]
pub fn back_from(setting: &Setting, lines: &[Line], find: Finder<'_>) -> (Vec<WayBack>, Vec<u32>) {
    let first = lines.iter().position(|line| line.phase != Phase::Stage).unwrap_or(lines.len());
    let acts = acts(setting, lines);
    let script = acts.as_ref().and_then(|acts| Script::new(setting, acts, founding(setting, lines)));
    script.map_or_else(Default::default, |script| ways_back(&script, first, find))
}

/// One round; none where the lines cannot be replayed. Looks that no slip needs go only if they are to be thinned out.
fn better(basis: Basis<'_>, lines: &[Line], thin_out: bool) -> Option<Vec<Line>> {
    let setting = basis.setting();
    let acts = acts(setting, lines)?;
    let script = basis.script(&acts, lines)?;
    let optional = |at: usize| thin_out && is_look(lines.get(at)) && !is_kept(lines, &script, at);
    let soft: Vec<bool> = (0..lines.len()).map(optional).collect();
    let script = script.with_soft(soft.clone());
    let own = match basis {
        Basis::Plan(_) => None,
        Basis::Back(.., own) => Some(own),
    };
    let wants = wants(&script, lines, own);
    if own.is_some() && wants.is_empty() {
        return None;
    }
    let chosen = choose(&script, &soft, &wants);
    let (placed, moved) = rebuilt(&script, lines, &soft, &chosen);
    if let Basis::Back(..) = basis {
        return Some(placed);
    }
    // a look that was taken away may have proved what a later step counts on
    let again = self::acts(setting, &placed)?;
    let Some(script) = basis.script(&again, &placed) else {
        return thin_out.then(|| better(basis, lines, false)).flatten();
    };
    // what a look that stands in any case was given a fact for needs no other; with other looks gone it may stand there
    // no longer in any case
    let stands = |chance: &Chance| match chance.point {
        Point::There(look) => is_kept(&placed, &script, *moved.get(look).unwrap_or(&look)),
        Point::New(..) => false,
    };
    let stopped = |want: &&Want| {
        want.chances.iter().any(|chance| is_free(chance, &soft) && chosen.stops(chance) && stands(chance))
    };
    let slips: Vec<Slip> =
        wants.iter().filter(|want| !stopped(want)).filter_map(|want| elsewhere(&script, want.slip, &moved)).collect();
    let idle = idle(script, &placed, &slips);
    let mut at = 0..;
    let fewer: Vec<Line> = placed.iter().filter(|_| at.next().is_some_and(|at| !idle.contains(&at))).cloned().collect();
    let stands = self::acts(setting, &fewer).is_some_and(|acts| basis.script(&acts, &fewer).is_some());
    Some(if stands { fewer } else { placed })
}

/// A slip, where its steps stand now; none where looks have come between them.
fn elsewhere(script: &Script<'_>, slip: Slip, moved: &[usize]) -> Option<Slip> {
    let to = |step: usize| moved.get(step).copied();
    Some(match slip {
        Slip::LeaveOut(step) => Slip::LeaveOut(to(step)?),
        Slip::Repeat(step) => Slip::Repeat(to(step)?),
        Slip::Swap(step) => Slip::Swap(to(step).filter(|first| to(step + 1) == Some(first + 1))?),
        Slip::Misplug { step, instead_of, into } => Slip::Misplug { step: to(step)?, instead_of, into },
        Slip::Mistype(step, other) => Slip::Mistype(to(step)?, other),
        Slip::WrongUnit(step, other) => Slip::WrongUnit(to(step)?, other),
        Slip::Misplace { last, at, .. } => {
            let end = to(last)?;
            let (first, last, _) = typed_runs(script).into_iter().find(|(_, last, _)| *last == end)?;
            Slip::Misplace { first, last, at }
        }
    })
}

/// Looks that may go after all: whatever they show in time, another one shows too. A fact more in one look may have
/// made another idle.
fn idle(script: Script<'_>, lines: &[Line], slips: &[Slip]) -> BTreeSet<usize> {
    let optional = |at: usize| is_look(lines.get(at)) && !is_kept(lines, &script, at);
    let soft: Vec<bool> = (0..lines.len()).map(optional).collect();
    let mut kept: BTreeSet<usize> = (0..lines.len()).filter(|at| soft.get(*at) == Some(&true)).collect();
    let mut idle = BTreeSet::new();
    if kept.is_empty() {
        return idle;
    }
    let script = script.with_soft(soft);
    let replayed = slips.iter().map(|slip| script.replay(*slip));
    let harmful = replayed.filter(|replayed| matches!(replayed.end, End::Broken(..)) && !replayed.noticed.is_empty());
    let shown: Vec<Vec<usize>> = harmful.map(|replayed| replayed.noticed).collect();
    // the sooner it shows, the less was done on top of it
    for look in kept.clone().into_iter().rev() {
        if shown.iter().all(|looks| looks.iter().any(|other| *other != look && kept.contains(other))) {
            kept.remove(&look);
            idle.insert(look);
        }
    }
    idle
}

fn acts<'a>(setting: &Setting, lines: &'a [Line]) -> Option<Vec<Act<'a>>> {
    lines.iter().map(|line| act(setting, &line.action).ok()).collect()
}

fn founding(setting: &Setting, lines: &[Line]) -> Option<usize> {
    let founder = setting.founder()?;
    lines.iter().rposition(|line| line.phase == Phase::Stage && line.stages == Some(founder))
}

fn is_look(line: Option<&Line>) -> bool {
    line.is_some_and(|line| matches!(line.action, Action::Expect { .. }))
}

fn is_typed(act: Option<&Act<'_>>) -> bool {
    matches!(act, Some(Act::Do(operation)) if !by_hands(*operation))
}

fn is_by_hands(act: Option<&Act<'_>>) -> bool {
    matches!(act, Some(Act::Do(operation)) if by_hands(*operation))
}

/// A look that must be there: by its code, or because a run of typed steps opens with it.
fn is_kept(lines: &[Line], script: &Script<'_>, at: usize) -> bool {
    opens(script, at) || lines.get(at).is_some_and(|line| looks::is_demanded(&line.why.code))
}

/// Whether a run of typed steps opens with a look.
fn opens(script: &Script<'_>, at: usize) -> bool {
    let runs_on = at.checked_sub(1).is_some_and(|before| {
        let act = script.acts.get(before);
        let restarts = matches!(act, Some(Act::Do(Operation::Restart(_))));
        is_typed(act) && !restarts && script.spot(before) == script.spot(at + 1)
    });
    is_typed(script.acts.get(at + 1)) && !runs_on
}

/// Each slip that would do harm and can be seen in time; on a way back, in its first `own` lines or right after them.
fn wants(script: &Script<'_>, lines: &[Line], own: Option<usize>) -> Vec<Want> {
    let mut wants = Vec::new();
    let fits = |chance: &Chance| own.is_none_or(|own| chance.point.is_within(own));
    for slip in slips(script) {
        // others show only at looks that may go
        let may_add = matches!(slip, Slip::LeaveOut(_) | Slip::Misplace { .. });
        if !may_add && !script.has_soft() {
            continue;
        }
        let replayed = script.replay(slip);
        let End::Broken(..) = replayed.end else { continue };
        let mut chances: Vec<Chance> =
            replayed.noticed.iter().map(|look| Chance { point: Point::There(*look), fact: None }).collect();
        if may_add {
            chances.extend(looks_that_stand(script, slip).into_iter().filter(fits));
            if chances.is_empty() {
                chances.extend(new_looks(script, lines, slip).into_iter().filter(fits));
            }
        }
        if !chances.is_empty() {
            wants.push(Want { slip, chances });
        }
    }
    wants
}

/// The looks that would show a slip with one fact more.
fn looks_that_stand(script: &Script<'_>, slip: Slip) -> Vec<Chance> {
    let mut chances = Vec::new();
    let _ = script.replay_seen(slip, |position, slipped| {
        if let (Some(Act::Expect(_)), Some(meant)) = (script.acts.get(position), script.before(position))
            && let there = spot(script.setting, slipped, script.acts, position)
            && let Some(fact) = telling(script.setting, meant, script.spot(position), slipped, there)
        {
            chances.push(Chance { point: Point::There(position), fact: Some(fact) });
        }
    });
    chances
}

/// Places between two lines at which a new look would show a slip.
fn new_looks(script: &Script<'_>, lines: &[Line], slip: Slip) -> Vec<Chance> {
    let mut chances = Vec::new();
    let _ = script.replay_seen(slip, |position, slipped| {
        let Some(meant) = script.before(position) else { return };
        for at in spots(script, lines, position) {
            if let Some(fact) = telling(script.setting, meant, at, slipped, at) {
                chances.push(Chance { point: Point::New(position, at), fact: Some(fact) });
            }
        }
    });
    chances
}

/// Where one may look before a line without leaving a run of typed steps, or a unit that is being staged.
fn spots(script: &Script<'_>, lines: &[Line], position: usize) -> Vec<Spot> {
    let before = position.checked_sub(1).and_then(|before| lines.get(before));
    let staging = lines.get(position).is_some_and(|line| line.phase == Phase::Stage);
    if staging {
        let unit = before.and_then(|line| line.stages);
        return unit.map(Spot::Console).into_iter().collect();
    }
    if is_typed(script.acts.get(position)) {
        // who comes from a cable looks at it before typing
        let from_hands = position.checked_sub(1).is_some_and(|before| is_by_hands(script.acts.get(before)));
        return [script.spot(position)].into_iter().chain(from_hands.then_some(Spot::Hands)).collect();
    }
    let Some(situation) = script.before(position) else { return Vec::new() };
    let mut all: Vec<Spot> = typing_spots(script.setting, situation).collect();
    all.push(Spot::Hands);
    all
}

/// The lines with what was decided, and where each of them stands then.
fn rebuilt(script: &Script<'_>, lines: &[Line], soft: &[bool], chosen: &Chosen) -> (Vec<Line>, Vec<usize>) {
    let (mut placed, mut moved) = (Vec::new(), Vec::new());
    for at in 0..=lines.len() {
        let fresh = chosen
            .facts
            .range(Point::New(at, Spot::Hands)..)
            .take_while(|(point, _)| matches!(point, Point::New(before, _) if *before == at));
        placed.extend(fresh.filter_map(|(point, facts)| match point {
            Point::New(_, spot) => new_line(script, lines, at, *spot, facts),
            Point::There(_) => None,
        }));
        moved.push(placed.len());
        let Some(line) = lines.get(at) else { continue };
        if soft.get(at) == Some(&true) && !chosen.stay.contains(&at) {
            continue;
        }
        let mut line = line.clone();
        if let (Action::Expect { facts, .. }, Some(more)) = (&mut line.action, chosen.facts.get(&Point::There(at))) {
            let moves = more.iter().any(|fact| names_unit(fact).is_some());
            let own = if moves { anchor(script, at, facts) } else { None };
            facts.extend(own);
            more.iter().for_each(|fact| add(facts, fact));
        }
        placed.push(line);
    }
    (placed, moved)
}

/// Where nothing in a look says whose it is, the unit that the next typed step is for, as it is there: such a look is
/// made where that step is done, wherever a slip has brought it, and a fact about another unit would take it away.
fn anchor(script: &Script<'_>, at: usize, facts: &[Fact]) -> Option<Fact> {
    let (setting, situation, spot) = (script.setting, script.before(at)?, script.spot(at));
    let says = |fact: &Fact| !matches!(fact, Fact::Here { .. } | Fact::Ask { .. });
    let typed = |act: &&Act<'_>| matches!(act, Act::Do(operation) if !by_hands(*operation));
    let Some(Act::Do(operation)) = script.acts.iter().skip(at).find(typed) else { return None };
    let unit = unit_of(setting, *operation).filter(|_| !facts.iter().any(says))?;
    let fact = looks::member(setting, situation, unit, false).into_iter().next()?;
    let seen = unit_spot(setting, situation, unit) == spot && View::new(setting, situation).shows(spot, &fact);
    Some(fact).filter(|_| seen)
}

/// Adds a fact where it does not stand already.
fn add(facts: &mut Vec<Fact>, fact: &Fact) {
    if !facts.contains(fact) {
        facts.push(fact.clone());
    }
}

/// Where facts say nothing of where they are read, and the next typed step is done elsewhere: a unit of the place, as it
/// is there.
fn whose(script: &Script<'_>, at: usize, spot: Spot, facts: &[Fact]) -> Option<Fact> {
    let (setting, situation) = (script.setting, script.before(at)?);
    let with_look: Vec<Act<'_>> =
        std::iter::once(Act::Expect(facts)).chain(script.acts.iter().skip(at).copied()).collect();
    if places::spot(setting, situation, &with_look, 0) == spot {
        return None;
    }
    let unit = match spot {
        Spot::Hands => return None,
        Spot::Console(unit) => unit,
        Spot::Stack => situation.incumbent(setting).iter().find(|unit| situation.state.units[*unit].primary)?,
    };
    looks::member(setting, situation, unit, false).into_iter().next()
}

fn new_line(script: &Script<'_>, lines: &[Line], at: usize, spot: Spot, facts: &[Fact]) -> Option<Line> {
    let before = at.checked_sub(1).and_then(|before| lines.get(before));
    let staged = lines.get(at).is_some_and(|line| line.phase == Phase::Stage);
    let mut all =
        if spot == Spot::Hands { Vec::new() } else { looks::place(script.setting, script.before(at)?, spot).0 };
    facts.iter().for_each(|fact| add(&mut all, fact));
    all.extend(whose(script, at, spot, &all));
    let text = "a step that was left out shows here, before it does harm".to_owned();
    let otherwise = "do not go on: find the step that was left out, do it, then look again".to_owned();
    Some(Line {
        action: Action::Expect { facts: all, otherwise: Some(otherwise) },
        phase: if staged { Phase::Stage } else { Phase::Settle },
        why: Reason { code: "nothing-left-out".to_owned(), text },
        stages: before.and_then(|line| line.stages).filter(|_| staged),
        title: before.or_else(|| lines.get(at)).map(|line| line.title.clone()).unwrap_or_default(),
    })
}
