//! From layers to a checked scenario: the one door through which settings pass inward.

use super::choices::{CuttingMethod, Placement};
use super::given::{Given, Measure, Standing};
use super::groups::{Draft, Patch, PlacedPatch};
use super::layers::Layered;
use super::{
    LayoutKind, Numbers, Outline, PatchSettings, Scenario, StemPlacement, Treatment, files,
    late_stage, names, sizes, timing,
};
use crate::trouble::shown::is_unseen;
use crate::trouble::{Outcome, Trouble};
use jiff::civil::Date;

/// Checks everything.
pub(super) fn scenario(layered: &Layered) -> Outcome<Scenario> {
    let mut draft = layered.draft.clone();
    fill_cutting(&mut draft);
    let numbers = draft.resolve("")?;
    let layout = need(draft.site.layout, "site.layout")?;
    let patches = patches(&draft, &numbers, layout, layered)?;
    let areas = draft.site.areas.clone().unwrap_or_default();
    let flight = timing::flight(&draft)?;
    check_numbers(&numbers)?;
    sizes::areas(&areas)?;
    sizes::ground(&numbers, &patches, areas.len())?;
    sizes::eggs(&numbers, &patches, &flight)?;
    let date_text = need(draft.dates.cutting.clone(), "dates.cutting")?;
    let cutting_date = date_text.parse::<Date>().map_err(|_| {
        Trouble::new(format!("`{date_text}` is not a date"))
            .at("dates.cutting")
            .expected("year-month-day, such as \"2026-07-01\"")
            .remedy("write the date of cutting so")
    })?;
    let temperatures = timing::temperatures(&draft, &numbers, cutting_date, layered)?;
    Ok(Scenario {
        name: name(&draft)?,
        purpose: words(draft.purpose.as_deref(), "purpose")?,
        species: words(draft.species.as_deref(), "species")?,
        host: words(draft.host.as_deref(), "host")?,
        layout,
        cut_side: need(draft.site.cut_side, "site.cut_side")?,
        patches,
        surroundings: need(draft.site.surroundings, "site.surroundings")?,
        between: need(draft.site.between, "site.between")?,
        areas,
        cutting_date,
        flight,
        temperatures,
        population: super::recruitment::population(&draft, layered)?,
        permission: need(draft.screening.permission, "screening.permission")?,
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
    let name = draft.name.clone().unwrap_or_else(|| "unnamed".to_owned());
    match names::fault_of_short(&name) {
        None => Ok(name),
        Some(why) => Err(names::refused(&name, "folder", why)
            .at("name")
            .remedy("rename the scenario")),
    }
}

/// Text that is printed as it stands: control characters would reach the terminal.
pub(super) fn words(text: Option<&str>, path: &str) -> Outcome<String> {
    let text = text.unwrap_or_default();
    if text.chars().any(is_unseen) {
        return Err(Trouble::new(format!("`{path}` holds control characters"))
            .at(path)
            .expected("plain text on one line")
            .remedy("remove them"));
    }
    Ok(text.to_owned())
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

/// Writes the values of the cutting method into the draft, below what is set by itself.
pub(super) fn fill_cutting(draft: &mut Draft) {
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
            .at("site.layout")
            .expected("at least one patch with name, centre_m and treatment")
            .remedy("list the patches, or choose another layout"));
    }
    if listed.len() > sizes::MOST_PATCHES {
        return Err(
            Trouble::new(format!("the site has {} patches", listed.len()))
                .at("site.patches")
                .expected(format!("at most {}", sizes::MOST_PATCHES))
                .remedy("simulate a part of it"),
        );
    }
    let mut names = std::collections::BTreeSet::new();
    for (index, placed) in listed.iter().enumerate() {
        if !names.insert(&placed.name) {
            return Err(
                Trouble::new(format!("two patches are called `{}`", placed.name))
                    .at(format!("site.patches.{}.name", index + 1))
                    .expected("a name of its own for every patch")
                    .remedy("rename one"),
            );
        }
    }
    listed
        .iter()
        .enumerate()
        .map(|(index, placed)| placed_patch(draft, placed, index + 1, layered))
        .collect()
}

/// One patch by coordinates; `number` counts from 1.
fn placed_patch(
    draft: &Draft,
    placed: &PlacedPatch,
    number: usize,
    layered: &Layered,
) -> Outcome<PatchSettings> {
    const LONGEST: usize = 40;
    let path = format!("site.patches.{number}");
    let base = match placed.treatment {
        Treatment::Untouched => &draft.site.untouched,
        Treatment::HalfCut | Treatment::WholeCut => &draft.site.treated,
    };
    let name = &placed.name;
    if name.trim().is_empty() || name.chars().count() > LONGEST || name.chars().any(is_unseen) {
        return Err(
            Trouble::new(format!("`{}` is no name for a patch", name.escape_debug()))
                .at(format!("{path}.name"))
                .expected(format!("1 to {LONGEST} characters on one line"))
                .remedy("rename it"),
        );
    }
    let (x, y) = placed.centre_m;
    if !sizes::is_place((x, y)) {
        return Err(
            Trouble::new(format!("the centre of patch `{name}` is ({x}, {y})"))
                .at(format!("{path}.centre_m"))
                .expected(format!(
                    "two numbers in metres, none beyond {}",
                    sizes::FARTHEST_M
                ))
                .remedy("mend centre_m"),
        );
    }
    patch(
        name,
        Some(placed.centre_m),
        placed.treatment,
        &placed.patch.clone().over(base.clone()),
        &format!("{path}.patch"),
        layered,
    )
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
    let outline = need(settings.outline.clone(), &format!("{path}.outline"))?;
    if let Outline::Polygon(corners) = &outline {
        sizes::polygon(corners, path)?;
    }
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
                && spread_m <= sizes::WIDEST_SPREAD_M)
            {
                return Err(Trouble::new(format!(
                    "clusters of {stems_per_cluster} stems that spread {spread_m} m make no sense"
                ))
                .at(format!("{path}.placement"))
                .expected(format!(
                    "stems_per_cluster of at least 1, spread_m above 0 and at most {}",
                    sizes::WIDEST_SPREAD_M
                ))
                .remedy("mend the two numbers"));
            }
            StemPlacement::Clustered {
                stems_per_cluster,
                spread_m,
            }
        }
        Placement::FromCsv(file) => {
            let stems = layered
                .data
                .read(&layered.folder, &file)
                .and_then(files::stems_in)
                .map_err(|fault| files::placed(fault, &format!("{path}.placement")))?;
            numbers.stems = stems.len() as f64;
            let settings = PatchSettings {
                name: name.to_owned(),
                centre_m,
                treatment,
                numbers: numbers.clone(),
                outline: outline.clone(),
                placement: StemPlacement::Regular,
                cover: need(settings.cover, &format!("{path}.cover"))?,
            };
            check_inside(&settings, &stems, &file)?;
            StemPlacement::Fixed(stems.iter().map(|stem| (stem.0, stem.1)).collect())
        }
    };
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
    timing::dates(numbers)
}
