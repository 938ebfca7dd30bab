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

fn print(stream: &mut dyn Write, text: &str) {
    let _ = writeln!(stream, "{text}");
    let _ = stream.flush();
}
