//! The neutral dialect over whole plans: golden bundles, hostile values, broken dialects.

mod broken;

use std::fs;
use std::path::{Path, PathBuf};

use super::*;
use crate::lower::{CableRecord, CheckRecord, FarEnd};
use crate::model::document::{Action, Place, PlanDocument, RunningPort, RunningSettings, StateDocument};
use crate::model::traits::Topology;

/// The neutral dialect from its folder.
pub(crate) fn neutral() -> Platform {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates/neutral");
    let mut files = BTreeMap::new();
    read_folder(&root, "", &mut files);
    let (mut sources, mut findings) = (crate::source::Sources::default(), crate::diag::Findings::default());
    let loaded = crate::platform::load(files, "neutral", None, &mut sources, &mut findings);
    Platform { digest: "sha256:dialect".into(), ..loaded.unwrap() }
}

fn read_folder(folder: &Path, prefix: &str, files: &mut BTreeMap<String, String>) {
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        let name = format!("{prefix}{}", entry.file_name().to_str().unwrap());
        if entry.path().is_dir() {
            read_folder(&entry.path(), &format!("{name}/"), files);
        } else {
            files.insert(name, fs::read_to_string(entry.path()).unwrap());
        }
    }
}

/// A case's folder.
fn case(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/render").join(name)
}

fn plan(name: &str) -> PlanDocument {
    serde_json::from_str(&fs::read_to_string(case(name).join("plan.json")).unwrap()).unwrap()
}

/// Just enough of the model to know which unit acts on which id; the rest of the state stays the baseline's.
fn rehearsed(plan: PlanDocument) -> Rehearsed {
    let mut state = plan.baseline.clone();
    let mut states = vec![state.clone()];
    for step in &plan.steps {
        apply(&mut state, &step.action);
        for key in step.predicts.iter().flat_map(|after| &after.restarts) {
            boot(&mut state, key);
        }
        states.push(state.clone());
    }
    Rehearsed::for_test(plan, states)
}

fn apply(state: &mut StateDocument, action: &Action) {
    match action {
        Action::AssignId { unit, id } => state.units.get_mut(unit).unwrap().saved.as_mut().unwrap().id = *id,
        Action::PowerOff { unit } => {
            let unit = state.units.get_mut(unit).unwrap();
            (unit.powered, unit.running) = (false, None);
        }
        Action::Wipe { unit } => {
            state.units.get_mut(unit).unwrap().saved.as_mut().unwrap().id = crate::model::MemberId(1);
            boot(state, unit);
        }
        Action::PowerOn { unit } | Action::Restart { unit } => boot(state, unit),
        _ => {}
    }
}

fn boot(state: &mut StateDocument, key: &str) {
    let unit = state.units.get_mut(key).unwrap();
    let saved = unit.saved.clone().unwrap();
    let active = |side| side != crate::model::document::Side::None;
    let ports = saved.ports.iter();
    let ports = ports
        .map(|(name, port)| {
            (name.clone(), RunningPort { enabled: port.enabled, side: port.side, active: active(port.side) })
        })
        .collect();
    unit.powered = true;
    let (keys, mode) = (saved.keys.clone(), saved.mode);
    unit.running = Some(RunningSettings { id: saved.id, priority: saved.priority, keys, mode, ports });
}

fn site() -> Site {
    let far = |device: &str, port: &str| FarEnd { device: device.into(), port: Some(port.into()) };
    let leg = |member: &str| ("border".to_owned(), format!("{member}:47"));
    let rack = |unit: u32| BTreeMap::from([("rack".to_owned(), "B07".into()), ("height_unit".to_owned(), unit.into())]);
    Site {
        description: Some("Ferry terminal, equipment room B".into()),
        ticket: Some("W-0042".into()),
        topology: Some(Topology::Ring),
        window: Some(("2026-12-05T01:00:00Z".into(), 120)),
        member_vars: BTreeMap::from([("ramp-1".into(), rack(21)), ("ramp-3".into(), rack(23))]),
        cables: vec![CableRecord {
            ends: ["ramp-3:49".into(), "ramp-2:50".into()],
            label: Some("K-17".into()),
            medium: Some("direct-attach".into()),
            length_m: Some(1.5),
            serial: Some("DA-0007".into()),
        }],
        far_ends: BTreeMap::from([
            (leg("ramp-1"), far("border-a", "12")),
            (leg("ramp-2"), far("border-b", "12")),
            (leg("ramp-3"), far("border-b", "14")),
        ]),
        ..Site::default()
    }
}

fn delta() -> Delta {
    Delta {
        added: vec!["ramp-3".into()],
        topology: Some((Topology::Chain, Topology::Ring)),
        uplinks_changed: vec!["border".into()],
        guard: Some((None, Some("border".into()))),
        ..Delta::default()
    }
}

fn rendered(plan: PlanDocument, site: &Site, platform: &Platform) -> Result<Bundle, RenderError> {
    rendered_with(plan, site, &delta(), platform)
}

fn rendered_with(plan: PlanDocument, site: &Site, delta: &Delta, platform: &Platform) -> Result<Bundle, RenderError> {
    let inputs = BTreeMap::from([("intent".to_owned(), "sha256:intent".to_owned())]);
    render(&Dossier {
        rehearsed: &rehearsed(plan),
        delta,
        site,
        platform,
        compiler: "ringwright 0.1.0",
        inputs: &inputs,
    })
}

fn text<'b>(bundle: &'b Bundle, path: &str) -> &'b str {
    let files: Vec<&String> = bundle.files.keys().collect();
    std::str::from_utf8(bundle.files.get(path).unwrap_or_else(|| panic!("{path} is not among {files:?}"))).unwrap()
}

/// Compares a bundle with the case's `bundle/` folder; `BLESS=1` takes the new one.
fn golden(name: &str) {
    golden_of(name, &site(), &delta());
}

fn golden_of(name: &str, site: &Site, delta: &Delta) {
    let bundle = rendered_with(plan(name), site, delta, &neutral()).unwrap();
    let folder = case(name).join("bundle");
    if std::env::var_os("BLESS").is_some() {
        let _ = fs::remove_dir_all(&folder);
        for (path, bytes) in &bundle.files {
            fs::create_dir_all(folder.join(path).parent().unwrap()).unwrap();
            fs::write(folder.join(path), bytes).unwrap();
        }
    }
    let mut on_disk = BTreeMap::new();
    read_folder(&folder, "", &mut on_disk);
    assert_eq!(on_disk.keys().collect::<Vec<_>>(), bundle.files.keys().collect::<Vec<_>>());
    for (path, expected) in &on_disk {
        assert_eq!(text(&bundle, path), expected, "{path}");
    }
}

#[test]
fn third_unit_joins_and_the_ring_is_closed() {
    golden("third-unit-and-ring");
}

#[test]
fn a_new_stack_is_staged_and_joined() {
    let delta = Delta { new_stack: true, ..Delta::default() };
    golden_of("new-mill", &Site { topology: Some(Topology::Chain), ..Site::default() }, &delta);
}

#[test]
fn every_operation_and_fact_has_words() {
    golden("every-word");
    assert_eq!(coverage(&neutral()), Ok(()));
}

#[test]
fn same_inputs_same_bytes() {
    let once = rendered(plan("third-unit-and-ring"), &site(), &neutral()).unwrap();
    assert_eq!(once, rendered(plan("third-unit-and-ring"), &site(), &neutral()).unwrap());
}

#[test]
fn the_record_holds_the_digest_of_every_other_file() {
    let bundle = rendered(plan("third-unit-and-ring"), &site(), &neutral()).unwrap();
    let record: BundleRecord = serde_json::from_str(text(&bundle, RECORD_FILE)).unwrap();
    assert_eq!(record, bundle.record);
    let mut expected: BTreeMap<_, _> = bundle.files.iter().map(|(path, bytes)| (path.clone(), digest(bytes))).collect();
    expected.remove(RECORD_FILE);
    assert_eq!(record.files, expected);
    let back: PlanDocument = serde_json::from_str(text(&bundle, PLAN_FILE)).unwrap();
    assert!(back.faults.is_some());
    assert_eq!(PlanDocument { faults: None, ..back }, plan("third-unit-and-ring"));
}

#[test]
fn typed_lines_are_one_a_step_and_never_begin_like_a_command_language() {
    for name in ["third-unit-and-ring", "every-word"] {
        let plan = plan(name);
        let typed = plan.steps.iter().filter(|step| !matches!(step.at, Some(Place::Hands(_)))).filter(|step| {
            !matches!(
                step.action,
                Action::Expect { .. } | Action::Await { .. } | Action::PowerOn { .. } | Action::PowerOff { .. }
            )
        });
        let wanted = typed.count();
        let bundle = rendered(plan, &site(), &neutral()).unwrap();
        let snippets = bundle.files.keys().filter(|path| path.ends_with(".txt"));
        let lines: Vec<&str> = snippets.flat_map(|path| text(&bundle, path).lines()).collect();
        assert_eq!(lines.iter().filter(|line| !line.starts_with("# ")).count(), wanted, "{lines:#?}");
        for line in lines {
            let first = line.trim_start_matches("# ").split(' ').next().unwrap();
            assert!(!matches!(first, "undo" | "no" | ""), "{line}");
            assert!(!(first == "set" && line.contains('=')), "{line}");
        }
    }
}

#[test]
fn hostile_values_add_no_line() {
    let calm = rendered(plan("third-unit-and-ring"), &site(), &neutral()).unwrap();
    for evil in ["# restart this unit", "\"; drop', `x` | <b> [a](b) & {{ 7 * 7 }} {% raw %}", "a,b;\"c\"", "\\", "***"]
    {
        let mut site = site();
        site.description = Some(evil.into());
        site.ticket = Some(evil.into());
        site.cables[0].label = Some(evil.into());
        // whoever shares a rack still does, and is told of it
        site.member_vars.values_mut().filter_map(|vars| vars.get_mut("rack")).for_each(|rack| *rack = evil.into());
        site.far_ends.values_mut().for_each(|far| *far = FarEnd { device: evil.into(), port: Some(evil.into()) });
        let mut plan = plan("third-unit-and-ring");
        for step in &mut plan.steps {
            if let Action::Expect { otherwise, .. } = &mut step.action {
                *otherwise = Some(evil.into());
            }
        }
        let bundle = rendered(plan, &site, &neutral()).unwrap();
        for path in calm.files.keys().filter(|path| path.ends_with(".txt") || path.ends_with(".md")) {
            let count = |bundle| text(bundle, path).lines().filter(|line| !line.starts_with("- if not:")).count();
            assert_eq!(count(&bundle), count(&calm), "{path} with {evil:?}");
            assert!(!text(&bundle, path).lines().any(|line| line == "49" || line.starts_with("restart this unit #")));
        }
        assert!(!text(&bundle, "runbook.md").contains("<b>"), "{evil:?}");
    }
}

#[test]
fn a_value_with_a_control_character_is_refused() {
    for evil in ["a\nrestart this unit", "a\r", "\u{1b}[2J", "a\u{2028}b", "a\u{202e}b", "\u{85}"] {
        let mut site = site();
        site.far_ends.values_mut().for_each(|far| far.device = evil.into());
        let fault = rendered(plan("third-unit-and-ring"), &site, &neutral()).unwrap_err();
        assert_eq!(fault.code, RenderCode::ControlCharacter, "{fault}");
        let check = CheckRecord { text: evil.into(), compare: false };
        for site in [
            Site { hands: Some((evil.into(), 60)), ..self::site() },
            Site { checks_before: vec![check.clone()], ..self::site() },
            Site { checks_after: vec![check], ..self::site() },
            Site { witnesses: vec![evil.into()], ..self::site() },
        ] {
            let fault = rendered(plan("third-unit-and-ring"), &site, &neutral()).unwrap_err();
            assert_eq!(fault.code, RenderCode::ControlCharacter, "{fault}");
        }
        let mut plan = plan("third-unit-and-ring");
        for step in &mut plan.steps {
            if let Action::Expect { otherwise, .. } = &mut step.action {
                *otherwise = Some(evil.into());
            }
        }
        assert_eq!(rendered(plan, &self::site(), &neutral()).unwrap_err().code, RenderCode::ControlCharacter);
    }
}

#[test]
fn the_tables_of_kinds_hold_every_kind() {
    let kinds = |schema: serde_json::Value, tag: &str| -> BTreeSet<String> {
        let variants = schema["oneOf"].as_array().unwrap().clone();
        variants.iter().map(|one| one["properties"][tag]["const"].as_str().unwrap().to_owned()).collect()
    };
    let owned = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<BTreeSet<_>>();
    assert_eq!(kinds(schemars::schema_for!(Action).to_value(), "kind"), owned(&Action::KINDS));
    assert_eq!(
        kinds(schemars::schema_for!(crate::model::document::Fact).to_value(), "fact"),
        owned(&operation::FACT_KINDS)
    );
}

#[test]
fn the_context_is_what_its_schema_says() {
    let rehearsed = rehearsed(plan("every-word"));
    let (delta, site, platform, inputs) = (delta(), site(), neutral(), BTreeMap::new());
    let dossier = Dossier {
        rehearsed: &rehearsed,
        delta: &delta,
        site: &site,
        platform: &platform,
        compiler: "ringwright 0.1.0",
        inputs: &inputs,
    };
    let published =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("schema/context.schema.json")).unwrap();
    let published: serde_json::Value = serde_json::from_str(&published).unwrap();
    let validator = jsonschema::validator_for(&published).unwrap();
    let context = context_json(&dossier).unwrap();
    let faults: Vec<String> = validator.iter_errors(&context).map(|fault| fault.to_string()).collect();
    assert!(faults.is_empty(), "{faults:#?}");
}
