//! Threads for work in parallel, also in a process made by a fork.
//!
//! A fork copies the memory of a process but none of its threads, so whoever asks the copied pool for work waits for ever. Each process
//! that is not the one the package was loaded in therefore gets a pool of its own, made when it is first asked for. There is no lock: one
//! that was held at the fork would stay held.

use std::process;
use std::sync::OnceLock;

use rayon::{ThreadPool, ThreadPoolBuilder};

/// How many forks deep a process may be.
const DEEPEST: usize = 8;

type Owned = (u32, ThreadPool);

static HOME: OnceLock<u32> = OnceLock::new();
static OTHERS: [OnceLock<Owned>; DEEPEST] = [const { OnceLock::new() }; DEEPEST];

/// Remembers the process the package is loaded in.
pub(super) fn at_home() {
    let _ = HOME.set(process::id());
}

/// Runs `work` where its parallel loops find living threads.
pub(super) fn inside<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    let here = process::id();
    if HOME.get().is_none_or(|home| *home == here) {
        return work();
    }
    match own(here) {
        Some(pool) => pool.install(work),
        // No thread to be had, or too deep: one thread that is made for this work alone does it all.
        None => match ThreadPoolBuilder::new().num_threads(1).use_current_thread().build() {
            Ok(pool) => pool.install(work),
            Err(_) => work(),
        },
    }
}

/// The pool of this process: slots before it belong to the processes it was forked from.
fn own(here: u32) -> Option<&'static ThreadPool> {
    OTHERS.iter().find_map(|slot| {
        if slot.get().is_none() {
            let pool = ThreadPoolBuilder::new().build().ok()?;
            let _ = slot.set((here, pool));
        }
        slot.get().filter(|(owner, _)| *owner == here).map(|(_, pool)| pool)
    })
}
