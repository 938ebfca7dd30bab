//! `new`: writes a commented scenario to start from.

use super::args::NewArgs;
use super::say::say;
use super::stopped::Stopped;
use crate::output::files;
use crate::trouble::{Trouble, shown};

const STARTER: &str = include_str!("../../scenarios/starter.ron");

pub fn run(args: &NewArgs) -> Result<(), Stopped> {
    if args.file.exists() {
        return Err(Trouble::new("the file exists already and is left alone")
            .at(args.file.display().to_string())
            .expected("a name that is free")
            .remedy("choose another name, or remove the file first")
            .into());
    }
    files::write_whole(&args.file, STARTER.as_bytes())?;
    say(format!(
        "Wrote {}. Next:\n  crawlspan check {0}\n  crawlspan brief {0}",
        shown::path(&args.file)
    ));
    Ok(())
}
