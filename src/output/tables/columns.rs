//! What the columns of a table mean, said once: the header is written from it, and so is the data dictionary.

use super::Sheet;
use crate::trouble::Outcome;

/// A column of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Name in the header; a part in braces, such as `{measure}_low`, stands for several names.
    pub name: &'static str,
    /// Unit; `share` for 0 to 1, `count`, `text`, `date` and the like where there is none.
    pub unit: &'static str,
    /// What it says, and what an empty cell means.
    pub meaning: &'static str,
}

/// A table that the program writes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Described {
    /// Name of its file; a part in braces stands for several names.
    pub file: &'static str,
    /// What a row is.
    pub row: &'static str,
    /// Its columns, in order.
    pub columns: &'static [Column],
}

impl Described {
    /// An empty table with this header.
    ///
    /// # Errors
    /// As [`Sheet::with_header`].
    pub fn sheet(&self) -> Outcome<Sheet> {
        self.sheet_with(&[])
    }

    /// An empty table with this header and further columns.
    ///
    /// # Errors
    /// As [`Sheet::with_header`].
    pub fn sheet_with(&self, more: &[Column]) -> Outcome<Sheet> {
        let columns = self.columns.iter().chain(more);
        let names: Vec<&str> = columns.map(|column| column.name).collect();
        Sheet::with_header(&names)
    }
}

/// A column, in one line.
#[must_use]
pub const fn column(name: &'static str, unit: &'static str, meaning: &'static str) -> Column {
    Column {
        name,
        unit,
        meaning,
    }
}
