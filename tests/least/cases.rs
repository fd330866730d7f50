//! Changes of stacks of one and two members, small enough for the search without reductions, and the
//! habits of platforms under which they are tried.

use ringwright::model::traits::{
    BindingEffect, Criterion, Election, FactoryPorts, IdEffect, Loser, SaveScope, StoredWhen, Traits, Wins,
};
use ringwright::model::{MemberId, Minutes, Priority};

use crate::kinds::list::{self, with_other_box, with_pair};
use crate::kinds::{Change, Stack};

/// A name and what it changes of neutral's traits.
pub type Habit = (&'static str, fn(&mut Traits));

fn free(traits: &mut Traits) {
    traits.binding.takes_effect = BindingEffect::AtOnce;
    traits.binding.port_disabled = false;
}

fn stored(traits: &mut Traits) {
    traits.stored.binding = StoredWhen::AtOnce;
    traits.stored.priority = StoredWhen::AtOnce;
}

/// Habits of platforms, each alone, and those together that leave the fewest situations.
pub const HABITS: [Habit; 12] = [
    ("neutral", |_| {}),
    ("waits", |traits| traits.joining.loser = Loser::Waits),
    ("binding at once", free),
    ("binding stored at once", |traits| traits.stored.binding = StoredWhen::AtOnce),
    ("binding after a restart", |traits| traits.binding.takes_effect = BindingEffect::AfterRestart),
    ("id at once", |traits| traits.member_id.takes_effect = IdEffect::AtOnce),
    ("lowest wins", |traits| {
        traits.priority.wins = Wins::Lowest;
        traits.priority.factory = Priority(100);
        traits.election = Election::both(vec![Criterion::Priority, Criterion::LowestId]);
    }),
    ("a unit saves", |traits| traits.save.scope = SaveScope::Unit),
    ("ports out of use", |traits| traits.factory_ports = FactoryPorts::Disabled),
    ("plain", |traits| {
        free(traits);
        stored(traits);
        traits.election = Election::both(vec![Criterion::Priority, Criterion::LowestId]);
    }),
    ("plain, waits, another first id", |traits| {
        free(traits);
        stored(traits);
        traits.election = Election::both(vec![Criterion::Priority, Criterion::LowestId]);
        traits.joining.loser = Loser::Waits;
        traits.member_id.factory = MemberId(3);
        traits.member_id.takes_effect = IdEffect::AtOnce;
    }),
    ("plain, on activation", |traits| {
        stored(traits);
        traits.binding.port_disabled = false;
        traits.election = Election::both(vec![Criterion::Priority, Criterion::LowestId]);
    }),
];

/// Changes with so many situations that only the plain habits leave few enough.
const LARGE: [&str; 5] =
    ["a new chain", "a new ring", "a second unit, a ring", "replace the primary", "hand over in a ring"];

/// More of them: a change and a habit.
const TOO_LARGE: [(&str, &str); 7] = [
    ("a second unit", "waits"),
    ("a second unit", "binding after a restart"),
    ("a second cable", "binding after a restart"),
    ("move a link", "binding after a restart"),
    ("close", "binding after a restart"),
    ("hand over in a ring", "plain, waits, another first id"),
    ("hand over in a ring", "plain, on activation"),
];

/// The habits under which a change is tried.
pub fn habits_for(change: &Change) -> Vec<Habit> {
    let name = change.name.as_str();
    // the same with east and west exchanged: once is enough
    let twin = name == "a second unit before";
    let small = |habit: &&Habit| !(twin || LARGE.contains(&name)) || habit.0.starts_with("plain");
    let smaller = |habit: &&Habit| !TOO_LARGE.contains(&(name, habit.0));
    HABITS.iter().filter(small).filter(smaller).copied().collect()
}

/// Typing takes no time, so that moves of links are all that takes some.
pub const QUICK: Habit = ("typing takes no time", |traits| {
    let minutes = &mut traits.minutes;
    for estimate in [&mut minutes.command, &mut minutes.save, &mut minutes.activate] {
        (estimate.best, estimate.likely) = (None, Minutes::ZERO);
    }
});

fn one() -> Stack {
    Stack::of(false, 1)
}

fn chain() -> Stack {
    Stack::of(false, 2)
}

fn ring() -> Stack {
    Stack::of(true, 2)
}

/// Changes of a stack of two and less.
pub fn changes() -> Vec<Change> {
    let change = |name: &str, before: Stack, after: Stack| Change::new(name, Some(before), after);
    let wide = || chain().with(|stack| (stack.members[0].east, stack.members[1].west) = (vec![50, 51], vec![49, 52]));
    let moved = chain().with(|stack| (stack.members[0].east, stack.members[1].west) = (vec![51], vec![52]));
    let swapped =
        |stack: Stack| stack.with(|stack| (stack.members[0].role, stack.members[1].role) = ("standby", "primary"));
    let alone = chain().without(0).with(|stack| stack.members[0].role = "primary");
    let renumbered = |at: usize| chain().with(|stack| stack.members[at].id = 3);
    let paired = || with_pair(chain(), [1, 2]);
    let other_leg = paired().with(|stack| stack.pairs[0].legs[1].1 = 48);
    vec![
        Change::new("a new stack of one", None, one()),
        Change::new("a new chain", None, chain()),
        Change::new("a new ring", None, ring()),
        change("a second unit", one(), chain()),
        change("a second unit before", one(), chain().with(|stack| stack.members.reverse())),
        change("a second unit, a ring", one(), ring()),
        change("remove", chain(), one()),
        change("remove from a ring", ring(), one()),
        change("remove the primary", chain(), alone),
        change("replace", chain(), with_other_box(chain(), 1)),
        change("replace a dead member", chain(), with_other_box(chain(), 1)).with_dead(2),
        change("replace the primary", chain(), with_other_box(chain(), 0)),
        change("replace a dead primary", chain(), with_other_box(chain(), 0)).with_dead(1),
        change("hand over", chain(), swapped(chain())),
        change("hand over in a ring", ring(), swapped(ring())),
        change("renumber", chain(), renumbered(1)),
        change("renumber the primary", chain(), renumbered(0)),
        change("move a link", chain(), moved),
        change("a second cable", chain(), wide()),
        change("drop the second cable", wide(), chain()),
        change("close", chain(), ring()),
        change("open", ring(), chain()),
        change("form a pair", chain(), paired()),
        change("move a leg", paired(), other_leg),
        change("drop a pair", paired(), chain()),
        change("take the guard off", paired(), paired().with(|stack| stack.guard = None)),
    ]
}

/// Changes of links in stacks of three and four, each under the habits for which moves are exact or a bound
/// that is reached.
pub fn moved() -> Vec<(Change, Habit)> {
    let exchanged = |name: &str| Change::new(name, Some(ring()), with_other_box(ring(), 1));
    let mut all = vec![
        (exchanged("replace in a ring, 2"), QUICK),
        (exchanged("replace a dead member of a ring, 2").with_dead(2), QUICK),
        (Change::new("remove from a ring, 2", Some(ring()), one()), QUICK),
        (Change::new("a second unit, a ring, 2", Some(one()), ring()), QUICK),
    ];
    for count in [3, 4] {
        let kinds = [list::additions(count), list::removals(count), list::replacements(count), list::links(count)];
        for mut change in kinds.into_iter().flatten() {
            if change.temporary_cables || change.name.contains("primary") {
                continue;
            }
            change.name = format!("{}, {count}", change.name);
            // of three boxes each two are linked: what is known of a new link between them is too little
            let others = HABITS.into_iter().filter(|habit| count > 3 && makes_links_by_typing(habit));
            all.extend(std::iter::once(QUICK).chain(others).map(|habit| (change.clone(), habit)));
        }
    }
    all
}

/// Neither waits for a restart where moves know of none.
fn makes_links_by_typing((name, _): &Habit) -> bool {
    !name.contains("waits") && *name != "binding after a restart"
}

/// One of those changes.
pub fn of_moves(name: &str, count: usize) -> Change {
    let name = format!("{name}, {count}");
    moved().into_iter().map(|(change, _)| change).find(|change| change.name == name).unwrap()
}
