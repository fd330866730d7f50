//! The traits of a platform: every way in which one platform's stacking differs from another's.
//!
//! Read from a dialect's manifest and from a plan's file alike. No other code knows a platform.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::habits::is_default;
pub use super::habits::{
    Activation, ActivationScope, Admission, ConsoleAfterJoin, Differs, Election, GroupEffect, Handover, JoinKey,
    KeyEffect, Mode, PortGroups, PriorityEffect, StackMac, StackMode, StandbySeat,
};
use super::names::{MemberId, Minutes, Priority};

/// All traits of a platform. Defaults are those of the neutral dialect where the text names one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Traits {
    /// Member ids: legal range, out of the box, when a new one counts.
    pub member_id: MemberIdTrait,
    /// Priorities: legal range, out of the box, which wins.
    pub priority: PriorityTrait,
    /// What an election compares, in this order.
    pub election: Election,
    /// What outlives a restart without a save.
    pub stored: Stored,
    /// The two sides of a unit.
    pub sides: Sides,
    /// Whether ports are in use out of the box.
    pub factory_ports: FactoryPorts,
    /// How a port is bound to a side.
    pub binding: Binding,
    /// What the losing side of a merge does.
    pub joining: Joining,
    /// What one save covers.
    pub save: Save,
    /// What one activation covers, and whether units restart for it.
    #[serde(default, skip_serializing_if = "is_default")]
    pub activate: Activation,
    /// When the standby is chosen.
    #[serde(default, skip_serializing_if = "is_default")]
    pub standby: StandbySeat,
    /// Whether the lead can be handed over by a command.
    #[serde(default, skip_serializing_if = "is_default")]
    pub handover: Handover,
    /// Whether the stack must be told of a newcomer first.
    #[serde(default, skip_serializing_if = "is_default")]
    pub admission: Admission,
    /// What must be equal on all members beside the model's own settings: firmware, licence level and the like.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub join_keys: Vec<JoinKey>,
    /// Whether a unit out of its box must be put into stack mode.
    #[serde(default, skip_serializing_if = "is_default")]
    pub stack_mode: StackMode,
    /// When a group of ports changes to stacking.
    #[serde(default, skip_serializing_if = "is_default")]
    pub port_groups: PortGroups,
    /// Whether the stack's own address follows its primary.
    #[serde(default, skip_serializing_if = "is_default")]
    pub stack_mac: StackMac,
    /// Where steps on a unit that has joined can be typed.
    #[serde(default, skip_serializing_if = "is_default")]
    pub console_after_join: ConsoleAfterJoin,
    /// Where IEEE 802.1AB neighbours show.
    pub neighbours: Neighbours,
    /// The cablings that the platform supports.
    pub topologies: Vec<Topology>,
    /// The most members one stack may have.
    pub max_members: u16,
    /// Template of an interface name, from `member_id`, `port`, and `stacks`: whether the unit is in stack mode.
    pub port_name: String,
    /// Time estimates; they never decide an election.
    pub minutes: MinutesTable,
}

impl Traits {
    /// Whether a plan on this platform can hold an operation of this kind.
    #[must_use]
    pub fn knows(&self, kind: &str) -> bool {
        match kind {
            "hand-over" => self.handover != Handover::None,
            "set-mode" => self.stack_mode == StackMode::Switched,
            "set-key" => !self.join_keys.is_empty(),
            "admit" | "forget" => self.admission != Admission::Open,
            "bind-port" | "release-port" => self.binding.takes_effect != BindingEffect::Fixed,
            "activate" => self.binding.takes_effect == BindingEffect::OnActivation,
            _ => true,
        }
    }

    /// Whether a command gives the lead to another unit.
    #[must_use]
    pub fn lead_is_given(&self) -> bool {
        self.handover != Handover::None
    }

    /// Whether a plan on this platform can look at a fact of this kind.
    #[must_use]
    pub fn shows(&self, fact: &str) -> bool {
        fact != "admitted" || self.admission != Admission::Open
    }
}

/// Legal member ids and when a new one counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MemberIdTrait {
    /// Lowest and highest legal id.
    pub range: (MemberId, MemberId),
    /// The id of a unit out of its box.
    pub factory: MemberId,
    /// When a new id counts.
    pub takes_effect: IdEffect,
}

/// When a new id counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum IdEffect {
    /// As soon as it is typed.
    AtOnce,
    /// When the unit next boots.
    AfterRestart,
}

/// Legal priorities and which of two wins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PriorityTrait {
    /// Lowest and highest legal priority.
    pub range: (Priority, Priority),
    /// The priority of a unit out of its box.
    pub factory: Priority,
    /// Which value wins an election.
    pub wins: Wins,
    /// When a new one counts.
    #[serde(default, skip_serializing_if = "is_default")]
    pub takes_effect: PriorityEffect,
}

/// Which priority wins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Wins {
    /// The highest value.
    Highest,
    /// The lowest value.
    Lowest,
}

/// One thing that an election compares.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Criterion {
    /// The priority, by [`Wins`].
    Priority,
    /// The longest time since boot wins.
    Uptime,
    /// The lowest MAC address wins; an unknown one loses to a known one.
    LowestMac,
    /// The highest MAC address wins; an unknown one loses to a known one.
    HighestMac,
    /// One that leads wins.
    Acting,
    /// Whoever led the larger island wins.
    Size,
    /// The lowest member id wins.
    LowestId,
}

/// What outlives a restart without a save.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stored {
    /// A new id.
    pub id: StoredWhen,
    /// A new priority.
    pub priority: StoredWhen,
    /// A bound or released port.
    pub binding: StoredWhen,
}

/// When a setting reaches the unit's own memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StoredWhen {
    /// With the operation itself.
    AtOnce,
    /// With the next save.
    WithSave,
}

/// The two sides of a unit: `east` and `west`, as in IEEE 802.17.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sides {
    /// Which sides may face each other.
    pub facing: Facing,
    /// What the platform calls the two sides.
    pub names: SideNames,
    /// Parallel cables that one side may hold.
    pub max_cables: u16,
}

/// Which sides may face each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Facing {
    /// An east side faces a west side.
    Opposite,
    /// Any side faces any side.
    Any,
}

/// The platform's own words for the two sides.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SideNames {
    /// The word for the west side.
    pub west: String,
    /// The word for the east side.
    pub east: String,
}

/// Whether ports are in use out of the box.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FactoryPorts {
    /// In use.
    Enabled,
    /// Out of use.
    Disabled,
}

/// How a port is bound to a side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Binding {
    /// Whether a port must be disabled before it is bound or released.
    pub port_disabled: bool,
    /// When a binding counts.
    pub takes_effect: BindingEffect,
}

/// When a binding counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BindingEffect {
    /// As soon as it is typed.
    AtOnce,
    /// When the bindings of the stack are activated, or the unit boots.
    OnActivation,
    /// When the unit next boots.
    AfterRestart,
    /// Always: dedicated stacking ports, each on its side, which nobody binds or releases.
    Fixed,
}

/// What the losing side of a merge does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Joining {
    /// What the loser does.
    pub loser: Loser,
    /// Whether a better unit takes the lead when it boots.
    #[serde(default, skip_serializing_if = "is_default")]
    pub preempts: bool,
}

/// What the losing side of a merge does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Loser {
    /// It restarts by itself and joins.
    Restarts,
    /// It waits for a restart by hand.
    Waits,
    /// It joins as it is, without a restart.
    Absorbed,
}

/// What one save covers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Save {
    /// One unit or its whole island.
    pub scope: SaveScope,
}

/// What one save covers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SaveScope {
    /// The unit on which it is typed.
    Unit,
    /// Every unit of its island.
    Stack,
}

/// Where IEEE 802.1AB neighbours show.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Neighbours {
    /// The kinds of lit links on which they show.
    pub seen_on: Vec<SeenOn>,
}

/// A kind of lit link on which neighbours may show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SeenOn {
    /// Neither end bound and active.
    Stray,
    /// Lit, but neither a stack link nor stray.
    Unmatched,
    /// A working stack link.
    Stack,
}

/// How the members are cabled.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Topology {
    /// One line.
    Chain,
    /// A line whose ends are joined.
    Ring,
}

/// How long each kind of work takes, in minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MinutesTable {
    /// A unit from going down to being up.
    pub restart: Estimate,
    /// A joined unit until it could take over.
    pub sync: Estimate,
    /// One typed command.
    pub command: Estimate,
    /// Plugging or unplugging one cable.
    pub cable: Estimate,
    /// Switching a unit on or off.
    pub power: Estimate,
    /// One save.
    pub save: Estimate,
    /// One activation.
    pub activate: Estimate,
    /// One look.
    pub check: Estimate,
}

/// A three-point estimate in minutes; `best` is `likely` if left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Estimate {
    /// If all goes well.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best: Option<Minutes>,
    /// As it usually goes.
    pub likely: Minutes,
    /// If much goes wrong.
    pub worst: Minutes,
}
