//! Scenarios side by side: what the figures are, what is shared, and the command.

mod common;

#[path = "compare/command.rs"]
mod command;
#[path = "compare/figures.rs"]
mod figures;
