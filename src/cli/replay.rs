//! `replay`: makes results again from the record beside them, and compares them with it.

use super::args::ReplayArgs;
use super::origin::Again;
use super::say::{say, tell};
use super::stopped::Stopped;
use crate::output::provenance::{Program, Record};
use crate::scenario::data::contents;
use crate::trouble::Trouble;
use std::path::Path;
use std::sync::{Arc, OnceLock};

pub fn run(args: &ReplayArgs) -> Result<(), Stopped> {
    let label = args.record.display().to_string();
    let record = read(&args.record, &label)?;
    let same_program = record.program == Program::this();
    if !same_program {
        differs(&record.program, &label, args.out.is_none())?;
    }
    let folder = args
        .record
        .parent()
        .filter(|parent| !parent.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let again = Arc::new(Again {
        task: record.task.clone(),
        label: label.clone(),
        folder: match args.out {
            Some(_) => None,
            None => Some(folder.to_owned()),
        },
        data_folder: args.files.clone(),
        same_program,
        shards: Vec::new(),
        outcome: OnceLock::new(),
    });
    super::perform_again(Arc::clone(&again), args.threads, args.out.as_ref())?;
    let made = again
        .outcome
        .get()
        .ok_or_else(|| Stopped::Failed("the command left no record to compare".to_owned()))?;
    if !record.complete {
        tell("note: the record is of a run that was interrupted; its files were not all");
        return Ok(());
    }
    compared(&record, made, same_program)
}

fn read(path: &Path, label: &str) -> Result<Record, Trouble> {
    let unreadable = |why: String| {
        Trouble::new(format!("the record cannot be read: {why}"))
            .at(label)
            .expected("a provenance-*.json as a command writes it")
            .remedy("check the path")
    };
    let bytes = contents(path).map_err(unreadable)?;
    let text =
        String::from_utf8(bytes).map_err(|_| unreadable("it is not text in UTF-8".to_owned()))?;
    Record::read(&text, label)
}

/// Another program may make other bytes: it must not overwrite the results that it is to be held against.
fn differs(program: &Program, label: &str, in_place: bool) -> Result<(), Trouble> {
    let this = Program::this();
    let words = |program: &Program| {
        format!(
            "{} {} ({}, sources {}, {})",
            program.program, program.version, program.revision, program.sources, program.platform
        )
    };
    if in_place {
        return Err(Trouble::new("the record was made by another program")
            .at(label)
            .expected(words(&this))
            .remedy(format!(
                "use {}, or give --out to keep the old results and have these held against them",
                words(program)
            )));
    }
    tell(format!(
        "note: the record was made by {}; this is {}",
        words(program),
        words(&this)
    ));
    Ok(())
}

fn compared(record: &Record, made: &Record, same_program: bool) -> Result<(), Stopped> {
    let names = record.written.keys().chain(
        made.written
            .keys()
            .filter(|name| !record.written.contains_key(*name)),
    );
    let other: Vec<&str> = names
        .filter(|name| record.written.get(*name) != made.written.get(*name))
        .map(String::as_str)
        .collect();
    if !other.is_empty() {
        return Err(Stopped::Failed(format!(
            "made again, but not as recorded: {}",
            other.join(", ")
        )));
    }
    if same_program && record != made {
        return Err(Stopped::Failed(
            "made again as recorded, but under another record".to_owned(),
        ));
    }
    say(format!(
        "Made again: {} files, byte for byte as recorded.",
        made.written.len()
    ));
    Ok(())
}
