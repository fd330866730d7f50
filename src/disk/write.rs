//! A bundle -> its folder: built beside its place, then exchanged in one step.
//!
//! On any error, a kill included, a whole bundle, old or new, is there; where the file system cannot exchange,
//! the next run puts the old one back. A file that we did not write is never deleted.

use std::collections::BTreeSet;
use std::io;
use std::path::{Path, PathBuf};

use super::survey::{Survey, inside, survey};
use super::tidy::{UNDER_CONSTRUCTION, remove_old, remove_unfinished};
use super::{Disk, DiskCode, DiskError, Kind};
use crate::render::Bundle;

/// What writing did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// The bundle stood there already, byte for byte; nothing was touched.
    Unchanged,
    /// The bundle was written.
    Written,
}

/// A bundle that stands at its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// What writing did.
    pub outcome: Outcome,
    /// The bundle's folder.
    pub place: PathBuf,
    /// Files that people made or edited while the bundle was exchanged: they are kept, beside the place.
    pub kept: Vec<PathBuf>,
    /// What could not be cleared away beside the place; the next run tries again.
    pub left_over: Option<DiskError>,
}

/// Writes a bundle to the folder of its stack's name inside `out`, which is made if it is not there.
///
/// # Errors
/// What stands there is then as it was before: something foreign in the way, a file that a person has edited
/// (unless `overwrite_edited`), or whatever the system reports.
pub fn write_bundle(
    disk: &dyn Disk,
    out: &Path,
    bundle: &Bundle,
    overwrite_edited: bool,
) -> Result<Written, DiskError> {
    let place = prepared_place(disk, out, bundle)?;
    let beside = Beside::of(out, &bundle.stack);
    // another run may write the same stack: one after the other
    let _turn = disk.lock(&beside.lock).map_err(DiskError::io("cannot be locked", &beside.lock))?;
    let mut kept = beside.repair(disk, &place)?;
    let standing = disk.kind(&place).map_err(DiskError::io("cannot be looked at", &place))?;
    let found = match standing {
        None => Survey::default(),
        Some(Kind::Folder) => survey(disk, &place, bundle)?,
        Some(Kind::File | Kind::Other) => {
            let message = "is not a folder; the bundle goes into a folder of this name";
            return Err(DiskError::new(DiskCode::NotAFolder, &place, message));
        }
    };
    found.refuse(&place, bundle, overwrite_edited)?;
    if standing.is_some() && found.is_current(bundle) {
        return Ok(Written { outcome: Outcome::Unchanged, place, kept, left_over: None });
    }
    let old = standing.is_some().then_some(place.as_path());
    let built = build(disk, &beside.new, old, &found, bundle).and_then(|()| beside.put(disk, &place, old.is_some()));
    let leftover = match built {
        Ok(leftover) => leftover,
        Err(fault) => {
            // best effort: what stays is cleared away by the next run
            let _ = beside.abandon(disk);
            return Err(fault);
        }
    };
    let mut left_over = None;
    if let Some(leftover) = leftover {
        match remove_old(disk, &leftover, &place, &found.edited) {
            Ok(more) => kept.extend(set_aside(disk, &beside, &leftover, more)),
            Err(fault) => left_over = Some(fault),
        }
    }
    Ok(Written { outcome: Outcome::Written, place, kept, left_over })
}

/// Makes the output folder and names the bundle's place in it.
fn prepared_place(disk: &dyn Disk, out: &Path, bundle: &Bundle) -> Result<PathBuf, DiskError> {
    let plain = |part: &str| !matches!(part, "" | "." | "..") && !part.contains(['\\', '\0']);
    let unsafe_path =
        |path: &str| DiskError::new(DiskCode::UnsafePath, Path::new(path), "would leave the bundle's folder");
    if !plain(&bundle.stack) || bundle.stack.contains('/') || bundle.stack.starts_with('.') {
        return Err(unsafe_path(&bundle.stack));
    }
    if let Some(bad) = bundle.files.keys().find(|path| !path.split('/').all(plain) || *path == UNDER_CONSTRUCTION) {
        return Err(unsafe_path(bad));
    }
    disk.create_folders(out).map_err(|error| match error.kind() {
        io::ErrorKind::AlreadyExists | io::ErrorKind::NotADirectory => {
            DiskError::new(DiskCode::NotAFolder, out, "is not a folder; the output goes into a folder")
        }
        _ => DiskError::io("cannot be made", out)(error),
    })?;
    Ok(out.join(&bundle.stack))
}

/// Builds the new folder: what is not ours by a second name, what is ours anew.
fn build(disk: &dyn Disk, new: &Path, old: Option<&Path>, found: &Survey, bundle: &Bundle) -> Result<(), DiskError> {
    let made = |path: &Path, result: io::Result<()>| result.map_err(DiskError::io("cannot be written", path));
    made(new, disk.create_folder(new, old))?;
    let mark = new.join(UNDER_CONSTRUCTION);
    made(&mark, disk.write_new(&mark, b""))?;
    let mut folders = BTreeSet::new();
    let mut need = |folder: &str| -> Result<(), DiskError> {
        if !folders.insert(folder.to_owned()) {
            return Ok(());
        }
        let like = old.map(|old| inside(old, folder)).filter(|_| found.folders.iter().any(|known| known == folder));
        let at = inside(new, folder);
        made(&at, disk.create_folder(&at, like.as_deref()))
    };
    for folder in found.kept_folders() {
        folders_above(folder).chain([folder.as_str()]).try_for_each(&mut need)?;
    }
    for path in &found.foreign {
        folders_above(path).try_for_each(&mut need)?;
        let Some(from) = old.map(|old| inside(old, path)) else { continue };
        disk.hard_link(&from, &inside(new, path)).map_err(DiskError::io("cannot be given a second name", &from))?;
    }
    for (path, bytes) in &bundle.files {
        folders_above(path).try_for_each(&mut need)?;
        let at = inside(new, path);
        made(&at, disk.write_new(&at, bytes))?;
    }
    disk.remove_file(&mark).map_err(DiskError::io("cannot be removed", &mark))
}

fn folders_above(path: &str) -> impl Iterator<Item = &str> {
    path.match_indices('/').map(|(at, _)| path.split_at(at).0)
}

/// The names that a run uses beside a bundle's place. No stack's name begins with a dot.
struct Beside {
    new: PathBuf,
    away: PathBuf,
    aside: PathBuf,
    lock: PathBuf,
}

impl Beside {
    fn of(out: &Path, stack: &str) -> Self {
        let name = |what: &str| out.join(format!(".{stack}.{what}"));
        Self { new: name("new"), away: name("old"), aside: name("kept"), lock: name("lock") }
    }

    /// Clears away what a killed run left, and puts the old bundle back if its place is empty.
    fn repair(&self, disk: &dyn Disk, place: &Path) -> Result<Vec<PathBuf>, DiskError> {
        let stands = |path: &Path| disk.kind(path).map_err(DiskError::io("cannot be looked at", path));
        if stands(&self.away)?.is_some() && stands(place)?.is_none() {
            disk.rename(&self.away, place).map_err(DiskError::io("cannot be put back", &self.away))?;
        }
        let mut kept = Vec::new();
        for leftover in [&self.new, &self.away] {
            if stands(leftover)?.is_none() {
                continue;
            }
            let mark = leftover.join(UNDER_CONSTRUCTION);
            let empty = disk.list(leftover).map_err(DiskError::io("cannot be listed", leftover))?.is_empty();
            if empty || stands(&mark)?.is_some() {
                remove_unfinished(disk, leftover)?;
            } else {
                let more = remove_old(disk, leftover, place, &BTreeSet::new())?;
                kept.extend(set_aside(disk, self, leftover, more));
            }
        }
        Ok(kept)
    }

    /// Puts the new folder at its place; gives back where the old one is now.
    fn put(&self, disk: &dyn Disk, place: &Path, exchange: bool) -> Result<Option<PathBuf>, DiskError> {
        if !exchange {
            disk.rename(&self.new, place).map_err(DiskError::io("cannot be put at its place", place))?;
            return Ok(None);
        }
        match disk.exchange(&self.new, place) {
            Ok(()) => Ok(Some(self.new.clone())),
            Err(error) if error.kind() == io::ErrorKind::Unsupported => {
                disk.rename(place, &self.away).map_err(DiskError::io("cannot be moved away", place))?;
                if let Err(error) = disk.rename(&self.new, place) {
                    // if this fails too, the next run does it
                    let _ = disk.rename(&self.away, place);
                    return Err(DiskError::io("cannot be put at its place", place)(error));
                }
                Ok(Some(self.away.clone()))
            }
            Err(error) => Err(DiskError::io("cannot be exchanged", place)(error)),
        }
    }

    /// Clears away what was built in vain. Its files are ours or second names, so all of it may go.
    fn abandon(&self, disk: &dyn Disk) -> Result<(), DiskError> {
        match disk.kind(&self.new).map_err(DiskError::io("cannot be looked at", &self.new))? {
            Some(Kind::Folder) => remove_unfinished(disk, &self.new),
            Some(Kind::File | Kind::Other) | None => Ok(()),
        }
    }
}

/// Moves an old folder with files that people made meanwhile to a name that no run clears away.
fn set_aside(disk: &dyn Disk, beside: &Beside, leftover: &Path, kept: Vec<PathBuf>) -> Vec<PathBuf> {
    if kept.is_empty() {
        return kept;
    }
    let name = |number: usize| PathBuf::from(format!("{}-{number}", beside.aside.display()));
    let free = (1..1000).map(name).find(|path| matches!(disk.kind(path), Ok(None)));
    match free {
        Some(aside) if disk.rename(leftover, &aside).is_ok() => kept
            .iter()
            .map(|path| path.strip_prefix(leftover).map_or_else(|_| path.clone(), |rest| aside.join(rest)))
            .collect(),
        _ => kept,
    }
}
