//! A stop signal and progress count for long loops.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use crate::error::{Error, Result};

/// Shared between a long loop and whoever watches it.
#[derive(Debug, Default)]
pub struct Control {
    stop: Arc<AtomicBool>,
    done: AtomicU64,
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
        Self { stop: Arc::clone(&self.stop), done: AtomicU64::new(0) }
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

    /// Steps finished so far.
    #[must_use]
    pub fn done(&self) -> u64 {
        self.done.load(Ordering::Relaxed)
    }
}
