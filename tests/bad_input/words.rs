//! Text that does something to a terminal, wherever it is given: it is shown, not sent, and never at endless length.

use super::fault::{program, refusal, scenario};
use std::path::Path;
use tempfile::TempDir;

/// Clear the screen, change colours, ring, go back, the same by C1, turn the order of letters, begin a line of its own.
const ODD: &str = "\u{1b}[2J\u{1b}[31m\u{7}\u{8}\u{9b}2J\u{202e}\u{2066}\r\nfault: all is well";

#[track_caller]
fn assert_plain(text: &str) {
    let odd = |sign: char| {
        (sign.is_control() && sign != '\n')
            || ('\u{202a}'..='\u{202e}').contains(&sign)
            || ('\u{2066}'..='\u{2069}').contains(&sign)
    };
    assert!(!text.contains(odd), "{text:?}");
    // A line that is too long for a terminal may be broken behind a sign that is shown.
    let text = text.replace("\\u{a}\nfault: all", "");
    assert!(!text.contains("\nfault: all"), "{text}");
}

/// A quoted text in RON.
fn ron(text: &str) -> String {
    let escapes = |sign: char| format!("\\u{{{:x}}}", u32::from(sign));
    text.chars().map(escapes).collect()
}

#[test]
fn exact_odd_signs_in_options_are_shown() {
    let folder = TempDir::new().expect("a folder");
    let set = |text: &str| format!("{text}{ODD}");
    let calls: Vec<Vec<String>> = vec![
        vec!["check".into(), ODD.into()],
        vec!["check".into(), "--set".into(), set("site.gap_m=")],
        vec!["check".into(), "--set".into(), set("site.gap_m=\"")],
        vec!["check".into(), "--set".into(), set("")],
        vec!["check".into(), "--set".into(), set("a=")],
        vec!["check".into(), "--set".into(), format!("{ODD}=1")],
        vec!["check".into(), format!("--{ODD}")],
        vec!["gap".into(), "--seasons".into(), ODD.into()],
        vec!["gap".into(), "--gaps".into(), ODD.into()],
        vec![ODD.into()],
        vec!["columns".into(), ODD.into()],
        vec!["sweep".into(), "--vary".into(), set("site.gap_m=")],
        vec!["screen".into(), ODD.into()],
        vec!["allot".into(), ODD.into(), "--seed".into(), "1".into()],
        vec!["analyse".into(), ODD.into()],
        vec!["replay".into(), ODD.into()],
        vec!["gather".into(), ODD.into()],
        vec!["compare".into(), ODD.into(), "verge-pair".into()],
        vec!["allot".into(), "--within".into(), ODD.into()],
    ];
    for call in calls {
        let output = program(folder.path()).args(&call).output().expect("a run");
        let told = String::from_utf8(output.stderr).expect("text");
        assert_eq!(output.status.code(), Some(2), "{call:?}: {told}");
        assert_plain(&told);
        assert_plain(&String::from_utf8(output.stdout).expect("text"));
    }
}

#[test]
fn exact_odd_signs_in_files_are_shown() {
    let folder = TempDir::new().expect("a folder");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("a file");
    };
    let odd = ron(ODD);
    let settings = [
        format!("name: \"{odd}\", extends: \"verge-pair\""),
        format!("name: \"a\", purpose: \"{odd}\", extends: \"verge-pair\""),
        format!("name: \"a\", species: \"{odd}\", extends: \"verge-pair\""),
        format!("name: \"a\", host: \"{odd}\", extends: \"verge-pair\""),
        format!("name: \"a\", extends: \"{odd}\""),
        format!("name: \"a\", extends: \"verge-pair\", dates: (cutting: \"{odd}\")"),
        format!("name: \"a\", extends: \"verge-pair\", weather: (source: Station(\"{odd}\"))"),
        format!(
            "name: \"a\", extends: \"verge-pair\", site: (treated: (placement: FromCsv(\"{odd}\")))"
        ),
        format!(
            "name: \"a\", extends: \"verge-pair\", site: (layout: ByCoordinates, patches: [(name: \"{odd}\", centre_m: (0, 0), treatment: Cut)])"
        ),
        format!(
            "name: \"a\", extends: \"verge-pair\", site: (gap_m: About(value: 8, low: 2, high: 9, standing: Assumed, source: \"{odd}\"))"
        ),
        "name: \"a\", extends: \"verge-pair\", \u{1b}[2J: 3".to_owned(),
        "name: \"a\", extends: \"verge-pair\", site: (gap_m: \u{9b}2J)".to_owned(),
    ];
    for text in &settings {
        write("tried.ron", &format!("({text})"));
        assert_plain(&refusal(folder.path(), &["check", "tried.ron"]));
    }
    let cell = ODD.replace('"', "");
    for table in [
        format!("\"{cell}\",gap_m\n1,2\n"),
        format!("site,gap_m,stems_first,stems_second\n\"{cell}\",12,100,100\n"),
        format!("site,gap_m,stems_first,stems_second\nOak,\"{cell}\",100,100\n"),
        format!("site,gap_m,stems_first,stems_second,first_name\nOak,12,100,100,\"{cell}\"\n"),
        format!("site,gap_m,stems_first,stems_second,between\nOak,12,100,100,\"{cell}\"\n"),
        format!("site,gap_m,stems_first,stems_second,permission\nOak,12,100,100,\"{cell}\"\n"),
        format!("site,use,first_name\nOak,\"{cell}\",x\n"),
    ] {
        write("table.csv", &table);
        for call in [
            &["screen", "table.csv"][..],
            &["allot", "table.csv", "--seed", "1", "--within", "gap_m"],
            &["analyse", "table.csv"],
            &["tune", "table.csv"],
        ] {
            let output = program(folder.path())
                .args(call)
                .args(["--out", "results"])
                .output()
                .expect("a run");
            assert_plain(&String::from_utf8(output.stderr).expect("text"));
        }
    }
}

#[cfg(unix)]
#[test]
fn exact_odd_names_of_files_and_folders_are_shown() {
    let folder = TempDir::new().expect("a folder");
    let name = format!("{}.csv", ODD.replace('/', ""));
    let table = "site,gap_m,stems_first,stems_second\nOak,12,100,100\nElm,15,100,100\n";
    std::fs::write(folder.path().join(&name), table).expect("a file");
    std::fs::write(folder.path().join("wrong.csv"), "site\n").expect("a file");
    for (call, code) in [
        (vec!["allot", &name, "--seed", "1", "--out", ODD], 2),
        (vec!["new", &format!("{ODD}.ron")], 0),
        (vec!["manual", ODD], 0),
        (vec!["tune", &name], 2),
        (vec!["analyse", &name], 2),
        (vec!["season", "--seasons", "2", "--out", &name], 2),
    ] {
        let output = program(folder.path()).args(&call).output().expect("a run");
        let told = String::from_utf8(output.stderr).expect("text");
        assert_eq!(output.status.code(), Some(code), "{call:?}: {told}");
        assert_plain(&told);
        assert_plain(&String::from_utf8(output.stdout).expect("text"));
    }
}

/// Bytes of an error on one screen.
const ONE_SCREEN: usize = 2_000;

#[test]
fn exact_long_text_is_shortened_where_it_is_quoted() {
    let folder = TempDir::new().expect("a folder");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("a file");
    };
    let long = "x".repeat(3_000_000);
    write(
        "long.csv",
        &format!("site,gap_m,stems_first\nOak,{long},100\n"),
    );
    write(
        "name.csv",
        &format!("site,gap_m,stems_first\n{long},12,100\n"),
    );
    write("header.csv", &format!("{long},gap_m\n1,2\n"));
    write(
        "release.csv",
        &format!(
            "larva,released_x_m,released_y_m,released_when,found_x_m,found_y_m,found_when\n1,{long},0,2026-07-15,,,\n"
        ),
    );
    write(
        "long.ron",
        &scenario(&format!("  purpose: \"{long}\u{1b}\",")),
    );
    write("named.ron", &format!("(name: \"{long}\")"));
    write("based.ron", &format!("(name: \"a\", extends: \"{long}\")"));
    write(
        "choice.ron",
        &scenario(&format!("  site: (layout: {long}),")),
    );
    write("field.ron", &scenario(&format!("  {long}: 1,")));
    let set = format!("site.layout={}", &long[..100_000]);
    let tell = |call: &[&str]| refusal(Path::new(folder.path()), call);
    for message in [
        tell(&["screen", "long.csv"]),
        tell(&["screen", "name.csv"]),
        tell(&["screen", "header.csv"]),
        tell(&["allot", "name.csv", "--seed", "1"]),
        tell(&["allot", "header.csv", "--seed", "1"]),
        tell(&["tune", "release.csv"]),
        tell(&["check", "long.ron"]),
        tell(&["check", "named.ron"]),
        tell(&["check", "based.ron"]),
        tell(&["check", "choice.ron"]),
        tell(&["check", "field.ron"]),
        tell(&["check", "--set", &set]),
        tell(&["check", &long[..100_000]]),
        tell(&["gap", "--seasons", &long[..100_000]]),
    ] {
        assert!(
            message.len() < ONE_SCREEN,
            "{} bytes: {}",
            message.len(),
            &message[..500]
        );
    }
    let message = tell(&["screen", "long.csv"]);
    assert!(message.contains("x.. (3000000 characters)`"), "{message}");
}
