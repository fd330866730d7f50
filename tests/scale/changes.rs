//! A number of members -> one change of each main kind, and two and four of them together.

use super::stacks::{Change, Stack, name};

/// One change of each kind. `count` is the number of members of the larger of the two stacks.
pub fn single(count: usize) -> Vec<Change> {
    let middle = count / 2;
    let (chain, ring) = (|| Stack::of(false, count), || Stack::of(true, count));
    let smaller = |ring| Stack::of(ring, count - 1);
    let lead = [("restart", 1), ("new-primary", 2)];
    let there_and_back = [("new-primary", 1), ("new-primary", 2), ("restart", 2)];
    vec![
        Change::new("add at the end", smaller(false), chain()),
        Change::new("insert into a ring", smaller(true), newest_at(ring(), middle)),
        Change::new("insert into a chain", smaller(false), newest_at(chain(), middle)).with_temporary_cables(),
        Change::new("close a chain", chain(), ring()),
        Change::new("open a ring", ring(), chain()),
        Change::new("remove from a ring", ring(), without(ring(), middle)),
        Change::new("remove from the end", chain(), without(chain(), count - 1)),
        Change::new("replace in a ring", ring(), other_box(ring(), middle)),
        Change::new("replace at the end", chain(), other_box(chain(), count - 1)),
        Change::new("replace the primary", ring(), other_box(ring(), 0)).accepting(&there_and_back),
        Change::new("move a link of a ring", ring(), moved_link(ring(), middle)),
        Change::new("move a link of a chain", chain(), moved_link(chain(), middle)).with_temporary_cables(),
        Change::new("form a pair", ring(), with_pair(ring(), count)),
        Change::new("move a leg", with_pair(ring(), count), with_pair(ring(), 2)),
        Change::new("hand over", ring(), handed_over(ring())).accepting(&lead),
    ]
}

/// Two changes together.
pub fn double(count: usize) -> Vec<Change> {
    let (chain, ring) = (|| Stack::of(false, count), || Stack::of(true, count));
    let smaller = |ring| Stack::of(ring, count - 1);
    let (near, far) = (count / 4, count * 3 / 4);
    let paired = with_pair(ring(), count);
    let inserted = moved_link(newest_at(ring(), far), near);
    vec![
        Change::of(&["insert into a ring", "move a link of a ring"], smaller(true), inserted),
        Change::of(&["add at the end", "move a leg"], with_pair(smaller(false), 3), with_pair(chain(), 2)),
        Change::of(&["replace in a ring", "move a leg"], paired, with_pair(other_box(ring(), near), 2)),
        Change::of(&["replace in a ring", "remove from a ring"], ring(), without(other_box(ring(), near), far)),
        Change::of(&["add at the end", "close a chain"], smaller(false), ring()),
    ]
}

/// Four changes together.
pub fn fourfold(count: usize) -> Vec<Change> {
    let ring = || Stack::of(true, count);
    let smaller = |ring| Stack::of(ring, count - 1);
    let [first, second, third] = [count / 4, count / 2, count * 3 / 4];
    let all = moved_link(other_box(newest_at(ring(), third), second), first);
    let links = [1, first, second, third].into_iter().fold(ring(), moved_link);
    let closed = moved_link(other_box(ring(), second), first);
    const INSERTED: [&str; 4] = ["insert into a ring", "replace in a ring", "move a link of a ring", "move a leg"];
    const FOUR_LINKS: [&str; 4] = ["move a link of a ring"; 4];
    const ADDED: [&str; 4] = ["add at the end", "replace in a ring", "move a link of a ring", "close a chain"];
    vec![
        Change::of(&INSERTED, with_pair(smaller(true), 3), with_pair(all, 2)),
        Change::of(&FOUR_LINKS, ring(), links),
        Change::of(&ADDED, smaller(false), closed).with_temporary_cables(),
    ]
}

/// The newest member, with the last id, stands at a position.
fn newest_at(stack: Stack, at: usize) -> Stack {
    stack.with(|stack| {
        let newest = stack.members.pop().unwrap();
        stack.members.insert(at, newest);
    })
}

fn without(stack: Stack, at: usize) -> Stack {
    stack.with(|stack| drop(stack.members.remove(at)))
}

/// Another box for the member at a position.
fn other_box(stack: Stack, at: usize) -> Stack {
    stack.with(|stack| stack.members[at].serial += 100)
}

/// The link from a position to the next is in other ports.
fn moved_link(stack: Stack, at: usize) -> Stack {
    stack.with(|stack| {
        stack.members[at].east = vec![51];
        stack.members[at + 1].west = vec![52];
    })
}

/// An uplink pair over the first member and another.
fn with_pair(stack: Stack, other: usize) -> Stack {
    stack.with(|stack| stack.legs = [1, other].map(|number| (name(number), 47)).into())
}

fn handed_over(stack: Stack) -> Stack {
    stack.with(|stack| (stack.members[0].role, stack.members[1].role) = ("standby", "primary"))
}
