//! One row of a table of counts, checked word by word.

use super::lines::{Cells, Lines};
use super::shown::shown;
use super::words::{Half, Patch, Plot, STAGE_WORDS, stage_of_word};
use crate::scenario::Stage;
use crate::trouble::Outcome;
use jiff::civil::Date;
use std::io::BufRead;

/// Largest count in one cell: a million larvae on one patch are a slip of the keyboard.
const LARGEST_COUNT: f64 = 1e6;
/// Largest number of stems of one patch.
const LARGEST_STEMS: f64 = 1e9;
/// Latest week: a number beyond is no week of a season but a year or a date.
const LATEST_WEEK: u32 = 999;
/// Marks a count or a stem count that was not made, beside an empty cell.
const NOT_COUNTED: &str = "NA";

/// Columns without which nothing can be compared, in words.
pub(super) const NEEDED: &str =
    "site, week, patch, stage, count (or counted) and stems (or stems_counted), in any order";

/// Positions of the columns.
pub(super) struct Columns {
    width: usize,
    site: usize,
    replicate: Option<usize>,
    week: usize,
    patch: usize,
    half: Option<usize>,
    condition: Option<usize>,
    stage: usize,
    count: usize,
    stems: usize,
    stems_date: Option<usize>,
    cut_date: Option<usize>,
    pub unused: Vec<String>,
    pub stems_name: &'static str,
    pub count_name: &'static str,
}

/// A row, understood.
pub(super) struct Row {
    pub line: u64,
    pub site: String,
    pub week: u32,
    pub plot: Plot,
    pub condition: String,
    pub stage: Stage,
    pub count: Option<u32>,
    pub stems: Option<f64>,
    pub stems_date: Option<Date>,
    pub cut_date: Option<Date>,
}

impl Columns {
    /// Finds the columns in a header.
    pub fn of<R: BufRead>(header: &Cells, lines: &Lines<R>) -> Outcome<Self> {
        let names: Vec<String> = header.cells.iter().map(str::to_lowercase).collect();
        let mut used = vec![false; names.len()];
        let mut find = |name: &str| -> Outcome<Option<usize>> {
            let mut found = (0..names.len()).filter(|at| names[*at] == name);
            let first = found.next();
            if found.next().is_some() {
                return Err(lines
                    .fault(header.line, format!("the column `{name}` stands twice"))
                    .expected("every column once")
                    .remedy("rename or remove one"));
            }
            if let Some(first) = first {
                used[first] = true;
            }
            Ok(first)
        };
        let missing = |name: &str| {
            lines
                .fault(header.line, format!("the column `{name}` is missing"))
                .expected(NEEDED)
                .remedy(format!("rename or add it; found: {}", shown_list(&names)))
        };
        let mut need = |name: &'static str, other: &'static str| match (find(name)?, find(other)?) {
            (Some(_), Some(_)) if name == "count" => Err(lines
                .fault(header.line, "the columns `count` and `counted` both stand")
                .expected("one column of counts")
                .remedy("rename or remove one")),
            (_, Some(at)) => Ok((at, other)),
            (Some(at), None) => Ok((at, name)),
            (None, None) => Err(missing(name)),
        };
        let (site, week) = (need("site", "site")?.0, need("week", "week")?.0);
        let (patch, stage) = (need("patch", "patch")?.0, need("stage", "stage")?.0);
        let (count, count_name) = need("count", "counted")?;
        let (stems, stems_name) = need("stems", "stems_counted")?;
        Ok(Self {
            site,
            week,
            patch,
            stage,
            count,
            stems,
            stems_name,
            count_name,
            replicate: find("replicate")?,
            half: find("half")?,
            condition: find("condition")?,
            stems_date: find("stems_date")?,
            cut_date: find("cut_date")?,
            width: names.len(),
            unused: header
                .cells
                .iter()
                .zip(used)
                .filter(|(name, used)| !used && !name.is_empty())
                .map(|(name, _)| name.to_owned())
                .collect(),
        })
    }

    /// Understands a row.
    pub fn row<R: BufRead>(&self, cells: &Cells, lines: &Lines<R>) -> Outcome<Row> {
        let Cells { line, cells } = cells;
        let line = *line;
        let too_long = cells.iter().skip(self.width).any(|cell| !cell.is_empty());
        if cells.len() < self.width || too_long {
            return Err(lines
                .fault(
                    line,
                    format!(
                        "the row has {} cells, the header {}",
                        cells.len(),
                        self.width
                    ),
                )
                .expected("as many cells as the header has")
                .remedy("mend the row; put quotation marks around text with separators"));
        }
        let text = |at: usize| cells.get(at).unwrap_or("");
        let maybe = |at: Option<usize>| at.map_or("", text);
        let word = |what: &str, expected: &str| {
            lines
                .fault(line, what.to_owned())
                .expected(expected.to_owned())
                .remedy("mend or remove the row")
        };
        let name = text(self.site);
        if name.is_empty() {
            return Err(word(
                "the site has no name",
                "a name or number for every site",
            ));
        }
        let patch = Patch::of_word(text(self.patch)).ok_or_else(|| {
            word(
                &format!("`{}` is no patch", shown(text(self.patch))),
                Patch::WORDS,
            )
        })?;
        let half = Half::of_word(maybe(self.half)).ok_or_else(|| {
            word(
                &format!("`{}` is no half", shown(maybe(self.half))),
                Half::WORDS,
            )
        })?;
        let stage = stage_of_word(text(self.stage)).ok_or_else(|| {
            word(
                &format!("`{}` is no stage", shown(text(self.stage))),
                STAGE_WORDS,
            )
        })?;
        let week = text(self.week);
        let week = week
            .parse()
            .ok()
            .filter(|week| *week <= LATEST_WEEK)
            .ok_or_else(|| {
                word(
                    &format!("`{}` is no week", shown(week)),
                    "the number of the week, a whole number from 0 to 999",
                )
            })?;
        let replicate = maybe(self.replicate);
        Ok(Row {
            line,
            site: if replicate.is_empty() {
                name.to_owned()
            } else {
                format!("{name} #{replicate}")
            },
            week,
            plot: (patch, half),
            condition: maybe(self.condition).to_lowercase(),
            stage,
            count: count(text(self.count)).map_err(|what| {
                word(
                    &what,
                    "a whole number, 0 if none was seen; empty if not counted",
                )
            })?,
            stems: stems(text(self.stems))
                .map_err(|what| word(&what, "the number of stems counted before cutting"))?,
            stems_date: date(maybe(self.stems_date))
                .map_err(|what| word(&what, "year-month-day, such as 2026-06-28"))?,
            cut_date: date(maybe(self.cut_date))
                .map_err(|what| word(&what, "year-month-day, such as 2026-07-01"))?,
        })
    }
}

/// Names of columns, of which there may be many.
pub(super) fn shown_list(names: &[String]) -> String {
    const MOST: usize = 24;
    let mut shown: Vec<String> = names.iter().take(MOST).map(|name| shown(name)).collect();
    if names.len() > MOST {
        shown.push(format!("and {} more", names.len() - MOST));
    }
    shown.join(", ")
}

/// The number in a cell; `None` where nothing was counted.
fn number(text: &str, what: &str, largest: f64) -> Result<Option<f64>, String> {
    if text.is_empty() || text.eq_ignore_ascii_case(NOT_COUNTED) {
        return Ok(None);
    }
    let number = text
        .parse::<f64>()
        .ok()
        .filter(|number| number.is_finite())
        .ok_or_else(|| format!("the {what} `{}` is not a number", shown(text)))?;
    if number < 0.0 {
        return Err(format!("the {what} {} is negative", shown(text)));
    }
    if number > largest {
        return Err(format!("the {what} {} is beyond {largest}", shown(text)));
    }
    Ok(Some(number))
}

fn count(text: &str) -> Result<Option<u32>, String> {
    match number(text, "count", LARGEST_COUNT)? {
        Some(count) if count.fract() != 0.0 => {
            Err(format!("the count {} is not whole", shown(text)))
        }
        count => Ok(count.map(|count| count as u32)),
    }
}

fn stems(text: &str) -> Result<Option<f64>, String> {
    number(text, "stem count", LARGEST_STEMS)
}

fn date(text: &str) -> Result<Option<Date>, String> {
    if text.is_empty() || text.eq_ignore_ascii_case(NOT_COUNTED) {
        return Ok(None);
    }
    text.parse()
        .map(Some)
        .map_err(|_| format!("`{}` is no date", shown(text)))
}
