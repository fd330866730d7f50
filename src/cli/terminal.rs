//! Text -> the terminal, and keys from it. A reader that has gone away is no fault, and however the program ends,
//! the terminal is as it was.

use std::io::{self, IsTerminal, Write, stderr, stdin, stdout};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use crossterm::event::{self, Event, KeyEventKind};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode, size,
};
use crossterm::{cursor, execute, queue};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use signal_hook::consts::{SIGHUP, SIGINT, SIGQUIT, SIGTERM};

use super::{Exit, FindingsAs};
use crate::diag::Findings;
use crate::report::{self, Colour};
use crate::source::Sources;

/// Writes to standard output.
pub(super) fn print(text: &str) {
    let mut out = stdout().lock();
    let done = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    // whoever reads may have enough; anything else, a full disk say, must not pass for a whole answer
    if let Err(fault) = done
        && fault.kind() != io::ErrorKind::BrokenPipe
    {
        error(&format!("the output cannot be written: {fault}\n"));
        std::process::exit(i32::from(Exit::Unusable.status()));
    }
}

/// Writes to standard error.
pub(super) fn error(text: &str) {
    let _ = stderr().lock().write_all(text.as_bytes());
}

/// Writes findings in the form asked for: drawn on standard error, as data on standard output.
pub(super) fn findings(findings: &Findings, sources: &Sources, form: FindingsAs) {
    match form {
        FindingsAs::Text if findings.all().is_empty() => {}
        FindingsAs::Text => error(&drawn(findings, sources)),
        FindingsAs::Json => print(&report::json(findings, sources)),
        FindingsAs::Sarif => print(&report::sarif(&report::entries(findings, sources))),
    }
}

/// Findings as they are drawn on standard error.
pub(super) fn drawn(findings: &Findings, sources: &Sources) -> String {
    let colour = if may_paint(stderr().is_terminal()) { Colour::On } else { Colour::Off };
    report::text(findings, sources, colour)
}

/// The exit status that findings call for.
pub(super) fn exit(findings: &Findings, unreadable: bool) -> Exit {
    match (unreadable, findings.has_errors()) {
        (true, _) => Exit::Unusable,
        (false, true) => Exit::Refused,
        (false, false) => Exit::Fine,
    }
}

fn may_paint(terminal: bool) -> bool {
    let set = |name: &str| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    terminal && !set("NO_COLOR") && !is_dumb()
}

/// Whether what goes to standard output may be painted.
pub(super) fn paints() -> bool {
    may_paint(stdout().is_terminal())
}

fn is_dumb() -> bool {
    std::env::var_os("TERM").is_some_and(|term| term == "dumb")
}

/// Whether a person sits there who can press keys and see pages.
pub(super) fn is_interactive() -> bool {
    stdin().is_terminal() && stdout().is_terminal() && !is_dumb()
}

/// Columns of the terminal that standard output is; none if it is none, or does not say.
pub(super) fn columns() -> Option<usize> {
    let (columns, _) = stdout().is_terminal().then(|| size().ok()).flatten()?;
    (columns > 0).then_some(usize::from(columns))
}

/// Whether the terminal is ours, and must be put back.
static TAKEN: AtomicBool = AtomicBool::new(false);

/// Puts the terminal back, if it was taken.
pub(super) fn put_back() {
    if TAKEN.swap(false, Ordering::SeqCst) {
        let _ = execute!(stdout(), LeaveAlternateScreen, cursor::Show);
        let _ = disable_raw_mode();
    }
}

/// A terminal that is ours until this goes away.
pub(super) struct Screen {
    /// Set when the program is told to end.
    ended: Arc<AtomicBool>,
}

/// What a person did.
#[derive(Clone, Copy, Debug)]
pub(super) enum Input {
    /// Pressed a key.
    Key(event::KeyEvent),
    /// Changed the terminal's size.
    Resized,
    /// Ended the program from outside.
    Ended,
}

impl Screen {
    /// Takes the terminal: single keys, a page of its own.
    pub(super) fn take() -> io::Result<Self> {
        let ended = Arc::new(AtomicBool::new(false));
        for signal in [SIGTERM, SIGINT, SIGHUP, SIGQUIT] {
            signal_hook::flag::register(signal, Arc::clone(&ended))?;
        }
        end_for_good(Arc::clone(&ended));
        enable_raw_mode()?;
        TAKEN.store(true, Ordering::SeqCst);
        let screen = Self { ended };
        execute!(stdout(), EnterAlternateScreen, cursor::Hide)?;
        Ok(screen)
    }

    /// Columns and rows.
    pub(super) fn size(&self) -> (usize, usize) {
        match size() {
            Ok((columns, rows)) if columns > 0 && rows > 0 => (usize::from(columns), usize::from(rows)),
            _ => (80, 24),
        }
    }

    /// Shows a page, one line break between lines.
    pub(super) fn show(&self, page: &str) -> io::Result<()> {
        let mut out = stdout().lock();
        queue!(out, cursor::MoveTo(0, 0), Clear(ClearType::All))?;
        // in raw mode a line break only goes down
        out.write_all(page.trim_end_matches('\n').replace('\n', "\r\n").as_bytes())?;
        out.flush()
    }

    /// Waits for what a person does next.
    pub(super) fn next(&self) -> io::Result<Input> {
        loop {
            if self.ended.load(Ordering::SeqCst) {
                return Ok(Input::Ended);
            }
            if !event::poll(Duration::from_millis(200))? {
                continue;
            }
            match event::read()? {
                Event::Key(key) if key.kind != KeyEventKind::Release => return Ok(Input::Key(key)),
                Event::Resize(..) => return Ok(Input::Resized),
                _ => {}
            }
        }
    }
}

/// Ends the program a second after it was told to end or its terminal has gone, should it not have done so: reading
/// keys from a terminal that is gone may go round without an end.
fn end_for_good(ended: Arc<AtomicBool>) {
    std::thread::spawn(move || {
        while !ended.load(Ordering::SeqCst) && !has_hung_up() {
            std::thread::sleep(Duration::from_millis(200));
        }
        ended.store(true, Ordering::SeqCst);
        std::thread::sleep(Duration::from_secs(1));
        put_back();
        std::process::exit(i32::from(Exit::Fine.status()));
    });
}

/// Whether nobody holds the other end of the terminal any more.
fn has_hung_up() -> bool {
    let input = stdin();
    let mut asked = [PollFd::new(&input, PollFlags::empty())];
    let at_once = Timespec { tv_sec: 0, tv_nsec: 0 };
    poll(&mut asked, Some(&at_once)).is_ok() && asked.iter().any(|one| one.revents().contains(PollFlags::HUP))
}

impl Drop for Screen {
    fn drop(&mut self) {
        put_back();
    }
}

#[cfg(test)]
mod tests {
    use std::process::{Command, Stdio};

    use super::*;

    /// Run by the test below in a terminal of its own; alone it has none and shows nothing.
    #[test]
    #[ignore = "ends its process"]
    fn fault_while_the_terminal_is_ours() {
        super::super::catch_faults();
        let screen = Screen::take().unwrap();
        screen.show("about to fail").unwrap();
        panic!("a fault of our own");
    }

    #[test]
    fn a_fault_of_our_own_puts_the_terminal_back() {
        let here = std::env::current_exe().unwrap();
        let test = "cli::terminal::tests::fault_while_the_terminal_is_ours";
        let wanted = serde_json::json!({
            "argv": [here.to_str().unwrap(), "--exact", test, "--ignored", "--nocapture", "--test-threads=1"],
            "columns": 80, "rows": 24, "press": [{}],
        });
        let mut child = Command::new("python3")
            .args(["-B", concat!(env!("CARGO_MANIFEST_DIR"), "/tests/terminal/press.py")])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        child.stdin.take().unwrap().write_all(wanted.to_string().as_bytes()).unwrap();
        let output = child.wait_with_output().unwrap();
        let found: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(found["status"], 70, "{found:#}");
        assert!(found["left"].as_str().unwrap().contains("ringwright has a fault of its own"), "{found:#}");
        assert_eq!([&found["restored"], &found["alternate"], &found["cursor"]], [true, false, true], "{found:#}");
    }
}
