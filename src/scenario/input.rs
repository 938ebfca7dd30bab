//! Files that are given to the program: opened, bounded and turned into text in one place.

use std::fs::{File, FileType};
use std::io::Read;
use std::path::Path;

/// Largest data file that is read whole, bytes.
pub const LARGEST_FILE: u64 = 256 << 20;
/// Largest scenario or list of variants, bytes: a thousand times any real one.
pub const LARGEST_SCENARIO: u64 = 4 << 20;
/// Largest table of counts, bytes: it is read row by row, and a simulated one of many seasons is large.
pub const LARGEST_COUNTS: u64 = 4 << 30;

/// Mark at the start of some files in UTF-8.
const BYTE_ORDER_MARK: [u8; 3] = [0xef, 0xbb, 0xbf];

/// Why a file is not read, in words that follow "cannot be read".
type Refused<T> = Result<T, String>;

const FOLDER: &str = "a folder";

fn kind(of: FileType) -> &'static str {
    #[cfg(unix)]
    {
        use std::os::unix::fs::FileTypeExt;
        if of.is_fifo() {
            return "a pipe";
        }
        if of.is_socket() {
            return "a socket";
        }
        if of.is_char_device() || of.is_block_device() {
            return "a device";
        }
    }
    if of.is_dir() {
        FOLDER
    } else {
        "no ordinary file"
    }
}

/// Opens a file of at most `largest` bytes. A pipe, a device, a socket or a folder is refused before it is opened:
/// opening a pipe waits for somebody to write, and a device may have no end.
///
/// # Errors
/// In the words of the system, or because it is no ordinary file or too large.
pub fn open(path: &Path, largest: u64) -> Refused<File> {
    let found = std::fs::metadata(path).map_err(|fault| fault.to_string())?;
    if !found.is_file() {
        return Err(match kind(found.file_type()) {
            FOLDER => format!("it is {FOLDER}, not a file"),
            other => format!("it is {other}; save what it holds in a file and name that"),
        });
    }
    if found.len() > largest {
        return Err(too_large(Some(found.len()), largest));
    }
    File::open(path).map_err(|fault| fault.to_string())
}

fn too_large(bytes: Option<u64>, largest: u64) -> String {
    let mib = largest >> 20;
    match bytes {
        Some(bytes) => format!("it has {bytes} bytes, and at most {mib} MiB are read"),
        None => format!("it has more than the {mib} MiB that are read"),
    }
}

/// All of a file of at most `largest` bytes.
///
/// # Errors
/// As [`open`].
pub fn contents(path: &Path, largest: u64) -> Refused<Vec<u8>> {
    let mut bytes = Vec::new();
    // Some systems tell no length of what they make up, and a file may grow: the bytes that come are counted too.
    open(path, largest)?
        .take(largest + 1)
        .read_to_end(&mut bytes)
        .map_err(|fault| fault.to_string())?;
    if bytes.len() as u64 > largest {
        return Err(too_large(None, largest));
    }
    Ok(bytes)
}

/// Bytes that are no text, and on which line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoText {
    /// What is wrong, in words that follow "cannot be read".
    pub why: String,
    /// Line from 1.
    pub line: usize,
}

/// Bytes without the mark that some programs put before text in UTF-8.
#[must_use]
pub fn without_mark(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix(&BYTE_ORDER_MARK).unwrap_or(bytes)
}

/// The encoding of bytes that begin as text in something other than UTF-8 does: with its mark, or with every other
/// byte 0.
#[must_use]
pub fn foreign_encoding(start: &[u8]) -> Option<&'static str> {
    const MARKS: [(&[u8], &str); 4] = [
        (&[0xff, 0xfe, 0, 0], "UTF-32 (little endian)"),
        (&[0, 0, 0xfe, 0xff], "UTF-32 (big endian)"),
        (&[0xff, 0xfe], "UTF-16 (little endian)"),
        (&[0xfe, 0xff], "UTF-16 (big endian)"),
    ];
    /// Letters that a file without a mark is judged by.
    const JUDGED: usize = 4;
    let marked = MARKS.iter().find(|(mark, _)| start.starts_with(mark));
    if let Some((_, name)) = marked {
        return Some(name);
    }
    let pairs = start.chunks_exact(2).take(JUDGED);
    if start.len() < 2 * JUDGED {
        return None;
    }
    let zeros = |at: usize| {
        pairs
            .clone()
            .all(|pair| (pair[at] == 0) && pair[1 - at] != 0)
    };
    match (zeros(1), zeros(0)) {
        (true, _) => Some("UTF-16 (little endian)"),
        (_, true) => Some("UTF-16 (big endian)"),
        _ => None,
    }
}

/// Bytes as text in UTF-8, with or without its mark.
///
/// # Errors
/// When they are in another encoding, or hold a byte 0 or anything else that is no text.
pub fn text(bytes: &[u8]) -> Result<&str, NoText> {
    if let Some(encoding) = foreign_encoding(bytes) {
        return Err(NoText {
            why: format!("it is text in {encoding}; save it anew in UTF-8"),
            line: 1,
        });
    }
    let bytes = without_mark(bytes);
    let line_of = |at: usize| 1 + bytes[..at].iter().filter(|byte| **byte == b'\n').count();
    let text = std::str::from_utf8(bytes).map_err(|fault| {
        let line = line_of(fault.valid_up_to());
        NoText {
            why: format!("line {line} is not text in UTF-8"),
            line,
        }
    })?;
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        let line = line_of(at);
        return Err(NoText {
            why: format!("line {line} holds a byte 0, which is no text"),
            line,
        });
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_encodings_are_told_apart() {
        let little: Vec<u8> = "site,week"
            .encode_utf16()
            .flat_map(u16::to_le_bytes)
            .collect();
        let big: Vec<u8> = "site,week"
            .encode_utf16()
            .flat_map(u16::to_be_bytes)
            .collect();
        for (bytes, name) in [
            (little.clone(), "UTF-16 (little endian)"),
            (big.clone(), "UTF-16 (big endian)"),
            (
                [&[0xff, 0xfe], little.as_slice()].concat(),
                "UTF-16 (little endian)",
            ),
            (
                [&[0xfe, 0xff], big.as_slice()].concat(),
                "UTF-16 (big endian)",
            ),
        ] {
            assert_eq!(foreign_encoding(&bytes), Some(name));
            assert!(text(&bytes).is_err_and(|fault| fault.why.contains(name)));
        }
        assert_eq!(text(b"\xef\xbb\xbfsite"), Ok("site"));
        assert_eq!(text(b"a\nb\0").map_err(|fault| fault.line), Err(2));
        assert_eq!(text(b"a\nb\n\xff").map_err(|fault| fault.line), Err(3));
        assert_eq!(text(b""), Ok(""));
    }
}
