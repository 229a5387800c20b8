//! A stop signal and progress count for long loops.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use crate::error::{Error, Result};

/// Shared between a long loop and whoever watches it.
#[derive(Debug, Default)]
pub struct Control {
    stop: Arc<AtomicBool>,
    done: AtomicU64,
    expected: AtomicU64,
    finished: AtomicU64,
}

impl Control {
    /// A control that nobody has stopped.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// A control with a count of its own that is stopped together with this one: for long work inside single steps.
    #[must_use]
    pub fn apart(&self) -> Self {
        Self { stop: Arc::clone(&self.stop), ..Self::default() }
    }

    /// Asks the loop to stop.
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Counts one finished step and reports a stop request.
    ///
    /// # Errors
    /// [`Error::Interrupted`] once [`Control::stop`] was called.
    pub fn step(&self) -> Result<()> {
        self.done.fetch_add(1, Ordering::Relaxed);
        if self.stop.load(Ordering::Relaxed) { Err(Error::Interrupted) } else { Ok(()) }
    }

    /// Tells whoever watches that so many parts more are to come: draws, assignments, classes of tables.
    pub fn expect(&self, parts: u64) {
        self.expected.fetch_add(parts, Ordering::Relaxed);
    }

    /// Tells whoever watches that so many of the expected parts are finished.
    pub fn finish(&self, parts: u64) {
        self.finished.fetch_add(parts, Ordering::Relaxed);
    }

    /// Parts finished, and parts expected so far.
    ///
    /// ```
    /// let control = rootling::control::Control::new();
    /// control.expect(10);
    /// control.finish(4);
    /// assert_eq!(control.progress(), (4, 10));
    /// ```
    #[must_use]
    pub fn progress(&self) -> (u64, u64) {
        (self.finished.load(Ordering::Relaxed), self.expected.load(Ordering::Relaxed))
    }

    /// Steps finished so far.
    #[must_use]
    pub fn done(&self) -> u64 {
        self.done.load(Ordering::Relaxed)
    }
}
