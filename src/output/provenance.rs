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
    scenario: &'a str,
    scenario_sha256: String,
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
    let record = Record {
        form: FORM,
        program: env!("CARGO_PKG_NAME"),
        version: env!("CARGO_PKG_VERSION"),
        generator: "xoshiro256++ seeded by hash of (seed, parameter set, replicate, owner, purpose)",
        command,
        arguments: std::env::args().skip(1).collect(),
        seed,
        scenario,
        scenario_sha256: digest(ron),
        platform: format!("{}-{}", std::env::consts::ARCH, std::env::consts::OS),
    };
    serde_json::to_string_pretty(&record)
        .map(|text| text + "\n")
        .map_err(|fault| Trouble::new(format!("provenance as JSON: {fault}")))
}
