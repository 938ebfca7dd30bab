//! Tells the program what it was built from: the revision, where there is one, and a digest of its sources.
//!
//! `CRAWLSPAN_REVISION` overrides the revision, for builds from an archive. Without git, or in a tree that git does not
//! know, the revision is `unknown` and the build goes on.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What the program is made of; benches and tests are not in it.
const SOURCES: [&str; 4] = ["src", "scenarios", "Cargo.toml", "Cargo.lock"];

fn main() {
    println!("cargo::rerun-if-env-changed=CRAWLSPAN_REVISION");
    println!("cargo::rerun-if-changed=build.rs");
    for source in SOURCES {
        if Path::new(source).exists() {
            println!("cargo::rerun-if-changed={source}");
        }
    }
    let revision = std::env::var("CRAWLSPAN_REVISION")
        .ok()
        .filter(|given| !given.trim().is_empty() && !given.contains(['\n', '\r']))
        .or_else(from_git)
        .unwrap_or_else(|| "unknown".to_owned());
    println!("cargo::rustc-env=CRAWLSPAN_REVISION={revision}");
    println!("cargo::rustc-env=CRAWLSPAN_SOURCES={:016x}", digest());
}

fn git(arguments: &[&str]) -> Option<String> {
    let output = Command::new("git").args(arguments).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    output.status.success().then(|| text.trim().to_owned())
}

/// The revision of this very tree, not of one that it happens to lie in.
fn from_git() -> Option<String> {
    let root = PathBuf::from(git(&["rev-parse", "--show-toplevel"])?);
    let here = fs::canonicalize(".").ok()?;
    if fs::canonicalize(root).ok()? != here {
        return None;
    }
    for name in ["HEAD", "logs/HEAD"] {
        if let Some(path) = git(&["rev-parse", "--git-path", name])
            && Path::new(&path).exists()
        {
            println!("cargo::rerun-if-changed={path}");
        }
    }
    let revision = git(&["rev-parse", "HEAD"])?;
    let changed = git(&[&["status", "--porcelain", "--"], &SOURCES[..]].concat())?;
    Some(if changed.is_empty() {
        revision
    } else {
        format!("{revision}-changed")
    })
}

/// FNV-1a of names and contents: it tells builds apart, it guards against nobody.
fn digest() -> u64 {
    const OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01b3;
    let mut files = Vec::new();
    for source in SOURCES {
        collect(Path::new(source), &mut files);
    }
    files.sort();
    let mut hash = OFFSET;
    let mut add = |bytes: &[u8]| {
        for byte in bytes {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(PRIME);
        }
        hash = (hash ^ bytes.len() as u64).wrapping_mul(PRIME);
    };
    for file in files {
        add(file.to_string_lossy().replace('\\', "/").as_bytes());
        add(&fs::read(&file).unwrap_or_default());
    }
    hash
}

fn collect(path: &Path, files: &mut Vec<PathBuf>) {
    if path.is_file() {
        files.push(path.to_owned());
        return;
    }
    let Ok(entries) = fs::read_dir(path) else {
        return;
    };
    for entry in entries.flatten() {
        collect(&entry.path(), files);
    }
}
