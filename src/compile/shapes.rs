//! What is found for one stack serves every stack that differs from it by nothing but names.
//!
//! A fleet holds few designs and many stacks. The search, the looks and the ways back work on indices and see of names
//! only in what order they stand; so they are done once for a setting whose names are tokens, and what they tell is
//! given each stack's own names. The judge replays every plan from its own document all the same.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::hash::{Hash, Hasher};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use crate::model::natural_order;
use crate::model::setting::{Setting, Ticket};
use crate::plan::NoRoute;
use crate::plan::consents::Need;
use crate::source::sha256;
use crate::watch::{Drawn, Plugs};

/// Begins a token: a character of the private use area. Nothing is shared where a dialect or an intent writes it.
const MARK: char = '\u{E000}';
/// Digits after it.
const DIGITS: usize = 4;
/// So many shapes are kept; of a stack of eight each takes a few hundred kilobytes at most.
const MOST: usize = 64;

/// What was found for each shape.
#[derive(Debug, Default)]
pub struct Shapes(Mutex<Kept>);

#[derive(Debug, Default)]
struct Kept {
    known: BTreeMap<String, Arc<OnceLock<Result<Told, NoRoute>>>>,
    /// The oldest first.
    order: VecDeque<String>,
}

/// What was found, with tokens for names.
#[derive(Debug)]
struct Told {
    needs: Vec<Need>,
    text: String,
}

impl Shapes {
    /// What `find` finds for a setting, under its own names; none where its names are not of a form that can be
    /// exchanged, or order its parts in another way than tokens would.
    pub(super) fn found(
        &self,
        setting: &Setting,
        plugs: &Plugs,
        find: impl FnOnce(&Setting, &Plugs) -> Result<(Vec<Need>, Drawn), NoRoute>,
    ) -> Option<Result<(Vec<Need>, Drawn), NoRoute>> {
        let (bare, plain, names) = bare(setting, plugs)?;
        let cell = self.cell(key(&bare, &plain)?);
        let told = cell.get_or_init(|| {
            let (needs, drawn) = find(&bare, &plain)?;
            Ok(Told { needs, text: serde_json::to_string(&drawn).unwrap_or_default() })
        });
        match told {
            Err(none) => Some(Err(none.clone())),
            Ok(told) => {
                let drawn = serde_json::from_str(&names.give(&told.text)).ok()?;
                Some(Ok((told.needs.clone(), drawn)))
            }
        }
    }

    /// How many shapes are known.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).known.len()
    }

    /// Whether none is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    fn cell(&self, key: String) -> Arc<OnceLock<Result<Told, NoRoute>>> {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(cell) = kept.known.get(&key) {
            return Arc::clone(cell);
        }
        if kept.order.len() >= MOST
            && let Some(oldest) = kept.order.pop_front()
        {
            kept.known.remove(&oldest);
        }
        let cell = Arc::default();
        kept.known.insert(key.clone(), Arc::clone(&cell));
        kept.order.push_back(key);
        cell
    }
}

/// The names that tokens stand for.
struct Names {
    /// As they stand in JSON, without quotes; a token's number is a place in it.
    written: Vec<String>,
    tokens: BTreeMap<(Kind, String), String>,
}

/// Names of one kind are ordered among themselves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
    Stack,
    Member,
    Serial,
    Mac,
    Pair,
    Plug,
}

impl Names {
    fn of(setting: &Setting, plugs: &Plugs) -> Option<Self> {
        let mut all: BTreeSet<(Kind, &str)> = BTreeSet::from([(Kind::Stack, setting.stack.as_str())]);
        for row in setting.units.iter() {
            all.insert((Kind::Member, &row.member));
            all.extend(row.serial.as_deref().map(|serial| (Kind::Serial, serial)));
            all.extend(row.mac_text.as_deref().map(|mac| (Kind::Mac, mac)));
        }
        for ticket in setting.tickets.iter() {
            if let Ticket::Serial(serial) = ticket {
                all.insert((Kind::Serial, serial));
            }
        }
        all.extend(setting.uplinks.iter().map(|row| (Kind::Pair, row.name.as_str())));
        all.extend(plugs.values().map(|serial| (Kind::Plug, serial.as_str())));
        // a MAC address in another spelling is another text of the same number
        let macs: BTreeSet<[u8; 6]> = setting.units.iter().filter_map(|row| row.mac).collect();
        let spelled = all.iter().filter(|(kind, _)| *kind == Kind::Mac).count();
        if macs.len() != spelled || all.len() >= 10_usize.pow(DIGITS as u32) {
            return None;
        }
        let mut all: Vec<(Kind, &str)> = all.into_iter().collect();
        all.sort_by(|(kind, one), (other, two)| kind.cmp(other).then_with(|| natural_order(one, two)));
        let mut names = Self { written: Vec::new(), tokens: BTreeMap::new() };
        for (number, (kind, name)) in all.into_iter().enumerate() {
            let quoted = serde_json::to_string(name).ok()?;
            names.written.push(quoted.get(1..quoted.len() - 1)?.to_owned());
            names.tokens.insert((kind, name.to_owned()), format!("{MARK}{number:0DIGITS$}"));
        }
        Some(names)
    }

    fn token(&self, kind: Kind, name: &str) -> Option<String> {
        self.tokens.get(&(kind, name.to_owned())).cloned()
    }

    /// The text with names instead of tokens.
    fn give(&self, text: &str) -> String {
        let mut parts = text.split(MARK);
        let mut given = String::with_capacity(text.len());
        given.push_str(parts.next().unwrap_or_default());
        for part in parts {
            let (number, rest) = part.split_at_checked(DIGITS).unwrap_or((part, ""));
            let name = number.parse::<usize>().ok().and_then(|number| self.written.get(number));
            given.push_str(name.map_or(number, String::as_str));
            given.push_str(rest);
        }
        given
    }
}

/// The setting with tokens instead of names, and the names.
fn bare(setting: &Setting, plugs: &Plugs) -> Option<(Setting, Plugs, Names)> {
    let models = setting.units.iter().filter_map(|row| row.model.as_deref());
    let mut kept = models.chain(setting.keys.iter().flatten().map(String::as_str));
    if kept.any(|text| text.contains(MARK)) || serde_json::to_string(&setting.traits).ok()?.contains(MARK) {
        return None;
    }
    let names = Names::of(setting, plugs)?;
    let mut bare = setting.clone();
    bare.stack = names.token(Kind::Stack, &setting.stack)?;
    let mut macs: Vec<[u8; 6]> = setting.units.iter().filter_map(|row| row.mac).collect();
    macs.sort_unstable();
    for unit in setting.units.ids() {
        let (own, row) = (&setting.units[unit], &mut bare.units[unit]);
        row.member = names.token(Kind::Member, &own.member)?;
        row.key = match own.key.strip_prefix(&own.member)? {
            "" => row.member.clone(),
            rest => format!("{}@{}", row.member, names.token(Kind::Serial, rest.strip_prefix('@')?)?),
        };
        row.serial = own
            .serial
            .as_deref()
            .map(|serial| names.token(Kind::Serial, serial))
            .map_or(Some(None), |token| token.map(Some))?;
        row.mac_text = own
            .mac_text
            .as_deref()
            .map(|mac| names.token(Kind::Mac, mac))
            .map_or(Some(None), |token| token.map(Some))?;
        // an election asks which is lower
        row.mac =
            own.mac.and_then(|mac| macs.iter().position(|one| *one == mac)).map(|rank| [0, 0, 0, 0, 0, rank as u8]);
    }
    for ticket in setting.tickets.ids() {
        if let Ticket::Serial(serial) = &setting.tickets[ticket] {
            bare.tickets[ticket] = Ticket::Serial(names.token(Kind::Serial, serial)?);
        }
    }
    for uplink in setting.uplinks.ids() {
        bare.uplinks[uplink].name = names.token(Kind::Pair, &setting.uplinks[uplink].name)?;
    }
    for leg in setting.legs.ids() {
        let (member, port) = setting.legs[leg].name.split_once(':')?;
        bare.legs[leg].name = format!("{}:{port}", names.token(Kind::Member, member)?);
    }
    bare.unit_keys = bare.units.entries().map(|(unit, row)| (row.key.clone(), unit)).collect();
    let plain: Option<Plugs> =
        plugs.iter().map(|(cable, serial)| Some((*cable, names.token(Kind::Plug, serial)?))).collect();
    stand_alike(setting, &bare).then_some(())?;
    Some((bare, plain?, names))
}

/// Whether every two units, ends and serials are in the same order under tokens as under names.
fn stand_alike(setting: &Setting, bare: &Setting) -> bool {
    let texts = |setting: &Setting| {
        let keys = setting.units.iter().map(|row| format!("{}:", row.key)).collect::<Vec<_>>();
        let serials = setting.units.iter().filter_map(|row| row.serial.clone()).collect::<Vec<_>>();
        (keys, serials)
    };
    let ((keys, serials), (others, tokens)) = (texts(setting), texts(bare));
    let alike = |one: &[String], other: &[String], order: &dyn Fn(&str, &str) -> Ordering| {
        let all: Vec<(&String, &String)> = one.iter().zip(other).collect();
        all.iter().enumerate().all(|(at, (a, x))| all.iter().skip(at + 1).all(|(b, y)| order(a, b) == order(x, y)))
    };
    alike(&keys, &others, &natural_order) && alike(&serials, &tokens, &|one, other| one.cmp(other))
}

/// What tells one shape from every other.
fn key(bare: &Setting, plugs: &Plugs) -> Option<String> {
    let Setting {
        stack,
        traits,
        save,
        temporary_cables,
        save_unsaved,
        units,
        ports,
        hosts,
        cables,
        uplinks,
        legs,
        keys,
        tickets,
        grouped,
        baseline,
        target,
        kept_pairs,
        leaving,
        joining,
        dead,
        may_restart,
        may_lead,
        may_split,
        was_live,
        unit_keys,
    } = bare;
    let mut sum = Sum(Vec::new());
    serde_json::to_vec(traits).ok()?.hash(&mut sum);
    (stack, save, temporary_cables, save_unsaved, units, ports).hash(&mut sum);
    (hosts, cables, uplinks, legs, keys, tickets, grouped, baseline, target).hash(&mut sum);
    (kept_pairs, leaving, joining, dead, may_restart, may_lead, may_split).hash(&mut sum);
    (was_live, unit_keys, plugs).hash(&mut sum);
    Some(sha256([sum.0.as_slice()]))
}

/// All that is hashed, for a digest that no two shapes share.
struct Sum(Vec<u8>);

impl Hasher for Sum {
    fn write(&mut self, bytes: &[u8]) {
        self.0.extend_from_slice(bytes);
    }

    /// Not asked: the digest of all is the key.
    fn finish(&self) -> u64 {
        0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tokens_are_given_names_as_json_writes_them() {
        let written = ["mill-1".to_owned(), r#"K \"7\""#.to_owned()].to_vec();
        let names = Names { written, tokens: BTreeMap::new() };
        let text = format!(r#""{MARK}0000:49", "{MARK}0001", "{MARK}00005""#);
        assert_eq!(names.give(&text), r#""mill-1:49", "K \"7\"", "mill-15""#);
        assert_eq!(names.give("nothing"), "nothing");
    }

    #[test]
    fn only_so_many_shapes_are_kept_and_the_oldest_goes_first() {
        let shapes = Shapes::default();
        let first = shapes.cell("0".to_owned());
        assert!(Arc::ptr_eq(&first, &shapes.cell("0".to_owned())));
        (1..=MOST).for_each(|number| drop(shapes.cell(number.to_string())));
        assert_eq!(shapes.len(), MOST);
        assert!(!Arc::ptr_eq(&first, &shapes.cell("0".to_owned())));
    }
}
