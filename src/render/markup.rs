//! A finished HTML, XML or SVG file -> well-formed or not, and why not.
//!
//! HTML is written so that it is XML too (elements closed, attributes quoted), and so that a browser, which reads a
//! script by other rules than XML does, sees the same end of it: no `<` in a script's data.

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::engine::is_plain;
use crate::platform::OutputKind;

/// The references that XML knows without a declaration.
const ENTITIES: [&str; 5] = ["amp", "lt", "gt", "quot", "apos"];

/// Checks that the text is one element, well formed.
///
/// # Errors
/// The first fault, with its line.
pub(super) fn check(kind: OutputKind, text: &str) -> Result<(), String> {
    if let Some(found) = text.chars().find(|one| !is_plain(*one) && !matches!(one, '\n' | '\t')) {
        return Err(format!("the file holds the control character U+{:04X}", u32::from(found)));
    }
    let mut reader = Reader::from_str(text);
    reader.config_mut().enable_all_checks(true);
    let mut open: Vec<String> = Vec::new();
    let mut roots = 0;
    loop {
        let event = reader.read_event();
        let line = |byte: u64| {
            let before = usize::try_from(byte).ok().and_then(|byte| text.get(..byte)).unwrap_or(text);
            before.matches('\n').count() + 1
        };
        let at =
            |fault: String| format!("line {}: {fault}", line(reader.error_position().max(reader.buffer_position())));
        let event = event.map_err(|error| at(error.to_string()))?;
        match &event {
            Event::Start(tag) | Event::Empty(tag) => {
                roots += usize::from(open.is_empty());
                attributes(tag).map_err(at)?;
                if matches!(event, Event::Start(_)) {
                    open.push(tag.name().as_ref().to_owned());
                }
            }
            Event::End(_) => drop(open.pop()),
            Event::Text(data) => in_element(&open, kind, data).map_err(at)?,
            Event::CData(data) => in_element(&open, kind, data).map_err(at)?,
            Event::GeneralRef(name) => {
                let name: &str = name;
                let known = ENTITIES.contains(&name) || name.starts_with('#');
                if !known {
                    return Err(at(format!("`&{name};` is no reference that XML knows; write the character itself")));
                }
            }
            Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_) => {}
            Event::Eof => break,
        }
    }
    match (open.last(), roots) {
        (Some(name), _) => Err(format!("the element `{name}` has no end")),
        (None, 1) => Ok(()),
        (None, roots) => Err(format!("the file has {roots} outermost elements, and needs one")),
    }
}

/// Attributes are quoted, none is there twice, and each value is well formed.
fn attributes(tag: &BytesStart<'_>) -> Result<(), String> {
    for attribute in tag.attributes().with_checks(true) {
        let attribute = attribute.map_err(|error| error.to_string())?;
        let value: &str = &attribute.value;
        if value.contains('<') {
            return Err("an attribute's value holds `<`, which is written `&lt;`".to_owned());
        }
        quick_xml::escape::unescape(value).map_err(|error| error.to_string())?;
    }
    Ok(())
}

/// Text stands inside the outermost element; a script's data never holds what a browser could take for its end.
fn in_element(open: &[String], kind: OutputKind, data: &str) -> Result<(), String> {
    match open.last() {
        None if data.trim().is_empty() => Ok(()),
        None => Err("text stands outside the outermost element".to_owned()),
        Some(name) if kind == OutputKind::Html && name.eq_ignore_ascii_case("script") && data.contains('<') => {
            Err("a script's data holds `<`; write `\\u003c` in text, and turn comparisons round".to_owned())
        }
        Some(_) => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_well_formed_passes() {
        for text in [
            "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"/></head><body>a &amp; b &#8594;</body></html>\n",
            "<?xml version=\"1.0\"?>\n<!-- a picture --><svg xmlns=\"http://www.w3.org/2000/svg\"><text>1 &lt; 2</text></svg>",
            "<a><script>//<![CDATA[\nif (b > a && c) {}\n//]]></script></a>",
        ] {
            assert_eq!(check(OutputKind::Html, text), Ok(()), "{text}");
        }
    }

    #[test]
    fn what_is_not_is_refused_with_its_line() {
        for (text, line) in [
            ("<p>\n<b></p>", "line 2"),
            ("<p", "line 1"),
            ("<p>a & b</p>", "line 1"),
            ("<p>\n\n&nbsp;</p>", "line 3"),
            ("<p a=1/>", "line 1"),
            ("<p a=\"1\" a=\"2\"/>", "line 1"),
            ("<p a=\"&what;\"/>", "line 1"),
            ("<p/><p/>", "2 outermost"),
            ("", "0 outermost"),
            ("<p>", "no end"),
            ("<p/>x", "outside"),
            ("<p>\u{1b}</p>", "U+001B"),
            ("<p><script><![CDATA[a < b]]></script></p>", "script"),
        ] {
            let fault = check(OutputKind::Html, text).unwrap_err();
            assert!(fault.contains(line), "{text}: {fault}");
        }
    }
}
