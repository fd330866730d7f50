//! A picture and all that it ever says -> what lies on something else, or outside.

use std::collections::BTreeMap;

use ringwright::picture::Picture;

/// The longest text that each element ever says, by key and name.
pub type Longest = BTreeMap<(String, String), String>;

/// A letter's width, as the picture promises room for it, and the same of a unit's name.
const LETTER: i64 = 7;
const NAME_LETTER: i64 = 9;
/// Above and below the line on which letters stand.
const ABOVE: i64 = 10;
const BELOW: i64 = 3;
/// A mark on a line.
const DOT: i64 = 6;

#[derive(Clone, Debug)]
struct Area {
    left: i64,
    top: i64,
    right: i64,
    bottom: i64,
    what: String,
}

impl Area {
    fn meets(&self, other: &Self) -> bool {
        self.left < other.right && other.left < self.right && self.top < other.bottom && other.top < self.bottom
    }
}

/// A straight part of a line: level or upright.
#[derive(Clone, Debug)]
struct Part {
    from: (i64, i64),
    to: (i64, i64),
    of: usize,
}

impl Part {
    fn area(&self) -> Area {
        let ((a, b), (c, d)) = (self.from, self.to);
        let what = format!("line {}", self.of);
        Area { left: a.min(c), top: b.min(d), right: a.max(c) + 1, bottom: b.max(d) + 1, what }
    }
}

fn number(text: &str) -> i64 {
    text.parse().unwrap_or_else(|_| panic!("`{text}` is no plain number"))
}

/// Everything that is wrong with where things stand.
pub fn faults(picture: &Picture, longest: &Longest) -> Vec<String> {
    let (texts, boxes) = (texts(picture, longest), boxes(picture));
    let parts: Vec<Part> = picture.cables.iter().enumerate().flat_map(|(at, cable)| parts(at, &cable.path)).collect();
    let dots: Vec<Area> = picture
        .cables
        .iter()
        .map(|cable| {
            let (x, y) = (number(&cable.dot_x), number(&cable.dot_y));
            let what = format!("the mark of {}", cable.cable);
            Area { left: x - DOT, top: y - DOT, right: x + DOT, bottom: y + DOT, what }
        })
        .collect();
    let lanes: Vec<&Area> =
        dots.iter().zip(&picture.cables).filter(|(_, cable)| cable.lane).map(|(dot, _)| dot).collect();
    let mut found = Vec::new();
    let (width, height) = (number(&picture.width), number(&picture.height));
    let lines: Vec<Area> = parts.iter().map(Part::area).collect();
    for area in texts.iter().chain(&boxes).chain(&dots).chain(&lines) {
        if area.left < 0 || area.top < 0 || area.right > width || area.bottom > height {
            found.push(format!("{} is outside of {width} x {height}: {area:?}", area.what));
        }
    }
    found.extend(meeting(&texts.iter().collect::<Vec<_>>()));
    found.extend(meeting(&boxes.iter().collect::<Vec<_>>()));
    found.extend(meeting(&lanes));
    for (line, part) in lines.iter().zip(&parts) {
        let on = texts.iter().chain(boxes.iter().filter(|one| inside(part, one)));
        found.extend(on.filter(|one| one.meets(line)).map(|one| format!("{} lies on {}", line.what, one.what)));
        let other = lanes.iter().filter(|dot| !picture.cables[part.of].path.is_empty() && dot.meets(line));
        let own = format!("the mark of {}", picture.cables[part.of].cable);
        found.extend(other.filter(|dot| dot.what != own).map(|dot| format!("{} lies on {}", line.what, dot.what)));
    }
    found.extend(on_each_other(&parts));
    found
}

/// A line may end at the edge of a box.
fn inside(part: &Part, area: &Area) -> bool {
    let middle = ((part.from.0 + part.to.0) / 2, (part.from.1 + part.to.1) / 2);
    let (x, y) = middle;
    area.left < x && x < area.right && area.top < y && y < area.bottom
}

fn meeting(areas: &[&Area]) -> Vec<String> {
    let mut found = Vec::new();
    for (at, one) in areas.iter().enumerate() {
        let others = areas[at + 1..].iter().filter(|other| one.meets(other));
        found.extend(others.map(|other| format!("{} lies on {}", one.what, other.what)));
    }
    found
}

/// Two lines may cross, and never run in one.
fn on_each_other(parts: &[Part]) -> Vec<String> {
    let mut found = Vec::new();
    for (at, one) in parts.iter().enumerate() {
        for other in parts[at + 1..].iter().filter(|other| other.of != one.of) {
            let upright = |part: &Part| part.from.0 == part.to.0;
            let level = |part: &Part| part.from.1 == part.to.1;
            let both = upright(one) && upright(other) || level(one) && level(other);
            if both && one.area().meets(&other.area()) {
                found.push(format!("lines {} and {} run in one", one.of, other.of));
            }
        }
    }
    found
}

fn boxes(picture: &Picture) -> Vec<Area> {
    let area = |unit: &ringwright::picture::UnitBox| {
        let (left, top) = (number(&unit.x), number(&unit.y));
        let (right, bottom) = (left + number(&unit.width), top + number(&unit.height));
        Area { left, top, right, bottom, what: format!("the box of {}", unit.unit) }
    };
    picture.units.iter().map(area).collect()
}

fn texts(picture: &Picture, longest: &Longest) -> Vec<Area> {
    let said = |key: &str, name: &str| longest.get(&(key.to_owned(), name.to_owned())).cloned().unwrap_or_default();
    let mut found = Vec::new();
    let mut add = |x: &str, y: &str, text: String, ends: bool, letter: i64| {
        let wide = letter * text.chars().count() as i64;
        let (x, y) = (number(x), number(y));
        let left = if ends { x - wide } else { x };
        if wide > 0 {
            found.push(Area { left, top: y - ABOVE, right: left + wide, bottom: y + BELOW, what: format!("`{text}`") });
        }
    };
    for unit in &picture.units {
        let at = &unit.texts;
        add(&at.name_x, &at.name_y, unit.unit.clone(), false, NAME_LETTER);
        add(&at.role_x, &at.role_y, said(&unit.key, "role"), true, LETTER);
        add(&at.numbers_x, &at.numbers_y, said(&unit.key, "numbers"), false, LETTER);
        add(&at.marks_x, &at.marks_y, said(&unit.key, "marks"), false, LETTER);
        for leg in &unit.legs {
            add(&leg.text_x, &leg.text_y, said(&leg.key, "text"), true, LETTER);
        }
    }
    for cable in &picture.cables {
        let port = |unit: &String, words: String| format!("{unit} {words}").trim_start().to_owned();
        add(&cable.text_x, &cable.upper_y, port(&cable.upper_unit, said(&cable.key, "upper")), false, LETTER);
        add(&cable.text_x, &cable.link_y, said(&cable.key, "word"), false, LETTER);
        add(&cable.text_x, &cable.lower_y, port(&cable.lower_unit, said(&cable.key, "lower")), false, LETTER);
    }
    found
}

/// The straight parts of a path: `M x y`, then `H x` and `V y`.
fn parts(of: usize, path: &str) -> Vec<Part> {
    let mut words = path.split(' ');
    assert_eq!(words.next(), Some("M"), "{path}");
    let mut next = || words.next().map(str::to_owned);
    let mut at = (number(&next().unwrap()), number(&next().unwrap()));
    let mut parts = Vec::new();
    while let Some(word) = next() {
        let value = number(&next().unwrap());
        let to = if word == "H" { (value, at.1) } else { (at.0, value) };
        parts.push(Part { from: at, to, of });
        at = to;
    }
    parts
}
