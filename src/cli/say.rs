//! Printing that never fails: a closed pipe, as with `head`, is the reader's choice and no fault.

use std::io::Write;

/// Prints lines on standard output.
pub fn say(text: impl AsRef<str>) {
    print(&mut std::io::stdout().lock(), text.as_ref());
}

/// Prints lines on standard error.
pub fn tell(text: impl AsRef<str>) {
    print(&mut std::io::stderr().lock(), text.as_ref());
}

/// Lines of a foreign file may be part of a message: control characters must not reach the terminal.
fn harmless(c: char) -> char {
    match c {
        '\n' | '\t' => c,
        c if c.is_control() => char::REPLACEMENT_CHARACTER,
        c => c,
    }
}

fn print(stream: &mut dyn Write, text: &str) {
    let text: String = text.chars().map(harmless).collect();
    let _ = writeln!(stream, "{text}");
    let _ = stream.flush();
}
