//! A document in blocks, written once and rendered three ways: for the terminal, as Markdown, as an HTML page.

mod markdown;
mod page;

pub use markdown::markdown;
pub use page::page;

use super::words::{COLUMNS, wrapped};
use crate::trouble::shown::on_one_line;

/// A piece of a document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Block {
    /// Title of the whole.
    Title(String),
    /// Heading of a section.
    Heading(String),
    /// Heading within a section.
    Subheading(String),
    /// Running text.
    Paragraph(String),
    /// Items.
    List(Vec<String>),
    /// Rows below a header.
    Table(Table),
    /// A picture in a file beside the document: its name, and what it shows.
    Picture(&'static str, &'static str),
    /// A drawing that stands in the page itself.
    Figure(Figure),
    /// Text that is kept as it is, opened on demand: what it is, and the text.
    Verbatim(String, String),
}

/// Rows below a header.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// Column headings; a line break says where the terminal may break one.
    pub header: Vec<String>,
    /// Rows of as many cells.
    pub rows: Vec<Vec<String>>,
    /// What the cells are; may be empty.
    pub caption: String,
}

/// A drawing that stands in the page itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    /// A complete SVG document, made by this program: it is not escaped.
    pub svg: String,
    /// What it shows, in words.
    pub words: String,
}

/// The document for the terminal. Pictures, drawings and kept text have no place there and are left out.
#[must_use]
pub fn terminal(blocks: &[Block]) -> String {
    let mut lines = Vec::new();
    for block in blocks {
        match block {
            Block::Title(text) => {
                let text = on_one_line(text);
                lines.extend([text.to_string(), underline(&text, '=')]);
            }
            Block::Heading(text) | Block::Subheading(text) => {
                let text = on_one_line(text);
                lines.extend([String::new(), text.to_string(), underline(&text, '-')]);
            }
            Block::Paragraph(text) => lines.push(wrapped(&on_one_line(text), 0)),
            Block::List(items) => lines.extend(items.iter().map(|item| bullet(&on_one_line(item)))),
            Block::Table(table) => {
                lines.push(String::new());
                lines.extend(table_lines(table));
            }
            Block::Picture(..) | Block::Figure(_) | Block::Verbatim(..) => {}
        }
    }
    lines.join("\n")
}

fn underline(text: &str, stroke: char) -> String {
    std::iter::repeat_n(stroke, text.chars().count()).collect()
}

fn bullet(item: &str) -> String {
    let hanging = textwrap::Options::new(COLUMNS)
        .initial_indent("- ")
        .subsequent_indent("  ");
    // No-break spaces have done their work once lines are wrapped.
    textwrap::fill(item, hanging).replace('\u{a0}', " ")
}

/// Space before every column of a table.
const BETWEEN: usize = 2;

fn table_lines(table: &Table) -> Vec<String> {
    let headings: Vec<Vec<&str>> = table
        .header
        .iter()
        .map(|heading| heading.split('\n').collect())
        .collect();
    let high = headings.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = headings
        .iter()
        .enumerate()
        .map(|(column, lines)| {
            let cells = table.rows.iter().filter_map(|row| row.get(column));
            let texts = lines.iter().copied().chain(cells.map(String::as_str));
            texts.map(|text| text.chars().count()).max().unwrap_or(0)
        })
        .collect();
    let line = |cells: Vec<&str>| -> String {
        cells
            .iter()
            .zip(&widths)
            .map(|(cell, width)| format!("{:BETWEEN$}{cell:>width$}", ""))
            .collect()
    };
    let mut lines: Vec<String> = (0..high)
        .map(|row| {
            let cell = |heading: &Vec<&str>| {
                // Headings stand next to the cells.
                (row + heading.len())
                    .checked_sub(high)
                    .map_or(String::new(), |at| heading[at].to_owned())
            };
            let cells: Vec<String> = headings.iter().map(cell).collect();
            line(cells.iter().map(String::as_str).collect())
        })
        .collect();
    for row in &table.rows {
        lines.push(line(row.iter().map(String::as_str).collect()).replace('\u{a0}', " "));
    }
    if !table.caption.is_empty() {
        lines.push(format!("  ({})", table.caption));
    }
    lines
}
