//! What a step changed in the picture -> one short sentence, for whoever cannot see it.

use super::cast::{Cable, Cast, Leg};
use super::film::{Change, Element, Who};
use super::words::{AFTER_RESTART, UNSAVED, counted};

/// The most clauses of a sentence.
const MOST: usize = 4;

/// The sentence; empty where nothing changed.
#[must_use]
pub fn said(cast: &Cast<'_>, elements: &[Element], changes: &[Change]) -> String {
    let news = News { cast, elements, changes };
    let mut clauses: Vec<(String, Vec<String>)> = Vec::new();
    for (at, element) in elements.iter().enumerate() {
        let Some((subject, text)) = news.clause(at, element) else { continue };
        match clauses.iter_mut().find(|(known, _)| *known == text) {
            Some((_, subjects)) => subjects.push(subject),
            None => clauses.push((text, vec![subject])),
        }
    }
    if clauses.is_empty() {
        // what no element shows, such as who carries the split guard
        clauses.extend(news.of_stack(&["uplinks", "text"]).map(|text| (text, Vec::new())));
    }
    let more = clauses.len().saturating_sub(MOST);
    let told = clauses.into_iter().take(MOST).map(|(text, subjects)| match subjects.join(", ") {
        nobody if nobody.is_empty() => text,
        subjects => format!("{subjects}: {text}"),
    });
    let told = told.collect::<Vec<_>>().join("; ");
    match (told.is_empty(), more) {
        (true, _) => told,
        (false, 0) => format!("{told}."),
        (false, more) => format!("{told}; and {}.", counted(more, "other change")),
    }
}

/// What a step changed.
struct News<'a> {
    cast: &'a Cast<'a>,
    elements: &'a [Element],
    changes: &'a [Change],
}

impl News<'_> {
    fn changed(&self, element: usize, name: &str) -> Option<&Change> {
        self.changes.iter().find(|change| change.element == element && change.name == name)
    }

    /// Whether the unit of a row came up, went down or restarted: its ports go with it.
    fn turned(&self, row: usize) -> bool {
        let restarts = self.elements.get(row).is_some_and(|unit| unit.says("restarts") == "yes");
        restarts || self.changed(row, "power").is_some()
    }

    /// Who says something new, and what.
    fn clause(&self, at: usize, element: &Element) -> Option<(String, String)> {
        match element.who {
            Who::Unit(row) => {
                let unit = *self.cast.rows.get(row)?;
                let text = self.of_unit(at, element);
                (!text.is_empty()).then(|| (self.cast.setting.units[unit].key.clone(), text))
            }
            Who::Leg(leg) => self.of_leg(at, element, self.cast.legs.get(leg)?),
            Who::Cable(cable) => self.of_cable(at, element, self.cast.cables.get(cable)?),
            Who::Stack => self.of_stack(&["protection"]).map(|text| (String::new(), text)),
        }
    }

    fn of_unit(&self, at: usize, unit: &Element) -> String {
        let mut said: Vec<&str> = Vec::new();
        if unit.says("restarts") == "yes" {
            said.push("restarts");
        }
        if self.changed(at, "power").is_some() && unit.says("power") == "on" {
            said.push("switched on");
        }
        if self.changed(at, "role").is_some() {
            said.push(unit.says("role"));
        }
        if self.changed(at, "numbers").is_some() {
            said.push(unit.says("numbers"));
        }
        if let Some(change) = self.changed(at, "marks") {
            let (was, is) = (change.was.split("; "), unit.says("marks").split("; "));
            said.extend(is.clone().filter(|mark| !was.clone().any(|old| old == *mark)));
            // an id that counts already is saved like all else
            let gone = |like: fn(&str) -> bool| was.clone().any(like) && !is.clone().any(like);
            let had = gone(|mark| mark == UNSAVED) || gone(|mark| mark.ends_with(AFTER_RESTART));
            let here = unit.says("power") == "on" && self.changed(at, "power").is_none();
            if had && here && unit.says("restarts") == "no" {
                said.push("saved");
            }
        }
        said.retain(|text| !text.is_empty());
        said.join(", ")
    }

    fn of_leg(&self, at: usize, element: &Element, leg: &Leg) -> Option<(String, String)> {
        let setting = self.cast.setting;
        let text = match (self.changed(at, "text"), element.says("text")) {
            (Some(_), "") => "no leg any more",
            (Some(_), said) => said.split_once(": ").map_or(said, |(_, how)| how),
            (None, _) if self.changed(at, "enabled").is_none() || self.turned(leg.row) => return None,
            (None, _) if element.says("enabled") == "yes" => "in use",
            (None, _) => "out of use",
        };
        let (pair, end) = (&setting.uplinks[leg.uplink].name, setting.end_name(leg.port));
        Some((format!("{pair} at {end}"), text.to_owned()))
    }

    fn of_cable(&self, at: usize, element: &Element, cable: &Cable) -> Option<(String, String)> {
        let [upper, lower] = [cable.upper, cable.lower].map(|port| self.cast.setting.end_name(port));
        if self.changed(at, "word").is_some() {
            return Some((format!("{upper} to {lower}"), element.says("word").to_owned()));
        }
        let told = |name: &str, row: usize| self.changed(at, name).is_some() && !self.turned(row);
        let (name, end) = match (told("upper", cable.rows.0), told("lower", cable.rows.1)) {
            (true, _) => ("upper", upper),
            (false, true) => ("lower", lower),
            (false, false) => return None,
        };
        let words = element.says(name);
        let port = words.find([' ', ',']).unwrap_or(words.len());
        Some((end, words.split_at(port).1.trim_start_matches([' ', ',']).to_owned()))
    }

    fn of_stack(&self, names: &[&str]) -> Option<String> {
        let at = self.elements.iter().position(|element| element.who == Who::Stack)?;
        let name = names.iter().find(|name| self.changed(at, name).is_some())?;
        self.elements.get(at).map(|stack| stack.says(name).to_owned())
    }
}
