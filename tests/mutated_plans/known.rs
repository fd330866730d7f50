//! Where the two judges are known to differ: ours refuses, the second accepts. A difference that is not listed fails
//! the test, and so does one that is listed and gone.

/// One difference, with every example that shows it.
pub struct Known {
    /// What our judge refuses it for: code and part of its words, any of these.
    pub ours: &'static [(&'static str, &'static str)],
    /// A part of the mutant's title; the first entry that fits counts.
    pub title: &'static str,
    /// The rule, in the words of the model, and how each judge reads it.
    pub why: &'static str,
    /// The mutant of the plan with the fewest steps that shows it.
    pub smallest: &'static str,
    /// How many mutants of each example show it.
    pub counts: &'static [(&'static str, usize)],
}

/// Every known difference.
pub const KNOWN: [Known; 2] = [
    Known {
        ours: &[("right-place", "no look just before")],
        title: "",
        why: "right-place: every segment opens with an `expect` of a `here` fact. Ours wants the look that comes just \
before the first typed step to hold it. The second judge keeps a `here` that was found at this place while the person \
looks at another place in between, by hands or at another console, as long as nothing is done there.",
        smallest: "ferry-terminal/ring: steps 12 (expect) and 13 (expect) swapped",
        counts: &[
            ("dialects/new-house", 1),
            ("dialects/other-leg", 1),
            ("dialects/third-unit", 1),
            ("exchange/as-built", 3),
            ("exchange/one-night", 1),
            ("ferry-terminal/ring", 1),
            ("ferry-terminal/third-unit", 1),
            ("lead-before-leaving/as-built", 1),
            ("lead-before-leaving/without-the-lead", 1),
            ("lone-switch/second-switch", 1),
            ("middle-of-a-chain/third-berth", 1),
            ("older-firmware/third-unit-refused", 1),
            ("older-firmware/third-unit-updates", 1),
        ],
    },
    Known {
        ours: &[
            ("fresh-baseline", "not looked at before the live stack is touched"),
            ("fresh-baseline", "the split guard was not looked at"),
        ],
        title: "",
        why: "fresh-baseline: the first step that touches the live stack follows an `expect` of the whole baseline. For \
a new stack ours means the one unit that is live when it is first touched; the second judge asks for nothing, as the \
baseline of boxes out of their packaging holds no live unit.",
        smallest: "ferry-terminal/as-built: step 23 removed (expect)",
        counts: &[
            ("dialects/new-house", 4),
            ("exchange/as-built", 5),
            ("failed-primary/as-built", 5),
            ("ferry-terminal/as-built", 5),
            ("hand-over/as-built", 5),
            ("lead-before-leaving/as-built", 3),
            ("middle-of-a-chain/as-built", 5),
            ("older-firmware/as-built-refused", 5),
            ("older-firmware/as-built-updates", 5),
            ("other-ports/as-built", 6),
            ("paper-mill/new-ring", 5),
        ],
    },
];

/// Operations without which a plan is as good: both plans say themselves that they were not proved the least. On the
/// invented platform a port may be enabled, and settings saved, once before it is needed; a unit's save covers itself
/// alone there.
pub const IDLE: [&str; 2] =
    ["dialects/new-house: step 21 removed (enable-port)", "dialects/other-leg: step 4 removed (save)"];
