//! Edits of roles, links and uplink pairs, and what they leave to be mended.

use std::collections::BTreeSet;

use ringwright::model::document::Role;

use super::base;
use super::edits::Plot;
use super::roles;

impl Plot<'_> {
    pub fn hand_over(&mut self) -> bool {
        let old = self.after.primary();
        let others: Vec<usize> = (0..self.after.members.len()).filter(|at| *at != old).collect();
        let Some(new) = self.dice.any(&others).filter(|_| roles::led_by_priority(self.traits)) else { return false };
        let members = &mut self.after.members;
        let (role, first, second) = (members[new].role, members[old].priority, members[new].priority);
        members[old].role = role;
        members[new].role = Role::Primary;
        if first.is_some() && second.is_some() {
            (members[old].priority, members[new].priority) = (second, first);
        }
        true
    }

    pub fn move_link(&mut self) -> bool {
        let Some((from, to)) = self.dice.any(&self.after.links()) else { return false };
        let cable = self.dice.below(self.after.members[from].east.len().min(self.after.members[to].west.len()));
        let ends = self.dice.below(3);
        let mut moved = false;
        if ends != 1
            && let Some(port) = base::free_port(self.dice, &self.after, from)
        {
            self.after.members[from].east[cable] = port;
            moved = true;
        }
        if ends != 0
            && let Some(port) = base::free_port(self.dice, &self.after, to)
        {
            self.after.members[to].west[cable] = port;
            moved = true;
        }
        moved
    }

    pub fn add_cable(&mut self) -> bool {
        let Some(link) = self.dice.any(&self.after.links()) else { return false };
        base::add_cable(self.dice, self.traits, &mut self.after, link)
    }

    pub fn drop_cable(&mut self) -> bool {
        let members = &self.after.members;
        let cables = |(from, to): (usize, usize)| members[from].east.len().min(members[to].west.len());
        let thick: Vec<(usize, usize)> = self.after.links().into_iter().filter(|link| cables(*link) > 1).collect();
        let Some((from, to)) = self.dice.any(&thick) else { return false };
        let cable = self.dice.below(cables((from, to)));
        self.after.members[from].east.remove(cable);
        self.after.members[to].west.remove(cable);
        true
    }

    fn numbers(&self) -> Vec<u32> {
        self.after.members.iter().map(|member| member.number).collect()
    }

    pub fn form_pair(&mut self) -> bool {
        let numbers = self.numbers();
        self.after.pairs.len() < 2 && base::add_pair(self.dice, &mut self.after, &numbers)
    }

    fn any_pair(&mut self) -> Option<usize> {
        let pairs: Vec<usize> = (0..self.after.pairs.len()).collect();
        self.dice.any(&pairs)
    }

    /// Moves one leg, or all, to another member or to another port.
    pub fn move_pair(&mut self) -> bool {
        let Some(pair) = self.any_pair() else { return false };
        let count = self.after.pairs[pair].legs.len();
        let one = self.dice.below(count);
        let which: Vec<usize> = if self.dice.chance(60) { vec![one] } else { (0..count).collect() };
        let before = self.after.pairs[pair].clone();
        for leg in which {
            let elsewhere = self.elsewhere(pair);
            let number = before.legs[leg].0;
            let number = self.dice.any(&elsewhere).filter(|_| self.dice.chance(75)).unwrap_or(number);
            base::add_leg(self.dice, &mut self.after, pair, number);
            let legs = &mut self.after.pairs[pair].legs;
            let new = legs.pop().unwrap();
            legs[leg] = new;
        }
        self.after.pairs[pair] != before
    }

    /// Members that hold no leg of a pair.
    fn elsewhere(&self, pair: usize) -> Vec<u32> {
        let holds = |number: &u32| self.after.pairs[pair].legs.iter().any(|leg| leg.0 == *number);
        self.numbers().into_iter().filter(|number| !holds(number)).collect()
    }

    /// One leg more, or one less.
    pub fn grow_pair(&mut self) -> bool {
        let Some(pair) = self.any_pair() else { return false };
        if self.after.pairs[pair].legs.len() > 2 {
            let leg = self.dice.below(3);
            self.after.pairs[pair].legs.remove(leg);
            return true;
        }
        let elsewhere = self.elsewhere(pair);
        let Some(number) = self.dice.any(&elsewhere) else { return false };
        base::add_leg(self.dice, &mut self.after, pair, number);
        true
    }

    pub fn drop_pair(&mut self) -> bool {
        let Some(pair) = self.any_pair() else { return false };
        self.after.pairs.remove(pair);
        true
    }

    /// The guard goes over a pair, over another one, or away.
    pub fn guard(&mut self) -> bool {
        let mut choices: Vec<Option<&'static str>> = self.after.pairs.iter().map(|pair| Some(pair.name)).collect();
        choices.push(None);
        choices.retain(|choice| *choice != self.after.guard);
        match self.dice.any(&choices) {
            Some(choice) => {
                self.after.guard = choice;
                true
            }
            None => false,
        }
    }

    pub fn priorities(&mut self) -> bool {
        let before: Vec<Option<u32>> = self.after.members.iter().map(|one| roles::priority(one, self.traits)).collect();
        if self.dice.chance(50) {
            roles::write_all(&mut self.after, self.traits, self.dice);
        } else {
            let at = self.dice.below(before.len());
            let (low, high) = self.traits.priority.range;
            self.after.members[at].priority = Some(self.dice.between(low.0, high.0));
        }
        let after = self.after.members.iter().map(|one| roles::priority(one, self.traits));
        !before.into_iter().eq(after)
    }

    /// Another standby, or none.
    pub fn standby(&mut self) -> bool {
        let old = self.after.members.iter().position(|member| member.role == Role::Standby);
        let choices: Vec<usize> =
            (0..self.after.members.len()).filter(|at| self.after.members[*at].role == Role::Member).collect();
        let new = self.dice.any(&choices).filter(|_| old.is_none() || self.dice.chance(70));
        for (at, role) in old.map(|at| (at, Role::Member)).into_iter().chain(new.map(|at| (at, Role::Standby))) {
            self.after.members[at].role = role;
        }
        if let (Some(old), Some(new)) = (old, new) {
            let priority = self.after.members[old].priority;
            self.after.members[old].priority = self.after.members[new].priority;
            self.after.members[new].priority = priority;
        }
        old.is_some() || new.is_some()
    }

    /// A serial or an address becomes known, or a ring is written from another member on: nothing to do.
    pub fn document(&mut self) -> bool {
        if self.after.ring && self.dice.chance(50) {
            self.after.members.rotate_left(1);
            return true;
        }
        let unknown = self.after.members.iter_mut().find(|member| member.serial.is_none());
        let Some(member) = unknown else { return false };
        member.serial = Some(member.number);
        true
    }

    /// A newcomer with the id and between the neighbours of a member that has gone is taken for a new name of
    /// it: it gets another id, if there is one.
    fn tell_apart(&mut self) -> bool {
        for at in 0..self.after.members.len() {
            let (number, id) = (self.after.members[at].number, self.after.members[at].id);
            let gone = self.before.members.iter().find(|old| old.id == id && self.after.at(old.number).is_none());
            let Some(gone) = gone.filter(|_| self.before.at(number).is_none()) else { continue };
            let sides = self.after.beside(number).into_iter().zip(self.before.beside(gone.number));
            let stays = |beside: Option<u32>| beside.is_none_or(|number| self.before.at(number).is_some());
            if sides.into_iter().any(|(is, was)| is != was && stays(is)) {
                continue;
            }
            let members = self.before.members.iter().chain(&self.after.members);
            let taken: Vec<u32> = members.map(|member| member.id).collect();
            match base::free_id(self.dice, self.traits, &taken) {
                Some(id) => self.after.members[at].id = id,
                None => return false,
            }
        }
        true
    }

    /// After all edits: legs of members that have gone, links of unequal ends, roles; says whether it can be.
    pub fn mend(&mut self) -> bool {
        let present: BTreeSet<u32> = self.numbers().into_iter().collect();
        for pair in 0..self.after.pairs.len() {
            self.mend_pair(pair, &present);
        }
        self.after.pairs.retain(|pair| pair.legs.iter().map(|leg| leg.0).collect::<BTreeSet<_>>().len() > 1);
        let guard = self.after.guard;
        self.after.guard = guard.filter(|guard| self.after.pairs.iter().any(|pair| pair.name == *guard));
        for (from, to) in self.after.links() {
            let most = self.after.members[from].east.len().min(self.after.members[to].west.len());
            self.after.members[from].east.truncate(most);
            self.after.members[to].west.truncate(most);
        }
        if !self.tell_apart() {
            return false;
        }
        let counter = &mut self.counter;
        roles::settle(&mut self.after, self.traits, self.dice, &mut || base::address(counter.next()));
        for at in 0..self.after.members.len() {
            let cabled = self.after.cabled(self.after.members[at].number);
            self.after.members[at].disabled.retain(|port| !cabled.contains(port));
        }
        true
    }

    /// A leg of a member that has gone moves to another one or is given up.
    fn mend_pair(&mut self, pair: usize, present: &BTreeSet<u32>) {
        while let Some(leg) = self.after.pairs[pair].legs.iter().position(|leg| !present.contains(&leg.0)) {
            self.after.pairs[pair].legs.remove(leg);
            let elsewhere = self.elsewhere(pair);
            let number = self.dice.any(&elsewhere).filter(|_| self.dice.chance(80));
            if let Some(number) = number {
                base::add_leg(self.dice, &mut self.after, pair, number);
            }
        }
    }
}
