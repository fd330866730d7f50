//! One outcome an intent -> JUnit XML, the form in which pipelines count what passed and what did not.
//!
//! There is no standard for it; the elements and attributes are those that its published schemas have in common.

use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesText, Event};

use super::json::Entry;

/// One intent and what was found in it.
#[derive(Clone, Debug)]
pub struct Case {
    /// The intent's path.
    pub name: String,
    /// What was found.
    pub entries: Vec<Entry>,
    /// Why it did not pass, where no finding says it.
    pub failed: Option<String>,
}

impl Case {
    /// Everything that says why it did not pass, a line each.
    fn faults(&self) -> Vec<String> {
        let place = |entry: &Entry| match &entry.place {
            Some(place) => format!("{}:{}:{}: ", place.file, place.line, place.column),
            None => String::new(),
        };
        let errors = self.entries.iter().filter(|entry| entry.severity == "error");
        let told = errors.map(|entry| format!("{}{}: {}", place(entry), entry.code, entry.message));
        told.chain(self.failed.clone()).collect()
    }
}

/// The report, with a line break at the end. `suite` is the command that ran.
///
/// No time is in it: the same input gives the same bytes.
#[must_use]
pub fn junit(suite: &str, cases: &[Case]) -> String {
    let faults: Vec<Vec<String>> = cases.iter().map(Case::faults).collect();
    let failed = faults.iter().filter(|faults| !faults.is_empty()).count().to_string();
    let count = cases.len().to_string();
    let mut writer = Writer::new_with_indent(Vec::new(), b' ', 2);
    // what is written to memory cannot fail
    let _ = writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)));
    let numbers = [("tests", count.as_str()), ("failures", failed.as_str()), ("errors", "0")];
    let _ = writer.create_element("testsuites").with_attributes(numbers).write_inner_content(|writer| {
        let suite = writer.create_element("testsuite").with_attribute(("name", suite)).with_attributes(numbers);
        suite.write_inner_content(|writer| {
            for (case, faults) in cases.iter().zip(&faults) {
                let element = writer.create_element("testcase");
                let element = element.with_attributes([("name", case.name.as_str()), ("classname", "intent")]);
                match faults.split_first() {
                    None => element.write_empty()?,
                    Some((first, _)) => element.write_inner_content(|writer| {
                        let failure = writer.create_element("failure");
                        let failure = failure.with_attributes([("message", first.as_str()), ("type", "refused")]);
                        failure.write_text_content(BytesText::new(&faults.join("\n")))?;
                        Ok(())
                    })?,
                };
            }
            Ok(())
        })?;
        Ok(())
    });
    String::from_utf8(writer.into_inner()).unwrap_or_default() + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_did_not_pass_is_counted_and_told() {
        let case = |name: &str, failed: Option<&str>| Case {
            name: name.to_owned(),
            entries: Vec::new(),
            failed: failed.map(str::to_owned),
        };
        let text = junit("check", &[case("a & b.yaml", None), case("c.yaml", Some("<not> written"))]);
        assert!(text.contains(r#"<testsuite name="check" tests="2" failures="1" errors="0">"#), "{text}");
        assert!(text.contains(r#"<testcase name="a &amp; b.yaml" classname="intent"/>"#), "{text}");
        assert!(text.contains("&lt;not&gt; written</failure>"), "{text}");
    }
}
