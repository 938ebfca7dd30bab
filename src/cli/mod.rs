//! Commands: arguments in, study call, output call.

mod analyse;
mod args;
mod brief;
mod check;
mod context;
mod gap;
mod lesson;
mod new;
mod progress;
mod recruit;
mod refuge;
mod say;
mod season;
mod sweep;
mod tune;
mod weigh;

use args::{Cli, Command};
use clap::Parser;
use std::ffi::OsString;
use std::process::ExitCode;

/// Everything went well.
pub const EXIT_FINE: u8 = 0;
/// Something could not be done for a reason that is not the user's: a statistic without an answer.
pub const EXIT_FAILED: u8 = 1;
/// The input or a folder has a fault that the message names.
pub const EXIT_BAD_INPUT: u8 = 2;
/// Interrupted; what was complete has been kept.
pub const EXIT_INTERRUPTED: u8 = 130;

/// Runs the program on its arguments and returns its exit code.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let cli = match Cli::try_parse_from(arguments) {
        Ok(cli) => cli,
        Err(message) => {
            // A failed print of help or usage leaves nothing to be told.
            let _ = message.print();
            let code = if message.use_stderr() {
                EXIT_BAD_INPUT
            } else {
                EXIT_FINE
            };
            return ExitCode::from(code);
        }
    };
    let outcome = match cli.command.unwrap_or_default() {
        Command::Brief(args) => brief::run(&args),
        Command::Season(args) => season::run(&args),
        Command::Sweep(args) => sweep::run(&args),
        Command::Tune(args) => tune::run(&args),
        Command::Weigh(args) => weigh::run(&args),
        Command::Gap(args) => gap::run(&args),
        Command::Refuge(args) => refuge::run(&args),
        Command::Analyse(args) => analyse::run(&args),
        Command::Recruit(args) => recruit::run(&args),
        Command::Lesson(args) => lesson::run(&args),
        Command::Check(args) => check::run(&args),
        Command::New(args) => new::run(&args),
    };
    match outcome {
        Ok(()) => ExitCode::from(EXIT_FINE),
        Err(stop) => {
            say::tell(stop.to_string());
            ExitCode::from(stop.code())
        }
    }
}
