//! Looks of the script: what is read before an operation, what every look opens with, and what is learnt.

use crate::model::document::{Action, Fact, Phase, Reason, Warning};
use crate::model::facts::{Spot, learn};
use crate::model::operation::Operation;
use crate::model::progress::{Done, neighbour_shows};
use crate::model::rules::{Rule, after_step, up_unread};
use crate::model::state::State;
use crate::model::table::CableId;

use super::looks;
use super::script::Writer;

impl Writer<'_> {
    /// Reads the far end of every cable that this operation would make a link of, or would darken
    /// before a link is made of it: the last moment at which it can be read. What can be read there as well is
    /// read with it.
    pub(super) fn read_cables(&mut self, operation: Operation, spot: Spot) {
        while let Ok(done) = self.situation.step(self.setting, operation)
            && let Some(cable) = self.last_chance(operation, &done)
            && let Some((fact, at)) = looks::neighbour(self.setting, &self.situation, cable, spot)
        {
            let mut facts = vec![fact];
            for other in self.situation.memory.unread.iter().filter(|other| *other != cable) {
                let shows = neighbour_shows(self.setting, &self.situation.state, other);
                let read = looks::neighbour(self.setting, &self.situation, other, at);
                facts.extend(read.filter(|(_, place)| shows && *place == at).map(|(fact, _)| fact));
            }
            let otherwise = Some("go back to the cable and look where its other end is".to_owned());
            self.look(at, facts, Phase::Settle, "right-cable", "the cable leads where the plan says", otherwise);
        }
    }

    fn last_chance(&self, operation: Operation, done: &Done) -> Option<CableId> {
        let shows = |state: &State, cable: CableId| neighbour_shows(self.setting, state, cable);
        let gone = |cable: &CableId| {
            let stays = done.after.state.plugged.contains(*cable);
            stays && shows(&self.situation.state, *cable) && !shows(&done.after.state, *cable)
        };
        let unread = self.situation.memory.unread;
        up_unread(self.setting, &self.situation, operation, done).or_else(|| unread.iter().find(gone))
    }

    /// Looks at a pair whose new legs must be counted on before this operation.
    pub(super) fn read_legs(&mut self, operation: Operation) {
        let Ok(done) = self.situation.step(self.setting, operation) else { return };
        let breaches = after_step(self.setting, &self.situation, operation, &done);
        let unproven = self.situation.memory.unproven;
        if unproven.is_empty() || !breaches.0.iter().any(|breach| breach.rule == Rule::UplinksUp) {
            return;
        }
        let carrying: Vec<_> = unproven.iter().filter(|leg| self.situation.carries(self.setting, *leg)).collect();
        let pairs: std::collections::BTreeSet<_> = carrying.iter().map(|leg| self.setting.legs[*leg].uplink).collect();
        let facts: Vec<Fact> =
            pairs.iter().map(|pair| looks::pair_as_it_is(self.setting, &self.situation, *pair)).collect();
        if !facts.is_empty() {
            let text = "the new leg carries before the old one goes";
            let otherwise =
                Some("leave the old leg as it is, and look for light at both ends of the new one".to_owned());
            self.look(Spot::Stack, facts, Phase::Settle, looks::LEG_CARRIES, text, otherwise);
        }
    }

    /// Writes a look that opens with what tells the place, and learns from it. Looks that fall at one point and
    /// place are one.
    pub(super) fn look(
        &mut self,
        spot: Spot,
        facts: Vec<Fact>,
        phase: Phase,
        code: &str,
        text: &str,
        otherwise: Option<String>,
    ) {
        let (mut all, by_question) = looks::place(self.setting, &self.situation, spot);
        if by_question {
            self.warn_serials(spot);
        }
        facts.iter().for_each(|fact| learn(self.setting, &mut self.situation, fact));
        all.extend(facts);
        let otherwise = otherwise
            .unwrap_or_else(|| "do not go on: find out why it differs, and plan again from what is there".to_owned());
        let why = Reason { code: code.to_owned(), text: text.to_owned() };
        if self.segment == Some(spot)
            && let Some(last) = self.script.lines.last_mut()
            && (last.phase, &last.title) == (phase, &self.title)
            && let Action::Expect { facts, otherwise: Some(first) } = &mut last.action
        {
            all.retain(|fact| !facts.contains(fact));
            facts.extend(all);
            *first = format!("{first}; {otherwise}");
            let text = format!("{}, and {}", last.why.text, why.text);
            let code = if looks::is_demanded(&last.why.code) { &last.why.code } else { &why.code };
            last.why = Reason { code: code.clone(), text };
            return;
        }
        self.write(Action::Expect { facts: all, otherwise: Some(otherwise) }, phase, why);
        self.segment = Some(spot);
    }

    fn warn_serials(&mut self, spot: Spot) {
        let Spot::Console(unit) = spot else { return };
        let key = &self.setting.units[unit].key;
        let text = format!("nothing known tells the console of {key} from another one: give serials in the intent");
        let warning = Warning { code: "serials-missing".to_owned(), text };
        if !self.script.warnings.contains(&warning) {
            self.script.warnings.push(warning);
        }
    }
}
