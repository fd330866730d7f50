//! The disk of the machine.

use std::fs;
use std::io;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

use rustix::fs::{CWD, RenameFlags, renameat_with};
use rustix::io::Errno;

use super::{Disk, Kind};

/// The disk of the machine.
#[derive(Clone, Copy, Debug, Default)]
pub struct RealDisk;

impl Disk for RealDisk {
    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        fs::read(path)
    }

    fn list(&self, folder: &Path) -> io::Result<Vec<(String, Kind)>> {
        let mut names = Vec::new();
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            let name = entry.file_name().into_string().map_err(|name| {
                io::Error::new(io::ErrorKind::InvalidData, format!("the name `{}` is not UTF-8", name.display()))
            })?;
            names.push((name, kind_of(entry.file_type()?)));
        }
        names.sort_by(|one, other| one.0.cmp(&other.0));
        Ok(names)
    }

    fn kind(&self, path: &Path) -> io::Result<Option<Kind>> {
        match fs::symlink_metadata(path) {
            Ok(found) => Ok(Some(kind_of(found.file_type()))),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(error),
        }
    }

    fn same_file(&self, one: &Path, other: &Path) -> io::Result<bool> {
        let (one, other) = (fs::symlink_metadata(one)?, fs::symlink_metadata(other)?);
        Ok((one.dev(), one.ino()) == (other.dev(), other.ino()))
    }

    fn create_folders(&self, folder: &Path) -> io::Result<()> {
        fs::create_dir_all(folder)
    }

    fn create_folder(&self, folder: &Path, like: Option<&Path>) -> io::Result<()> {
        fs::create_dir(folder)?;
        match like {
            Some(like) => fs::set_permissions(folder, fs::metadata(like)?.permissions()),
            None => Ok(()),
        }
    }

    fn write_new(&self, path: &Path, bytes: &[u8]) -> io::Result<()> {
        io::Write::write_all(&mut fs::File::create_new(path)?, bytes)
    }

    fn hard_link(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::hard_link(from, to)
    }

    fn exchange(&self, one: &Path, other: &Path) -> io::Result<()> {
        renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE).map_err(|errno| match errno {
            Errno::INVAL | Errno::NOSYS | Errno::OPNOTSUPP => io::ErrorKind::Unsupported.into(),
            other => other.into(),
        })
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        fs::rename(from, to)
    }

    fn lock(&self, path: &Path) -> io::Result<Lock> {
        loop {
            let file = fs::OpenOptions::new().create(true).truncate(false).write(true).open(path)?;
            match file.lock() {
                Ok(()) => {}
                Err(error) if error.kind() == io::ErrorKind::Unsupported => {
                    return Ok(Lock { path: path.to_owned(), _file: None });
                }
                Err(error) => return Err(error),
            }
            // whoever held it before has taken the name away: what is locked then is nobody's
            let (ours, named) = (file.metadata()?, fs::symlink_metadata(path));
            if named.is_ok_and(|named| (named.dev(), named.ino()) == (ours.dev(), ours.ino())) {
                return Ok(Lock { path: path.to_owned(), _file: Some(file) });
            }
        }
    }

    fn remove_file(&self, path: &Path) -> io::Result<()> {
        fs::remove_file(path)
    }

    fn remove_folder(&self, path: &Path) -> io::Result<()> {
        fs::remove_dir(path)
    }
}

/// A name that is held as long as this lives; a process that is killed holds it no longer.
#[derive(Debug)]
pub struct Lock {
    path: PathBuf,
    _file: Option<fs::File>,
}

impl Drop for Lock {
    fn drop(&mut self) {
        // the name goes while it is still held; whoever waits for it notices
        let _ = fs::remove_file(&self.path);
    }
}

fn kind_of(found: fs::FileType) -> Kind {
    if found.is_dir() {
        Kind::Folder
    } else if found.is_file() {
        Kind::File
    } else {
        Kind::Other
    }
}
