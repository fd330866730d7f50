//! The only indexing of the crate: tables and fixed rows that are read by a typed id.
//!
//! An id is made by the table that it belongs to, so a row that is not there is a fault of ours.

use std::marker::PhantomData;
use std::ops::{Index, IndexMut};
use std::sync::Arc;

/// A typed position in a table.
pub trait Id: Copy {
    /// The id of a position.
    fn at(position: usize) -> Self;
    /// The position of an id.
    fn position(self) -> usize;
}

/// A unit (one physical box).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UnitId(u8);
/// A port of a unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PortId(u16);
/// A cable that some state or step of the plan knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CableId(u16);
/// An uplink pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UplinkId(u8);
/// A leg of an uplink pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LegId(u8);

/// A number or a serial that a stack can be told of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TicketId(u8);

impl Id for TicketId {
    fn at(position: usize) -> Self {
        Self(position as u8)
    }
    fn position(self) -> usize {
        usize::from(self.0)
    }
}

impl Id for UnitId {
    fn at(position: usize) -> Self {
        Self(position as u8)
    }
    fn position(self) -> usize {
        usize::from(self.0)
    }
}

impl Id for PortId {
    fn at(position: usize) -> Self {
        Self(position as u16)
    }
    fn position(self) -> usize {
        usize::from(self.0)
    }
}

impl Id for CableId {
    fn at(position: usize) -> Self {
        Self(position as u16)
    }
    fn position(self) -> usize {
        usize::from(self.0)
    }
}

impl Id for UplinkId {
    fn at(position: usize) -> Self {
        Self(position as u8)
    }
    fn position(self) -> usize {
        usize::from(self.0)
    }
}

impl Id for LegId {
    fn at(position: usize) -> Self {
        Self(position as u8)
    }
    fn position(self) -> usize {
        usize::from(self.0)
    }
}

/// Rows of any number, read by their id.
#[derive(Clone, Debug, Hash)]
pub struct Table<I, T> {
    rows: Vec<T>,
    id: PhantomData<I>,
}

impl<I: Id, T> Table<I, T> {
    /// A table without rows.
    #[must_use]
    pub const fn new() -> Self {
        Self { rows: Vec::new(), id: PhantomData }
    }

    /// Adds a row and gives its id.
    pub fn push(&mut self, row: T) -> I {
        self.rows.push(row);
        I::at(self.rows.len() - 1)
    }

    /// How many rows there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is no row.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The rows in order.
    pub fn iter(&self) -> std::slice::Iter<'_, T> {
        self.rows.iter()
    }

    /// The ids in order; borrows nothing.
    pub fn ids(&self) -> impl DoubleEndedIterator<Item = I> + use<I, T> {
        (0..self.rows.len()).map(I::at)
    }

    /// Ids and rows in order.
    pub fn entries(&self) -> impl Iterator<Item = (I, &T)> {
        self.rows.iter().enumerate().map(|(position, row)| (I::at(position), row))
    }
}

impl<I: Id, T> Default for Table<I, T> {
    fn default() -> Self {
        Self::new()
    }
}

impl<I: Id, T> Index<I> for Table<I, T> {
    type Output = T;
    #[allow(clippy::indexing_slicing, reason = "the one place of indexing: an id is made by its own table")]
    fn index(&self, id: I) -> &T {
        &self.rows[id.position()]
    }
}

impl<I: Id, T> IndexMut<I> for Table<I, T> {
    #[allow(clippy::indexing_slicing, reason = "the one place of indexing: an id is made by its own table")]
    fn index_mut(&mut self, id: I) -> &mut T {
        &mut self.rows[id.position()]
    }
}

/// Rows of a fixed number, read by their id. Copies share them until one is changed.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Slots<I, T> {
    rows: Arc<[T]>,
    id: PhantomData<I>,
}

impl<I: Id, T: Clone> Slots<I, T> {
    /// So many rows, every one the same.
    #[must_use]
    pub fn filled(row: T, count: usize) -> Self {
        Self { rows: vec![row; count].into(), id: PhantomData }
    }
}

impl<I: Id, T: Copy> Slots<I, T> {
    /// Whether all rows are the same but for what a comparison leaves out: no bit of what it gives for two rows is set.
    pub fn alike(&self, other: &Self, unlike: impl Fn(T, T) -> u8) -> bool {
        let rows = self.rows.iter().zip(other.rows.iter());
        // to the end, whatever was found: so many rows are compared at a time
        Arc::ptr_eq(&self.rows, &other.rows) || rows.fold(0, |found, (one, two)| found | unlike(*one, *two)) == 0
    }

    /// Changes some rows at once.
    #[allow(clippy::indexing_slicing, reason = "the one place of indexing: a state has the rows of its setting")]
    pub fn each(&mut self, ids: &[I], change: impl Fn(T) -> T) {
        let rows = Arc::make_mut(&mut self.rows);
        ids.iter().for_each(|id| rows[id.position()] = change(rows[id.position()]));
    }
}

impl<I: Id, T> Index<I> for Slots<I, T> {
    type Output = T;
    #[allow(clippy::indexing_slicing, reason = "the one place of indexing: a state has the rows of its setting")]
    fn index(&self, id: I) -> &T {
        &self.rows[id.position()]
    }
}

impl<I: Id, T: Clone> IndexMut<I> for Slots<I, T> {
    #[allow(clippy::indexing_slicing, reason = "the one place of indexing: a state has the rows of its setting")]
    fn index_mut(&mut self, id: I) -> &mut T {
        &mut Arc::make_mut(&mut self.rows)[id.position()]
    }
}

/// A value for every unit that a setting can have, without a heap.
#[derive(Clone, Copy, Debug)]
pub struct PerUnit<T>([T; UnitSet::CAPACITY]);

impl<T: Copy> PerUnit<T> {
    /// The same value for every unit.
    #[must_use]
    pub const fn filled(value: T) -> Self {
        Self([value; UnitSet::CAPACITY])
    }
}

impl<T> Index<UnitId> for PerUnit<T> {
    type Output = T;
    #[allow(clippy::indexing_slicing, reason = "the one place of indexing: a set of units holds every unit")]
    fn index(&self, id: UnitId) -> &T {
        &self.0[id.position()]
    }
}

impl<T> IndexMut<UnitId> for PerUnit<T> {
    #[allow(clippy::indexing_slicing, reason = "the one place of indexing: a set of units holds every unit")]
    fn index_mut(&mut self, id: UnitId) -> &mut T {
        &mut self.0[id.position()]
    }
}

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
    pub fn iter(self) -> impl Iterator<Item = I> {
        let mut words = self.words;
        let mut current = 0;
        std::iter::from_fn(move || {
            while let Some(word) = words.get_mut(current) {
                if *word != 0 {
                    let bit = word.trailing_zeros() as usize;
                    *word &= *word - 1;
                    return Some(I::at(current * 64 + bit));
                }
                current += 1;
            }
            None
        })
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
