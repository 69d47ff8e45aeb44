//! How a hash of content is made and written everywhere.

use sha2::{Digest, Sha256};

/// Bytes as hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// SHA-256 of some content, as hexadecimal digits.
pub fn digest(content: &[u8]) -> String {
    hex(&Sha256::digest(content))
}
