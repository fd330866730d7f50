//! A dialect's files, built in or from a folder -> [`Platform`].

use std::collections::BTreeMap;
use std::sync::OnceLock;

use include_dir::{Dir, include_dir};

use super::manifest::{self, MANIFEST, Manifest};
use super::{Platform, rules, trust};
use crate::diag::{Diagnostic, Findings, Reported, listed};
use crate::source::{Sources, Span, sha256};
use crate::yaml::shape::Shape;
use crate::yaml::{self, Node, Segment, typed};

static BUILT_IN: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/templates");

/// The names of the built-in dialects.
#[must_use]
pub fn builtin_names() -> Vec<&'static str> {
    BUILT_IN.dirs().filter_map(|dir| dir.path().to_str()).collect()
}

/// The built-in dialect of a name. The place is where the name was written.
///
/// # Errors
/// [`Reported`], if there is none of this name.
pub fn builtin(name: &str, place: Span, sources: &mut Sources, findings: &mut Findings) -> Result<Platform, Reported> {
    let Some(dir) = BUILT_IN.get_dir(name) else {
        let names = builtin_names();
        let message =
            format!("`{name}` is not a built-in dialect; {} would be right", listed(names.iter().copied(), "or"));
        let diagnostic = Diagnostic::error(&rules::UNKNOWN_DIALECT, place, message);
        let otherwise = "name a folder as `./…`, relative to this file";
        return Err(findings.error(diagnostic.help_nearest(name, names.iter().copied(), otherwise)));
    };
    let mut files = BTreeMap::new();
    collect(dir, name, &mut files);
    // the shape of what is built in is a test's business, not every run's
    read(files, &format!("{name} (built in)"), false, sources, findings)
}

fn collect(dir: &Dir<'_>, root: &str, files: &mut BTreeMap<String, String>) {
    for file in dir.files() {
        let inside = file.path().strip_prefix(root).ok().and_then(|path| path.to_str());
        if let (Some(path), Some(text)) = (inside, file.contents_utf8()) {
            files.insert(path.to_owned(), text.to_owned());
        }
    }
    dir.dirs().for_each(|inner| collect(inner, root, files));
}

/// The dialect that these files make; `shown` is the folder as messages show it, the place is where it was named.
///
/// # Errors
/// [`Reported`], if they make none.
pub fn load(
    files: BTreeMap<String, String>,
    shown: &str,
    place: Option<Span>,
    sources: &mut Sources,
    findings: &mut Findings,
) -> Result<Platform, Reported> {
    if !files.contains_key(MANIFEST) {
        let message = format!("the dialect `{shown}` has no file `{MANIFEST}`");
        return Err(findings.error(Diagnostic::error(&rules::NO_MANIFEST, place, message)));
    }
    read(files, shown, true, sources, findings)
}

fn read(
    files: BTreeMap<String, String>,
    shown: &str,
    check_shape: bool,
    sources: &mut Sources,
    findings: &mut Findings,
) -> Result<Platform, Reported> {
    static SHAPE: OnceLock<Shape> = OnceLock::new();
    let mark = findings.mark();
    let text = files.get(MANIFEST).cloned().unwrap_or_default();
    let file = sources.add(format!("{shown}/{MANIFEST}"), text);
    let mut tree = yaml::read(sources, file, findings)?;
    let trust = tree.at_mut(&[Segment::Key("platform".to_owned())]).map(|traits| trust::unwrap(traits, findings));
    if check_shape {
        SHAPE.get_or_init(|| Shape::new(manifest::plain_schema())).check(&tree, sources, findings);
    }
    findings.failed_since(mark)?;
    let manifest: Manifest = typed::fill(&tree, findings)?;
    rules::check(&manifest, &tree, findings);
    findings.failed_since(mark)?;
    Ok(platform(manifest, trust.unwrap_or_default(), files))
}

fn platform(manifest: Manifest, trust: BTreeMap<String, super::Trust>, files: BTreeMap<String, String>) -> Platform {
    Platform {
        name: manifest.name.to_string(),
        version: manifest.version.to_string(),
        summary: manifest.summary.to_string(),
        traits: manifest.platform,
        models: manifest.models,
        outputs: manifest.outputs,
        digest: digest(&files),
        files,
        trust,
        checks: manifest.checks,
        unsupported: manifest.unsupported.iter().map(ToString::to_string).collect(),
        silent: manifest.silent.into_iter().map(|(kind, why)| (kind, why.to_string())).collect(),
    }
}

/// Each pair is its path, a zero byte, the content's length in eight bytes, and the content.
fn digest(files: &BTreeMap<String, String>) -> String {
    let lengths: Vec<[u8; 8]> = files.values().map(|content| (content.len() as u64).to_be_bytes()).collect();
    let pairs = files.iter().zip(&lengths);
    sha256(pairs.flat_map(|((path, content), length)| [path.as_bytes(), &[0], length.as_slice(), content.as_bytes()]))
}

/// The place of what stands at the end of a path, or of the nearest thing around it.
pub(super) fn place(tree: &Node, path: &str) -> Span {
    path.split('.').try_fold(tree, |node, key| node.get(key)).map_or(tree.head(), Node::head)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_dialect_has_the_shape_of_one() {
        for name in builtin_names() {
            let (mut sources, mut findings) = (Sources::default(), Findings::default());
            let mut files = BTreeMap::new();
            if let Some(dir) = BUILT_IN.get_dir(name) {
                collect(dir, name, &mut files);
            }
            let loaded = load(files, name, None, &mut sources, &mut findings);
            assert!(loaded.is_ok_and(|platform| platform.name == name), "{findings:?}");
        }
    }

    #[test]
    fn a_digest_tells_apart_where_a_path_ends() {
        let one = BTreeMap::from([("a".to_owned(), "bc".to_owned())]);
        let two = BTreeMap::from([("ab".to_owned(), "c".to_owned())]);
        assert_ne!(digest(&one), digest(&two));
    }
}
