//! Rows of a CSV text, one at a time, each with the number of the line on which it begins.
//!
//! Lines are split here and not by the CSV reader, because that counts a comment or an empty line to
//! the row behind it and lags behind with Windows line ends; a message must name the right line.

use crate::trouble::{Outcome, Trouble};
use std::io::{BufRead, Read};

/// Longest row that is read, bytes: a row of counts has a hundred.
const LONGEST_ROW: u64 = 1 << 20;
/// Sign of a comment, as the first character of a line.
const COMMENT: u8 = b'#';
/// Marks the end of a line.
const LINE_END: u8 = b'\n';
/// Written at the start of UTF-8 files by some programs.
const BYTE_ORDER_MARK: [u8; 3] = [0xef, 0xbb, 0xbf];
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
        let Some((line, bytes)) = self.next_bytes()? else {
            return Ok(None);
        };
        let often = |separator: &u8| bytes.iter().filter(|byte| *byte == separator).count();
        // Of equals the first is kept, hence the reversal: `max_by_key` takes the last.
        if let Some(separator) = SEPARATORS.iter().rev().max_by_key(|byte| often(byte)) {
            self.separator = *separator;
        }
        self.parse(line, &bytes).map(Some)
    }

    /// The next row; `None` at the end.
    pub fn next_row(&mut self) -> Outcome<Option<Cells>> {
        loop {
            let Some((line, bytes)) = self.next_bytes()? else {
                return Ok(None);
            };
            let row = self.parse(line, &bytes)?;
            // Spreadsheets fill up with rows of nothing but separators.
            if row.cells.iter().any(|cell| !cell.is_empty()) {
                return Ok(Some(row));
            }
        }
    }

    /// A fault on a line.
    pub fn fault(&self, line: u64, what: impl Into<String>) -> Trouble {
        Trouble::new(what).at(format!("{}, line {line}", self.label))
    }

    /// Bytes of the next row that is no comment and not empty, joined while a quotation mark is open.
    fn next_bytes(&mut self) -> Outcome<Option<(u64, Vec<u8>)>> {
        loop {
            let mut bytes = Vec::new();
            if !self.append_line(&mut bytes)? {
                return Ok(None);
            }
            let first = self.line;
            if bytes.first() == Some(&COMMENT) {
                self.comments += 1;
                continue;
            }
            if bytes.iter().all(u8::is_ascii_whitespace) {
                continue;
            }
            while quotes(&bytes) % 2 == 1 {
                bytes.push(LINE_END);
                if bytes.len() as u64 > LONGEST_ROW || !self.append_line(&mut bytes)? {
                    return Err(self
                        .fault(first, "a quotation mark is opened and never closed")
                        .expected("quotation marks in pairs")
                        .remedy("close it, or remove it"));
                }
            }
            return Ok(Some((first, bytes)));
        }
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
        if self.line == 1 && bytes[before..].starts_with(&BYTE_ORDER_MARK) {
            bytes.drain(before..before + BYTE_ORDER_MARK.len());
        }
        Ok(true)
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
        // The bytes are a row already: only the encoding can be at fault.
        reader.read_record(&mut cells).map_err(|_| {
            self.fault(line, "the line is not UTF-8 text")
                .expected("text in UTF-8")
                .remedy("save the table as CSV in UTF-8")
        })?;
        Ok(Cells { line, cells })
    }
}

fn quotes(bytes: &[u8]) -> usize {
    bytes.iter().filter(|byte| **byte == b'"').count()
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
    fn exact_the_header_tells_the_separator() {
        for text in [&b"a;b,c;d\n1;2;3"[..], b"a\tb,c\td\n1\t2\t3"] {
            assert_eq!(rows(text)[1].1, ["1", "2", "3"]);
        }
    }
}
