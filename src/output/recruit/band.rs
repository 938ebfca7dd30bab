//! Sites needed over plausible parameter sets, as a table and in words.

use super::super::bands;
use super::super::tables::cell;
use super::super::text::{heading, wrapped};
use super::columns::PLAUSIBLE;
use super::words::people_within;
use crate::study::recruit::band::{EffectBand, RecruitBand};
use crate::study::recruit::power::POWERS;
use crate::trouble::Outcome;

/// Sites needed by effect and power.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn table(band: &RecruitBand) -> Outcome<Vec<u8>> {
    let mut sheet = PLAUSIBLE.sheet()?;
    for effect in &band.effects {
        for (power, asked) in POWERS.iter().enumerate() {
            let mut row = vec![effect.name.clone(), asked.to_string()];
            row.extend(bands::cells(&effect.needed[power]));
            let (below, beyond) = effect.outside[power];
            let central = effect.central[power].filter(|sites| sites.is_finite());
            row.extend([below.to_string(), beyond.to_string(), cell(central)]);
            row.extend([band.effort.0.to_string(), band.effort.1.to_string()]);
            sheet.row(&row)?;
        }
    }
    sheet.bytes()
}

/// How the bands of the headlines were made; `sizes` are the numbers of sites tried.
#[must_use]
pub fn text(band: &RecruitBand, sizes: &[usize]) -> String {
    let mut lines = Vec::new();
    heading(&mut lines, "How far the bands can be trusted");
    lines.push(wrapped(
        &format!(
            "Each set had {} site-seasons an effect and {} studies at each number of sites, fewer than the central numbers above, \
             so that its own noise widens the band; the attraction for each ratio was searched for in each set anew.",
            band.effort.0, band.effort.1
        ),
        0,
    ));
    for effect in &band.effects {
        if let Some(text) = trusted(effect, sizes) {
            lines.push(wrapped(&text, 0));
        }
    }
    lines.join("\n")
}

/// Sets that cannot reach an effect, and what the central numbers give with the effort of a set.
fn trusted(effect: &EffectBand, sizes: &[usize]) -> Option<String> {
    let needed = &effect.needed[0];
    let mut said = Vec::new();
    if needed.undefined > 0 {
        said.push(format!(
            "{} of {} sets cannot reach it at any attraction tried and are left out",
            needed.undefined, needed.sets
        ));
    }
    if let Some(central) = effect.central[0] {
        let alike = people_within(central, sizes);
        said.push(format!(
            "the central numbers with the effort of a set give {alike} for 80\u{a0}% power"
        ));
    }
    (!said.is_empty()).then(|| format!("{}: {}.", effect.name, said.join("; ")))
}
