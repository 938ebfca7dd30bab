//! Checks of everything that has to do with time: dates, flight season, the station's record.

use super::groups::Draft;
use super::layers::Layered;
use super::{Numbers, Temperatures, WeatherSource, checks, files};
use crate::trouble::{Outcome, Trouble};
use jiff::civil::Date;

/// Most days that a season may last.
const LONGEST_SEASON_DAYS: f64 = 400.0;
/// Highest knot of the flight season; 1 is full flight, and anything far above it a slip.
const HIGHEST_FLIGHT: f64 = 10.0;

/// Checks that surveys and time step fit into the season.
pub(super) fn dates(numbers: &Numbers) -> Outcome<()> {
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

/// The knots of the flight season: (day of year, share of full flight), ascending.
pub(super) fn flight(draft: &Draft) -> Outcome<Vec<(f64, f64)>> {
    let knots = checks::need(draft.laying.flight.clone(), "laying.flight")?;
    let wrong = |what: String| {
        Trouble::new(what)
            .at("laying.flight")
            .expected("knots (\"month-day\", share of full flight from 0 to 10), in order of date")
            .remedy("mend the list")
    };
    let mut days = Vec::with_capacity(knots.len());
    for (text, height) in &knots {
        // A year that is not a leap year, so that month and day give one number.
        let date: Date = format!("2025-{text}")
            .parse()
            .map_err(|_| wrong(format!("`{text}` is not a month and day")))?;
        if !(0.0..=HIGHEST_FLIGHT).contains(height) {
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

/// The temperatures, with any station file read and checked to cover the season.
pub(super) fn temperatures(
    draft: &Draft,
    numbers: &Numbers,
    cutting: Date,
    layered: &Layered,
) -> Outcome<Temperatures> {
    let weather = &numbers.weather;
    let source = checks::need(draft.weather.source.clone(), "weather.source")?;
    let temperatures = match &source {
        WeatherSource::Constant => Temperatures::Constant(weather.mean_c),
        WeatherSource::DailySine => Temperatures::DailySine(weather.night_c, weather.day_c),
        WeatherSource::Station(file) => layered
            .data
            .read(&layered.folder, file)
            .and_then(files::station_in)
            .map_err(|fault| files::placed(fault, "weather.source"))?,
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
