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
pub const KNOWN: [Known; 3] = [
    Known {
        ours: &[("right-place", "no look just before")],
        title: "",
        why: "right-place: every segment opens with an `expect` of a `here` fact. Ours wants the look that comes just \
before the first typed step to hold it. The second judge keeps a `here` that was found at this place while the person \
looks at another place in between, by hands or at another console, as long as nothing is done there.",
        smallest: "ferry-terminal/ring: steps 11 (expect) and 12 (expect) swapped",
        counts: &[
            ("exchange/as-built", 3),
            ("ferry-terminal/ring", 1),
            ("ferry-terminal/third-unit", 1),
            ("middle-of-a-chain/third-berth", 1),
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
        smallest: "ferry-terminal/as-built: step 24 removed (expect)",
        counts: &[
            ("exchange/as-built", 4),
            ("failed-primary/as-built", 4),
            ("ferry-terminal/as-built", 4),
            ("hand-over/as-built", 4),
            ("middle-of-a-chain/as-built", 4),
            ("other-ports/as-built", 4),
            ("paper-mill/new-ring", 4),
        ],
    },
    Known {
        ours: &[("not-visible", "at this place nobody can see"), ("no-stray-link", "far:")],
        title: "",
        why: "a new stack begins at the end of the last `stage` step of the unit of role primary. Where that unit has no \
stage step, the stack never begins for ours, and begins with the first step for the second judge.",
        smallest: "exchange/as-built: steps 34 (await) and 86 (connect-cable) swapped",
        counts: &[("exchange/as-built", 1)],
    },
];
