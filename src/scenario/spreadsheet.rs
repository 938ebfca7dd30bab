//! Text in tables that people open in spreadsheets, where a cell that begins like a formula is taken for one and run.
//!
//! Such text gets a leading apostrophe, as the OWASP Foundation advises ("CSV Injection",
//! owasp.org/www-community/attacks/CSV_Injection, quoted from memory). Numbers are left as they are. Text that already
//! looks guarded is guarded once more, so that the program's own readers get back exactly what was there.

use std::borrow::Cow;

/// Stands before text that would be taken for a formula.
const GUARD: char = '\'';

/// Signs by which spreadsheets know a formula; the last four are full-width forms of the first.
const BEGINNINGS: [char; 11] = [
    '=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
];

/// Whether a formula follows after any number of apostrophes.
fn begins_formula(text: &str) -> bool {
    text.trim_start_matches(GUARD).starts_with(BEGINNINGS)
}

/// Text as it stands in a table.
#[must_use]
pub fn guarded(text: &str) -> Cow<'_, str> {
    if begins_formula(text) && text.parse::<f64>().is_err() {
        Cow::Owned(format!("{GUARD}{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// Text as it was before it was [`guarded`].
#[must_use]
pub fn unguarded(cell: &str) -> &str {
    match cell.strip_prefix(GUARD) {
        Some(text) if begins_formula(text) => text,
        _ => cell,
    }
}

/// A row of a table, [`unguarded`].
#[must_use]
pub fn unguarded_row(row: csv::StringRecord) -> csv::StringRecord {
    if row.iter().all(|cell| unguarded(cell).len() == cell.len()) {
        return row;
    }
    let mut plain: csv::StringRecord = row.iter().map(unguarded).collect();
    plain.set_position(row.position().cloned());
    plain
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn exact_formulas_are_guarded_and_numbers_are_not() {
        for number in ["-1.5", "+3", "-1e-9", "-inf", "0", ""] {
            assert_eq!(guarded(number), number);
        }
        for (text, cell) in [
            ("=1+1", "'=1+1"),
            ("+cmd|' /C calc'!A0", "'+cmd|' /C calc'!A0"),
            ("-2+3", "'-2+3"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("\t=1", "'\t=1"),
            ("\r=1", "'\r=1"),
            ("\u{ff1d}1", "'\u{ff1d}1"),
            ("'=1", "''=1"),
            ("''-5", "'''-5"),
            ("'-5", "''-5"),
            ("'twas", "'twas"),
            ("1=1", "1=1"),
        ] {
            assert_eq!(guarded(text), cell);
            assert_eq!(unguarded(cell), text);
        }
    }

    proptest! {
        #[test]
        fn exact_undoing_gives_back_what_was_there(text in "'{0,3}[-=+@\t\r\n\u{ff1d}0-9.a]{0,6}.{0,4}") {
            let cell = guarded(&text).into_owned();
            prop_assert_eq!(unguarded(&cell), text.as_str());
            // What a spreadsheet would run never begins a cell, unless it is a number.
            let runs = cell.starts_with(BEGINNINGS);
            prop_assert!(!runs || cell.parse::<f64>().is_ok());
        }

        #[test]
        fn exact_any_text_comes_back(text in any::<String>()) {
            let cell = guarded(&text).into_owned();
            prop_assert_eq!(unguarded(&cell), text.as_str());
        }
    }
}
