//! A situation -> the upright picture of the stack: one row a unit, the links between neighbours, a ring's closing
//! link as a line down the side. Where the room is short, units that a step leaves alone are folded.

use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::state::State;
use crate::model::table::{CableId, PortId, UnitId, UnitSet};
use crate::picture::strands::{Strand, ends, layout, missing};
use crate::picture::words::{self, Now};

use super::fold::{Block, kept};
use super::line::{Line, Tone, hung, short};

/// The most columns for a unit's name.
const MOST_NAME: usize = 26;
/// Where links stand under their unit.
const LINK_INDENT: usize = 4;

/// What is drawn.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// What the indices mean.
    pub setting: &'a Setting,
    /// The situation.
    pub now: &'a Situation,
    /// The one before, to tell what is new.
    pub before: Option<&'a Situation>,
    /// Whether it is said what was before.
    pub says_was: bool,
    /// Units that the step is about.
    pub about: UnitSet,
    /// Units that restarted in it.
    pub restarted: UnitSet,
    /// The port that it is about.
    pub port: Option<PortId>,
}

impl<'a> View<'a> {
    /// A situation that no step led to.
    #[must_use]
    pub fn of(setting: &'a Setting, now: &'a Situation) -> Self {
        Self {
            setting,
            now,
            before: None,
            says_was: true,
            about: UnitSet::EMPTY,
            restarted: UnitSet::EMPTY,
            port: None,
        }
    }
}

/// The picture in so many columns, and lines if they are short.
#[must_use]
pub fn ladder(view: &View<'_>, width: usize, height: Option<usize>) -> Vec<Line> {
    let drawn = Drawing::new(view, width);
    let (head, foot) = (drawn.head(), drawn.foot());
    let room = height.map(|height| height.saturating_sub(head.len() + foot.len()).max(3));
    let mut lines = head;
    lines.extend(drawn.strands(room));
    lines.extend(foot);
    lines
}

/// Whether a step changes anything that the picture shows.
#[must_use]
pub fn changes(view: &View<'_>) -> bool {
    let Some(before) = view.before else { return true };
    let width = 10_000;
    let bare = |now| View { port: view.port, ..View::of(view.setting, now) };
    !view.restarted.is_empty() || ladder(&bare(before), width, None) != ladder(&bare(view.now), width, None)
}

struct Drawing<'a> {
    view: &'a View<'a>,
    width: usize,
    name: usize,
    strands: Vec<Strand>,
    others: Vec<CableId>,
    ring: bool,
}

impl<'a> Drawing<'a> {
    fn new(view: &'a View<'a>, width: usize) -> Self {
        let layout = layout(view.setting, &view.now.state);
        let longest = view.setting.units.iter().map(|unit| unit.key.chars().count()).max().unwrap_or(0);
        let ring = layout.strands.iter().any(|strand| !strand.closing.is_empty());
        Self { view, width, name: longest.min(MOST_NAME), strands: layout.strands, others: layout.others, ring }
    }

    /// Who leads, how many there are, and what one broken link would do.
    fn head(&self) -> Vec<Line> {
        let now = Now::of(self.view.setting, self.view.now);
        let (tone, protection) = words::protection(&now);
        let name = &self.view.setting.stack;
        let (stack, between) = match words::stack(&now) {
            Some(said) => (format!("{name}: {said}"), "; "),
            None => (name.clone(), ": "),
        };
        let line = Line::of(Tone::Strong, &stack).with(Tone::Plain, between).with(tone, &protection);
        if line.width() <= self.width {
            return vec![line];
        }
        let mut lines = hung(&Line::new(), Tone::Strong, &stack, self.width);
        lines.extend(hung(&Line::new(), tone, &protection, self.width));
        lines
    }

    /// Cables that no strand shows, and the uplinks.
    fn foot(&self) -> Vec<Line> {
        let (setting, state) = (self.view.setting, &self.view.now.state);
        let mut lines = Vec::new();
        for cable in &self.others {
            let (tone, is) = words::link_words(setting, state, *cable);
            let first = words::cable_units(setting, *cable).first();
            if let Some((near, far)) = first.and_then(|unit| ends(setting, *cable, unit)) {
                let key = |port| &setting.units[setting.unit_of(port)].key;
                let (one, other) = (words::port(setting, state, near), words::port(setting, state, far));
                let text = format!("also {one} of {} to {other} of {}: {is}", key(near), key(far));
                lines.extend(hung(&Line::new(), tone, &text, self.width));
            }
        }
        for (tone, said) in words::uplinks(&Now::of(setting, self.view.now)) {
            lines.extend(hung(&Line::new(), tone, &said, self.width));
        }
        lines
    }

    fn strands(&self, room: Option<usize>) -> Vec<Line> {
        let mut lines = Vec::new();
        let mut blocks: Vec<Vec<Block>> = Vec::new();
        for (number, strand) in self.strands.iter().enumerate() {
            let next = self.strands.get(number + 1).and_then(|next| next.units.first()).copied();
            blocks.push(self.blocks(strand, next));
        }
        let closing: Vec<Vec<Line>> = self.strands.iter().map(|strand| self.closing(strand)).collect();
        // beside a ring, each strand may have a fold of its own
        let beside = if self.ring { self.strands.len().saturating_sub(1) } else { 0 };
        let taken = closing.iter().map(Vec::len).sum::<usize>() + beside.min(2);
        let room = room.map(|room| room.saturating_sub(taken).max(3));
        let kept = kept(&blocks.iter().flatten().collect::<Vec<_>>(), room);
        let mut kept = kept.into_iter().peekable();
        let mut folded: Vec<&Block> = Vec::new();
        for (blocks, closing) in blocks.iter().zip(closing) {
            let ring = !closing.is_empty();
            if ring {
                lines.extend(self.fold(&mut folded, ""));
            }
            let first = lines.len();
            for (position, block) in blocks.iter().enumerate() {
                let shown = kept.next().unwrap_or(true);
                if !shown {
                    folded.push(block);
                    continue;
                }
                let rail = |lines: &Vec<Line>| match (ring, lines.len() == first) {
                    (true, true) => "┌─ ",
                    (true, false) => "│  ",
                    (false, _) => "",
                };
                lines.extend(self.fold(&mut folded, rail(&lines)));
                for line in &block.row {
                    lines.push(self.railed(rail(&lines), line.clone()));
                }
                let next = kept.peek().copied().unwrap_or(true);
                // under the last unit there is only the way to the next strand
                let below = if ring && position + 1 < blocks.len() { "│  " } else { "" };
                let links = block.links.iter().filter(|_| next);
                lines.extend(links.map(|line| self.railed(below, line.clone())));
            }
            if ring {
                lines.extend(self.fold(&mut folded, "│  "));
            }
            lines.extend(closing);
        }
        lines.extend(self.fold(&mut folded, ""));
        lines
    }

    fn railed(&self, rail: &str, line: Line) -> Line {
        let room = if self.ring { 3 } else { 0 };
        Line::of(Tone::Quiet, rail).filled(room).then(line)
    }

    /// One line for units that are not drawn; they are taken out.
    fn fold(&self, folded: &mut Vec<&Block>, rail: &str) -> Option<Line> {
        let folded = std::mem::take(folded);
        if folded.is_empty() {
            return None;
        }
        let changed = folded.iter().filter(|block| block.changed).count();
        let how = if changed == 0 { "unchanged".to_owned() } else { format!("{changed} of them changed") };
        let text = format!("… {} more {}, {how} …", folded.len(), if folded.len() == 1 { "unit" } else { "units" });
        Some(self.railed(rail, Line::of(Tone::Quiet, &text)))
    }

    fn blocks(&self, strand: &Strand, next: Option<UnitId>) -> Vec<Block> {
        let mut blocks = Vec::new();
        let mut touched = false;
        for (position, unit) in strand.units.iter().copied().enumerate() {
            let (links, changed) = match (strand.between.get(position), next) {
                (Some(cables), _) => self.links(cables, unit),
                // a ring has no end at which another strand could go on
                (None, Some(next)) if strand.closing.is_empty() => self.gap(unit, next),
                (None, _) => (Vec::new(), false),
            };
            let row_changed = self.unit_changed(unit);
            let about = self.view.about.contains(unit);
            let mut row = self.unit(unit);
            row.extend(self.free_port(unit, strand.units.get(position + 1).copied().or(next)));
            blocks.push(Block { row, links, about, changed: row_changed || changed || touched });
            touched = changed;
        }
        blocks
    }

    fn unit_changed(&self, unit: UnitId) -> bool {
        let setting = self.view.setting;
        let said = |situation: &Situation| {
            let state = &situation.state;
            let numbers = (words::id(state, unit), words::priority(state, unit));
            (numbers, words::role(&Now::of(setting, situation), unit).1, words::marks(setting, situation, unit))
        };
        self.view.restarted.contains(unit) || self.view.before.is_some_and(|before| said(before) != said(self.view.now))
    }

    /// One unit: name, id, role, priority, and what else there is to say.
    fn unit(&self, unit: UnitId) -> Vec<Line> {
        let (setting, now) = (self.view.setting, self.view.now);
        let about = self.view.about.contains(unit);
        let (tone, role) = words::role(&Now::of(setting, now), unit);
        let key = short(&setting.units[unit].key, self.name);
        let numbers = match (words::id(&now.state, unit), words::priority(&now.state, unit)) {
            (Some(id), Some(priority)) => (format!("id {id:<3}"), format!("priority {priority:<4}")),
            _ => ("      ".to_owned(), "             ".to_owned()),
        };
        let name = if about { Tone::Strong } else { Tone::Plain };
        let row = Line::of(name, &format!("{key:<width$}", width = self.name + 2));
        let row = row.with(Tone::Plain, &format!("{} ", numbers.0)).with(tone, &format!("{role:<13}"));
        let row = row.with(Tone::Plain, &numbers.1);
        let mut marks = words::marks(setting, now, unit);
        let old = self.view.before.filter(|_| self.view.says_was);
        let old = old.map(|before| words::role(&Now::of(setting, before), unit).1);
        marks.extend(old.filter(|old| *old != role && words::is_in_stack(old)).map(|old| format!("was {old}")));
        if self.view.restarted.contains(unit) {
            marks.push("restarted".to_owned());
        }
        let marks = marks.join(", ");
        let row = row.with(Tone::Care, &if marks.is_empty() { String::new() } else { format!(" {marks}") });
        let here = if about { " ◀ this step" } else { "" };
        let room = self.width.saturating_sub(if self.ring { 3 } else { 0 });
        if row.width() + here.chars().count() <= room {
            return vec![row.with(Tone::Strong, here)];
        }
        vec![row.cut(room), Line::new().filled(LINK_INDENT).with(Tone::Strong, here.trim_start())]
            .into_iter()
            .filter(|line| line.width() > LINK_INDENT)
            .collect()
    }

    /// The port that the step is about, if no link shows it.
    fn free_port(&self, unit: UnitId, next: Option<UnitId>) -> Option<Line> {
        let (setting, state) = (self.view.setting, &self.view.now.state);
        let port = self.view.port.filter(|port| setting.unit_of(*port) == unit)?;
        let shown = |cable: &CableId| setting.cables[*cable].unit_ends().any(|end| end == port);
        let gaps = next.map(|next| missing(setting, state, unit, next)).unwrap_or_default();
        if state.plugged.iter().any(|cable| shown(&cable)) || gaps.iter().any(shown) {
            return None;
        }
        let text = format!("{}: no cable", words::port(setting, state, port));
        Some(Line::new().filled(LINK_INDENT + 2).with(Tone::Quiet, &text))
    }

    /// The cables from a unit to the next one, and whether the step changes one of them.
    fn links(&self, cables: &[CableId], near: UnitId) -> (Vec<Line>, bool) {
        let room = self.width.saturating_sub(if self.ring { 3 } else { 0 });
        let mut lines = Vec::new();
        let mut changed = false;
        for cable in cables {
            let (said, new) = self.link(*cable, near);
            changed |= new;
            let bar = match said.0 {
                Tone::Good => "║ ",
                Tone::Quiet => "  ",
                _ => "┊ ",
            };
            let label = Line::new().filled(LINK_INDENT).with(said.0, bar);
            lines.extend(hung(&label, said.0, &said.1, room));
        }
        (lines, changed)
    }

    /// One cable: both ports, and what it is now; what it was, if that is new.
    fn link(&self, cable: CableId, near: UnitId) -> ((Tone, String), bool) {
        let setting = self.view.setting;
        let said = |state: &State| {
            let (one, other) = ends(setting, cable, near)?;
            let (tone, is) = words::link_words(setting, state, cable);
            let ports = format!("{} to {}", words::port(setting, state, one), words::port(setting, state, other));
            Some((tone, ports, is))
        };
        let Some((tone, ports, is)) = said(&self.view.now.state) else { return ((Tone::Plain, String::new()), false) };
        let before = self.view.before.and_then(|before| said(&before.state));
        let changed = before.as_ref().is_some_and(|(_, old, was)| (old, was) != (&ports, &is));
        let was = match (self.view.before, before.filter(|(_, _, was)| *was != is)) {
            (Some(before), Some(_)) if self.view.says_was => {
                format!(" ({})", words::link_was(setting, &before.state, cable))
            }
            _ => String::new(),
        };
        ((tone, format!("{ports}: {is}{was}")), changed)
    }

    /// Where one strand ends and the next begins.
    fn gap(&self, unit: UnitId, next: UnitId) -> (Vec<Line>, bool) {
        let cables = missing(self.view.setting, &self.view.now.state, unit, next);
        let left = self.view.before.is_some_and(|before| cables.iter().any(|one| before.state.plugged.contains(*one)));
        if cables.is_empty() {
            let line = Line::new().filled(LINK_INDENT).with(Tone::Quiet, "no cable");
            return (vec![line], false);
        }
        (self.links(&cables, unit).0, left)
    }

    /// The link from the last unit back to the first, at the foot of the line down the side.
    fn closing(&self, strand: &Strand) -> Vec<Line> {
        let (Some(first), Some(last)) = (strand.units.first(), strand.units.last()) else { return Vec::new() };
        let setting = self.view.setting;
        let mut lines = Vec::new();
        for (position, cable) in strand.closing.iter().enumerate() {
            let ((tone, said), _) = self.link(*cable, *last);
            let name = |unit: UnitId| short(&setting.units[unit].key, MOST_NAME);
            let more = position + 1 < strand.closing.len();
            let label = Line::of(Tone::Quiet, if more { "├─ " } else { "└─ " });
            let text = format!("back from {} to {}, {said}", name(*last), name(*first));
            lines.extend(hung(&label, tone, &text, self.width));
        }
        lines
    }
}
