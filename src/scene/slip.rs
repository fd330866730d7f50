//! A walk with a slip in it -> text: what comes of it in one sentence, then the steps up to there.

use crate::model::acts::Act;
use crate::model::document::{Action, Fact, Until};
use crate::model::facts::Spot;
use crate::model::naming::unit_of;
use crate::model::operation::unit_of as operation_unit;
use crate::model::replay::{Stop, is_seen};
use crate::model::rules::Breach;
use crate::model::slips::{Elsewhere, Script, Slip};
use crate::picture::words::Now;
use crate::rehearse::{code, place, words as judged};

use super::apart::Apart;
use super::course::{Course, Ending, Moment, course};
use super::found::found;
use super::line::{Line, Tone, counted, hung};
use super::{Frame, Walk, say, words};

/// What to do where the plan says nothing.
const UNFORESEEN: &str = "The plan foresees no such thing: do not go on, and find out what is otherwise than planned.";

/// Everything from a slip to where it shows; nothing if there is no such step.
#[must_use]
pub fn slipped(walk: &Walk<'_>, script: &Script<'_>, slip: Slip, columns: usize) -> Vec<Line> {
    let Some(course) = course(script, slip) else { return Vec::new() };
    let told = Told { script, slip, course: &course, columns };
    let frames = course.moments.iter().filter_map(|moment| told.frame(walk, moment)).collect();
    let start = course.moments.first().map_or(walk.start, |moment| &moment.before);
    let with = Walk { frames, start, ..walk.clone() };
    let (tone, answer) = told.answer();
    let mut lines = hung(&Line::new(), tone, &answer, columns);
    lines.extend(told.steps(&with, walk.last()));
    lines.push(Line::new());
    lines.extend(told.end(&with));
    lines
}

struct Told<'a> {
    script: &'a Script<'a>,
    slip: Slip,
    course: &'a Course,
    columns: usize,
}

impl<'a> Told<'a> {
    /// What was done wrong, as the beginning of a sentence.
    fn mistake(&self) -> String {
        let (first, last) = self.slip.steps();
        let steps =
            if first == last { format!("Step {}", first + 1) } else { format!("Steps {} to {}", first + 1, last + 1) };
        match self.slip {
            Slip::Misplace { at, .. } => {
                let (wrong, right) = (self.place(at), self.place(self.script.spot(first)));
                format!("{steps} typed {wrong}, not {right}")
            }
            _ => format!("{steps} left out"),
        }
    }

    /// Whether a step is one of those done wrong.
    fn is_wrong(&self, moment: &Moment) -> bool {
        moment.position <= self.slip.steps().1
    }

    fn place(&self, at: Spot) -> String {
        match at {
            Spot::Stack => format!("at the stack {}", self.script.setting.stack),
            Spot::Console(unit) => format!("at the console of {}", self.script.setting.units[unit].key),
            Spot::Hands => "by hands".to_owned(),
        }
    }

    /// The answer, in one sentence.
    fn answer(&self) -> (Tone, String) {
        let mistake = self.mistake();
        match &self.course.ending {
            Ending::Caught(step, _) => {
                (Tone::Good, format!("{mistake}: caught at step {}, before anything breaks.", step + 1))
            }
            Ending::Merged(step) if *step == self.slip.steps().1 + 1 => {
                (Tone::Good, format!("{mistake}: harmless, nothing is otherwise than planned."))
            }
            Ending::Merged(step) => (
                Tone::Good,
                format!("{mistake}: harmless, nothing breaks and after step {step} all is as the plan has it."),
            ),
            Ending::Reached => {
                (Tone::Good, format!("{mistake}: harmless, nothing breaks and the stack ends as the target says."))
            }
            Ending::Broken(step, breach) => {
                (Tone::Bad, format!("{mistake}: DANGEROUS, step {} breaks {}.", step + 1, self.broken(breach)))
            }
            Ending::Missed(breach) => (
                Tone::Bad,
                format!("{mistake}: DANGEROUS, nobody notices, and the end breaks {}.", self.broken(breach)),
            ),
        }
    }

    /// "the rule never-split (ramp-2 is live and no longer in the stack)".
    fn broken(&self, breach: &Breach) -> String {
        format!("the rule {} ({})", breach.rule.as_str(), judged::breach(self.script.setting, breach))
    }

    fn frame<'m>(&self, walk: &Walk<'m>, moment: &'m Moment) -> Option<Frame<'m>> {
        let planned = walk.frames.get(moment.position)?;
        Some(Frame {
            step: planned.step,
            before: &moment.before,
            after: &moment.after,
            unit: moment.operation.map_or(planned.unit, |operation| operation_unit(self.script.setting, operation)),
            restarts: moment.done.as_ref().map(|done| done.events.restarts).unwrap_or_default(),
            clock: None,
            verdict: self.verdict(moment),
        })
    }

    /// What is to be said of a step beside the plan.
    fn verdict(&self, moment: &Moment) -> Option<(Tone, String)> {
        match &self.course.ending {
            Ending::Caught(step, stop) if *step == moment.position => {
                let what = match stop {
                    Stop::Refused(_) => "it is refused, and changes nothing".to_owned(),
                    Stop::Unseen(_) => format!("{} not so", counted_be(self.untrue(moment).len())),
                    Stop::Waiting if matches!(self.script.acts.get(moment.position), Some(Act::Await(..))) => {
                        "this does not come".to_owned()
                    }
                    Stop::Waiting => "it is refused, and changes nothing".to_owned(),
                    Stop::Broken(_) => return None,
                };
                Some((Tone::Good, format!("caught here: {what}")))
            }
            Ending::Broken(step, breach) if *step == moment.position => {
                Some((Tone::Bad, format!("this breaks {}", self.broken(breach))))
            }
            _ if self.slip == Slip::LeaveOut(moment.position) => {
                Some((Tone::Care, "nothing of this is done".to_owned()))
            }
            _ => self.misplaced(moment),
        }
    }

    fn misplaced(&self, moment: &Moment) -> Option<(Tone, String)> {
        let meant = match self.script.acts.get(moment.position)? {
            _ if !self.is_wrong(moment) => return None,
            Act::Do(meant) => *meant,
            Act::Expect(facts) => {
                let asks = facts.iter().any(|fact| matches!(fact, Fact::Ask { .. }));
                let text = match asks {
                    true => "the same is read here; only the person who is asked could tell, and says yes",
                    false => "the same is read here",
                };
                return Some((Tone::Care, text.to_owned()));
            }
            Act::Await(..) => return None,
        };
        let setting = self.script.setting;
        let (meant, met) = (operation_unit(setting, meant)?, operation_unit(setting, moment.operation?)?);
        let text = format!("typed here, it is done on {}, not on {}", setting.units[met].key, setting.units[meant].key);
        (met != meant).then_some((Tone::Care, text))
    }

    /// The facts of a look that are not so: each with what is found.
    fn untrue(&self, moment: &Moment) -> Vec<(String, String)> {
        let Some(Act::Expect(facts)) = self.script.acts.get(moment.position) else { return Vec::new() };
        let setting = self.script.setting;
        let (now, at) = (&moment.before, moment.at);
        let meant = self.script.before(moment.position).filter(|_| self.is_wrong(moment));
        let there = meant.map(|meant| Elsewhere::new(setting, now, meant, at));
        let untrue = facts.iter().filter_map(|fact| {
            let real = match &there {
                Some(there) => there.fact(fact),
                None => Some(fact.clone()),
            };
            let finds = match real {
                Some(real) if is_seen(setting, now, at, &real) => return None,
                Some(real) => found(setting, now, at, &real),
                None => "no unit here has its id".to_owned(),
            };
            Some((say::fact(setting, fact), finds))
        });
        untrue.collect()
    }

    /// The steps, each with what is done and the stack where it differs from the plan.
    fn steps(&self, with: &Walk<'_>, count: usize) -> Vec<Line> {
        let mut lines = Vec::new();
        let mut drawn: Option<Apart> = None;
        let quiet = |text: &str| hung(&Line::new(), Tone::Quiet, text, self.columns);
        for (frame, moment) in with.frames.iter().zip(&self.course.moments) {
            lines.push(Line::new());
            let wrong = match self.slip {
                _ if !self.is_wrong(moment) => "",
                Slip::Misplace { .. } => ", at the wrong place",
                _ => ", left out",
            };
            lines.push(Line::of(Tone::Strong, &format!("Step {} of {count}{wrong}", frame.step.number)));
            lines.extend(self.done(frame, moment));
            let Some(planned) = self.script.before(moment.position + 1) else { continue };
            let apart = Apart::of(self.script.setting, frame.after, planned);
            match &apart {
                None => lines.extend(quiet("The picture of the stack is as the plan has it.")),
                Some(_) if drawn == apart => {
                    lines.extend(quiet("The stack differs from the plan as before this step."));
                }
                Some(apart) => {
                    lines.push(Line::new());
                    lines.extend(apart.lines(self.columns));
                }
            }
            drawn = apart;
        }
        lines
    }

    /// What is done, where, and what is to be said of it.
    fn done(&self, frame: &Frame<'_>, moment: &Moment) -> Vec<Line> {
        let setting = self.script.setting;
        let entry = |name: &str, tone: Tone, text: &str| {
            hung(&Line::of(Tone::Quiet, &format!("{:<8}", format!("{name}:"))), tone, text, self.columns)
        };
        let at = place(setting, moment.at);
        let what = match &frame.step.action {
            Action::Expect { facts, .. } if self.is_caught(moment) => {
                format!("look whether {} so", counted_be(facts.len()))
            }
            Action::Expect { facts, .. } => {
                format!(
                    "look whether {} so; {}",
                    counted_be(facts.len()),
                    if facts.len() == 1 { "it is" } else { "they are" }
                )
            }
            action => say::action(setting, frame.before, action, Some(&at)),
        };
        let mut lines = entry("Do", Tone::Strong, &say::capital(&what));
        let meant = self.script.spot(moment.position);
        let mut at = say::place(setting, frame.before, Some(&at));
        if meant != moment.at {
            at = format!("{at}; the plan has it {}", self.place(meant));
        }
        lines.extend(entry("Where", Tone::Plain, &at));
        if let Some((tone, verdict)) = &frame.verdict {
            lines.extend(entry("But", *tone, verdict));
        }
        lines
    }

    fn is_caught(&self, moment: &Moment) -> bool {
        matches!(&self.course.ending, Ending::Caught(step, _) if *step == moment.position)
    }

    /// By what it shows, and what the plan says to do then.
    fn end(&self, with: &Walk<'_>) -> Vec<Line> {
        let plain = |text: &str| hung(&Line::new(), Tone::Plain, text, self.columns);
        let strong = |text: &str| hung(&Line::new(), Tone::Strong, text, self.columns);
        let last = with.frames.last().zip(self.course.moments.last());
        match (&self.course.ending, last) {
            (Ending::Caught(_, Stop::Refused(refusal)), Some((frame, _))) => {
                let why = judged::refusal(self.script.setting, *refusal);
                let mut lines = strong(&format!("Why step {} is refused: {why}.", frame.step.number));
                lines.extend(plain(UNFORESEEN));
                lines
            }
            (Ending::Caught(..), Some((frame, moment))) => self.caught(frame, moment),
            (Ending::Broken(_, breach) | Ending::Missed(breach), _) => {
                let rule = breach.rule.as_str();
                let mut lines = strong(&format!("What the rule {rule} is for:"));
                lines.extend(plain(code(rule).explanation));
                lines
            }
            (Ending::Merged(step), _) => plain(&format!("From step {} on nothing differs from the plan.", step + 1)),
            (Ending::Reached, _) => plain("No look, no wait and no rule minds, and the end is the target."),
            (Ending::Caught(..), None) => Vec::new(),
        }
    }

    fn caught(&self, frame: &Frame<'_>, moment: &Moment) -> Vec<Line> {
        let setting = self.script.setting;
        let (number, bullet) = (frame.step.number, Line::new().filled(2).with(Tone::Quiet, "- "));
        let under = Line::new().filled(4).with(Tone::Quiet, "found: ");
        let mut lines = Vec::new();
        match &frame.step.action {
            Action::Expect { facts, otherwise } => {
                let untrue = self.untrue(moment);
                let title = format!("What step {number} expects, and what is found:");
                lines.extend(hung(&Line::new(), Tone::Strong, &title, self.columns));
                for (expected, finds) in &untrue {
                    lines.extend(hung(&bullet, Tone::Plain, expected, self.columns));
                    lines.extend(hung(&under, Tone::Care, finds, self.columns));
                }
                let rest = facts.len() - untrue.len();
                if rest > 0 {
                    let text = format!("The other {} found as expected.", counted_be(rest));
                    lines.extend(hung(&Line::new(), Tone::Quiet, &text, self.columns));
                }
                if self.is_wrong(moment) {
                    let text = "This is not the place that is meant: go there and look again, before anything else.";
                    lines.extend(hung(&Line::new(), Tone::Care, text, self.columns));
                }
                let otherwise = otherwise.as_deref().unwrap_or("do not go on");
                let text = format!("What the plan says to do then: {otherwise}.");
                lines.extend(hung(&Line::new(), Tone::Strong, &text, self.columns));
            }
            Action::Await { unit, until, limit } => {
                let role = unit_of(setting, unit).map_or("", |id| words::role(&Now::of(setting, frame.before), id).1);
                let awaited = match until {
                    Until::Up => "up",
                    Until::Joined => "joined",
                    Until::Ready => "in the stack and ready to take over",
                };
                let text =
                    format!("Step {number} waits in vain: after {limit} minutes {unit} is not {awaited}, but {role}.");
                lines.extend(hung(&Line::new(), Tone::Strong, &text, self.columns));
                lines.extend(hung(&Line::new(), Tone::Plain, UNFORESEEN, self.columns));
            }
            _ => {
                let place = self.place(moment.at);
                let text = format!("Why step {number} is refused: {place} no unit has the id that is typed.");
                lines.extend(hung(&Line::new(), Tone::Strong, &text, self.columns));
                lines.extend(hung(&Line::new(), Tone::Plain, UNFORESEEN, self.columns));
            }
        }
        lines
    }
}

/// "1 thing is", "3 things are".
fn counted_be(count: usize) -> String {
    format!("{} {}", counted(count, "thing"), if count == 1 { "is" } else { "are" })
}
