//! A dialect -> a bench exercise of half an hour with two spare units, which tries what its traits say.
//!
//! In the dialect's own words: what is to be typed comes from its templates. Each answer says which value of which
//! trait it means, so that the manifest can be written from it.

use serde_json::Value;

use super::scopes::{Values, values, words_of};
use crate::model::habits::DEFAULTS;
use crate::model::traits::Topology;
use crate::platform::Platform;
use crate::render::{Bench, RenderError};

/// One thing to try: what is done, the traits that it is about, and what an answer means.
struct Item {
    done: String,
    means: String,
}

/// The exercise as lines of text.
///
/// # Errors
/// A template of words that cannot be rendered.
pub fn trial(platform: &Platform) -> Result<String, RenderError> {
    let words = Words { platform, bench: Bench::new(platform) };
    let mut items = words.boxes()?;
    items.extend(words.joins()?);
    items.extend(words.stack()?);
    let mut text = format!(
        "Trial of `{}`, about half an hour: two spare units A and B, two cables, nothing that is in service.\n\
         Lifting, mains, light in fibre and static: the site's rules and the local codes come first.\n",
        platform.name
    );
    for (at, Item { done, means }) in items.iter().enumerate() {
        text += &format!("{:2}  {done}\n    {means}\n", at + 1);
    }
    let wipe = words.say("wipe", |_| {})?;
    text += &format!("Between two of these, and at the end, at both units: {wipe}; then look that nothing is left.\n");
    text += "Write what you found into dialect.yaml, each as {value, source, tried_on}.\n";
    Ok(text)
}

struct Words<'a> {
    platform: &'a Platform,
    bench: Bench<'a>,
}

impl Words<'_> {
    /// What a step is called here, at unit A's own console.
    fn say(&self, kind: &str, change: impl Fn(&mut Values)) -> Result<String, RenderError> {
        if let Some(why) = self.platform.silent.get(kind) {
            return Ok(format!("nothing, for {why}"));
        }
        let mut own = values();
        (own.unit.key, own.port.unit, own.other.unit) = ("A".to_owned(), "A".to_owned(), "B".to_owned());
        own.unit.id = self.platform.traits.member_id.factory.0;
        (own.unit.serial, own.unit.rack, own.unit.height_unit) = (None, None, None);
        change(&mut own);
        let (template, scope) = words_of(kind, "console", &self.platform.traits, &own);
        let text = self.bench.words(&template, &scope)?;
        Ok(format!(
            "\"{}\"",
            text.lines().map(str::trim).filter(|line| !line.is_empty()).collect::<Vec<_>>().join("; ")
        ))
    }

    /// A trait's value as the manifest has it, and whether it was tried.
    fn stated(&self, path: &str) -> String {
        let traits = serde_json::to_value(&self.platform.traits).unwrap_or(Value::Null);
        let usual = || DEFAULTS.iter().find(|(own, _)| *own == path).map_or("", |(_, value)| value).to_owned();
        let value = traits.pointer(&format!("/{}", path.replace('.', "/"))).map_or_else(usual, |value| match value {
            Value::String(text) => text.clone(),
            Value::Object(parts) if parts.contains_key("likely") => {
                parts.get("likely").map_or_else(String::new, Value::to_string)
            }
            Value::Object(parts) => parts.values().filter_map(Value::as_str).collect::<Vec<_>>().join(" and "),
            other => other.to_string(),
        });
        let above = path.split('.').next().unwrap_or(path);
        let tried =
            [path, above].iter().filter_map(|path| self.platform.trust.get(*path)).any(|one| one.tried_on.is_some());
        format!("{path} = {value}{}", if tried { ", tried" } else { "" })
    }

    fn item(&self, done: String, means: &str, traits: &[&str]) -> Item {
        let stated: Vec<String> = traits.iter().map(|path| self.stated(path)).collect();
        Item { done, means: format!("{means} [{}]", stated.join("; ")) }
    }

    /// With each unit alone.
    fn boxes(&self) -> Result<Vec<Item>, RenderError> {
        let traits = &self.platform.traits;
        let (low, high) = traits.member_id.range;
        let other = if traits.member_id.factory == high { low } else { high };
        let (least, most) = traits.priority.range;
        let weight = if traits.priority.factory == most { least } else { most };
        let assign = self.say("assign-id", |v| v.id = other.0)?;
        let weigh = self.say("set-priority", |v| v.priority = weight.0)?;
        let (save, restart) = (self.say("save", |_| {})?, self.say("restart", |_| {})?);
        let bind = |v: &mut Values| {
            (v.port.port, v.port.interface) = ("P".to_owned(), "P".to_owned());
            v.side.clone_from(&traits.sides.names.east);
        };
        let (disable, bound) = (self.say("disable-port", bind)?, self.say("bind-port", bind)?);
        Ok(vec![
            self.item(
                "Switch on A, out of its box. Read its id, its priority, whether its ports are in use and whether it stacks as it is."
                    .to_owned(),
                "What you read is what a new unit has. It must be put into stack mode first: switched; else always.",
                &["member_id.factory", "priority.factory", "factory_ports", "stack_mode"],
            ),
            self.item(
                format!("At A type {assign}, and look at the names of its ports, without a restart."),
                "Changed: at-once; the old ones: after-restart. The names follow the pattern.",
                &["member_id.takes_effect", "port_name"],
            ),
            self.item(
                format!("Try ids {low}, {high} and one outside, priorities {least}, {most} and one outside."),
                "Those that are taken are the ranges.",
                &["member_id.range", "priority.range"],
            ),
            self.item(
                format!("At A type {weigh}. Without a save: {restart}. Time it. Read the id and the priority."),
                "What is still there is stored at-once, what is gone with-save.",
                &["stored.id", "stored.priority", "minutes.restart"],
            ),
            self.item(
                format!("At A, with a stacking port P in use: {bound}. Refused? Then {disable} first, and again."),
                "Refused while in use: true; taken: false. The word for the side is right. Ports that went out of Ethernet service \
                 with P are its group: with the binding at-once, or after-restart.",
                &["binding.port_disabled", "sides.names", "port_groups.takes_effect"],
            ),
            self.item(
                format!("Bind P, put a cable from it to another bound port, restart without {save}."),
                "Still bound after the restart: at-once; gone: with-save.",
                &["stored.binding"],
            ),
        ])
    }

    /// With both.
    fn joins(&self) -> Result<Vec<Item>, RenderError> {
        let traits = &self.platform.traits;
        let activate =
            if self.platform.files.contains_key("steps/activate.j2") || self.platform.silent.contains_key("activate") {
                self.say("activate", |_| {})?
            } else {
                "nothing".to_owned()
            };
        let sides = &traits.sides.names;
        Ok(vec![
            self.item(
                "Cable A to B while neither end is bound, then with one end bound: look for each other as neighbours."
                    .to_owned(),
                "Neither bound is a stray link, one alone an unmatched one, both in force a stack link.",
                &["neighbours.seen_on"],
            ),
            self.item(
                format!(
                    "Bind both ends, {} to {}. Does the link come up now, after {activate}, or after a restart?",
                    sides.east, sides.west
                ),
                "at-once, on-activation or after-restart; with nothing to bind at all: fixed. Both ends counted: stack, one: unit; \
                 did a unit restart for it?",
                &["binding.takes_effect", "activate.scope", "activate.restarts", "minutes.activate"],
            ),
            self.item(
                format!("The same with {} to {}: is it refused, or without effect?", sides.east, sides.east),
                "Without effect: opposite; a stack all the same: any.",
                &["sides.facing"],
            ),
            self.item(
                "As the two meet, with another version on one: is it let in at all, unless the other was told of it? Does the \
                 one that loses restart by itself, wait for you, or neither? Restart the one that does not lead, with the \
                 better priority: does it take the lead?"
                    .to_owned(),
                "Told first: by id or serial, else open. Kept out, updated or let in: what the version is under join_keys. \
                 restarts, waits or absorbed; takes the lead: preempts. Note how long it takes until it is ready.",
                &["admission", "join_keys", "joining.loser", "joining.preempts", "minutes.sync"],
            ),
        ])
    }

    /// With both, once they are one stack.
    fn stack(&self) -> Result<Vec<Item>, RenderError> {
        let traits = &self.platform.traits;
        let save = self.say("save", |_| {})?;
        let ring = if traits.topologies.contains(&Topology::Ring) {
            "Close the ring with a second cable."
        } else {
            "Put in a second cable, as for a ring."
        };
        Ok(vec![
            self.item(
                "Take the cable out, give both other priorities, and let them meet again; who leads? Is there a command that \
                 hands the lead over? Which consoles answer then, and what is the stack's own address?"
                    .to_owned(),
                "The one with the value that wins. A hand-over: none, keeps-running or old-restarts. Every console: own; only \
                 the primary's: primary or mute. The same address: stays. With a third unit: does a new priority count for \
                 the standby at once, and does the standby keep its seat?",
                &["priority.wins", "priority.takes_effect", "standby", "handover", "console_after_join", "stack_mac"],
            ),
            self.item(
                "The same with equal priorities: the one that ran longer, with the lower or higher MAC address, the lower id, the larger part? And after both restart?".to_owned(),
                "Write the list in the order in which they decided; two lists, if a boot and a merge differ.",
                &["election"],
            ),
            self.item(
                format!("Change something on both, {save} at one of them, and switch both off and on."),
                "Both kept it: stack; one alone: unit.",
                &["save.scope", "minutes.save"],
            ),
            self.item(
                "Put a further cable beside the first, and one more, until one is refused or carries nothing.".to_owned(),
                "Those that worked are what a side holds.",
                &["sides.max_cables"],
            ),
            self.item(
                format!("{ring} Does the stack stay one when either is pulled? Read in the manual how many members it may have."),
                "What works, and the figure of the manual.",
                &["topologies", "max_members"],
            ),
            self.item(
                "Time what else the plans count: one line typed, a cable, a power switch, a look.".to_owned(),
                "best, likely and worst of each, in minutes.",
                &["minutes.command", "minutes.cable", "minutes.power", "minutes.check"],
            ),
        ])
    }
}
