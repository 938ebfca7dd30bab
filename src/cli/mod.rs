//! Commands: arguments in, study call, output call.

mod about;
mod allot;
mod analyse;
mod args;
mod brief;
mod calendar;
mod check;
mod compare;
mod context;
mod describe;
mod gap;
mod gather;
mod kept;
mod lesson;
mod new;
mod origin;
mod patience;
mod progress;
mod recruit;
mod refuge;
mod replay;
mod say;
mod screen;
mod season;
mod stopped;
mod sweep;
mod tune;
mod weigh;

use args::{Cli, Command};
use clap::Parser;
use origin::{Again, recorded};
use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use stopped::Stopped;

use crate::trouble;
use crate::trouble::shown::shortened;

/// Name of the program, as the first argument.
const PROGRAM: &str = env!("CARGO_PKG_NAME");

/// Everything went well.
pub const EXIT_FINE: u8 = 0;
/// Something could not be done for a reason that is not the user's: a statistic without an answer, a full disk.
pub const EXIT_FAILED: u8 = 1;
/// The input or a folder has a fault that the message names.
pub const EXIT_BAD_INPUT: u8 = 2;
/// Interrupted; what was complete has been kept.
pub const EXIT_INTERRUPTED: u8 = 130;

/// Runs the program on its arguments and returns its exit code.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    let cli = match Cli::try_parse_from(&arguments) {
        Ok(cli) => cli,
        Err(message) => {
            let shown = Cli::try_parse_from(arguments.iter().map(as_shown));
            say::say_usage(shown.err().as_ref().unwrap_or(&message));
            return ended(if message.use_stderr() {
                EXIT_BAD_INPUT
            } else {
                EXIT_FINE
            });
        }
    };
    let mut command = cli.command.unwrap_or_default();
    if let Some((name, machine)) = command.machine() {
        let typed: Vec<String> = arguments
            .iter()
            .skip(1)
            .map(|argument| argument.to_string_lossy().into_owned())
            .collect();
        machine.origin.command = name;
        machine.origin.arguments = recorded(&typed);
    }
    ended(match perform(&mut command) {
        Ok(()) => EXIT_FINE,
        Err(Stopped::Shared(next)) => {
            say::say(next);
            EXIT_FINE
        }
        Err(stop) => {
            say::tell_lines(stop.to_string());
            stop.code()
        }
    })
}

/// The exit code of a command that has ended with a code, unless its output was lost on the way.
fn ended(code: u8) -> ExitCode {
    let Some(lost) = say::lost() else {
        return ExitCode::from(code);
    };
    let lost = Stopped::from(lost);
    say::tell(lost.to_string());
    ExitCode::from(if code == EXIT_FINE { lost.code() } else { code })
}

/// An argument as messages about it may quote it: on one line, and not endless.
fn as_shown(argument: &OsString) -> OsString {
    argument.to_str().map_or_else(
        || argument.clone(),
        |text| shortened(text).into_owned().into(),
    )
}

/// Performs a command, and decides what becomes of the pieces that it kept.
fn perform(command: &mut Command) -> Result<(), Stopped> {
    let kept = command
        .machine()
        .map(|(_, machine)| machine.origin.kept.clone());
    kept::settle(&kept.unwrap_or_default(), dispatch(command))
}

fn dispatch(command: &Command) -> Result<(), Stopped> {
    match command {
        Command::Brief(args) => brief::run(args),
        Command::Season(args) => season::run(args),
        Command::Compare(args) => compare::run(args),
        Command::Sweep(args) => sweep::run(args),
        Command::Tune(args) => tune::run(args),
        Command::Weigh(args) => weigh::run(args),
        Command::Gap(args) => gap::run(args),
        Command::Refuge(args) => refuge::run(args),
        Command::Calendar(args) => calendar::run(args),
        Command::Allot(args) => allot::run(args),
        Command::Analyse(args) => analyse::run(args),
        Command::Recruit(args) => recruit::run(args),
        Command::Screen(args) => screen::run(args),
        Command::Lesson(args) => lesson::run(args),
        Command::Gather(args) => gather::run(args),
        Command::Replay(args) => replay::run(args),
        Command::Describe(args) => describe::run(args),
        Command::Check(args) => check::run(args),
        Command::New(args) => new::run(args),
        Command::Columns(args) => about::columns(args),
        Command::Completions(args) => about::completions(args),
        Command::Manual(args) => about::manual(args),
    }
}

/// Performs a recorded command.
fn perform_again(
    again: Arc<Again>,
    threads: Option<u16>,
    out: Option<&PathBuf>,
) -> Result<(), Stopped> {
    let arguments = &again.task.arguments;
    if recorded(arguments) != *arguments {
        return Err(trouble::Trouble::new(
            "the record has been changed: it names a folder, threads or a shard",
        )
        .at(again.label.clone())
        .expected("arguments without --out, --threads and --shard, which no record holds")
        .remedy("use the record as it was written")
        .into());
    }
    let refused = |why: &str| {
        trouble::Trouble::new(format!("the recorded command cannot be run: {why}"))
            .at(again.label.clone())
            .expected("the arguments of a command that this version knows")
            .remedy("use the version that the record names")
    };
    let cli =
        Cli::try_parse_from(std::iter::once(PROGRAM).chain(arguments.iter().map(String::as_str)))
            .map_err(|fault| {
            let why = fault.to_string();
            refused(
                why.lines()
                    .next()
                    .unwrap_or_default()
                    .trim_start_matches("error: "),
            )
        })?;
    let mut command = cli.command.unwrap_or_default();
    let (name, machine) = command
        .machine()
        .filter(|(name, _)| *name == again.task.command)
        .ok_or_else(|| refused("it is not the one that the record names"))?;
    machine.origin.command = name;
    machine.origin.arguments = arguments.clone();
    machine.threads = threads;
    if let Some(out) = out {
        machine.out.clone_from(out);
    }
    machine.origin.again = Some(again);
    perform(&mut command)
}
