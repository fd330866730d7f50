//! A dialect's folder -> its files by their paths inside, and nothing that a link has outside it.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use super::open::{CANNOT_READ, DIALECT_OUTSIDE, DIALECT_TOO_BIG, Reader};
use crate::diag::{Diagnostic, Reported};
use crate::source::Span;

const MAX_FILES: usize = 1000;
const MAX_TOTAL: usize = 16 << 20;
const MAX_DEPTH: usize = 8;

/// Every file in a folder.
///
/// # Errors
/// [`Reported`], if one cannot be read, lies outside, or they are too many.
pub(super) fn read(
    reader: &mut Reader,
    folder: &Path,
    place: Option<Span>,
) -> Result<BTreeMap<String, String>, Reported> {
    let mut files = BTreeMap::new();
    let mut walk = Walk { reader, place, root: folder, files: &mut files, total: 0 };
    walk.folder(folder, 0)?;
    Ok(files)
}

/// Reads a dialect's folder, and nothing that a link has outside it.
struct Walk<'a> {
    reader: &'a mut Reader,
    place: Option<Span>,
    root: &'a Path,
    files: &'a mut BTreeMap<String, String>,
    total: usize,
}

impl Walk<'_> {
    fn folder(&mut self, folder: &Path, depth: usize) -> Result<(), Reported> {
        let entries = fs::read_dir(folder).and_then(Iterator::collect::<std::io::Result<Vec<_>>>);
        let mut paths: Vec<PathBuf> = match entries {
            Ok(entries) => entries.into_iter().map(|entry| entry.path()).collect(),
            Err(error) => return Err(self.reader.cannot_read(folder, self.place, &error)),
        };
        paths.retain(|path| path.file_name().is_some_and(|name| !name.to_string_lossy().starts_with('.')));
        paths.sort();
        for path in paths {
            let real = fs::canonicalize(&path).map_err(|error| self.reader.cannot_read(&path, self.place, &error))?;
            if !real.starts_with(self.root) {
                let message = format!("`{}` leads out of the dialect's folder", path.display());
                return Err(self.reader.findings.error(Diagnostic::error(&DIALECT_OUTSIDE, self.place, message)));
            }
            if !real.is_dir() && !real.is_file() {
                let message = format!("`{}` is neither a file nor a folder", path.display());
                return Err(self.reader.findings.error(Diagnostic::error(&CANNOT_READ, self.place, message)));
            }
            if real.is_dir() && depth < MAX_DEPTH {
                self.folder(&path, depth + 1)?;
            } else {
                self.file(&path)?;
            }
        }
        Ok(())
    }

    fn file(&mut self, path: &Path) -> Result<(), Reported> {
        let text = self.reader.text(path, self.place, MAX_TOTAL)?;
        self.total += text.len();
        if self.total > MAX_TOTAL || self.files.len() >= MAX_FILES {
            let message = "the dialect's folder holds more than 1000 files or 16 MiB";
            return Err(self.reader.findings.error(Diagnostic::error(&DIALECT_TOO_BIG, self.place, message)));
        }
        let inside = path.strip_prefix(self.root).unwrap_or(path);
        let parts: Vec<_> = inside.components().map(|part| part.as_os_str().to_string_lossy()).collect();
        self.files.insert(parts.join("/"), text);
        Ok(())
    }
}
