//! Two states of one setting -> [`Route`]: the bare operations that lead from one to the other.
//!
//! One search over the model, whatever the change is called: nothing in this folder knows a kind of
//! change. [`work`] lists what the difference of the two states needs touched, [`stage`] finds how
//! each newcomer is made ready alone, [`search`] orders everything at least cost.
//!
//! Deliberately absent: looks and waits (`watch` adds them) and any trust in the result (`rehearse`
//! replays it from the file alone).

pub mod bound;
pub mod candidates;
pub mod inert;
pub mod key;
pub mod links;
pub mod node;
pub mod price;
pub mod search;
pub mod stage;
pub mod work;

use crate::model::operation::Operation;
use crate::model::setting::Setting;
use crate::model::table::UnitId;

/// The bare operations of a change, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Route {
    /// How each newcomer is made ready, alone, before the change; the first unit of a new stack last.
    pub stages: Vec<(UnitId, Vec<Operation>)>,
    /// What changes the stack.
    pub steps: Vec<Operation>,
    /// No cheaper order was left out.
    pub proved_least: bool,
    /// How many situations the search opened.
    pub opened: usize,
}

/// Why there is no route.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoRoute {
    /// Every order of the operations that the difference needs breaks a rule.
    Impossible {
        /// The rules that the attempts which came furthest would have broken.
        rules: Vec<&'static str>,
    },
    /// The search used up its budget.
    SearchLimit {
        /// How many situations it opened.
        opened: usize,
    },
}

/// Finds the least-cost order of operations from the baseline to the target.
///
/// # Errors
/// No order keeps every rule, or the search used up its budget of situations.
pub fn route(setting: &Setting) -> Result<Route, NoRoute> {
    let work = work::work(setting);
    search::search(setting, &work)
}
