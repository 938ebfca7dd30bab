//! The posterior as a preset that a scenario can extend.

use super::figures;
use crate::study::tune::TuneAnswer;
use std::fmt::Write;

/// RON text of a preset: posterior medians with their 90 % range, standing Derived; everything else as in what it
/// extends, if that is known.
#[must_use]
pub fn preset(answer: &TuneAnswer, source: &str, extends: Option<&str>) -> String {
    let quoted = |text: &str| text.replace('\\', "\\\\").replace('"', "\\\"");
    let mut text = format!(
        "// Walking and leaving as tuned to {}: posterior medians with their 90 % ranges.\n(\n",
        source.replace('\n', " ")
    );
    if let Some(base) = extends {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "    extends: \"{}\",", quoted(base));
    }
    let mut paths: Vec<(Vec<&str>, String)> = answer
        .tuned
        .iter()
        .map(|tuned| {
            let [low, middle, high] = tuned.posterior.map(figures);
            let about = format!(
                "About(value: {middle}, low: {low}, high: {high}, standing: Derived, source: \"tuned to {}\")",
                quoted(source)
            );
            (tuned.parameter.path.split('.').collect(), about)
        })
        .collect();
    paths.sort();
    write_groups(&mut text, &paths, 0);
    text.push_str(")\n");
    text
}

/// Writes settings whose paths agree down to a depth, group by group.
fn write_groups(text: &mut String, paths: &[(Vec<&str>, String)], depth: usize) {
    let indent = "    ".repeat(depth + 1);
    for group in paths.chunk_by(|a, b| a.0.get(depth) == b.0.get(depth)) {
        let (path, about) = &group[0];
        let Some(name) = path.get(depth) else {
            continue;
        };
        if path.len() == depth + 1 {
            let _ = writeln!(text, "{indent}{name}: {about},");
        } else {
            let _ = writeln!(text, "{indent}{name}: (");
            write_groups(text, group, depth + 1);
            let _ = writeln!(text, "{indent}),");
        }
    }
}
