//! Printing that nothing escapes from: what would move a cursor is shown. And that never fails: a closed pipe, as with `head`, is the reader's choice and no fault.

use crate::trouble::shown::{on_one_line, visible};
use std::io::Write;

/// Prints lines on standard output.
pub fn say(text: impl AsRef<str>) {
    print(&mut std::io::stdout().lock(), text.as_ref());
}

/// Prints a note, which is one line, on standard error.
pub fn tell(text: impl AsRef<str>) {
    print(&mut std::io::stderr().lock(), &on_one_line(text.as_ref()));
}

/// Prints lines on standard error.
pub fn tell_lines(text: impl AsRef<str>) {
    print(&mut std::io::stderr().lock(), text.as_ref());
}

fn print(stream: &mut dyn Write, text: &str) {
    let _ = writeln!(stream, "{}", visible(text));
    let _ = stream.flush();
}
