//! Reading a table of counts: every fault of form is an error with its line.

use super::digest::Digested;
use super::lines::{Cells, Lines};
use super::shown::shown;
use super::words::{Half, Patch, Plot, STAGE_WORDS, stage_of_word};
use crate::scenario::{STAGE_NAMES, STAGES, Stage};
use crate::trouble::{Outcome, Trouble};
use jiff::civil::Date;
use std::collections::{BTreeMap, HashMap};
use std::io::BufRead;
use std::path::Path;

/// Largest count in one cell: a million larvae on one patch are a slip of the keyboard.
const LARGEST_COUNT: f64 = 1e6;
/// Largest number of stems of one patch.
const LARGEST_STEMS: f64 = 1e9;
/// Latest week: a number beyond is no week of a season but a year or a date.
const LATEST_WEEK: u32 = 999;
/// Marks a count or a stem count that was not made, beside an empty cell.
const NOT_COUNTED: &str = "NA";

/// Columns without which nothing can be compared, in words.
const NEEDED: &str =
    "site, week, patch, stage, count (or counted) and stems (or stems_counted), in any order";

/// A number with the line it was read from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Placed<T> {
    pub value: T,
    pub line: u64,
}

/// Rows of one stage in one week of one plot.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct StageCount {
    pub rows: u32,
    pub empty: u32,
    pub sum: u64,
}

/// One week of one plot.
#[derive(Debug, Clone)]
pub(super) struct Week {
    pub line: u64,
    pub stages: [StageCount; STAGES],
}

/// One plot of a site: a patch or a half.
#[derive(Debug, Clone, Default)]
pub(super) struct PlotCounts {
    pub stems: Option<Placed<f64>>,
    pub weeks: BTreeMap<u32, Week>,
}

/// One site as read.
#[derive(Debug, Clone)]
pub(super) struct Site {
    pub name: String,
    pub line: u64,
    pub plots: BTreeMap<Plot, PlotCounts>,
    /// Latest date on which stems were counted, and the date of cutting, where the table has them.
    pub stems_date: Option<Date>,
    pub cut_date: Option<Placed<Date>>,
    seen: HashMap<(u32, Plot, String, Stage), u64>,
}

/// A table of counts as read, not yet judged.
#[derive(Debug, Clone)]
pub struct Counts {
    pub(super) label: String,
    pub(super) sites: Vec<Site>,
    /// Rows read.
    pub rows: u64,
    /// Lines that are comments.
    pub comments: u64,
    /// Columns that were not used, in words.
    pub unused: String,
    /// Column from which stems were taken.
    pub stems_column: &'static str,
    /// Column from which counts were taken.
    pub count_column: &'static str,
    /// Digest of the table, as hexadecimal SHA-256.
    pub sha256: String,
}

impl Counts {
    /// Number of sites named in the table.
    #[must_use]
    pub fn sites(&self) -> usize {
        self.sites.len()
    }
}

/// Reads the table of a file, row by row.
///
/// # Errors
/// When the file cannot be read, and at the first fault of form, with its line.
pub fn open_counts(path: &Path) -> Outcome<Counts> {
    let label = path.display().to_string();
    let file = std::fs::File::open(path).map_err(|fault| {
        Trouble::new(format!("the file cannot be read: {fault}"))
            .at(label.clone())
            .expected("a CSV file with a header line")
            .remedy("check the path")
    })?;
    read_counts(std::io::BufReader::new(file), &label)
}

/// Reads a table of counts that messages call by its label.
///
/// Columns may stand in any order: `site` (with `replicate`, if there is one), `week`, `patch` (treated or
/// untouched), `half` (whole, refuge, cut; whole if there is none), `condition`, `stage`, `counted` or `count`,
/// `stems_counted` or `stems`, and, if stems or cutting have dates, `stems_date` and `cut_date`. Others are ignored.
/// Where both stand, `stems_counted` goes before `stems`, which in simulated tables is the truth that no
/// volunteer knows. An empty cell or NA is a count that was not made.
///
/// # Errors
/// At the first fault of form, with its line: a missing or doubled column, a row that is too short, an unknown
/// patch, half or stage, a count or week that is no whole number or negative, a row given twice, stems that differ
/// between rows of one patch.
pub fn read_counts(source: impl BufRead, label: &str) -> Outcome<Counts> {
    let mut source = Digested::new(source);
    let mut counts = rows_of(&mut source, label)?;
    counts.sha256 = source.hexadecimal();
    Ok(counts)
}

/// The table without its digest.
fn rows_of(source: impl BufRead, label: &str) -> Outcome<Counts> {
    let mut lines = Lines::new(source, label);
    let header = lines.header()?.ok_or_else(|| {
        Trouble::new("the file is empty")
            .at(label.to_owned())
            .expected(format!("a header with {NEEDED}"))
            .remedy("check that this is the right file")
    })?;
    let columns = Columns::of(&header, &lines)?;
    let mut sites: Vec<Site> = Vec::new();
    let mut index: HashMap<String, usize> = HashMap::new();
    let mut rows = 0;
    while let Some(cells) = lines.next_row()? {
        rows += 1;
        let row = columns.row(&cells, &lines)?;
        let at = *index.entry(row.site.clone()).or_insert(sites.len());
        if at == sites.len() {
            sites.push(Site::new(&row));
        }
        if let Some(site) = sites.get_mut(at) {
            site.add(row, &lines)?;
        }
    }
    if rows == 0 {
        return Err(lines
            .fault(header.line, "no counts follow the header")
            .expected("one row a site, week, patch and stage")
            .remedy("check that this is the right file"));
    }
    Ok(Counts {
        label: label.to_owned(),
        sites,
        rows,
        comments: lines.comments,
        unused: shown_list(&columns.unused),
        stems_column: columns.stems_name,
        count_column: columns.count_name,
        sha256: String::new(),
    })
}

/// Positions of the columns.
struct Columns {
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
    unused: Vec<String>,
    stems_name: &'static str,
    count_name: &'static str,
}

/// A row, understood.
struct Row {
    line: u64,
    site: String,
    week: u32,
    plot: Plot,
    condition: String,
    stage: Stage,
    count: Option<u32>,
    stems: Option<f64>,
    stems_date: Option<Date>,
    cut_date: Option<Date>,
}

impl Columns {
    fn of<R: BufRead>(header: &Cells, lines: &Lines<R>) -> Outcome<Self> {
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

    fn row<R: BufRead>(&self, cells: &Cells, lines: &Lines<R>) -> Outcome<Row> {
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
fn shown_list(names: &[String]) -> String {
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

impl Site {
    fn new(row: &Row) -> Self {
        Self {
            name: row.site.clone(),
            line: row.line,
            plots: BTreeMap::new(),
            stems_date: None,
            cut_date: None,
            seen: HashMap::new(),
        }
    }

    fn add<R: BufRead>(&mut self, row: Row, lines: &Lines<R>) -> Outcome<()> {
        self.check_halves(&row, lines)?;
        self.check_cut_date(&row, lines)?;
        self.stems_date = self.stems_date.max(row.stems_date);
        let key = (row.week, row.plot, row.condition.clone(), row.stage);
        if let Some(first) = self.seen.insert(key, row.line) {
            return Err(lines
                .fault(
                    row.line,
                    format!(
                        "the row repeats line {first}: site {}, week {}, {}",
                        shown(&self.name),
                        row.week,
                        STAGE_NAMES[row.stage]
                    ),
                )
                .expected("one row a site, week, patch, half, condition and stage")
                .remedy("remove one of them; only the observer can know which is right"));
        }
        let plot = self.plots.entry(row.plot).or_default();
        plot.set_stems(&row, lines)?;
        let week = plot.weeks.entry(row.week).or_insert(Week {
            line: row.line,
            stages: [StageCount::default(); STAGES],
        });
        let stage = &mut week.stages[row.stage];
        stage.rows += 1;
        match row.count {
            Some(count) => stage.sum += u64::from(count),
            None => stage.empty += 1,
        }
        Ok(())
    }

    /// A patch is whole or divided, not both.
    fn check_halves<R: BufRead>(&self, row: &Row, lines: &Lines<R>) -> Outcome<()> {
        let (patch, half) = row.plot;
        let mixed = self.plots.keys().any(|(other, kind)| {
            *other == patch && (*kind == Half::Whole) != (half == Half::Whole)
        });
        if !mixed {
            return Ok(());
        }
        Err(lines
            .fault(
                row.line,
                format!(
                    "the site {} has a patch that is both whole and divided",
                    shown(&self.name)
                ),
            )
            .expected("for each patch either `whole` or `refuge` and `cut`")
            .remedy("mend the column half"))
    }

    fn check_cut_date<R: BufRead>(&mut self, row: &Row, lines: &Lines<R>) -> Outcome<()> {
        let Some(value) = row.cut_date else {
            return Ok(());
        };
        let known = *self.cut_date.get_or_insert(Placed {
            value,
            line: row.line,
        });
        if known.value == value {
            return Ok(());
        }
        Err(lines
            .fault(
                row.line,
                format!(
                    "cut on {value} here, on {} in line {}",
                    known.value, known.line
                ),
            )
            .expected("one date of cutting a site")
            .remedy("mend one of them"))
    }
}

impl PlotCounts {
    fn set_stems<R: BufRead>(&mut self, row: &Row, lines: &Lines<R>) -> Outcome<()> {
        let Some(value) = row.stems else {
            return Ok(());
        };
        let known = *self.stems.get_or_insert(Placed {
            value,
            line: row.line,
        });
        if known.value == value {
            return Ok(());
        }
        Err(lines
            .fault(
                row.line,
                format!("{value} stems here, {} in line {}", known.value, known.line),
            )
            .expected("one number of stems for each patch or half, counted before cutting")
            .remedy("give the count made before cutting on every row; later ones mislead"))
    }
}
