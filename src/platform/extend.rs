//! A dialect's folder and the one that it extends -> one folder: whatever the upper one does not have comes from
//! the lower one.
//!
//! Files go by their path. Of the manifest, `platform`, `models` and `silent` go key by key (a trait's own keys
//! too), every other key as a whole; what a dialect says of itself (`name`, `version`, `summary`) never comes from
//! below. A trait that is set anew loses the source that was given for the old value.

use super::load::Layer;
use crate::yaml::{Data, Entry, Node};

/// What a dialect says of itself.
const OWN: [&str; 5] = ["format", "name", "version", "summary", "extends"];

/// Keys whose maps are joined; of the first, maps inside it too.
const PLATFORM: &str = "platform";
const JOINED: [&str; 2] = ["models", "silent"];

/// Lays a folder on the one below it.
pub(super) fn lay_on(top: &mut Layer, base: Layer) {
    for (path, content) in base.files {
        top.files.entry(path).or_insert(content);
    }
    let kept = base.trust.into_iter().filter(|(path, _)| !touches(top.tree.get(PLATFORM), path)).collect::<Vec<_>>();
    top.trust.extend(kept);
    let (Data::Map(own), Data::Map(below)) = (&mut top.tree.data, base.tree.data) else { return };
    for entry in below.into_iter().filter(|entry| !OWN.contains(&entry.key.as_str())) {
        match own.iter_mut().find(|known| known.key == entry.key) {
            None => own.push(entry),
            Some(known) if known.key == PLATFORM => join(&mut known.value, entry.value, true),
            Some(known) if JOINED.contains(&known.key.as_str()) => join(&mut known.value, entry.value, false),
            Some(_) => {}
        }
    }
}

/// Adds the keys that a map does not have; `deep`, to the maps in it too.
fn join(own: &mut Node, below: Node, deep: bool) {
    let (Data::Map(own), Data::Map(below)) = (&mut own.data, below.data) else { return };
    for entry in below {
        match own.iter_mut().find(|known| known.key == entry.key) {
            None => own.push(entry),
            Some(Entry { value, .. }) if deep => join(value, entry.value, deep),
            Some(_) => {}
        }
    }
}

/// Whether the upper dialect sets a trait, or a part of it, itself.
fn touches(traits: Option<&Node>, path: &str) -> bool {
    let mut node = traits;
    for key in path.split('.') {
        let Some(found) = node else { return false };
        // a value that is no map stands for all that would be in it
        if !matches!(found.data, Data::Map(_)) {
            return true;
        }
        node = found.get(key);
    }
    node.is_some()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::diag::Findings;
    use crate::source::Sources;

    fn layer(manifest: &str, file: (&str, &str)) -> Layer {
        let (mut sources, mut findings) = (Sources::default(), Findings::default());
        let files = [("dialect.yaml", manifest), file].map(|(path, text)| (path.to_owned(), text.to_owned()));
        Layer::read(BTreeMap::from(files), "mill", None, &mut sources, &mut findings).expect("a manifest is there")
    }

    #[test]
    fn what_the_upper_one_has_stays_and_the_rest_comes_from_below() {
        let mut top = layer(
            "{name: mill, platform: {priority: {range: [0, 9]}}, outputs: [], silent: {save: it saves itself}}",
            ("steps/save.j2", "ours"),
        );
        let below = "{name: base, summary: below, platform: {priority: {range: [1, 5], wins: lowest}, max_members: 4},
            outputs: [{path: a}], silent: {save: no, wipe: never}, checks: [{when: before, text: look}]}";
        lay_on(&mut top, layer(below, ("steps/wipe.j2", "theirs")));
        let text = top.tree.to_json();
        assert_eq!(text["name"], "mill");
        assert!(text.get("summary").is_none(), "a dialect speaks for itself");
        assert_eq!(
            text["platform"],
            serde_json::json!({"priority": {"range": [0, 9], "wins": "lowest"}, "max_members": 4})
        );
        assert_eq!(text["outputs"], serde_json::json!([]), "a list is one thing");
        assert_eq!(text["silent"], serde_json::json!({"save": "it saves itself", "wipe": "never"}));
        assert_eq!(text["checks"][0]["text"], "look");
        assert_eq!((top.files["steps/save.j2"].as_str(), top.files["steps/wipe.j2"].as_str()), ("ours", "theirs"));
    }

    #[test]
    fn a_trait_that_is_set_anew_loses_the_source_of_the_old_value() {
        let mut top = layer("{platform: {priority: {wins: lowest}, max_members: 4}}", ("a", ""));
        let below =
            "{platform: {priority: {wins: {value: highest, source: page 3}, factory: {value: 1, source: page 4}},
            max_members: {value: 9, source: page 5}, facing: {value: any, tried_on: \"2.1, spring\"}}}";
        lay_on(&mut top, layer(below, ("a", "")));
        let kept: Vec<&str> = top.trust.keys().map(String::as_str).collect();
        assert_eq!(kept, ["facing", "priority.factory"]);
    }
}
