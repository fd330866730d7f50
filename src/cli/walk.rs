//! A walk -> pages in a terminal, turned by keys; or plain text.

use std::io;

use clap::Args;
use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::mistake::Mistake;
use super::terminal::{Input, Screen};
use super::{Exit, fault, terminal};
use crate::model::acts::Act;
use crate::rehearse::Trail;
use crate::scene::{self, Line, Size, Tone, Walk};

/// The columns of text that goes to no terminal.
const COLUMNS: usize = 80;
/// The fewest columns that anything is drawn in.
const LEAST_COLUMNS: u16 = 40;
/// The keys, for the foot of the page.
const HELP: [(&str, &str); 6] =
    [("n", "on"), ("b", "back"), ("number + Enter", "to a step"), ("f", "first"), ("l", "last"), ("q", "quit")];

/// How to walk through a plan.
#[derive(Args)]
pub(super) struct How {
    /// Print the whole walk as plain text, in a terminal too.
    #[arg(long)]
    plain: bool,
    /// Print this one step; 0 is the stack before the first one.
    #[arg(long, value_name = "N", group = "part")]
    step: Option<usize>,
    /// Print whether one may stop after this step, what a power failure would leave then, and the way back.
    #[arg(long, value_name = "N", group = "part")]
    stop_after: Option<usize>,
    /// Draw the finished stack in this fault, or in several at once: `unit ramp-2`, or another name that
    /// `ringwright faults` gives.
    #[arg(long, value_name = "NAME", group = "part")]
    fault: Vec<String>,
    #[command(flatten)]
    mistake: Mistake,
    /// Draw in so many columns instead of the terminal's, or of 80.
    #[arg(long, value_name = "COLUMNS", value_parser = clap::value_parser!(u16).range(i64::from(LEAST_COLUMNS)..))]
    width: Option<u16>,
}

impl How {
    /// Whether anything of a walk was asked for.
    pub(super) fn asked(&self) -> bool {
        self.plain || self.step.is_some() || self.stop_after.is_some() || !self.fault.is_empty() || self.mistake.asked()
    }

    /// Shows a walk; an exit status if it is another than that of the findings.
    pub(super) fn show(&self, walk: &Walk<'_>, acts: &[Act<'_>], trail: &Trail) -> Option<Exit> {
        let columns = self.width.map(usize::from).or_else(terminal::columns).unwrap_or(COLUMNS);
        let columns = columns.max(usize::from(LEAST_COLUMNS));
        if !self.fault.is_empty() {
            return self.struck(walk, trail, columns);
        }
        if self.mistake.asked() {
            return match trail.script(acts).map(|script| self.mistake.told(walk, &script, columns)) {
                Some(Ok(lines)) => {
                    terminal::print(&scene::text(&lines, !self.plain && terminal::paints()));
                    None
                }
                Some(Err(text)) => {
                    terminal::error(&format!("{text}\n"));
                    Some(Exit::Unusable)
                }
                // the judge went through the same steps
                None => Some(Exit::Fault),
            };
        }
        let lowest = usize::from(self.stop_after.is_some());
        if let Some(number) = self.step.or(self.stop_after).filter(|number| !(lowest..=walk.last()).contains(number)) {
            terminal::error(&format!("there is no step {number}: the plan has {lowest} to {}\n", walk.last()));
            return Some(Exit::Unusable);
        }
        let lines = match (self.step, self.stop_after) {
            (Some(number), _) => scene::one(walk, number, columns),
            (None, Some(number)) => scene::stop_after(walk, number, columns),
            (None, None) if !self.plain && terminal::is_interactive() => return self.turn(walk),
            (None, None) => scene::all(walk, columns),
        };
        terminal::print(&scene::text(&lines, !self.plain && terminal::paints()));
        None
    }

    /// The finished stack with faults in it.
    fn struck(&self, walk: &Walk<'_>, trail: &Trail, columns: usize) -> Option<Exit> {
        match fault::struck(&self.fault, trail) {
            Ok((situation, said)) => {
                let lines = scene::struck(walk, &situation, &said, columns);
                terminal::print(&scene::text(&lines, !self.plain && terminal::paints()));
                None
            }
            Err(text) => {
                terminal::error(&format!("{text}\n"));
                Some(Exit::Unusable)
            }
        }
    }

    fn turn(&self, walk: &Walk<'_>) -> Option<Exit> {
        match Screen::take().and_then(|screen| pages(walk, &screen, self.width.map(usize::from))) {
            Ok(()) => None,
            // a terminal that has gone away ends the walk
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe || error.kind() == io::ErrorKind::UnexpectedEof => {
                None
            }
            Err(error) => {
                terminal::error(&format!("the terminal cannot be used: {error}; --plain prints the walk\n"));
                Some(Exit::Unusable)
            }
        }
    }
}

/// Where a person stands in a walk, and the number that is being typed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Reader {
    number: usize,
    typed: String,
}

/// What a key asks for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Turn {
    Page,
    Quit,
}

fn pages(walk: &Walk<'_>, screen: &Screen, width: Option<usize>) -> io::Result<()> {
    let mut reader = Reader::default();
    loop {
        let (columns, rows) = screen.size();
        let columns = width.unwrap_or(columns).min(columns);
        screen.show(&scene::text(&drawn(walk, &reader, columns, rows), terminal::paints()))?;
        match screen.next()? {
            Input::Key(key) if reader.press(key, walk.last()) == Turn::Page => {}
            Input::Resized => {}
            Input::Key(_) | Input::Ended => return Ok(()),
        }
    }
}

/// A page that fits the screen, with the keys at its foot.
fn drawn(walk: &Walk<'_>, reader: &Reader, columns: usize, rows: usize) -> Vec<Line> {
    let room = rows.saturating_sub(2).max(1);
    let mut lines = scene::page(walk, reader.number, Size { columns, rows: Some(room) });
    if lines.len() > room {
        lines.truncate(room.saturating_sub(1));
        lines.push(Line::of(Tone::Quiet, "… more than this terminal has lines for …"));
    }
    lines.resize(room, Line::new());
    let mut lines: Vec<Line> = lines.into_iter().map(|line| line.cut(columns)).collect();
    if rows > 1 {
        lines.push(Line::new());
    }
    lines.push(foot(&reader.typed).cut(columns));
    lines
}

fn foot(typed: &str) -> Line {
    if !typed.is_empty() {
        return Line::of(Tone::Strong, &format!("to step {typed}"))
            .with(Tone::Plain, "   Enter goes there, Esc does not");
    }
    HELP.iter().fold(Line::of(Tone::Quiet, "Keys: "), |line, (key, what)| {
        line.with(Tone::Strong, key).with(Tone::Plain, &format!(" {what}   "))
    })
}

impl Reader {
    /// What a key does; `last` is the number of the last step.
    fn press(&mut self, key: KeyEvent, last: usize) -> Turn {
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            return if matches!(key.code, KeyCode::Char('c' | 'd')) { Turn::Quit } else { Turn::Page };
        }
        let typed = std::mem::take(&mut self.typed);
        match key.code {
            KeyCode::Char(digit) if digit.is_ascii_digit() => {
                self.typed = typed;
                // more digits than any plan has steps would only be lost
                if self.typed.len() < 5 {
                    self.typed.push(digit);
                }
            }
            KeyCode::Backspace => self.typed = typed.split_at(typed.len().saturating_sub(1)).0.to_owned(),
            KeyCode::Enter if !typed.is_empty() => self.number = typed.parse().unwrap_or(last).min(last),
            KeyCode::Esc if !typed.is_empty() => {}
            KeyCode::Char('n' | ' ') | KeyCode::Enter | KeyCode::Right | KeyCode::Down | KeyCode::PageDown => {
                self.number = (self.number + 1).min(last);
            }
            KeyCode::Char('b') | KeyCode::Left | KeyCode::Up | KeyCode::PageUp => {
                self.number = self.number.saturating_sub(1);
            }
            KeyCode::Char('f') | KeyCode::Home => self.number = 0,
            KeyCode::Char('l') | KeyCode::End => self.number = last,
            KeyCode::Char('q') | KeyCode::Esc => return Turn::Quit,
            _ => {}
        }
        Turn::Page
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(keys: &[KeyCode]) -> Reader {
        let mut reader = Reader::default();
        for key in keys {
            assert_eq!(reader.press(KeyEvent::new(*key, KeyModifiers::NONE), 24), Turn::Page);
        }
        reader
    }

    #[test]
    fn keys_lead_through_the_steps_and_no_further() {
        use KeyCode::{Backspace, Char, Enter, Esc, Left, Right};
        assert_eq!(at(&[Char('n'), Right, Char(' '), Char('b')]).number, 2);
        assert_eq!(at(&[Left]).number, 0);
        assert_eq!(at(&[Char('l'), Char('n')]).number, 24);
        assert_eq!(at(&[Char('1'), Char('2'), Enter]).number, 12);
        assert_eq!(at(&[Char('9'), Char('9'), Enter]).number, 24);
        assert_eq!(at(&[Char('1'), Char('2'), Backspace, Enter]).number, 1);
        assert_eq!(at(&[Char('1'), Char('2'), Esc]), Reader::default());
        assert_eq!(at(&[Char('7'), Char('n')]), Reader { number: 1, typed: String::new() });
        assert_eq!(at(&[Char('x')]), Reader::default());
    }

    #[test]
    fn three_keys_quit() {
        for key in [
            KeyEvent::new(KeyCode::Char('q'), KeyModifiers::NONE),
            KeyEvent::new(KeyCode::Esc, KeyModifiers::NONE),
            KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL),
        ] {
            assert_eq!(Reader::default().press(key, 24), Turn::Quit);
        }
    }
}
