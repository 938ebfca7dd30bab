//! What every simulating command does first and last: read the scenario, open the folder, say what was written.

use super::args::Common;
use super::progress::Progress;
use super::say::say;
use super::{EXIT_BAD_INPUT, EXIT_FAILED, EXIT_INTERRUPTED};
use crate::output::charts::Rendered;
use crate::output::files::Folder;
use crate::output::provenance;
use crate::runner::Runner;
use crate::scenario::{Layered, Scenario};
use crate::study::StudyError;
use crate::trouble::Trouble;
use crate::world::Layout;
use std::fmt;
use std::sync::atomic::{AtomicBool, Ordering};

static STOP: AtomicBool = AtomicBool::new(false);

/// Why a command ended without its full result.
#[derive(Debug)]
pub enum Stopped {
    /// Bad input.
    Trouble(Trouble),
    /// Interrupted; with what was kept and how to go on.
    Interrupted(String),
    /// Anything else.
    Failed(String),
}

impl Stopped {
    /// Exit code.
    pub fn code(&self) -> u8 {
        match self {
            Self::Trouble(_) => EXIT_BAD_INPUT,
            Self::Interrupted(_) => EXIT_INTERRUPTED,
            Self::Failed(_) => EXIT_FAILED,
        }
    }
}

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Trouble(trouble) => write!(f, "error: {trouble}"),
            Self::Interrupted(kept) => write!(f, "interrupted: {kept}"),
            Self::Failed(why) => write!(f, "error: {why}"),
        }
    }
}

impl From<Trouble> for Stopped {
    fn from(trouble: Trouble) -> Self {
        Self::Trouble(trouble)
    }
}

impl From<StudyError> for Stopped {
    fn from(error: StudyError) -> Self {
        match error {
            StudyError::Trouble(trouble) => Self::Trouble(trouble),
            StudyError::Interrupted(_) => Self::Interrupted(
                "nothing was complete yet; start again with the same command".to_owned(),
            ),
            StudyError::Stats(error) => Self::Failed(error.to_string()),
        }
    }
}

/// A scenario that is read and a folder that can be written.
pub struct Context {
    /// The scenario with its layers.
    pub layered: Layered,
    /// The scenario, checked.
    pub scenario: Scenario,
    /// Where files go.
    pub folder: Folder,
    /// Master seed.
    pub seed: u64,
    progress: Progress,
}

/// Reads a scenario and puts `--set` options on top.
pub fn layered(scenario: &str, settings: &[String]) -> Result<Layered, Trouble> {
    let mut layered = Layered::open(scenario)?;
    for setting in settings {
        let (path, value) = setting.split_once('=').ok_or_else(|| {
            Trouble::new(format!("`{setting}` sets nothing"))
                .at("the option --set")
                .expected("path=value, such as site.gap_m=8")
                .remedy("list the paths with `crawlspan check`")
        })?;
        layered.set(path, value)?;
    }
    Ok(layered)
}

impl Context {
    /// Opens the scenario, checks what is asked of it, opens the folder, and arranges that Ctrl-C stops the work
    /// in good order. Nothing is written before the check has passed.
    pub fn open(
        common: &Common,
        check: impl FnOnce(&Layered, &Scenario) -> Result<(), Trouble>,
    ) -> Result<Self, Stopped> {
        Self::open_in(common, None, check)
    }

    /// As [`Context::open`], with a name for the folder other than the scenario's.
    pub fn open_in(
        common: &Common,
        name: Option<&str>,
        check: impl FnOnce(&Layered, &Scenario) -> Result<(), Trouble>,
    ) -> Result<Self, Stopped> {
        let layered = layered(&common.scenario, &common.set)?;
        let scenario = Scenario::from_layers(&layered)?;
        Layout::of(&scenario).map_err(|fault| layered.placed(fault))?;
        check(&layered, &scenario).map_err(|fault| layered.placed(fault))?;
        let folder = Folder::open(&common.out.join(name.unwrap_or(&scenario.name)))?;
        if let Some(threads) = common.threads {
            rayon::ThreadPoolBuilder::new()
                .num_threads(usize::from(threads))
                .build_global()
                .map_err(|fault| Stopped::Failed(format!("threads: {fault}")))?;
        }
        ctrlc::set_handler(|| {
            if STOP.swap(true, Ordering::Relaxed) {
                std::process::exit(i32::from(EXIT_INTERRUPTED));
            }
        })
        .map_err(|fault| Stopped::Failed(format!("Ctrl-C cannot be handled: {fault}")))?;
        Ok(Self {
            layered,
            scenario,
            folder,
            seed: common.seed,
            progress: Progress::new(),
        })
    }

    /// A runner of seasons.
    pub fn runner(&self) -> Runner<'_> {
        Runner::new(self.seed, &self.progress, &STOP)
    }

    /// Writes the scenario as it was resolved and how the files came about.
    pub fn write_provenance(&self, command: &str) -> Result<(), Trouble> {
        let ron = self.scenario.to_ron()?;
        self.folder
            .write(&format!("scenario-{command}.ron"), ron.as_bytes())?;
        let text = provenance::text(command, self.seed, &self.scenario.name, &ron)?;
        self.folder
            .write(&format!("provenance-{command}.json"), text.as_bytes())
    }

    /// Writes a chart as SVG and PNG.
    pub fn write_chart(&self, name: &str, chart: &Rendered) -> Result<(), Stopped> {
        self.folder
            .write(&format!("{name}.svg"), chart.svg.as_bytes())?;
        self.folder.write(&format!("{name}.png"), &chart.png)?;
        Ok(())
    }

    /// Says which files were written.
    pub fn say_written(&self) {
        say(self.folder.written());
    }
}
