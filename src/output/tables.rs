//! Tidy CSV tables. An undefined value is an empty cell.

use super::pictures::Recorder;
use crate::plan::Plan;
use crate::scenario::{Listed, STAGE_NAMES};
use crate::season::{Fate, Season};
use crate::stats::Crossing;
use crate::study::gap::GapAnswer;
use crate::study::measures::{MEASURES, Measured};
use crate::study::refuge::RefugePoint;
use crate::study::sweep::{Axis, SweepPoint};
use crate::study::uncertain::GapBand;
use crate::study::yields::YieldAnswer;
use crate::survey::Volunteer;
use crate::trouble::{Outcome, Trouble};
use crate::walk::End;
use crate::world::HalfId;
use crate::world::stems::{CONDITION_NAMES, CONDITIONS};
use std::collections::BTreeMap;

/// A table being written.
pub struct Sheet(csv::Writer<Vec<u8>>);

impl Sheet {
    /// A table with a header.
    ///
    /// # Errors
    /// When a row cannot be written to memory.
    pub fn with_header(columns: &[&str]) -> Outcome<Self> {
        let mut sheet = Self(csv::Writer::from_writer(Vec::new()));
        sheet.row(columns)?;
        Ok(sheet)
    }

    /// Writes a row.
    ///
    /// # Errors
    /// As [`Sheet::with_header`].
    pub fn row<T: AsRef<[u8]>>(&mut self, cells: &[T]) -> Outcome<()> {
        self.0
            .write_record(cells)
            .map_err(|fault| Trouble::new(format!("table: {fault}")))
    }

    /// The finished table.
    ///
    /// # Errors
    /// As [`Sheet::with_header`].
    pub fn bytes(self) -> Outcome<Vec<u8>> {
        self.0
            .into_inner()
            .map_err(|fault| Trouble::new(format!("table: {fault}")))
    }
}

pub(super) fn cell(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn measured_cells(measured: &Measured) -> [String; 3] {
    [
        cell(measured.value),
        cell(measured.interval.map(|i| i.0)),
        cell(measured.interval.map(|i| i.1)),
    ]
}

/// Stray share against gap.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn gap(answer: &GapAnswer) -> Outcome<Vec<u8>> {
    let mut sheet =
        Sheet::with_header(&["gap_m", "patch", "stray_share", "low", "high", "seasons"])?;
    for curve in &answer.curves {
        for (gap_m, share) in answer.grid_m.iter().zip(&curve.shares) {
            let [value, low, high] = measured_cells(share);
            sheet.row(&[
                gap_m.to_string(),
                curve.patch.clone(),
                value,
                low,
                high,
                answer.seasons.to_string(),
            ])?;
        }
    }
    sheet.bytes()
}

/// Clear gap of every patch, of the site, and over plausible parameter sets.
///
/// # Errors
/// As [`gap`].
pub fn clear_gap(answer: &GapAnswer, band: Option<&GapBand>) -> Outcome<Vec<u8>> {
    let mut sheet = Sheet::with_header(&[
        "what",
        "clear_gap_m",
        "low_m",
        "high_m",
        "tolerance",
        "note",
    ])?;
    let tolerance = answer.tolerance.to_string();
    for (index, curve) in answer.curves.iter().enumerate() {
        let (value, note) = match curve.crossing.crossing {
            Crossing::At(gap_m) => (Some(gap_m), ""),
            Crossing::BelowGrid => (None, "below the smallest gap tried"),
            Crossing::NotReached => (None, "not reached within the gaps tried"),
        };
        let interval = curve.crossing.interval;
        let decides = if index == answer.deciding {
            "; decides for the site"
        } else {
            ""
        };
        sheet.row(&[
            curve.patch.clone(),
            cell(value),
            cell(interval.and_then(|interval| interval.low)),
            cell(interval.and_then(|interval| interval.high)),
            tolerance.clone(),
            format!(
                "95 % interval by bootstrap over {} seasons{}{note}{decides}",
                answer.seasons,
                if note.is_empty() { "" } else { "; " }
            ),
        ])?;
    }
    if let Some(band) = band {
        sheet.row(&[
            "plausible parameter sets".to_owned(),
            cell(band.percentiles_m[1]),
            cell(band.percentiles_m[0]),
            cell(band.percentiles_m[2]),
            tolerance,
            format!("median and 90 % of {} sets; 0 is below the smallest gap tried; {} below, {} beyond", band.sets, band.outside.0, band.outside.1),
        ])?;
    }
    sheet.bytes()
}

/// Counts by half and natal half against refuge share.
///
/// # Errors
/// As [`gap`].
pub fn refuge(points: &[RefugePoint]) -> Outcome<Vec<u8>> {
    let mut sheet = Sheet::with_header(&[
        "refuge_share",
        "stands",
        "laid",
        "stems",
        "late_per_season",
        "low",
        "high",
    ])?;
    for point in points {
        let halves = [
            (
                "refuge",
                point.stems.0,
                &point.on_refuge,
                ["refuge", "cut", "other_patch"],
            ),
            (
                "cut",
                point.stems.1,
                &point.on_cut,
                ["cut", "refuge", "other_patch"],
            ),
        ];
        for (stands, stems, means, laid) in halves {
            for (mean, laid) in means.iter().zip(laid) {
                sheet.row(&[
                    point.share.to_string(),
                    stands.to_owned(),
                    laid.to_owned(),
                    stems.to_string(),
                    mean.value.to_string(),
                    mean.low.to_string(),
                    mean.high.to_string(),
                ])?;
            }
        }
    }
    sheet.bytes()
}

/// Measures against refuge share.
///
/// # Errors
/// As [`gap`].
pub fn refuge_measures(points: &[RefugePoint]) -> Outcome<Vec<u8>> {
    let mut sheet = Sheet::with_header(&["refuge_share", "measure", "value", "low", "high"])?;
    for point in points {
        let measures = [
            ("half_drift", &point.half_drift),
            ("laid_in_refuge_of_cut", &point.refuge_in_cut),
            ("observed_ratio", &point.observed_ratio),
            ("home_ratio", &point.home_ratio),
            ("net_yield", &point.net_yield),
        ];
        for (name, measured) in measures {
            let [value, low, high] = measured_cells(measured);
            sheet.row(&[point.share.to_string(), name.to_owned(), value, low, high])?;
        }
    }
    sheet.bytes()
}

/// Net yield against attraction.
///
/// # Errors
/// As [`gap`].
pub fn yields(answer: &YieldAnswer) -> Outcome<Vec<u8>> {
    let mut sheet =
        Sheet::with_header(&["attraction_peak", "net_yield", "low", "high", "seasons"])?;
    for (attraction, net_yield) in answer.attractions.iter().zip(&answer.yields) {
        let [value, low, high] = measured_cells(net_yield);
        sheet.row(&[
            attraction.to_string(),
            value,
            low,
            high,
            answer.seasons.to_string(),
        ])?;
    }
    sheet.bytes()
}

/// The measures of one scenario.
///
/// # Errors
/// As [`gap`].
pub fn measures(measures: &[Measured], seasons: u64) -> Outcome<Vec<u8>> {
    let mut sheet = Sheet::with_header(&["measure", "value", "low", "high", "seasons"])?;
    for (named, measured) in MEASURES.iter().zip(measures) {
        let [value, low, high] = measured_cells(measured);
        sheet.row(&[named.name.to_owned(), value, low, high, seasons.to_string()])?;
    }
    sheet.bytes()
}

/// A sweep: one row a point, three columns a measure.
///
/// # Errors
/// As [`gap`].
pub fn sweep(axes: &[Axis], points: &[SweepPoint]) -> Outcome<Vec<u8>> {
    let mut header: Vec<String> = axes.iter().map(|axis| axis.path.clone()).collect();
    header.push("seasons".to_owned());
    for named in &MEASURES {
        header.extend([
            named.name.to_owned(),
            format!("{}_low", named.name),
            format!("{}_high", named.name),
        ]);
    }
    let header: Vec<&str> = header.iter().map(String::as_str).collect();
    let mut sheet = Sheet::with_header(&header)?;
    for point in points {
        let mut row = point.values.clone();
        row.push(point.seasons.to_string());
        row.extend(point.measures.iter().flat_map(measured_cells));
        sheet.row(&row)?;
    }
    sheet.bytes()
}

/// The numbers of a scenario.
///
/// # Errors
/// As [`gap`].
pub fn numbers(listed: &[Listed]) -> Outcome<Vec<u8>> {
    let mut sheet = Sheet::with_header(&[
        "path", "value", "unit", "low", "high", "standing", "source", "meaning",
    ])?;
    for number in listed {
        sheet.row(&[
            number.path.clone(),
            number.value.to_string(),
            number.unit.to_owned(),
            cell(number.range.map(|range| range.0)),
            cell(number.range.map(|range| range.1)),
            number.standing.word().to_owned(),
            number.source.clone(),
            number.meaning.to_owned(),
        ])?;
    }
    sheet.bytes()
}

/// The surveys of seasons, tidy: one row a survey, half, condition and stage.
pub struct SurveyTable(Sheet);

/// Columns of the table of surveys.
pub const SURVEY_COLUMNS: [&str; 15] = [
    "site",
    "replicate",
    "week",
    "date",
    "patch",
    "half",
    "condition",
    "stage",
    "stems",
    "stems_counted",
    "counted",
    "present",
    "laid_here",
    "laid_other_half",
    "laid_elsewhere",
];

#[derive(Default, Clone, Copy)]
struct Counts {
    counted: u32,
    present: u32,
    laid_here: u32,
    laid_other_half: u32,
    laid_elsewhere: u32,
}

impl SurveyTable {
    /// An empty table.
    ///
    /// # Errors
    /// As [`gap`].
    pub fn new() -> Outcome<Self> {
        Sheet::with_header(&SURVEY_COLUMNS).map(Self)
    }

    /// Adds a season. `counted` is empty for surveys that the volunteer missed.
    ///
    /// # Errors
    /// As [`gap`].
    pub fn add(&mut self, season: &Season<'_>, replicate: u64) -> Outcome<()> {
        let plan = season.plan;
        let volunteer = Volunteer::of(plan, season.key());
        let counts = count(season);
        for (survey, time) in plan.clock.surveys.iter().enumerate() {
            for half in (0..plan.layout.halves() as u16).map(HalfId) {
                if plan.layout.stems_in(half) == 0 {
                    continue;
                }
                for condition in 0..CONDITIONS {
                    for stage in 0..STAGE_NAMES.len() {
                        let key = (survey, half.index(), condition, stage);
                        let possible = condition != 1 && (half.is_cut() || condition != 2);
                        match counts.get(&key) {
                            None if !possible => {}
                            found => {
                                let counts = found.copied().unwrap_or_default();
                                self.0.row(&row(
                                    plan,
                                    &volunteer,
                                    replicate,
                                    (survey, *time),
                                    half,
                                    condition,
                                    stage,
                                    counts,
                                ))?;
                            }
                        }
                    }
                }
            }
        }
        Ok(())
    }

    /// The finished table.
    ///
    /// # Errors
    /// As [`gap`].
    pub fn bytes(self) -> Outcome<Vec<u8>> {
        self.0.bytes()
    }
}

fn count(season: &Season<'_>) -> BTreeMap<(usize, usize, usize, usize), Counts> {
    let mut all: BTreeMap<_, Counts> = BTreeMap::new();
    for sighting in &season.sightings {
        let place = (
            usize::from(sighting.survey),
            sighting.stands.index(),
            sighting.condition as usize,
        );
        let present = all
            .entry((place.0, place.1, place.2, usize::from(sighting.stage)))
            .or_default();
        present.present += 1;
        if sighting.natal == sighting.stands {
            present.laid_here += 1;
        } else if sighting.natal.patch() == sighting.stands.patch() {
            present.laid_other_half += 1;
        } else {
            present.laid_elsewhere += 1;
        }
        if let Some(read) = sighting.read {
            all.entry((place.0, place.1, place.2, usize::from(read)))
                .or_default()
                .counted += 1;
        }
    }
    all
}

#[allow(clippy::too_many_arguments)]
fn row(
    plan: &Plan,
    volunteer: &Volunteer,
    replicate: u64,
    (survey, time): (usize, f64),
    half: HalfId,
    condition: usize,
    stage: usize,
    counts: Counts,
) -> [String; 15] {
    let stems = plan.layout.stems_in(half);
    let stems_counted = (stems as f64 * volunteer.stem_count_factor[half.index()]).round();
    let counted = if volunteer.held[survey] {
        counts.counted.to_string()
    } else {
        String::new()
    };
    [
        plan.scenario.name.clone(),
        replicate.to_string(),
        (survey + 1).to_string(),
        plan.clock.date(time).to_string(),
        plan.layout.patches[half.patch()].settings.name.clone(),
        plan.layout.half_name(half).to_owned(),
        CONDITION_NAMES[condition].to_owned(),
        STAGE_NAMES[stage].to_owned(),
        stems.to_string(),
        stems_counted.to_string(),
        counted,
        counts.present.to_string(),
        counts.laid_here.to_string(),
        counts.laid_other_half.to_string(),
        counts.laid_elsewhere.to_string(),
    ]
}

/// The fates of seasons: one row a natal half, fate and stage.
pub struct FateTable(Sheet);

impl FateTable {
    /// An empty table.
    ///
    /// # Errors
    /// As [`gap`].
    pub fn new() -> Outcome<Self> {
        Sheet::with_header(&[
            "site",
            "replicate",
            "natal_patch",
            "natal_half",
            "fate",
            "stage",
            "count",
        ])
        .map(Self)
    }

    /// Adds a season. The counts of a season sum to the eggs laid.
    ///
    /// # Errors
    /// As [`gap`].
    pub fn add(&mut self, season: &Season<'_>, replicate: u64) -> Outcome<()> {
        let layout = &season.plan.layout;
        let mut counts: BTreeMap<(usize, Fate, usize), u64> = BTreeMap::new();
        for larva in &season.larvae {
            if let Some(fate) = larva.fate() {
                let half = season.stems[larva.natal as usize].half;
                *counts
                    .entry((half.index(), fate, larva.stage()))
                    .or_default() += 1;
            }
        }
        for ((half, fate, stage), count) in counts {
            let half = HalfId(half as u16);
            self.0.row(&[
                season.plan.scenario.name.clone(),
                replicate.to_string(),
                layout.patches[half.patch()].settings.name.clone(),
                layout.half_name(half).to_owned(),
                fate.word().to_owned(),
                STAGE_NAMES[stage].to_owned(),
                count.to_string(),
            ])?;
        }
        Ok(())
    }

    /// The finished table.
    ///
    /// # Errors
    /// As [`gap`].
    pub fn bytes(self) -> Outcome<Vec<u8>> {
        self.0.bytes()
    }
}

/// Every walk of seasons: one row a stride.
pub struct WalkTable(Sheet);

impl WalkTable {
    /// An empty table.
    ///
    /// # Errors
    /// As [`gap`].
    pub fn new() -> Outcome<Self> {
        Sheet::with_header(&[
            "site",
            "replicate",
            "larva",
            "bout",
            "stage",
            "natal_patch",
            "natal_half",
            "began",
            "ended_as",
            "stride",
            "x_m",
            "y_m",
        ])
        .map(Self)
    }

    /// Adds a season.
    ///
    /// # Errors
    /// As [`gap`].
    pub fn add(&mut self, season: &Season<'_>, recorder: &Recorder, replicate: u64) -> Outcome<()> {
        let plan = season.plan;
        let mut bouts: BTreeMap<u32, u32> = BTreeMap::new();
        for walk in &recorder.walks {
            let bout = bouts.entry(walk.larva).or_default();
            *bout += 1;
            let half = season.stems[season.larvae[walk.larva as usize].natal as usize].half;
            let ended_as = match walk.end {
                End::Walking => "pupated_or_season_over",
                End::Settled(_) => "settled",
                End::Died => "died",
                End::Lost => "lost",
            };
            for (stride, point) in walk.points_m.iter().enumerate() {
                self.0.row(&[
                    plan.scenario.name.clone(),
                    replicate.to_string(),
                    walk.larva.to_string(),
                    bout.to_string(),
                    STAGE_NAMES[walk.stage].to_owned(),
                    plan.layout.patches[half.patch()].settings.name.clone(),
                    plan.layout.half_name(half).to_owned(),
                    plan.clock.date(walk.began).to_string(),
                    ended_as.to_owned(),
                    stride.to_string(),
                    format!("{:.3}", point.0 - plan.layout.shift_m.0),
                    format!("{:.3}", point.1 - plan.layout.shift_m.1),
                ])?;
            }
        }
        Ok(())
    }

    /// The finished table.
    ///
    /// # Errors
    /// As [`gap`].
    pub fn bytes(self) -> Outcome<Vec<u8>> {
        self.0.bytes()
    }
}
