//! A study in which every text that a user can give is hostile, and every command that writes a page from it.

use std::path::{Path, PathBuf};

/// Markup that would start a script, end one, hide what follows, load something, or break out of an attribute.
pub const MARKUP: &str = "<!-- <script>document.title='run'</script> </title></style><img src=x onerror=document.title='run'> \
    <a href=javascript:run>a</a> \"' onload=run [b](http://nowhere.invalid) ![c](d) `e` | f {{recording}} # g --> ]]> \u{2028}";

/// The same short enough for a name.
pub const NAME: &str = "<img src=x onerror=run()>|*\"'&lt;";

fn ron(text: &str) -> String {
    text.replace('\\', "\\\\").replace('"', "\\\"")
}

/// Writes scenario, list and accepted sites into a folder.
pub fn write(folder: &Path) {
    // Separators of lines are refused in the texts of a scenario.
    let words = ron(&MARKUP.replace('\u{2028}', " "));
    let source = format!(
        "leaving: (per_day: (l5: About(value: 0.5, low: 0.2, high: 1.2, standing: Assumed, source: \"{words}\")))"
    );
    let scenario = |name: &str, base: &str, more: &str| {
        let text = format!(
            "(name: \"{name}\", purpose: \"{words}\", species: \"{words}\", host: \"{words}\", extends: \"{base}\", {more}, {source})"
        );
        std::fs::write(folder.join(format!("{name}.ron")), text).expect("a file");
    };
    let name = ron(NAME);
    let patches = format!(
        "site: (layout: ByCoordinates, patches: [\
         (name: \"{name}\", centre_m: (0, 0), treatment: HalfCut), \
         (name: \"{name}2\", centre_m: (14, 0), treatment: Untouched)])"
    );
    scenario("hostile", "verge-pair", "site: (gap_m: 6)");
    scenario("placed", "verge-pair", &patches);
    scenario("taught", "teaching-plots", "site: (gap_m: 1)");
    let quoted = NAME.replace('"', "\"\"");
    let mut list = format!(
        "site,use,first_name,second_name,gap_m,stems_first,stems_second,area_first_m2,area_second_m2,permission,\"{quoted}\"\n"
    );
    for number in 0..4 {
        list += &format!(
            "\"{quoted}{number}\",pair,\"{quoted}1\",\"{quoted}2\",{},120,120,60,60,yes,\"{quoted}\"\n",
            14 + number
        );
    }
    std::fs::write(folder.join(LIST), list).expect("a file");
}

/// A list whose file name is as hostile as that of a folder, which is named after it, may be.
pub const LIST: &str = "&lt;img src=x onerror=run&gt;' [a](b) `c`.csv";

/// Commands that write pages.
pub const COMMANDS: [&[&str]; 8] = [
    &["brief", "hostile.ron", "--effort", "0.01"],
    &["describe", "hostile.ron"],
    &["describe", "placed.ron"],
    &["calendar", "hostile.ron", "--seasons", "20"],
    &[
        "recruit",
        "hostile.ron",
        "--ratios",
        "2",
        "--pool",
        "40",
        "--studies",
        "20",
        "--sites",
        "10,40",
    ],
    &[
        "screen",
        LIST,
        "--scenario",
        "hostile.ron",
        "--seasons",
        "30",
    ],
    &["allot", LIST, "--scenario", "hostile.ron", "--seed", "1"],
    &["lesson", "taught.ron", "--seasons", "20", "--takes", "1"],
];

/// Runs all commands in a folder; results go to `made`. Gives back the pages.
pub fn pages(folder: &Path) -> Vec<PathBuf> {
    write(folder);
    for command in COMMANDS {
        let output = assert_cmd::Command::new(env!("CARGO_BIN_EXE_crawlspan"))
            .current_dir(folder)
            .args(command)
            .args(["--out", "made"])
            .output()
            .expect("the program runs");
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{command:?}: {told}");
    }
    let mut pages: Vec<PathBuf> = Vec::new();
    for results in std::fs::read_dir(folder.join("made")).expect("results") {
        for file in std::fs::read_dir(results.expect("a folder").path()).expect("files") {
            let path = file.expect("a file").path();
            if path.extension().is_some_and(|ending| ending == "html") {
                pages.push(path);
            }
        }
    }
    pages.sort();
    assert_eq!(pages.len(), COMMANDS.len(), "{pages:?}");
    pages
}
