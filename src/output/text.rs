//! Answers as text for the terminal.

use super::bands;
use super::document::{Block, Table, terminal};
pub use super::words::{CAUTIONS, COLUMNS, hanging, length, percent, wrapped};
use super::words::{LOOK_AT, measured_percent};
use crate::stats::{Crossing, CrossingReport};
use crate::study::gap::GapAnswer;
use crate::study::measures::Measured;
use crate::study::refuge::RefugePoint;
use crate::study::uncertain::{BAND_GRID_M, Band, GapBand};

/// The clear gap with its interval, in words.
#[must_use]
pub fn clear_gap(report: &CrossingReport, grid_m: &[f64]) -> String {
    let (first, last) = (
        grid_m.first().copied().unwrap_or(0.0),
        grid_m.last().copied().unwrap_or(0.0),
    );
    let value = match report.crossing {
        Some(Crossing::At(gap_m)) => length(gap_m),
        Some(Crossing::BelowGrid) => format!("below {}, the smallest gap tried", length(first)),
        Some(Crossing::NotReached) => {
            format!("not reached up to {}, the largest gap tried", length(last))
        }
        None => "undefined".to_owned(),
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
        Some(0.0) => format!("below {}, the smallest gap tried,", length(BAND_GRID_M[0])),
        Some(gap_m) => length(gap_m),
    };
    let Some([low, middle, high]) = band.percentiles_m else {
        return bands::undefined(band.sets);
    };
    format!(
        "{} to {}, middle {}, over 90 % of {} plausible parameter sets{}",
        end(low),
        end(high),
        end(middle),
        band.sets,
        bands::in_brackets(band.undefined)
    )
}

pub(super) fn heading(lines: &mut Vec<String>, title: &str) {
    lines.push(String::new());
    lines.push(title.to_owned());
    lines.push("-".repeat(title.chars().count()));
}

pub(super) fn say(blocks: &mut Vec<Block>, text: impl Into<String>) {
    blocks.push(Block::Paragraph(text.into()));
}

/// The gap answer as text.
#[must_use]
pub fn gap(answer: &GapAnswer, plausible: Option<&GapBand>) -> String {
    terminal(&gap_blocks(answer, plausible))
}

/// The gap answer in blocks.
#[must_use]
pub fn gap_blocks(answer: &GapAnswer, plausible: Option<&GapBand>) -> Vec<Block> {
    let mut blocks = vec![Block::Heading(
        "How far apart must the two patches be?".to_owned(),
    )];
    match answer.clear() {
        Some(clear) => {
            let clear = clear_gap(clear, &answer.grid_m);
            say(&mut blocks, format!("Clear gap: {clear}."));
        }
        None => undefined_gap(answer, &mut blocks),
    }
    if let Some(plausible) = plausible {
        let text = format!("If the guesses are wrong: {}.", band(plausible));
        say(&mut blocks, text);
    }
    if let Some(advice) = plausible.and_then(|plausible| advice(answer, plausible)) {
        say(&mut blocks, advice);
    }
    if let Some(deciding) = answer.deciding {
        let text = format!(
            "Meaning: from this gap on, at most {} of the late-stage larvae counted in a patch hatched outside it. \
             The {} patch decides: its curve is the last to reach the tolerance. {} seasons at each gap.",
            percent(answer.tolerance),
            answer.curves[deciding].patch,
            answer.seasons
        );
        say(&mut blocks, text);
    }
    let mut header = vec!["gap".to_owned()];
    header.extend(answer.curves.iter().map(|curve| curve.patch.clone()));
    let rows = answer.grid_m.iter().enumerate().map(|(index, gap_m)| {
        let shares = answer.curves.iter().map(|curve| &curve.shares[index]);
        let mut row = vec![length(*gap_m)];
        row.extend(shares.map(short_share));
        row
    });
    blocks.push(Block::Table(Table {
        header,
        rows: rows.collect(),
        caption: "strays among the late-stage larvae of each patch; in brackets 95 % intervals"
            .to_owned(),
    }));
    blocks
}

/// Why nothing can be said of the clear gap, and what can be said all the same.
fn undefined_gap(answer: &GapAnswer, blocks: &mut Vec<Block>) {
    let mut said = vec!["Clear gap: undefined.".to_owned()];
    for curve in &answer.curves {
        let seen = curve.shares.iter().filter(|share| share.value.is_some());
        said.push(match (curve.crossing.crossing, seen.count()) {
            (Some(_), _) => format!(
                "For the {} patch alone: {}.",
                curve.patch,
                clear_gap(&curve.crossing, &answer.grid_m)
            ),
            (None, 0) => format!(
                "No late-stage larvae were seen on the {} patch in {} seasons at each gap.",
                curve.patch, answer.seasons
            ),
            (None, _) => format!(
                "Late-stage larvae were seen on the {} patch at one gap only, in {} seasons at each.",
                curve.patch, answer.seasons
            ),
        });
    }
    said.push(LOOK_AT.to_owned());
    say(blocks, said.join(" "));
}

/// What to do about the gap, given what is not known.
fn advice(answer: &GapAnswer, plausible: &GapBand) -> Option<String> {
    let cautious = plausible.percentiles_m?[2];
    let central = match answer.clear_crossing()? {
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

/// How the halves mix at a refuge share.
fn mixed(point: &RefugePoint) -> String {
    let (drift, back) = (&point.half_drift, &point.refuge_in_cut);
    let share = percent(point.share);
    let standing = [point.on_refuge, point.on_cut];
    if standing.iter().flatten().all(|mean| mean.value == 0.0) {
        return format!(
            "With {share} of the stems left as a refuge no late-stage larvae were seen in either half, and nothing can be \
             said of how the halves mix. {LOOK_AT}"
        );
    }
    let words = [drift, back].map(measured_percent);
    let [drift_words, back_words] = &words;
    if drift.value.is_none() || back.value.is_none() {
        return format!(
            "With {share} of the stems left as a refuge, share of the late-stage larvae standing in the refuge half that \
             were laid in the cut half: {drift_words}; of those in the cut half that were laid in the refuge half: {back_words}."
        );
    }
    format!(
        "With {share} of the stems left as a refuge, {drift_words} of the late-stage larvae standing in the refuge half were \
         laid in the cut half, and {back_words} of those in the cut half were laid in the refuge half."
    )
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

/// The refuge answer as text; `plausible` has the bands of half drift at each share first.
#[must_use]
pub fn refuge(points: &[RefugePoint], chosen: f64, plausible: Option<&[Vec<Band>]>) -> String {
    terminal(&refuge_blocks(points, chosen, plausible))
}

/// The refuge answer in blocks.
#[must_use]
pub fn refuge_blocks(
    points: &[RefugePoint],
    chosen: f64,
    plausible: Option<&[Vec<Band>]>,
) -> Vec<Block> {
    let mut blocks = vec![Block::Heading(
        "What does the refuge half do to the late-stage counts?".to_owned(),
    )];
    let nearest = points.iter().enumerate().min_by(|(_, a), (_, b)| {
        (a.share - chosen)
            .abs()
            .total_cmp(&(b.share - chosen).abs())
    });
    if let Some((index, point)) = nearest {
        say(&mut blocks, mixed(point));
        if let Some(bands) = plausible {
            say(&mut blocks, bands::sentence(&bands[index][0], percent));
        }
        say(
            &mut blocks,
            "Meaning: a late-stage count in one half is partly a count of the other. Compare whole patches for the late stage; compare halves only for eggs and young larvae, which hardly walk.",
        );
    }
    let header = [
        "refuge\nshare",
        "in refuge half,\nlaid there",
        "in refuge half,\nstrayed in",
        "in cut half,\nlaid there",
        "in cut half,\nstrayed in",
    ];
    let rows = points.iter().map(|point| {
        let strays = |means: &[crate::stats::Estimate; 3]| means[1].value + means[2].value;
        vec![
            format!("{:.0}\u{a0}%", 100.0 * point.share),
            format!("{:.2}", point.on_refuge[0].value),
            format!("{:.2}", strays(&point.on_refuge)),
            format!("{:.2}", point.on_cut[0].value),
            format!("{:.2}", strays(&point.on_cut)),
        ]
    });
    blocks.push(Block::Table(Table {
        header: header.map(str::to_owned).to_vec(),
        rows: rows.collect(),
        caption: "late-stage larvae present per season, all surveys together".to_owned(),
    }));
    blocks
}
