//! Text that somebody gave, as it may be shown: seen, not obeyed, and no longer than can be read.

use std::borrow::Cow;
use std::fmt::Write;
use std::path::Path;

/// Quoted text that is longer is cut, signs.
const LONGEST_QUOTED: usize = 100;
/// Signs kept of quoted text that is cut.
const KEPT: usize = 60;
/// A message that is longer loses its middle, signs: the longest list of what would be right has half of it.
const LONGEST_MESSAGE: usize = 4_000;
/// A place that is longer loses its middle, signs: few systems open a path that long.
const LONGEST_PLACE: usize = 1_000;
/// Signs kept at the end of what loses its middle.
const KEPT_AT_END: usize = 200;

/// Whether a sign is not seen but does something: moves a cursor, rings, changes colours or the order of letters. These
/// are the control characters, the separators of lines and paragraphs, and the overrides, embeddings and isolates of
/// the bidirectional algorithm.
#[must_use]
pub fn is_unseen(sign: char) -> bool {
    sign.is_control()
        || matches!(sign, '\u{2028}'..='\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn escaped(text: &str, is_wanted: impl Fn(char) -> bool) -> Cow<'_, str> {
    let is_odd = |sign: char| is_unseen(sign) && !is_wanted(sign);
    if !text.chars().any(is_odd) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len() + 8);
    for sign in text.chars() {
        if is_odd(sign) {
            // Writing to a string cannot fail.
            let _ = write!(shown, "\\u{{{:x}}}", u32::from(sign));
        } else {
            shown.push(sign);
        }
    }
    Cow::Owned(shown)
}

/// Text of one or more lines for a terminal: what would do something there is shown as `\u{1b}`.
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    escaped(text, |sign| matches!(sign, '\n' | '\t'))
}

/// Text on a single line, with nothing in it that is not seen.
#[must_use]
pub fn on_one_line(text: &str) -> Cow<'_, str> {
    escaped(text, |_| false)
}

/// A path on a single line.
#[must_use]
pub fn path(path: &Path) -> String {
    on_one_line(&path.to_string_lossy()).into_owned()
}

/// Text on a single line, of which no more is shown than can be read.
#[must_use]
pub fn shortened(text: &str) -> Cow<'_, str> {
    // Signs are counted no further than needed: a cell can hold a whole file.
    if text.chars().nth(LONGEST_QUOTED).is_none() {
        return on_one_line(text);
    }
    let kept: String = text.chars().take(KEPT).collect();
    let length = text.chars().count();
    Cow::Owned(format!("{}.. ({length} characters)", on_one_line(&kept)))
}

/// A part of a message: what stands between backticks is quoted from somebody and comes out on one line and
/// [`shortened`]. Elsewhere a line break is ours only if its line is indented; a label below the message is indented
/// alike, so that a place, which holds names of files, has no line breaks at all.
#[must_use]
pub fn told(text: &str) -> String {
    let mut told = String::with_capacity(text.len().min(LONGEST_MESSAGE));
    for (index, part) in text.split('`').enumerate() {
        if index > 0 {
            told.push('`');
        }
        if index % 2 == 1 {
            told += &shortened(part);
            continue;
        }
        for (line, words) in part.split("\n  ").enumerate() {
            told += if line > 0 { "\n  " } else { "" };
            told += &on_one_line(words);
        }
    }
    without_middle(told, LONGEST_MESSAGE)
}

/// A place: a path with or without a line, an option.
#[must_use]
pub(super) fn told_place(text: &str) -> String {
    without_middle(on_one_line(text).into_owned(), LONGEST_PLACE)
}

fn without_middle(text: String, longest: usize) -> String {
    if text.chars().nth(longest).is_none() {
        return text;
    }
    let start: String = text.chars().take(longest / 2).collect();
    let mut end: Vec<char> = text.chars().rev().take(KEPT_AT_END).collect();
    end.reverse();
    let end: String = end.into_iter().collect();
    let left_out = text.chars().count() - longest / 2 - KEPT_AT_END;
    format!("{start} .. ({left_out} characters left out) .. {end}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_what_is_not_seen_is_shown_as_its_number() {
        assert_eq!(
            visible("a\u{1b}[2J\n\tb\u{9b}c"),
            "a\\u{1b}[2J\n\tb\\u{9b}c"
        );
        assert_eq!(
            on_one_line("a\r\nb\u{202e}c\u{7}\u{8}"),
            "a\\u{d}\\u{a}b\\u{202e}c\\u{7}\\u{8}"
        );
        assert_eq!(
            visible("caf\u{e9} \u{5d0}\u{2026}"),
            "caf\u{e9} \u{5d0}\u{2026}"
        );
    }

    #[test]
    fn exact_quoted_text_is_shortened_once() {
        let long = format!("`{}` is not a number", "x".repeat(1_000));
        let short = told(&long);
        assert_eq!(
            short,
            format!("`{}.. (1000 characters)` is not a number", "x".repeat(60))
        );
        assert_eq!(told(&short), short);
        assert!(told(&"y".repeat(1_000_000)).chars().count() < LONGEST_MESSAGE);
    }

    #[test]
    fn exact_only_indented_line_breaks_outside_of_quotes_stay() {
        assert_eq!(told("a\n  b\nerror: c"), "a\n  b\\u{a}error: c");
        assert_eq!(told("`a\n  b`"), "`a\\u{a}  b`");
        assert_eq!(told_place("a\n  b"), "a\\u{a}  b");
    }
}
