//! Dialects that are broken, silent or beyond a limit.

use super::*;

/// The neutral dialect with one template exchanged.
fn with(path: &str, template: &str) -> Platform {
    let mut platform = neutral();
    platform.files.insert(path.into(), template.into());
    platform
}

#[test]
fn a_broken_dialect_is_refused_with_template_and_line() {
    let fault = |platform: &Platform| rendered(plan("third-unit-and-ring"), &site(), platform).unwrap_err();
    let cases: [(&str, &str, RenderCode, Option<usize>); 9] = [
        ("steps/save.j2", "one\n{{ unitt.key }}", RenderCode::TemplateFailed, Some(2)),
        ("steps/save.j2", "{{ unit.kee }}", RenderCode::TemplateFailed, Some(1)),
        ("steps/save.j2", "{% if %}", RenderCode::TemplateSyntax, Some(1)),
        ("steps/save.j2", "{# nothing #}", RenderCode::TemplateFailed, None),
        ("change.j2", "{% include '/etc/passwd' %}", RenderCode::TemplateMissing, Some(1)),
        (
            "change.j2",
            "{% for i in range(9999) %}{% for j in range(9999) %}{% set x = j %}{% endfor %}{% endfor %}",
            RenderCode::TemplateFuel,
            Some(1),
        ),
        ("change.j2", "{% for i in range(9000) %}{{ 'x' * 90000 }}{% endfor %}", RenderCode::OutputTooLarge, None),
        ("change.j2", "{{ segment.check.file.path|safe }}", RenderCode::TemplateFailed, Some(1)),
        ("cabling.csv.j2", "a,b\nc\n", RenderCode::OutputMalformed, None),
    ];
    for (path, template, code, line) in cases {
        let found = fault(&with(path, template));
        assert_eq!(
            (found.code, found.line, found.template.as_deref()),
            (code, line, Some(path)),
            "{template}: {found}"
        );
    }
}

#[test]
fn a_missing_template_is_found_at_load() {
    let mut platform = neutral();
    platform.files.remove("steps/wipe.j2");
    platform.files.remove("facts/ask.j2");
    platform.files.insert("steps/save.j2".into(), "{% if".into());
    platform.outputs[0].template = "bootstraps.j2".into();
    let faults = coverage(&platform).unwrap_err();
    let found: Vec<_> = faults.iter().map(|fault| (fault.code, fault.template.as_deref().unwrap())).collect();
    assert_eq!(
        found,
        [
            (RenderCode::TemplateMissing, "steps/wipe.j2"),
            (RenderCode::TemplateSyntax, "steps/save.j2"),
            (RenderCode::TemplateMissing, "facts/ask.j2"),
            (RenderCode::TemplateMissing, "bootstraps.j2"),
        ]
    );
}

#[test]
fn a_silent_kind_needs_no_template_and_says_why_in_the_runbook() {
    let mut platform = neutral();
    platform.files.remove("steps/save.j2");
    platform.silent.insert("save".into(), "this platform keeps what it is told at once".into());
    platform.unsupported.push("a unit that is warm takes the lead".into());
    assert_eq!(coverage(&platform), Ok(()));
    let bundle = rendered(plan("third-unit-and-ring"), &site(), &platform).unwrap();
    let runbook = text(&bundle, "runbook.md");
    assert!(runbook.contains("- do: nothing; this platform keeps what it is told at once"), "{runbook}");
    assert!(runbook.contains("the model does not know it: a unit that is warm takes the lead"), "{runbook}");
    assert!(!bundle.files.iter().any(
        |(path, bytes)| path.ends_with(".txt") && std::str::from_utf8(bytes).unwrap().contains("save the settings")
    ));
}

#[test]
fn what_all_outputs_take_together_is_bounded() {
    let loops = "{% for i in range(900) %}{% for j in range(900) %}{% set x = j %}{% endfor %}{% endfor %}a";
    let fault = rendered(plan("third-unit-and-ring"), &site(), &with("steps/save.j2", loops)).unwrap_err();
    assert_eq!(fault.code, RenderCode::TemplateFuel, "{fault}");
    assert!(fault.message.contains("together"), "{fault}");
}

#[test]
fn paths_of_outputs_stay_inside_and_apart() {
    for (path, code) in [
        ("../runbook.md", RenderCode::OutputPath),
        ("/runbook.md", RenderCode::OutputPath),
        ("a//b", RenderCode::OutputPath),
        ("{{ '' }}", RenderCode::OutputPath),
        ("{{ segment.number }}", RenderCode::TemplateFailed),
        ("plan.json", RenderCode::OutputTwice),
        ("bundle.json", RenderCode::OutputTwice),
        ("cabling.csv/x", RenderCode::OutputTwice),
        ("change", RenderCode::OutputTwice),
    ] {
        let mut platform = neutral();
        platform.outputs.iter_mut().find(|output| output.template == "runbook.md.j2").unwrap().path = path.into();
        platform.outputs.rotate_right(1);
        let fault = rendered(plan("third-unit-and-ring"), &site(), &platform).unwrap_err();
        assert_eq!(fault.code, code, "{path}: {fault}");
    }
}

#[test]
fn an_optional_output_without_text_is_left_out() {
    let mut platform = with("cabling.csv.j2", " \n");
    platform
        .outputs
        .iter_mut()
        .filter(|output| output.template == "cabling.csv.j2")
        .for_each(|output| output.optional = true);
    let bundle = rendered(plan("third-unit-and-ring"), &site(), &platform).unwrap();
    assert!(!bundle.files.contains_key("cabling.csv"));
}
