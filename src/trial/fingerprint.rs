//! A short hash of checked data: a 64-bit FNV-1a over its record.

use serde::Serialize;

/// The hash of what a record holds.
pub(crate) fn fingerprint(data: &impl Serialize) -> String {
    let mut hash = Fnv::new();
    hash.take(data);
    hash.shown()
}

/// The running hash of what is written to it.
pub(super) struct Fnv(u64);

impl Fnv {
    pub(super) fn new() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }

    pub(super) fn take(&mut self, data: &impl Serialize) {
        // Neither plain data nor the hash can fail to be written.
        let _ = serde_json::to_writer(self, data);
    }

    pub(super) fn shown(&self) -> String {
        format!("{:016x}", self.0)
    }
}

impl std::io::Write for Fnv {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
