//! From layers to a checked scenario: the one door through which settings pass inward.

use super::given::{Given, Measure, Standing};
use super::groups::{CuttingMethod, Draft, Patch, PlacedPatch, Placement};
use super::layers::Layered;
use super::{
    LayoutKind, Numbers, Outline, PatchSettings, Scenario, StemPlacement, Temperatures, Treatment,
    WeatherSource, files, late_stage,
};
use crate::trouble::{Outcome, Trouble};
use jiff::civil::Date;

/// Memory that one season may take before a scenario is refused, bytes.
const MEMORY_LIMIT: f64 = 4.0 * (1u64 << 30) as f64;
/// Memory that a stem takes in a season, bytes: its state, its place on the grid and about two eggs.
const BYTES_PER_STEM: f64 = 400.0;
/// Memory that a cell of the ground grid takes, bytes: its code and its list of stems near.
const BYTES_PER_CELL: f64 = 5.0;
/// Most days that a season may last.
const LONGEST_SEASON_DAYS: f64 = 400.0;

/// Checks everything.
pub(super) fn scenario(layered: &Layered) -> Outcome<Scenario> {
    let mut draft = layered.draft.clone();
    fill_cutting(&mut draft);
    let numbers = draft.resolve("")?;
    let layout = need(draft.site.layout, "site.layout")?;
    let patches = patches(&draft, &numbers, layout, layered)?;
    check_memory(&numbers, &patches)?;
    check_numbers(&numbers)?;
    let date_text = need(draft.dates.cutting.clone(), "dates.cutting")?;
    let cutting_date = date_text.parse::<Date>().map_err(|_| {
        Trouble::new(format!("`{date_text}` is not a date"))
            .at("dates.cutting")
            .expected("year-month-day, such as \"2026-07-01\"")
            .remedy("write the date of cutting so")
    })?;
    let temperatures = temperatures(&draft, &numbers, cutting_date, layered)?;
    Ok(Scenario {
        name: name(&draft)?,
        purpose: draft.purpose.clone().unwrap_or_default(),
        species: draft.species.clone().unwrap_or_default(),
        host: draft.host.clone().unwrap_or_default(),
        layout,
        cut_side: need(draft.site.cut_side, "site.cut_side")?,
        patches,
        surroundings: need(draft.site.surroundings, "site.surroundings")?,
        between: need(draft.site.between, "site.between")?,
        areas: draft.site.areas.clone().unwrap_or_default(),
        cutting_date,
        flight: flight(&draft)?,
        temperatures,
        population: super::recruitment::population(&draft, layered)?,
        late_from: late_stage(need(draft.surveying.late_from, "surveying.late_from")?),
        numbers,
        draft,
    })
}

pub(super) fn need<T>(value: Option<T>, path: &str) -> Outcome<T> {
    value.ok_or_else(|| {
        Trouble::new(format!("`{path}` is not set"))
            .at(path)
            .remedy("set it, or extend a preset that does, such as monarch-on-milkweed")
    })
}

/// A name becomes a folder, so only harmless letters are let in.
fn name(draft: &Draft) -> Outcome<String> {
    const LONGEST: usize = 60;
    let name = draft.name.clone().unwrap_or_else(|| "unnamed".to_owned());
    let harmless = name
        .chars()
        .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_');
    if !harmless || name.is_empty() || name.len() > LONGEST {
        return Err(
            Trouble::new(format!("the name `{name}` cannot be a folder"))
                .at("name")
                .expected("letters, digits, - and _")
                .remedy("rename the scenario"),
        );
    }
    Ok(name)
}

/// Values that a cutting method brings: lag in weeks and its range, spread, share regrown, growth rate.
struct MethodValues {
    lag: f64,
    spread: f64,
    regrown: f64,
    rate: f64,
}

fn method_values(method: CuttingMethod) -> MethodValues {
    let (lag, spread, regrown, rate) = match method {
        CuttingMethod::Shears => (2.0, 0.25, 0.90, 1.6),
        CuttingMethod::Scythe => (2.0, 0.35, 0.85, 1.5),
        CuttingMethod::Trimmer => (2.3, 0.45, 0.75, 1.3),
        CuttingMethod::Mower => (2.2, 0.40, 0.80, 1.4),
    };
    MethodValues {
        lag,
        spread,
        regrown,
        rate,
    }
}

fn fill_cutting(draft: &mut Draft) {
    let values = method_values(draft.cutting.method.unwrap_or(CuttingMethod::Shears));
    let about = |value: f64, range: Option<(f64, f64)>, standing, source: &str| {
        Some(Given {
            value: Measure::Plain(value),
            range,
            standing: Some(standing),
            source: Some(source.to_owned()),
        })
    };
    let cutting = std::mem::take(&mut draft.cutting);
    let filled = super::groups::Cutting {
        regrowth_lag_weeks: about(
            values.lag,
            Some((1.5, 3.0)),
            Standing::Published,
            "about two weeks; difference between methods assumed",
        ),
        regrowth_lag_sd_weeks: about(
            values.spread,
            Some((0.0, 1.0)),
            Standing::Assumed,
            "by cutting method",
        ),
        regrown_share: about(
            values.regrown,
            Some((0.5, 1.0)),
            Standing::Assumed,
            "by cutting method",
        ),
        regrowth_rate_per_week: about(
            values.rate,
            Some((0.8, 3.0)),
            Standing::Assumed,
            "by cutting method",
        ),
        ..Default::default()
    };
    draft.cutting = cutting.over(filled);
}

fn patches(
    draft: &Draft,
    numbers: &Numbers,
    layout: LayoutKind,
    layered: &Layered,
) -> Outcome<Vec<PatchSettings>> {
    let pair = |treatment| -> Outcome<Vec<PatchSettings>> {
        Ok(vec![
            patch(
                "treated",
                None,
                treatment,
                &draft.site.treated,
                "site.treated",
                layered,
            )?,
            patch(
                "untouched",
                None,
                Treatment::Untouched,
                &draft.site.untouched,
                "site.untouched",
                layered,
            )?,
        ])
    };
    match layout {
        LayoutKind::OnePatchHalves => Ok(vec![patch(
            "treated",
            None,
            Treatment::HalfCut,
            &draft.site.treated,
            "site.treated",
            layered,
        )?]),
        LayoutKind::PairHalfCut if numbers.site.refuge_share >= 1.0 => pair(Treatment::Untouched),
        LayoutKind::PairHalfCut => pair(Treatment::HalfCut),
        LayoutKind::PairWholeCut => pair(Treatment::WholeCut),
        LayoutKind::ByCoordinates => placed_patches(draft, layered),
    }
}

fn placed_patches(draft: &Draft, layered: &Layered) -> Outcome<Vec<PatchSettings>> {
    let listed = draft.site.patches.clone().unwrap_or_default();
    if listed.is_empty() {
        return Err(Trouble::new("a site by coordinates has no patches")
            .at("site.patches")
            .expected("at least one patch with name, centre_m and treatment")
            .remedy("list the patches, or choose another layout"));
    }
    listed
        .into_iter()
        .map(
            |PlacedPatch {
                 name,
                 centre_m,
                 treatment,
                 patch: own,
             }| {
                let base = match treatment {
                    Treatment::Untouched => &draft.site.untouched,
                    Treatment::HalfCut | Treatment::WholeCut => &draft.site.treated,
                };
                if !(centre_m.0.is_finite() && centre_m.1.is_finite()) {
                    return Err(Trouble::new(format!(
                        "the centre of patch `{name}` is not a place"
                    ))
                    .at("site.patches")
                    .expected("two finite numbers in metres")
                    .remedy("mend centre_m"));
                }
                patch(
                    &name,
                    Some(centre_m),
                    treatment,
                    &own.over(base.clone()),
                    "site.patches",
                    layered,
                )
            },
        )
        .collect()
}

fn patch(
    name: &str,
    centre_m: Option<(f64, f64)>,
    treatment: Treatment,
    settings: &Patch,
    path: &str,
    layered: &Layered,
) -> Outcome<PatchSettings> {
    let mut numbers = settings.resolve(path)?;
    let placement = match need(settings.placement.clone(), &format!("{path}.placement"))? {
        Placement::Regular => StemPlacement::Regular,
        Placement::Random => StemPlacement::Random,
        Placement::Clustered {
            stems_per_cluster,
            spread_m,
        } => {
            if !(stems_per_cluster >= 1.0
                && spread_m > 0.0
                && stems_per_cluster.is_finite()
                && spread_m.is_finite())
            {
                return Err(Trouble::new("the clusters make no sense")
                    .at(format!("{path}.placement"))
                    .expected("stems_per_cluster of at least 1 and spread_m above 0")
                    .remedy("mend the two numbers"));
            }
            StemPlacement::Clustered {
                stems_per_cluster,
                spread_m,
            }
        }
        Placement::FromCsv(file) => {
            let stems = files::stems(&layered.folder.join(&file))?;
            numbers.stems = stems.len() as f64;
            let settings = PatchSettings {
                name: name.to_owned(),
                centre_m,
                treatment,
                numbers: numbers.clone(),
                outline: need(settings.outline.clone(), &format!("{path}.outline"))?,
                placement: StemPlacement::Regular,
                cover: need(settings.cover, &format!("{path}.cover"))?,
            };
            check_inside(&settings, &stems, &file)?;
            StemPlacement::Fixed(stems.iter().map(|stem| (stem.0, stem.1)).collect())
        }
    };
    let outline = need(settings.outline.clone(), &format!("{path}.outline"))?;
    if let Outline::Polygon(corners) = &outline {
        check_polygon(corners, path)?;
    }
    if numbers.stems.fract() != 0.0 {
        return Err(Trouble::new(format!("`{path}.stems` is {}", numbers.stems))
            .at(format!("{path}.stems"))
            .expected("a whole number of stems")
            .remedy("round it"));
    }
    Ok(PatchSettings {
        name: name.to_owned(),
        centre_m,
        treatment,
        numbers,
        outline,
        placement,
        cover: need(settings.cover, &format!("{path}.cover"))?,
    })
}

fn check_polygon(corners: &[(f64, f64)], path: &str) -> Outcome<()> {
    let finite = corners
        .iter()
        .all(|corner| corner.0.is_finite() && corner.1.is_finite());
    if corners.len() < 3 || !finite || super::shape::area_of(corners) <= 0.0 {
        return Err(Trouble::new("the polygon encloses no area")
            .at(format!("{path}.outline"))
            .expected("at least three corners in order around the patch, metres")
            .remedy("mend the corners"));
    }
    Ok(())
}

fn check_inside(settings: &PatchSettings, stems: &[(f64, f64, u64)], file: &str) -> Outcome<()> {
    let shape = super::shape::Shape::of(settings);
    for (x, y, line) in stems {
        if !shape.contains(*x, *y) {
            return Err(Trouble::new(format!("the stem at ({x}, {y}) stands outside its patch"))
                .at(format!("{file}, line {line}"))
                .expected(format!("stems inside the outline of {:.1} m by {:.1} m around (0, 0)", shape.width_m(), shape.height_m()))
                .remedy("lower density_per_m2 so that the patch is larger, or give the outline as a polygon"));
        }
    }
    Ok(())
}

fn check_memory(numbers: &Numbers, patches: &[PatchSettings]) -> Outcome<()> {
    let stems: f64 = patches.iter().map(|patch| patch.numbers.stems).sum();
    let shapes: Vec<_> = patches.iter().map(super::shape::Shape::of).collect();
    let across = |size: f64| size + 2.0 * numbers.site.margin_m;
    let (mut width, mut height) = (0.0f64, 0.0f64);
    for (shape, patch) in shapes.iter().zip(patches) {
        match patch.centre_m {
            None => {
                width += shape.width_m();
                height = height.max(shape.height_m());
            }
            Some((x, y)) => {
                width = width.max(2.0 * x.abs() + shape.width_m());
                height = height.max(2.0 * y.abs() + shape.height_m());
            }
        }
    }
    width += numbers.site.gap_m;
    let cells = across(width) / numbers.site.cell_m * across(height) / numbers.site.cell_m;
    let bytes = stems * BYTES_PER_STEM + cells * BYTES_PER_CELL;
    if bytes > MEMORY_LIMIT {
        let place = if stems * BYTES_PER_STEM > cells * BYTES_PER_CELL {
            "site.treated.stems"
        } else {
            "site.cell_m"
        };
        return Err(Trouble::new(format!(
            "{stems:.0} stems on {cells:.3e} cells of ground would need about {:.1} GiB of memory",
            bytes / (1u64 << 30) as f64
        ))
        .at(place)
        .expected(format!(
            "a site that fits into {:.0} GiB",
            MEMORY_LIMIT / (1u64 << 30) as f64
        ))
        .remedy("simulate fewer stems, a smaller arena or larger cells"));
    }
    Ok(())
}

fn upside_down(low: &str, high: &str, low_value: f64, high_value: f64) -> Trouble {
    Trouble::new(format!(
        "`{low}` is {low_value} and `{high}` is {high_value}: upside down"
    ))
    .at(high)
    .expected(format!("`{low}` below `{high}`"))
    .remedy("swap or mend them")
}

fn check_numbers(numbers: &Numbers) -> Outcome<()> {
    let ordered = [
        (
            "development.lower_threshold_c",
            "development.upper_threshold_c",
            numbers.development.lower_threshold_c,
            numbers.development.upper_threshold_c,
        ),
        (
            "weather.sunrise_h",
            "weather.sunset_h",
            numbers.weather.sunrise_h,
            numbers.weather.sunset_h,
        ),
        (
            "laying.attraction_from_weeks",
            "laying.attraction_peak_weeks",
            numbers.laying.attraction_from_weeks,
            numbers.laying.attraction_peak_weeks,
        ),
        (
            "laying.attraction_peak_weeks",
            "laying.attraction_to_weeks",
            numbers.laying.attraction_peak_weeks,
            numbers.laying.attraction_to_weeks,
        ),
    ];
    for (low, high, low_value, high_value) in ordered {
        if low_value >= high_value {
            return Err(upside_down(low, high, low_value, high_value));
        }
    }
    let laying = &numbers.laying;
    if laying.batch_smallest > laying.batch_largest {
        return Err(upside_down(
            "laying.batch_smallest",
            "laying.batch_largest",
            laying.batch_smallest,
            laying.batch_largest,
        ));
    }
    if numbers.weather.night_c > numbers.weather.day_c {
        return Err(upside_down(
            "weather.night_c",
            "weather.day_c",
            numbers.weather.night_c,
            numbers.weather.day_c,
        ));
    }
    for (path, value) in [
        ("dates.surveys", numbers.dates.surveys),
        ("laying.batch_smallest", laying.batch_smallest),
        ("laying.batch_largest", laying.batch_largest),
    ] {
        if value.fract() != 0.0 {
            return Err(Trouble::new(format!("`{path}` is {value}"))
                .at(path)
                .expected("a whole number")
                .remedy("round it"));
        }
    }
    check_dates(numbers)
}

fn check_dates(numbers: &Numbers) -> Outcome<()> {
    let dates = &numbers.dates;
    let last_survey = dates.first_survey_day + (dates.surveys - 1.0) * dates.days_between_surveys;
    let end = dates.laying_until_day + dates.run_out_days;
    if end + dates.lead_in_days > LONGEST_SEASON_DAYS {
        return Err(Trouble::new(format!(
            "the season lasts {} days",
            end + dates.lead_in_days
        ))
        .at("dates.run_out_days")
        .expected(format!("at most {LONGEST_SEASON_DAYS} days"))
        .remedy("shorten lead_in_days, laying_until_day or run_out_days"));
    }
    if last_survey + 1.0 > end {
        return Err(Trouble::new(format!(
            "the last survey is on day {last_survey}, after the season ends on day {end}"
        ))
        .at("dates.surveys")
        .expected("surveys within the season")
        .remedy("hold fewer surveys, or lengthen laying_until_day or run_out_days"));
    }
    let ticks = 24.0 / dates.tick_h;
    if (ticks - ticks.round()).abs() > 1e-9 {
        return Err(Trouble::new(format!("`dates.tick_h` is {}", dates.tick_h))
            .at("dates.tick_h")
            .expected("a time step that divides a day, such as 1, 0.5 or 0.25")
            .remedy("choose another step"));
    }
    Ok(())
}

fn flight(draft: &Draft) -> Outcome<Vec<(f64, f64)>> {
    let knots = need(draft.laying.flight.clone(), "laying.flight")?;
    let wrong = |what: String| {
        Trouble::new(what)
            .at("laying.flight")
            .expected(
                "at least one knot (\"month-day\", share of full flight >= 0), in order of date",
            )
            .remedy("mend the list")
    };
    let mut days = Vec::with_capacity(knots.len());
    for (text, height) in &knots {
        // A year that is not a leap year, so that month and day give one number.
        let date: Date = format!("2025-{text}")
            .parse()
            .map_err(|_| wrong(format!("`{text}` is not a month and day")))?;
        if !height.is_finite() || *height < 0.0 {
            return Err(wrong(format!("the flight on {text} is {height}")));
        }
        days.push((f64::from(date.day_of_year()), *height));
    }
    if days.is_empty() || days.windows(2).any(|pair| pair[0].0 >= pair[1].0) {
        return Err(wrong(
            "the knots of the flight season are not in order".to_owned(),
        ));
    }
    Ok(days)
}

fn temperatures(
    draft: &Draft,
    numbers: &Numbers,
    cutting: Date,
    layered: &Layered,
) -> Outcome<Temperatures> {
    let weather = &numbers.weather;
    let source = need(draft.weather.source.clone(), "weather.source")?;
    let temperatures = match &source {
        WeatherSource::Constant => Temperatures::Constant(weather.mean_c),
        WeatherSource::DailySine => Temperatures::DailySine(weather.night_c, weather.day_c),
        WeatherSource::Station(file) => files::station(&layered.folder.join(file))?,
    };
    let (first, days) = match &temperatures {
        Temperatures::Daily(first, days) => (*first, days.len()),
        Temperatures::Hourly(first, hours) => (*first, hours.len() / 24),
        Temperatures::Constant(_) | Temperatures::DailySine(..) => return Ok(temperatures),
    };
    let lead = numbers.dates.lead_in_days.ceil() as i64;
    let after = (numbers.dates.laying_until_day + numbers.dates.run_out_days).ceil() as i64;
    let start = files::days_between(first, cutting) - lead;
    if start < 0 || start + lead + after > days as i64 {
        return Err(Trouble::new(format!(
            "the station covers {days} days from {first}, not the season around {cutting}"
        ))
        .at("weather.source")
        .expected(format!(
            "every day from {lead} days before cutting to {after} days after it"
        ))
        .remedy("use a longer record, another date, or shorter lead_in_days and run_out_days"));
    }
    Ok(temperatures)
}
