//! A platform -> the contexts of a few changes on it, which together hold nearly every kind of step.
//!
//! The intents are written out as text and go the whole line, as a team's own would: what the lint sees is what a
//! bundle is rendered from.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::compile::{COMPILER, prove};
use crate::diag::Findings;
use crate::intent;
use crate::lower::{Problem, lower};
use crate::model::traits::{Topology, Wins};
use crate::platform::{HardwareModel, Platform};
use crate::rehearse::Rehearsed;
use crate::render::{Context, Dossier, RenderError, context};
use crate::source::Sources;

/// One change, as the templates of outputs see it.
#[derive(Clone, Debug)]
pub struct Sample {
    /// What is done, as a clause.
    pub name: &'static str,
    /// The context.
    pub context: Context,
}

/// A proved change, before any template has seen it.
#[derive(Clone, Debug)]
pub struct Proved {
    name: &'static str,
    problem: Problem,
    rehearsed: Rehearsed,
}

/// The changes that this platform can do, and those that it cannot, each with the reason.
#[must_use]
pub fn proved(platform: &Platform) -> (Vec<Proved>, Vec<(&'static str, String)>) {
    let (mut done, mut left) = (Vec::new(), Vec::new());
    for (name, baseline, intent) in Writer::new(platform).all() {
        match prove_one(platform, name, baseline.as_deref(), &intent) {
            Ok(sample) => done.push(sample),
            Err(why) => left.push((name, why)),
        }
    }
    (done, left)
}

impl Proved {
    /// What is done, as a clause.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// The change as the templates of a dialect see it.
    ///
    /// # Errors
    /// A template of words that fails.
    pub fn sample(&self, platform: &Platform) -> Result<Sample, RenderError> {
        let (delta, site, inputs) = (&self.problem.delta, &self.problem.site, &BTreeMap::new());
        let dossier = Dossier { rehearsed: &self.rehearsed, delta, site, platform, compiler: COMPILER, inputs };
        context(&dossier).map(|context| Sample { name: self.name, context })
    }
}

fn prove_one(platform: &Platform, name: &'static str, baseline: Option<&str>, intent: &str) -> Result<Proved, String> {
    let (mut sources, mut findings) = (Sources::default(), Findings::default());
    let proved = (|| {
        let mut read = |text: &str| {
            let file = sources.add(format!("sample {name}"), text);
            intent::read(&sources, file, &mut findings)
        };
        let before = baseline.map(&mut read).transpose().ok()?;
        let after = read(intent).ok()?;
        let problem = lower(&after, before.as_ref(), platform, &mut findings).ok()?;
        let rehearsed = prove(&problem, &after, &BTreeMap::new(), &mut findings).ok()?;
        Some(Proved { name, problem, rehearsed })
    })();
    proved.ok_or_else(|| findings.all().first().map_or_else(String::new, |found| found.message.clone()))
}

/// Writes intents that fit a platform.
struct Writer<'a> {
    platform: &'a Platform,
    /// A model of the catalogue that can stack and has ports for two uplink legs beside.
    model: Option<(&'a str, &'a HardwareModel)>,
    ids: Vec<u16>,
}

/// One member, as far as the samples differ.
#[derive(Clone)]
struct Member {
    name: &'static str,
    id: u16,
    role: &'static str,
    serial: u16,
}

/// One stack.
#[derive(Clone)]
struct Stack {
    members: Vec<Member>,
    pairs: Vec<(&'static str, [(&'static str, usize); 2])>,
    guard: Option<&'static str>,
}

impl<'a> Writer<'a> {
    fn new(platform: &'a Platform) -> Self {
        let fits = |model: &&HardwareModel| {
            let ports = model.all_ports();
            let can = ports.iter().filter(|port| port.stacking).count();
            can >= 2 && ports.len() >= can + 2
        };
        let model = platform.models.iter().find(|(_, model)| fits(model)).map(|(name, model)| (name.as_str(), model));
        let (low, high) = platform.traits.member_id.range;
        let spread = [1, 2, 3, 4, 5].map(|step: u16| low.0.saturating_add(step).min(high.0));
        // ids that no unit out of its box has, as far as there are enough
        let mut ids: Vec<u16> = spread.into_iter().filter(|id| *id != platform.traits.member_id.factory.0).collect();
        ids.push(platform.traits.member_id.factory.0);
        ids.dedup();
        Self { platform, model, ids }
    }

    fn all(&self) -> Vec<(&'static str, Option<String>, String)> {
        let member = |name, at: usize, role, serial| Member { name, id: self.id(at), role, serial };
        let three = || {
            vec![member("lock-1", 0, "primary", 1), member("lock-2", 1, "standby", 2), member("lock-3", 2, "member", 3)]
        };
        let pairs = || vec![("border", [("lock-1", 0), ("lock-3", 0)]), ("yard", [("lock-1", 1), ("lock-2", 1)])];
        let stack = |members, pairs, guard| self.fitted(Stack { members, pairs, guard });
        let base = || stack(three(), pairs(), Some("border"));
        let plain = || stack(three(), vec![("border", [("lock-1", 0), ("lock-2", 0)])], None);
        let changed = |change: &dyn Fn(&mut Stack)| {
            let mut stack = plain();
            change(&mut stack);
            stack
        };
        let fourth = stack(
            [three(), vec![member("lock-4", 3, "member", 4)]].concat(),
            vec![("border", [("lock-1", 0), ("lock-4", 0)]), ("quay", [("lock-2", 1), ("lock-3", 1)])],
            None,
        );
        let renumbered =
            changed(&|stack| stack.members.iter_mut().next_back().into_iter().for_each(|one| one.id = self.id(4)));
        let replaced =
            changed(&|stack| stack.members.iter_mut().next_back().into_iter().for_each(|one| one.serial = 9));
        let shorter = changed(&|stack| stack.members.truncate(2));
        let led = changed(&|stack| {
            for (one, role) in stack.members.iter_mut().zip(["standby", "primary", "member"]) {
                one.role = role;
            }
        });
        let pair = |before: &Stack, after: &Stack| (Some(self.intent(before, false)), self.intent(after, true));
        let named = |name, (before, after): (Option<String>, String)| (name, before, after);
        vec![
            ("a new stack", None, self.intent(&base(), true)),
            named("a unit added, uplink pairs moved", pair(&base(), &fourth)),
            named("a unit exchanged for another box", pair(&plain(), &replaced)),
            named("a unit taken out", pair(&plain(), &shorter)),
            named("a unit with another id", pair(&plain(), &renumbered)),
            named("the lead handed over", pair(&plain(), &led)),
        ]
    }

    /// A stack of no more members than the platform takes; legs on others go to the last that is there.
    fn fitted(&self, mut stack: Stack) -> Stack {
        stack.members.truncate(usize::from(self.platform.traits.max_members).max(1));
        let Some(last) = stack.members.last().map(|member| member.name) else { return stack };
        let names: Vec<&str> = stack.members.iter().map(|member| member.name).collect();
        for (member, _) in stack.pairs.iter_mut().flat_map(|(_, legs)| legs) {
            if !names.contains(member) {
                *member = last;
            }
        }
        // a pair has its legs on two members
        stack.pairs.retain(|(_, [(one, _), (other, _)])| one != other);
        stack.guard = stack.guard.filter(|guard| stack.pairs.iter().any(|(name, _)| name == guard));
        stack
    }

    fn id(&self, at: usize) -> u16 {
        self.ids.get(at).or(self.ids.last()).copied().unwrap_or(1)
    }

    fn port(&self, stacking: bool, at: usize) -> String {
        let Some((_, model)) = self.model else {
            return if stacking { at + 1 } else { at + 3 }.to_string();
        };
        let all = model.all_ports();
        let ports: Vec<_> = all.iter().filter(|port| port.stacking == stacking).collect();
        ports.get(at).map_or_else(String::new, |port| port.name.to_string())
    }

    fn intent(&self, stack: &Stack, with_change: bool) -> String {
        let ring = self.platform.traits.topologies.contains(&Topology::Ring) && stack.members.len() > 2;
        let topology = if ring { "ring" } else { "chain" };
        let mut text = format!(
            "format: 1\nstack: sluice\ndescription: the sluice's machine room\ndialect: neutral\ntopology: {topology}\nmembers:\n"
        );
        let weights = self.weights();
        let model = self.model.map_or_else(String::new, |(name, _)| format!(", model: \"{name}\""));
        let (west, east) = (self.port(true, 0), self.port(true, 1));
        for (at, Member { name, id, role, serial }) in stack.members.iter().enumerate() {
            let _ = writeln!(
                text,
                "  - {{name: {name}, id: {id}, role: {role}{model}{}, serial: SL-{serial:04}, \
                 mac: 00-00-5E-00-53-{serial:02}, sides: {{west: [\"{west}\"], east: [\"{east}\"]}}, \
                 vars: {{rack: rack-{name}, height_unit: 2{at}}}}}",
                weights(role, at)
            );
        }
        text += if stack.pairs.is_empty() { "" } else { "uplink_pairs:\n" };
        for (name, legs) in &stack.pairs {
            let _ = writeln!(text, "  - name: {name}\n    legs:");
            for (member, at) in legs {
                let port = self.port(false, *at);
                let far = format!("{{device: {name}-{member}, port: socket-{at}}}");
                let _ = writeln!(text, "      - {{member: {member}, port: \"{port}\", far: {far}}}");
            }
        }
        if let Some(guard) = stack.guard {
            let _ = writeln!(text, "split_guard: {guard}");
        }
        text += &self.cables(stack);
        if with_change {
            text += &change(stack);
        }
        text
    }

    /// What says a member's priority: nothing where it can be derived, else one that wins in the order of the roles.
    fn weights(&self) -> impl Fn(&str, usize) -> String {
        let (priority, ids) = (&self.platform.traits.priority, self.platform.traits.member_id.range);
        let (low, high) = (priority.range.0.0, priority.range.1.0);
        let derived = high.saturating_sub(low).saturating_sub(3) >= u32::from(ids.1.0.saturating_sub(ids.0.0));
        let highest = priority.wins == Wins::Highest;
        move |role, at| {
            let rank = match role {
                "primary" => 0,
                "standby" => 1,
                _ => at.max(2) as u32,
            };
            let own = if highest { high.saturating_sub(rank) } else { low.saturating_add(rank) };
            if derived { String::new() } else { format!(", priority: {own}") }
        }
    }

    fn cables(&self, stack: &Stack) -> String {
        let (west, east) = (self.port(true, 0), self.port(true, 1));
        let mut text = "cables:\n".to_owned();
        for (at, pair) in stack.members.windows(2).enumerate() {
            let [one, other] = pair else { continue };
            let (one, other, number) = (one.name, other.name, at + 1);
            let _ = writeln!(
                text,
                "  - {{ends: [\"{one}:{east}\", \"{other}:{west}\"], label: K-0{number}, medium: fibre, length_m: {number}, \
                 serial: PL-{number}}}"
            );
        }
        text
    }
}

/// Every consent, so that none is in the way; a window, hands, checks and witnesses.
fn change(stack: &Stack) -> String {
    let names = stack.members.iter().map(|member| member.name);
    let consents = names.flat_map(|name| ["restart", "new-primary", "split"].map(|kind| format!("\"{kind}:{name}\"")));
    let consents = consents.collect::<Vec<_>>().join(", ");
    format!(
        "change:\n  ticket: W-0042\n  window: {{start: 2026-12-05T01:00:00Z, minutes: 240}}\n  \
         hands: {{start: 2026-12-05T00:30:00Z, minutes: 300}}\n  accept: [{consents}]\n  checks:\n    \
         - {{when: before, text: \"alarms muted\"}}\n    - {{when: after, text: \"alarms back\"}}\n    \
         - {{when: before-and-after, text: \"count of learnt addresses\", compare: true}}\n  witnesses: [192.0.2.10]\n"
    )
}
