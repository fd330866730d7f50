//! The only indexing of the crate: tables and fixed rows that are read by a typed id.
//!
//! An id is made by the table that it belongs to, so a row that is not there is a fault of ours.

use std::marker::PhantomData;
use std::ops::{Index, IndexMut};
use std::sync::Arc;

pub use super::set::{CableSet, LegSet, Set, TicketSet, UnitSet, UplinkSet};

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
