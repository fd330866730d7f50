//! A correct dialect -> one that forgets, swaps, hard-codes or leaves over something, drawn by a number.

use ringwright::platform::Platform;

/// One mistake in one template.
#[derive(Clone, Debug)]
pub struct Mutant {
    pub template: String,
    pub mistake: &'static str,
    pub line: usize,
    pub before: String,
    pub after: String,
}

/// A row of numbers that looks random and is the same everywhere (a linear congruential generator with the constants
/// of Knuth's MMIX; from memory).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(1))
    }

    pub fn below(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % count.max(1)
    }
}

/// The mistakes, each with what it does to one line of a template; none where it does not fit the line.
type Mistake = (&'static str, fn(&str, &mut Dice) -> Option<String>);

const MISTAKES: [Mistake; 11] = [
    ("an argument dropped", |line, dice| replace_print(line, dice, "")),
    ("a number in an argument's place", |line, dice| replace_print(line, dice, "3")),
    ("two arguments swapped", swapped),
    ("a line lost", |line, _| (!line.trim().is_empty()).then(String::new)),
    ("a loop that stops after one", |line, _| after_in(line, "[:1]")),
    ("a loop that leaves out the first", |line, _| after_in(line, "[1:]")),
    ("a save left out", |line, _| {
        line.contains("for line in step.lines").then(|| {
            line.replace("for line in step.lines", "for line in step.lines if step.operation.kind != \"save\"")
        })
    }),
    ("no escape", |line, dice| {
        let (start, end, inside) = print(line, dice)?;
        Some(format!("{}{{{{ {inside}|safe }}}}{}", &line[..start], &line[end..]))
    }),
    ("another order", |line, _| after_in(line, "|reverse")),
    ("another console in the heading", |line, _| {
        line.contains("place.unit").then(|| line.replacen("{{ place.unit }}", "this unit", 1))
    }),
    ("a condition turned round", |line, _| {
        let (before, rest) = line.split_once("{% if ")?;
        let (condition, after) = rest.split_once(" %}")?;
        Some(format!("{before}{{% if not ({condition}) %}}{after}"))
    }),
];

/// The printed expressions of a line: where each begins and ends, and what is inside.
fn prints(line: &str) -> Vec<(usize, usize, String)> {
    let starts = line.match_indices("{{").map(|(at, _)| at);
    let found = starts.filter_map(|start| {
        let length = line[start..].find("}}")?;
        let inside = line[start + 2..start + length].trim_matches([' ', '-']).to_owned();
        Some((start, start + length + 2, inside))
    });
    found.collect()
}

fn print(line: &str, dice: &mut Dice) -> Option<(usize, usize, String)> {
    let all = prints(line);
    all.get(dice.below(all.len())).cloned()
}

fn replace_print(line: &str, dice: &mut Dice, text: &str) -> Option<String> {
    let (start, end, _) = print(line, dice)?;
    Some(format!("{}{text}{}", &line[..start], &line[end..]))
}

fn swapped(line: &str, dice: &mut Dice) -> Option<String> {
    let all = prints(line);
    let first = dice.below(all.len().saturating_sub(1));
    let (one, other) = (all.get(first)?, all.get(first + 1)?);
    (one.2 != other.2).then(|| {
        let (a, b) = (&line[one.0..one.1], &line[other.0..other.1]);
        format!("{}{b}{}{a}{}", &line[..one.0], &line[one.1..other.0], &line[other.1..])
    })
}

/// Puts something behind what a loop goes through.
fn after_in(line: &str, what: &str) -> Option<String> {
    let start = line.find("{% for ")?;
    let inside = start + line[start..].find(" in ")? + 4;
    let end = inside + line[inside..].find([' ', '%'])?;
    Some(format!("{}{what}{}", &line[..end], &line[end..]))
}

/// The mistake of this number: a template, a line of it and a kind of mistake that fits it.
pub fn mutant(platform: &Platform, seed: u64) -> Mutant {
    let mut dice = Dice::new(seed);
    // looks and life of a page are no words: tests/page.rs and tests/picture.rs hold those
    let looks = |path: &str| [".css.", ".js.", ".svg."].iter().any(|part| path.contains(part));
    let told = |(path, _): &(&String, &String)| path.ends_with(".j2") && !looks(path);
    let templates: Vec<(&String, &String)> = platform.files.iter().filter(told).collect();
    loop {
        let (mistake, change) = MISTAKES[dice.below(MISTAKES.len())];
        let (template, text) = templates[dice.below(templates.len())];
        let lines: Vec<&str> = text.lines().collect();
        let at = dice.below(lines.len());
        if let Some(after) = lines.get(at).and_then(|line| change(line, &mut dice)) {
            let before = lines[at].to_owned();
            return Mutant { template: template.clone(), mistake, line: at, before, after };
        }
    }
}

impl Mutant {
    /// The dialect with the mistake in it.
    pub fn of(&self, platform: &Platform) -> Platform {
        let mut platform = platform.clone();
        let text = platform.files[&self.template].clone();
        let mut lines: Vec<&str> = text.lines().collect();
        if self.after.is_empty() {
            lines.remove(self.line);
        } else {
            lines[self.line] = &self.after;
        }
        platform.files.insert(self.template.clone(), lines.join("\n") + "\n");
        platform
    }
}
