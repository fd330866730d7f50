//! Cases beside themselves under other names: what is shared between stacks changes no byte of what comes out.

use ringwright::compile::shapes::Shapes;
use ringwright::diag::Findings;

use super::intents::Case;
use super::outcome::built;

/// What came of a case after its twin.
#[derive(Debug)]
pub struct Shared {
    /// There was a plan.
    pub planned: bool,
    /// How many shapes were known at the end: one, where the twin's served the case.
    pub shapes: usize,
}

/// Every name replaced by another that stands in the same order among its kind, or in the opposite one.
fn renamed(text: &str, turned: bool) -> String {
    let names = [("mill-", "weir-hall-"), ("PM-", "R7."), ("yard", "flume"), ("digester", "boom"), ("DA-", "E.")];
    let text = names.iter().fold(text.to_owned(), |text, (old, new)| text.replace(old, new));
    let turn = |text: String, number: u32| {
        text.replace(&format!("weir-hall-{number}"), &format!("weir-hall-{}x", 100 - number))
    };
    if turned { (1..=9).fold(text, turn) } else { text }
}

/// Compiles a case after its twin of other names, sharing what was found; every file must be as it is alone.
pub fn shared(case: &Case, turned: bool, accept: &[String]) -> Result<Shared, String> {
    let shapes = Shapes::default();
    let (text, baseline) = (case.intent(accept, false), case.baseline.clone());
    let twin = baseline.as_deref().map(|text| renamed(text, turned));
    let (other, twins) = built(case, renamed(&text, turned), twin, Some(&shapes));
    let (after, told) = built(case, text.clone(), baseline.clone(), Some(&shapes));
    let (alone, known) = built(case, text, baseline, None);
    let said = |findings: &Findings| -> Vec<String> {
        findings.all().iter().map(|found| format!("{}: {}", found.code.name, found.message)).collect()
    };
    if said(&told) != said(&known) {
        return Err(format!("after its twin: {:?}\nalone: {:?}", said(&told), said(&known)));
    }
    if (other.is_some(), after.is_some()) != (alone.is_some(), alone.is_some()) {
        return Err(format!("the twin: {:?}\nitself: {:?}", said(&twins), said(&told)));
    }
    if let (Some(after), Some(alone)) = (&after, &alone) {
        let differing = after.bundle.files.iter().zip(&alone.bundle.files).find(|(one, other)| one != other);
        if let Some(((path, _), _)) = differing {
            return Err(format!("`{path}` is another one after its twin"));
        }
        if after.bundle.files.len() != alone.bundle.files.len() {
            return Err("other files come out".to_owned());
        }
    }
    Ok(Shared { planned: alone.is_some(), shapes: shapes.len() })
}
