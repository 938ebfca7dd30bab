//! `allot`: which patch is treated and which half is cut.

use super::args::{AllotArgs, Common, DEFAULT_SCENARIO, DEFAULT_SEED};
use super::context::Context;
use super::say::{say, tell};
use super::stopped::Stopped;
use crate::output::allot::record::{
    ANNOUNCEMENT, Announced, Announcement, DrawRecord, RECORD, Replaced, text as as_json,
};
use crate::output::allot::{Drawn, sheets, table, text};
use crate::scenario::data::sha256;
use crate::scenario::input::{LARGEST_FILE, contents};
use crate::scenario::{Layered, Scenario};
use crate::study::allot::{self, Arms, SiteList};
use crate::trouble::shown::is_unseen;
use crate::trouble::{Outcome, Trouble};
use std::path::{Path, PathBuf};

/// Most characters of a reason or announcement.
const LONGEST_WORDS: usize = 400;

pub fn run(args: &AllotArgs) -> Result<(), Stopped> {
    for (words, option) in [(&args.announce, "--announce"), (&args.because, "--because")] {
        check_words(words.as_deref(), option)?;
    }
    let seed = seed(args)?;
    let mut prepared = None;
    let context = Context::open_in(
        &common(args, seed),
        Some(&folder_name(args)),
        |layered, scenario| {
            prepared = Some(prepare(args, layered, scenario, seed)?);
            Ok(())
        },
    )?;
    let Some(prepared) = prepared else {
        return Err(Stopped::Failed("nothing was read".to_owned()));
    };
    if args.list.is_some() && args.scenario == DEFAULT_SCENARIO {
        tell(format!(
            "note: dates, refuge and tools are those of the ready scenario {DEFAULT_SCENARIO}; name your own with --scenario"
        ));
    }
    match &args.announce {
        Some(words) => announce(&context, &prepared, words),
        None => draw(&context, &prepared, seed),
    }
}

/// The list, what can be drawn, and the record of the draw.
struct Prepared {
    list: SiteList,
    arms: Arms,
    record: DrawRecord,
}

fn prepare(
    args: &AllotArgs,
    layered: &Layered,
    scenario: &Scenario,
    seed: u64,
) -> Outcome<Prepared> {
    let list = list(args, layered)?;
    allot::check(scenario, &list)?;
    let arms = Arms::of(scenario);
    let mut record = DrawRecord::of(&list, &arms, seed, args.list.is_none());
    if args.announce.is_none() {
        record.announced = announced(args, layered, &record)?;
    }
    record.replaces = replaced(args, layered)?;
    Ok(Prepared { list, arms, record })
}

/// The seed: for a study it must be given; the example, which nobody is treated by, has one.
fn seed(args: &AllotArgs) -> Outcome<u64> {
    match (args.seed, &args.announce, &args.list) {
        (Some(seed), _, _) => Ok(seed),
        (None, None, Some(_)) => Err(Trouble::new("no seed is given")
            .at("the option --seed")
            .expected("a whole number that was fixed before the draw, so that nobody can have chosen the outcome")
            .remedy(
                "first --announce \"how the number will come about\", then --seed with the number; see `crawlspan help allot`",
            )),
        (None, ..) => Ok(DEFAULT_SEED),
    }
}

fn check_words(words: Option<&str>, option: &str) -> Outcome<()> {
    match words {
        Some(words)
            if words.trim().is_empty()
                || words.chars().count() > LONGEST_WORDS
                || words.chars().any(is_unseen) =>
        {
            Err(Trouble::new("these are no words that can be put on record")
                .at(format!("the option {option}"))
                .expected(format!("one line of 1 to {LONGEST_WORDS} characters"))
                .remedy("say it in a sentence"))
        }
        _ => Ok(()),
    }
}

fn common(args: &AllotArgs, seed: u64) -> Common {
    Common {
        scenario: args.scenario.clone(),
        set: args.set.clone(),
        seed,
        machine: args.machine.clone(),
        shard: None,
    }
}

/// The folder is named after the list.
fn folder_name(args: &AllotArgs) -> String {
    let path = args.list.as_deref().unwrap_or(Path::new(allot::EXAMPLE));
    format!(
        "allot-{}",
        path.file_stem().unwrap_or_default().to_string_lossy()
    )
}

/// Where data files of the command line are read from.
fn data_folder(args: &AllotArgs) -> &Path {
    let again = args.machine.origin.again.as_ref();
    again.map_or(Path::new(""), |again| again.data_folder.as_path())
}

/// The list, which travels with the record as a data file.
fn list(args: &AllotArgs, layered: &Layered) -> Outcome<SiteList> {
    let Some(path) = &args.list else {
        return allot::example(&args.within);
    };
    let name = path.to_string_lossy();
    let file = layered.data.read(data_folder(args), &name)?;
    allot::read_list(&name, &args.within, file)
}

/// The announcement in the folder of the draw, if there is one, checked to be of this draw.
fn announced(
    args: &AllotArgs,
    layered: &Layered,
    record: &DrawRecord,
) -> Outcome<Option<Announced>> {
    let folder: PathBuf = args.machine.out.join(folder_name(args));
    let is_there = match &args.machine.origin.again {
        // What is made again was announced if its record says so, whatever lies where it is made again.
        Some(_) => layered
            .data
            .all()
            .iter()
            .any(|file| file.name == ANNOUNCEMENT),
        None => lies_there(&folder.join(ANNOUNCEMENT))?,
    };
    if !is_there {
        return Ok(None);
    }
    let (label, bytes) = layered.data.read(&folder, ANNOUNCEMENT)?;
    let said = Announcement::read(&String::from_utf8_lossy(&bytes), &label)?;
    said.check(&record.list, &record.arms, &label)?;
    Ok(Some(Announced {
        seed_from: said.seed_from,
        sha256: sha256(&bytes),
    }))
}

/// The earlier draw that this one replaces.
fn replaced(args: &AllotArgs, layered: &Layered) -> Outcome<Option<Replaced>> {
    let (Some(path), Some(because)) = (&args.replaces, &args.because) else {
        return Ok(None);
    };
    let (label, bytes) = layered
        .data
        .read(data_folder(args), &path.to_string_lossy())?;
    let earlier = DrawRecord::read(&String::from_utf8_lossy(&bytes), &label)?;
    Ok(Some(Replaced {
        sha256: sha256(&bytes),
        seed: earlier.seed,
        list_sha256: earlier.list.sha256,
        because: because.clone(),
    }))
}

/// Whether an earlier run has left a file; a pipe in its place would be waited for.
fn lies_there(path: &Path) -> Outcome<bool> {
    if !path.exists() || path.is_file() {
        return Ok(path.exists());
    }
    Err(
        Trouble::new("something else stands in the place of a file of the draw")
            .at(path.display().to_string())
            .expected("the file that an earlier draw left, or nothing")
            .remedy("remove it, or choose another folder with --out"),
    )
}

/// Contents of a file that an earlier run may have left in the folder.
fn left_behind(context: &Context, name: &str) -> Outcome<Option<(String, String)>> {
    let path = context.folder.path().join(name);
    if !lies_there(&path)? {
        return Ok(None);
    }
    let label = path.display().to_string();
    let bytes = contents(&path, LARGEST_FILE).map_err(|why| {
        Trouble::new(format!("the file {label} cannot be read: {why}"))
            .at(label.clone())
            .remedy("free it, or choose another folder with --out")
    })?;
    Ok(Some((label, String::from_utf8_lossy(&bytes).into_owned())))
}

fn announce(context: &Context, prepared: &Prepared, words: &str) -> Result<(), Stopped> {
    if let Some((label, _)) = left_behind(context, RECORD)? {
        return Err(
            Trouble::new("the draw has been made: it is too late to announce it")
                .at(label)
                .expected("a folder without a draw")
                .remedy("announce another draw in another folder with --out")
                .into(),
        );
    }
    let said = Announcement::of(&prepared.list, &prepared.arms, words);
    if let Some((label, text)) = left_behind(context, ANNOUNCEMENT)?
        && !Announcement::read(&text, &label)?.says_the_same(&said)
    {
        return Err(
            Trouble::new("another draw has been announced in this folder")
                .at(label)
                .expected("one announcement, which is not taken back")
                .remedy("draw as announced, or announce another draw in another folder with --out")
                .into(),
        );
    }
    let json = as_json(&said)?;
    let sites: Vec<String> = prepared
        .list
        .sites
        .iter()
        .map(|site| site.name.clone())
        .collect();
    let text = text::announcement(&said, &json, &sites);
    context.folder.write(ANNOUNCEMENT, json.as_bytes())?;
    context
        .folder
        .write("announcement.txt", format!("{text}\n").as_bytes())?;
    say(format!("{text}\n"));
    context.finish();
    Ok(())
}

fn draw(context: &Context, prepared: &Prepared, seed: u64) -> Result<(), Stopped> {
    let record = &prepared.record;
    if let Some((label, text)) = left_behind(context, RECORD)? {
        record.check_against(&DrawRecord::read(&text, &label)?, &label)?;
    }
    let allotment = allot::allot(&prepared.list, &prepared.arms, seed);
    let drawn = Drawn {
        list: &prepared.list,
        allotment: &allotment,
        scenario: &context.scenario,
        record,
    };
    let table = table::table(&prepared.list, &allotment)?;
    let folder = &context.folder;
    // The record goes first: a draw that is known to anybody is on record.
    folder.write(RECORD, record.text(&allotment, &table)?.as_bytes())?;
    folder.write(table::ALLOTMENT.file, &table)?;
    let text = text::text(&drawn);
    folder.write("allotment.txt", format!("{text}\n").as_bytes())?;
    folder.write("allotment.html", sheets::sheets(&drawn).as_bytes())?;
    context.write_provenance("allot")?;
    say(format!("{text}\n"));
    context.finish();
    Ok(())
}
