//! Answers as text for the terminal.

use super::bands;
pub use super::words::{CAUTIONS, COLUMNS, hanging, length, percent, wrapped};
use super::words::{measured_percent, measured_ratio};
use super::yield_text::yields;
use crate::scenario::Listed;
use crate::scenario::given::Standing;
use crate::stats::{Crossing, CrossingReport};
use crate::study::brief::Brief;
use crate::study::gap::GapAnswer;
use crate::study::measures::{MEASURES, Measured};
use crate::study::refuge::RefugePoint;
use crate::study::uncertain::{Band, GapBand};

/// The clear gap with its interval, in words.
#[must_use]
pub fn clear_gap(report: &CrossingReport, grid_m: &[f64]) -> String {
    let (first, last) = (
        grid_m.first().copied().unwrap_or(0.0),
        grid_m.last().copied().unwrap_or(0.0),
    );
    let value = match report.crossing {
        Crossing::At(gap_m) => length(gap_m),
        Crossing::BelowGrid => format!("below {}, the smallest gap tried", length(first)),
        Crossing::NotReached => {
            format!("not reached up to {}, the largest gap tried", length(last))
        }
    };
    match report.interval {
        None => value,
        Some(interval) => {
            let low = interval
                .low
                .map_or_else(|| format!("below {first:.1}"), |low| format!("{low:.1}"));
            let high = interval
                .high
                .map_or_else(|| format!("beyond {last:.1}"), |high| format!("{high:.1}"));
            format!("{value}, 95 % interval {low} to {high} m")
        }
    }
}

/// The band of the clear gap over plausible parameters, in words.
#[must_use]
pub fn band(band: &GapBand) -> String {
    let end = |gap: Option<f64>| match gap {
        None => "beyond the largest gap tried".to_owned(),
        Some(0.0) => "nothing (patches may touch)".to_owned(),
        Some(gap_m) => length(gap_m),
    };
    format!(
        "{} to {}, middle {}, over 90 % of {} plausible parameter sets",
        end(band.percentiles_m[0]),
        end(band.percentiles_m[2]),
        end(band.percentiles_m[1]),
        band.sets
    )
}

pub(super) fn heading(lines: &mut Vec<String>, title: &str) {
    lines.push(String::new());
    lines.push(title.to_owned());
    lines.push("-".repeat(title.chars().count()));
}

/// The gap answer as text.
#[must_use]
pub fn gap(answer: &GapAnswer, plausible: Option<&GapBand>) -> String {
    let mut lines = Vec::new();
    heading(&mut lines, "How far apart must the two patches be?");
    lines.push(wrapped(
        &format!("Clear gap: {}.", clear_gap(answer.clear(), &answer.grid_m)),
        0,
    ));
    if let Some(plausible) = plausible {
        lines.push(wrapped(
            &format!("If the guesses are wrong: {}.", band(plausible)),
            0,
        ));
    }
    if let Some(advice) = plausible.and_then(|plausible| advice(answer, plausible)) {
        lines.push(wrapped(&advice, 0));
    }
    let deciding = &answer.curves[answer.deciding];
    lines.push(wrapped(
        &format!(
            "Meaning: from this gap on, at most {} of the late-stage larvae counted in a patch hatched outside it. \
             The {} patch decides: its curve is the last to reach the tolerance. {} seasons at each gap.",
            percent(answer.tolerance),
            deciding.patch,
            answer.seasons
        ),
        0,
    ));
    lines.push(String::new());
    let names: Vec<String> = answer
        .curves
        .iter()
        .map(|curve| format!("{:>22}", curve.patch))
        .collect();
    lines.push(format!("  {:>16}  {}", "gap", names.join("  ")));
    for (index, gap_m) in answer.grid_m.iter().enumerate() {
        let cells: Vec<String> = answer
            .curves
            .iter()
            .map(|curve| format!("{:>22}", short_share(&curve.shares[index])))
            .collect();
        lines.push(format!("  {:>16}  {}", length(*gap_m), cells.join("  ")));
    }
    lines.join("\n")
}

/// What to do about the gap, given what is not known.
fn advice(answer: &GapAnswer, plausible: &GapBand) -> Option<String> {
    let cautious = plausible.percentiles_m[2];
    let central = match answer.clear().crossing {
        Crossing::At(gap_m) => gap_m,
        Crossing::BelowGrid => answer.grid_m.first().copied()?,
        Crossing::NotReached => return Some("Advice: no gap that was tried is enough; compare eggs and young larvae, or whole sites.".to_owned()),
    };
    Some(match cautious {
        Some(cautious) if cautious > central => format!(
            "Advice: below {} late-stage counts mix beyond the tolerance even on the central values; from about {} on they keep within it for 19 of 20 parameter sets (an end that rests on few sets and is itself rough). In between it rests on the guesses.",
            length(central),
            length(cautious)
        ),
        Some(_) => format!("Advice: keep at least {} between patches.", length(central)),
        None => format!(
            "Advice: below {} late-stage counts mix beyond the tolerance even on the central values; some plausible parameter sets ask for more than any gap tried.",
            length(central)
        ),
    })
}

fn short_share(measured: &Measured) -> String {
    match (measured.value, measured.interval) {
        (None, _) => "undefined".to_owned(),
        (Some(value), None) => format!("{:.2} %", 100.0 * value),
        (Some(value), Some((low, high))) => {
            format!(
                "{:.2} % ({:.2}-{:.2})",
                100.0 * value,
                100.0 * low,
                100.0 * high
            )
        }
    }
}

/// The refuge answer as text.
#[must_use]
pub fn refuge(points: &[RefugePoint], chosen: f64, plausible: Option<&[Vec<Band>]>) -> String {
    let mut lines = Vec::new();
    heading(
        &mut lines,
        "What does the refuge half do to the late-stage counts?",
    );
    let nearest = points.iter().enumerate().min_by(|(_, a), (_, b)| {
        (a.share - chosen)
            .abs()
            .total_cmp(&(b.share - chosen).abs())
    });
    if let Some((index, point)) = nearest {
        lines.push(wrapped(
            &format!(
                "With {} of the stems left as a refuge, {} of the late-stage larvae standing in the refuge half were laid in \
                 the cut half, and {} of those in the cut half were laid in the refuge half.",
                percent(point.share),
                measured_percent(&point.half_drift),
                measured_percent(&point.refuge_in_cut)
            ),
            0,
        ));
        if let Some(bands) = plausible {
            let drift = &bands[index][0];
            lines.push(wrapped(&bands::sentence(drift, percent), 0));
        }
        lines.push(wrapped("Meaning: a late-stage count in one half is partly a count of the other. Compare whole patches for the late stage; compare halves only for eggs and young larvae, which hardly walk.", 0));
    }
    lines.push(String::new());
    lines.push(format!(
        "  {:>7}  {:>26}  {:>26}",
        "refuge", "larvae in the refuge half", "larvae in the cut half"
    ));
    lines.push(format!(
        "  {:>7}  {:>12}  {:>12}  {:>12}  {:>12}",
        "share", "laid there", "strayed in", "laid there", "strayed in"
    ));
    for point in points {
        let strays = |means: &[crate::stats::Estimate; 3]| means[1].value + means[2].value;
        lines.push(format!(
            "  {:>6.0} %  {:>12.2}  {:>12.2}  {:>12.2}  {:>12.2}",
            100.0 * point.share,
            point.on_refuge[0].value,
            strays(&point.on_refuge),
            point.on_cut[0].value,
            strays(&point.on_cut)
        ));
    }
    lines.push("  (late-stage larvae present per season, all surveys together)".to_owned());
    lines.join("\n")
}

fn own(brief: &Brief, (treated, untouched): (&str, &str), lines: &mut Vec<String>) {
    let Some(own) = &brief.own else { return };
    heading(lines, "What this scenario does to the counts");
    let find = |name: &str| {
        MEASURES
            .iter()
            .position(|named| named.name == name)
            .and_then(|index| own.measures.get(index))
            .copied()
            .unwrap_or(Measured {
                value: None,
                interval: None,
            })
    };
    for (patch, mean) in &own.late_per_survey {
        lines.push(wrapped(
            &format!("Late-stage larvae on the {patch} patch at a survey: {mean:.2} on average."),
            0,
        ));
    }
    for (words, name) in [
        ("treated", "stray_share_treated"),
        ("untouched", "stray_share_untouched"),
    ] {
        if find(name).value.is_some() {
            lines.push(wrapped(
                &format!(
                    "Strays on the {words} patch: {}.",
                    measured_percent(&find(name))
                ),
                0,
            ));
        }
    }
    if find("observed_ratio").value.is_some() || find("home_ratio").value.is_some() {
        lines.push(wrapped(&format!("Ratio of late-stage larvae per stem, {treated} over {untouched}: {} by where they stand, {} by where they hatched.", measured_ratio(&find("observed_ratio")), measured_ratio(&find("home_ratio"))), 0));
        lines.push(wrapped(
            &format!(
                "Attenuation: {}. Crawling leaves this share of the logarithm of the true ratio.",
                measured_ratio(&find("attenuation"))
            ),
            0,
        ));
        for (words, name) in [
            ("ratio where they hatched", "home_ratio"),
            ("attenuation", "attenuation"),
        ] {
            if let Some(band) = own_band(brief, name) {
                let words = format!(
                    "If the guesses are wrong, {words}: {}.",
                    bands::words(&band, ratio)
                );
                lines.push(wrapped(&words, 0));
            }
        }
    }
    // Told already where refuge shares are compared.
    if brief.refuge.is_none() && find("half_drift").value.is_some() {
        lines.push(wrapped(&format!("Half drift: {} of the late-stage larvae in the refuge half were laid in the cut half.", measured_percent(&find("half_drift"))), 0));
    }
    lines.push(wrapped(
        &format!(
            "Lost beyond the margin: {} of all eggs. {} seasons.",
            measured_percent(&find("lost_share")),
            own.seasons
        ),
        0,
    ));
}

/// The band of a measure of the scenario as it is.
fn own_band(brief: &Brief, name: &str) -> Option<Band> {
    let index = MEASURES.iter().position(|named| named.name == name)?;
    brief.own_bands.as_ref()?.get(index).copied()
}

fn ratio(value: f64) -> String {
    format!("{value:.2}")
}

/// The whole brief as text; `listed` are the numbers of the scenario.
#[must_use]
pub fn brief(
    title: &str,
    purpose: &str,
    setting: &str,
    brief: &Brief,
    refuge_share: f64,
    listed: &[Listed],
) -> String {
    let mut lines = vec![title.to_owned(), "=".repeat(title.chars().count())];
    lines.push(wrapped(purpose, 0));
    lines.push(wrapped(setting, 0));
    if let Some(answer) = &brief.gap {
        lines.push(gap(answer, brief.band.as_ref()));
    }
    if let Some(driver) = &brief.driver {
        lines.push(String::new());
        lines.push(wrapped(&super::weigh::driver(driver), 0));
    }
    if let Some(points) = &brief.refuge {
        lines.push(refuge(points, refuge_share, brief.refuge_bands.as_deref()));
    }
    // Two patches are compared where there are two, else the halves of the one.
    let pair = brief
        .own
        .as_ref()
        .is_some_and(|own| own.late_per_survey.len() > 1);
    let sides = if pair {
        ("treated patch", "untouched patch")
    } else {
        ("cut half", "refuge half")
    };
    own(brief, sides, &mut lines);
    if let Some(answer) = &brief.yields {
        let index = MEASURES.iter().position(|named| named.name == "net_yield");
        let own = index.and_then(|index| brief.own.as_ref()?.measures.get(index).copied());
        let bands = (own_band(brief, "net_yield"), brief.yield_band.as_ref());
        yields(answer, own, bands, sides, &mut lines);
    }
    heading(&mut lines, "What is assumed");
    lines.push(wrapped(&assumptions(listed), 0));
    heading(&mut lines, "Cautions");
    let hanging = textwrap::Options::new(COLUMNS)
        .initial_indent("- ")
        .subsequent_indent("  ");
    lines.extend(
        CAUTIONS
            .iter()
            .map(|caution| textwrap::fill(caution, &hanging)),
    );
    lines.join("\n")
}

/// Which numbers are guesses, in a paragraph.
#[must_use]
pub fn assumptions(listed: &[Listed]) -> String {
    let guesses: Vec<&Listed> = listed
        .iter()
        .filter(|number| number.standing == Standing::Assumed && number.range.is_some())
        // These only matter to `recruit`, whose note states them one by one.
        .filter(|number| !number.path.starts_with("recruitment."))
        .collect();
    let mut groups: Vec<(&str, Vec<&str>)> = Vec::new();
    for number in &guesses {
        let (group, rest) = number.path.split_once('.').unwrap_or(("", &number.path));
        let name = rest.split('.').next().unwrap_or(rest);
        match groups.iter_mut().find(|(other, _)| *other == group) {
            Some((_, names)) if names.contains(&name) => {}
            Some((_, names)) => names.push(name),
            None => groups.push((group, vec![name])),
        }
    }
    let words: Vec<String> = groups
        .iter()
        .map(|(group, names)| format!("{group} ({})", names.join(", ")))
        .collect();
    format!(
        "{} of {} numbers are guesses with no source, and the answers hang on them: {}. `crawlspan check` lists each with its range.",
        guesses.len(),
        listed.len(),
        words.join("; ")
    )
}
