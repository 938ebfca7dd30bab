//! Variants side by side: table, text and picture.

mod text;

pub use text::text;

use super::charts::{self, Estimate, Pane, PanesChart, Rendered};
use super::tables::{Column, Described, cell, column};
use crate::study::compare::figures::{FIGURES, Figure, Unit};
use crate::study::compare::{CompareAnswer, Compared, Figured};
use crate::trouble::{Outcome, Trouble};

/// The table of `compare`.
pub const COMPARE: Described = Described {
    file: "compare.csv",
    row: "a measure of a variant, beside the same measure of the variant that all are held against",
    columns: &COLUMNS,
};

const COLUMNS: [Column; 12] = [
    column("variant", "text", "name of the variant"),
    column(
        "measure",
        "text",
        "stray_share: larger of the two patches; stray_share_treated, stray_share_untouched, half_drift, home_ratio, \
         observed_ratio, attenuation, net_yield as in other tables; late_counted: late-stage larvae counted at a site; \
         standing_ratio, counted_ratio: ratio that stands at surveys, and that volunteers count, if cut stems bore the \
         ratio of --ratio; signal: its logarithm over the noise of one site; power, sites_needed, hours_a_site, \
         hours_needed: of a study of that effect, the last two in hours",
    ),
    column(
        "value",
        "of the measure",
        "pooled over all seasons: shares 0 to 1, ratios, numbers of sites, hours, or larvae; empty where undefined",
    ),
    column(
        "low",
        "of the measure",
        "lower end of the 95 % bootstrap interval; empty where undefined",
    ),
    column(
        "high",
        "of the measure",
        "upper end of that interval; empty where undefined",
    ),
    column(
        "against",
        "text",
        "name of the variant that differences are taken to; empty in its own rows",
    ),
    column(
        "difference_of",
        "text",
        "`plain`: value less that of `against`; `logarithm`: natural logarithm of the value less that of the other",
    ),
    column(
        "difference",
        "as difference_of",
        "the difference; empty where undefined and in the rows of `against`",
    ),
    column(
        "difference_low",
        "as difference_of",
        "lower end of its 95 % interval, both variants being resampled with the same seasons",
    ),
    column(
        "difference_high",
        "as difference_of",
        "upper end of that interval",
    ),
    column(
        "seasons",
        "count",
        "seasons run of every variant, the same for all",
    ),
    column("note", "text", "why something is undefined; else empty"),
];

/// Every measure of every variant.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn table(answer: &CompareAnswer) -> Outcome<Vec<u8>> {
    let mut sheet = COMPARE.sheet()?;
    let reference = &answer.variants[answer.against].name;
    for (index, variant) in answer.variants.iter().enumerate() {
        for (figure, figured) in FIGURES.iter().zip(&variant.figures) {
            let ends = |interval: Option<(f64, f64)>| {
                [
                    cell(interval.map(|ends| ends.0)),
                    cell(interval.map(|ends| ends.1)),
                ]
            };
            let against = if index == answer.against {
                ""
            } else {
                reference.as_str()
            };
            let mut row = vec![
                variant.name.clone(),
                figure.name.to_owned(),
                cell(figured.value.value),
            ];
            row.extend(ends(figured.value.interval));
            row.extend([
                against.to_owned(),
                figure.scale.name().to_owned(),
                cell(figured.difference.value),
            ]);
            row.extend(ends(figured.difference.interval));
            row.extend([answer.seasons.to_string(), figured.note.clone()]);
            sheet.row(&row)?;
        }
    }
    sheet.bytes()
}

/// Heading of a figure with what it is stated for.
pub(super) fn heading(figure: &Figure, answer: &CompareAnswer) -> String {
    match figure.name {
        "power" => format!("{} of {} sites", figure.heading, answer.study.sites),
        "counted_ratio" => format!("{} for a true {}", figure.heading, answer.study.ratio),
        _ => figure.heading.to_owned(),
    }
}

/// A pane a figure, a row a variant.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn chart(answer: &CompareAnswer) -> Result<Rendered, Trouble> {
    let shown = FIGURES
        .iter()
        .enumerate()
        .filter(|(_, figure)| figure.is_shown);
    let panes = shown.map(|(at, figure)| {
        let factor = if figure.unit == Unit::Share {
            100.0
        } else {
            1.0
        };
        let unit = if figure.unit == Unit::Share {
            ",\u{a0}%"
        } else {
            ""
        };
        let figured = answer.variants.iter().map(|variant| &variant.figures[at]);
        Pane {
            heading: format!("{}{unit}", heading(figure, answer)),
            is_logarithmic: matches!(figure.name, "sites_needed" | "hours_needed"),
            cells: figured.map(|figured| drawn(figured, factor)).collect(),
        }
    });
    let rows = answer.variants.iter().map(|variant| variant.name.clone());
    Ok(charts::panes_chart(&PanesChart {
        title: title(answer),
        note: format!(
            "Bars: 95 % bootstrap intervals over {} seasons, the same for all. Bold, open square and dotted line: the \
             variant that the others are held against. As seasons are shared, differences are known better than the bars \
             suggest; compare.csv has their intervals. Power, sites and hours: if {} late-stage larvae hatch on a cut stem \
             for each one on an untouched stem.",
            answer.seasons, answer.study.ratio
        ),
        rows: rows.collect(),
        reference: answer.against,
        panes: panes.collect(),
    })?)
}

fn drawn(figured: &Figured, factor: f64) -> Option<Estimate> {
    let value = figured.value.value?;
    let (low, high) = figured.value.interval.unwrap_or((f64::NAN, f64::NAN));
    Some(Estimate {
        value: factor * value,
        low: factor * low,
        high: factor * high,
    })
}

/// The hours of the variant that takes fewest beside those of the reference, if their difference is clear.
fn title(answer: &CompareAnswer) -> String {
    let reference = &answer.variants[answer.against].name;
    let fewest = answer
        .variants
        .iter()
        .filter_map(|variant| Some((variant, variant.figure("hours_needed")?)))
        .filter_map(|(variant, figured)| Some((variant, figured, figured.value.value?)))
        .min_by(|a, b| a.2.total_cmp(&b.2));
    let clear = fewest.filter(|(_, figured, _)| {
        let interval = figured.difference.interval;
        interval.is_some_and(|(_, high)| high < 0.0)
    });
    // Hours alone would praise a layout that is sure of a wrong ratio.
    let of = |variant: &Compared, name: &str| variant.figure(name)?.value.value;
    let told = clear.and_then(|(variant, _, hours)| {
        let against = &answer.variants[answer.against];
        let counted = (of(variant, "counted_ratio")?, of(against, "counted_ratio")?);
        Some((variant, hours, of(against, "hours_needed")?, counted))
    });
    match told {
        Some((variant, hours, other, counted)) => format!(
            "Of a true ratio of {}, {} finds {:.2} in {hours:.0} volunteer hours, {reference} {:.2} in {other:.0}",
            answer.study.ratio, variant.name, counted.0, counted.1
        ),
        None => format!(
            "{} variants side by side, held against {reference}",
            answer.variants.len()
        ),
    }
}
