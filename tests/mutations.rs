//! Intents with bytes changed at random: whatever stands in a file, it is judged and nothing falls over.

use ringwright::diag::Findings;
use ringwright::source::Sources;
use ringwright::{intent, lower, platform, report};

const PARTS: [&str; 24] = [
    ":", "-", "[", "]", "{", "}", "'", "\"", "\n", "  ", "\t", "#", "&a ", "*a", "!t ", "|", ">", "é", "\u{2028}",
    "? ", "0x1f", "ramp-1", "null", "\r",
];

/// A small generator of numbers, so that every run tries the same.
struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).map_or(0, |value| value % limit)
    }
}

fn mutated(text: &str, random: &mut Random) -> String {
    let mut characters: Vec<char> = text.chars().collect();
    for _ in 0..=random.below(4) {
        let at = random.below(characters.len());
        let until = (at + random.below(12)).min(characters.len());
        let part = PARTS.get(random.below(PARTS.len())).copied().unwrap_or("");
        match random.below(3) {
            0 => drop(characters.splice(at..until, part.chars())),
            1 => drop(characters.splice(at..at, part.chars())),
            _ => drop(characters.drain(at..until)),
        }
    }
    characters.into_iter().collect()
}

#[test]
fn nothing_falls_over_and_every_refusal_is_said() {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/cases/check/valid.everything/intent.yaml");
    let text = std::fs::read_to_string(root).unwrap_or_default();
    let mut random = Random(7);
    let (mut accepted, mut refused) = (0, 0);
    for round in 0..4000 {
        let changed = mutated(&text, &mut random);
        let (mut sources, mut findings) = (Sources::default(), Findings::default());
        let file = sources.add("intent.yaml", changed.clone());
        let mark = findings.mark();
        let Ok(draft) = intent::draft(&sources, file, &mut findings) else {
            assert!(!findings.all().is_empty(), "round {round}: refused without a word\n{changed}");
            let drawn = report::text(&findings, &sources, report::Colour::Off);
            assert!(drawn.contains("intent.yaml"), "round {round}: no place\n{drawn}");
            refused += 1;
            continue;
        };
        let place = draft.look().stack.span;
        if let Ok(platform) = platform::builtin("neutral", place, &mut sources, &mut findings) {
            let _ = lower::lower(draft.look(), None, &platform, &mut findings);
            let drawn = report::text(&findings, &sources, report::Colour::Off);
            assert_eq!(drawn.is_empty(), findings.all().is_empty(), "round {round}");
            assert!(report::json(&findings, &sources).starts_with('{'), "round {round}");
            match draft.accept(&findings, mark) {
                Ok(intent) => {
                    assert!(lower::lower(&intent, None, &platform, &mut findings).is_ok(), "round {round}\n{changed}");
                    accepted += 1;
                }
                Err(_) => refused += 1,
            }
        }
    }
    assert!(accepted > 100 && refused > 100, "{accepted} accepted, {refused} refused");
}
