//! Reading a table of counts: every fault of form is an error with its line.

use super::digest::Digested;
use super::lines::Lines;
use super::row::{Columns, NEEDED, Row, shown_list};
use super::shown::shown;
use super::words::{Half, Plot};
use crate::scenario::input::{self, LARGEST_COUNTS};
use crate::scenario::{STAGE_NAMES, STAGES, Stage};
use crate::trouble::{Outcome, Trouble};
use jiff::civil::Date;
use std::collections::{BTreeMap, HashMap};
use std::io::BufRead;
use std::path::Path;

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

    /// Their names, in the order of the table.
    #[must_use]
    pub fn site_names(&self) -> Vec<&str> {
        self.sites.iter().map(|site| site.name.as_str()).collect()
    }
}

/// Reads the table of a file, row by row.
///
/// # Errors
/// When the file cannot be read, and at the first fault of form, with its line.
pub fn open_counts(path: &Path) -> Outcome<Counts> {
    let label = path.display().to_string();
    read_counts(std::io::BufReader::new(open_table(path)?), &label)
}

/// Opens the file of a table of counts.
///
/// # Errors
/// When it cannot be read, is no ordinary file, or is larger than [`LARGEST_COUNTS`].
pub fn open_table(path: &Path) -> Outcome<std::fs::File> {
    input::open(path, LARGEST_COUNTS).map_err(|why| {
        Trouble::new(format!("the file cannot be read: {why}"))
            .at(path.display().to_string())
            .expected("a CSV file with a header line")
            .remedy("check the path")
    })
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
