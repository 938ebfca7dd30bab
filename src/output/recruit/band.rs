//! Sites needed over plausible parameter sets, as a table and in words.

use super::super::bands;
use super::super::tables::cell;
use super::super::text::{heading, wrapped};
use super::columns::PLAUSIBLE;
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

/// The band for 80 % power in words; `sizes` are the numbers of sites tried.
#[must_use]
pub fn text(band: &RecruitBand, sizes: &[usize]) -> String {
    let (fewest, most) = (
        sizes.first().copied().unwrap_or(0),
        sizes.last().copied().unwrap_or(0),
    );
    let show = |sites: f64| {
        if sites <= 0.0 {
            format!("fewer than {fewest}")
        } else if sites.is_infinite() {
            format!("more than {most}")
        } else {
            format!("{sites:.0}")
        }
    };
    let mut lines = Vec::new();
    heading(&mut lines, "If the guesses are wrong");
    for effect in &band.effects {
        lines.push(wrapped(&words(effect, show), 0));
    }
    lines.push(wrapped(
        &format!(
            "Each set had {} site-seasons an effect and {} studies at each number of sites, fewer than the numbers \
             above, so that its own noise widens the band; the attraction for each ratio was searched for in each set anew.",
            band.effort.0, band.effort.1
        ),
        0,
    ));
    lines.join("\n")
}

fn words(effect: &EffectBand, show: impl Fn(f64) -> String) -> String {
    let needed = &effect.needed[0];
    let mut text = format!("{}: invite ", effect.name);
    match needed.percentiles {
        None => text = format!("{}: no set reaches it.", effect.name),
        Some([low, middle, high]) => {
            text += &format!(
                "{} to {} for 80 % power, middle {}, over 90 % of {} plausible parameter sets",
                show(low),
                show(high),
                show(middle),
                needed.sets - needed.undefined
            );
            text += &match needed.undefined {
                0 => ".".to_owned(),
                sets => format!(
                    "; {sets} of {} sets cannot reach the ratio at any attraction tried and are left out.",
                    needed.sets
                ),
            };
        }
    }
    if let Some(central) = effect.central[0] {
        text += &format!(" Central values with the same effort: {}.", show(central));
    }
    text
}
