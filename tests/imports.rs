//! Modules know only what lies below them: this test reads the `use` lines and paths of the sources.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// The order of the modules, from the top. A module may name what stands after it, never what stands before it.
/// `life` stands above `world` because egg-laying and traits speak of stems and their condition; `walk` above `life`
/// because movement is made from the traits.
const ORDER: [&str; 17] = [
    "main", "cli", "output", "study", "runner", "stats", "season", "survey", "plan", "walk",
    "life", "world", "scenario", "random", "maths", "ids", "trouble",
];

/// Modules that name nothing of the project but themselves and a few others: statistics know streams of random numbers,
/// and no larvae.
const ALONE: [(&str, &[&str]); 5] = [
    ("stats", &["random"]),
    ("random", &["maths"]),
    ("maths", &[]),
    ("ids", &[]),
    ("trouble", &[]),
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("src is readable") {
        let path = entry.expect("src is readable").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

/// Top-level module of a file: `src/study/gap.rs` belongs to `study`.
fn module_of(file: &Path, root: &Path) -> String {
    let inside = file.strip_prefix(root).expect("a file below src");
    let first = inside.components().next().expect("a file below src");
    first
        .as_os_str()
        .to_string_lossy()
        .trim_end_matches(".rs")
        .to_owned()
}

/// Source text without comments and strings, so that only code counts.
fn code_of(text: &str) -> String {
    let mut code = String::with_capacity(text.len());
    for line in text.lines() {
        let mut in_string = false;
        let mut before = ' ';
        for (at, character) in line.char_indices() {
            if !in_string && line[at..].starts_with("//") {
                break;
            }
            if character == '"' && before != '\\' && before != '\'' {
                in_string = !in_string;
            } else if !in_string {
                code.push(character);
            }
            before = character;
        }
        code.push('\n');
    }
    code
}

/// Names of modules after `crate::` or `$crate::`, a group in braces included.
fn named_in(code: &str, prefix: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for (at, _) in code.match_indices(prefix) {
        let rest = &code[at + prefix.len()..];
        let word = |text: &str| -> String {
            text.trim_start()
                .chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_')
                .collect()
        };
        match rest.trim_start().strip_prefix('{') {
            None => {
                names.insert(word(rest));
            }
            Some(group) => {
                let mut depth = 0;
                let mut begins = true;
                for (at, character) in group.char_indices() {
                    match character {
                        '{' => depth += 1,
                        '}' if depth == 0 => break,
                        '}' => depth -= 1,
                        ',' if depth == 0 => begins = true,
                        c if begins && !c.is_whitespace() => {
                            names.insert(word(&group[at..]));
                            begins = false;
                        }
                        _ => {}
                    }
                }
            }
        }
    }
    names
}

fn faults_of(module: &str, text: &str) -> Vec<String> {
    let code = code_of(text);
    let place = ORDER.iter().position(|name| *name == module);
    let Some(place) = place else {
        return vec![format!("`{module}` is not in the order of modules")];
    };
    let mut names = named_in(&code, "crate::");
    names.extend(named_in(&code, "crawlspan::"));
    names
        .into_iter()
        .filter(|name| name != module && ORDER.contains(&name.as_str()))
        .filter(|name| {
            let not_its_business = ALONE
                .iter()
                .any(|(alone, but)| *alone == module && !but.contains(&name.as_str()));
            ORDER[..place].contains(&name.as_str()) || not_its_business
        })
        .map(|name| {
            format!("`{module}` names `{name}`, which stands above it or is none of its business")
        })
        .collect()
}

#[test]
fn exact_no_module_imports_from_above() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    assert!(files.len() > 50, "only {} sources were found", files.len());
    let mut faults = Vec::new();
    let mut seen = BTreeSet::new();
    for file in &files {
        let module = module_of(file, &root);
        if module == "lib" {
            continue;
        }
        let text = fs::read_to_string(file).expect("a source is readable");
        for fault in faults_of(&module, &text) {
            faults.push(format!("{}: {fault}", file.display()));
        }
        seen.insert(module);
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    let known: BTreeSet<String> = ORDER.iter().map(ToString::to_string).collect();
    assert_eq!(
        seen, known,
        "the order lists exactly the modules that exist"
    );
}

#[test]
fn exact_climbing_out_of_a_module_by_super_is_seen() {
    // `super::super` at the top of a module would reach its siblings without the word `crate`.
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    for file in &files {
        let inside = file.strip_prefix(&root).expect("a file below src");
        let is_root_of_module = inside.file_name().is_some_and(|name| name == "mod.rs");
        let depth = inside.components().count() - usize::from(is_root_of_module);
        // Inline modules (`mod tests`) add a level of their own.
        let text = code_of(&fs::read_to_string(file).expect("a source is readable"));
        let inline = usize::from(text.contains("mod tests {"));
        let climb = "super::".repeat(depth + inline);
        assert!(
            !text.contains(&climb),
            "{} climbs out of its module by `{climb}`",
            file.display()
        );
    }
}

#[test]
fn exact_the_test_sees_an_upward_import() {
    let seen = |module: &str, text: &str| !faults_of(module, text).is_empty();
    assert!(seen("world", "use crate::season::Season;"));
    assert!(seen(
        "world",
        "use crate::{\n    scenario::Scenario,\n    plan::{Plan, Other},\n};"
    ));
    assert!(seen("trouble", "fn f() -> crate::scenario::Scenario {}"));
    assert!(!seen("stats", "use crate::random::Key;"));
    assert!(seen("stats", "use crate::ids::LarvaId;"));
    assert!(seen("random", "use crate::ids::LarvaId;"));
    assert!(!seen("season", "use crate::walk::Bout;"));
    assert!(!seen(
        "world",
        "// use crate::season::Season;\nlet text = \"crate::season\";"
    ));
}

/// Modules whose numbers must be the same on every machine.
const PORTABLE: [&str; 8] = [
    "season", "survey", "plan", "walk", "life", "world", "scenario", "random",
];

/// Functions of the system's library, whose last digit depends on the machine. `sqrt` is exact everywhere.
const OF_THE_SYSTEM: [&str; 24] = [
    "exp", "exp2", "exp_m1", "ln", "ln_1p", "log", "log2", "log10", "powf", "powi", "sin", "cos",
    "tan", "sin_cos", "asin", "acos", "atan", "atan2", "sinh", "cosh", "tanh", "hypot", "cbrt",
    "mul_add",
];

#[test]
fn practice_what_moves_a_larva_is_computed_alike_on_every_machine() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    files.retain(|file| PORTABLE.contains(&module_of(file, &root).as_str()));
    assert!(files.len() > PORTABLE.len());
    let mut found = Vec::new();
    for file in files {
        let text = fs::read_to_string(&file).expect("src is readable");
        // Unit tests compare with the libraries of others.
        let code = code_of(text.split("#[cfg(test)]").next().unwrap_or_default());
        for function in OF_THE_SYSTEM {
            if code.contains(&format!(".{function}(")) || code.contains(&format!("f64::{function}"))
            {
                found.push(format!("{}: {function}", file.display()));
            }
        }
        if code.contains("rand_distr") {
            found.push(format!("{}: rand_distr", file.display()));
        }
    }
    assert!(
        found.is_empty(),
        "take these from `maths` or `random`:\n{}",
        found.join("\n")
    );
}

#[test]
fn exact_one_place_writes_to_standard_output() {
    // Whatever is written elsewhere could be lost without a word.
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    let writers = ["stdout", "println!", "print!(", "dbg!(", ".print("];
    let found: Vec<String> = files
        .iter()
        .filter(|file| {
            let text = code_of(&fs::read_to_string(file).expect("a source is readable"));
            let code = text.split("mod tests {").next().unwrap_or_default();
            writers.iter().any(|word| code.contains(word))
        })
        .map(|file| {
            file.strip_prefix(&root)
                .expect("below src")
                .display()
                .to_string()
        })
        .collect();
    assert_eq!(
        found,
        [Path::new("cli").join("say.rs").display().to_string()]
    );
}
