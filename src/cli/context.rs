//! What every simulating command does first and last: read the scenario, open the folder, say what was written.

use super::EXIT_INTERRUPTED;
use super::args::{Common, Machine};
use super::kept;
use super::origin::Origin;
use super::progress::Progress;
use super::say::{say, tell};
use super::stopped::Stopped;
use crate::output::charts::Rendered;
use crate::output::files::{Folder, Use};
use crate::output::provenance::{self, Heading, Program, Record, RecordedScenario, Task};
use crate::output::tables::dictionary;
use crate::runner::{Pieces, Runner, Shard};
use crate::scenario::data::sha256;
use crate::scenario::{Layered, Scenario};
use crate::study::StudyError;
use crate::trouble::{Trouble, shown};
use crate::world::Layout;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

static STOP: AtomicBool = AtomicBool::new(false);

/// Whether the run is to end.
pub fn is_stopped() -> bool {
    STOP.load(Ordering::Relaxed)
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
    task: Task,
    origin: Origin,
    pieces: Arc<Pieces>,
    progress: Progress,
}

/// What is left when all shards have done their share.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Left {
    /// Statistics only.
    Statistics,
    /// Further simulation that builds on results of all shards.
    Simulation,
}

/// Reads a scenario and puts `--set` options on top.
pub fn layered(scenario: &str, settings: &[String]) -> Result<Layered, Trouble> {
    let mut layered = Layered::open(scenario)?;
    put_on(&mut layered, settings)?;
    Ok(layered)
}

/// Puts `--set` options on top of layers.
pub fn put_on(layered: &mut Layered, settings: &[String]) -> Result<(), Trouble> {
    for setting in settings {
        let (path, value) = setting.split_once('=').ok_or_else(|| {
            Trouble::new(format!("`{setting}` sets nothing"))
                .at("the option --set")
                .expected("path=value, such as site.gap_m=8")
                .remedy("list the paths with `crawlspan check`")
        })?;
        layered.set(path, value)?;
    }
    Ok(())
}

/// The layers of a command: those of the record that is made again, or of what was typed.
pub fn layers_of(origin: &Origin, scenario: &str, set: &[String]) -> Result<Layered, Trouble> {
    let Some(again) = &origin.again else {
        return layered(scenario, set);
    };
    let recorded = again.layered(again.scenario()?)?;
    again.check_typed(&recorded, Some(scenario), set)?;
    Ok(recorded)
}

/// Refuses `--shard` for a command that has too little work for it.
pub fn not_shared(common: &Common) -> Result<(), Trouble> {
    if common.shard.is_none() {
        return Ok(());
    }
    Err(Trouble::new(format!(
        "`{}` cannot be shared out",
        common.machine.origin.command
    ))
    .at("the option --shard")
    .expected("sweep, screen, compare, recruit, gap, refuge or brief")
    .remedy("run it whole"))
}

/// Arranges that Ctrl-C and a limit on the size of files end the work in good order.
fn heed_signals() -> Result<(), Stopped> {
    ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::Relaxed) {
            std::process::exit(i32::from(EXIT_INTERRUPTED));
        }
    })
    .map_err(|fault| Stopped::Failed(format!("Ctrl-C cannot be handled: {fault}")))?;
    #[cfg(unix)]
    {
        // Caught, the signal turns into an error of the write, which says what happened; uncaught it kills.
        let unheard = std::sync::Arc::new(AtomicBool::new(false));
        signal_hook::flag::register(signal_hook::consts::SIGXFSZ, unheard).map_err(|fault| {
            Stopped::Failed(format!("a limit of file size cannot be handled: {fault}"))
        })?;
    }
    Ok(())
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
        let layered = layers_of(&common.machine.origin, &common.scenario, &common.set)?;
        let scenario = Scenario::from_layers(&layered)?;
        Layout::of(&scenario).map_err(|fault| layered.placed(fault))?;
        check(&layered, &scenario).map_err(|fault| layered.placed(fault))?;
        let task = task_of(common, &layered, &scenario)?;
        let name = name.unwrap_or(&scenario.name).to_owned();
        Self::ready(common, &name, (layered, scenario), task)
    }

    /// Opens the folder of a task whose scenario is read and checked, and all else that [`Context::open`] does after.
    pub fn ready(
        common: &Common,
        name: &str,
        (layered, scenario): (Layered, Scenario),
        task: Task,
    ) -> Result<Self, Stopped> {
        if let Some(again) = &common.machine.origin.again {
            again.check(&task)?;
        }
        let using = match common.shard {
            None => Use::Alone,
            Some(_) => Use::Shared,
        };
        let folder = folder(&common.machine, name, using)?;
        if let Some(threads) = common.machine.threads {
            rayon::ThreadPoolBuilder::new()
                .num_threads(usize::from(threads))
                .build_global()
                .map_err(|fault| Stopped::Failed(format!("threads: {fault}")))?;
        }
        heed_signals()?;
        let heading = Heading {
            program: Program::this(),
            task: task.clone(),
            shard: common.shard,
        };
        let pieces = Arc::new(kept::open(&folder, &heading, &common.machine.origin)?);
        common.machine.origin.kept.are(&pieces);
        Ok(Self {
            layered,
            scenario,
            folder,
            seed: common.seed,
            task,
            origin: common.machine.origin.clone(),
            pieces,
            progress: Progress::new(),
        })
    }

    /// A runner of seasons.
    pub fn runner(&self) -> Runner<'_> {
        Runner::new(self.seed, &self.progress, &STOP).keeping(&self.pieces)
    }

    /// The command that runs, with all that its results depend on.
    pub fn task(&self) -> &Task {
        &self.task
    }

    /// The outcome of all that a command simulates. A shard ends here, having done its share, and writes no results.
    pub fn simulated<T>(&self, outcome: Result<T, StudyError>, left: Left) -> Result<T, Stopped> {
        let Some(shard) = self.pieces.shard() else {
            let known = outcome?;
            self.pieces_fit()?;
            return Ok(known);
        };
        let known = match outcome {
            Ok(_) => true,
            Err(StudyError::Elsewhere) => false,
            Err(other) => return Err(other.into()),
        };
        self.pieces.finish_share().map_err(StudyError::Unkept)?;
        let more = !known && left == Left::Simulation;
        Err(Stopped::Shared(self.next(shard, more)))
    }

    /// Refuses shards none of whose pieces are of the run that their headings name: somebody changed the headings, and
    /// all was worked out anew.
    fn pieces_fit(&self) -> Result<(), Trouble> {
        if self.pieces.others_fit() {
            return Ok(());
        }
        let label = match &self.origin.again {
            Some(again) => again.label.clone(),
            None => self.pieces.path().display().to_string(),
        };
        Err(Trouble::new(
            "the shards have been changed: none of their pieces is of the run that their headings name",
        )
        .at(label)
        .expected("pieces under the heading that they were made with")
        .remedy("use the shards as they were written, or run the command itself"))
    }

    fn next(&self, shard: Shard, more: bool) -> String {
        let path = self.pieces.path();
        let folder = shown::path(self.folder.path());
        let (all, new) = self.pieces.count();
        let mut text = format!(
            "Shard {shard} has done its share: {all} pieces, {new} of them new, in {}\n\
             When all {} shards have: crawlspan gather {folder}",
            shown::path(path),
            shard.of()
        );
        if more {
            text += &format!(
                "\nWhat builds on results of all shards is then done by gather. To share that out as well, give all {} \
                 commands once more before it.",
                shard.of()
            );
        }
        text
    }

    /// Writes the scenario as it was resolved and how the files came about.
    pub fn write_provenance(&self, command: &str) -> Result<(), Trouble> {
        self.write_record(command, true)
    }

    /// As [`Context::write_provenance`], for files that are not all that the command was to write.
    pub fn write_partial_provenance(&self, command: &str) -> Result<(), Trouble> {
        self.write_record(command, false)
    }

    fn write_record(&self, command: &str, complete: bool) -> Result<(), Trouble> {
        // Several scenarios side by side are written one by one, each under its own name.
        if self.task.scenario.is_some() {
            let ron = self.scenario.to_ron()?;
            self.folder
                .write(&format!("scenario-{command}.ron"), ron.as_bytes())?;
        }
        write_record(&self.folder, &self.task, &self.origin, complete)
    }

    /// Writes a chart as SVG and PNG.
    pub fn write_chart(&self, name: &str, chart: &Rendered) -> Result<(), Stopped> {
        self.folder
            .write(&format!("{name}.svg"), chart.svg.as_bytes())?;
        self.folder.write(&format!("{name}.png"), &chart.png)?;
        Ok(())
    }

    /// Ends a command whose results are all written: pieces are no longer needed, and the files are named.
    pub fn finish(&self) {
        if let Err(fault) = self.pieces.remove() {
            tell(format!(
                "note: {} is no longer needed but cannot be removed: {fault}",
                shown::path(self.pieces.path())
            ));
        }
        say(self.folder.written());
    }

    /// Ends a command that was interrupted: the files are named, and the pieces stay.
    pub fn say_written(&self) {
        say(self.folder.written());
    }
}

/// The folder of a command: that of the run that is made again, or one within that of `--out`.
pub fn folder(machine: &Machine, name: &str, using: Use) -> Result<Folder, Trouble> {
    let again = machine.origin.again.as_ref();
    let command = machine.origin.command;
    match again.and_then(|again| again.folder.as_ref()) {
        Some(folder) => Folder::open(folder, using, command),
        None => Folder::open_within(&machine.out, name, using, command),
    }
}

fn task_of(common: &Common, layered: &Layered, scenario: &Scenario) -> Result<Task, Trouble> {
    let complete = scenario.to_ron()?;
    Ok(Task {
        command: common.machine.origin.command.to_owned(),
        arguments: common.machine.origin.arguments.clone(),
        seed: common.seed,
        scenario: Some(RecordedScenario {
            name: scenario.name.clone(),
            sha256: sha256(complete.as_bytes()),
            extends: layered.draft.extends.clone(),
            complete_scenario: provenance::lines(&complete),
            settings: provenance::lines(&layered.settings()?),
            data_files: layered.data.all(),
        }),
        comparison: None,
        counts: None,
    })
}

/// Writes the record of a command into the folder of its results.
pub fn write_record(
    folder: &Folder,
    task: &Task,
    origin: &Origin,
    complete: bool,
) -> Result<(), Trouble> {
    let tables = folder.tables();
    if !tables.is_empty() {
        let name = format!("columns-{}.csv", task.command);
        folder.write(&name, &dictionary::of_written(&tables)?)?;
    }
    let record = Record {
        form: provenance::FORM,
        program: Program::this(),
        task: task.clone(),
        complete,
        written: folder.digests(),
    };
    folder.sign(record.text()?.as_bytes(), complete)?;
    if let Some(again) = &origin.again {
        // Only a second record of one command would find it set, and no command writes two.
        let _ = again.outcome.set(record);
    }
    Ok(())
}
