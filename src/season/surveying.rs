//! Process 10: what stands on the stems at a survey.

use super::Season;
use super::larva::State;
use crate::ids::LarvaId;
use crate::scenario::STAGES;
use crate::survey;

impl Season<'_> {
    /// Surveys that fall on the start of a step.
    pub(super) fn survey(&mut self, step: usize) {
        let surveys = &self.plan.clock.surveys;
        let first = surveys.partition_point(|time| *time < step as f64);
        let held = surveys[first..]
            .iter()
            .take_while(|time| **time == step as f64);
        for survey in first..first + held.count() {
            for word in 0..self.on_stems.len() {
                let mut bits = self.on_stems[word];
                while bits != 0 {
                    self.sight(
                        survey,
                        LarvaId::new(64 * word + bits.trailing_zeros() as usize),
                    );
                    bits &= bits - 1;
                }
            }
        }
    }

    fn sight(&mut self, survey: usize, id: LarvaId) {
        let larva = &self.larvae[id];
        debug_assert!(larva.state == State::OnStem && usize::from(larva.phase) < STAGES);
        let stem = &self.stems[larva.stem];
        self.sightings.push(survey::Sighting {
            survey: survey as u16,
            larva: id,
            stage: larva.stage() as u8,
            read: survey::read(self.plan, larva.key, survey, larva.stage(), stem.condition),
            stands: stem.half,
            natal: self.stems[larva.natal].half,
            condition: stem.condition,
        });
    }
}
