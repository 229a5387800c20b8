//! A stop signal and progress count for long loops.
//!
//! Loops that can fail ask [`Control::step`]. Work that cannot (a sum, a decomposition, a column read) calls [`checkpoint`]: once the
//! control that the thread works [`within`](Control::within) is stopped it unwinds to there, where the answer is an ordinary error. Nobody
//! who does not ask for that meets it, and no panic hook is told.

use std::cell::RefCell;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
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
    fits: AtomicU64,
}

impl Control {
    /// A control that nobody has stopped.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert!(Control::new().step().is_ok());
    /// ```
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// A control with a count of its own that is stopped together with this one: for long work inside single steps.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let control = Control::new();
    /// let inner = control.apart();
    /// control.stop();
    /// assert!(inner.step().is_err());
    /// ```
    #[must_use]
    pub fn apart(&self) -> Self {
        Self { stop: Arc::clone(&self.stop), ..Self::default() }
    }

    /// Asks the loop to stop.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let control = Control::new();
    /// control.stop();
    /// assert!(control.step().is_err());
    /// ```
    pub fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }

    /// Counts one finished step and reports a stop request.
    ///
    /// # Errors
    /// [`Error::Interrupted`] once [`Control::stop`] was called.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert!(Control::new().step().is_ok());
    /// ```
    pub fn step(&self) -> Result<()> {
        self.done.fetch_add(1, Ordering::Relaxed);
        if self.stop.load(Ordering::Relaxed) { Err(Error::Interrupted) } else { Ok(()) }
    }

    /// Runs `work` so that every [`checkpoint`] within it ends it once this control is stopped.
    ///
    /// # Errors
    /// [`Error::Interrupted`] then; what `work` fails with otherwise.
    ///
    /// ```
    /// let control = rootling::control::Control::new();
    /// control.stop();
    /// assert!(control.within(|| { rootling::control::checkpoint(); Ok(1) }).is_err());
    /// ```
    pub fn within<T>(&self, work: impl FnOnce() -> Result<T>) -> Result<T> {
        let signal = Signal(Some(Arc::clone(&self.stop)));
        match catch_unwind(AssertUnwindSafe(|| signal.on(work))) {
            Ok(found) => found,
            Err(cause) if cause.is::<Stopped>() => Err(Error::Interrupted),
            Err(cause) => resume_unwind(cause),
        }
    }

    /// Tells whoever watches that so many parts more are to come: draws, assignments, classes of tables.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let control = Control::new();
    /// control.expect(10);
    /// assert_eq!(control.progress(), (0, 10));
    /// ```
    pub fn expect(&self, parts: u64) {
        self.expected.fetch_add(parts, Ordering::Relaxed);
    }

    /// Tells whoever watches that so many of the expected parts are finished.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let control = Control::new();
    /// control.expect(10);
    /// control.finish(4);
    /// assert_eq!(control.progress(), (4, 10));
    /// ```
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

    /// Fits of a whole design begun under this control; those with something held are not among them. A model that is asked again and again
    /// is fitted once.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// assert_eq!(Control::new().fits(), 0);
    /// ```
    #[must_use]
    pub fn fits(&self) -> u64 {
        self.fits.load(Ordering::Relaxed)
    }

    /// Counts a fit.
    pub(crate) fn fit(&self) {
        self.fits.fetch_add(1, Ordering::Relaxed);
    }

    /// Steps finished so far.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// let control = Control::new();
    /// control.step()?;
    /// assert_eq!(control.done(), 1);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn done(&self) -> u64 {
        self.done.load(Ordering::Relaxed)
    }
}

thread_local! {
    /// The stop signal of the work on this thread.
    static OWN: RefCell<Signal> = const { RefCell::new(Signal(None)) };
}

/// What unwinds from a checkpoint.
struct Stopped;

/// Ends the work that this thread does within a control, if that was stopped; nothing otherwise.
pub fn checkpoint() {
    if OWN.with_borrow(Signal::is_given) {
        resume_unwind(Box::new(Stopped));
    }
}

/// A checkpoint at every 4096th of many small parts.
#[inline]
pub(crate) fn checkpoint_at(part: u64) {
    if part.is_multiple_of(4096) {
        checkpoint();
    }
}

/// Lines from which on a second thread is worth its start.
const SIDE_BY_SIDE: usize = 1 << 15;

/// The stop signal of a thread, to be taken along to those that share its work.
#[derive(Debug, Clone)]
pub(crate) struct Signal(Option<Arc<AtomicBool>>);

impl Signal {
    /// That of this thread.
    pub(crate) fn here() -> Self {
        OWN.with_borrow(Clone::clone)
    }

    /// Runs two works that share nothing: side by side where they look at many lines.
    pub(crate) fn both<A: Send, B: Send>(
        lines: usize,
        one: impl FnOnce() -> A + Send,
        other: impl FnOnce() -> B + Send,
    ) -> (A, B) {
        if lines < SIDE_BY_SIDE {
            return (one(), other());
        }
        let signal = Self::here();
        rayon::join(|| signal.on(one), || signal.on(other))
    }

    /// Runs `work` under the signal on whatever thread this is.
    pub(crate) fn on<T>(&self, work: impl FnOnce() -> T) -> T {
        let _before = Before(OWN.replace(self.clone()));
        work()
    }

    fn is_given(&self) -> bool {
        self.0.as_ref().is_some_and(|stop| stop.load(Ordering::Relaxed))
    }
}

/// Puts the signal back that was there before, also when the work unwinds.
struct Before(Signal);

impl Drop for Before {
    fn drop(&mut self) {
        OWN.set(std::mem::replace(&mut self.0, Signal(None)));
    }
}
