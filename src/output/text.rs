//! Answers as text for the terminal.

use super::document::{Block, Table, terminal};
use super::headline::{Quantity, UNDEFINED, headline, plain_percent, within};
use super::words::LOOK_AT;
pub use super::words::{CAUTIONS, COLUMNS, hanging, length, percent, wrapped};
use crate::stats::Crossing;
use crate::study::gap::GapAnswer;
use crate::study::measures::Measured;
use crate::study::refuge::RefugePoint;
use crate::study::uncertain::{BAND_GRID_M, Band, GapBand};

/// The headline of the clear gap, without a full stop; for the terminal, the page and the chart alike.
#[must_use]
pub fn gap_headline(answer: &GapAnswer, plausible: Option<&GapBand>) -> String {
    let metres = |gap_m| format!("{gap_m:.1}");
    let tried = Quantity {
        what: "Clear gap",
        show: &within(&answer.grid_m, metres),
        unit: "m",
    };
    let over_sets = Quantity {
        show: &within(&BAND_GRID_M, metres),
        ..tried
    };
    let band = plausible.map(GapBand::band);
    let central = answer
        .clear()
        .map_or_else(|| UNDEFINED.to_owned(), |clear| tried.crossing(clear));
    headline(&over_sets, band.as_ref(), &central)
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
    say(&mut blocks, format!("{}.", gap_headline(answer, plausible)));
    if answer.clear_crossing().is_none() {
        undefined_gap(answer, &mut blocks);
    }
    if let Some(advice) = plausible.and_then(|plausible| advice(answer, plausible)) {
        say(&mut blocks, advice);
    }
    if let Some(deciding) = answer.deciding {
        let text = format!(
            "Meaning: from the clear gap on, at most {} of the late-stage larvae counted in a patch hatched outside it. \
             With the central numbers the {} patch decides: its curve is the last to reach the tolerance. {} seasons at each \
             gap.",
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
        caption: "with the central numbers: strays among late-stage larvae; 95 % intervals"
            .to_owned(),
    }));
    blocks
}

/// Why nothing can be said of the clear gap, and what can be said all the same.
fn undefined_gap(answer: &GapAnswer, blocks: &mut Vec<Block>) {
    let tried = Quantity {
        what: "",
        show: &within(&answer.grid_m, |gap_m| format!("{gap_m:.1}")),
        unit: "m",
    };
    let mut said = Vec::new();
    for curve in &answer.curves {
        let seen = curve.shares.iter().filter(|share| share.value.is_some());
        said.push(match (curve.crossing.crossing, seen.count()) {
            (Some(_), _) => format!(
                "For the {} patch alone, with the central numbers: {}.",
                curve.patch,
                tried.crossing(&curve.crossing)
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
    let mixed = format!(
        "below {} they mix beyond it even with the central numbers",
        length(central)
    );
    Some(match cautious {
        Some(cautious) if cautious > central => format!(
            "Advice: from about {} on, late-stage counts keep within the tolerance in 95 % of the {} parameter sets (an end \
             that rests on few sets and is itself rough); {mixed}. In between it rests on the guesses.",
            length(cautious),
            plausible.sets
        ),
        Some(_) => format!("Advice: keep at least {} between patches.", length(central)),
        None => format!(
            "Advice: some plausible parameter sets ask for more than any gap tried before late-stage counts keep within the \
             tolerance; {mixed}."
        ),
    })
}

/// Why nothing can be said of how the halves mix, where that is so.
fn nothing_mixes(point: &RefugePoint) -> Option<String> {
    let standing = [point.on_refuge, point.on_cut];
    standing.iter().flatten().all(|mean| mean.value == 0.0).then(|| {
        format!(
            "No late-stage larvae were seen in either half, and nothing can be said of how the halves mix. {LOOK_AT}"
        )
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

/// The refuge answer as text; `plausible` has the bands of each share, in the order of
/// [`REFUGE_MEASURES`](crate::study::refuge::REFUGE_MEASURES).
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
    if let Some((index, point)) = nearest_point(points, chosen) {
        let plausible = plausible.and_then(|bands| bands.get(index));
        say(
            &mut blocks,
            format!("{}.", half_drift_headline(point, plausible)),
        );
        if let Some(why) = nothing_mixes(point) {
            say(&mut blocks, why);
        }
        say(
            &mut blocks,
            "Half drift: of the late-stage larvae standing in the refuge half, the share laid in the cut half.",
        );
        let other = Quantity {
            what: "The other way, of those standing in the cut half the share laid in the refuge half",
            show: &plain_percent,
            unit: "%",
        };
        let band = plausible.and_then(|bands| bands.get(1));
        let central = other.measured(&point.refuge_in_cut);
        say(
            &mut blocks,
            format!("{}.", headline(&other, band, &central)),
        );
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
        caption: "with the central numbers: late-stage larvae per season, all surveys".to_owned(),
    }));
    blocks
}

/// The point nearest to the refuge share of the scenario, with its place.
pub(super) fn nearest_point(points: &[RefugePoint], chosen: f64) -> Option<(usize, &RefugePoint)> {
    let apart = |point: &RefugePoint| (point.share - chosen).abs();
    points
        .iter()
        .enumerate()
        .min_by(|(_, a), (_, b)| apart(a).total_cmp(&apart(b)))
}

/// The headline of half drift at a refuge share, without a full stop; `plausible` are the bands of that share.
pub(super) fn half_drift_headline(point: &RefugePoint, plausible: Option<&Vec<Band>>) -> String {
    let quantity = Quantity {
        what: &format!("Half drift with {} left as a refuge", percent(point.share)),
        show: &plain_percent,
        unit: "%",
    };
    let central = quantity.measured(&point.half_drift);
    headline(
        &quantity,
        plausible.and_then(|bands| bands.first()),
        &central,
    )
}
