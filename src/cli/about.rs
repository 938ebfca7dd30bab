//! `columns`, `completions` and `manual`: the program about itself.

use super::args::{Cli, ColumnsArgs, CompletionsArgs, ManualArgs};
use super::say::{say, say_bytes};
use super::stopped::Stopped;
use crate::output::files;
use crate::output::tables::Column;
use crate::output::tables::dictionary::{self, Entry};
use crate::output::text::{hanging, wrapped};
use crate::study::drawn::DRAWN;
use crate::study::measures::MEASURES;
use crate::trouble::{Trouble, shown};
use clap::CommandFactory;

pub fn columns(args: &ColumnsArgs) -> Result<(), Stopped> {
    if args.csv {
        say_bytes(&dictionary::all()?);
        return Ok(());
    }
    let wanted: Vec<&Entry> = match &args.table {
        None => dictionary::TABLES.iter().collect(),
        Some(file) => vec![dictionary::table(file).ok_or_else(|| unknown(file))?],
    };
    let measured = wanted.iter().any(|entry| {
        let mut columns = entry.table.columns.iter();
        columns.any(|column| column.name.contains("measure"))
    });
    let mut texts: Vec<String> = wanted.into_iter().map(listed).collect();
    if measured {
        texts.push(measures());
    }
    say(texts.join("\n").trim_end());
    Ok(())
}

fn unknown(file: &str) -> Trouble {
    let files: Vec<&str> = dictionary::TABLES
        .iter()
        .map(|entry| entry.table.file)
        .collect();
    Trouble::new(format!("`{file}` is no table that crawlspan writes"))
        .at("the argument of `columns`")
        .expected(files.join(", "))
        .remedy("give one of these, or nothing for all")
}

/// Columns of text left of a meaning.
const INDENT: usize = 27;

fn listed(entry: &Entry) -> String {
    let table = entry.table;
    let mut lines = vec![
        table.file.to_owned(),
        wrapped(&format!("One row: {}.", table.row), 2),
    ];
    let line = |column: &Column| {
        let unit = match column.unit {
            "" => String::new(),
            unit => format!(" [{unit}]"),
        };
        let text = format!("  {:<24} {}{unit}", column.name, column.meaning);
        hanging(&text, INDENT)
    };
    lines.extend(table.columns.iter().map(line));
    if !entry.added.is_empty() {
        lines.push("  and with --uncertain:".to_owned());
        lines.extend(entry.added.iter().map(line));
    }
    lines.join("\n") + "\n"
}

/// What the measures are that tables name.
fn measures() -> String {
    let mut lines = vec!["The measures".to_owned()];
    lines.extend(MEASURES.iter().filter_map(|named| {
        let drawn = DRAWN.iter().find(|drawn| drawn.name == named.name)?;
        let text = format!("  {:<24} {}", named.name, drawn.meaning);
        Some(hanging(&text, INDENT))
    }));
    lines.join("\n") + "\n"
}

pub fn completions(args: &CompletionsArgs) -> Result<(), Stopped> {
    let mut script = Vec::new();
    let mut command = Cli::command();
    let name = command.get_name().to_owned();
    clap_complete::generate(args.shell, &mut command, name, &mut script);
    say_bytes(&script);
    Ok(())
}

pub fn manual(args: &ManualArgs) -> Result<(), Stopped> {
    let refused = |fault: std::io::Error| {
        Trouble::new(format!("the manual cannot be written: {fault}"))
            .at(args.folder.display().to_string())
            .expected("a folder in which files can be made")
            .remedy("choose another, or free it")
    };
    std::fs::create_dir_all(&args.folder).map_err(refused)?;
    let mut command = Cli::command().disable_help_subcommand(true);
    command.build();
    let mut pages = vec![command.clone()];
    pages.extend(command.get_subcommands().cloned());
    let count = pages.len();
    for page in pages {
        let man = clap_mangen::Man::new(page);
        let mut text = Vec::new();
        man.render(&mut text).map_err(refused)?;
        files::write_whole(&args.folder.join(man.get_filename()), &text)?;
    }
    say(format!(
        "Wrote {count} manual pages to {0}. Read one with: man {0}/crawlspan.1",
        shown::path(&args.folder)
    ));
    Ok(())
}
