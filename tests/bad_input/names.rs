//! Names that would become files elsewhere, in records, in headings of shards, in lists and in scenarios.

use super::fault::{fault_of, program};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Names that no file may bear, and a word of the reason.
const HOSTILE: [(&str, &str); 17] = [
    ("", "empty"),
    (".", "dot"),
    ("..", "dot"),
    ("../../victim", "holds one of"),
    ("x/../../../../victim", "holds one of"),
    ("/tmp/crawlspan-must-not-make-this", "holds one of"),
    ("..\\victim", "holds one of"),
    ("C:victim", "holds one of"),
    ("-victim", "dash"),
    ("--out", "dash"),
    ("CON", "device"),
    ("nul", "device"),
    ("com1", "device"),
    ("victim.", "dot or a space"),
    ("victim ", "dot or a space"),
    ("vic\u{1b}[2Jtim", "control"),
    (".in-use", "dot"),
];

const LIST: &str = "(\n  name: \"small\",\n  scenario: \"verge-pair\",\n  variants: [\n    \
    (name: \"a\"),\n    (name: \"b\", set: (site: (gap_m: 3))),\n  ],\n)\n";

/// All below a folder, with what files hold.
fn tree(folder: &Path, found: &mut BTreeMap<PathBuf, Vec<u8>>) {
    for entry in std::fs::read_dir(folder).expect("a readable folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            found.insert(path.clone(), Vec::new());
            tree(&path, found);
        } else {
            let bytes = std::fs::read(&path).expect("a readable file");
            found.insert(path, bytes);
        }
    }
}

/// Runs a command deep in a folder, all of which it must leave as it is, and returns its message.
#[track_caller]
fn refused(root: &Path, arguments: &[&str]) -> String {
    let state = || {
        let mut found = BTreeMap::new();
        tree(root, &mut found);
        found
    };
    let before = state();
    let output = program(&root.join("deep/down"))
        .args(arguments)
        .output()
        .expect("the program runs");
    let message = String::from_utf8(output.stderr).expect("a message in UTF-8");
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {message}");
    assert!(!message.contains('\u{1b}'), "{message:?}");
    assert!(
        before == state(),
        "{arguments:?} wrote something: {message}"
    );
    message
}

/// Deep within a folder: the list, the record of its comparison and the file of its only shard.
struct Compared {
    root: TempDir,
    record: serde_json::Value,
    shard: (String, Vec<u8>),
}

impl Compared {
    fn new() -> Self {
        let root = TempDir::new().expect("a folder");
        let deep = root.path().join("deep/down");
        let ran = TempDir::new().expect("a folder");
        std::fs::create_dir_all(deep.join("shards")).expect("folders");
        std::fs::create_dir(root.path().join("deep/victim")).expect("a folder");
        std::fs::write(root.path().join("deep/victim/compare.csv"), "mine\n").expect("a file");
        std::fs::write(ran.path().join("list.ron"), LIST).expect("a list");
        let run = |more: &[&str]| {
            let arguments = ["compare", "list.ron", "--seasons", "16"];
            let output = program(ran.path()).args(arguments).args(more).output();
            assert!(output.expect("it runs").status.success());
        };
        run(&["--out", "whole"]);
        run(&["--out", "shared", "--shard", "1/1"]);
        let record = ran.path().join("whole/small/provenance-compare.json");
        let record = std::fs::read(record).expect("a record");
        let mut files = BTreeMap::new();
        tree(&ran.path().join("shared/small"), &mut files);
        let shard = files
            .into_iter()
            .find(|(path, _)| path.extension().is_some_and(|ending| ending == "pieces"))
            .expect("a shard");
        let name = shard.0.file_name().expect("a name");
        Self {
            root,
            record: serde_json::from_slice(&record).expect("JSON"),
            shard: (name.to_string_lossy().into_owned(), shard.1),
        }
    }

    fn put(&self, name: &str, bytes: &[u8]) {
        let path = self.root.path().join("deep/down").join(name);
        std::fs::write(path, bytes).expect("written");
    }

    /// Puts a changed record and a shard with the same change in its heading.
    fn changed(&self, change: &dyn Fn(&mut serde_json::Value)) {
        let mut record = self.record.clone();
        change(&mut record);
        self.put("record.json", record.to_string().as_bytes());
        let (name, bytes) = &self.shard;
        let four = |at: usize| bytes[at..at + 4].try_into().expect("four bytes");
        let label_end = 24 + u32::from_le_bytes(four(20)) as usize;
        let mut heading = serde_json::from_slice(&bytes[24..label_end]).expect("JSON");
        change(&mut heading);
        let heading = heading.to_string();
        let length = u32::try_from(heading.len()).expect("short").to_le_bytes();
        let head = [&bytes[16..20], &length, heading.as_bytes()].concat();
        let sum = Sha256::digest(&head);
        let whole = [&bytes[..16], &head, &sum[..16], &bytes[label_end + 16..]].concat();
        self.put(&format!("shards/{name}"), &whole);
    }

    /// Each way in which the changed record and the changed shard are read.
    #[track_caller]
    fn refused_each_way(&self, words: &[&str]) {
        for arguments in [
            &["replay", "record.json", "--out", "out"][..],
            &["replay", "record.json"],
            &["gather", "shards", "--fill", "--out", "out"],
        ] {
            let message = refused(self.root.path(), arguments);
            for word in words {
                assert!(message.contains(word), "{word}: {message}");
            }
        }
    }
}

#[test]
fn exact_names_in_records_and_headings_lead_nowhere() {
    let compared = Compared::new();
    for (name, why) in HOSTILE {
        compared.changed(&|record| record["comparison"] = name.into());
        compared.refused_each_way(&["cannot be a file", why]);
        compared.changed(&|record| record["variants"][1]["name"] = name.into());
        compared.refused_each_way(&["cannot be a file", why]);
    }
    compared.changed(&|record| record["variants"][1]["name"] = "A".into());
    compared.refused_each_way(&["differ only in capitals"]);
    for option in ["--out=../victim", "--shard=1/2", "--threads=1"] {
        compared.changed(&|record| {
            let arguments = record["arguments"].as_array_mut().expect("a list");
            arguments.push(option.into());
        });
        compared.refused_each_way(&["the record has been changed"]);
    }
}

#[test]
fn exact_a_scenario_in_a_record_leads_nowhere() {
    let folder = TempDir::new().expect("a folder");
    let ran = program(folder.path())
        .args(["season", "--seasons", "1", "--out", "ran"])
        .output()
        .expect("it runs");
    assert!(ran.status.success());
    let record = folder.path().join("ran/verge-pair/provenance-season.json");
    let record = std::fs::read_to_string(record).expect("a record");
    let root = TempDir::new().expect("a folder");
    let deep = root.path().join("deep/down");
    std::fs::create_dir_all(&deep).expect("folders");
    let named = "name: \\\"verge-pair\\\"";
    assert!(record.contains(named));
    for name in ["../../victim", "/tmp/victim", "con", "-v", ""] {
        let changed = record
            .replace(named, &format!("name: \\\"{name}\\\""))
            .replace(
                "\"scenario\": \"verge-pair\"",
                &format!("\"scenario\": \"{name}\""),
            );
        std::fs::write(deep.join("record.json"), changed).expect("written");
        let message = refused(root.path(), &["replay", "record.json", "--out", "out"]);
        // Either its name is judged, or it is told from the arguments before that it was changed.
        let told = ["cannot be a folder", "the record has been changed"];
        assert!(
            told.iter().any(|words| message.contains(words)),
            "{message}"
        );
    }
}

#[test]
fn exact_names_of_scenarios_variants_and_tables_are_judged_alike() {
    let folder = TempDir::new().expect("a folder");
    for (name, why) in [("con", "device"), ("-a", "dash"), ("a.", "dot")] {
        let setting = format!("name=\"{name}\"");
        let arguments = ["season", "--out", "results", "--set", &setting];
        fault_of(folder.path(), &arguments).says(
            &format!("the option {setting}"),
            why,
            "letters, digits",
        );
        let list = LIST.replace("(name: \"a\")", &format!("(name: \"{name}\")"));
        std::fs::write(folder.path().join("list.ron"), list).expect("a list");
        fault_of(folder.path(), &["compare", "list.ron"]).says(
            "list.ron, line 5 (variants.1.name)",
            why,
            "letters, digits",
        );
    }
    let list = LIST.replace("\"b\"", "\"A\"");
    std::fs::write(folder.path().join("list.ron"), list).expect("a list");
    let fault = fault_of(folder.path(), &["compare", "list.ron"]);
    assert!(fault.what.contains("differ only in capitals"), "{fault:?}");
    let table = "site,week,patch,stage,count,stems\na,1,treated,L5,3,40\na,1,untouched,L5,1,40\n";
    std::fs::write(folder.path().join("counts .csv"), table).expect("a table");
    let fault = fault_of(folder.path(), &["analyse", "counts .csv"]);
    assert!(fault.what.contains("cannot be a folder"), "{fault:?}");
}
