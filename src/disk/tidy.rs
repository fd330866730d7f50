//! What a run leaves beside a bundle's place -> nothing, and never a person's file lost.
//!
//! Beside the place stands, during a run, a folder under construction; after the exchange it is the old bundle.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use super::survey::inside;
use super::{Disk, DiskError, Kind};
use crate::render::{BundleRecord, RECORD_FILE, digest};

/// Stands in a folder that is still under construction: everything in it is ours, or a second name.
pub(super) const UNDER_CONSTRUCTION: &str = ".under-construction";

/// Removes a folder under construction, whatever it holds: files that we have just written, and second names.
///
/// # Errors
/// Whatever the system reports.
pub(super) fn remove_unfinished(disk: &dyn Disk, folder: &Path) -> Result<(), DiskError> {
    for (name, kind) in disk.list(folder).map_err(DiskError::io("cannot be listed", folder))? {
        let path = folder.join(&name);
        match kind {
            Kind::Folder => remove_unfinished(disk, &path)?,
            // the mark goes last, so that a kill in between leaves it
            Kind::File if name == UNDER_CONSTRUCTION => {}
            Kind::File | Kind::Other => disk.remove_file(&path).map_err(DiskError::io("cannot be removed", &path))?,
        }
    }
    let mark = folder.join(UNDER_CONSTRUCTION);
    if disk.kind(&mark).map_err(DiskError::io("cannot be looked at", &mark))?.is_some() {
        disk.remove_file(&mark).map_err(DiskError::io("cannot be removed", &mark))?;
    }
    disk.remove_folder(folder).map_err(DiskError::io("cannot be removed", folder))
}

/// Removes an old bundle: files of ours as we wrote them or as `overwritten` names them, and second names of
/// files that stand in `place`. Gives back what it kept: files that came in or were edited meanwhile.
///
/// # Errors
/// Whatever the system reports.
pub(super) fn remove_old(
    disk: &dyn Disk,
    folder: &Path,
    place: &Path,
    overwritten: &BTreeSet<String>,
) -> Result<Vec<PathBuf>, DiskError> {
    let at = folder.join(RECORD_FILE);
    let record = match disk.kind(&at).map_err(DiskError::io("cannot be looked at", &at))? {
        Some(Kind::File) => {
            let bytes = disk.read(&at).map_err(DiskError::io("cannot be read", &at))?;
            serde_json::from_slice::<BundleRecord>(&bytes).ok()
        }
        Some(Kind::Folder | Kind::Other) | None => None,
    };
    let old = Old { disk, folder, place, overwritten, record };
    let mut kept = Vec::new();
    old.remove_in("", &mut kept)?;
    // the record goes last: without it nobody could tell what is ours
    if kept.is_empty() {
        if old.record.is_some() {
            disk.remove_file(&at).map_err(DiskError::io("cannot be removed", &at))?;
        }
        disk.remove_folder(folder).map_err(DiskError::io("cannot be removed", folder))?;
    }
    Ok(kept)
}

struct Old<'a> {
    disk: &'a dyn Disk,
    folder: &'a Path,
    place: &'a Path,
    overwritten: &'a BTreeSet<String>,
    record: Option<BundleRecord>,
}

impl Old<'_> {
    fn remove_in(&self, under: &str, kept: &mut Vec<PathBuf>) -> Result<(), DiskError> {
        let folder = inside(self.folder, under);
        for (name, kind) in self.disk.list(&folder).map_err(DiskError::io("cannot be listed", &folder))? {
            let path = if under.is_empty() { name } else { format!("{under}/{name}") };
            let at = inside(self.folder, &path);
            let cannot = |error| DiskError::io("cannot be removed", &at)(error);
            match kind {
                Kind::Folder => {
                    let before = kept.len();
                    self.remove_in(&path, kept)?;
                    if kept.len() == before {
                        self.disk.remove_folder(&at).map_err(cannot)?;
                    }
                }
                Kind::File if path == RECORD_FILE && self.record.is_some() => {}
                Kind::File | Kind::Other if self.may_go(&path, kind)? => self.disk.remove_file(&at).map_err(cannot)?,
                Kind::File | Kind::Other => kept.push(at),
            }
        }
        Ok(())
    }

    /// Ours as we wrote it, ours by order, or a second name of what stands in the place.
    fn may_go(&self, path: &str, kind: Kind) -> Result<bool, DiskError> {
        let (here, there) = (inside(self.folder, path), inside(self.place, path));
        let stands = self.disk.kind(&there).map_err(DiskError::io("cannot be looked at", &there))?;
        if stands == Some(kind)
            && self.disk.same_file(&here, &there).map_err(DiskError::io("cannot be compared", &here))?
        {
            return Ok(true);
        }
        let recorded = self.record.as_ref().and_then(|record| record.files.get(path));
        let Some(recorded) = recorded.filter(|_| kind == Kind::File) else { return Ok(false) };
        let bytes = self.disk.read(&here).map_err(DiskError::io("cannot be read", &here))?;
        Ok(self.overwritten.contains(path) || digest(&bytes) == *recorded)
    }
}
