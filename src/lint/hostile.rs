//! Values with signs in them that mean something to files -> findings, where a sign changes a file's shape.

use std::collections::BTreeSet;

use super::report::{Report, VALUE_ADDS_LINE};
use super::samples::Sample;
use super::tokens::marked;
use crate::platform::OutputKind;
use crate::render::{Bench, Rendered};

/// What is put behind each value. No value holds a line break: that is refused before any template sees it.
const SIGNS: [&str; 9] = [
    " \" ' `",
    " # remark",
    " // remark; -- remark",
    "<b>bold</b>&amp;",
    " | cell, cell",
    " \\n \\",
    " {{ 7 * 7 }} {% raw %}",
    " *b* _i_ [l](m)",
    " ]]> -->",
];

/// The first samples hold every kind of value: a new stack, and a unit added to one.
const SAMPLES: usize = 2;

/// Renders the first samples with each of them.
pub(super) fn check(samples: &[Sample], report: &mut Report) {
    let mut told = BTreeSet::new();
    for sample in samples.iter().take(SAMPLES) {
        let render = |after: &str| {
            let marked = marked(&sample.context, after)?;
            Some(Bench::new(report.platform).outputs(&marked.context))
        };
        let Some(Ok(calm)) = render("") else { continue };
        for sign in SIGNS {
            match render(sign) {
                Some(Ok(files)) => {
                    let pairs = calm.iter().zip(&files);
                    for (one, other) in pairs.filter(|(one, other)| shape(one) != shape(other) || leaks(other, sign)) {
                        if told.insert(one.template.clone()) {
                            let message =
                                format!("a value with `{}` in it changes the shape of `{}`", sign.trim(), one.path);
                            report.at(&VALUE_ADDS_LINE, &other.template, "", message);
                        }
                    }
                }
                Some(Err(fault)) if told.insert(fault.template.clone().unwrap_or_default()) => {
                    let template = fault.template.clone().unwrap_or_else(|| crate::platform::MANIFEST.to_owned());
                    let message = format!("with `{}` in a value it cannot be rendered: {}", sign.trim(), fault.message);
                    report.at(&VALUE_ADDS_LINE, &template, "", message);
                }
                Some(Err(_)) | None => {}
            }
        }
    }
}

/// The lines of a file, and of a table the cells of each.
fn shape(file: &Rendered) -> (usize, Vec<usize>) {
    let lines = file.text.lines().count();
    let cells = match file.kind {
        OutputKind::Csv => crate::render::csv_columns(&file.text),
        _ => Vec::new(),
    };
    (lines, cells)
}

/// A sign that stands in a file as it would in the file's own form.
fn leaks(file: &Rendered, sign: &str) -> bool {
    match file.kind {
        OutputKind::Html | OutputKind::Xml | OutputKind::Svg => sign.contains("<b>") && file.text.contains("<b>bold"),
        OutputKind::Markdown => {
            sign.contains("<b>") && file.text.contains("<b>bold") && !in_code(&file.text, "<b>bold")
        }
        OutputKind::Text | OutputKind::Json | OutputKind::Csv => false,
    }
}

/// Whether a text is only found in code, where Markdown shows it as it is: between fences or back quotes.
fn in_code(text: &str, part: &str) -> bool {
    let mut fenced = false;
    text.lines().all(|line| {
        fenced ^= line.trim_start().starts_with("```");
        fenced || !line.split('`').step_by(2).any(|prose| prose.contains(part))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn code_is_no_prose() {
        assert!(in_code("a `<b>` c\n```\n<b>\n```\n", "<b>"));
        assert!(!in_code("a `x` <b>", "<b>"));
    }
}
