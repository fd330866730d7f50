//! Where the planner is known to be dearer than a search, by name, habit and both costs.
//!
//! A case that is listed fails when it gets worse, when it is mended, and when the search comes to another
//! end; a case that is not listed fails when it is dearer at all.

use crate::price::Cost;

/// One comparison.
#[derive(Clone, Debug)]
pub struct Row {
    pub name: String,
    pub habit: &'static str,
    pub ours: Cost,
    pub least: Cost,
    /// How many items are compared.
    pub items: usize,
    /// For the message: a cheaper order.
    pub order: String,
}

/// Name, habit, ours and the least.
pub type Known = (&'static str, &'static str, Cost, Cost);

/// What speaks against some comparisons.
pub fn objections(rows: &[Row], known: &[Known]) -> Vec<String> {
    let mut all = Vec::new();
    for row in rows {
        let listed = known.iter().find(|known| (known.0, known.1) == (row.name.as_str(), row.habit));
        let costs = || format!("{}, {}: {:?} planned, {:?} found", row.name, row.habit, row.ours, row.least);
        match listed {
            Some((.., ours, least)) if (*ours, *least) == (row.ours, row.least) => {}
            Some(_) => all.push(format!("not as listed: {}", costs())),
            None if row.ours < row.least => all.push(format!("the search missed it: {}", costs())),
            None if row.ours[..row.items] != row.least[..row.items] => {
                all.push(format!("dearer: {}; cheaper is: {}", costs(), row.order));
            }
            None => {}
        }
    }
    let seen = |known: &&Known| rows.iter().any(|row| (known.0, known.1) == (row.name.as_str(), row.habit));
    all.extend(known.iter().filter(|known| !seen(known)).map(|known| format!("listed and not compared: {known:?}")));
    all
}
