//! Seeded replicates in parallel.

use rayon::prelude::*;

use crate::control::Control;
use crate::error::Result;
use crate::math::rng;

/// Replicates worked off by one task.
const CHUNK: u64 = 64;

/// Runs `count` replicates and adds up what they give. Replicate `i` draws from stream `first + i` of `seed`, and sums are
/// taken in the order of replicates, so the result does not depend on the number of threads.
///
/// # Errors
/// [`crate::Error::Interrupted`] when stopped, or the first error of a replicate.
///
/// ```
/// use rootling::control::Control;
/// use rootling::math::rng;
/// let heads = rootling::simulate::replicates(
///     1000, 7, 0, &Control::new(),
///     |random| Ok(u64::from(rng::uniform(random) < 0.5)),
///     |sum: &mut u64, one| *sum += one,
/// )?;
/// assert!((430..570).contains(&heads));
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn replicates<One: Send, Sum: Default + Send>(
    count: u64,
    seed: u64,
    first: u64,
    control: &Control,
    one: impl Fn(&mut rng::ChaCha8Rng) -> Result<One> + Sync,
    add: impl Fn(&mut Sum, One),
) -> Result<Sum> {
    let chunks: Vec<Vec<One>> = (0..count.div_ceil(CHUNK))
        .into_par_iter()
        .map(|chunk| {
            control.step()?;
            let inside = chunk * CHUNK..((chunk + 1) * CHUNK).min(count);
            inside.map(|replicate| one(&mut rng::stream(seed, first + replicate))).collect()
        })
        .collect::<Result<_>>()?;
    let mut sum = Sum::default();
    chunks.into_iter().flatten().for_each(|one| add(&mut sum, one));
    Ok(sum)
}
