//! A dialect's files, built in or from a folder, with those of the dialects that it extends -> [`Platform`].
//!
//! A [`Layer`] is one folder. Whoever can read folders walks from a layer to the one that it extends, since only
//! they know where that lies; [`assemble`] lays them on each other. Golden cases (`tests/`) are no part of what is
//! rendered: they count neither for the digest nor for a dialect that extends this one.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use include_dir::{Dir, include_dir};

use super::extend::lay_on;
use super::manifest::{self, MANIFEST, Manifest};
use super::{Platform, Trust, rules, trust};
use crate::diag::{Diagnostic, Findings, Reported, listed};
use crate::source::{FileId, Sources, Span, sha256};
use crate::yaml::shape::Shape;
use crate::yaml::{self, Data, Node, Segment, typed};

static BUILT_IN: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/templates");

/// The folder of golden cases inside a dialect's.
pub const CASES: &str = "tests/";

/// How many dialects may lie on each other.
pub const MAX_LAYERS: usize = 8;

/// The names of the built-in dialects.
#[must_use]
pub fn builtin_names() -> Vec<&'static str> {
    BUILT_IN.dirs().filter_map(|dir| dir.path().to_str()).collect()
}

/// The files of a built-in dialect, golden cases and all; none if there is none of this name.
#[must_use]
pub fn builtin_files(name: &str) -> Option<BTreeMap<String, String>> {
    let mut files = BTreeMap::new();
    collect(BUILT_IN.get_dir(name)?, name, &mut files);
    Some(files)
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

/// One folder of a dialect, as far as it can be read without those that it extends.
#[derive(Debug)]
pub struct Layer {
    /// The folder as messages show it.
    pub(super) shown: String,
    /// Its files but for the golden cases.
    pub(super) files: BTreeMap<String, String>,
    /// The manifest, its traits plain.
    pub(super) tree: Node,
    /// Why its traits are believed.
    pub(super) trust: BTreeMap<String, Trust>,
    /// The manifest's file.
    manifest: FileId,
    /// Comes with the program, where a test has looked at its shape.
    built_in: bool,
}

impl Layer {
    /// Reads the manifest among these files; `shown` is the folder as messages show it, the place is where it was
    /// named.
    ///
    /// # Errors
    /// [`Reported`], if there is no manifest, or none that is YAML.
    pub fn read(
        files: BTreeMap<String, String>,
        shown: &str,
        place: Option<Span>,
        sources: &mut Sources,
        findings: &mut Findings,
    ) -> Result<Self, Reported> {
        let Some(text) = files.get(MANIFEST).cloned() else {
            let message = format!("the dialect `{shown}` has no file `{MANIFEST}`");
            return Err(findings.error(Diagnostic::error(&rules::NO_MANIFEST, place, message)));
        };
        let manifest = sources.add(format!("{shown}/{MANIFEST}"), text);
        let mut tree = yaml::read(sources, manifest, findings)?;
        let trust = tree.at_mut(&[Segment::Key("platform".to_owned())]).map(|traits| trust::unwrap(traits, findings));
        let files = files.into_iter().filter(|(path, _)| !path.starts_with(CASES)).collect();
        let trust = trust.unwrap_or_default();
        Ok(Self { shown: shown.to_owned(), files, tree, trust, manifest, built_in: false })
    }

    /// The built-in dialect of a name. The place is where the name was written.
    ///
    /// # Errors
    /// [`Reported`], if there is none of this name.
    pub fn built_in(name: &str, place: Span, sources: &mut Sources, findings: &mut Findings) -> Result<Self, Reported> {
        let Some(files) = builtin_files(name) else {
            let names = builtin_names();
            let message =
                format!("`{name}` is not a built-in dialect; {} would be right", listed(names.iter().copied(), "or"));
            let diagnostic = Diagnostic::error(&rules::UNKNOWN_DIALECT, place, message);
            let otherwise = "name a folder as `./…`, relative to this file";
            return Err(findings.error(diagnostic.help_nearest(name, names.iter().copied(), otherwise)));
        };
        let layer = Self::read(files, &format!("{name} (built in)"), Some(place), sources, findings)?;
        Ok(Self { built_in: true, ..layer })
    }

    /// The dialect that this one extends, as the manifest names it, and where.
    #[must_use]
    pub fn extends(&self) -> Option<(&str, Span)> {
        let node = self.tree.get("extends")?;
        if let Data::Text(name) = &node.data { Some((name, node.span)) } else { None }
    }
}

/// The built-in dialect of a name, with all that it extends.
///
/// # Errors
/// [`Reported`], if there is none of this name.
pub fn builtin(name: &str, place: Span, sources: &mut Sources, findings: &mut Findings) -> Result<Platform, Reported> {
    let layer = Layer::built_in(name, place, sources, findings)?;
    on_built_in(layer, sources, findings)
}

/// The dialect that these files make, on a built-in one if it extends one; `shown` is the folder as messages show
/// it, the place is where it was named.
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
    let layer = Layer::read(files, shown, place, sources, findings)?;
    on_built_in(layer, sources, findings)
}

fn on_built_in(first: Layer, sources: &mut Sources, findings: &mut Findings) -> Result<Platform, Reported> {
    let mut layers = vec![first];
    while let Some((name, place)) = layers.last().and_then(Layer::extends) {
        let name = name.to_owned();
        too_many(&layers, place, findings)?;
        layers.push(Layer::built_in(&name, place, sources, findings)?);
    }
    assemble(layers, sources, findings)
}

/// Refuses one more layer on top of as many as may be.
///
/// # Errors
/// [`Reported`], where there are that many.
pub fn too_many(layers: &[Layer], place: Span, findings: &mut Findings) -> Result<(), Reported> {
    if layers.len() < MAX_LAYERS {
        return Ok(());
    }
    let message = format!("more than {MAX_LAYERS} dialects extend each other here");
    Err(findings.error(Diagnostic::error(&rules::EXTENDS_CYCLE, place, message)))
}

/// The platform that the first of these layers describes, each laid on the one after it.
///
/// # Errors
/// [`Reported`], if they describe none.
pub fn assemble(layers: Vec<Layer>, sources: &mut Sources, findings: &mut Findings) -> Result<Platform, Reported> {
    static SHAPE: OnceLock<Shape> = OnceLock::new();
    let mark = findings.mark();
    let built_in = layers.iter().all(|layer| layer.built_in);
    let digest = digest(&layers);
    let file_ids = file_ids(&layers, sources);
    let mut layers = layers.into_iter();
    let Some(mut top) = layers.next() else {
        return Err(findings.error(Diagnostic::error(&rules::NO_MANIFEST, None, "a dialect has a folder")));
    };
    layers.for_each(|base| lay_on(&mut top, base));
    // the shape of what is built in is a test's business, not every run's
    if !built_in {
        SHAPE.get_or_init(|| Shape::new(manifest::plain_schema())).check(&top.tree, sources, findings);
    }
    findings.failed_since(mark)?;
    let manifest: Manifest = typed::fill(&top.tree, findings)?;
    rules::check(&manifest, &top.tree, findings);
    findings.failed_since(mark)?;
    let text = if built_in { String::new() } else { whole_manifest(&top) };
    Ok(platform(manifest, top, text, digest, file_ids))
}

/// The manifest as one that extends nothing, with what is known of its traits.
fn whole_manifest(top: &Layer) -> String {
    let mut whole = top.tree.to_json();
    if let Some(keys) = whole.as_object_mut() {
        keys.remove("extends");
    }
    for (path, trust) in &top.trust {
        let Some(value) = whole.pointer_mut(&format!("/platform/{}", path.replace('.', "/"))) else { continue };
        let Ok(serde_json::Value::Object(mut wrapped)) = serde_json::to_value(trust) else { continue };
        wrapped.insert("value".to_owned(), value.take());
        *value = wrapped.into();
    }
    serde_yaml::to_string(&whole).unwrap_or_default()
}

fn platform(
    manifest: Manifest,
    top: Layer,
    text: String,
    digest: String,
    file_ids: BTreeMap<String, FileId>,
) -> Platform {
    Platform {
        manifest: text,
        name: manifest.name.to_string(),
        version: manifest.version.to_string(),
        summary: manifest.summary.to_string(),
        traits: manifest.platform,
        models: manifest.models,
        outputs: manifest.outputs,
        digest,
        files: top.files,
        file_ids,
        trust: top.trust,
        checks: manifest.checks,
        unsupported: manifest.unsupported.iter().map(ToString::to_string).collect(),
        links: manifest.links,
        silent: manifest.silent.into_iter().map(|(kind, why)| (kind, why.to_string())).collect(),
    }
}

/// Each pair is its path, a zero byte, the content's length in eight bytes, and the content. Of a dialect that
/// extends others, the pairs are the files that are used, and each other manifest under its place in the row
/// (`1/dialect.yaml` for the first that is extended).
fn digest(layers: &[Layer]) -> String {
    let mut pairs: BTreeMap<String, &str> = BTreeMap::new();
    for (depth, layer) in layers.iter().enumerate() {
        for (path, content) in &layer.files {
            let path = if depth > 0 && path == MANIFEST { format!("{depth}/{path}") } else { path.clone() };
            pairs.entry(path).or_insert(content);
        }
    }
    let lengths: Vec<[u8; 8]> = pairs.values().map(|content| (content.len() as u64).to_be_bytes()).collect();
    let pairs = pairs.iter().zip(&lengths);
    sha256(pairs.flat_map(|((path, content), length)| [path.as_bytes(), &[0], length.as_slice(), content.as_bytes()]))
}

/// Each file's number, so that a fault in a template can be drawn.
fn file_ids(layers: &[Layer], sources: &mut Sources) -> BTreeMap<String, FileId> {
    let mut ids = BTreeMap::new();
    for layer in layers {
        for (path, content) in &layer.files {
            let id = || match path == MANIFEST {
                true => layer.manifest,
                false => sources.add(format!("{}/{path}", layer.shown), content.as_str()),
            };
            ids.entry(path.clone()).or_insert_with(id);
        }
    }
    ids
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
            let loaded = load(builtin_files(name).unwrap_or_default(), name, None, &mut sources, &mut findings);
            assert!(loaded.is_ok_and(|platform| platform.name == name), "{findings:?}");
        }
    }

    fn layer(files: [(&str, &str); 2]) -> Layer {
        let (mut sources, mut findings) = (Sources::default(), Findings::default());
        let files = files.map(|(path, text)| (path.to_owned(), text.to_owned())).into();
        Layer::read(files, "mill", None, &mut sources, &mut findings).expect("a manifest is there")
    }

    #[test]
    fn a_digest_tells_apart_where_a_path_ends() {
        let one = layer([(MANIFEST, "a: 1"), ("a", "bc")]);
        let two = layer([(MANIFEST, "a: 1"), ("ab", "c")]);
        assert_ne!(digest(&[one]), digest(&[two]));
    }

    #[test]
    fn a_digest_counts_the_manifest_that_is_extended_and_no_golden_case() {
        let own = || layer([(MANIFEST, "a: 1"), ("steps/save.j2", "keep it")]);
        let base = |manifest| layer([(MANIFEST, manifest), ("tests/one/intent.yaml", "stack: mill")]);
        let of = |manifest| digest(&[own(), base(manifest)]);
        assert_eq!(of("b: 1"), of("b: 1"));
        assert_ne!(of("b: 1"), of("b: 2"));
        assert_eq!(digest(&[own()]), digest(&[layer([("steps/save.j2", "keep it"), (MANIFEST, "a: 1")])]));
        assert!(!base("b: 1").files.keys().any(|path| path.starts_with(CASES)));
    }
}
