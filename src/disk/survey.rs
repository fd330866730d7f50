//! The folder that is there and the bundle that shall be there -> what is ours, what is not, what was edited.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use super::{Disk, DiskCode, DiskError, Kind};
use crate::render::{Bundle, BundleRecord, RECORD_FILE, digest};

/// What stands at a bundle's place.
#[derive(Debug, Default)]
pub(super) struct Survey {
    /// Folders by their path inside, in an order in which they can be made.
    pub(super) folders: Vec<String>,
    /// Files and the like that we did not write.
    pub(super) foreign: Vec<String>,
    /// Files of ours, as we wrote them.
    pub(super) ours: BTreeSet<String>,
    /// Files of ours that a person has edited.
    pub(super) edited: BTreeSet<String>,
    /// Files of ours with the bytes that the new bundle has too.
    pub(super) same: BTreeSet<String>,
}

/// Looks at the folder at a bundle's place.
///
/// # Errors
/// Something that cannot be read, or a record that is none.
pub(super) fn survey(disk: &dyn Disk, place: &Path, bundle: &Bundle) -> Result<Survey, DiskError> {
    let record = record(disk, place)?;
    let mut found = Survey::default();
    let mut open = vec![String::new()];
    while let Some(folder) = open.pop() {
        let at = inside(place, &folder);
        for (name, kind) in disk.list(&at).map_err(DiskError::io("cannot be listed", &at))? {
            let path = if folder.is_empty() { name } else { format!("{folder}/{name}") };
            match kind {
                Kind::Folder => {
                    found.folders.push(path.clone());
                    open.push(path);
                }
                Kind::File => sort_file(disk, place, path, &record, bundle, &mut found)?,
                Kind::Other => found.foreign.push(path),
            }
        }
    }
    Ok(found)
}

fn sort_file(
    disk: &dyn Disk,
    place: &Path,
    path: String,
    record: &BTreeMap<String, String>,
    bundle: &Bundle,
    found: &mut Survey,
) -> Result<(), DiskError> {
    let Some(recorded) = record.get(&path) else {
        found.foreign.push(path);
        return Ok(());
    };
    let at = inside(place, &path);
    let bytes = disk.read(&at).map_err(DiskError::io("cannot be read", &at))?;
    if bundle.files.get(&path) == Some(&bytes) {
        found.same.insert(path.clone());
    }
    let as_written = path == RECORD_FILE || digest(&bytes) == *recorded;
    let group = if as_written { &mut found.ours } else { &mut found.edited };
    group.insert(path);
    Ok(())
}

/// The digests of the files that the bundle at this place was written with; the record itself has none.
fn record(disk: &dyn Disk, place: &Path) -> Result<BTreeMap<String, String>, DiskError> {
    let at = place.join(RECORD_FILE);
    match disk.kind(&at).map_err(DiskError::io("cannot be looked at", &at))? {
        None | Some(Kind::Folder | Kind::Other) => return Ok(BTreeMap::new()),
        Some(Kind::File) => {}
    }
    let bytes = disk.read(&at).map_err(DiskError::io("cannot be read", &at))?;
    let record: BundleRecord = serde_json::from_slice(&bytes).map_err(|error| {
        let message = format!("is not the record of a bundle ({error}); move it away, or write to another folder");
        DiskError::new(DiskCode::RecordUnreadable, &at, message)
    })?;
    let mut files = record.files;
    files.insert(RECORD_FILE.to_owned(), String::new());
    Ok(files)
}

impl Survey {
    /// Refuses what the new bundle may not write over.
    ///
    /// # Errors
    /// A foreign file, folder or link where a file of the bundle goes; an edited file, unless told to.
    pub(super) fn refuse(&self, place: &Path, bundle: &Bundle, overwrite_edited: bool) -> Result<(), DiskError> {
        let foreign: BTreeSet<&str> = self.foreign.iter().chain(&self.folders).map(String::as_str).collect();
        for path in bundle.files.keys() {
            let above = path.match_indices('/').map(|(at, _)| path.split_at(at).0);
            let blocked = above.filter(|folder| self.is_file(folder)).chain(foreign.get(path.as_str()).copied()).next();
            if let Some(blocked) = blocked {
                let message = "is not ours and stands where a file of the bundle goes; move it away";
                return Err(DiskError::new(DiskCode::ForeignFile, &inside(place, blocked), message));
            }
        }
        match self.edited.first() {
            Some(path) if !overwrite_edited => {
                let others = self.edited.len() - 1;
                let more = if others == 0 { String::new() } else { format!(", and {others} more files") };
                let message = format!("was edited since it was written{more}; move it away, or allow overwriting");
                Err(DiskError::new(DiskCode::EditedFile, &inside(place, path), message))
            }
            _ => Ok(()),
        }
    }

    /// Something other than a folder that stays there or was edited into the way.
    fn is_file(&self, path: &str) -> bool {
        self.foreign.iter().any(|foreign| foreign == path)
    }

    /// Whether the bundle stands there already, byte for byte.
    pub(super) fn is_current(&self, bundle: &Bundle) -> bool {
        self.edited.is_empty() && self.ours == self.same && self.same.len() == bundle.files.len()
    }

    /// Folders that hold something that is not ours, or nothing at all: they are kept.
    pub(super) fn kept_folders(&self) -> impl Iterator<Item = &String> {
        self.folders.iter().filter(|folder| {
            let inside = format!("{folder}/");
            let mut files = self.ours.iter().chain(&self.edited);
            let mut rest = self.foreign.iter();
            rest.any(|path| path.starts_with(&inside)) || !files.any(|path| path.starts_with(&inside))
        })
    }
}

/// A path inside a folder.
pub(super) fn inside(folder: &Path, path: &str) -> PathBuf {
    if path.is_empty() { folder.to_owned() } else { folder.join(path) }
}
