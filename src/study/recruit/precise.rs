//! Recruitment answered to a precision asked for.

use super::pool::Comparison;
use super::{RecruitAnswer, RecruitQuestion, answer};
use crate::random::Key;
use crate::runner::Runner;
use crate::scenario::Scenario;
use crate::stats::until_precise;
use crate::study::{StudyError, check_attainable, check_precision};

/// Purpose of the seeds of later batches: part of their key.
const LATER_BATCHES: u64 = 0xba7c;

impl RecruitAnswer {
    /// Half-width of the widest interval of power in the main comparison, the size of the pool included; no effect is
    /// left out, whose pool says nothing of power.
    #[must_use]
    pub fn half_width(&self) -> Option<f64> {
        let curves = self.effects.iter().skip(1);
        curves
            .filter_map(|effect| effect.curve(Comparison::Late))
            .flat_map(|curve| &curve.points)
            .map(|point| (point.with_pool.1 - point.with_pool.0) / 2.0)
            .max_by(f64::total_cmp)
    }
}

/// The answer with pool and studies doubled until every power is known to a half-width, then once more with sites and
/// studies that had no part in the decision: each batch has a master seed of its own.
///
/// # Errors
/// When the precision makes no sense; otherwise as [`answer`].
pub fn precise(
    scenario: &Scenario,
    question: &RecruitQuestion,
    precision: f64,
    runner: &Runner<'_>,
) -> Result<RecruitAnswer, StudyError> {
    check_precision(Some(precision), "0.02")?;
    let scaled = |pool: u64| RecruitQuestion {
        pool,
        studies: question.studies * usize::try_from(pool / question.pool.max(1)).unwrap_or(1),
        ..question.clone()
    };
    until_precise(
        (0, question.pool),
        precision,
        |batch| {
            let seed = match batch.number {
                0 => runner.seed,
                number => Key::master(runner.seed, LATER_BATCHES)
                    .with(u64::from(number))
                    .seed(),
            };
            let fresh = runner.with_seed(seed);
            answer(scenario, &scaled(batch.count), &fresh)
        },
        RecruitAnswer::half_width,
        |answer| answer.effects.iter().all(|effect| effect.home.is_none()),
        |width, batch| {
            let words = width.map_or_else(
                || "nothing known yet".to_owned(),
                |width| format!("power known to +-{width:.3}"),
            );
            check_attainable(
                (question.pool, question.most_pool()),
                precision,
                width,
                batch,
            )?;
            runner.watch.goes_on(&words, scaled(batch.count).seasons());
            Ok(())
        },
    )
}
