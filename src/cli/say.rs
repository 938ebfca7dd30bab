//! The one place that writes to standard output and standard error, and nothing escapes from it: what would move a
//! cursor is shown.
//!
//! A closed pipe, as with `head`, is the reader's choice and no fault. Any other failure of standard output, such as a
//! full disk, means that output is lost: it is remembered, and the exit code says so when the command has ended.

use crate::trouble::Trouble;
use crate::trouble::shown::{on_one_line, visible};
use std::io::{self, ErrorKind, Write};
use std::sync::OnceLock;

/// The first failure of standard output.
static LOST: OnceLock<String> = OnceLock::new();

/// Prints lines on standard output.
pub fn say(text: impl AsRef<str>) {
    say_bytes(format!("{}\n", visible(text.as_ref())).as_bytes());
}

/// Prints bytes on standard output, as they are: what a file would hold.
pub fn say_bytes(bytes: &[u8]) {
    noted(io::stdout().lock().write_all(bytes));
}

/// Prints what the reader of the arguments has to say: help and version on standard output, faults on standard error.
pub fn say_usage(message: &clap::Error) {
    if message.use_stderr() {
        tell_lines(message.render().to_string().trim_end());
    } else {
        noted(message.print());
    }
}

/// Prints a note, which is one line, on standard error.
pub fn tell(text: impl AsRef<str>) {
    tell_lines(on_one_line(text.as_ref()));
}

/// Prints lines on standard error. Where even that fails there is nobody to be told.
pub fn tell_lines(text: impl AsRef<str>) {
    let mut stream = io::stderr().lock();
    let _ = writeln!(stream, "{}", visible(text.as_ref()));
    let _ = stream.flush();
}

/// Remembers a failure of standard output; what is held back until the end of a line or of a buffer is written now, as
/// nobody would hear of its failure later.
fn noted(written: io::Result<()>) {
    if let Err(fault) = written.and_then(|()| io::stdout().flush())
        && fault.kind() != ErrorKind::BrokenPipe
    {
        LOST.get_or_init(|| fault.to_string());
    }
}

/// What to tell if anything said on standard output was lost.
pub fn lost() -> Option<Trouble> {
    LOST.get().map(|why| {
        Trouble::new(format!("output was lost: {why}"))
            .at("standard output")
            .expected("a terminal, file or pipe that takes all of it")
            .remedy("make room or name another file, and give the command again")
            .by_machine()
    })
}
