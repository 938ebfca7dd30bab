//! What a fault of the RON reader means to somebody who writes scenarios.

use crate::trouble::Trouble;
use ron::error::{Error, Position, SpannedError};

const LISTED: &str =
    "mend the line; `crawlspan check` on a ready scenario lists every name, unit and range";

/// A fault of the RON reader in plain words, still without its place.
#[must_use]
pub fn explained(code: &Error) -> Trouble {
    named(code).unwrap_or_else(|| {
        let (what, expected) = punctuation(code);
        Trouble::new(what)
            .expected(expected.unwrap_or("settings as name: value, separated by commas"))
            .remedy(LISTED)
    })
}

/// The same with the place in a file.
#[must_use]
pub fn placed(label: &str, text: &str, fault: &SpannedError) -> Trouble {
    let start = fault.span.start;
    let place = match &fault.code {
        Error::Message(message) => match without_lines_back(message).1 {
            Some(back) => {
                let last = last_line_before(text, fault.span.end);
                format!("line {}", last.saturating_sub(back).max(1))
            }
            None => format!("line {}, column {}", start.line, start.col),
        },
        _ => format!("line {}, column {}", start.line, start.col),
    };
    explained(&fault.code).at(format!("{label}, {place}"))
}

/// Line (from 1) on which the last thing before a position stands that is not white space.
fn last_line_before(text: &str, position: Position) -> usize {
    let above = text.split_inclusive('\n').take(position.line - 1);
    let from: usize = above.map(str::len).sum();
    let within: usize = text[from..]
        .chars()
        .take(position.col - 1)
        .map(char::len_utf8)
        .sum();
    text[..from + within].trim_end().matches('\n').count() + 1
}

/// Separates a message from the number of lines by which its place lies before the place at which the RON reader
/// stopped, white space left aside: a number is read as a whole before it is looked at.
const BACK: char = '\u{1f}';

/// A message that knows how many lines before the end of its value the fault lies.
#[must_use]
pub fn with_lines_back(what: &str, lines: usize) -> String {
    format!("{what}{BACK}{lines}")
}

fn without_lines_back(text: &str) -> (&str, Option<usize>) {
    match text.rsplit_once(BACK) {
        Some((what, lines)) => (what, lines.parse().ok()),
        None => (text, None),
    }
}

fn named(code: &Error) -> Option<Trouble> {
    let fault = match code {
        Error::NoSuchStructField {
            expected,
            found,
            outer,
        } => Trouble::new(format!(
            "unknown name `{found}`{}",
            within(outer.as_deref())
        ))
        .expected(one_of(expected))
        .remedy("correct the spelling, or move it into the group that it belongs to"),
        Error::NoSuchEnumVariant {
            expected, found, ..
        } => Trouble::new(format!("unknown choice `{found}`"))
            .expected(one_of(expected))
            .remedy("take one of these"),
        Error::DuplicateStructField { field, .. } => {
            Trouble::new(format!("`{field}` is set twice"))
                .expected("every name once in its group")
                .remedy("remove one of the two")
        }
        Error::MissingStructField { field, outer } => {
            Trouble::new(format!("`{field}` is missing{}", within(outer.as_deref())))
                .expected(format!("a value for `{field}`"))
                .remedy("add it")
        }
        Error::InvalidValueForType { expected, found } => Trouble::new(format!("found {found}"))
            .expected(expected.clone())
            .remedy(LISTED),
        // Our own readers say what they expected in the same sentence.
        Error::Message(text) => match without_lines_back(text).0.split_once("; expected ") {
            Some((what, expected)) => Trouble::new(what).expected(expected).remedy(LISTED),
            None => Trouble::new(without_lines_back(text).0)
                .expected("a value that the setting can have")
                .remedy(LISTED),
        },
        _ => return None,
    };
    Some(fault)
}

fn punctuation(code: &Error) -> (String, Option<&'static str>) {
    let (what, expected) = match code {
        Error::Eof | Error::ExpectedStructLikeEnd => (
            "a group is not closed, or a comma is missing",
            Some("`,` or a closing `)` here"),
        ),
        Error::ExpectedArrayEnd => (
            "a list is not closed, or a comma is missing",
            Some("`,` or a closing `]` here"),
        ),
        Error::ExpectedComma => (
            "a comma or a closing bracket is missing",
            Some("`,` or a closing bracket before this place"),
        ),
        Error::ExpectedMapColon => ("a colon is missing", Some("name: value")),
        Error::ExpectedIdentifier
        | Error::InvalidIdentifier(_)
        | Error::SuggestRawIdentifier(_) => (
            "there is no word where one must stand",
            Some("a name or a choice, without quotes"),
        ),
        Error::ExpectedString => ("this is no text", Some("text in double quotes")),
        Error::ExpectedStringEnd => ("a text is not closed", Some("a closing double quote")),
        Error::ExpectedArray => ("this is no list", Some("a list in square brackets")),
        Error::ExpectedStructLike | Error::ExpectedNamedStructLike(_) => (
            "this is no group",
            Some("a group in parentheses: (name: value, ..)"),
        ),
        Error::ExpectedDifferentStructName { .. } => (
            "a word stands before a group",
            Some("a group in parentheses: (name: value, ..)"),
        ),
        Error::ExpectedFloat | Error::ExpectedInteger => ("this is no number", Some("a number")),
        Error::TrailingCharacters => (
            "there is text after the end of the scenario",
            Some("nothing after the last closing `)`"),
        ),
        Error::ExceededRecursionLimit => ("the brackets nest too deeply", None),
        Error::UnclosedBlockComment => ("a comment is not closed", Some("`*/`")),
        other => return (other.to_string(), None),
    };
    (what.to_owned(), expected)
}

fn within(outer: Option<&str>) -> String {
    match outer {
        None | Some("Draft" | "VariantList") => String::new(),
        Some("VariantEntry") => " in a variant".to_owned(),
        Some("Staged") => " among the stages".to_owned(),
        Some(name) => format!(" in the group {name}"),
    }
}

fn one_of(names: &[&str]) -> String {
    match names {
        [] => "nothing here".to_owned(),
        [name] => format!("`{name}`"),
        names => format!("one of {}", names.join(", ")),
    }
}
