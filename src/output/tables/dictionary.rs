//! The data dictionary: every column of every table, with unit and meaning.

use super::columns::{Column, Described, column};
use super::described as basic;
use crate::output::{
    allot::table as allot, analysis_columns as analysis, bands, calendar::tables as calendar,
    compare, recruit::columns as recruit, screen, tune, weigh,
};
use crate::study::drawn::DRAWN;
use crate::study::measures::MEASURES;
use crate::trouble::Outcome;

/// A table, and the columns that some options add to it.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    /// The table.
    pub table: &'static Described,
    /// Columns that `--uncertain` adds.
    pub added: &'static [Column],
}

const fn plain(table: &'static Described) -> Entry {
    Entry { table, added: &[] }
}

const fn banded(table: &'static Described) -> Entry {
    Entry {
        table,
        added: &bands::COLUMNS,
    }
}

/// All tables that the program writes.
pub const TABLES: &[Entry] = &[
    plain(&basic::GAP),
    plain(&basic::CLEAR_GAP),
    plain(&basic::REFUGE),
    banded(&basic::REFUGE_MEASURES),
    banded(&basic::NET_YIELD),
    banded(&basic::BREAK_EVEN),
    banded(&basic::MEASURES),
    Entry {
        table: &basic::SWEEP,
        added: &basic::SWEEP_BANDS,
    },
    plain(&basic::SURVEYS),
    plain(&basic::FATES),
    plain(&basic::WALKS),
    plain(&basic::NUMBERS),
    plain(&weigh::WEIGH),
    plain(&tune::TUNE),
    plain(&tune::PARTICLES),
    plain(&tune::REHEARSAL),
    plain(&analysis::ANALYSIS),
    plain(&analysis::SITES),
    plain(&analysis::DROPPED),
    plain(&recruit::POWER),
    plain(&recruit::SITES_NEEDED),
    plain(&recruit::PLAUSIBLE),
    plain(&recruit::SITINGS),
    plain(&recruit::WHAT_IF),
    plain(&recruit::EFFECTS),
    plain(&recruit::EXAMPLE),
    plain(&screen::SCREENED),
    plain(&screen::ACCEPTED),
    plain(&screen::HELD_OUT),
    plain(&allot::ALLOTMENT),
    plain(&compare::COMPARE),
    plain(&calendar::DAYS),
    plain(&calendar::EGGS),
    plain(&calendar::CUTTINGS),
    plain(&COLUMNS),
];

/// The dictionary itself.
pub const COLUMNS: Described = Described {
    file: "columns-{command}.csv",
    row: "a column of a table that the command wrote",
    columns: &[
        column("table", "text", "file name of the table"),
        column("row", "text", "what a row of the table is"),
        column("column", "text", "name of the column"),
        column("unit", "text", "its unit or kind; empty for a pure number"),
        column(
            "meaning",
            "text",
            "what it says, and what an empty cell means",
        ),
    ],
};

/// The part of a name that stands for the braces of a pattern, if the name fits it.
fn filling<'n>(pattern: &str, name: &'n str) -> Option<(&'static str, &'n str)> {
    const KINDS: [&str; 4] = ["measure", "setting", "command", "carried"];
    let kind = KINDS
        .into_iter()
        .find(|kind| pattern.contains(&format!("{{{kind}}}")))?;
    let (before, after) = pattern.split_once(&format!("{{{kind}}}"))?;
    let middle = name.strip_prefix(before)?.strip_suffix(after)?;
    let fits = match kind {
        "measure" => MEASURES.iter().any(|named| named.name == middle),
        "setting" => middle.contains('.'),
        _ => !middle.is_empty(),
    };
    fits.then_some((kind, middle))
}

fn matches(pattern: &str, name: &str) -> bool {
    pattern == name || filling(pattern, name).is_some()
}

/// The description of a table by the name of its file.
#[must_use]
pub fn table(file: &str) -> Option<&'static Entry> {
    TABLES.iter().find(|entry| matches(entry.table.file, file))
}

/// Unit and meaning of a column of a table, whole sentences for columns whose names are made up of parts.
#[must_use]
pub fn meaning(entry: &Entry, name: &str) -> Option<(&'static str, String)> {
    let mut all = entry.table.columns.iter().chain(entry.added);
    let found = all.find(|column| matches(column.name, name))?;
    let meaning = match filling(found.name, name) {
        Some(("measure", measure)) => {
            let drawn = DRAWN.iter().find(|drawn| drawn.name == measure)?;
            format!("{}: {}; {}", drawn.words, drawn.meaning, found.meaning)
        }
        _ => found.meaning.to_owned(),
    };
    Some((found.unit, meaning))
}

/// The dictionary of tables as they were written: file and header of each.
///
/// # Errors
/// When a row cannot be written to memory.
pub fn of_written(tables: &[(String, Vec<String>)]) -> Outcome<Vec<u8>> {
    let mut sheet = COLUMNS.sheet()?;
    for (file, header) in tables {
        let entry = table(file);
        let row = entry.map_or("", |entry| entry.table.row);
        for name in header {
            let (unit, meaning) = entry
                .and_then(|entry| meaning(entry, name))
                .unwrap_or_default();
            sheet.row(&[file, row, name, unit, &meaning])?;
        }
    }
    sheet.bytes()
}

/// The dictionary of all tables that the program can write.
///
/// # Errors
/// As [`of_written`].
pub fn all() -> Outcome<Vec<u8>> {
    let mut sheet = COLUMNS.sheet()?;
    for Entry { table, added } in TABLES {
        for column in table.columns.iter().chain(*added) {
            sheet.row(&[
                table.file,
                table.row,
                column.name,
                column.unit,
                column.meaning,
            ])?;
        }
    }
    sheet.bytes()
}
