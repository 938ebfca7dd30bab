#![forbid(unsafe_code)]
//! Parse, call, exit code; the program's story is in `cli`.

use std::process::ExitCode;

fn main() -> ExitCode {
    crawlspan::cli::run(std::env::args_os())
}
