//! What a command comes from: what was typed, or the record of a run that is made again.

use super::context::{layered, put_on};
use crate::output::provenance::{Record, RecordedScenario, Task};
use crate::runner::Pieces;
use crate::scenario::data::DataFiles;
use crate::scenario::{Layered, presets};
use crate::trouble::{Outcome, Trouble};
use std::path::PathBuf;
use std::sync::{Arc, OnceLock};

/// Options that change no byte of the results, so that a record leaves them out; each takes a value.
const IDLE: [&str; 3] = ["--threads", "--out", "--shard"];

/// What a command comes from.
#[derive(Debug, Clone, Default)]
pub struct Origin {
    /// Name of the command.
    pub command: &'static str,
    /// Arguments as recorded, the command's name first.
    pub arguments: Vec<String>,
    /// What is made again, if the command was not typed.
    pub again: Option<Arc<Again>>,
    /// The pieces that it keeps.
    pub kept: Kept,
}

/// The pieces that a command keeps, once it has begun: what becomes of them is decided when it has ended.
#[derive(Clone, Default)]
pub struct Kept(Arc<OnceLock<Arc<Pieces>>>);

impl Kept {
    /// Says which they are.
    pub fn are(&self, pieces: &Arc<Pieces>) {
        // No command opens two folders; if one did, those of the first would simply stay.
        let _ = self.0.set(Arc::clone(pieces));
    }

    /// The pieces, if the command has come so far.
    pub fn pieces(&self) -> Option<&Pieces> {
        self.0.get().map(Arc::as_ref)
    }
}

impl std::fmt::Debug for Kept {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Kept")
            .field(&self.pieces().map(Pieces::path))
            .finish()
    }
}

/// A run that is made again from a record or from the headings of its shards.
#[derive(Debug)]
pub struct Again {
    /// The command that was run.
    pub task: Task,
    /// How messages call the record.
    pub label: String,
    /// Folder that receives the results as it stands, if it is not made from `--out`.
    pub folder: Option<PathBuf>,
    /// Folder in which files are looked for that did not travel with the record.
    pub data_folder: PathBuf,
    /// Whether the program is the one that made the record, so that the scenario must come out the same.
    pub same_program: bool,
    /// Files of pieces to read from.
    pub shards: Vec<PathBuf>,
    /// The record of what was made.
    pub outcome: OnceLock<Record>,
}

impl Again {
    /// The layers of the recorded scenario.
    pub fn layered(&self, scenario: &RecordedScenario) -> Outcome<Layered> {
        let label = format!("the settings in {}", self.label);
        let text = scenario.settings.join("\n");
        let mut layered = Layered::from_text(&label, text, self.data_folder.clone())?;
        layered.draft.extends.clone_from(&scenario.extends);
        layered.data = DataFiles::recorded(&self.label, scenario.data_files.clone());
        Ok(layered)
    }

    /// Refuses settings that are not those of the arguments: the options must already be in them, and a scenario that is
    /// built in must give them.
    pub fn check_typed(
        &self,
        recorded: &Layered,
        scenario: Option<&str>,
        set: &[String],
    ) -> Outcome<()> {
        if !self.same_program {
            return Ok(());
        }
        let typed = match scenario.filter(|name| presets::find(name).is_some()) {
            Some(ready) => layered(ready, set)?,
            None => {
                let mut typed = recorded.clone();
                put_on(&mut typed, set)?;
                typed
            }
        };
        let same_base = typed.draft.extends == recorded.draft.extends;
        if same_base && typed.settings()? == recorded.settings()? {
            return Ok(());
        }
        Err(self.changed("its arguments do not give its settings", self.task.typed()))
    }

    /// Refuses a record whose parts do not fit each other: somebody changed it. `made` is the task as its arguments and
    /// settings give it.
    pub fn check(&self, made: &Task) -> Outcome<()> {
        let task = &self.task;
        if made.seed != task.seed {
            return Err(self.changed(
                &format!("its seed is {}, not that of its arguments", task.seed),
                format!("the seed {}", made.seed),
            ));
        }
        if !self.same_program {
            return Ok(());
        }
        if made.scenario != task.scenario {
            return Err(self.changed(
                "its settings do not give its scenario",
                task.scenario.as_ref().map_or_else(
                    || "no scenario".to_owned(),
                    |scenario| format!("a scenario with SHA-256 {}", scenario.sha256),
                ),
            ));
        }
        let variants = |task: &Task| {
            task.comparison
                .clone()
                .map_or_else(Vec::new, |all| all.variants)
        };
        let (kept, found) = (variants(task), variants(made));
        if let Some((odd, _)) = kept.iter().zip(&found).find(|(kept, found)| kept != found) {
            return Err(self.changed(
                &format!("the variant `{}` does not give its scenario", odd.name),
                format!("a scenario with SHA-256 {}", odd.sha256),
            ));
        }
        if made.comparison != task.comparison {
            return Err(self.changed("its arguments do not give its variants", task.typed()));
        }
        Ok(())
    }

    fn changed(&self, how: &str, expected: String) -> Trouble {
        Trouble::new(format!("the record has been changed: {how}"))
            .at(self.label.clone())
            .expected(expected)
            .remedy("use the record as it was written, or a scenario file for new settings")
    }

    /// The recorded scenario.
    pub fn scenario(&self) -> Outcome<&RecordedScenario> {
        self.task.scenario.as_ref().ok_or_else(|| {
            Trouble::new("the record holds no scenario")
                .at(self.label.clone())
                .expected("the settings that were run")
                .remedy("run the command itself")
        })
    }
}

/// Arguments without those that change no byte of the results.
pub fn recorded(arguments: &[String]) -> Vec<String> {
    let mut kept = Vec::with_capacity(arguments.len());
    let mut rest = arguments.iter();
    while let Some(argument) = rest.next() {
        if argument == "--" {
            kept.push(argument.clone());
            kept.extend(rest.cloned());
            break;
        }
        if IDLE.contains(&argument.as_str()) {
            rest.next();
            continue;
        }
        let joined = argument.split_once('=').map(|(option, _)| option);
        if !joined.is_some_and(|option| IDLE.contains(&option)) {
            kept.push(argument.clone());
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_only_idle_options_are_left_out() {
        let words = |text: &str| text.split(' ').map(str::to_owned).collect::<Vec<_>>();
        let typed = "gap a.ron --out x --seed 4 --threads=2 --shard 1/3 --out=y --gaps 1,2";
        assert_eq!(
            recorded(&words(typed)),
            words("gap a.ron --seed 4 --gaps 1,2")
        );
        let ended = "analyse --threads 1 -- --out";
        assert_eq!(recorded(&words(ended)), words("analyse -- --out"));
    }
}
