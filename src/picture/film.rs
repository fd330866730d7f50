//! Situations one after the other -> what each element of the picture says, and what of it a step changes.

use std::collections::BTreeMap;

use crate::model::table::UnitSet;

use super::cast::Cast;
use super::said::said;
use super::values::{CABLE, LEG, STACK, Step, UNIT, yes};
use super::words::Now;
use super::{Text, Values};

/// The key of the whole.
const WHOLE: &str = "stack";
/// What the last step changed, as a sentence.
const SAID: &str = "said";

/// Who an element is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Who {
    /// A row of the picture.
    Unit(usize),
    /// A leg by its position.
    Leg(usize),
    /// A cable by its position.
    Cable(usize),
    /// All together.
    Stack,
}

/// One element and what it says now.
pub struct Element {
    /// Who it is.
    pub who: Who,
    key: String,
    names: &'static [&'static str],
    values: Vec<Text>,
    /// The most letters that each value ever had.
    widest: Vec<usize>,
}

impl Element {
    fn new(who: Who, values: Vec<Text>) -> Self {
        let (key, names): (String, &'static [&'static str]) = match who {
            Who::Unit(row) => (format!("u{row}"), &UNIT),
            Who::Leg(at) => (format!("l{at}"), &LEG),
            Who::Cable(at) => (format!("c{at}"), &CABLE),
            Who::Stack => (WHOLE.to_owned(), &STACK),
        };
        let widest = values.iter().map(|value| value.chars().count()).collect();
        Self { who, key, names, values, widest }
    }

    fn position(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|known| *known == name)
    }

    /// What it says under a name.
    #[must_use]
    pub fn says(&self, name: &str) -> &str {
        self.position(name).and_then(|at| self.values.get(at)).map_or("", |value| value)
    }

    /// The most letters that it ever says under a name.
    #[must_use]
    pub fn letters(&self, name: &str) -> usize {
        self.position(name).and_then(|at| self.widest.get(at)).copied().unwrap_or(0)
    }

    /// Says something else from now on; gives what it said, if that is new.
    fn set(&mut self, element: usize, name: &'static str, value: Text) -> Option<Change> {
        let position = self.position(name)?;
        let (old, widest) = (self.values.get_mut(position)?, self.widest.get_mut(position)?);
        if *old == value {
            return None;
        }
        *widest = (*widest).max(value.chars().count());
        Some(Change { element, name, was: std::mem::replace(old, value) })
    }

    fn whole(&self) -> BTreeMap<Text, Text> {
        self.names.iter().map(|name| Text::Borrowed(*name)).zip(self.values.iter().cloned()).collect()
    }
}

/// What one element said before, where it says something else now.
pub struct Change {
    /// The element's position.
    pub element: usize,
    /// The value's name.
    pub name: &'static str,
    /// What it was.
    pub was: Text,
}

/// The picture from step to step.
pub struct Film<'a> {
    cast: &'a Cast<'a>,
    elements: Vec<Element>,
}

impl<'a> Film<'a> {
    /// Before the first step.
    #[must_use]
    pub fn open(cast: &'a Cast<'a>, now: &Now<'_>) -> Self {
        let units = (0..cast.rows.len()).map(Who::Unit);
        let all = units.chain((0..cast.legs.len()).map(Who::Leg)).chain((0..cast.cables.len()).map(Who::Cable));
        let step = Step::new(cast, now, UnitSet::EMPTY, UnitSet::EMPTY);
        Self { cast, elements: all.chain([Who::Stack]).map(|who| Element::new(who, step.values(who))).collect() }
    }

    /// The elements with the room that they need.
    #[must_use]
    pub fn elements(&self) -> &[Element] {
        &self.elements
    }

    /// All that is said now.
    #[must_use]
    pub fn whole(&self) -> Values {
        self.elements.iter().map(|element| (Text::Owned(element.key.clone()), element.whole())).collect()
    }

    /// Goes one step on and gives what differs. `now` is none where the step changed no state.
    pub fn step(&mut self, now: Option<&Now<'_>>, here: UnitSet, restarts: UnitSet) -> Values {
        let mut changes = Vec::new();
        let step = now.map(|now| Step::new(self.cast, now, here, restarts));
        let last = self.elements.len().saturating_sub(1);
        for (at, element) in self.elements.iter_mut().enumerate() {
            match (&step, element.who) {
                (Some(step), who) => {
                    let values = step.values(who);
                    // what the step changed is said when all else is known
                    let named = element.names.iter().zip(values).filter(|(name, _)| **name != SAID);
                    named.for_each(|(name, value)| changes.extend(element.set(at, name, value)));
                }
                (None, Who::Unit(row)) => {
                    let unit = self.cast.rows.get(row);
                    let of = |units: UnitSet| yes(unit.is_some_and(|unit| units.contains(*unit)));
                    changes.extend(element.set(at, "here", of(here)));
                    changes.extend(element.set(at, "restarts", of(restarts)));
                }
                (None, Who::Leg(_) | Who::Cable(_) | Who::Stack) => {}
            }
        }
        let said = Text::Owned(said(self.cast, &self.elements, &changes));
        changes.extend(self.elements.last_mut().and_then(|stack| stack.set(last, SAID, said)));
        self.differing(&changes)
    }

    fn differing(&self, changes: &[Change]) -> Values {
        let mut set = Values::new();
        for change in changes {
            let Some(element) = self.elements.get(change.element) else { continue };
            let now = element.position(change.name).and_then(|at| element.values.get(at)).cloned().unwrap_or_default();
            set.entry(Text::Owned(element.key.clone())).or_default().insert(Text::Borrowed(change.name), now);
        }
        set
    }
}
