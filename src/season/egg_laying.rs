//! Process 3: an egg is laid. When and on which stem was drawn before the season began (`life::laying`).

use super::Season;
use super::larva::State;
use super::sitting::{DIES, LEAVES, PHASE_ENDS};
use crate::ids::LarvaId;
use crate::life::Moment;
use crate::maths::exp;
use crate::random::{Purpose, exponential, normal};

impl Season<'_> {
    /// The egg is laid, unless its stem has no leaves: then it never existed.
    pub(super) fn egg_laying(&mut self, id: LarvaId, now: Moment) {
        let stem = self.larvae[id].natal;
        if !self.stems[stem].condition.has_leaves() {
            self.larvae[id].state = State::NeverLaid;
            return;
        }
        self.endow(id);
        self.arrive(id, stem, now);
    }

    /// Draws what an egg, or a larva let go, brings into its life.
    fn endow(&mut self, id: LarvaId) {
        let traits = &self.plan.traits;
        let larva = &mut self.larvae[id];
        let mut stream = larva.key.to(Purpose::Life).stream();
        larva.rate = exp(traits.rate_log_sd * normal(&mut stream));
        // In the order of the risks, so that one more disturbs none of those before it.
        larva.left[DIES] = exponential(&mut stream);
        larva.left[LEAVES] = exponential(&mut stream);
        larva.left[PHASE_ENDS] =
            traits.need_dd[usize::from(larva.phase)] * (1.0 - larva.left[PHASE_ENDS]);
    }
}
