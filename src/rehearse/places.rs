//! Where each step of a plan is done, as the plan writes it.

use crate::model::document::Place;
use crate::model::facts::Spot;
use crate::model::setting::Setting;

/// The site at which hands work; a plan knows one.
pub const SITE: &str = "site";

/// A spot as the plan writes it.
#[must_use]
pub fn place(setting: &Setting, spot: Spot) -> Place {
    match spot {
        Spot::Hands => Place::Hands(SITE.to_owned()),
        Spot::Stack => Place::Stack(setting.stack.clone()),
        Spot::Console(unit) => Place::Console(setting.units[unit].key.clone()),
    }
}
