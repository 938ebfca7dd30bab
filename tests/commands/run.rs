//! Runs a command and reads its tables.

use assert_cmd::Command;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tempfile::TempDir;

/// No command of these tests takes longer, on a busy machine with two cores.
const PATIENCE: Duration = Duration::from_secs(300);

/// A run that went well.
pub struct Run {
    folder: TempDir,
    pub stdout: String,
    pub stderr: String,
}

impl Run {
    /// Runs a command in a folder of its own; results go to `results`.
    #[track_caller]
    pub fn of(arguments: &[&str]) -> Self {
        Self::within(TempDir::new().expect("a folder"), arguments)
    }

    /// Runs a command in a folder.
    #[track_caller]
    pub fn within(folder: TempDir, arguments: &[&str]) -> Self {
        let output = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
            .current_dir(folder.path())
            .timeout(PATIENCE)
            .args(arguments)
            .args(["--out", "results"])
            .output()
            .expect("the program runs");
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text in UTF-8");
        let (stdout, stderr) = (text(output.stdout), text(output.stderr));
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {stderr}");
        Self {
            folder,
            stdout,
            stderr,
        }
    }

    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// All files that were written, by name.
    pub fn files(&self) -> BTreeMap<String, PathBuf> {
        let mut found = BTreeMap::new();
        for scenario in entries(&self.folder.path().join("results")) {
            for file in entries(&scenario) {
                if is_hidden(&file) {
                    continue;
                }
                let name = file
                    .file_name()
                    .expect("a name")
                    .to_string_lossy()
                    .into_owned();
                found.insert(name, file);
            }
        }
        found
    }

    /// Tables that were written, by name.
    pub fn tables(&self) -> BTreeMap<String, String> {
        self.files()
            .into_iter()
            .filter(|(name, _)| name.ends_with(".csv"))
            .map(|(name, path)| (name, std::fs::read_to_string(path).expect("a table")))
            .collect()
    }

    /// One table.
    #[track_caller]
    pub fn table(&self, name: &str) -> Table {
        let tables = self.tables();
        Table::of(
            tables
                .get(name)
                .unwrap_or_else(|| panic!("{name} is missing")),
        )
    }
}

pub fn entries(folder: &Path) -> Vec<PathBuf> {
    std::fs::read_dir(folder)
        .expect("a readable folder")
        .map(|entry| entry.expect("an entry").path())
        .collect()
}

/// Whether a file is no result, such as the one whose lock says that a folder is in use.
fn is_hidden(file: &Path) -> bool {
    let name = file.file_name().expect("a name").to_string_lossy();
    name.starts_with('.')
}

/// A table, read back.
pub struct Table {
    pub columns: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

impl Table {
    #[track_caller]
    pub fn of(text: &str) -> Self {
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let cells =
            |record: &csv::StringRecord| record.iter().map(str::to_owned).collect::<Vec<_>>();
        let columns = cells(reader.headers().expect("a header"));
        let rows = reader
            .records()
            .map(|row| cells(&row.expect("rows of equal length")))
            .collect();
        Self { columns, rows }
    }

    /// A column of whole numbers.
    #[track_caller]
    pub fn counts(&self, name: &str) -> Vec<u64> {
        let at = self.columns.iter().position(|column| column == name);
        let at = at.unwrap_or_else(|| panic!("no column {name} in {:?}", self.columns));
        self.rows
            .iter()
            .map(|row| row[at].parse().expect("a count"))
            .collect()
    }
}

/// First difference between two texts: its line, and both lines.
pub fn first_difference(one: &str, other: &str) -> Option<String> {
    if one == other {
        return None;
    }
    let lines = one.lines().zip(other.lines()).enumerate();
    let different = lines.into_iter().find(|(_, (a, b))| a != b);
    Some(match different {
        Some((index, (a, b))) => format!("line {}: `{a}` is not `{b}`", index + 1),
        None => format!(
            "{} lines are not {}",
            one.lines().count(),
            other.lines().count()
        ),
    })
}

/// Checks that two runs wrote the same tables, byte for byte.
#[track_caller]
pub fn assert_same_tables(one: &Run, other: &Run) {
    let (ours, theirs) = (one.tables(), other.tables());
    assert!(!ours.is_empty(), "no table was written");
    assert_eq!(
        ours.keys().collect::<Vec<_>>(),
        theirs.keys().collect::<Vec<_>>()
    );
    for (name, table) in &ours {
        if let Some(difference) = first_difference(table, &theirs[name]) {
            panic!("{name}, {difference}");
        }
    }
}
