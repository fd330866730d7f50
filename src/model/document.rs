//! The shapes of `plan.json`: what the planner writes and the judge reads.
//!
//! Plain data, names instead of indices, nothing checked but the shape; `rehearse` gives it a meaning.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::names::{MemberId, Minutes, PortName, Priority};
use super::traits::Traits;

/// The version of this shape.
pub const PLAN_FORMAT: u32 = 1;

/// A whole plan: where the stack is, where it shall be, and every step between.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanDocument {
    /// The version of this shape.
    pub format: u32,
    /// The stack's name.
    pub stack: String,
    /// What wrote the plan.
    pub compiler: String,
    /// Digests of what the plan was made from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inputs: Option<Inputs>,
    /// The platform's traits.
    pub traits: Traits,
    /// What the change allows.
    pub change: ChangeTerms,
    /// Every box of the plan.
    pub units: Vec<UnitEntry>,
    /// The state before the change.
    pub baseline: StateDocument,
    /// The state after it.
    pub target: StateDocument,
    /// What a person would call one thing each.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moves: Option<Vec<Move>>,
    /// The steps, in the order in which they are to be done.
    pub steps: Vec<StepEntry>,
    /// How to go back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ways_back: Option<Vec<WayBack>>,
    /// What the plan costs, checks included.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<CostEntry>,
    /// What was tried against operator errors; null where nothing was tried.
    #[serde(default)]
    pub slips: Option<Slips>,
    /// What a reader should know.
    #[serde(default)]
    pub warnings: Vec<Warning>,
}

/// Digests of what a plan was made from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Inputs {
    /// Of the intent.
    pub intent: String,
    /// Of the baseline, if it was a file.
    pub baseline: Option<String>,
    /// Of the dialect, over its sorted (path, content) pairs.
    pub dialect: String,
}

/// What the change allows.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeTerms {
    /// Consents, one by one: `restart:m`, `new-primary:m`, `split:m`, `save-unsaved:stack`.
    #[serde(default)]
    pub accept: Vec<String>,
    /// When the live side must be saved.
    #[serde(default)]
    pub save: SaveWhen,
    /// Members of the baseline that have failed and are off.
    #[serde(default)]
    pub dead: Vec<String>,
    /// Whether cables that are in neither state may be plugged for a while.
    #[serde(default)]
    pub temporary_cables: bool,
}

/// When the live side must be saved.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SaveWhen {
    /// Before the operation that makes a new link.
    #[default]
    BeforeLink,
    /// After the joined unit was found ready.
    AfterCheck,
}

/// One box.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UnitEntry {
    /// The member's name, or `name@serial` for both boxes of a replacement.
    pub key: String,
    /// The member that this box is.
    pub member: String,
    /// Its id in the target (in the baseline, if it leaves).
    pub id: MemberId,
    /// Its priority in the target (in the baseline, if it leaves).
    pub priority: Priority,
    /// Its role in the target (in the baseline, if it leaves).
    pub role: Role,
    /// The serial number on its label.
    #[serde(default)]
    pub serial: Option<String>,
    /// Its MAC address.
    #[serde(default)]
    pub mac: Option<String>,
    /// The hardware model, if the catalogue knows it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<String>,
    /// The ports that can stack.
    pub stacking_ports: Vec<PortName>,
    /// What it is in the baseline.
    pub status: Status,
}

/// What a member is for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// It leads the stack.
    Primary,
    /// It takes over if the primary fails.
    Standby,
    /// Neither.
    #[default]
    Member,
}

/// What a unit is in the baseline.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// In the stack, and stays.
    Live,
    /// Comes in.
    Joining,
    /// Goes out.
    Leaving,
}

/// A state of all boxes, by name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StateDocument {
    /// Every unit by its key.
    pub units: BTreeMap<String, UnitState>,
    /// Plugged cables: two ends each, `unit:port` or `far:uplink`.
    pub cables: Vec<[String; 2]>,
    /// The stack's common settings.
    pub shared: SharedPair,
}

/// One unit's part of a state.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UnitState {
    /// Switched on and up.
    pub powered: bool,
    /// When it booted, in ticks; the smaller has the longer uptime.
    #[serde(default)]
    pub booted_at: i64,
    /// Leads its island.
    #[serde(default)]
    pub primary: bool,
    /// Lost a merge and waits for a restart by hand.
    #[serde(default)]
    pub waiting: bool,
    /// Its own memory holds the saved common settings as they stand.
    #[serde(default)]
    pub copy: bool,
    /// What it acts on now; null while it is off.
    pub running: Option<RunningSettings>,
    /// What it acts on after a restart; null for a box that is never powered in the plan.
    pub saved: Option<SavedSettings>,
}

/// What a unit acts on now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunningSettings {
    /// Its id.
    pub id: MemberId,
    /// Its priority.
    pub priority: Priority,
    /// Its ports.
    pub ports: BTreeMap<PortName, RunningPort>,
}

/// What a unit acts on after a restart.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SavedSettings {
    /// Its id.
    pub id: MemberId,
    /// Its priority.
    pub priority: Priority,
    /// Its ports.
    pub ports: BTreeMap<PortName, SavedPort>,
}

/// A port as it runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunningPort {
    /// In use.
    pub enabled: bool,
    /// The side that it is bound to.
    pub side: Side,
    /// Whether the binding counts.
    pub active: bool,
}

/// A port as it was saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SavedPort {
    /// In use.
    pub enabled: bool,
    /// The side that it is bound to.
    pub side: Side,
}

/// The side that a port is bound to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// Bound to no side: a plain Ethernet port.
    #[default]
    None,
    /// The west side.
    West,
    /// The east side.
    East,
}

impl Side {
    /// The side as the plan writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::West => "west",
            Self::East => "east",
        }
    }
}

/// The common settings: as they run and as they are saved.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SharedPair {
    /// As they run.
    pub running: SharedSettings,
    /// As they are saved.
    pub saved: SharedSettings,
}

/// The stack's common settings.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SharedSettings {
    /// Uplink pairs: name and legs (`member:port`).
    pub uplinks: BTreeMap<String, Vec<String>>,
    /// The uplink pair that carries the split guard.
    pub guard: Option<String>,
}

/// What a person would call one thing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Move {
    /// Counted from 1.
    pub number: u32,
    /// What it is called.
    pub title: String,
    /// The phase of its first step.
    pub phase: Phase,
}

/// When and by whom a step is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    /// On a joining unit, on its own console, any time before the window.
    Stage,
    /// Hands on site.
    Cable,
    /// Changes the live stack.
    Join,
    /// Waiting and checking.
    Settle,
    /// Saving, the final check, records.
    Close,
}

/// One step of a plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StepEntry {
    /// Counted from 1 without gaps.
    pub number: u32,
    /// The move that it belongs to.
    #[serde(default, rename = "move", skip_serializing_if = "Option::is_none")]
    pub in_move: Option<u32>,
    /// When it is done.
    pub phase: Phase,
    /// Where it is done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Place>,
    /// What is done.
    #[serde(rename = "do")]
    pub action: Action,
    /// Earlier steps that may not run side by side with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needs: Option<Vec<u32>>,
    /// Why it is there and why it is here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub why: Option<Reason>,
    /// How long it takes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub minutes: Option<StepMinutes>,
    /// What is so after it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub predicts: Option<Prediction>,
    /// Whether one may stop after it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stop_here: Option<StopHere>,
}

/// Where a step is done.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// By hands, at the named site.
    Hands(String),
    /// At the running stack of this name.
    Stack(String),
    /// At the console of this unit.
    Console(String),
}

/// What a step does: the operations of the model, by name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Action {
    /// Switches a unit on.
    PowerOn {
        /// The unit.
        unit: String,
    },
    /// Switches a unit off.
    PowerOff {
        /// The unit.
        unit: String,
    },
    /// Restarts a unit.
    Restart {
        /// The unit.
        unit: String,
    },
    /// Sets a unit back to how it came out of its box.
    Wipe {
        /// The unit.
        unit: String,
    },
    /// Gives a unit its member id.
    AssignId {
        /// The unit.
        unit: String,
        /// The id.
        id: MemberId,
    },
    /// Sets a unit's priority.
    SetPriority {
        /// The unit.
        unit: String,
        /// The priority.
        priority: Priority,
    },
    /// Takes a port out of use.
    DisablePort {
        /// The unit.
        unit: String,
        /// The port.
        port: PortName,
    },
    /// Puts a port into use.
    EnablePort {
        /// The unit.
        unit: String,
        /// The port.
        port: PortName,
    },
    /// Binds a port to a side.
    BindPort {
        /// The unit.
        unit: String,
        /// The port.
        port: PortName,
        /// The side.
        side: Side,
    },
    /// Releases a port from its side.
    ReleasePort {
        /// The unit.
        unit: String,
        /// The port.
        port: PortName,
    },
    /// Puts the bindings of the unit's island into force.
    Activate {
        /// Any unit of the island.
        unit: String,
    },
    /// Saves the unit's settings, or its whole island's.
    Save {
        /// Any unit of the island.
        unit: String,
    },
    /// Plugs a cable.
    ConnectCable {
        /// Its two ends.
        ends: [String; 2],
    },
    /// Unplugs a cable.
    DisconnectCable {
        /// Its two ends.
        ends: [String; 2],
    },
    /// Forms an uplink pair.
    FormUplink {
        /// The pair.
        uplink: String,
        /// Its legs, `member:port`.
        legs: Vec<String>,
    },
    /// Dissolves an uplink pair.
    DropUplink {
        /// The pair.
        uplink: String,
    },
    /// Adds one leg to a pair.
    AddLeg {
        /// The pair.
        uplink: String,
        /// The leg, `member:port`.
        leg: String,
    },
    /// Takes one leg out of a pair.
    DropLeg {
        /// The pair.
        uplink: String,
        /// The leg, `member:port`.
        leg: String,
    },
    /// Lets a pair carry the split guard.
    GuardSplit {
        /// The pair.
        uplink: String,
    },
    /// Takes the split guard off a pair.
    UnguardSplit {
        /// The pair.
        uplink: String,
    },
    /// Waits until something is so.
    Await {
        /// The unit.
        unit: String,
        /// What is waited for.
        until: Until,
        /// How long at most, in minutes.
        limit: Minutes,
    },
    /// Compares what is seen with what must be so.
    Expect {
        /// What must be so.
        facts: Vec<Fact>,
        /// What to do if it is not.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        otherwise: Option<String>,
    },
}

/// What an operator waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Until {
    /// The unit has booted.
    Up,
    /// It is in the stack.
    Joined,
    /// It could take over.
    Ready,
}

impl Until {
    /// The word as the plan writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Up => "up",
            Self::Joined => "joined",
            Self::Ready => "ready",
        }
    }
}

/// One thing that can be expected and observed. A field that is left out is not compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "fact", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Fact {
    /// What the console in front of the reader belongs to.
    Here {
        /// The unit's id; at a stack, the primary's.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        id: Option<MemberId>,
        /// The unit's serial; at a stack, the primary's.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        serial: Option<String>,
        /// The ids of this island.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        members: Option<Vec<MemberId>>,
    },
    /// A unit.
    Unit {
        /// The unit's key.
        unit: String,
        /// Switched on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        powered: Option<bool>,
        /// The id that it acts on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        id: Option<MemberId>,
        /// The id that it boots with.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        saved_id: Option<MemberId>,
        /// The priority that it acts on.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        priority: Option<Priority>,
        /// Its role in its island.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        role: Option<Role>,
        /// Lost a merge and waits.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        waiting: Option<bool>,
        /// Joined, and able to take over.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        ready: Option<bool>,
        /// Its serial number.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        serial: Option<String>,
        /// Its MAC address.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        mac: Option<String>,
        /// Its hardware model.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        model: Option<String>,
    },
    /// A port.
    Port {
        /// The unit's key.
        unit: String,
        /// The port.
        port: PortName,
        /// In use.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        enabled: Option<bool>,
        /// The side that it is bound to.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        side: Option<Side>,
        /// Whether the binding counts.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        active: Option<bool>,
        /// Whether there is light.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        lit: Option<bool>,
    },
    /// What IEEE 802.1AB shows at the other end.
    Neighbour {
        /// The near end, `unit:port`.
        end: String,
        /// The far end, or null where none shows.
        far: Option<String>,
    },
    /// The state of the link between two ends.
    Link {
        /// The two ends.
        ends: [String; 2],
        /// What it is.
        is: LinkKind,
    },
    /// Whether a cable is plugged, seen by hands.
    Cable {
        /// The two ends.
        ends: [String; 2],
        /// Plugged or not.
        plugged: bool,
    },
    /// The plug in a port, read by hands.
    Plug {
        /// The end, `unit:port`.
        end: String,
        /// The serial on it, or null where there is no plug.
        serial: Option<String>,
    },
    /// An uplink pair.
    Uplink {
        /// The pair.
        uplink: String,
        /// Its legs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        legs: Option<Vec<String>>,
        /// The legs that carry.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        carrying: Option<Vec<String>>,
    },
    /// The pair that carries the split guard.
    Guard {
        /// The pair, or null for none.
        uplink: Option<String>,
    },
    /// Whether a unit's saved settings are its running ones.
    Saved {
        /// The unit's key.
        unit: String,
        /// Saved or not.
        saved: bool,
    },
    /// A house check that no model knows; a person answers.
    Ask {
        /// The question.
        text: String,
    },
}

/// What a link between two ends is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum LinkKind {
    /// A working stack link.
    Stack,
    /// Lit, carrying nothing.
    Unmatched,
    /// Two boxes bridged as plain Ethernet.
    Stray,
    /// Dark, or no cable.
    None,
}

impl LinkKind {
    /// The word as the plan writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Stack => "stack",
            Self::Unmatched => "unmatched",
            Self::Stray => "stray",
            Self::None => "none",
        }
    }
}

/// Why a step is there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reason {
    /// A stable code.
    pub code: String,
    /// The reason in words.
    pub text: String,
}

/// How long a step takes, in minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StepMinutes {
    /// If all goes well.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best: Option<Minutes>,
    /// As it usually goes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub likely: Option<Minutes>,
    /// If much goes wrong.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worst: Option<Minutes>,
}

/// What is so after a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Prediction {
    /// Units that restart by themselves in it.
    pub restarts: Vec<String>,
    /// Powered units, island by island.
    pub islands: Vec<Vec<String>>,
    /// Each primary and the island that it leads.
    pub primary: BTreeMap<String, Vec<String>>,
    /// Whether one broken link would split the live units.
    pub unprotected: bool,
}

/// Whether one may stop after a step.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StopHere {
    /// Every rule holds, every live unit is saved, no live unit's link is unmatched.
    pub safe: bool,
    /// Why, or why not.
    #[serde(default)]
    pub because: String,
    /// How long the way back takes, in minutes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub way_back_minutes: Option<Minutes>,
}

/// How to go back from some steps.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WayBack {
    /// First and last step that it serves.
    pub after: [u32; 2],
    /// What to do.
    pub steps: Vec<WayBackStep>,
    /// The step whose way back goes on from here; null at the baseline.
    pub then: Option<u32>,
}

/// One step of a way back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WayBackStep {
    /// Where it is done.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Place>,
    /// What is done.
    #[serde(rename = "do")]
    pub action: Action,
}

/// What a plan costs, checks included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CostEntry {
    /// Minutes, member by member, in which a live unit is out of the stack.
    pub member_minutes: Minutes,
    /// Minutes in which one broken link would split a stack that is a ring before and after.
    pub unprotected_minutes: Minutes,
    /// Cables plugged plus unplugged.
    pub cables: u32,
    /// Stack links to a live unit that come up in a plug, a power-on or a restart.
    pub links_not_typed: u32,
    /// Steps other than waits and checks.
    pub steps: u32,
    /// Minutes unprotected where only one of baseline and target is a ring.
    pub half_protected_minutes: Minutes,
    /// Likely minutes, the longest stage of one unit included.
    pub likely_minutes: Minutes,
    /// The same at worst.
    pub worst_minutes: Minutes,
}

/// What was tried against operator errors.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Slips {
    /// How many were tried.
    pub tried: u32,
    /// How many a check or a refusal catches.
    pub caught: u32,
    /// How many break nothing.
    pub harmless: u32,
    /// Those that would hurt.
    pub dangerous: Vec<DangerousSlip>,
}

/// An operator error that no check catches in time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DangerousSlip {
    /// Its kind.
    pub slip: String,
    /// The step, the two steps that it swaps, or the first and last of a misplaced segment.
    pub step: SlipSteps,
    /// What it puts there.
    pub with: Option<String>,
    /// The rule that it breaks.
    pub rule: String,
}

/// The step or steps that a slip is about.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum SlipSteps {
    /// One step.
    One(u32),
    /// The two that are swapped, or first and last of a segment.
    Two([u32; 2]),
}

/// What a reader should know.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Warning {
    /// A stable code.
    pub code: String,
    /// What is so.
    pub text: String,
}
