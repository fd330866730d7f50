//! One change of every kind, for stacks of a given number of members.

use super::{Change, Pair, Stack, name};

/// Every kind of change. `count` is the number of members of the larger of the two stacks, 3 at least.
pub fn every(count: usize) -> Vec<Change> {
    let mut all = new_stacks(count);
    all.extend(additions(count));
    all.extend(removals(count));
    all.extend(replacements(count));
    all.extend(links(count));
    all.extend(numbers_and_roles(count));
    all.extend(uplinks(count));
    all
}

fn new_stacks(count: usize) -> Vec<Change> {
    [("new chain", false), ("new ring", true)]
        .map(|(name, ring)| Change::new(name, None, Stack::of(ring, count)))
        .into()
}

/// A stack whose newest member stands at a position; it is `mill-<count>` with the last id.
fn with_newest_at(ring: bool, count: usize, at: usize) -> Stack {
    Stack::of(ring, count).with(|stack| {
        let newest = stack.members.remove(count - 1);
        stack.members.insert(at, newest);
    })
}

/// Members that come in.
pub fn additions(count: usize) -> Vec<Change> {
    let smaller = |ring| Some(Stack::of(ring, count - 1));
    let middle = count / 2;
    let into_chain = with_newest_at(false, count, middle);
    let behind: Vec<(&str, usize)> = (middle + 1..count).map(|number| ("split", number)).collect();
    let mut all = vec![
        Change::new("add at the end", smaller(false), Stack::of(false, count)),
        Change::new("add at the beginning", smaller(false), with_newest_at(false, count, 0)),
        Change::new("insert into a ring", smaller(true), with_newest_at(true, count, middle)),
        Change::new("insert into a chain", smaller(false), into_chain.clone()).with_temporary_cables(),
        Change::new("insert into a chain, split", smaller(false), into_chain).accepting(&behind),
    ];
    if count > 3 {
        all.push(Change::new("add two", Some(Stack::of(false, count - 2)), Stack::of(false, count)));
    }
    all
}

/// Members that go out.
pub fn removals(count: usize) -> Vec<Change> {
    let middle = count / 2;
    let without = |ring, at| Stack::of(ring, count).without(at);
    vec![
        Change::new("remove from a ring", Some(Stack::of(true, count)), without(true, middle)),
        Change::new("remove from the end", Some(Stack::of(false, count)), without(false, count - 1)),
        Change::new("remove from a chain", Some(Stack::of(false, count)), without(false, middle))
            .with_temporary_cables(),
    ]
}

/// The same stack with another box for the member at a position.
pub fn with_other_box(stack: Stack, at: usize) -> Stack {
    stack.with(|stack| stack.members[at].serial += 100)
}

/// Boxes that are exchanged.
pub fn replacements(count: usize) -> Vec<Change> {
    let exchange = |name: &str, ring, at| {
        let before = Stack::of(ring, count);
        Change::new(name, Some(before.clone()), with_other_box(before, at))
    };
    let roles = [("new-primary", 1), ("new-primary", 2), ("restart", 2)];
    let last = count - 1;
    vec![
        exchange("replace in a ring", true, last),
        exchange("replace at the end", false, last),
        exchange("replace in a chain", false, count / 2).with_temporary_cables(),
        exchange("replace a dead member of a ring", true, last).with_dead(count),
        exchange("replace a dead member at the end", false, last).with_dead(count),
        exchange("replace the primary of a ring", true, 0).accepting(&roles),
        exchange("replace the primary of a chain", false, 0).accepting(&roles),
        exchange("replace a dead primary of a ring", true, 0).with_dead(1).accepting(&roles),
    ]
}

/// Cables that come, go or move.
pub fn links(count: usize) -> Vec<Change> {
    let (chain, ring) = (|| Stack::of(false, count), || Stack::of(true, count));
    let moved =
        |stack: Stack| stack.with(|stack| (stack.members[0].east, stack.members[1].west) = (vec![51], vec![52]));
    let doubled = |stack: Stack| {
        stack.with(|stack| (stack.members[0].east, stack.members[1].west) = (vec![50, 51], vec![49, 52]))
    };
    vec![
        Change::new("close a chain", Some(chain()), ring()),
        Change::new("open a ring", Some(ring()), chain()),
        Change::new("move a link of a chain", Some(chain()), moved(chain())),
        Change::new("move a link of a ring", Some(ring()), moved(ring())),
        Change::new("add a parallel cable", Some(chain()), doubled(chain())),
        Change::new("drop a parallel cable", Some(doubled(chain())), chain()),
        Change::new("add a parallel cable to a ring", Some(ring()), doubled(ring())),
        Change::new("drop a parallel cable of a ring", Some(doubled(ring())), ring()),
    ]
}

/// Members that keep their cables and get another number or another role.
pub fn numbers_and_roles(count: usize) -> Vec<Change> {
    let ring = || Stack::of(true, count);
    let renumbered = |at: usize| ring().with(|stack| stack.members[at].id = count + 1);
    let handed_over = ring().with(|stack| (stack.members[0].role, stack.members[1].role) = ("standby", "primary"));
    let there_and_back = [("restart", 1), ("restart", 2), ("new-primary", 1), ("new-primary", 2)];
    vec![
        Change::new("renumber", Some(ring()), renumbered(1)).accepting(&[("restart", 2)]),
        Change::new("renumber the primary", Some(ring()), renumbered(0)).accepting(&there_and_back),
        Change::new("hand over", Some(ring()), handed_over).accepting(&[("restart", 1), ("new-primary", 2)]),
    ]
}

/// A stack with an uplink pair over two members, guarded.
pub fn with_pair(stack: Stack, numbers: [usize; 2]) -> Stack {
    stack.with(|stack| {
        let legs = numbers.map(|number| (name(number), 47)).into();
        stack.pairs.push(Pair { name: "yard", legs });
        stack.guard = Some("yard");
    })
}

/// Uplink pairs and the guard.
pub fn uplinks(count: usize) -> Vec<Change> {
    let ring = || Stack::of(true, count);
    let here = || with_pair(ring(), [1, count]);
    vec![
        Change::new("form a pair", Some(ring()), here()),
        Change::new("move a leg", Some(here()), with_pair(ring(), [1, 2])),
        Change::new("drop a pair", Some(here()), ring()),
        Change::new("take the guard off", Some(here()), here().with(|stack| stack.guard = None)),
    ]
}
