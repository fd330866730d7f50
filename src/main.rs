//! The binary.
use ringwright::rehearse::judge;
fn main() {
    for path in std::env::args().skip(1) {
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        match serde_json::from_str(&text) {
            Err(error) => println!("{path}: shape {error}"),
            Ok(plan) => {
                let verdict = judge(&plan);
                println!("{path}: {}", if verdict.rehearsed.is_some() { "accepted" } else { "refused" });
                for o in verdict.objections.iter().chain(&verdict.warnings) {
                    println!("  {} {:?} {}", o.code, o.step, o.text);
                }
            }
        }
    }
}
