//! Whatever is given in the place of a file: pipes, folders, devices, sockets, files too large to be read, other
//! encodings. Refused at once, by what it is; and a mark that some programs put before UTF-8 is no fault.

use super::fault::{Fault, fault_of, program, scenario};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A refusal that reads nothing comes much sooner; a pipe that is opened waits for ever, a device has no end.
const AT_ONCE: Duration = Duration::from_secs(20);

/// Calls that read a file called `given`, by what they read in it.
fn calls(folder: &Path) -> Vec<(&'static str, Vec<&'static str>)> {
    let within = |name: &str, settings: &str| {
        std::fs::write(folder.join(name), scenario(settings)).expect("a file");
    };
    within("station.ron", "weather: (source: Station(\"given\")),");
    within(
        "stems.ron",
        "site: (treated: (density_per_m2: 0.5, placement: FromCsv(\"given\"))),",
    );
    within("offered.ron", "recruitment: (offered: \"given\"),");
    std::fs::write(
        folder.join("extended.ron"),
        "(name: \"tried\", extends: \"given\")",
    )
    .expect("a file");
    vec![
        ("scenario", vec!["check", "given"]),
        ("scenario", vec!["season", "given"]),
        ("scenario", vec!["compare", "given", "verge-pair"]),
        ("scenario", vec!["check", "extended.ron"]),
        ("table", vec!["check", "station.ron"]),
        ("table", vec!["check", "stems.ron"]),
        ("table", vec!["recruit", "offered.ron"]),
        ("table", vec!["screen", "given"]),
        ("table", vec!["allot", "given", "--seed", "1"]),
        ("table", vec!["analyse", "given"]),
        ("table", vec!["tune", "given"]),
        ("record", vec!["replay", "given"]),
    ]
}

/// Faults of all calls with what `make` puts in the place of the file.
#[track_caller]
fn faults(make: impl Fn(&Path)) -> Vec<(String, Fault)> {
    let folder = TempDir::new().expect("a folder");
    let calls = calls(folder.path());
    make(&folder.path().join("given"));
    calls
        .into_iter()
        .map(|(_, arguments)| {
            let began = Instant::now();
            let fault = fault_of(folder.path(), &arguments);
            assert!(began.elapsed() < AT_ONCE, "{arguments:?} took too long");
            (arguments.join(" "), fault)
        })
        .collect()
}

#[track_caller]
fn all_say(make: impl Fn(&Path), what: &str) {
    let faults = faults(make);
    assert_eq!(faults.len(), 12);
    for (call, fault) in faults {
        assert!(fault.what.contains(what), "{call}: {fault:?}");
    }
}

#[cfg(unix)]
#[test]
fn exact_what_is_no_file_is_refused_at_once_by_what_it_is() {
    all_say(
        |given| {
            let made = Command::new("mkfifo").arg(given).status().expect("mkfifo");
            assert!(made.success());
        },
        "it is a pipe",
    );
    all_say(
        |given| std::fs::create_dir(given).expect("a folder"),
        "it is a folder",
    );
    all_say(
        |given| std::os::unix::fs::symlink("/dev/zero", given).expect("a link"),
        "it is a device",
    );
    all_say(
        |given| {
            std::os::unix::net::UnixListener::bind(given).expect("a socket");
        },
        "it is a socket",
    );
}

#[test]
fn exact_a_file_that_is_too_large_is_not_read() {
    all_say(
        |given| {
            let file = std::fs::File::create(given).expect("a file");
            // Ten gigabytes that take no room on the disk.
            file.set_len(10 << 30).expect("a sparse file");
        },
        "it has 10737418240 bytes, and at most ",
    );
}

#[test]
fn exact_other_encodings_are_named() {
    let text = "site,week,patch\nOak,1,treated\n";
    let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
    for (mark, bytes, name) in [
        (&[0xff, 0xfe][..], &little, "UTF-16 (little endian)"),
        (&[][..], &little, "UTF-16 (little endian)"),
        (&[0xfe, 0xff][..], &big, "UTF-16 (big endian)"),
        (&[][..], &big, "UTF-16 (big endian)"),
    ] {
        all_say(
            |given| std::fs::write(given, [mark, bytes].concat()).expect("a file"),
            name,
        );
    }
}

#[test]
fn exact_a_byte_zero_is_no_text() {
    for (call, fault) in faults(|given| std::fs::write(given, "a\nb\0c\n").expect("a file")) {
        // A table of counts is read row by row, and its header is at fault before.
        let is_counts = call.starts_with("analyse");
        assert!(
            is_counts || fault.what.contains("byte 0"),
            "{call}: {fault:?}"
        );
        let has_line = call.starts_with("replay") || fault.place.contains("line ");
        assert!(has_line, "{call}: {fault:?}");
    }
    let folder = TempDir::new().expect("a folder");
    let table =
        "site,week,patch,stage,count,stems\nOak,1,treated,L5,1,10\nO\0ak,1,untouched,L5,1,10\n";
    std::fs::write(folder.path().join("counts.csv"), table).expect("a file");
    fault_of(folder.path(), &["analyse", "counts.csv"]).says(
        "counts.csv, line 3",
        "byte 0",
        "UTF-8",
    );
}

#[test]
fn exact_a_mark_before_the_text_is_no_fault_and_moves_no_line() {
    let folder = TempDir::new().expect("a folder");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), format!("\u{feff}{text}")).expect("a file");
    };
    write("base.ron", "(name: \"base\", extends: \"verge-pair\")\n");
    write(
        "marked.ron",
        "(\n  name: \"marked\",\n  extends: \"base.ron\",\n)\n",
    );
    write(
        "wrong.ron",
        "(\n  name: \"wrong\",\n  extends: \"base.ron\",\n  site: (gap_m: -1),\n)\n",
    );
    write("broken.ron", "(name: \"broken\",, )\n");
    // A comment before the header, and a first name in quotation marks.
    write("stems.csv", "# a survey\n\"x_m\",y_m\n0,0\n0.1,0.1\n");
    write("bad.csv", "# a survey\n\"x_m\",y_m\n0,0\n0.1,east\n");
    let list = "\"site\",gap_m,stems_first,stems_second\nOak,12,100,100\n";
    write("sites.csv", list);
    for (name, stems) in [("stems.ron", "stems.csv"), ("bad.ron", "bad.csv")] {
        let settings = format!(
            "  site: (layout: OnePatchHalves, treated: (density_per_m2: 0.5, placement: FromCsv(\"{stems}\"))),"
        );
        write(name, &scenario(&settings));
    }
    let list = "(\n name: \"list\",\n scenario: \"marked.ron\",\n variants: [(name: \"a\"), (name: \"b\", words: 3)],\n)\n";
    write("list.ron", list);
    for good in [
        &["check", "marked.ron"][..],
        &["check", "stems.ron"],
        &["allot", "sites.csv", "--seed", "1", "--out", "drawn"],
    ] {
        let output = program(folder.path()).args(good).output().expect("a run");
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{good:?}: {told}");
    }
    let fault = |name: &str| fault_of(folder.path(), &["check", name]);
    fault("wrong.ron").says("wrong.ron, line 4 (site.gap_m)", "-1", "");
    fault("broken.ron").says("broken.ron, line 1, column 17", "", "");
    fault("bad.ron").says("bad.csv, line 4", "`east` is not a number", "");
    let list = fault_of(folder.path(), &["compare", "list.ron"]);
    assert!(list.place.starts_with("list.ron, line 4"), "{list:?}");
}
