//! The six commands by which the README begins run one after the other, with less effort, and make the pictures that
//! it shows.

use std::path::Path;
use std::process::Command;

/// What makes a command quick.
fn quick(command: &str) -> &'static [&'static str] {
    match command {
        "screen" => &["--seasons", "24"],
        "compare" | "calendar" => &["--seasons", "60"],
        "recruit" => &["--pool", "80", "--studies", "20", "--sites", "10,40"],
        _ => &[],
    }
}

/// Commands of the first block of shell lines after a heading.
fn commands<'t>(text: &'t str, heading: &str) -> Vec<Vec<&'t str>> {
    let after = text.split_once(heading).expect("the heading").1;
    let block = after.split_once("```sh\n").expect("a block").1;
    let block = block.split_once("```").expect("its end").0;
    block
        .lines()
        .map(|line| line.split_whitespace().collect())
        .collect()
}

#[test]
fn exact_the_first_six_commands_run_and_make_the_pictures_shown() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).expect("README.md");
    let heading = "## From offered sites to a study";
    let commands = commands(&readme, heading);
    assert_eq!(commands.len(), 6, "{commands:?}");
    let folder = tempfile::TempDir::new().expect("a folder");
    for words in &commands {
        assert_eq!(words[0], "crawlspan");
        let output = Command::new(env!("CARGO_BIN_EXE_crawlspan"))
            .current_dir(folder.path())
            .args(&words[1..])
            .args(quick(words[1]))
            .output()
            .expect("it runs");
        let errors = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{words:?}: {errors}");
    }
    let written = |name: &str| {
        let folders = std::fs::read_dir(folder.path().join("output")).expect("results");
        folders
            .map(|entry| entry.expect("a folder").path().join(name))
            .any(|path| path.is_file())
    };
    let section = readme.split_once(heading).expect("the heading").1;
    let section = section.split_once("\n## ").expect("a next heading").0;
    let mut shown = 0;
    for picture in section.split("](scenarios/pictures/").skip(1) {
        let name = picture.split_once(')').expect("its end").0;
        assert!(
            root.join("scenarios/pictures").join(name).is_file(),
            "{name}"
        );
        assert!(written(name), "no command makes {name}");
        shown += 1;
    }
    assert!(shown >= 4, "{shown} pictures");
    for name in ["accepted.csv", "allotment.html", "description.md"] {
        assert!(written(name), "{name}");
    }
    assert!(!written("no-such.png"));
}
