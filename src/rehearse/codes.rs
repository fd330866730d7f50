//! The codes of the judge, each with what its rule is for.

use crate::diag::Code;

/// The codes of this stage.
pub const CODES: &[&Code] = &[
    &PRIMARY_KEPT,
    &NO_LIVE_RESTART,
    &NEVER_SPLIT,
    &NO_ID_CLASH,
    &NO_STRAY_LINK,
    &UPLINKS_UP,
    &ONE_BRAIN,
    &DECIDED,
    &COLD_START,
    &SETTLED,
    &LOSES_MERGE,
    &SAME_KEYS,
    &GROUP_FREE,
    &REACHES_TARGET,
    &FRESH_BASELINE,
    &FACTORY_UNIT,
    &RIGHT_PLACE,
    &RIGHT_CABLE,
    &SHAPE,
    &CLAIMS,
    &STEP_REFUSED,
    &EXPECT_FAILS,
    &AWAIT_FAILS,
    &NOT_VISIBLE,
];

/// `primary-kept`.
pub const PRIMARY_KEPT: Code = Code {
    name: "primary-kept",
    explanation: "The unit that leads the running stack must go on leading it through the whole change, unless the \
intent accepts `new-primary:` for another one. A new primary means a new control plane under a live building.",
};
/// `no-live-restart`.
pub const NO_LIVE_RESTART: Code = Code {
    name: "no-live-restart",
    explanation: "No unit that carries traffic may restart or be switched off, whether by a typed restart, by its \
power, or by itself because it loses a merge. A unit that leaves may; any other needs `restart:` in `change.accept`.",
};
/// `never-split`.
pub const NEVER_SPLIT: Code = Code {
    name: "never-split",
    explanation: "All live units that stay must be powered and in one stack after every step. Where a cable must be \
unplugged first, make before break: connect the new way before the old one goes, or accept `split:` for the units cut off.",
};
/// `no-id-clash`.
pub const NO_ID_CLASH: Code = Code {
    name: "no-id-clash",
    explanation: "No stack may hold one member id twice, neither now nor after a power failure. A unit out of its box \
has the factory id, which a running stack usually holds already: give it its own id first, and let the id take effect.",
};
/// `no-stray-link`.
pub const NO_STRAY_LINK: Code = Code {
    name: "no-stray-link",
    explanation: "No cable may bridge two boxes as plain Ethernet: two unbound ports that light make a loop that no \
protocol of the stack knows of. One end is bound and active before the cable lights.",
};
/// `uplinks-up`.
pub const UPLINKS_UP: Code = Code {
    name: "uplinks-up",
    explanation: "Every uplink pair that is there before and after the change keeps a leg that carries, in every state \
and after a power failure. A leg that the change makes or plugs anew counts only once somebody has seen it carry.",
};
/// `one-brain`.
pub const ONE_BRAIN: Code = Code {
    name: "one-brain",
    explanation: "No unit that is or was in the running stack may lead a stack of its own beside it: it still has the \
stack's addresses. A unit that leaves is switched off while it is still linked.",
};
/// `decided`.
pub const DECIDED: Code = Code {
    name: "decided",
    explanation: "Every election that the plan passes through, or that a power failure would bring, must be decided by \
the platform's election order. A tie is decided by nobody that the plan could know.",
};
/// `cold-start`.
pub const COLD_START: Code = Code {
    name: "cold-start",
    explanation: "Were all units to lose power together after any step, the live ones must come back as one stack under \
the same primary. So the live side is saved before the operation that makes a new link.",
};
/// `settled`.
pub const SETTLED: Code = Code {
    name: "settled",
    explanation: "After a unit has joined, nothing that disturbs (a restart, a power-off, a save, another join) may \
follow before it was awaited ready.",
};
/// `loses-merge`.
pub const LOSES_MERGE: Code = Code {
    name: "loses-merge",
    explanation: "A unit that joins must lose its merge against the primary by its priority or its id. Uptime and MAC \
are accidents: the next unit out of a box may win by them, and then the running stack restarts.",
};
/// `same-keys`.
pub const SAME_KEYS: Code = Code {
    name: "same-keys",
    explanation: "No unit is in the stack with another firmware, licence level or profile than its primary, where the \
platform says that these must be equal: from the moment at which it joins, and after a cold start.",
};
/// `group-free`.
pub const GROUP_FREE: Code = Code {
    name: "group-free",
    explanation: "Ports of one group can only change to stacking together. While one of them is bound, none of its group \
carries a leg of an uplink pair or stands under `in_use`: it would be out of Ethernet service.",
};
/// `reaches-target`.
pub const REACHES_TARGET: Code = Code {
    name: "reaches-target",
    explanation: "After the last step, every unit, cable, uplink pair and saved setting must be as the target says.",
};
/// `fresh-baseline`.
pub const FRESH_BASELINE: Code = Code {
    name: "fresh-baseline",
    explanation: "Before the first step that touches the running stack, a look compares all of it with the baseline: \
each unit's serial, id, role, priority and whether it is saved, each link, each uplink pair, the split guard.",
};
/// `factory-unit`.
pub const FACTORY_UNIT: Code = Code {
    name: "factory-unit",
    explanation: "Before anything is typed on a joining unit, a look finds it as it comes out of its box: factory id and \
priority, no port bound. If it is not so, wipe it and look again.",
};
/// `right-place`.
pub const RIGHT_PLACE: Code = Code {
    name: "right-place",
    explanation: "Every run of typed steps opens with a look that only this console can satisfy, so that nothing is \
typed on the wrong one. A wait, work by hands and a restart end such a run.",
};
/// `right-cable`.
pub const RIGHT_CABLE: Code = Code {
    name: "right-cable",
    explanation: "Before a typed step makes a new link, the neighbour at the far end of its cable has been read \
(IEEE 802.1AB) while the link was lit and carried nothing.",
};
/// `shape`.
pub const SHAPE: Code = Code {
    name: "shape",
    explanation: "The file is no plan of this format: a key is missing or unknown, a name is not listed, or a state is \
incomplete. `ringwright schema plan` prints the shape.",
};
/// `claims`.
pub const CLAIMS: Code = Code {
    name: "claims",
    explanation: "What a plan says of itself (places, minutes, predictions, stop points, needs, moves, cost) must be what \
the replay finds. What it leaves out is filled in.",
};
/// `step-refused`.
pub const STEP_REFUSED: Code = Code {
    name: "step-refused",
    explanation: "The unit would refuse this step where it stands: a port must be out of use before it is bound, a unit \
must be on before it is typed on, an end of a cable must be free.",
};
/// `expect-fails`.
pub const EXPECT_FAILS: Code = Code {
    name: "expect-fails",
    explanation: "The look would not find what the plan expects, although every step before it was done right.",
};
/// `await-fails`.
pub const AWAIT_FAILS: Code =
    Code { name: "await-fails", explanation: "What the plan waits for does not come true by itself." };
/// `not-visible`.
pub const NOT_VISIBLE: Code = Code {
    name: "not-visible",
    explanation: "Nobody can see this fact at the place of the step: a console shows the units of its own stack, hands \
see cables, plugs and power.",
};

/// The code of a name.
#[must_use]
pub fn code(name: &str) -> &'static Code {
    CODES.iter().copied().find(|code| code.name == name).unwrap_or(&SHAPE)
}
