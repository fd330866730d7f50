//! Sets of ids, without a heap.

use std::marker::PhantomData;

use super::table::{CableId, Id, LegId, TicketId, UnitId, UplinkId};

/// A set of ids, `Copy`, in W words of 64 bits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Set<I, const W: usize> {
    words: [u64; W],
    id: PhantomData<I>,
}

/// A set of units.
pub type UnitSet = Set<UnitId, 2>;
/// A set of cables.
pub type CableSet = Set<CableId, 8>;
/// A set of legs.
pub type LegSet = Set<LegId, 2>;
/// A set of uplink pairs.
pub type UplinkSet = Set<UplinkId, 1>;
/// Numbers or serials of newcomers.
pub type TicketSet = Set<TicketId, 4>;

impl<I: Id, const W: usize> Set<I, W> {
    /// No id.
    pub const EMPTY: Self = Self { words: [0; W], id: PhantomData };
    /// How many ids fit.
    pub const CAPACITY: usize = W * 64;

    /// One id alone.
    #[must_use]
    pub fn one(id: I) -> Self {
        Self::EMPTY.with(id)
    }

    /// This set and one id more.
    #[must_use]
    pub fn with(mut self, id: I) -> Self {
        self.insert(id);
        self
    }

    /// Puts an id in.
    pub fn insert(&mut self, id: I) {
        let position = id.position();
        if let Some(word) = self.words.get_mut(position / 64) {
            *word |= 1 << (position % 64);
        }
    }

    /// Takes an id out.
    pub fn remove(&mut self, id: I) {
        let position = id.position();
        if let Some(word) = self.words.get_mut(position / 64) {
            *word &= !(1 << (position % 64));
        }
    }

    /// Puts an id in or takes it out.
    pub fn set(&mut self, id: I, present: bool) {
        if present { self.insert(id) } else { self.remove(id) }
    }

    /// Whether an id is in the set.
    #[must_use]
    pub fn contains(&self, id: I) -> bool {
        let position = id.position();
        self.words.get(position / 64).is_some_and(|word| word >> (position % 64) & 1 == 1)
    }

    /// Whether no id is in the set.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.words.iter().all(|word| *word == 0)
    }

    /// How many ids are in the set.
    #[must_use]
    pub fn len(&self) -> usize {
        self.words.iter().map(|word| word.count_ones() as usize).sum()
    }

    /// The ids in one or the other.
    #[must_use]
    pub fn or(mut self, other: Self) -> Self {
        self.words.iter_mut().zip(other.words).for_each(|(mine, theirs)| *mine |= theirs);
        self
    }

    /// The ids in both.
    #[must_use]
    pub fn and(mut self, other: Self) -> Self {
        self.words.iter_mut().zip(other.words).for_each(|(mine, theirs)| *mine &= theirs);
        self
    }

    /// The ids in this one but not in the other.
    #[must_use]
    pub fn minus(mut self, other: Self) -> Self {
        self.words.iter_mut().zip(other.words).for_each(|(mine, theirs)| *mine &= !theirs);
        self
    }

    /// Whether every id of this set is in the other.
    #[must_use]
    pub fn within(self, other: Self) -> bool {
        self.minus(other).is_empty()
    }

    /// Whether the two share an id.
    #[must_use]
    pub fn meets(self, other: Self) -> bool {
        !self.and(other).is_empty()
    }

    /// The lowest id.
    #[must_use]
    pub fn first(self) -> Option<I> {
        let word = self.words.iter().position(|word| *word != 0)?;
        self.words.get(word).map(|bits| I::at(word * 64 + bits.trailing_zeros() as usize))
    }

    /// The first so many ids, as a table gives them.
    #[must_use]
    pub fn up_to(count: usize) -> Self {
        let mut set = Self::EMPTY;
        for (number, word) in set.words.iter_mut().enumerate() {
            let bits = count.saturating_sub(number * 64).min(64) as u32;
            *word = u64::MAX.checked_shr(64 - bits).unwrap_or(0);
        }
        set
    }

    /// The ids in order.
    pub fn iter(self) -> Ids<I, W> {
        Ids { left: self, word: 0 }
    }
}

/// The ids of a set in order.
#[derive(Clone)]
pub struct Ids<I, const W: usize> {
    left: Set<I, W>,
    /// Where the next ones are: before this word none is left.
    word: usize,
}

impl<I: Id, const W: usize> Iterator for Ids<I, W> {
    type Item = I;

    fn next(&mut self) -> Option<I> {
        while let Some(word) = self.left.words.get_mut(self.word) {
            if *word != 0 {
                let bit = word.trailing_zeros() as usize;
                *word &= *word - 1;
                return Some(I::at(self.word * 64 + bit));
            }
            self.word += 1;
        }
        None
    }

    /// A word at a time: most sets are gone through to the end.
    fn fold<B, F: FnMut(B, I) -> B>(self, init: B, mut fold: F) -> B {
        let mut folded = init;
        for (number, mut word) in self.left.words.into_iter().enumerate().skip(self.word) {
            while word != 0 {
                folded = fold(folded, I::at(number * 64 + word.trailing_zeros() as usize));
                word &= word - 1;
            }
        }
        folded
    }
}

impl<I: Id, const W: usize> Default for Set<I, W> {
    fn default() -> Self {
        Self::EMPTY
    }
}

impl<I: Id, const W: usize> FromIterator<I> for Set<I, W> {
    fn from_iter<T: IntoIterator<Item = I>>(ids: T) -> Self {
        ids.into_iter().fold(Self::EMPTY, Self::with)
    }
}

impl<I: Id, const W: usize> std::fmt::Debug for Set<I, W> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_set().entries(self.iter().map(Id::position)).finish()
    }
}
