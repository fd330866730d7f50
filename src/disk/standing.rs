//! What a bundle's folder holds -> whether it stands as it was written, and its files, to be compared.
//!
//! Nothing is written here.

use std::collections::BTreeMap;
use std::path::Path;

use super::survey::inside;
use super::{Disk, DiskError, Kind};
use crate::render::{BundleRecord, RECORD_FILE, digest};

/// Whether the bundle at this place was made from these inputs by this compiler, and each of its files is as it was
/// written.
#[must_use]
pub fn stands(disk: &dyn Disk, place: &Path, compiler: &str, inputs: &BTreeMap<String, String>) -> bool {
    let Ok(bytes) = disk.read(&place.join(RECORD_FILE)) else { return false };
    let Ok(record) = serde_json::from_slice::<BundleRecord>(&bytes) else { return false };
    let as_written = |(path, written): (&String, &String)| {
        is_inside(path) && disk.read(&inside(place, path)).is_ok_and(|bytes| digest(&bytes) == *written)
    };
    record.compiler == compiler && record.inputs == *inputs && record.files.iter().all(as_written)
}

/// The files of the bundle at this place, as they are: those that its record names, and those of these names.
///
/// # Errors
/// A file that is there and cannot be read.
pub fn held(
    disk: &dyn Disk,
    place: &Path,
    names: impl Iterator<Item = String>,
) -> Result<BTreeMap<String, Vec<u8>>, DiskError> {
    let record = disk.read(&place.join(RECORD_FILE)).ok();
    let record = record.and_then(|bytes| serde_json::from_slice::<BundleRecord>(&bytes).ok());
    let recorded = record.into_iter().flat_map(|record| record.files.into_keys());
    let mut files = BTreeMap::new();
    for path in names.chain(recorded).filter(|path| is_inside(path)) {
        let at = inside(place, &path);
        if disk.kind(&at).map_err(DiskError::io("cannot be looked at", &at))? == Some(Kind::File) {
            files.insert(path, disk.read(&at).map_err(DiskError::io("cannot be read", &at))?);
        }
    }
    Ok(files)
}

/// Whether a path that a record names stays in the record's folder.
fn is_inside(path: &str) -> bool {
    path.split('/').all(|part| !matches!(part, "" | "." | ".."))
}
