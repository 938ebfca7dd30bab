//! The program about itself.

use clap::Args;
use clap_complete::Shell;
use std::path::PathBuf;

/// Arguments of `columns`.
#[derive(Debug, Args)]
pub struct ColumnsArgs {
    /// File name of a table, such as surveys.csv; all tables if not given.
    #[arg(value_name = "TABLE.csv")]
    pub table: Option<String>,
    /// Write the data dictionary as CSV instead.
    #[arg(long, conflicts_with = "table")]
    pub csv: bool,
}

/// Arguments of `completions`.
#[derive(Debug, Args)]
pub struct CompletionsArgs {
    /// Shell.
    pub shell: Shell,
}

/// Arguments of `manual`.
#[derive(Debug, Args)]
pub struct ManualArgs {
    /// Folder that receives the pages.
    pub folder: PathBuf,
}
