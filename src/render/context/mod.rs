//! The data that templates see: documented, versioned, the same for built-in and user dialects.
//!
//! Every value is ready to print; templates compute nothing. A value that may be missing is `none`, and
//! printing `none` is an error. Deliberately absent: anything about other stacks, files or the machine.

mod faults;
mod operation;
mod record;
mod step;
mod times;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::picture::Picture;

pub use faults::{FaultRow, FaultsView};
pub use operation::{ActingUnit, CableView, EndView, FactView, OperationView, PortView, WordsScope};
pub use record::{AsBuiltView, HandOverView, LabelView};
pub use step::{
    CareView, CautionView, IslandView, MinutesView, MoveView, NextView, PlaceRow, PlaceView, PredictionView,
    SegmentView, StepFile, StepView, StopView, WayBackView,
};
pub use times::{
    CheckView, CriticalView, HandsView, HandsWorkView, StageTimeView, TimesView, TurnBackView, WindowView,
};

/// The version of this shape.
pub const CONTEXT_FORMAT: u32 = 1;

/// What a template of an output sees.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct Context {
    /// The version of this shape.
    pub format: u32,
    /// What wrote the bundle: name and version.
    pub compiler: String,
    /// The dialect that is being rendered.
    pub dialect: DialectView,
    /// The stack.
    pub stack: StackView,
    /// The change as a whole.
    pub change: ChangeView,
    /// Every box of the plan, sorted by id, then key.
    pub units: Vec<UnitView>,
    /// The moves with their steps, in order.
    pub moves: Vec<MoveView>,
    /// The snippet files, staging first, in order.
    pub segments: Vec<SegmentView>,
    /// The ways back, in the order of the steps that they serve.
    pub ways_back: Vec<WayBackView>,
    /// The patch list.
    pub cables: Vec<CableRow>,
    /// The places of the steps, ways back too, in the order in which they are first gone to.
    pub places: Vec<PlaceRow>,
    /// How long it all takes.
    pub times: TimesView,
    /// What fails in the finished stack, and what then.
    pub faults: FaultsView,
    /// The stack as it is handed over.
    pub hand_over: HandOverView,
    /// A label for each end of each cable that the change plugs and leaves plugged.
    pub labels: Vec<LabelView>,
    /// The stack as a drawing, and what each step changes in it.
    pub picture: Picture,
    /// The unit that this output is for: with `one_per: joining-unit`, and for a segment typed at a console.
    pub unit: Option<UnitView>,
    /// The segment that this output is for, with `one_per: …-segment`.
    pub segment: Option<SegmentView>,
    /// The way back that this output is for, with `one_per: way-back-segment`.
    pub way_back: Option<WayBackView>,
}

impl Context {
    /// The steps of all moves, in order.
    pub fn steps(&self) -> impl Iterator<Item = &StepView> {
        self.moves.iter().flat_map(|one| &one.steps).map(|step| &**step)
    }

    /// Puts the steps of each move into its runs anew, after somebody has changed them.
    pub fn regroup(&mut self) {
        self.moves.iter_mut().for_each(MoveView::regroup);
    }
}

/// The dialect that is being rendered.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct DialectView {
    /// Its name.
    pub name: String,
    /// Its version.
    pub version: String,
    /// What it is for.
    pub summary: String,
    /// Habits of the platform that no trait holds, so that nothing is proved of them.
    pub unsupported: Vec<String>,
    /// What the proof rests on: the platform's habits, as clauses.
    pub trust: Vec<TrustView>,
}

/// One habit of the platform.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct TrustView {
    /// The habit, as a clause.
    pub text: String,
    /// Where it is written.
    pub source: Option<String>,
    /// On what it was tried.
    pub tried_on: Option<String>,
}

/// The stack.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct StackView {
    /// Its name.
    pub name: String,
    /// The intent's description.
    pub description: Option<String>,
    /// `chain` or `ring`, after the change.
    pub topology: Option<String>,
    /// The intent's free data about the stack.
    pub vars: BTreeMap<String, Value>,
}

/// The change as a whole.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct ChangeView {
    /// One sentence that says what changes.
    pub sentence: String,
    /// The change's ticket.
    pub ticket: Option<String>,
    /// When it may be done.
    pub window: Option<WindowView>,
    /// When people are at the rack.
    pub hands: Option<HandsView>,
    /// The checks of the dialect and of the house that are made before it.
    pub checks_before: Vec<CheckView>,
    /// Those that are made after it.
    pub checks_after: Vec<CheckView>,
    /// Addresses that are pinged through the whole change.
    pub witnesses: Vec<String>,
    /// The consents that the intent gives.
    pub consents: Vec<String>,
    /// What was proved, in numbers.
    pub proof: ProofView,
    /// The stack before the change.
    pub before: Vec<LadderRow>,
    /// The stack after the change.
    pub after: Vec<LadderRow>,
    /// What a reader should know.
    pub warnings: Vec<String>,
}

/// What was proved, in numbers.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct ProofView {
    /// Live units that restart or are switched off although they stay: keys.
    pub live_restarts: Vec<String>,
    /// Who leads the running stack, one after the other: keys; empty for a new stack.
    pub leaders: Vec<String>,
    /// Minutes, member by member, in which a live unit is out of the stack.
    pub member_minutes: String,
    /// Cables that are plugged only for a while.
    pub spare_cables: usize,
    /// The primary before the change.
    pub primary_before: Option<String>,
    /// The primary after the change.
    pub primary_after: Option<String>,
    /// Whether the same unit leads before, after and between.
    pub primary_kept: bool,
    /// Minutes in which one broken link would split a stack that is a ring before and after.
    pub unprotected_minutes: String,
    /// The same where the stack is a ring only before or only after.
    pub half_protected_minutes: String,
    /// Minutes for the whole change, in whole minutes, as it usually goes.
    pub likely_minutes: String,
    /// The same at worst.
    pub worst_minutes: String,
    /// Steps of all kinds.
    pub steps: usize,
    /// Cables plugged plus unplugged.
    pub cables: u32,
}

/// One unit.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
pub struct UnitView {
    /// The member's name, or `name@serial` for both boxes of a replacement.
    pub key: String,
    /// The member that this box is.
    pub member: String,
    /// Its id after the change (before it, if it leaves).
    pub id: u16,
    /// Its priority after the change (before it, if it leaves).
    pub priority: u32,
    /// `primary`, `standby` or `member`.
    pub role: String,
    /// `live`, `joining` or `leaving`.
    pub status: String,
    /// The serial number on its label.
    pub serial: Option<String>,
    /// Its MAC address.
    pub mac: Option<String>,
    /// Its hardware model.
    pub model: Option<String>,
    /// Its weight in kilograms, where the catalogue knows it.
    pub weight_kg: Option<String>,
    /// `rack` of its free data.
    pub rack: Option<String>,
    /// `height_unit` of its free data.
    pub height_unit: Option<String>,
    /// All its free data.
    pub vars: BTreeMap<String, Value>,
}

/// One line of the upright picture of a stack: a unit, or the link below it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "row", rename_all = "kebab-case")]
pub enum LadderRow {
    /// A unit.
    Unit {
        /// The bracket that closes a ring, at the left; blank in a chain.
        bracket: String,
        /// The unit's key, padded to the longest.
        name: String,
        /// The id that it acts on.
        id: String,
        /// Its role, padded to the longest.
        role: String,
        /// The priority that it acts on.
        priority: String,
    },
    /// The link between two neighbours.
    Link {
        /// The bracket that closes a ring, at the left; blank in a chain.
        bracket: String,
        /// Its cables, by interface names.
        cables: Vec<CablePair>,
    },
    /// The link that closes a ring, from the last unit to the first.
    Closing {
        /// Its cables, by interface names.
        cables: Vec<CablePair>,
    },
    /// Nothing links what is above with what is below.
    Gap,
}

/// One cable by the interface names of its ends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CablePair {
    /// The upper end.
    pub from: String,
    /// The lower end.
    pub to: String,
}

/// One line of the patch list. What is not known is an empty text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CableRow {
    /// The label on the cable.
    pub label: String,
    /// What it is made of.
    pub medium: String,
    /// Length in metres.
    pub length_m: String,
    /// The serial on its plugs.
    pub serial: String,
    /// The near end.
    pub near: CableEndView,
    /// The far end.
    pub far: CableEndView,
    /// The uplink pair that it belongs to.
    pub uplink: String,
    /// What the change does with it: `stays`, `plug`, `unplug`, `plug, then unplug` or `unplug, then plug`.
    pub change: String,
}

/// One end in the patch list. What is not known is an empty text.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CableEndView {
    /// The unit, or the equipment at the far end of an uplink.
    pub device: String,
    /// The port as the front of the unit numbers it.
    pub port: String,
    /// The rack.
    pub rack: String,
    /// The height in the rack.
    pub height_unit: String,
    /// The interface name before the change; empty for a unit that joins.
    pub interface_before: String,
    /// The interface name after the change; empty for a unit that leaves.
    pub interface_after: String,
}
