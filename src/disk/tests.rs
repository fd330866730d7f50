//! Whole bundles on a real disk, with a fault at every operation.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};
use std::path::Path;

use super::faulty::{Fault, FaultyDisk};
use super::*;
use crate::render::{Bundle, BundleRecord, DialectRecord, RECORD_FILE, digest};

fn bundle(files: &[(&str, &str)]) -> Bundle {
    let mut all: BTreeMap<String, Vec<u8>> =
        files.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect();
    let dialect = DialectRecord { name: "neutral".into(), version: "0.1.0".into(), digest: "sha256:d".into() };
    let record = BundleRecord {
        format: 1,
        stack: "ferry-core".into(),
        compiler: "ringwright".into(),
        dialect,
        inputs: BTreeMap::new(),
        files: all.iter().map(|(path, bytes)| (path.clone(), digest(bytes))).collect(),
    };
    all.insert(RECORD_FILE.into(), serde_json::to_vec(&record).unwrap());
    Bundle { stack: "ferry-core".into(), files: all, record, opens_with: None }
}

fn old() -> Bundle {
    bundle(&[
        ("runbook.md", "old"),
        ("change/10-save.txt", "old"),
        ("change/20-gone.txt", "old"),
        ("gone/1.txt", "old"),
    ])
}

fn new() -> Bundle {
    bundle(&[("runbook.md", "new"), ("change/10-save.txt", "new"), ("bootstrap/ramp-3/10.txt", "new")])
}

/// Every file below a folder with its text; `->` for a link; `/` for an empty folder.
fn tree(folder: &Path) -> BTreeMap<String, String> {
    let mut found = BTreeMap::new();
    collect(folder, "", &mut found);
    found
}

fn collect(folder: &Path, prefix: &str, found: &mut BTreeMap<String, String>) {
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        let name = format!("{prefix}{}", entry.file_name().to_str().unwrap());
        let kind = entry.file_type().unwrap();
        if kind.is_dir() {
            found.insert(format!("{name}/"), String::new());
            collect(&entry.path(), &format!("{name}/"), found);
        } else if kind.is_symlink() {
            found.insert(name, format!("-> {}", fs::read_link(entry.path()).unwrap().display()));
        } else {
            found.insert(name, fs::read_to_string(entry.path()).unwrap());
        }
    }
}

/// The same without folders, and without what is not ours.
fn files_of(bundle: &Bundle) -> BTreeMap<String, String> {
    bundle.files.iter().map(|(path, bytes)| (path.clone(), String::from_utf8(bytes.clone()).unwrap())).collect()
}

fn files(folder: &Path) -> BTreeMap<String, String> {
    tree(folder).into_iter().filter(|(path, _)| !path.ends_with('/')).collect()
}

struct Out {
    root: tempfile::TempDir,
}

impl Out {
    /// In memory where the machine has such a folder: thousands of small files are made and removed.
    fn empty() -> Self {
        let memory = Path::new("/dev/shm");
        let root = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
        Self { root: root.unwrap() }
    }

    /// With the old bundle and things of people's own.
    fn lived_in() -> Self {
        let out = Self::empty();
        write_bundle(&RealDisk, out.path(), &old(), false).unwrap();
        let place = out.place();
        fs::write(place.join("notes.md"), "mine").unwrap();
        fs::write(place.join("change/remark.txt"), "mine").unwrap();
        fs::create_dir_all(place.join("photos/empty")).unwrap();
        fs::write(place.join("photos/rack.txt"), "mine").unwrap();
        symlink("/nowhere/at/all", place.join("photos/link")).unwrap();
        out
    }

    fn path(&self) -> &Path {
        self.root.path()
    }

    fn place(&self) -> PathBuf {
        self.path().join("ferry-core")
    }

    fn beside(&self) -> Vec<String> {
        RealDisk
            .list(self.path())
            .unwrap()
            .into_iter()
            .map(|(name, _)| name)
            .filter(|name| name != "ferry-core")
            .collect()
    }
}

fn with_peoples_files(bundle: &Bundle) -> BTreeMap<String, String> {
    let mut files = files_of(bundle);
    for path in ["notes.md", "change/remark.txt", "photos/rack.txt"] {
        files.insert(path.into(), "mine".into());
    }
    files.insert("photos/link".into(), "-> /nowhere/at/all".into());
    files
}

#[test]
fn a_first_bundle_is_written_and_a_second_run_touches_nothing() {
    let out = Out::empty();
    let deep = out.path().join("a/b");
    let written = write_bundle(&RealDisk, &deep, &new(), false).unwrap();
    assert_eq!((written.outcome, written.kept.len(), written.left_over), (Outcome::Written, 0, None));
    assert_eq!(files(&written.place), files_of(&new()));
    let before = fs::metadata(&written.place).unwrap().ino();
    let again = write_bundle(&RealDisk, &deep, &new(), false).unwrap();
    assert_eq!(again.outcome, Outcome::Unchanged);
    assert_eq!(fs::metadata(&written.place).unwrap().ino(), before);
}

#[test]
fn what_is_not_ours_stays_and_what_is_stale_goes() {
    let out = Out::lived_in();
    let note = fs::metadata(out.place().join("notes.md")).unwrap().ino();
    fs::set_permissions(out.place().join("photos"), fs::Permissions::from_mode(0o750)).unwrap();
    let written = write_bundle(&RealDisk, out.path(), &new(), false).unwrap();
    assert_eq!(written.outcome, Outcome::Written);
    assert_eq!(files(&out.place()), with_peoples_files(&new()));
    let folders: Vec<String> = tree(&out.place()).into_keys().filter(|path| path.ends_with('/')).collect();
    assert_eq!(folders, ["bootstrap/", "bootstrap/ramp-3/", "change/", "photos/", "photos/empty/"]);
    assert_eq!(fs::metadata(out.place().join("notes.md")).unwrap().ino(), note);
    assert_eq!(fs::metadata(out.place().join("photos")).unwrap().permissions().mode() & 0o777, 0o750);
    assert!(out.beside().is_empty(), "{:?}", out.beside());
}

#[test]
fn an_edited_file_is_only_overwritten_by_order() {
    for path in ["change/10-save.txt", "change/20-gone.txt"] {
        let out = Out::lived_in();
        fs::write(out.place().join(path), "edited").unwrap();
        let before = tree(&out.place());
        let fault = write_bundle(&RealDisk, out.path(), &new(), false).unwrap_err();
        assert_eq!((fault.code, fault.path), (DiskCode::EditedFile, out.place().join(path)));
        assert_eq!(tree(&out.place()), before);
        let written = write_bundle(&RealDisk, out.path(), &new(), true).unwrap();
        assert_eq!(files(&out.place()), with_peoples_files(&new()));
        assert_eq!((written.kept.len(), written.left_over), (0, None));
        assert!(out.beside().is_empty(), "{:?}", out.beside());
    }
}

#[test]
fn a_deleted_file_of_ours_comes_back() {
    let out = Out::empty();
    write_bundle(&RealDisk, out.path(), &new(), false).unwrap();
    fs::remove_file(out.place().join("runbook.md")).unwrap();
    assert_eq!(write_bundle(&RealDisk, out.path(), &new(), false).unwrap().outcome, Outcome::Written);
    assert_eq!(files(&out.place()), files_of(&new()));
}

#[test]
fn something_foreign_in_the_way_is_refused() {
    type Make = fn(&Path);
    let ways: [(&str, Make); 6] = [
        ("bootstrap/ramp-3/10.txt", |at| {
            fs::create_dir_all(at.parent().unwrap()).unwrap();
            fs::write(at, "mine").unwrap();
        }),
        ("bootstrap/ramp-3/10.txt", |at| fs::create_dir_all(at).unwrap()),
        ("bootstrap/ramp-3", |at| {
            fs::create_dir_all(at.parent().unwrap()).unwrap();
            fs::write(at, "mine").unwrap();
        }),
        ("bootstrap", |at| symlink("/tmp", at).unwrap()),
        ("runbook.md", |at| {
            fs::remove_file(at).unwrap();
            symlink("/etc/hostname", at).unwrap();
        }),
        ("runbook.md", |at| {
            fs::remove_file(at).unwrap();
            fs::create_dir(at).unwrap();
        }),
    ];
    for (path, make) in ways {
        let out = Out::lived_in();
        make(&out.place().join(path));
        let before = tree(&out.place());
        let fault = write_bundle(&RealDisk, out.path(), &new(), true).unwrap_err();
        assert_eq!((fault.code, fault.path), (DiskCode::ForeignFile, out.place().join(path)));
        assert_eq!(tree(&out.place()), before);
        assert!(out.beside().is_empty());
    }
}

#[test]
fn a_place_that_is_no_folder_is_refused() {
    let out = Out::empty();
    fs::write(out.path().join("file"), "x").unwrap();
    for bad in ["file", "file/below"] {
        assert_eq!(
            write_bundle(&RealDisk, &out.path().join(bad), &new(), true).unwrap_err().code,
            DiskCode::NotAFolder
        );
    }
    fs::write(out.place(), "x").unwrap();
    assert_eq!(write_bundle(&RealDisk, out.path(), &new(), true).unwrap_err().code, DiskCode::NotAFolder);
    fs::remove_file(out.place()).unwrap();
    symlink(out.path(), out.place()).unwrap();
    assert_eq!(write_bundle(&RealDisk, out.path(), &new(), true).unwrap_err().code, DiskCode::NotAFolder);
}

#[test]
fn a_record_that_is_none_is_refused() {
    let out = Out::lived_in();
    fs::write(out.place().join(RECORD_FILE), "{}").unwrap();
    let fault = write_bundle(&RealDisk, out.path(), &new(), true).unwrap_err();
    assert_eq!(fault.code, DiskCode::RecordUnreadable);
}

#[test]
fn names_that_leave_the_folder_are_refused() {
    let out = Out::empty();
    for bad in ["../x", "a/../x", "/x", "a//b", ".under-construction"] {
        let fault = write_bundle(&RealDisk, out.path(), &bundle(&[(bad, "x")]), true).unwrap_err();
        assert_eq!(fault.code, DiskCode::UnsafePath, "{bad}");
    }
    for bad in ["", "..", "a/b", ".hidden"] {
        let bundle = Bundle { stack: bad.into(), ..new() };
        assert_eq!(write_bundle(&RealDisk, out.path(), &bundle, true).unwrap_err().code, DiskCode::UnsafePath, "{bad}");
    }
}

/// After a fault at every operation in turn, the folder is the old bundle or the new one, people's files included;
/// and the next run brings the new one and leaves nothing beside it.
fn tried_at_every_operation(fault: Fault, can_exchange: bool, edited: bool) {
    for at in 0.. {
        let out = Out::lived_in();
        let mut before = with_peoples_files(&old());
        if edited {
            fs::write(out.place().join("runbook.md"), "edited").unwrap();
            before.insert("runbook.md".into(), "edited".into());
        }
        let disk = FaultyDisk::new(at, fault, can_exchange);
        let result = write_bundle(&disk, out.path(), &new(), true);
        let what = format!("{fault:?} at operation {at}, exchange {can_exchange}: {result:?}");
        let killed_between_renames = fault == Fault::Kill && !can_exchange && !out.place().exists();
        if !killed_between_renames {
            let now = files(&out.place());
            assert!(now == before || now == with_peoples_files(&new()), "{what}: {now:#?}");
            assert!(result.is_err() || now == with_peoples_files(&new()), "{what}: {now:#?}");
            assert!(result.is_ok() || now == before, "{what}: {now:#?}");
        }
        write_bundle(&RealDisk, out.path(), &old(), true).unwrap_or_else(|fault| panic!("{what}: {fault}"));
        let repaired = write_bundle(&RealDisk, out.path(), &new(), true).unwrap();
        assert_eq!(files(&out.place()), with_peoples_files(&new()), "{what}");
        let beside: Vec<String> =
            out.beside().into_iter().filter(|name| !(edited && name.ends_with(".kept-1"))).collect();
        assert!(beside.is_empty() && repaired.left_over.is_none(), "{what}: {beside:?}");
        if disk.done.get() <= at {
            assert!(at > 20, "only {at} operations");
            return;
        }
    }
}

#[test]
fn a_fault_at_any_operation_leaves_a_whole_bundle() {
    for can_exchange in [true, false] {
        tried_at_every_operation(Fault::Once(io::ErrorKind::PermissionDenied), can_exchange, false);
        tried_at_every_operation(Fault::DiskFull, can_exchange, false);
    }
}

#[test]
fn a_kill_at_any_operation_leaves_a_whole_bundle_or_the_next_run_repairs() {
    for can_exchange in [true, false] {
        tried_at_every_operation(Fault::Kill, can_exchange, false);
        tried_at_every_operation(Fault::Kill, can_exchange, true);
    }
}

#[test]
fn a_file_that_comes_in_during_the_exchange_is_kept() {
    let out = Out::lived_in();
    write_bundle(&RealDisk, out.path(), &new(), false).unwrap();
    // what a killed run leaves after the exchange: the old bundle under the other name, a newcomer in it
    let leftover = out.path().join(".ferry-core.new");
    let other = Out::lived_in();
    fs::rename(other.place(), &leftover).unwrap();
    for (path, text) in [("late.txt", "late"), ("runbook.md", "edited late")] {
        fs::write(leftover.join(path), text).unwrap();
    }
    let written = write_bundle(&RealDisk, out.path(), &old(), false).unwrap();
    let kept: Vec<String> = written.kept.iter().map(|path| fs::read_to_string(path).unwrap_or_default()).collect();
    assert!(kept.contains(&"late".to_owned()) && kept.contains(&"edited late".to_owned()), "{kept:?}");
    assert_eq!(out.beside(), [".ferry-core.kept-1"]);
    assert_eq!(files(&out.place()), with_peoples_files(&old()));
}
