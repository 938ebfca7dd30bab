//! Runs the program on bad input and takes its message apart.

use assert_cmd::Command;
use std::collections::BTreeSet;
use std::path::Path;
use std::time::Duration;
use tempfile::TempDir;

/// Bad input is refused long before this; a hang is not waited for.
const PATIENCE: Duration = Duration::from_secs(60);

/// A message of the program, in its parts.
#[derive(Debug)]
pub struct Fault {
    pub what: String,
    pub place: String,
    pub expected: String,
}

impl Fault {
    /// Takes the message apart and checks that it is one, and complete.
    fn of(message: &str) -> Self {
        let part = |label: &str| {
            let mut found = message
                .lines()
                .filter_map(|line| line.trim_start().strip_prefix(label))
                .map(|text| text.trim().to_owned());
            let first = found.next();
            assert!(
                found.next().is_none(),
                "more than one `{label}`:\n{message}"
            );
            first.unwrap_or_else(|| panic!("no `{label}`:\n{message}"))
        };
        assert!(message.starts_with("error: "), "{message}");
        let (what, place) = (part("error:"), part("where:"));
        let (expected, remedy) = (part("expected:"), part("to do:"));
        for text in [&what, &place, &expected, &remedy] {
            assert!(!text.is_empty(), "an empty part:\n{message}");
        }
        assert!(message.lines().count() == 4, "four lines, not:\n{message}");
        Self {
            what,
            place,
            expected,
        }
    }

    /// Checks place and words.
    #[track_caller]
    pub fn says(&self, place: &str, what: &str, expected: &str) {
        assert_eq!(self.place, place, "{self:?}");
        assert!(self.what.contains(what), "`{what}` in {self:?}");
        assert!(self.expected.contains(expected), "`{expected}` in {self:?}");
    }
}

/// The program, in a folder of its own.
pub fn program(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_crawlspan"));
    command.current_dir(folder).timeout(PATIENCE);
    command
}

fn names_in(folder: &Path) -> BTreeSet<String> {
    std::fs::read_dir(folder)
        .expect("a readable folder")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect()
}

/// Runs the program on what must be refused: exit code 2, one message on standard error, nothing on standard
/// output, nothing written. Returns the message.
pub fn refusal(folder: &Path, arguments: &[&str]) -> String {
    let before = names_in(folder);
    let output = program(folder)
        .args(arguments)
        .output()
        .expect("the program runs");
    let message = String::from_utf8(output.stderr).expect("a message in UTF-8");
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {message}");
    assert!(output.stdout.is_empty(), "{arguments:?} printed something");
    assert!(!message.contains("panicked"), "{message}");
    assert_eq!(message.matches("error:").count(), 1, "{message}");
    assert_eq!(names_in(folder), before, "{arguments:?} wrote something");
    message
}

/// The fault of a call.
pub fn fault_of(folder: &Path, arguments: &[&str]) -> Fault {
    Fault::of(&refusal(folder, arguments))
}

/// The fault of a scenario, beside which files of the given names and texts lie. Both `check` and `season` must
/// tell the same.
pub fn fault_with(scenario: &[u8], files: &[(&str, &[u8])]) -> Fault {
    let folder = TempDir::new().expect("a folder");
    std::fs::write(folder.path().join("tried.ron"), scenario).expect("a file");
    for (name, bytes) in files {
        std::fs::write(folder.path().join(name), bytes).expect("a file");
    }
    let checked = refusal(folder.path(), &["check", "tried.ron"]);
    let run = refusal(folder.path(), &["season", "tried.ron", "--out", "results"]);
    assert_eq!(checked, run);
    Fault::of(&checked)
}

/// A scenario around some settings, which begin on line 4.
pub fn scenario(settings: &str) -> String {
    format!("(\n  name: \"tried\",\n  extends: \"monarch-on-milkweed\",\n{settings}\n)\n")
}

/// The fault of a scenario with some settings, which begin on line 4.
pub fn fault_in(settings: &str) -> Fault {
    fault_with(scenario(settings).as_bytes(), &[])
}
