//! Plain text in YAML -> null, bool, number or text, by the core schema of YAML 1.2 (section 10.3).
//!
//! What that means where readers of other YAML versions differ: `no`, `yes`, `on`, dates, `12:30` and
//! `1_000` are text; `0x1f` is the number 31; `012`, `0o14`, `.inf` and `.nan` are refused, the first
//! two because readers disagree about their value, the others because JSON has no such number.

use serde_json::Number;

use super::Data;
use crate::diag::Code;

/// A number that not every reader understands alike.
pub const NUMBER_FORM: Code = Code {
    name: "number-form",
    explanation: "A number is written so that two readers of the file may disagree about it: `012` is 12 for YAML 1.2 \
and 10 for older readers, and JSON has no `.inf` or `.nan`. Write numbers in plain decimals without leading zeros. \
If the characters are meant as they stand, as in a serial number `0007`, put them in quotes.",
};

/// What a plain scalar is, or why it is refused.
pub fn resolve(text: &str) -> Result<Data, &'static str> {
    match text {
        "" | "~" | "null" | "Null" | "NULL" => return Ok(Data::Null),
        "true" | "True" | "TRUE" => return Ok(Data::Bool(true)),
        "false" | "False" | "FALSE" => return Ok(Data::Bool(false)),
        _ => {}
    }
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    match digits {
        ".inf" | ".Inf" | ".INF" => return Err("no field takes an infinite number"),
        ".nan" | ".NaN" | ".NAN" if digits == text => return Err("no field takes what is not a number"),
        _ => {}
    }
    if text.strip_prefix("0o").is_some_and(|rest| all(rest, |c| ('0'..='7').contains(&c))) {
        return Err("readers of YAML disagree whether this is an octal number");
    }
    if let Some(hex) = text.strip_prefix("0x").filter(|rest| all(rest, |c| c.is_ascii_hexdigit())) {
        return u64::from_str_radix(hex, 16).map(|n| Data::Number(n.into())).map_err(|_| "this number is too large");
    }
    if all(digits, |c| c.is_ascii_digit()) {
        return integer(text, digits);
    }
    if is_float(digits) {
        let number = text.parse::<f64>().ok().and_then(Number::from_f64);
        return number.map(Data::Number).ok_or("this number is too large");
    }
    Ok(Data::Text(text.to_owned()))
}

fn integer(text: &str, digits: &str) -> Result<Data, &'static str> {
    if digits.len() > 1 && digits.starts_with('0') {
        return Err("readers of YAML disagree whether this is an octal number");
    }
    let number = match text.strip_prefix('-') {
        Some(_) => text.parse::<i64>().ok().map(Number::from),
        None => digits.parse::<u64>().ok().map(Number::from),
    };
    number.map(Data::Number).ok_or("this number is too large")
}

fn all(text: &str, test: impl Fn(char) -> bool) -> bool {
    !text.is_empty() && text.chars().all(test)
}

/// `( \. [0-9]+ | [0-9]+ ( \. [0-9]* )? ) ( [eE] [-+]? [0-9]+ )?`
fn is_float(text: &str) -> bool {
    let (mantissa, exponent) = text.split_once(['e', 'E']).map_or((text, None), |(m, e)| (m, Some(e)));
    let exponent_fits = exponent.is_none_or(|e| all(e.strip_prefix(['-', '+']).unwrap_or(e), |c| c.is_ascii_digit()));
    let (whole, fraction) = mantissa.split_once('.').map_or((mantissa, None), |(w, f)| (w, Some(f)));
    let is_digits = |part: &str| part.chars().all(|c| c.is_ascii_digit());
    let some_digit = !whole.is_empty() || fraction.is_some_and(|f| !f.is_empty());
    exponent_fits && some_digit && is_digits(whole) && fraction.is_none_or(is_digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(of: &str) -> Result<Data, &'static str> {
        Ok(Data::Text(of.to_owned()))
    }

    #[test]
    fn the_core_schema_holds() {
        for plain in [
            "no",
            "yes",
            "on",
            "2026-12-05",
            "2026-12-05T01:00:00Z",
            "12:30",
            "1_000",
            "0b1",
            "1.2.3",
            "-",
            "+",
            ".",
            "e3",
            "0x",
            "+0x1f",
            "1e",
            "+.nan",
        ] {
            assert_eq!(resolve(plain), text(plain));
        }
        assert_eq!(resolve("~"), Ok(Data::Null));
        assert_eq!(resolve("True"), Ok(Data::Bool(true)));
        assert_eq!(resolve("0x1f"), Ok(Data::Number(31.into())));
        assert_eq!(resolve("-7"), Ok(Data::Number((-7).into())));
        assert_eq!(resolve("0"), Ok(Data::Number(0.into())));
        for float in ["1.", ".5", "1.5e3", "-0.5E-2", "1e3"] {
            assert!(matches!(resolve(float), Ok(Data::Number(n)) if n.is_f64()), "{float}");
        }
    }

    #[test]
    fn what_readers_disagree_about_is_refused() {
        for plain in ["012", "-00", "0007", "0o14", ".inf", "-.INF", ".nan", "99999999999999999999", "1e999"] {
            assert!(resolve(plain).is_err(), "{plain}");
        }
    }
}
