//! Reading a release of marked larvae; every fault of form is an error with its line.

use crate::life::Clock;
use crate::plan::Plan;
use crate::scenario::files::{Sheet, alone};
use crate::trouble::{Outcome, Trouble};
use jiff::civil::{Date, DateTime};
use std::collections::BTreeMap;
use std::path::Path;

/// Columns that a release has; others, such as a note, are left alone.
pub const COLUMNS: [&str; 7] = [
    "larva",
    "released_x_m",
    "released_y_m",
    "released_when",
    "found_x_m",
    "found_y_m",
    "found_when",
];

/// Farthest that a place of release may lie from a stem, metres: farther is another frame of coordinates.
const FARTHEST_FROM_STEM_M: f64 = 0.5;

/// A larva that was let go. Coordinates are site metres: around the middle of the first patch, the second patch lying
/// in the direction of x; in a site given by coordinates those of its patches.
#[derive(Debug, Clone, PartialEq)]
pub struct Marked {
    /// Its mark.
    pub name: String,
    /// Where it was let go.
    pub at_m: (f64, f64),
    /// When, ticks.
    pub time: f64,
}

/// A larva found again.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// Index of the larva.
    pub larva: usize,
    /// Index of the search.
    pub search: usize,
    /// Where.
    pub at_m: (f64, f64),
}

/// A release: who was let go, when it was searched, who was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Release {
    /// Larvae, in the order of the table.
    pub larvae: Vec<Marked>,
    /// Times of the searches, ticks, ascending.
    pub searches: Vec<f64>,
    /// Larvae found, in no particular order.
    pub found: Vec<Found>,
}

/// Reads a release for a plan's site and season.
///
/// A row with empty `found_x_m` and `found_y_m` says that the larva was let go and not found; with `found_when` it
/// adds that time to the searches, all of which are taken to have covered every stem. A larva found several times has
/// several rows.
///
/// # Errors
/// The first fault, with its line.
pub fn read(path: &Path, plan: &Plan) -> Outcome<Release> {
    read_in(alone(path), plan)
}

/// As [`read`], of a file that was read, or could not be: label and contents.
///
/// # Errors
/// As [`read`].
pub fn read_in(file: Outcome<(String, Vec<u8>)>, plan: &Plan) -> Outcome<Release> {
    let sheet = file
        .and_then(Sheet::read)
        .map_err(|fault| fault.remedy("check the path and the file"))?;
    let mut columns = [0; COLUMNS.len()];
    for (column, name) in columns.iter_mut().zip(COLUMNS) {
        *column = sheet.need(name, &COLUMNS.join(", "))?;
    }
    let mut reader = Reader {
        sheet: &sheet,
        columns,
        plan,
        stems: stems_of(plan),
        larvae: Vec::new(),
        numbers: BTreeMap::new(),
        found: Vec::new(),
        searched: Vec::new(),
    };
    for row in &sheet.rows {
        reader.row(row)?;
    }
    reader.release()
}

/// Places of the stems in site coordinates; they are the same in every season.
fn stems_of(plan: &Plan) -> Vec<(f64, f64)> {
    let mut stems = Vec::new();
    let mut stream = crate::random::Key::master(0, 0).stream();
    for patch in &plan.layout.patches {
        crate::world::placement::place(patch, &mut stream, &mut stems, &|| false);
    }
    let (dx, dy) = plan.layout.shift_m;
    stems.iter().map(|(x, y)| (x - dx, y - dy)).collect()
}

type Row = (u64, csv::StringRecord);

struct Reader<'a> {
    sheet: &'a Sheet,
    columns: [usize; COLUMNS.len()],
    plan: &'a Plan,
    stems: Vec<(f64, f64)>,
    larvae: Vec<Marked>,
    numbers: BTreeMap<String, usize>,
    /// Larva, time, place.
    found: Vec<(usize, f64, (f64, f64))>,
    searched: Vec<f64>,
}

impl Reader<'_> {
    fn cell<'r>(&self, row: &'r Row, column: usize) -> &'r str {
        row.1.get(self.columns[column]).unwrap_or("")
    }

    fn row(&mut self, row: &Row) -> Outcome<()> {
        let larva = self.larva(row)?;
        let released = self.larvae[larva].time;
        let (x, y, when) = (self.cell(row, 4), self.cell(row, 5), self.cell(row, 6));
        if x.is_empty() != y.is_empty() {
            let what = "found_x_m and found_y_m go together".to_owned();
            return Err(self.sheet.fault(row.0, what, "both, or neither"));
        }
        if when.is_empty() {
            if x.is_empty() {
                return Ok(());
            }
            let what = "a larva was found, but not when".to_owned();
            return Err(self.sheet.fault(row.0, what, "a date in found_when"));
        }
        let time = self.time(row, when)?.floor();
        if time <= released {
            let what = format!("`{when}` is not after the larva was let go");
            return Err(self.sheet.fault(row.0, what, "a later time"));
        }
        self.searched.push(time);
        if x.is_empty() {
            return Ok(());
        }
        let at_m = (
            self.sheet.number(row, self.columns[4])?,
            self.sheet.number(row, self.columns[5])?,
        );
        let (dx, dy) = self.plan.layout.shift_m;
        let (width, height) = self.plan.layout.arena_m;
        let inside =
            (0.0..=width).contains(&(at_m.0 + dx)) && (0.0..=height).contains(&(at_m.1 + dy));
        if !inside {
            let what = format!("({}, {}) lies outside the site", at_m.0, at_m.1);
            let expected =
                "metres around the middle of the first patch, within the scenario's margin";
            return Err(self.sheet.fault(row.0, what, expected));
        }
        if self
            .found
            .iter()
            .any(|other| (other.0, other.1) == (larva, time))
        {
            let what = format!("`{}` is found twice at `{when}`", self.larvae[larva].name);
            return Err(self.sheet.fault(row.0, what, "one row for each time"));
        }
        self.found.push((larva, time, at_m));
        Ok(())
    }

    /// The larva of a row, which is new or let go as before.
    fn larva(&mut self, row: &Row) -> Outcome<usize> {
        let name = self.cell(row, 0).to_owned();
        if name.is_empty() {
            let what = "the larva has no mark".to_owned();
            return Err(self.sheet.fault(row.0, what, "a name or number in larva"));
        }
        let at_m = (
            self.sheet.number(row, self.columns[1])?,
            self.sheet.number(row, self.columns[2])?,
        );
        let when = self.cell(row, 3);
        let time = self.time(row, when)?;
        if let Some(&number) = self.numbers.get(&name) {
            let known = &self.larvae[number];
            if known.at_m != at_m || known.time != time {
                let what =
                    format!("`{name}` is let go a second time, elsewhere or at another time");
                let expected = "one place and time of release for each larva";
                return Err(self.sheet.fault(row.0, what, expected));
            }
            return Ok(number);
        }
        let nearest = self
            .stems
            .iter()
            .map(|stem| (stem.0 - at_m.0).hypot(stem.1 - at_m.1))
            .fold(f64::INFINITY, f64::min);
        if nearest > FARTHEST_FROM_STEM_M {
            let what = format!(
                "({}, {}) is {nearest:.1} m from the nearest stem of the scenario",
                at_m.0, at_m.1
            );
            let expected = format!(
                "within {FARTHEST_FROM_STEM_M} m of a stem, in metres around the middle of the first patch"
            );
            return Err(self.sheet.fault(row.0, what, &expected));
        }
        self.larvae.push(Marked {
            name: name.clone(),
            at_m,
            time,
        });
        let number = self.larvae.len() - 1;
        self.numbers.insert(name, number);
        Ok(number)
    }

    fn time(&self, row: &Row, text: &str) -> Outcome<f64> {
        let clock = &self.plan.clock;
        let survey_hour = self.plan.scenario.numbers.dates.survey_hour;
        let time = ticks(clock, text, survey_hour).ok_or_else(|| {
            let what = format!("`{text}` is no time");
            let expected =
                "year-month-day, or year-month-dayThour:minute, such as 2026-07-20T14:30";
            self.sheet.fault(row.0, what, expected)
        })?;
        if (0.0..clock.ticks as f64).contains(&time) {
            return Ok(time);
        }
        let what = format!("`{text}` lies outside the scenario's season");
        let last = clock.date(clock.ticks as f64 - 1.0);
        let expected = format!("{} to {last}", clock.start);
        Err(self.sheet.fault(row.0, what, &expected))
    }

    fn release(self) -> Outcome<Release> {
        let mut searches = self.searched;
        searches.sort_by(f64::total_cmp);
        searches.dedup();
        if searches.is_empty() {
            return Err(
                Trouble::new("nothing says when the larvae were searched for")
                    .at("the column found_when")
                    .expected("at least one time, with or without a larva found")
                    .remedy("give the time of a search in the row of a larva that was not found"),
            );
        }
        let search = |time: f64| searches.iter().position(|search| *search == time);
        let found = self
            .found
            .iter()
            .filter_map(|(larva, time, at_m)| {
                Some(Found {
                    larva: *larva,
                    search: search(*time)?,
                    at_m: *at_m,
                })
            })
            .collect();
        if self.larvae.len() > super::MOST_LARVAE {
            let what = format!("{} larvae were let go", self.larvae.len());
            let expected = format!("at most {} larvae", super::MOST_LARVAE);
            return Err(self
                .sheet
                .fault(self.sheet.heading(), what, &expected)
                .remedy("fit a part of them, drawn by lot"));
        }
        Ok(Release {
            larvae: self.larvae,
            searches,
            found,
        })
    }
}

/// A time in ticks since the clock's start; a date alone is taken at the hour of surveys.
fn ticks(clock: &Clock, text: &str, survey_hour: f64) -> Option<f64> {
    const MINUTES_PER_HOUR: f64 = 60.0;
    let (date, hour) = match text.parse::<DateTime>() {
        Ok(time) if text.contains(['T', ' ']) => {
            let hour = f64::from(time.hour()) + f64::from(time.minute()) / MINUTES_PER_HOUR;
            (time.date(), hour)
        }
        _ => (text.parse::<Date>().ok()?, survey_hour),
    };
    let days = clock.start.until(date).ok()?.get_days();
    Some(f64::from(days) * clock.ticks_per_day + hour / clock.tick_h)
}

/// Day and hour of a time in ticks, as [`read`] takes it.
#[must_use]
pub fn when(clock: &Clock, time: f64) -> String {
    const MINUTES_PER_HOUR: f64 = 60.0;
    const HOURS_PER_DAY: f64 = 24.0;
    let hours = (time * clock.tick_h).rem_euclid(HOURS_PER_DAY);
    let minutes = (hours.fract() * MINUTES_PER_HOUR) as u32;
    format!("{}T{:02}:{minutes:02}", clock.date(time), hours as u32)
}
