//! The part of the context that is about moves, steps and snippet files.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::operation::OperationView;
use crate::render::shared::Shared;

/// What a person would call one thing.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct MoveView {
    /// Counted from 1.
    pub number: u32,
    /// What it is called.
    pub title: String,
    /// The phase of its first step.
    pub phase: String,
    /// How long its steps take together.
    pub minutes: MinutesView,
    /// Its steps.
    pub steps: Vec<Shared<StepView>>,
    /// The same steps, in runs at one place.
    pub groups: Vec<GroupView>,
}

impl MoveView {
    /// Puts its steps into runs, each at one place.
    pub(crate) fn regroup(&mut self) {
        self.groups.clear();
        for step in &self.steps {
            match self.groups.last_mut().filter(|last| last.place == step.place) {
                Some(last) => {
                    last.last_step = step.number;
                    last.steps.push(step.clone());
                }
                None => self.groups.push(GroupView {
                    place: step.place.clone(),
                    first_step: step.number,
                    last_step: step.number,
                    steps: vec![step.clone()],
                }),
            }
        }
    }
}

/// Steps of a move that follow each other at one place.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct GroupView {
    /// The place.
    pub place: PlaceView,
    /// Its first step.
    pub first_step: u32,
    /// Its last step.
    pub last_step: u32,
    /// Its steps.
    pub steps: Vec<Shared<StepView>>,
}

/// A duration in minutes, as text.
#[derive(Clone, Debug, Default, Serialize, Deserialize, JsonSchema)]
pub struct MinutesView {
    /// As it usually goes, to the hundredth.
    pub likely: String,
    /// If much goes wrong, to the hundredth.
    pub worst: String,
    /// As it usually goes, in whole minutes.
    pub about: String,
    /// If much goes wrong, in whole minutes.
    pub at_worst: String,
    /// If all goes well, to the hundredth.
    pub best: String,
    /// As is to be expected, (best + 4 likely + worst) / 6, to the hundredth.
    pub expected: String,
    /// As is to be expected, in whole minutes.
    pub about_expected: String,
}

/// One step.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct StepView {
    /// Counted from 1 through the whole plan.
    pub number: u32,
    /// `stage`, `cable`, `join`, `settle` or `close`.
    pub phase: String,
    /// Where it is done.
    pub place: PlaceView,
    /// The operation and its arguments.
    pub operation: OperationView,
    /// The words of `steps/<kind>.j2`, line by line; none for a kind that is silent.
    pub lines: Vec<String>,
    /// Why nothing is typed for it on this platform, where nothing is.
    pub silent: Option<String>,
    /// Why it is there and why it is here.
    pub why: Option<String>,
    /// What is so after it.
    pub sees: Option<PredictionView>,
    /// What to do if a check fails.
    pub otherwise: Option<String>,
    /// Whether one may stop after it.
    pub stop: Option<StopView>,
    /// How long it takes.
    pub minutes: Option<MinutesView>,
    /// Which mistakes here no look catches in time.
    pub care: Vec<CareView>,
    /// Where people can be hurt.
    pub cautions: Vec<CautionView>,
    /// The snippet file that holds it; none for work by hands, waits, and looks that open no file.
    pub file: Option<StepFile>,
}

/// A mistake that no look catches in time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CareView {
    /// `leave-out`, `repeat`, `swap`, `misplug`, `mistype`, `wrong-unit` or `misplace`.
    pub slip: String,
    /// What would be there in the place of what is meant: other units, ports, numbers, cables or places.
    pub with: Vec<String>,
    /// What would come of it, as a clause.
    pub harm: String,
}

/// A step's place in a snippet file.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct StepFile {
    /// The file's path inside the bundle.
    pub path: String,
    /// Whether the file begins with this step.
    pub opens: bool,
    /// The file's first step.
    pub first_step: u32,
    /// The file's last step.
    pub last_step: u32,
}

/// How to go back to where it all began.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct WayBackView {
    /// The first step that it serves.
    pub first: u32,
    /// The last step that it serves.
    pub last: u32,
    /// Both, for names of folders: `07-to-12`.
    pub range: String,
    /// The step whose way back goes on from its end; none where it ends at the beginning of the change.
    pub then: Option<u32>,
    /// How long it takes from the last step that it serves, with all that it goes on with, in whole minutes.
    pub minutes: String,
    /// Its steps, counted from 1; none in an output that holds one of its files.
    pub steps: Vec<Shared<StepView>>,
    /// Its snippet files; none in such an output.
    pub segments: Vec<SegmentView>,
}

impl WayBackView {
    /// Without its steps: for an output that holds one of its files.
    #[must_use]
    pub fn in_short(&self) -> Self {
        let (range, minutes) = (self.range.clone(), self.minutes.clone());
        let (first, last, then) = (self.first, self.last, self.then);
        Self { first, last, range, then, minutes, steps: Vec::new(), segments: Vec::new() }
    }
}

/// Where a step is done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum PlaceView {
    /// By hands.
    Hands {
        /// What tells it from other places: `hands`.
        key: String,
        /// The site's name.
        site: String,
    },
    /// At the running stack.
    Stack {
        /// What tells it from other places: `stack`.
        key: String,
        /// The stack's name.
        stack: String,
        /// The unit at whose console alone it answers, where that is so on the platform.
        primary: Option<String>,
    },
    /// At the console of one unit.
    Console {
        /// What tells it from other places: `console-` and the unit.
        key: String,
        /// The unit's key.
        unit: String,
        /// `rack` of its free data.
        rack: Option<String>,
        /// `height_unit` of its free data.
        height_unit: Option<String>,
    },
}

/// A place at which something of the change is done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct PlaceRow {
    /// What tells it from other places.
    pub key: String,
    /// What it is called.
    pub label: String,
    /// `hands`, `stack` or `console`.
    pub kind: String,
}

/// What is so after a step.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct PredictionView {
    /// Units that restart by themselves in it.
    pub restarts: Vec<String>,
    /// Each island under its primary.
    pub islands: Vec<IslandView>,
    /// Whether one broken link would split the live units.
    pub unprotected: bool,
    /// Whether that differs from before the step; for the first step it does not.
    pub unprotected_change: bool,
    /// Whether the islands differ from those before the step.
    pub islands_change: bool,
}

/// Units that form one stack.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct IslandView {
    /// The unit that leads it; none where nothing leads.
    pub primary: Option<String>,
    /// Its units.
    pub units: Vec<String>,
}

/// Whether one may stop after a step.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct StopView {
    /// Whether the answer differs from that of the step before.
    pub changed: bool,
    /// Safe to stop.
    pub safe: bool,
    /// Why, or why not; may be empty.
    pub because: String,
    /// How long the way back takes, in minutes.
    pub way_back_minutes: Option<String>,
}

/// Where people can be hurt, or hurt the equipment or the service.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum CautionView {
    /// Mains power.
    Mains,
    /// A unit is lifted into the rack, or out of it.
    Lifting {
        /// The unit.
        unit: String,
        /// Its weight in kilograms, where the catalogue knows it.
        weight_kg: Option<String>,
    },
    /// The unit stands among others that are in service: whoever takes the wrong one stops it.
    WrongUnit {
        /// The right one.
        unit: String,
    },
    /// Laser light in fibre.
    Laser,
    /// Static charge.
    Static,
    /// A unit is switched on for the first time: out of its box it may look for a configuration on any network that it
    /// sees.
    ZeroTouch {
        /// The unit.
        unit: String,
    },
    /// A unit in service restarts or goes off: what it feeds over its ports does so too.
    PoweredDevices {
        /// The unit.
        unit: String,
    },
    /// A unit has left, and still holds the stack's settings: it must not come back on the network before it is wiped.
    Unwiped {
        /// The unit.
        unit: String,
    },
    /// A unit is fixed in the rack or taken out of it: its earth connection comes first and goes last.
    Earthing {
        /// The unit.
        unit: String,
    },
}

/// One snippet file: a check, and what is typed or pasted in one go after it.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct SegmentView {
    /// Running number (10, 20, 30 …) with leading zeros so that files sort.
    pub number: String,
    /// What it does, in a word or two for a file's name.
    pub name: String,
    /// The move of its first step, by title.
    pub title: String,
    /// Whether it belongs to staging.
    pub staging: bool,
    /// Where it is typed.
    pub place: PlaceView,
    /// Its first step, the check included.
    pub first_step: u32,
    /// Its last step.
    pub last_step: u32,
    /// The check that opens it, as a step; none where the plan has none here.
    pub check: Option<Shared<StepView>>,
    /// The typed steps.
    pub steps: Vec<Shared<StepView>>,
    /// Whether its last step restarts a unit.
    pub ends_with_restart: bool,
    /// The step after it.
    pub next: Option<NextView>,
    /// Paths of the files that are rendered from it; empty while the paths themselves are rendered.
    pub files: Vec<String>,
}

/// The step after a segment.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct NextView {
    /// Its number.
    pub number: u32,
    /// Where it is done.
    pub place: PlaceView,
    /// Its kind of operation.
    pub kind: String,
    /// Its words, line by line.
    pub lines: Vec<String>,
}
