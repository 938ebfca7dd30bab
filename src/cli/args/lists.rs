//! Lists on the command line: one value after another, separated by commas.

use std::str::FromStr;

/// Reads one value of a list; an empty one says what a list looks like.
fn value<T: FromStr>(text: &str, what: &str, example: &str) -> Result<T, String> {
    let text = text.trim();
    let expected = format!("expected {what} separated by commas, such as {example}");
    if text.is_empty() {
        return Err(format!(
            "a value is missing; {expected}; for the usual ones leave the option away"
        ));
    }
    text.parse()
        .map_err(|_| format!("`{text}` is none; {expected}"))
}

/// A number of a list.
pub fn number(text: &str) -> Result<f64, String> {
    let number: f64 = value(text, "numbers", "0.5,1,2")?;
    // A negative zero is a zero. Limits are held by the question that is asked.
    Ok(number + 0.0)
}

/// A count of a list.
pub fn count(text: &str) -> Result<usize, String> {
    value(text, "whole numbers", "10,20,40")
}

/// A path of a list.
pub fn path(text: &str) -> Result<String, String> {
    value(text, "paths", "walking.mean_cosine,walking.acceptance")
}

/// A name of a column of a list.
pub fn column(text: &str) -> Result<String, String> {
    value(text, "names of columns", "surroundings,size")
}
