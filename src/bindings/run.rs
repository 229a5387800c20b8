//! Long work runs detached from the interpreter; every 100 ms Python's signals are looked at, so Ctrl-C stops it.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread;
use std::time::Duration;

use pyo3::prelude::*;

use super::errors::internal;
use super::pool;
use crate::control::Control;
use crate::error::Result;

const LOOK_EVERY: Duration = Duration::from_millis(100);

/// Runs `work` on a thread of its own, with a control that Ctrl-C stops.
pub(super) fn detached<T, F>(py: Python<'_>, work: F) -> PyResult<T>
where
    T: Send,
    F: FnOnce(&Arc<Control>) -> Result<T> + Send,
{
    watched(py, |_, _| Ok(()), work)
}

/// The same; at each look `watch` is told too, with the steps done so far. What it raises stops the work.
pub(super) fn watched<T, F, W>(py: Python<'_>, watch: W, work: F) -> PyResult<T>
where
    T: Send,
    F: FnOnce(&Arc<Control>) -> Result<T> + Send,
    W: Fn(Python<'_>, u64) -> PyResult<()> + Send + Sync,
{
    looked_at(py, |py, control| watch(py, control.done()), work)
}

/// Runs `work` and tells `progress`, if it is given, parts finished and parts expected: at each look, and at the end.
pub(super) fn telling<T, F>(py: Python<'_>, progress: Option<&Py<PyAny>>, work: F) -> PyResult<T>
where
    T: Send,
    F: FnOnce(&Arc<Control>) -> Result<T> + Send,
{
    let Some(told) = progress else { return detached(py, work) };
    // Before it is known how much is to come there is nothing to tell.
    let tell = |py: Python<'_>, control: &Control| match control.progress() {
        (_, 0) => Ok(()),
        known => told.call1(py, known).map(|_| ()),
    };
    looked_at(py, tell, |control| {
        let found = work(control)?;
        // What ended early is finished too.
        let (finished, expected) = control.progress();
        control.finish(expected.saturating_sub(finished));
        Ok(found)
    })
}

fn looked_at<T, F, W>(py: Python<'_>, watch: W, work: F) -> PyResult<T>
where
    T: Send,
    F: FnOnce(&Arc<Control>) -> Result<T> + Send,
    W: Fn(Python<'_>, &Control) -> PyResult<()> + Send + Sync,
{
    let control = Arc::new(Control::new());
    let found = py.detach(|| run(&control, &watch, work))?;
    watch(py, &control)?;
    Ok(found)
}

fn run<T, F, W>(control: &Arc<Control>, watch: &W, work: F) -> PyResult<T>
where
    T: Send,
    F: FnOnce(&Arc<Control>) -> Result<T> + Send,
    W: Fn(Python<'_>, &Control) -> PyResult<()> + Send + Sync,
{
    let (done, wait) = channel();
    thread::scope(|scope| {
        let worker = scope.spawn(move || {
            let result = pool::inside(|| control.within(|| work(control)));
            // The receiver lives until this thread is joined.
            let _ = done.send(());
            result
        });
        let waited = awaited(&wait, control, |py| py.check_signals().and_then(|()| watch(py, control)));
        // What was stopped ends at its next step and is waited for: it borrows what it works on.
        let joined = worker.join();
        match (waited, joined) {
            (Err(signal), _) => Err(signal),
            (Ok(_), Ok(result)) => Ok(result?),
            (Ok(_), Err(_)) => Err(internal()),
        }
    })
}

/// Waits for what a thread sends, and looks every 100 ms; what a look raises stops the work. `None` where the thread ended without a word.
fn awaited<R, L>(wait: &Receiver<R>, control: &Control, look: L) -> PyResult<Option<R>>
where
    L: Fn(Python<'_>) -> PyResult<()>,
{
    loop {
        match wait.recv_timeout(LOOK_EVERY) {
            Ok(sent) => return Ok(Some(sent)),
            Err(RecvTimeoutError::Disconnected) => return Ok(None),
            Err(RecvTimeoutError::Timeout) => {
                if let Err(signal) = Python::attach(&look) {
                    control.stop();
                    return Err(signal);
                }
            }
        }
    }
}

/// Runs work that owns all it needs. Ctrl-C ends the wait at once, and the thread clears up behind it: giving back the memory of ten
/// million rows alone takes seconds.
pub(super) fn owned<T, F>(py: Python<'_>, work: F) -> PyResult<T>
where
    T: Send + 'static,
    F: FnOnce() -> Result<T> + Send + 'static,
{
    let control = Arc::new(Control::new());
    let (done, wait) = channel();
    let own = Arc::clone(&control);
    let worker = thread::Builder::new().spawn(move || {
        let found = catch_unwind(AssertUnwindSafe(|| pool::inside(|| own.within(work))));
        // Nobody waits any longer where it was stopped.
        let _ = done.send(found);
    });
    if worker.is_err() {
        return Err(internal());
    }
    let check = |py: Python<'_>| py.check_signals();
    py.detach(move || match awaited(&wait, &control, check)? {
        Some(Ok(found)) => Ok(found?),
        _ => Err(internal()),
    })
}

/// Work that ends within a fraction of a second, detached on the caller's own thread: another thread would cost more than such work.
pub(super) fn soon<T, F>(py: Python<'_>, work: F) -> PyResult<T>
where
    T: Send,
    F: FnOnce(&Arc<Control>) -> Result<T> + Send,
{
    let control = Arc::new(Control::new());
    match py.detach(|| catch_unwind(AssertUnwindSafe(|| pool::inside(|| work(&control))))) {
        Ok(found) => Ok(found?),
        Err(_) => Err(internal()),
    }
}

/// Work without a control: it ends soon by itself.
pub(super) fn quietly<T, F>(py: Python<'_>, work: F) -> PyResult<T>
where
    T: Send,
    F: FnOnce() -> Result<T> + Send,
{
    detached(py, |_| work())
}
