//! Wider habits: behaviours in which platforms differ beyond what every dialect says. Each has a default, which is left
//! out when it is written, so that a plan on a platform without the habit does not speak of it.
//!
//! Decided here, where the model's text leaves it open:
//!
//! - **Elections.** The list for boots elects where nobody leads, chooses the standby, and says who takes the lead when it
//!   boots; the list for merges compares primaries that meet. `size` counts the units of the island that each led before;
//!   it decides nothing elsewhere. `acting` sets one that leads before one that does not.
//! - **`joining.preempts`.** Whoever boots into a led island and beats its primary by the list for boots takes the lead, and
//!   nobody restarts for it.
//! - **`joining.loser: absorbed`.** The primaries that lost stop leading, and that is all.
//! - **`activate.restarts`.** Units on which a binding came into force go down together and boot with what is saved. A
//!   binding that nobody saved is lost by it.
//! - **`priority.takes_effect: next-election`.** What was typed counts in the next election, a merge included; until then
//!   the standby is chosen by the priorities that counted in the last one. A boot is an election for the unit that boots.
//! - **`standby: sticky`.** Who has the seat keeps it as long as it can take over, and takes over where it is: it leads the
//!   piece that is left without a primary, without an election. The list for boots fills an empty seat. A cold start has
//!   no seats.
//! - **`handover`.** The new primary is a member of the stack; the former one stays a member, after a restart where the
//!   platform has it so.
//! - **`admission`.** A cable between a unit that is admitted and one that is not is an unmatched link; two that are not make
//!   a link of their own. Who is in the stack cannot be forgotten. The first unit of a new stack may admit itself at its own
//!   console. An unsaved list is lost like any common setting.
//! - **`join_keys`.** A value that a unit does not list is unknown and differs from nothing. No save is needed for one. Where
//!   a difference is `refused`, the cable between the two is an unmatched link; where it `updates`, the member takes the
//!   primary's value and boots once more by itself; where it `joins`, only the rule `same-keys` keeps it out.
//! - **`stack_mode`.** A unit in lone mode binds nothing, puts nothing into force, and no cable of it is a link. The mode is
//!   set for the next boot, on a unit that is alone.
//! - **`binding.takes_effect: fixed`.** The state says on which side each stacking port is; a wipe leaves it there. A port
//!   that carries an uplink or something else, before the change or after it, is none of them, whatever its model says.
//! - **`port_groups`.** A group is what the catalogue says. Where it changes after a restart, a binding in a group that has
//!   none in force yet counts from the unit's next boot, whatever the platform does otherwise.
//! - **`stack_mac`, `console_after_join`.** They change no state: what they mean is said where people read.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::traits::Criterion;

/// Whether a value is the default, and need not be written.
pub(in crate::model) fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// The traits that are left out where they have their default, by their paths, and that default.
pub const DEFAULTS: [(&str, &str); 12] = [
    ("priority.takes_effect", "at-once"),
    ("joining.preempts", "false"),
    ("activate.scope", "stack"),
    ("activate.restarts", "false"),
    ("standby", "best"),
    ("handover", "none"),
    ("admission", "open"),
    ("join_keys", "none"),
    ("stack_mode", "always"),
    ("port_groups.takes_effect", "at-once"),
    ("stack_mac", "stays"),
    ("console_after_join", "own"),
];

/// What elections compare: one list for both kinds, or one for each.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(from = "WrittenElection", into = "WrittenElection")]
#[schemars(with = "WrittenElection")]
pub struct Election {
    /// Where nobody leads, and for the standby.
    pub boot: Vec<Criterion>,
    /// Where primaries meet.
    pub merge: Vec<Criterion>,
}

#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
enum WrittenElection {
    /// One list for both.
    Both(Vec<Criterion>),
    /// A list for each.
    Two(TwoLists),
}

/// A list for each kind of election.
#[derive(Clone, Debug, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct TwoLists {
    /// Where nobody leads, and for the standby.
    boot: Vec<Criterion>,
    /// Where primaries meet.
    merge: Vec<Criterion>,
}

impl From<WrittenElection> for Election {
    fn from(written: WrittenElection) -> Self {
        match written {
            WrittenElection::Both(list) => Self::both(list),
            WrittenElection::Two(TwoLists { boot, merge }) => Self { boot, merge },
        }
    }
}

impl From<Election> for WrittenElection {
    fn from(Election { boot, merge }: Election) -> Self {
        if boot == merge { Self::Both(boot) } else { Self::Two(TwoLists { boot, merge }) }
    }
}

impl Election {
    /// One list for both.
    #[must_use]
    pub fn both(list: Vec<Criterion>) -> Self {
        Self { merge: list.clone(), boot: list }
    }

    /// Whether any election compares a thing.
    #[must_use]
    pub fn compares(&self, criterion: Criterion) -> bool {
        self.boot.contains(&criterion) || self.merge.contains(&criterion)
    }

    /// Whether a thing can decide an election: nothing that differs between any two units is compared before it.
    #[must_use]
    pub fn decides_by(&self, criterion: Criterion) -> bool {
        let unlike =
            |one: &Criterion| matches!(one, Criterion::LowestId | Criterion::LowestMac | Criterion::HighestMac);
        let before = |list: &[Criterion]| list.iter().take_while(|one| **one != criterion).any(unlike);
        [&self.boot, &self.merge].into_iter().any(|list| list.contains(&criterion) && !before(list))
    }
}

/// When a new priority counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PriorityEffect {
    /// As soon as it is typed, for the choice of the standby too.
    #[default]
    AtOnce,
    /// In the next election, merge or boot.
    NextElection,
}

/// What one activation covers, and what it does to the units.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Activation {
    /// One unit or its whole island.
    pub scope: ActivationScope,
    /// Whether a unit restarts when a binding on it comes into force so.
    pub restarts: bool,
}

/// What one activation covers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ActivationScope {
    /// Every unit of its island.
    #[default]
    Stack,
    /// The unit on which it is typed.
    Unit,
}

/// When the standby is chosen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StandbySeat {
    /// It is always the best of the others.
    #[default]
    Best,
    /// It keeps the seat; the best of the others takes an empty one.
    Sticky,
}

/// Whether the lead can be handed over by a command.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Handover {
    /// It cannot.
    #[default]
    None,
    /// It can, and the former primary restarts.
    OldRestarts,
    /// It can, and nobody restarts.
    KeepsRunning,
}

/// Whether the stack's own address follows its primary.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StackMac {
    /// It stays: a box that is taken out must not come back on that network.
    #[default]
    Stays,
    /// It moves: under a new primary every uplink pair goes down for a moment.
    Moves,
}

/// Where steps on a unit that has joined can be typed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ConsoleAfterJoin {
    /// At any console of the stack.
    #[default]
    Own,
    /// At the primary's console, to which every other leads.
    Primary,
    /// At the primary's console; every other is silent.
    Mute,
}

/// Whether the stack must be told of a newcomer first, and of a leaver last.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Admission {
    /// Whoever is linked joins.
    #[default]
    Open,
    /// By its member id.
    Id,
    /// By its serial.
    Serial,
}

/// Something that must be equal on all members.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JoinKey {
    /// What it is called: firmware, licence level, profile.
    #[schemars(regex(pattern = r"^[a-z][a-z0-9-]{0,30}$"))]
    pub name: String,
    /// When a new value counts.
    pub takes_effect: KeyEffect,
    /// What happens to a unit that differs.
    pub differs: Differs,
}

/// When a new value counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum KeyEffect {
    /// As soon as it is typed.
    AtOnce,
    /// When the unit next boots.
    AfterRestart,
}

/// What happens to a unit that differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Differs {
    /// It is kept out.
    Refused,
    /// It takes the primary's value and restarts once more by itself.
    Updates,
    /// It joins all the same.
    Joins,
}

/// Whether a unit out of its box must be put into stack mode.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StackMode {
    /// It always is.
    #[default]
    Always,
    /// It is switched, and restarted.
    Switched,
}

/// When a group of ports changes to stacking.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PortGroups {
    /// With the binding, or at the unit's next boot.
    pub takes_effect: GroupEffect,
}

/// When a group of ports changes to stacking.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum GroupEffect {
    /// With the binding.
    #[default]
    AtOnce,
    /// At the unit's next boot.
    AfterRestart,
}

/// Whether a unit stacks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Mode {
    /// It does.
    #[default]
    Stack,
    /// It stands alone.
    Lone,
}

#[cfg(test)]
mod tests {
    use super::{Criterion, Election};

    #[test]
    fn what_no_two_units_share_decides_before_all_that_stands_behind_it() {
        let election = Election::both(vec![Criterion::Uptime, Criterion::LowestId, Criterion::Priority]);
        assert!(election.decides_by(Criterion::Uptime) && election.decides_by(Criterion::LowestId));
        assert!(election.compares(Criterion::Priority) && !election.decides_by(Criterion::Priority));
        let apart = Election { boot: vec![Criterion::LowestMac], merge: vec![Criterion::Priority] };
        assert!(apart.decides_by(Criterion::Priority) && !apart.decides_by(Criterion::Uptime));
    }
}
