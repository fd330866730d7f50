//! What a picture shows, and the room that its texts take -> where everything stands.
//!
//! Boxes stand under each other. Between two of them is a block of three lines of words for each cable that runs
//! straight down; the cables in lanes, at the left of the boxes, have theirs at the foot.

use super::cast::{Cable, Cast};
use super::film::{Element, Who};
use super::lanes::{Span, count, ends, lanes, letter};
use super::{CableLine, LegLine, TextPlaces, UnitBox};

/// The least width of a box.
const BOX: usize = 312;
/// What is left free at the edges of the picture.
const EDGE: usize = 8;
/// What is left free inside a box at either side, and between two texts on one line.
const PAD: usize = 12;
/// A line of text in a box.
const LINE: usize = 16;
/// From the top of a line in a box to where its letters stand.
const BASE: usize = 12;
/// A line of text about a cable.
const CABLE_LINE: usize = 14;
/// From its top to where its letters stand.
const CABLE_BASE: usize = 11;
/// Three lines of text.
const BLOCK: usize = 3 * CABLE_LINE;
/// From one cable to the next beside it.
const CABLE_STEP: usize = 10;
/// From one lane to the next.
const LANE: usize = 14;
/// The least room for lanes.
const LANES: usize = 40;
/// Between two boxes that no straight cable joins.
const BARE_GAP: usize = 24;
/// The width of a letter of 12 px, and of one of a name; wide ones are made up for by narrow ones.
const LETTER: usize = 7;
const NAME_LETTER: usize = 9;

/// Where everything stands.
pub struct Drawn {
    /// The width of the whole.
    pub width: usize,
    /// Its height.
    pub height: usize,
    /// The boxes.
    pub units: Vec<UnitBox>,
    /// The lines.
    pub cables: Vec<CableLine>,
}

/// Draws it.
#[must_use]
pub fn draw(cast: &Cast<'_>, elements: &[Element]) -> Drawn {
    Plan::new(cast, elements).drawn()
}

/// A row of the picture: its box.
#[derive(Clone, Copy, Default)]
struct Row {
    top: usize,
    height: usize,
    /// The line of the marks, counted from the top.
    marks: usize,
}

impl Row {
    const fn bottom(self) -> usize {
        self.top + self.height
    }

    /// Where the letters of a line stand.
    const fn line(self, line: usize) -> usize {
        self.top + PAD - 4 + line * LINE + BASE
    }
}

/// Everything that is needed to say where an element stands.
struct Plan<'a> {
    cast: &'a Cast<'a>,
    elements: &'a [Element],
    /// The left edge of the boxes, and their width.
    x: usize,
    width: usize,
    rows: Vec<Row>,
    /// The cables in lanes, by their positions, with the rows that they join, and their lanes.
    beside: Vec<usize>,
    spans: Vec<Span>,
    lanes: Vec<usize>,
}

impl<'a> Plan<'a> {
    fn new(cast: &'a Cast<'a>, elements: &'a [Element]) -> Self {
        let all = cast.cables.iter().enumerate();
        let (beside, spans): (Vec<usize>, Vec<Span>) = all
            .filter(|(_, cable)| cable.lane)
            .map(|(at, cable)| (at, Span { top: cable.rows.0, bottom: cable.rows.1 }))
            .unzip();
        let lanes = lanes(&spans);
        let x = LANES.max(count(&lanes) * LANE + PAD);
        let mut plan = Self { cast, elements, x, width: 0, rows: Vec::new(), beside, spans, lanes };
        plan.width = plan.box_width();
        plan.rows = plan.placed();
        plan
    }

    fn letters(&self, who: Who, name: &str) -> usize {
        self.elements.iter().find(|element| element.who == who).map_or(0, |element| element.letters(name))
    }

    fn name(&self, row: usize) -> usize {
        let unit = self.cast.rows.get(row);
        unit.map_or(0, |unit| self.cast.setting.units[*unit].key.chars().count())
    }

    /// The legs of a row, by their positions.
    fn legs(&self, row: usize) -> impl Iterator<Item = usize> + '_ {
        self.cast.legs.iter().enumerate().filter(move |(_, leg)| leg.row == row).map(|(at, _)| at)
    }

    /// The straight cables under a row, by their positions.
    fn below(&self, row: usize) -> impl Iterator<Item = usize> + '_ {
        let straight = move |cable: &Cable| !cable.lane && cable.rows.0 == row;
        self.cast.cables.iter().enumerate().filter(move |(_, cable)| straight(cable)).map(|(at, _)| at)
    }

    /// Wide enough for every text that ever stands in a box, between two, or at the foot.
    fn box_width(&self) -> usize {
        let mut width = BOX;
        for row in 0..self.cast.rows.len() {
            let unit = |name| self.letters(Who::Unit(row), name) * LETTER;
            let legs: Vec<usize> = self.legs(row).map(|leg| self.letters(Who::Leg(leg), "text") * LETTER).collect();
            let first = legs.first().copied().unwrap_or(0);
            let lines =
                [self.name(row) * NAME_LETTER + PAD + unit("role"), unit("numbers") + PAD + first, unit("marks")];
            width = lines.iter().chain(&legs).fold(width, |width, line| width.max(line + 2 * PAD));
            let count = self.below(row).count();
            let words = self.below(row).map(|cable| self.words(cable));
            width = width.max(words.max().unwrap_or(0) + Self::words_from(count) + PAD);
        }
        let at_foot = self.beside.iter().filter_map(|at| Some((*at, self.cast.cables.get(*at)?)));
        let foot = at_foot.map(|(at, cable)| {
            let name = self.name(cable.rows.0).max(self.name(cable.rows.1));
            self.words(at) + (name + 1) * LETTER
        });
        width.max((foot.max().unwrap_or(0) + self.foot_x() + PAD).saturating_sub(self.x))
    }

    /// The widest of a cable's three lines of words.
    fn words(&self, cable: usize) -> usize {
        let letters = ["upper", "word", "lower"].map(|name| self.letters(Who::Cable(cable), name));
        letters.into_iter().max().unwrap_or(0) * LETTER
    }

    /// Where the words beside so many straight cables begin, from the left edge of a box.
    const fn words_from(cables: usize) -> usize {
        2 * PAD + cables.saturating_sub(1) * CABLE_STEP + PAD
    }

    /// Where the words at the foot begin; the letter of the lane stands before them.
    const fn foot_x(&self) -> usize {
        EDGE + 3 * CABLE_STEP
    }

    fn placed(&self) -> Vec<Row> {
        let mut top = EDGE;
        let mut rows = Vec::new();
        for at in 0..self.cast.rows.len() {
            let legs: Vec<usize> = self.legs(at).map(|leg| self.letters(Who::Leg(leg), "text") * LETTER).collect();
            let marks = self.letters(Who::Unit(at), "marks") * LETTER;
            // beside the second leg if there is room, else under the last one
            let beside = legs.get(1).is_none_or(|leg| marks == 0 || marks + leg + 3 * PAD <= self.width);
            let marks = if beside { 2 } else { legs.len() + 1 };
            let lines = (marks + 1).max(legs.len() + 1);
            let row = Row { top, height: lines * LINE + 2 * (PAD - 4), marks };
            top = row.bottom() + Self::gap(self.below(at).count());
            rows.push(row);
        }
        rows
    }

    /// The room between two boxes.
    const fn gap(cables: usize) -> usize {
        if cables == 0 { BARE_GAP } else { cables * BLOCK + CABLE_LINE }
    }

    fn row(&self, row: usize) -> Row {
        self.rows.get(row).copied().unwrap_or_default()
    }

    fn drawn(&self) -> Drawn {
        let units = (0..self.cast.rows.len()).filter_map(|row| self.unit(row)).collect();
        let cables = self.cast.cables.iter().enumerate().map(|(at, cable)| self.cable(at, cable)).collect();
        let end = self.rows.last().map_or(EDGE, |row| row.bottom() + EDGE);
        let height = if self.beside.is_empty() { end } else { self.foot(self.beside.len()) };
        Drawn { width: self.x + self.width + EDGE, height, units, cables }
    }

    /// Where the block of words of a lane's cable begins at the foot.
    fn foot(&self, number: usize) -> usize {
        self.rows.last().map_or(EDGE, |row| row.bottom()) + CABLE_LINE + number * (BLOCK + EDGE)
    }

    fn unit(&self, at: usize) -> Option<UnitBox> {
        let (row, setting) = (self.row(at), self.cast.setting);
        let unit = *self.cast.rows.get(at)?;
        let (left, right) = ((self.x + PAD).to_string(), (self.x + self.width - PAD).to_string());
        let legs = self.legs(at).enumerate().filter_map(|(line, position)| {
            let leg = self.cast.legs.get(position)?;
            Some(LegLine {
                key: format!("l{position}"),
                leg: setting.end_name(leg.port),
                uplink: setting.uplinks[leg.uplink].name.clone(),
                text_x: right.clone(),
                text_y: row.line(line + 1).to_string(),
            })
        });
        Some(UnitBox {
            key: format!("u{at}"),
            unit: setting.units[unit].key.clone(),
            x: self.x.to_string(),
            y: row.top.to_string(),
            width: self.width.to_string(),
            height: row.height.to_string(),
            texts: TextPlaces {
                name_x: left.clone(),
                name_y: row.line(0).to_string(),
                role_x: right.clone(),
                role_y: row.line(0).to_string(),
                numbers_x: left.clone(),
                numbers_y: row.line(1).to_string(),
                marks_x: left,
                marks_y: row.line(row.marks).to_string(),
            },
            legs: legs.collect(),
        })
    }

    fn cable(&self, at: usize, cable: &Cable) -> CableLine {
        let setting = self.cast.setting;
        let place = match self.beside.iter().position(|beside| *beside == at) {
            Some(number) => self.in_lane(number),
            None => self.straight(at, cable),
        };
        let unit = |port| if cable.lane { setting.units[setting.unit_of(port)].key.clone() } else { String::new() };
        let line = |number: usize| (place.words_y + number * CABLE_LINE + CABLE_BASE).to_string();
        CableLine {
            key: format!("c{at}"),
            cable: format!("{} {}", setting.end_name(cable.upper), setting.end_name(cable.lower)),
            path: place.path,
            lane: cable.lane,
            letter: place.letter,
            dot_x: place.dot.0.to_string(),
            dot_y: place.dot.1.to_string(),
            text_x: place.words_x.to_string(),
            upper_y: line(0),
            link_y: line(1),
            lower_y: line(2),
            upper_unit: unit(cable.upper),
            lower_unit: unit(cable.lower),
        }
    }

    /// Straight down; the mark stands beside the cable's own words.
    fn straight(&self, at: usize, cable: &Cable) -> Place {
        let (upper, lower) = (self.row(cable.rows.0), self.row(cable.rows.1));
        let number = self.below(cable.rows.0).position(|one| one == at).unwrap_or(0);
        let x = self.x + 2 * PAD + number * CABLE_STEP;
        let words_y = upper.bottom() + CABLE_LINE / 2 + number * BLOCK;
        Place {
            path: format!("M {x} {} V {}", upper.bottom(), lower.top),
            letter: String::new(),
            dot: (x, words_y + BLOCK / 2),
            words_x: self.x + Self::words_from(self.below(cable.rows.0).count()),
            words_y,
        }
    }

    /// Out to the lane, down, and back to the box; the mark stands between two boxes, where no line comes in.
    fn in_lane(&self, number: usize) -> Place {
        let span = self.spans.get(number).copied().unwrap_or(Span { top: 0, bottom: 0 });
        let lane = self.lanes.get(number).copied().unwrap_or(0);
        let x = self.x - (lane + 1) * LANE;
        let (from, to) = (self.end(number, span.top, true), self.end(number, span.bottom, false));
        let middle = self.row((span.top + span.bottom - 1) / 2);
        let next = self.row((span.top + span.bottom - 1) / 2 + 1);
        Place {
            path: format!("M {} {from} H {x} V {to} H {}", self.x, self.x),
            letter: letter(number),
            dot: (x, (middle.bottom() + next.top) / 2),
            words_x: self.foot_x(),
            words_y: self.foot(number),
        }
    }

    /// Where a lane's cable meets the box of a row.
    fn end(&self, number: usize, row: usize, down: bool) -> usize {
        let all = ends(&self.spans, &self.lanes, row);
        let at = all.iter().position(|end| *end == (number, down)).unwrap_or(0);
        let row = self.row(row);
        row.top + row.height * (at + 1) / (all.len() + 1)
    }
}

/// Where one cable stands.
struct Place {
    path: String,
    letter: String,
    dot: (usize, usize),
    words_x: usize,
    words_y: usize,
}
