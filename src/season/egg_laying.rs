//! Process 3: an egg is laid. When and on which stem was drawn before the season began (`life::laying`).

use super::Season;
use super::larva::State;
use super::sitting::{DIES, LEAVES, PHASE_ENDS};
use crate::life::Moment;
use crate::random::Purpose;
use rand_distr::{Distribution, Exp1, StandardNormal};

impl Season<'_> {
    /// The egg is laid, unless its stem has no leaves: then it never existed.
    pub(super) fn egg_laying(&mut self, id: u32, now: Moment) {
        let stem = self.larvae[id as usize].natal;
        if !self.stems[stem as usize].condition.has_leaves() {
            self.larvae[id as usize].state = State::NeverLaid;
            return;
        }
        self.endow(id);
        self.arrive(id, stem, now);
    }

    /// Draws what an egg, or a larva let go, brings into its life.
    fn endow(&mut self, id: u32) {
        let traits = &self.plan.traits;
        let larva = &mut self.larvae[id as usize];
        let mut stream = larva.key.to(Purpose::Life).stream();
        larva.left[DIES] = Exp1.sample(&mut stream);
        larva.left[LEAVES] = Exp1.sample(&mut stream);
        let z: f64 = StandardNormal.sample(&mut stream);
        larva.rate = (traits.rate_log_sd * z).exp();
        larva.left[PHASE_ENDS] =
            traits.need_dd[usize::from(larva.phase)] * (1.0 - larva.left[PHASE_ENDS]);
    }
}
