//! Scenarios, and what runs left behind.

use super::{DEFAULT_SCENARIO, Machine, threads};
use clap::Args;
use std::path::PathBuf;

/// Arguments of `gather`.
#[derive(Debug, Args)]
pub struct GatherArgs {
    /// Folder that holds the files of the shards, or the files themselves.
    #[arg(required = true, value_name = "FOLDER|FILES")]
    pub from: Vec<PathBuf>,
    /// Do here what missing or unfinished shards have not done, instead of naming them.
    #[arg(long)]
    pub fill: bool,
    /// Threads, 1 to 1024; all cores if not given.
    #[arg(long, value_parser = threads)]
    pub threads: Option<u16>,
    /// Folder that receives a folder named after the scenario; if not given, results go beside the first shard.
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Folder in which data files are looked for that are too long to travel with the shards.
    #[arg(long, default_value = ".", value_name = "FOLDER")]
    pub files: PathBuf,
}

/// Arguments of `replay`.
#[derive(Debug, Args)]
pub struct ReplayArgs {
    /// The record: a provenance-*.json.
    #[arg(value_name = "PROVENANCE.json")]
    pub record: PathBuf,
    /// Threads, 1 to 1024; all cores if not given.
    #[arg(long, value_parser = threads)]
    pub threads: Option<u16>,
    /// Folder that receives a folder named after the scenario; if not given, results go where the record lies.
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Folder in which data files are looked for that are too long to travel with the record.
    #[arg(long, default_value = ".", value_name = "FOLDER")]
    pub files: PathBuf,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// A ready scenario by name, or a RON file.
    #[arg(default_value = DEFAULT_SCENARIO)]
    pub scenario: String,
    /// Set any number or choice by its path; may be repeated.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Write the list as CSV instead.
    #[arg(long)]
    pub csv: bool,
}

/// Arguments of `describe`.
#[derive(Debug, Args)]
pub struct DescribeArgs {
    /// A ready scenario by name, or a RON file.
    #[arg(default_value = DEFAULT_SCENARIO)]
    pub scenario: String,
    /// Set any number or choice by its path; may be repeated.
    #[arg(long = "set", value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Print the description and write no file.
    #[arg(long)]
    pub print: bool,
    #[command(flatten)]
    pub machine: Machine,
}

/// Arguments of `new`.
#[derive(Debug, Args)]
pub struct NewArgs {
    /// File to write; an existing file is left alone.
    pub file: PathBuf,
}
