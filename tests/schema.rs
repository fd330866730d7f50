//! The schemas in `schema/` are those of the types. `BLESS=1 cargo test` writes them anew.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test that cannot go on has failed")]

use std::fs;
use std::path::Path;
use std::process::Command;

#[test]
fn schemas_have_not_drifted_from_their_types() {
    for name in ["intent", "dialect", "plan", "context", "words", "facts", "faults", "done"] {
        let output = Command::new(env!("CARGO_BIN_EXE_ringwright")).args(["schema", name]).output().unwrap();
        assert!(output.status.success());
        let found = String::from_utf8(output.stdout).unwrap();
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("schema/{name}.schema.json"));
        if std::env::var_os("BLESS").is_some() {
            fs::write(&file, &found).unwrap();
        }
        assert_eq!(
            fs::read_to_string(&file).unwrap_or_default(),
            found,
            "{name}: run with BLESS=1 and look at the difference"
        );
        let schema: serde_json::Value = serde_json::from_str(&found).unwrap();
        assert!(jsonschema::draft202012::meta::is_valid(&schema), "{name} is no JSON Schema");
    }
}
