//! The same work with more to try: where the plain one leads nowhere.

use crate::model::progress::Situation;
use crate::model::setting::Setting;
use crate::model::traits::Criterion;

use super::cuts::{cut_off_by, heir};
use super::work::{Work, far_ports};

impl Work {
    /// The same with the legs of every unit that may be apart, whoever the work seems to cut off.
    #[must_use]
    pub fn with_legs(&self, setting: &Setting) -> Self {
        let mut wide = self.clone();
        let stay = Situation::start(setting).memory.live.minus(setting.leaving);
        let own = self.ports.iter().map(|work| work.port).collect::<Vec<_>>();
        let legs = far_ports(setting, stay.and(setting.may_split));
        wide.legs = legs.into_iter().filter(|port| !own.contains(port)).collect();
        wide.touched(setting)
    }

    /// The same with the legs of those whom it cuts off that a leader which restarts takes the lead back from its
    /// heir; none, if it does not or that is no more.
    #[must_use]
    pub fn with_heir(&self, setting: &Setting) -> Option<Self> {
        let start = Situation::start(setting);
        let leader = start.memory.leader.filter(|leader| self.restarts.contains(*leader))?;
        let restarts = self.restarts.with(heir(setting, &start).filter(|_| setting.target.units[leader].primary)?);
        let mut wide = self.clone();
        let ports = far_ports(setting, cut_off_by(setting, self, restarts).and(setting.may_split)).into_iter();
        wide.legs = ports.filter(|port| self.ports.iter().all(|work| work.port != *port)).collect();
        Some(wide.touched(setting)).filter(|wide| wide.legs != self.legs)
    }

    /// The same with other weights and ids meanwhile, restarts for the order of boots, and newcomers that boot in.
    #[must_use]
    pub fn widened(&self, setting: &Setting) -> Self {
        let mut wide = Self { wide: true, ..self.clone() };
        let stay = Situation::start(setting).memory.live.minus(setting.leaving);
        for unit in stay.iter().filter(|unit| setting.baseline.units[*unit].powered) {
            let weighed = wide.priorities.iter().any(|(known, _)| *known == unit);
            if setting.traits.election.decides_by(Criterion::Priority) && !weighed {
                wide.priorities.push((unit, setting.target.units[unit].priority));
            }
            let numbered = wide.ids.iter().any(|(known, _)| *known == unit);
            if setting.may_lead.contains(unit) && setting.traits.election.decides_by(Criterion::LowestId) && !numbered {
                wide.ids.push((unit, setting.target.units[unit].id));
            }
        }
        wide.newcomers.iter_mut().for_each(|newcomer| newcomer.boots_in = true);
        wide.touched(setting)
    }
}
