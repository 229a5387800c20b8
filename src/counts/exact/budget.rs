//! What exact work may cost, what it did cost, and why it ended early.

use std::sync::atomic::{AtomicU64, Ordering};

use crate::error::Error;

/// A column taken costs as much as this many list entries visited.
pub(super) const COLUMN_STEPS: u64 = 8;

/// What exact work may cost.
#[derive(Debug, Clone, Copy)]
pub(super) struct Budget {
    /// Steps: columns taken and list entries visited.
    pub(super) steps: u64,
    /// List entries held at one time (28 bytes each).
    pub(super) entries: u64,
}

/// Why exact work ended early.
#[derive(Debug)]
pub(super) enum Halt {
    /// The budget does not suffice.
    TooMuch,
    /// The control was stopped.
    Stopped(Error),
}

impl From<Error> for Halt {
    fn from(error: Error) -> Self {
        Self::Stopped(error)
    }
}

pub(super) type Work<T> = std::result::Result<T, Halt>;

/// What it did cost.
#[derive(Debug)]
pub(super) struct Spent {
    pub(super) allowed: Budget,
    steps: AtomicU64,
    entries: AtomicU64,
}

impl Spent {
    pub(super) fn of(allowed: Budget) -> Self {
        Self { allowed, steps: AtomicU64::new(0), entries: AtomicU64::new(0) }
    }

    pub(super) fn steps(&self, steps: u64) -> Work<()> {
        let so_far = self.steps.fetch_add(steps, Ordering::Relaxed) + steps;
        if so_far <= self.allowed.steps { Ok(()) } else { Err(Halt::TooMuch) }
    }

    pub(super) fn entries(&self, entries: u64) -> Work<()> {
        let so_far = self.entries.fetch_add(entries, Ordering::Relaxed) + entries;
        if so_far <= self.allowed.entries { Ok(()) } else { Err(Halt::TooMuch) }
    }

    /// Steps so far.
    pub(super) fn total_steps(&self) -> u64 {
        self.steps.load(Ordering::Relaxed)
    }
}
