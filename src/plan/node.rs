//! One situation of the search, and its place in the queue.

use std::cmp::Ordering;

use crate::model::derive::Islands;
use crate::model::operation::Operation;
use crate::model::progress::Situation;
use crate::model::rules::Breaches;
use crate::model::table::{UnitId, UnitSet};

use super::bound::Cost;
use super::candidates::Run;

/// What led to a node.
#[derive(Clone, Debug)]
pub enum Taken {
    /// Nothing: the start.
    Start,
    /// A newcomer was staged in one of its ways.
    Staged(UnitId, Vec<Operation>),
    /// A run of operations.
    Run(Run),
}

/// One situation of the search.
#[derive(Clone, Debug)]
pub struct Node {
    /// The state and what is remembered with it.
    pub situation: Situation,
    /// The islands of the state.
    pub islands: Islands,
    /// No broken link would cut live units off.
    pub protected: bool,
    /// Newcomers that are made ready.
    pub staged: UnitSet,
    /// Breaches that the baseline has and that have lasted until here.
    pub excused: Breaches,
    /// What the way here costs.
    pub cost: Cost,
    /// Links of the work that have been up, by their position.
    pub seen: u128,
    /// Changes of place on the way here.
    pub turns: u32,
    /// Operations on the way here.
    pub depth: u32,
    /// The unit just worked on.
    pub last: Option<UnitId>,
    /// The last operation was done by hands.
    pub hands: bool,
    /// The node before.
    pub parent: usize,
    /// What led here.
    pub taken: Taken,
}

/// An entry of the queue: the cheapest sum first, then the deepest, then the newest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The items of the sum that are compared before depth.
    pub first: Cost,
    /// Cost and what is left at least.
    pub sum: Cost,
    /// Operations on the way here.
    pub depth: u32,
    /// Changes of place on the way here.
    pub turns: u32,
    /// The node.
    pub node: usize,
}

impl Ord for Entry {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_depth = other.first.cmp(&self.first).then(self.depth.cmp(&other.depth));
        let cheaper = by_depth.then(other.sum.cmp(&self.sum));
        cheaper.then(other.turns.cmp(&self.turns)).then(self.node.cmp(&other.node))
    }
}

impl PartialOrd for Entry {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
