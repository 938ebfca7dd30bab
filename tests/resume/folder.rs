//! Commands to be disturbed, and what they leave in their folder.

use std::collections::BTreeMap;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A sweep of a fraction of a second: three settings have no chart, which would take longer than the seasons.
pub const SWEEP: &[&str] = &[
    "sweep",
    "--vary",
    "site.gap_m=2,5,9",
    "--vary",
    "site.refuge_share=0.5",
    "--vary",
    "site.cut_side=Towards",
    "--seasons",
    "200",
];

/// A recruitment run of a fraction of a second.
pub const RECRUIT: &[&str] = &[
    "recruit",
    "--ratios",
    "2",
    "--pool",
    "40",
    "--studies",
    "10",
    "--sites",
    "4,8",
];

/// A command in a folder of its own, whose results go to `results`.
pub struct Place {
    folder: TempDir,
}

impl Place {
    pub fn new() -> Self {
        Self {
            folder: TempDir::new().expect("a folder"),
        }
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Folder of the results of the default scenario.
    pub fn results(&self) -> PathBuf {
        self.path().join("results/verge-pair")
    }

    pub fn command(&self, arguments: &[&str]) -> Command {
        command_in(self.path(), arguments)
    }

    /// Runs a command to its end, whatever that is.
    pub fn run(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().expect("the program runs")
    }

    /// Runs a command that must go well, and returns what it said on standard error.
    #[track_caller]
    pub fn fine(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        let errors = text(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {errors}");
        errors
    }

    pub fn start(&self, arguments: &[&str]) -> Child {
        self.command(arguments)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts")
    }

    pub fn files(&self) -> BTreeMap<String, Vec<u8>> {
        files_in(&self.results())
    }
}

pub fn command_in(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_crawlspan"));
    command
        .current_dir(folder)
        .args(arguments)
        .args(["--out", "results"]);
    command
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// All files of a folder, hidden ones too, by name. One that is gone before it is read, as a temporary one of a program
/// at work may be, is none of them.
pub fn files_in(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return BTreeMap::new();
    };
    entries
        .filter_map(|entry| {
            let path = entry.expect("an entry").path();
            let name = path.file_name().expect("a name").to_string_lossy();
            match std::fs::read(&path) {
                Ok(bytes) => Some((name.into_owned(), bytes)),
                Err(fault) if fault.kind() == ErrorKind::NotFound => None,
                Err(fault) => panic!("{name}: {fault}"),
            }
        })
        .collect()
}

/// Files of pieces in a folder.
pub fn pieces_in(folder: &Path) -> Vec<PathBuf> {
    files_in(folder)
        .into_keys()
        .filter(|name| name.ends_with(".pieces"))
        .map(|name| folder.join(name))
        .collect()
}

/// What a command leaves when nothing disturbs it, and how long it takes.
pub fn undisturbed(arguments: &[&str]) -> (BTreeMap<String, Vec<u8>>, Duration) {
    let place = Place::new();
    let began = Instant::now();
    place.fine(arguments);
    let took = began.elapsed();
    let files = place.files();
    assert!(files.keys().any(|name| name.ends_with(".csv")));
    assert_eq!(pieces_in(&place.results()), Vec::<PathBuf>::new());
    (files, took)
}

/// Checks that a folder holds the same files with the same bytes.
#[track_caller]
pub fn assert_same_files(
    found: &BTreeMap<String, Vec<u8>>,
    wanted: &BTreeMap<String, Vec<u8>>,
    after: &str,
) {
    let names = |files: &BTreeMap<String, Vec<u8>>| files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(found), names(wanted), "{after}");
    for (name, bytes) in wanted {
        assert!(found[name] == *bytes, "{name} differs {after}");
    }
}

/// Numbers that look random and are the same in every run of the tests (Knuth's linear congruential generator).
pub struct Draws(u64);

impl Draws {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Uniform on [0, 1).
    pub fn unit(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}
