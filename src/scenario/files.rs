//! CSV files that a scenario names: stems of a real patch, temperatures of a station.

use super::Temperatures;
use super::data::DataFiles;
use super::input;
use super::spreadsheet::unguarded_row;
use crate::trouble::shown::shortened;
use crate::trouble::{Outcome, Trouble};
use jiff::civil::{Date, DateTime};
use std::path::Path;

/// Temperatures beyond this are a misread column, not weather, C.
const EXTREME_C: f64 = 70.0;

/// Gives a fault that concerns a whole file the place of the setting that names it; a fault in a line of the
/// file keeps its own place.
pub(super) fn placed(fault: Trouble, setting: &str) -> Trouble {
    let in_a_line = fault
        .place
        .as_deref()
        .is_some_and(|place| place.contains(", line "));
    if in_a_line { fault } else { fault.at(setting) }
}

fn csv_fault(fault: &csv::Error) -> String {
    match fault.kind() {
        csv::ErrorKind::UnequalLengths {
            expected_len, len, ..
        } => format!("a row has {len} cells, the header {expected_len}"),
        _ => fault.to_string(),
    }
}

/// Counts lines in the order of the bytes.
struct Lines<'a> {
    bytes: &'a [u8],
    at: usize,
    line: u64,
}

impl<'a> Lines<'a> {
    fn of(bytes: &'a [u8]) -> Self {
        Self {
            bytes,
            at: 0,
            line: 1,
        }
    }

    /// Line on which the row at or after a byte begins: the reader counts a row from the end of the one before,
    /// empty lines and comments included. Bytes must not be asked for in descending order.
    fn at(&mut self, byte: u64) -> u64 {
        let wanted = usize::try_from(byte)
            .unwrap_or(usize::MAX)
            .min(self.bytes.len());
        if wanted > self.at {
            let passed = &self.bytes[self.at..wanted];
            self.line += passed.iter().filter(|byte| **byte == b'\n').count() as u64;
            self.at = wanted;
        }
        loop {
            let rest = &self.bytes[self.at..];
            let length = rest.iter().position(|byte| *byte == b'\n');
            let line = &rest[..length.unwrap_or(rest.len())];
            let idle = line.first() == Some(&b'#') || line.iter().all(|byte| *byte == b'\r');
            match length {
                Some(length) if idle => {
                    self.at += length + 1;
                    self.line += 1;
                }
                _ => return self.line,
            }
        }
    }
}

/// A CSV file as read, each row with its line.
pub(crate) struct Sheet {
    label: String,
    /// Line of the header.
    heading: u64,
    columns: Vec<String>,
    pub(crate) rows: Vec<(u64, csv::StringRecord)>,
}

impl Sheet {
    /// Reads the contents of a file that messages call by its label.
    pub(crate) fn read((label, bytes): (String, Vec<u8>)) -> Outcome<Self> {
        let unreadable = |why: String| {
            Trouble::new(format!("the file {label} cannot be read: {why}"))
                .at(label.clone())
                .expected("a CSV file with a header line")
                .remedy("check the path, which is read from the scenario's own folder")
        };
        let bytes = input::text(&bytes)
            .map_err(|fault| unreadable(fault.why).at(format!("{label}, line {}", fault.line)))?
            .as_bytes();
        let mut lines = Lines::of(bytes);
        let mut broken = |fault: &csv::Error| {
            let byte = fault.position().map_or(0, csv::Position::byte);
            unreadable(csv_fault(fault)).at(format!("{label}, line {}", lines.at(byte)))
        };
        let mut reader = csv::ReaderBuilder::new()
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .from_reader(bytes);
        let header = reader.headers().map_err(|fault| broken(&fault))?.clone();
        let columns = unguarded_row(header).iter().map(str::to_owned).collect();
        let mut records = Vec::new();
        for record in reader.records() {
            records.push(unguarded_row(record.map_err(|fault| broken(&fault))?));
        }
        let mut lines = Lines::of(bytes);
        let heading = lines.at(0);
        let rows: Vec<_> = records
            .into_iter()
            .map(|record| {
                let byte = record.position().map_or(0, csv::Position::byte);
                (lines.at(byte), record)
            })
            .collect();
        if rows.is_empty() {
            return Err(unreadable("it has no rows".to_owned()));
        }
        Ok(Self {
            label,
            heading,
            columns,
            rows,
        })
    }

    pub(crate) fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column == name)
    }

    /// Names of the columns, in order.
    pub(crate) fn columns(&self) -> &[String] {
        &self.columns
    }

    /// Line of the header.
    pub(crate) fn heading(&self) -> u64 {
        self.heading
    }

    pub(crate) fn need(&self, name: &str, all: &str) -> Outcome<usize> {
        self.column(name).ok_or_else(|| {
            Trouble::new(format!("the column `{name}` is missing"))
                .at(format!("{}, line {}", self.label, self.heading))
                .expected(format!("columns {all}"))
                .remedy(format!("rename or add it; found: {}", self.found()))
        })
    }

    /// Names of the columns for a message, of which there may be many and long ones.
    fn found(&self) -> String {
        const MOST: usize = 24;
        let names = self.columns.iter().take(MOST);
        let mut names: Vec<_> = names.map(|name| shortened(name)).collect();
        if self.columns.len() > MOST {
            names.push(format!("and {} more", self.columns.len() - MOST).into());
        }
        names.join(", ")
    }

    pub(crate) fn fault(&self, line: u64, what: String, expected: &str) -> Trouble {
        Trouble::new(what)
            .at(format!("{}, line {line}", self.label))
            .expected(expected)
            .remedy("mend or remove the line")
    }

    pub(crate) fn number(&self, row: &(u64, csv::StringRecord), column: usize) -> Outcome<f64> {
        let text = row.1.get(column).unwrap_or("");
        text.parse::<f64>()
            .ok()
            .filter(|number| number.is_finite())
            .ok_or_else(|| {
                self.fault(
                    row.0,
                    format!("`{text}` is not a number"),
                    "a finite number",
                )
            })
    }
}

/// Label and contents of a file that belongs to no scenario.
pub(crate) fn alone(path: &Path) -> Outcome<(String, Vec<u8>)> {
    DataFiles::default().read(Path::new(""), &path.to_string_lossy())
}

/// Coordinates of stems from a CSV with columns `x_m` and `y_m`, metres around the patch's own origin,
/// each with its line.
///
/// # Errors
/// When the file is unreadable, lacks a column or holds something that is not a number.
pub fn stems(path: &Path) -> Outcome<Vec<(f64, f64, u64)>> {
    stems_in(alone(path)?)
}

/// As [`stems`], of a file that was read: label and contents.
pub(super) fn stems_in(file: (String, Vec<u8>)) -> Outcome<Vec<(f64, f64, u64)>> {
    let sheet = Sheet::read(file)?;
    let x = sheet.need("x_m", "x_m, y_m")?;
    let y = sheet.need("y_m", "x_m, y_m")?;
    sheet
        .rows
        .iter()
        .map(|row| Ok((sheet.number(row, x)?, sheet.number(row, y)?, row.0)))
        .collect()
}

/// Temperatures from a station's CSV: by day with `date,min_c,max_c` (or `min_f,max_f`), or by hour with
/// `datetime,temp_c` (or `temp_f`). Rows must follow each other without a gap.
///
/// # Errors
/// When the file is unreadable, lacks a column, has a gap, or holds what is no temperature.
pub fn station(path: &Path) -> Outcome<Temperatures> {
    station_in(alone(path)?)
}

/// As [`station`], of a file that was read: label and contents.
pub(super) fn station_in(file: (String, Vec<u8>)) -> Outcome<Temperatures> {
    let sheet = Sheet::read(file)?;
    if sheet.column("datetime").is_some() {
        hourly(&sheet)
    } else {
        daily(&sheet)
    }
}

const DAILY_COLUMNS: &str = "date, min_c, max_c (or min_f, max_f); or datetime, temp_c (or temp_f)";

fn daily(sheet: &Sheet) -> Outcome<Temperatures> {
    let date = sheet.need("date", DAILY_COLUMNS)?;
    let fahrenheit = sheet.column("min_f").is_some();
    let (low, high) = if fahrenheit {
        (
            sheet.need("min_f", DAILY_COLUMNS)?,
            sheet.need("max_f", DAILY_COLUMNS)?,
        )
    } else {
        (
            sheet.need("min_c", DAILY_COLUMNS)?,
            sheet.need("max_c", DAILY_COLUMNS)?,
        )
    };
    let mut first = None;
    let mut days = Vec::with_capacity(sheet.rows.len());
    for (index, row) in sheet.rows.iter().enumerate() {
        let text = row.1.get(date).unwrap_or("");
        let day: Date = text
            .parse()
            .map_err(|_| sheet.fault(row.0, format!("`{text}` is not a date"), "year-month-day"))?;
        let start = *first.get_or_insert(day);
        if days_between(start, day) != i64::try_from(index).unwrap_or(i64::MAX) {
            return Err(sheet.fault(
                row.0,
                format!("{day} does not follow the day before"),
                "one row a day, without gaps",
            ));
        }
        let low = celsius(sheet, row, low, fahrenheit)?;
        let high = celsius(sheet, row, high, fahrenheit)?;
        if low > high {
            return Err(sheet.fault(
                row.0,
                format!("the minimum {low:.1} C is above the maximum {high:.1} C"),
                "minimum, then maximum",
            ));
        }
        days.push((low, high));
    }
    let first = first.ok_or_else(|| Trouble::new("no rows").at(sheet.label.clone()))?;
    Ok(Temperatures::Daily(first, days))
}

fn hourly(sheet: &Sheet) -> Outcome<Temperatures> {
    const COLUMNS: &str = "datetime, temp_c (or temp_f)";
    let time = sheet.need("datetime", COLUMNS)?;
    let fahrenheit = sheet.column("temp_f").is_some();
    let temperature = sheet.need(if fahrenheit { "temp_f" } else { "temp_c" }, COLUMNS)?;
    let mut first: Option<DateTime> = None;
    let mut hours = Vec::with_capacity(sheet.rows.len());
    for (index, row) in sheet.rows.iter().enumerate() {
        let text = row.1.get(time).unwrap_or("");
        let when: DateTime = text.parse().map_err(|_| {
            sheet.fault(
                row.0,
                format!("`{text}` is not a date and time"),
                "such as 2026-07-01T13:00",
            )
        })?;
        let start = *first.get_or_insert(when);
        let hour = days_between(start.date(), when.date()) * 24 + i64::from(when.hour());
        if start.hour() != 0
            || when.minute() != 0
            || hour != i64::try_from(index).unwrap_or(i64::MAX)
        {
            return Err(sheet.fault(
                row.0,
                format!("{text} does not follow the hour before"),
                "one row an hour from a midnight on, without gaps",
            ));
        }
        hours.push(celsius(sheet, row, temperature, fahrenheit)?);
    }
    let first = first.ok_or_else(|| Trouble::new("no rows").at(sheet.label.clone()))?;
    Ok(Temperatures::Hourly(first.date(), hours))
}

/// Whole days from `from` to `to`.
#[must_use]
pub fn days_between(from: Date, to: Date) -> i64 {
    const SECONDS_A_DAY: i64 = 86_400;
    to.duration_since(from).as_secs() / SECONDS_A_DAY
}

fn celsius(
    sheet: &Sheet,
    row: &(u64, csv::StringRecord),
    column: usize,
    fahrenheit: bool,
) -> Outcome<f64> {
    let number = sheet.number(row, column)?;
    let celsius = if fahrenheit {
        (number - 32.0) / 1.8
    } else {
        number
    };
    if celsius.abs() > EXTREME_C {
        return Err(sheet.fault(
            row.0,
            format!("{number} is no air temperature"),
            "degrees Celsius in *_c, Fahrenheit in *_f",
        ));
    }
    Ok(celsius)
}
