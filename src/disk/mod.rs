//! A [`Bundle`](crate::render::Bundle) -> its folder, all or nothing; and the one trait behind which files
//! and folders are, so that every fault of a disk can be tried.
//!
//! Deliberately absent: what the files mean. Nothing here follows a symbolic link inside a bundle's folder.

mod real;
mod standing;
mod survey;
mod tidy;
mod write;

#[cfg(test)]
mod faulty;
#[cfg(test)]
mod tests;

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

pub use real::{Lock, RealDisk};
pub use standing::{held, stands};
pub use write::{Outcome, Written, write_bundle};

/// What stands at a path; a symbolic link is not followed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A regular file.
    File,
    /// A folder.
    Folder,
    /// A symbolic link, a socket, a pipe: something that is never ours.
    Other,
}

/// Files and folders.
pub trait Disk {
    /// The content of a file; a symbolic link is followed.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn read(&self, path: &Path) -> io::Result<Vec<u8>>;

    /// The names in a folder with their kinds, sorted.
    ///
    /// # Errors
    /// Whatever the system reports; a name that is not UTF-8.
    fn list(&self, folder: &Path) -> io::Result<Vec<(String, Kind)>>;

    /// What stands at this path, if anything does.
    ///
    /// # Errors
    /// Whatever the system reports, an absent path aside.
    fn kind(&self, path: &Path) -> io::Result<Option<Kind>>;

    /// Whether two names are one file.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn same_file(&self, one: &Path, other: &Path) -> io::Result<bool>;

    /// Makes a folder that is not there, and those above it that are not there.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn create_folders(&self, folder: &Path) -> io::Result<()>;

    /// Makes a folder that is not there, with the permissions of another if one is named.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn create_folder(&self, folder: &Path, like: Option<&Path>) -> io::Result<()>;

    /// Writes a file that is not there.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn write_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()>;

    /// Gives a file a second name; of a symbolic link, the link itself.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn hard_link(&self, from: &Path, to: &Path) -> io::Result<()>;

    /// Exchanges two folders in one step.
    ///
    /// # Errors
    /// [`io::ErrorKind::Unsupported`] where the file system cannot; whatever else the system reports.
    fn exchange(&self, one: &Path, other: &Path) -> io::Result<()>;

    /// Renames, onto nothing.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;

    /// Waits until no other process holds this name, and holds it; where the file system knows no locks, nothing is held.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn lock(&self, path: &Path) -> io::Result<Lock>;

    /// Removes one name of a file.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn remove_file(&self, path: &Path) -> io::Result<()>;

    /// Removes an empty folder.
    ///
    /// # Errors
    /// Whatever the system reports.
    fn remove_folder(&self, path: &Path) -> io::Result<()>;
}

/// Why a bundle was not written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DiskCode {
    /// The system refused to read or write.
    Io,
    /// The output folder, or a bundle's place in it, is no folder.
    NotAFolder,
    /// Something that is not ours stands where a file of the bundle goes.
    ForeignFile,
    /// A person has edited a file of the bundle that is there.
    EditedFile,
    /// The record of the bundle that is there cannot be read.
    RecordUnreadable,
    /// The bundle's name or a path in it would leave its folder.
    UnsafePath,
}

impl DiskCode {
    /// The code as printed and as looked up.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Io => "output-not-written",
            Self::NotAFolder => "output-not-a-folder",
            Self::ForeignFile => "output-foreign-file",
            Self::EditedFile => "output-edited",
            Self::RecordUnreadable => "output-record-unreadable",
            Self::UnsafePath => "output-unsafe-path",
        }
    }
}

/// Why a bundle was not written; what was there before is still there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DiskError {
    /// The kind of fault.
    pub code: DiskCode,
    /// What was found and what would be right.
    pub message: String,
    /// The file or folder that it is about.
    pub path: PathBuf,
}

impl DiskError {
    fn new(code: DiskCode, path: &Path, message: impl Into<String>) -> Self {
        Self { code, message: message.into(), path: path.to_owned() }
    }

    /// What the system reports while something is done with a path.
    fn io(doing: &str, path: &Path) -> impl FnOnce(io::Error) -> Self {
        let (doing, path) = (doing.to_owned(), path.to_owned());
        move |error| Self { code: DiskCode::Io, message: format!("{doing}: {error}"), path }
    }
}

impl fmt::Display for DiskError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}: {}", self.code.as_str(), self.path.display(), self.message)
    }
}

impl std::error::Error for DiskError {}
