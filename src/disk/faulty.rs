//! The disk of the machine with a fault at a chosen operation, for tests.

use std::cell::Cell;
use std::io;
use std::path::Path;

use super::{Disk, Kind, Lock, RealDisk};

/// What happens from the chosen operation on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// That operation alone fails with this error.
    Once(io::ErrorKind),
    /// A file is cut off in the middle, and every later operation that needs space fails.
    DiskFull,
    /// That operation and all later ones fail: the process is gone.
    Kill,
}

/// The real disk with one fault.
#[derive(Debug)]
pub(super) struct FaultyDisk {
    pub(super) at: usize,
    pub(super) fault: Fault,
    pub(super) can_exchange: bool,
    pub(super) done: Cell<usize>,
}

impl FaultyDisk {
    pub(super) fn new(at: usize, fault: Fault, can_exchange: bool) -> Self {
        Self { at, fault, can_exchange, done: Cell::new(0) }
    }

    /// Counts an operation, and fails it if its turn has come.
    fn turn(&self, needs_space: bool) -> io::Result<()> {
        let now = self.done.get();
        self.done.set(now + 1);
        match self.fault {
            Fault::Once(kind) if now == self.at => Err(kind.into()),
            Fault::DiskFull if now >= self.at && needs_space => Err(io::ErrorKind::StorageFull.into()),
            Fault::Kill if now >= self.at => Err(io::ErrorKind::Interrupted.into()),
            Fault::Once(_) | Fault::DiskFull | Fault::Kill => Ok(()),
        }
    }
}

impl Disk for FaultyDisk {
    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        self.turn(false).and_then(|()| RealDisk.read(path))
    }
    fn list(&self, folder: &Path) -> io::Result<Vec<(String, Kind)>> {
        self.turn(false).and_then(|()| RealDisk.list(folder))
    }
    fn kind(&self, path: &Path) -> io::Result<Option<Kind>> {
        self.turn(false).and_then(|()| RealDisk.kind(path))
    }
    fn same_file(&self, one: &Path, other: &Path) -> io::Result<bool> {
        self.turn(false).and_then(|()| RealDisk.same_file(one, other))
    }
    fn create_folders(&self, folder: &Path) -> io::Result<()> {
        self.turn(true).and_then(|()| RealDisk.create_folders(folder))
    }
    fn create_folder(&self, folder: &Path, like: Option<&Path>) -> io::Result<()> {
        self.turn(true).and_then(|()| RealDisk.create_folder(folder, like))
    }
    fn write_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        if let Err(error) = self.turn(true) {
            let half = bytes.get(..bytes.len() / 2).unwrap_or_default();
            if self.done.get() == self.at + 1 {
                RealDisk.write_new(path, half)?;
            }
            return Err(error);
        }
        RealDisk.write_new(path, bytes)
    }
    fn lock(&self, path: &Path) -> io::Result<Lock> {
        self.turn(true).and_then(|()| RealDisk.lock(path))
    }
    fn hard_link(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.turn(true).and_then(|()| RealDisk.hard_link(from, to))
    }
    fn exchange(&self, one: &Path, other: &Path) -> io::Result<()> {
        self.turn(false)?;
        if self.can_exchange { RealDisk.exchange(one, other) } else { Err(io::ErrorKind::Unsupported.into()) }
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.turn(false).and_then(|()| RealDisk.rename(from, to))
    }
    fn remove_file(&self, path: &Path) -> io::Result<()> {
        self.turn(false).and_then(|()| RealDisk.remove_file(path))
    }
    fn remove_folder(&self, path: &Path) -> io::Result<()> {
        self.turn(false).and_then(|()| RealDisk.remove_folder(path))
    }
}
