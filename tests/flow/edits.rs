//! What can be changed in a stack, one thing at a time: the words of the changes, and members.

use std::collections::BTreeSet;

use ringwright::model::document::Role;
use ringwright::model::traits::Traits;

use super::base::{self, Counter, Manner};
use super::dice::Dice;
use super::roles;
use super::stack::{Change, Member, Stack};

/// One change to a stack.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edit {
    AddAtEnd,
    AddAtBeginning,
    Insert,
    Close,
    Open,
    RemoveAtEnd,
    RemoveFromMiddle,
    RemoveFromRing,
    RemovePrimary,
    Replace,
    ReplacePrimary,
    RemoveDead,
    RemoveDeadPrimary,
    ReplaceDead,
    ReplaceDeadPrimary,
    HandOver,
    Renumber,
    RenumberPrimary,
    SwapIds,
    MoveLink,
    AddCable,
    DropCable,
    FormPair,
    MovePair,
    GrowPair,
    DropPair,
    Guard,
    Priorities,
    Standby,
    Document,
}

/// Every edit, for the mixture.
pub const EDITS: [Edit; 30] = [
    Edit::AddAtEnd,
    Edit::AddAtBeginning,
    Edit::Insert,
    Edit::Close,
    Edit::Open,
    Edit::RemoveAtEnd,
    Edit::RemoveFromMiddle,
    Edit::RemoveFromRing,
    Edit::RemovePrimary,
    Edit::Replace,
    Edit::ReplacePrimary,
    Edit::RemoveDead,
    Edit::RemoveDeadPrimary,
    Edit::ReplaceDead,
    Edit::ReplaceDeadPrimary,
    Edit::HandOver,
    Edit::Renumber,
    Edit::RenumberPrimary,
    Edit::SwapIds,
    Edit::MoveLink,
    Edit::AddCable,
    Edit::DropCable,
    Edit::FormPair,
    Edit::MovePair,
    Edit::GrowPair,
    Edit::DropPair,
    Edit::Guard,
    Edit::Priorities,
    Edit::Standby,
    Edit::Document,
];

/// A stack before and after, as the edits shape it.
pub struct Plot<'a> {
    pub dice: &'a mut Dice,
    pub traits: &'a Traits,
    pub manner: Manner,
    pub counter: Counter,
    pub before: Stack,
    pub after: Stack,
    pub change: Change,
    /// Members that an edit has dealt with, so that the next one takes others.
    pub touched: BTreeSet<u32>,
}

impl Plot<'_> {
    /// Does one edit, or nothing; says whether the stack had a place for it.
    pub fn attempt(&mut self, edit: Edit) -> bool {
        let (before, after) = (self.before.clone(), self.after.clone());
        let (change, touched) = (self.change.clone(), self.touched.clone());
        let done = self.edit(edit);
        if !done {
            (self.before, self.after, self.change, self.touched) = (before, after, change, touched);
        }
        done
    }

    fn edit(&mut self, edit: Edit) -> bool {
        let (size, ring) = (self.after.members.len(), self.after.ring);
        match edit {
            Edit::AddAtEnd => !ring && self.add(size),
            Edit::AddAtBeginning => !ring && self.add(0),
            Edit::Insert if ring => {
                let at = self.dice.below(size + 1);
                self.add(at)
            }
            Edit::Insert => {
                size > 1 && {
                    let at = 1 + self.dice.below(size - 1);
                    self.add(at)
                }
            }
            Edit::Close => {
                self.after.ring = size > 1;
                !ring && size > 1
            }
            Edit::Open => ring && self.open(),
            Edit::RemoveAtEnd => !ring && self.one_leaves([0, size - 1].into_iter()),
            Edit::RemoveFromMiddle => !ring && self.one_leaves(1..size - 1),
            Edit::RemoveFromRing => ring && self.one_leaves(0..size),
            Edit::RemovePrimary => self.remove(self.after.primary(), Role::Primary),
            Edit::Replace => self.one(Role::Member).is_some_and(|at| self.replace(at)),
            Edit::ReplacePrimary => self.one(Role::Primary).is_some_and(|at| self.replace(at)),
            Edit::RemoveDead => self.one(Role::Member).is_some_and(|at| self.dies(at) && self.remove(at, Role::Member)),
            Edit::RemoveDeadPrimary => {
                self.one(Role::Primary).is_some_and(|at| self.dies(at) && self.remove(at, Role::Primary))
            }
            Edit::ReplaceDead => self.one(Role::Member).is_some_and(|at| self.dies(at) && self.replace(at)),
            Edit::ReplaceDeadPrimary => self.one(Role::Primary).is_some_and(|at| self.dies(at) && self.replace(at)),
            Edit::HandOver => self.hand_over(),
            Edit::Renumber => self.one(Role::Member).is_some_and(|at| self.renumber(at)),
            Edit::RenumberPrimary => self.one(Role::Primary).is_some_and(|at| self.renumber(at)),
            Edit::SwapIds => self.swap_ids(),
            Edit::MoveLink => self.move_link(),
            Edit::AddCable => self.add_cable(),
            Edit::DropCable => self.drop_cable(),
            Edit::FormPair => self.form_pair(),
            Edit::MovePair => self.move_pair(),
            Edit::GrowPair => self.grow_pair(),
            Edit::DropPair => self.drop_pair(),
            Edit::Guard => self.guard(),
            Edit::Priorities => self.priorities(),
            Edit::Standby => self.standby(),
            Edit::Document => self.document(),
        }
    }

    /// A member of the stack as it stands that no edit has dealt with.
    fn one(&mut self, role: Role) -> Option<usize> {
        let is = |member: &Member| match role {
            Role::Primary => member.role == Role::Primary,
            Role::Standby | Role::Member => member.role != Role::Primary,
        };
        let old = |member: &&Member| self.before.at(member.number).is_some() && !self.touched.contains(&member.number);
        let found: Vec<u32> =
            self.after.members.iter().filter(old).filter(|one| is(one)).map(|one| one.number).collect();
        let number = self.dice.any(&found)?;
        self.touched.insert(number);
        self.after.at(number)
    }

    fn add(&mut self, place: usize) -> bool {
        let taken: Vec<u32> = self.after.members.iter().map(|member| member.id).collect();
        if taken.len() >= 8 {
            return false;
        }
        let Some(id) = base::free_id(self.dice, self.traits, &taken) else { return false };
        let mut member = self.manner.fresh(self.dice, &mut self.counter, id);
        if self.after.members.iter().any(|member| member.priority.is_some()) {
            member.priority = Some(self.losing_priority());
        }
        self.touched.insert(member.number);
        self.after.members.insert(place, member);
        true
    }

    /// One that no member has, if chance finds it.
    fn losing_priority(&mut self) -> u32 {
        let (low, high) = (self.traits.priority.range.0.0, self.traits.priority.range.1.0);
        let used = |value: u32| self.after.members.iter().any(|member| member.priority == Some(value));
        let primary = roles::priority(&self.after.members[self.after.primary()], self.traits).unwrap_or(low);
        let (low, high) = match self.traits.priority.wins {
            ringwright::model::traits::Wins::Highest => (low, primary.saturating_sub(1).max(low)),
            ringwright::model::traits::Wins::Lowest => ((primary + 1).min(high), high),
        };
        let mut value = self.dice.between(low, high);
        for _ in 0..20 {
            if used(value) {
                value = self.dice.between(low, high);
            }
        }
        value
    }

    fn open(&mut self) -> bool {
        let by = self.dice.below(self.after.members.len());
        self.after.members.rotate_left(by);
        self.after.ring = false;
        true
    }

    /// One of the members at these places goes, if any may; the primary stays.
    fn one_leaves(&mut self, places: impl Iterator<Item = usize>) -> bool {
        let mut places: Vec<usize> = places.collect();
        self.dice.shuffle(&mut places);
        places.into_iter().any(|at| self.remove(at, Role::Member))
    }

    fn remove(&mut self, at: usize, role: Role) -> bool {
        let (size, member) = (self.after.members.len(), &self.after.members[at]);
        let number = member.number;
        let leads = member.role == Role::Primary;
        let new =
            self.before.at(number).is_none() || (self.touched.contains(&number) && !self.change.dead.contains(&number));
        if size < 2 || new || leads != (role == Role::Primary) {
            return false;
        }
        self.touched.insert(number);
        self.after.members.remove(at);
        self.after.ring &= size > 2;
        if leads {
            let heir = self.heir();
            self.after.members[heir].role = Role::Primary;
        }
        true
    }

    /// Who leads when the primary has gone: mostly the one that the election gives.
    fn heir(&mut self) -> usize {
        let standby = self.after.members.iter().position(|member| member.role == Role::Standby);
        let any = self.dice.below(self.after.members.len());
        standby.filter(|_| self.dice.chance(70)).unwrap_or(any)
    }

    fn replace(&mut self, at: usize) -> bool {
        let box_number = self.counter.next();
        let member = &mut self.after.members[at];
        let Some(old) = self.before.members.iter_mut().find(|old| old.number == member.number) else { return false };
        old.serial = Some(old.number);
        member.serial = Some(box_number);
        member.mac = member.mac.map(|_| base::address(box_number));
        true
    }

    fn dies(&mut self, at: usize) -> bool {
        let number = self.after.members[at].number;
        // a stack of which nothing is left has nobody to be changed
        let fits = self.change.dead.len() + 1 < self.before.members.len();
        if fits {
            self.change.dead.insert(number);
        }
        fits
    }

    fn renumber(&mut self, at: usize) -> bool {
        let taken: Vec<u32> = self.after.members.iter().map(|member| member.id).collect();
        let Some(id) = base::free_id(self.dice, self.traits, &taken) else { return false };
        self.after.members[at].id = id;
        true
    }

    fn swap_ids(&mut self) -> bool {
        let role = if self.dice.chance(30) { Role::Primary } else { Role::Member };
        let (Some(one), Some(other)) = (self.one(role), self.one(Role::Member)) else { return false };
        let (first, second) = (self.after.members[one].id, self.after.members[other].id);
        (self.after.members[one].id, self.after.members[other].id) = (second, first);
        first != second
    }
}
