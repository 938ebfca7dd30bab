//! `weigh.csv`: one row for each quantity and unknown.

use super::columns::WEIGH;
use super::{lines, others_name};
use crate::output::tables::cell;
use crate::stats::{Estimate, ResampledEstimate};
use crate::study::weigh::WeighAnswer;
use crate::trouble::Outcome;

fn share(share: &ResampledEstimate) -> [String; 3] {
    let interval = share.estimate;
    [
        cell(share.value),
        cell(interval.map(|estimate| estimate.low)),
        cell(interval.map(|estimate| estimate.high)),
    ]
}

fn with_interval(estimate: &Estimate) -> [String; 3] {
    [estimate.value, estimate.low, estimate.high].map(|value| value.to_string())
}

/// Screening of every unknown, and shares of those that have their own; the noise of the seasons has a row too, with
/// its share in the last of the share columns.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn weigh(answer: &WeighAnswer) -> Outcome<Vec<u8>> {
    let mut sheet = WEIGH.sheet()?;
    for weighed in &answer.weighed {
        let ranked = lines(answer, weighed);
        let counts = [
            weighed.used.0.to_string(),
            weighed.used.1.to_string(),
            weighed.shares.variance.to_string(),
        ];
        let name = weighed.quantity.name().to_owned();
        for (index, parameter) in answer.parameters.iter().enumerate() {
            let effect = &weighed.screened[index];
            let own = ranked.iter().find(|line| line.parameter == Some(index));
            let nothing = || [(); 3].map(|()| String::new());
            let mut row = vec![
                name.clone(),
                parameter.path.clone(),
                parameter.unit.to_owned(),
                parameter.standing.word().to_owned(),
                parameter.range.0.to_string(),
                parameter.range.1.to_string(),
                effect.mean.to_string(),
            ];
            row.extend(with_interval(&effect.absolute));
            row.extend([effect.sd.to_string(), cell(effect.noise_sd)]);
            row.extend(with_interval(&effect.square));
            row.extend(own.map_or_else(nothing, |line| share(line.first)));
            row.extend(own.map_or_else(nothing, |line| share(line.total)));
            row.extend(counts.clone());
            sheet.row(&row)?;
        }
        let besides = |what: String, alone: [String; 3], total: [String; 3]| {
            let mut row = vec![name.clone(), what];
            row.extend([(); 13].map(|()| String::new()));
            row.extend(alone);
            row.extend(total);
            row.extend(counts.clone());
            row
        };
        if let Some(line) = ranked.iter().find(|line| line.parameter.is_none()) {
            let row = besides(others_name(answer), share(line.first), share(line.total));
            sheet.row(&row)?;
        }
        let nothing = [(); 3].map(|()| String::new());
        let noise = share(&weighed.shares.noise);
        sheet.row(&besides("noise of the seasons".to_owned(), nothing, noise))?;
    }
    sheet.bytes()
}
