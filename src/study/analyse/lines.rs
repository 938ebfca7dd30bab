//! Rows of a CSV text, one at a time, each with the number of the line on which it begins.
//!
//! Lines are split here and not by the CSV reader, because that counts a comment or an empty line to
//! the row behind it and lags behind with Windows line ends; a message must name the right line.

use crate::scenario::input::{foreign_encoding, without_mark};
use crate::scenario::spreadsheet::unguarded_row;
use crate::trouble::{Outcome, Trouble};
use std::io::{BufRead, Read};

/// Longest row that is read, bytes: a row of counts has a hundred.
const LONGEST_ROW: u64 = 1 << 20;
/// Sign of a comment, as the first character of a line.
const COMMENT: u8 = b'#';
/// Marks the end of a line.
const LINE_END: u8 = b'\n';
/// Separators that are told apart by the header.
const SEPARATORS: [u8; 3] = [b',', b';', b'\t'];

/// Reads rows from a source.
pub(super) struct Lines<R> {
    source: R,
    label: String,
    line: u64,
    separator: u8,
    /// Comments met so far.
    pub comments: u64,
}

/// One row: the line on which it begins and its cells, trimmed.
pub(super) struct Cells {
    pub line: u64,
    pub cells: csv::StringRecord,
}

impl<R: BufRead> Lines<R> {
    /// Rows of a source that messages call by its label.
    pub fn new(source: R, label: &str) -> Self {
        Self {
            source,
            label: label.to_owned(),
            line: 0,
            separator: SEPARATORS[0],
            comments: 0,
        }
    }

    /// The first row, which also tells commas from semicolons and tabs.
    pub fn header(&mut self) -> Outcome<Option<Cells>> {
        let Some(first) = self.next_line()? else {
            return Ok(None);
        };
        let often = |separator: &u8| first.iter().filter(|byte| *byte == separator).count();
        // Of equals the first is kept, hence the reversal: `max_by_key` takes the last.
        if let Some(separator) = SEPARATORS.iter().rev().max_by_key(|byte| often(byte)) {
            self.separator = *separator;
        }
        self.row_from(&first).map(Some)
    }

    /// The next row; `None` at the end.
    pub fn next_row(&mut self) -> Outcome<Option<Cells>> {
        while let Some(first) = self.next_line()? {
            let row = self.row_from(&first)?;
            // Spreadsheets fill up with rows of nothing but separators.
            if row.cells.iter().any(|cell| !cell.is_empty()) {
                return Ok(Some(row));
            }
        }
        Ok(None)
    }

    /// A fault on a line.
    pub fn fault(&self, line: u64, what: impl Into<String>) -> Trouble {
        Trouble::new(what).at(format!("{}, line {line}", self.label))
    }

    /// The next line that is no comment and not empty.
    fn next_line(&mut self) -> Outcome<Option<Vec<u8>>> {
        loop {
            let mut bytes = Vec::new();
            if !self.append_line(&mut bytes)? {
                return Ok(None);
            }
            if bytes.first() == Some(&COMMENT) {
                self.comments += 1;
            } else if !bytes.iter().all(u8::is_ascii_whitespace) {
                return Ok(Some(bytes));
            }
        }
    }

    /// The row that begins with the line just read, joined with those behind it while a quotation mark is open.
    fn row_from(&mut self, first: &[u8]) -> Outcome<Cells> {
        let began = self.line;
        let mut row = Vec::with_capacity(first.len());
        let mut place = Place::Start.after(first, self.separator, &mut row);
        while place == Place::Quoted {
            let mut more = vec![LINE_END];
            if row.len() as u64 > LONGEST_ROW || !self.append_line(&mut more)? {
                return Err(self
                    .fault(began, "a quotation mark is opened and never closed")
                    .expected("quotation marks in pairs")
                    .remedy("close it, or remove it"));
            }
            place = place.after(&more, self.separator, &mut row);
        }
        self.parse(began, &row)
    }

    /// Appends the next line without its end; `false` when there is none.
    fn append_line(&mut self, bytes: &mut Vec<u8>) -> Outcome<bool> {
        let before = bytes.len();
        let read = (&mut self.source)
            .take(LONGEST_ROW)
            .read_until(LINE_END, bytes);
        let read = read.map_err(|fault| {
            Trouble::new(format!("the file cannot be read: {fault}"))
                .at(self.label.clone())
                .expected("a CSV file with a header line")
                .remedy("check the file")
        })?;
        if read == 0 {
            return Ok(false);
        }
        self.line += 1;
        if bytes.last() == Some(&LINE_END) {
            bytes.pop();
        } else if read as u64 == LONGEST_ROW {
            return Err(self
                .fault(
                    self.line,
                    format!("the line is longer than {LONGEST_ROW} bytes"),
                )
                .expected("a CSV file, one count a line")
                .remedy("check that this is the right file"));
        }
        if bytes.last() == Some(&b'\r') && bytes.len() > before {
            bytes.pop();
        }
        if self.line == 1 {
            let mark = bytes.len() - before - without_mark(&bytes[before..]).len();
            bytes.drain(before..before + mark);
        }
        let line = &bytes[before..];
        if line.contains(&0) || (self.line == 1 && foreign_encoding(line).is_some()) {
            return Err(self.no_text(line));
        }
        Ok(true)
    }

    /// The fault of the line just read, which holds a byte 0.
    fn no_text(&self, bytes: &[u8]) -> Trouble {
        let what = match foreign_encoding(bytes).filter(|_| self.line == 1) {
            Some(encoding) => format!("the file is text in {encoding}"),
            None => "the line holds a byte 0, which is no text".to_owned(),
        };
        self.fault(self.line, what)
            .expected("text in UTF-8")
            .remedy("save the table as CSV in UTF-8")
    }

    fn parse(&self, line: u64, bytes: &[u8]) -> Outcome<Cells> {
        if bytes.contains(&b'\r') {
            return Err(self
                .fault(line, "a carriage return stands within the line")
                .expected("lines that end with a line feed, with or without a carriage return")
                .remedy("save the table anew as CSV"));
        }
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(csv::Trim::All)
            .delimiter(self.separator)
            .buffer_capacity(bytes.len().max(1))
            .from_reader(bytes);
        let mut cells = csv::StringRecord::new();
        // The bytes are one row already: only the encoding can be at fault.
        reader.read_record(&mut cells).map_err(|_| {
            self.fault(line, "the line is not UTF-8 text")
                .expected("text in UTF-8")
                .remedy("save the table as CSV in UTF-8")
        })?;
        Ok(Cells {
            line,
            cells: unguarded_row(cells),
        })
    }
}

/// Where in a row a byte stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// At the start of a cell: here alone a quotation mark opens.
    Start,
    /// In a cell.
    Plain,
    /// Between quotation marks.
    Quoted,
    /// Behind a quotation mark that closes, unless another follows.
    Closing,
}

impl Place {
    /// The place behind some bytes, which are copied except for blanks in front of a cell.
    fn after(self, bytes: &[u8], separator: u8, row: &mut Vec<u8>) -> Self {
        let mut place = self;
        for &byte in bytes {
            place = match (place, byte) {
                (Self::Start, b' ') => continue,
                (Self::Start | Self::Closing, b'"') => Self::Quoted,
                (Self::Quoted, b'"') => Self::Closing,
                (Self::Quoted, _) => Self::Quoted,
                _ if byte == separator => Self::Start,
                _ => Self::Plain,
            };
            row.push(byte);
        }
        place
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &[u8]) -> Vec<(u64, Vec<String>)> {
        let mut lines = Lines::new(text, "test");
        let mut all = Vec::new();
        let mut next = lines.header();
        while let Ok(Some(row)) = next {
            all.push((row.line, row.cells.iter().map(str::to_owned).collect()));
            next = lines.next_row();
        }
        all
    }

    #[test]
    fn exact_lines_are_counted_through_comments_quotes_and_windows_line_ends() {
        let text = b"\xef\xbb\xbfa,b\r\n# note\r\n\r\n1, \"x\ny\" \r\n,\r\n2,z";
        let expected: Vec<(u64, Vec<String>)> = vec![
            (1, vec!["a".into(), "b".into()]),
            (4, vec!["1".into(), "x\ny".into()]),
            (7, vec!["2".into(), "z".into()]),
        ];
        assert_eq!(rows(text), expected);
    }

    #[test]
    fn exact_a_quotation_mark_within_a_cell_opens_nothing() {
        let text = b"a,b\n5\" pipe,1\n6\" pipe,2\n\"say \"\"hi\"\"\",3\n";
        let found: Vec<Vec<String>> = rows(text).into_iter().map(|row| row.1).collect();
        assert_eq!(
            found[1..],
            [["5\" pipe", "1"], ["6\" pipe", "2"], ["say \"hi\"", "3"]]
        );
    }

    #[test]
    fn exact_the_header_tells_the_separator() {
        for text in [&b"a;b,c;d\n1;2;3"[..], b"a\tb,c\td\n1\t2\t3"] {
            assert_eq!(rows(text)[1].1, ["1", "2", "3"]);
        }
    }
}
