//! Digest of what is read, taken on the way: a large table is not read twice.

use sha2::{Digest, Sha256};
use std::io::{BufRead, Read, Result};

/// Passes its source on and keeps a digest of what passed.
pub(super) struct Digested<R> {
    source: R,
    hasher: Sha256,
}

impl<R: BufRead> Digested<R> {
    pub fn new(source: R) -> Self {
        Self {
            source,
            hasher: Sha256::new(),
        }
    }

    /// Digest of all that was read so far, as hexadecimal SHA-256.
    pub fn hexadecimal(&self) -> String {
        let digest = self.hasher.clone().finalize();
        digest.iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

impl<R: BufRead> Read for Digested<R> {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        let length = self.source.read(buffer)?;
        self.hasher.update(&buffer[..length]);
        Ok(length)
    }
}

impl<R: BufRead> BufRead for Digested<R> {
    fn fill_buf(&mut self) -> Result<&[u8]> {
        self.source.fill_buf()
    }

    fn consume(&mut self, amount: usize) {
        // What is consumed is what the last `fill_buf` showed: the source gives it again without reading.
        if let Ok(shown) = self.source.fill_buf() {
            self.hasher.update(&shown[..amount.min(shown.len())]);
        }
        self.source.consume(amount);
    }
}
