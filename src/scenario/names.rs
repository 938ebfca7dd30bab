//! Names that become files or folders, judged in one place: what one system takes another reads as a path, a device or
//! an option.

use crate::trouble::Trouble;

/// Longest name of a file or folder that the usual file systems take, bytes.
const LONGEST: usize = 255;
/// Longest name of a scenario or variant: it stands in tables, legends and names of files.
const LONGEST_SHORT: usize = 60;
/// Characters that part paths, name drives or stand for other characters.
const SPECIAL: [char; 9] = ['/', '\\', ':', '<', '>', '"', '|', '?', '*'];
/// Names of devices; Windows takes them for such in any folder and with any ending.
const DEVICES: [&str; 6] = ["con", "prn", "aux", "nul", "conin$", "conout$"];

/// Why a name cannot be that of a file or folder on every system; `None` if it can.
#[must_use]
pub fn fault_of(name: &str) -> Option<&'static str> {
    let faults = [
        (name.is_empty(), "it is empty"),
        (name.len() > LONGEST, "it has more than 255 bytes"),
        (
            name.contains(SPECIAL),
            "it holds one of / \\ : < > \" | ? *",
        ),
        (
            name.contains(char::is_control),
            "it holds control characters",
        ),
        (name.starts_with('.'), "it begins with a dot"),
        (
            name.starts_with('-'),
            "it begins with a dash, as options do",
        ),
        (name.ends_with(['.', ' ']), "it ends with a dot or a space"),
        (is_device(name), "some systems take it for a device"),
    ];
    faults
        .into_iter()
        .find_map(|(is_so, why)| is_so.then_some(why))
}

/// Why a name cannot be that of a scenario or variant, which becomes part of names of files: besides [`fault_of`], it
/// consists of at most 60 letters, digits, `-` and `_`.
#[must_use]
pub fn fault_of_short(name: &str) -> Option<&'static str> {
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    fault_of(name).or_else(|| {
        if name.len() > LONGEST_SHORT {
            Some("it has more than 60 characters")
        } else if name.chars().all(plain) {
            None
        } else {
            Some("it holds other characters than letters, digits, - and _")
        }
    })
}

/// The fault of a name, which was to become a `file` or a `folder`.
#[must_use]
pub fn refused(name: &str, becoming: &str, why: &str) -> Trouble {
    Trouble::new(format!(
        "the name `{}` cannot be a {becoming}: {why}",
        name.escape_debug()
    ))
    .expected("letters, digits, - and _, beginning with a letter or digit")
}

/// What two names have in common that some systems take for the same.
#[must_use]
pub fn regardless_of_case(name: &str) -> String {
    name.to_lowercase()
}

fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default().trim_end();
    let stem = regardless_of_case(stem);
    let port = |rest: &str| {
        let mut digits = rest.chars();
        let is_one = digits
            .next()
            .is_some_and(|c| c.is_ascii_digit() || "¹²³".contains(c));
        is_one && digits.next().is_none()
    };
    let is_port = ["com", "lpt"]
        .iter()
        .any(|kind| stem.strip_prefix(kind).is_some_and(port));
    is_port || DEVICES.contains(&stem.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_no_name_leads_out_of_its_folder_or_to_a_device() {
        let bad = [
            "",
            ".",
            "..",
            "...",
            "/",
            "/etc",
            "a/b",
            "../a",
            "a\\b",
            "..\\a",
            "C:",
            "c:a",
            "a:b",
            "-a",
            "--out",
            "-",
            "a.",
            "a ",
            "a..",
            ".a",
            ".in-use",
            "a\nb",
            "a\0",
            "a\u{7f}",
            "a\u{85}",
            "con",
            "CON",
            "Con.csv",
            "con .csv",
            "nul.tar.gz",
            "com1",
            "COM9.ron",
            "lpt0",
            "LPT3.x",
            "com¹",
            "aux",
            "prn.svg",
            "conin$",
            "a*",
            "a?",
            "a|b",
            "<a>",
            "a\"b",
        ];
        for name in bad {
            assert!(fault_of(name).is_some(), "{name:?}");
            assert!(fault_of_short(name).is_some(), "{name:?}");
        }
        assert!(fault_of(&"a".repeat(256)).is_some());
        for name in [
            "compare.csv",
            "variant-gap-2m.ron",
            "a",
            "console",
            "com10",
            "com",
            "a..b",
            "counts 2026 (final)",
            "Zähldaten",
        ] {
            assert_eq!(fault_of(name), None, "{name}");
        }
        for name in ["verge-pair", "a_b", "A1", "nullah", "auxiliary"] {
            assert_eq!(fault_of_short(name), None, "{name}");
        }
        for name in ["a b", "a.b", "ä", &"a".repeat(61)] {
            assert!(fault_of_short(name).is_some(), "{name}");
        }
    }
}
