//! The minutes of a plan and the times that its intent gives -> when to turn back, and when hands are needed.
//!
//! The plan is taken to run from the window's start, its staging done before. Times of day are said in the offset that
//! the intent writes. Deliberately absent: any clock; the only times are those of the intent and of the plan.

use jiff::civil::DateTimeRound;
use jiff::fmt::temporal::Pieces;
use jiff::tz::Offset;
use jiff::{RoundMode, SignedDuration, Timestamp, Unit};

use crate::model::Minutes;
use crate::model::document::{Phase, Place, PlanDocument, StepEntry};

/// A plan's minutes past the staging, against the times of its intent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Times {
    /// Minutes of all that is done in the window, as it usually goes.
    pub likely: Minutes,
    /// The same at worst.
    pub worst: Minutes,
    /// Until when the window is open; none without a window.
    pub window_end: Option<String>,
    /// When to turn back.
    pub turn_back: TurnBack,
    /// From when people are at the rack; none where the intent does not say.
    pub hands_start: Option<String>,
    /// Until when people are at the rack; none where the intent does not say.
    pub hands_end: Option<String>,
    /// The work by hands; none where there is none, or where the intent lacks one of the two times.
    pub hands: Option<HandsWork>,
}

/// The last step up to which the way back fits before the window's end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TurnBack {
    /// There is no window, or no step of the plan has a way back.
    Unknown,
    /// Already the first way back ends after the window.
    TooLate,
    /// The way back from this step, and from each before it, fits.
    By {
        /// The step.
        step: u32,
        /// When its way back must begin.
        time: String,
        /// How long its way back usually takes.
        minutes: Minutes,
    },
}

/// The work by hands past the staging.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HandsWork {
    /// Its first step.
    pub first_step: u32,
    /// Its last step.
    pub last_step: u32,
    /// When it begins, as is likely: what comes before it, and not its own minutes, is on the way to it.
    pub from: String,
    /// When it ends, as is likely.
    pub until: String,
    /// When it ends at worst.
    pub at_worst: String,
    /// Whether people come before it begins.
    pub begun: bool,
    /// Whether they stay until it ends, as is likely.
    pub likely_done: bool,
    /// Whether they stay until it ends at worst.
    pub worst_done: bool,
}

impl HandsWork {
    /// Whether people are there for all of it, at worst too.
    #[must_use]
    pub fn covered(&self) -> bool {
        self.begun && self.likely_done && self.worst_done
    }
}

/// Sets the plan's minutes against the window and the time of hands, each a start (RFC 3339) and minutes.
#[must_use]
pub fn times(plan: &PlanDocument, window: Option<&(String, u32)>, hands: Option<&(String, u32)>) -> Times {
    let past = past_staging(plan);
    let (likely, worst) = past.last().map_or_else(Default::default, |(_, likely, worst)| (*likely, *worst));
    let (window, hands) = (window.and_then(Span::read), hands.and_then(Span::read));
    Times {
        likely,
        worst,
        window_end: window.as_ref().map(|window| window.clock(window.end, true)),
        turn_back: window.as_ref().map_or(TurnBack::Unknown, |window| turn_back(&past, window)),
        hands_start: hands.as_ref().map(|hands| hands.clock(hands.start, false)),
        hands_end: hands.as_ref().map(|hands| hands.clock(hands.end, true)),
        hands: window.zip(hands).and_then(|(window, hands)| hands_work(&past, &window, &hands)),
    }
}

/// The steps past the staging, each with the likely and the worst minutes to its end.
fn past_staging(plan: &PlanDocument) -> Vec<(&StepEntry, Minutes, Minutes)> {
    let (mut likely, mut worst) = (Minutes::ZERO, Minutes::ZERO);
    let past = plan.steps.iter().filter(|step| step.phase != Phase::Stage);
    past.map(|step| {
        let (usual, most) = of(step);
        likely += usual;
        worst += most;
        (step, likely, worst)
    })
    .collect()
}

/// Likely and worst minutes of a step.
fn of(step: &StepEntry) -> (Minutes, Minutes) {
    let likely = step.minutes.and_then(|minutes| minutes.likely).unwrap_or_default();
    (likely, step.minutes.and_then(|minutes| minutes.worst).unwrap_or(likely))
}

/// The way there is counted at worst, the way back as it usually goes.
fn turn_back(past: &[(&StepEntry, Minutes, Minutes)], window: &Span) -> TurnBack {
    let back = |step: &StepEntry| step.stop_here.as_ref().and_then(|stop| stop.way_back_minutes);
    let ways = past.iter().filter_map(|(step, _, worst)| Some((step.number, *worst, back(step)?)));
    let mut turn = TurnBack::Unknown;
    for (step, worst, minutes) in ways {
        // once it does not fit, a later step with a shorter way back is no comfort: on the way there it does not
        let begins = window.end.checked_sub(span(minutes)).ok();
        match begins.zip(window.after(worst)).filter(|(begins, there)| there <= begins) {
            Some((begins, _)) => turn = TurnBack::By { step, time: window.clock(begins, false), minutes },
            None if turn == TurnBack::Unknown => return TurnBack::TooLate,
            None => return turn,
        }
    }
    turn
}

fn hands_work(past: &[(&StepEntry, Minutes, Minutes)], window: &Span, hands: &Span) -> Option<HandsWork> {
    let mut work = past.iter().filter(|(step, ..)| matches!(step.at, Some(Place::Hands(_))));
    let (first, to_its_end, _) = work.next()?;
    let (last, likely, worst) = work.next_back().unwrap_or(past.iter().find(|(step, ..)| step.number == first.number)?);
    let done = Minutes::hundredths(to_its_end.as_hundredths() - of(first).0.as_hundredths());
    let (from, until, at_worst) = (window.after(done)?, window.after(*likely)?, window.after(*worst)?);
    Some(HandsWork {
        first_step: first.number,
        last_step: last.number,
        from: hands.clock(from, false),
        until: hands.clock(until, true),
        at_worst: hands.clock(at_worst, true),
        begun: hands.start <= from,
        likely_done: until <= hands.end,
        worst_done: at_worst <= hands.end,
    })
}

/// A span of time of the intent.
struct Span {
    start: Timestamp,
    end: Timestamp,
    /// The offset, for times of day.
    offset: Offset,
    /// The offset as the intent writes it.
    zone: String,
}

impl Span {
    /// None only for a moment at the far end of the calendar.
    fn read((start, minutes): &(String, u32)) -> Option<Self> {
        let offset = Pieces::parse(start).ok()?.to_numeric_offset()?;
        let zone = start.rfind(['Z', '+', '-']).and_then(|at| start.get(at..))?.to_owned();
        let start: Timestamp = start.parse().ok()?;
        let end = start.checked_add(SignedDuration::from_mins(i64::from(*minutes))).ok()?;
        Some(Self { start, end, offset, zone })
    }

    fn after(&self, minutes: Minutes) -> Option<Timestamp> {
        self.start.checked_add(span(minutes)).ok()
    }

    /// The time of day to the minute; with its date where that is not the date of the start.
    fn clock(&self, at: Timestamp, up: bool) -> String {
        let mode = if up { RoundMode::Ceil } else { RoundMode::Floor };
        let exact = self.offset.to_datetime(at);
        let said = exact.round(DateTimeRound::new().smallest(Unit::Minute).mode(mode)).unwrap_or(exact);
        let same_day = said.date() == self.offset.to_datetime(self.start).date();
        let day = if same_day { String::new() } else { format!("{} ", said.date()) };
        format!("{day}{:02}:{:02}{}", said.hour(), said.minute(), self.zone)
    }
}

fn span(minutes: Minutes) -> SignedDuration {
    SignedDuration::from_millis(minutes.as_hundredths() * 600)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(start: &str, minutes: i64, up: bool) -> String {
        let span = Span::read(&(start.to_owned(), 60)).unwrap();
        span.clock(span.after(Minutes::hundredths(minutes)).unwrap(), up)
    }

    #[test]
    fn times_are_said_in_the_offset_of_the_intent() {
        assert_eq!(clock("2026-12-05T01:00:00Z", 5550, false), "01:55Z");
        assert_eq!(clock("2026-12-05T01:00:00Z", 5550, true), "01:56Z");
        assert_eq!(clock("2026-12-05T01:00:30.5+02:00", 100, false), "01:01+02:00");
        assert_eq!(clock("2026-12-31T23:30:00-03:30", 3000, true), "2027-01-01 00:00-03:30");
        assert_eq!(clock("2028-02-28T23:30:00-00:00", 4000, false), "2028-02-29 00:10-00:00");
    }

    /// Steps of 10 minutes, 20 at worst, each with the minutes of its way back.
    fn turned(ways_back: &[Option<u32>], window: u32) -> TurnBack {
        let step = |(at, way): (usize, &Option<u32>)| -> StepEntry {
            let stop = serde_json::json!({"safe": true, "way_back_minutes": way});
            let stop = if way.is_some() { stop } else { serde_json::Value::Null };
            let entry = serde_json::json!({
                "number": at + 1, "phase": "join", "at": {"hands": "site"}, "do": {"kind": "power-on", "unit": "a"},
                "minutes": {"likely": 10, "worst": 20}, "stop_here": stop,
            });
            serde_json::from_value(entry).unwrap()
        };
        let steps: Vec<StepEntry> = ways_back.iter().enumerate().map(step).collect();
        let counted = steps.iter().zip(1..).map(|(step, count)| {
            (step, Minutes::hundredths(1000).times(count), Minutes::hundredths(2000).times(count))
        });
        turn_back(&counted.collect::<Vec<_>>(), &Span::read(&("2026-12-05T01:00:00Z".to_owned(), window)).unwrap())
    }

    #[test]
    fn one_turns_back_while_every_way_back_still_fits() {
        let by = |step, time: &str, minutes: i64| TurnBack::By {
            step,
            time: time.to_owned(),
            minutes: Minutes::hundredths(minutes * 100),
        };
        assert_eq!(turned(&[Some(10), Some(20), Some(30)], 90), by(3, "02:00Z", 30));
        assert_eq!(turned(&[Some(10), Some(20), Some(30)], 89), by(2, "02:09Z", 20));
        // a short way back behind a long one is no comfort
        assert_eq!(turned(&[Some(10), Some(60), Some(5)], 90), by(1, "02:20Z", 10));
        assert_eq!(turned(&[None, Some(20), None], 60), by(2, "01:40Z", 20));
        assert_eq!(turned(&[Some(10), Some(0)], 29), TurnBack::TooLate);
        assert_eq!(turned(&[None, None], 60), TurnBack::Unknown);
    }

    #[test]
    fn a_moment_past_the_calendar_is_no_time() {
        assert!(Span::read(&("9999-12-31T23:59:59Z".to_owned(), 60)).is_none());
    }
}
