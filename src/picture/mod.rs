//! A rehearsed plan -> [`Picture`]: one drawing of the stack as an upright ladder, and what each step changes in it.
//!
//! One layout serves the whole change: a step changes what the elements say, never where they stand. Every number is
//! text, ready for a drawing. Deliberately absent: colours, letters and markup, which belong to templates.

mod cast;
mod drawing;
mod film;
mod lanes;
mod said;
pub mod strands;
mod values;
pub mod words;

#[cfg(test)]
mod tests;

use std::borrow::Cow;
use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::model::acts::Act;
use crate::model::operation::Operation;
use crate::model::table::{CableId, UnitSet};
use crate::rehearse::{Rehearsed, Trail};

use cast::Cast;
use film::Film;
use words::Now;

/// One text of a drawing.
pub type Text = Cow<'static, str>;
/// What elements say: by their keys, and by the names of their values.
pub type Values = BTreeMap<Text, BTreeMap<Text, Text>>;

/// The stack as an upright ladder, and what each step changes in it. Room is left for letters of 12 px without serifs,
/// for a unit's name of 14 px.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Picture {
    /// Its width.
    pub width: String,
    /// Its height.
    pub height: String,
    /// What it shows.
    pub title: String,
    /// A box for each unit that is ever in it, top to bottom.
    pub units: Vec<UnitBox>,
    /// A line for each cable between two units that is ever plugged.
    pub cables: Vec<CableLine>,
    /// Before the first step all that is said, then for each step what differs.
    pub frames: Vec<Frame>,
    /// All that is said before the change.
    pub before: Values,
    /// All that is said after the last step.
    pub after: Values,
}

/// The box of one unit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct UnitBox {
    /// Under what its values stand: `power` (on, off), `there` (yes; no for one that has not come yet or is gone), `id`,
    /// `priority`, `role` (a word), `leads` (yes, no), `island` (counted from the top; empty for a unit that is off),
    /// `numbers` (id and priority as text), `marks` (what else is to be said), `waiting`, `here` (the step is done on
    /// it), `restarts` (it restarts in this step).
    pub key: String,
    /// The unit's key in the plan.
    pub unit: String,
    /// Its left edge.
    pub x: String,
    /// Its upper edge.
    pub y: String,
    /// Its width.
    pub width: String,
    /// Its height.
    pub height: String,
    /// Where its texts stand.
    pub texts: TextPlaces,
    /// The uplink legs that it has at any time.
    pub legs: Vec<LegLine>,
}

/// Where the texts of a box stand; each on its base line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct TextPlaces {
    /// Where its name begins.
    pub name_x: String,
    /// The line of its name.
    pub name_y: String,
    /// Where its role ends.
    pub role_x: String,
    /// The line of its role.
    pub role_y: String,
    /// Where id and priority begin.
    pub numbers_x: String,
    /// The line of id and priority.
    pub numbers_y: String,
    /// Where the marks begin.
    pub marks_x: String,
    /// The line of the marks.
    pub marks_y: String,
}

/// One leg of an uplink pair at a unit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LegLine {
    /// Under what its values stand: `plugged`, `formed`, `carries`, `enabled` (yes, no), `text` (empty while it is
    /// neither formed nor plugged).
    pub key: String,
    /// `unit:port`.
    pub leg: String,
    /// The pair.
    pub uplink: String,
    /// Where its text ends.
    pub text_x: String,
    /// The line of its text.
    pub text_y: String,
}

/// One cable between two units.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CableLine {
    /// Under what its values stand: `plugged` (yes, no), `link` (none, dark, unmatched, stray, stack), `word` (the same
    /// for people), `upper` and `lower` (the two ports in words), and of each port `…_side` (none, west, east),
    /// `…_active` and `…_enabled` (yes, no).
    pub key: String,
    /// Its two ends, the upper one first.
    pub cable: String,
    /// The line, as a path of absolute moves.
    pub path: String,
    /// Whether it runs in a lane beside the boxes, so that its words stand at the foot.
    pub lane: bool,
    /// What tells it from other lanes; empty for a straight one.
    pub letter: String,
    /// A mark on the line: from the left.
    pub dot_x: String,
    /// The same from above.
    pub dot_y: String,
    /// Where its words begin.
    pub text_x: String,
    /// The line of the upper port's words.
    pub upper_y: String,
    /// The line of the link's word.
    pub link_y: String,
    /// The line of the lower port's words.
    pub lower_y: String,
    /// The unit of the upper port; empty for a straight one.
    pub upper_unit: String,
    /// The unit of the lower port; empty for a straight one.
    pub lower_unit: String,
}

/// What a step changes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Frame {
    /// The number of the step; 0 before the first.
    pub step: String,
    /// What elements say after it, where that differs from before. Of the whole stack, under `stack`: `text`,
    /// `protected` (yes, no, alone, none), `protection`, `uplinks` (sentences), `said` (what the step changed, as one
    /// sentence; empty for nothing).
    pub set: Values,
}

/// Draws a plan.
#[must_use]
pub fn picture(rehearsed: &Rehearsed) -> Picture {
    let (plan, trail) = (rehearsed.plan(), rehearsed.trail());
    let setting = &trail.setting;
    let cast = Cast::of(trail);
    let mut film = Film::open(&cast, &Now::of(setting, &trail.start));
    let before = film.whole();
    let mut frames = vec![Frame { step: "0".to_owned(), set: before.clone() }];
    let mut last = &trail.start;
    let acts = trail.acts(rehearsed);
    for ((step, act), passed) in plan.steps.iter().zip(&acts).zip(&trail.passed) {
        let (here, restarts) = touched(trail, act, passed);
        let next = &passed.situation;
        // most steps only look
        let same = last.state == next.state && last.memory == next.memory;
        let now = (!same).then(|| Now::of(setting, next));
        frames.push(Frame { step: step.number.to_string(), set: film.step(now.as_ref(), here, restarts) });
        last = next;
    }
    let drawn = drawing::draw(&cast, film.elements());
    let title = format!("{}, before, during and after", plan.stack);
    Picture {
        width: drawn.width.to_string(),
        height: drawn.height.to_string(),
        title,
        units: drawn.units,
        cables: drawn.cables,
        frames,
        before,
        after: film.whole(),
    }
}

/// The units that a step is done on, and those that restart in it.
fn touched(trail: &Trail, act: &Act<'_>, passed: &crate::rehearse::Passed) -> (UnitSet, UnitSet) {
    let ends = |cable: CableId| words::cable_units(&trail.setting, cable);
    let one = passed.unit.map_or(UnitSet::EMPTY, UnitSet::one);
    match act {
        Act::Do(Operation::Connect(cable) | Operation::Disconnect(cable)) => (ends(*cable), passed.restarts),
        Act::Do(Operation::Restart(unit) | Operation::Wipe(unit)) => (one, passed.restarts.with(*unit)),
        Act::Do(_) | Act::Await(..) | Act::Expect(_) => (one, passed.restarts),
    }
}
