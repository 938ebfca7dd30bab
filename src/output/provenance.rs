//! How a file came about: enough to make it again.

use crate::trouble::{Outcome, Trouble};
use serde::Serialize;
use sha2::{Digest, Sha256};

/// Version of the provenance record's own form.
const FORM: u32 = 1;

#[derive(Serialize)]
struct Record<'a> {
    form: u32,
    program: &'static str,
    version: &'static str,
    generator: &'static str,
    command: &'a str,
    arguments: Vec<String>,
    seed: u64,
    #[serde(skip_serializing_if = "Option::is_none")]
    scenario: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    scenario_sha256: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    counts: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    counts_sha256: Option<&'a str>,
    platform: String,
}

/// Digest of a resolved scenario, as hexadecimal SHA-256.
#[must_use]
pub fn digest(ron: &str) -> String {
    Sha256::digest(ron.as_bytes())
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

/// The record as JSON.
///
/// # Errors
/// When it cannot be written as JSON, which no record should cause.
pub fn text(command: &str, seed: u64, scenario: &str, ron: &str) -> Outcome<String> {
    record(command, seed, Some((scenario, ron)), None)
}

/// The record, as JSON, of files made from a table of counts, given with its digest, and perhaps a scenario,
/// given as name and RON text.
///
/// # Errors
/// As [`text`].
pub fn of_counts(
    command: &str,
    seed: u64,
    counts: (&str, &str),
    scenario: Option<(&str, &str)>,
) -> Outcome<String> {
    record(command, seed, scenario, Some(counts))
}

fn record(
    command: &str,
    seed: u64,
    scenario: Option<(&str, &str)>,
    counts: Option<(&str, &str)>,
) -> Outcome<String> {
    let (counts, counts_sha256) = counts.unzip();
    let record = Record {
        form: FORM,
        program: env!("CARGO_PKG_NAME"),
        version: env!("CARGO_PKG_VERSION"),
        generator: "xoshiro256++ seeded by hash of (seed, parameter set, replicate, owner, purpose)",
        command,
        arguments: std::env::args().skip(1).collect(),
        seed,
        scenario: scenario.map(|(name, _)| name),
        scenario_sha256: scenario.map(|(_, ron)| digest(ron)),
        counts,
        counts_sha256,
        platform: format!("{}-{}", std::env::consts::ARCH, std::env::consts::OS),
    };
    serde_json::to_string_pretty(&record)
        .map(|text| text + "\n")
        .map_err(|fault| Trouble::new(format!("provenance as JSON: {fault}")))
}
