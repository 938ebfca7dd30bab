//! Words of a table as they may be shown.

use crate::trouble::shown::is_unseen;

/// Longest word that is shown whole, signs.
const LONGEST: usize = 40;
/// Signs kept of the end of a word that is cut: replicates differ there.
const END: usize = 8;
/// Stands for what was cut out.
const CUT: &str = "..";

/// A word of a table on one line, without signs that would move the terminal's cursor, its middle cut out if it is
/// longer than `longest` signs (at least 12).
#[must_use]
pub fn shown_within(word: &str, longest: usize) -> String {
    let plain = |sign: char| if is_unseen(sign) { ' ' } else { sign };
    // Names are counted no further than needed: a cell can hold a whole file.
    if word.chars().nth(longest).is_none() {
        return word.chars().map(plain).collect();
    }
    let start = word
        .chars()
        .take(longest.saturating_sub(END + CUT.len()))
        .map(plain);
    let mut end: Vec<char> = word.chars().rev().take(END).map(plain).collect();
    end.reverse();
    start.chain(CUT.chars()).chain(end).collect()
}

/// As [`shown_within`], for messages.
#[must_use]
pub fn shown(word: &str) -> String {
    shown_within(word, LONGEST)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_long_words_lose_their_middle_and_control_signs() {
        assert_eq!(shown_within("abcdefghijkl", 12), "abcdefghijkl");
        assert_eq!(shown_within("abcdefghijklm #1234", 12), "ab..lm #1234");
        assert_eq!(shown("a\u{1b}[2Jb\nc"), "a [2Jb c");
    }
}
