//! How many plants to start so that so many reach the end, and what so many started will bring.

use crate::control::checkpoint;
use crate::error::{Result, StepsError};
use crate::math::distributions::{beta_binomial, binomial, normal, student_t};

/// What is known of the plants that will reach the end of all that are started.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StartLaw {
    /// The overall yield expected.
    pub take: f64,
    /// Plants of one batch, which share its luck.
    pub batch_size: f64,
    /// Correlation of two plants of one batch.
    pub correlation: f64,
    /// Standard deviation of seasons on the log odds; 0 where only a season like those at hand is meant.
    pub season_sd: f64,
    /// Standard error of the yield on the log odds.
    pub se: f64,
    /// Degrees of freedom of what is known of seasons and yield; infinite for the normal law.
    pub df: f64,
}

/// Equally likely parts that the law of the season's yield is cut into.
const PARTS: usize = 400;
/// The smallest shape of a beta law that is worked with.
const SMALLEST_SHAPE: f64 = 0.011;
/// Largest spread on the log odds that is taken for one.
const WIDEST: f64 = 5.0;
/// Most plants that are thought of.
const MOST: u64 = 1_000_000_000;

impl StartLaw {
    /// Checked and ready to be asked.
    ///
    /// # Errors
    /// [`StepsError::NoSuchStart`] for a number that cannot be.
    pub fn check(&self) -> Result<()> {
        let wrong = |name: &'static str, value: f64, wanted: &'static str| -> Result<()> {
            Err(StepsError::NoSuchStart { name, value, wanted }.into())
        };
        if !(self.take > 0.0 && self.take < 1.0) {
            return wrong("take", self.take, "above 0 and below 1");
        }
        if !(self.batch_size >= 1.0 && self.batch_size.is_finite()) {
            return wrong("batch_size", self.batch_size, "a number of plants of 1 or more");
        }
        if !(0.0..1.0).contains(&self.correlation) {
            return wrong("correlation", self.correlation, "0 or more and below 1");
        }
        for (name, value) in [("season_sd", self.season_sd), ("se", self.se)] {
            if !(0.0..=WIDEST).contains(&value) {
                return wrong(name, value, "a spread on the log odds from 0 to 5");
            }
        }
        if self.df.is_nan() || self.df < 1.0 {
            return wrong("df", self.df, "1 or more");
        }
        Ok(())
    }

    /// Yields that are equally likely.
    fn yields(&self) -> Vec<f64> {
        let sd = self.season_sd.hypot(self.se);
        if sd == 0.0 {
            return vec![self.take];
        }
        let centre = (self.take / (1.0 - self.take)).ln();
        let quantile = |p: f64| if self.df.is_finite() { student_t::quantile(p, self.df) } else { normal::quantile(p) };
        let at = |part: usize| (part as f64 + 0.5) / PARTS as f64;
        (0..PARTS).map(|part| 1.0 / (1.0 + (-(centre + sd * quantile(at(part)))).exp())).collect()
    }

    /// The chance that at least `wanted` of `started` plants reach the end at each of these yields, averaged.
    fn chance(&self, yields: &[f64], started: u64, wanted: u64) -> f64 {
        if wanted == 0 {
            return 1.0;
        }
        let (n, below) = (started as f64, wanted as f64 - 1.0);
        // The sum over batches varies like one large batch of this correlation.
        let shared = (self.batch_size.min(n) - 1.0) * self.correlation / (n - 1.0).max(1.0);
        let more = |take: f64| {
            checkpoint();
            over(below, n, take, shared)
        };
        yields.iter().map(|take| more(*take)).sum::<f64>() / yields.len() as f64
    }

    /// The chance that at least `wanted` of `started` plants reach the end.
    ///
    /// Plants of a batch are alike by a beta-binomial law; the sum over batches has its mean, variance and ends from one beta-binomial law
    /// of all. The season's log odds are normal, or t, about those of the yield expected, with the variances of seasons and of the estimate.
    ///
    /// # Errors
    /// As [`StartLaw::check`].
    ///
    /// ```
    /// use rootling::steps::StartLaw;
    /// let law = StartLaw { take: 0.36, batch_size: 40.0, correlation: 0.1, season_sd: 0.0, se: 0.0, df: f64::INFINITY };
    /// let alone = StartLaw { correlation: 0.0, ..law };
    /// // 609 plants look safe for 200 trees where each stands alone, and are not where batches differ.
    /// assert_eq!(format!("{:.2} {:.2}", alone.assurance(609, 200)?, law.assurance(609, 200)?), "0.95 0.77");
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn assurance(&self, started: u64, wanted: u64) -> Result<f64> {
        self.check()?;
        Ok(self.chance(&self.yields(), started, wanted))
    }

    /// The fewest plants to start so that at least `wanted` reach the end with this chance; None where a thousand million do not do.
    ///
    /// # Errors
    /// As [`StartLaw::check`], and for an assurance that is not between 0 and 1.
    ///
    /// ```
    /// use rootling::steps::StartLaw;
    /// let law = StartLaw { take: 0.36, batch_size: 40.0, correlation: 0.1, season_sd: 0.0, se: 0.0, df: f64::INFINITY };
    /// assert_eq!(law.needed(200, 0.95)?, Some(679));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn needed(&self, wanted: u64, assurance: f64) -> Result<Option<u64>> {
        self.check()?;
        check_assurance(assurance)?;
        let yields = self.yields();
        let enough = |started: u64| self.chance(&yields, started, wanted) >= assurance;
        if wanted == 0 {
            return Ok(Some(0));
        }
        let (mut low, mut high) = (wanted.saturating_sub(1), wanted);
        while !enough(high) {
            if high >= MOST {
                return Ok(None);
            }
            (low, high) = (high, high.saturating_mul(2).min(MOST));
        }
        while high - low > 1 {
            let middle = low.midpoint(high);
            if enough(middle) { high = middle } else { low = middle }
        }
        Ok(Some(high))
    }

    /// How many reach the end of `started` plants with this chance, at least.
    ///
    /// # Errors
    /// As [`StartLaw::needed`].
    ///
    /// ```
    /// use rootling::steps::StartLaw;
    /// let law = StartLaw { take: 0.36, batch_size: 40.0, correlation: 0.1, season_sd: 0.0, se: 0.0, df: f64::INFINITY };
    /// assert_eq!(law.sure_of(679, 0.95)?, 200);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn sure_of(&self, started: u64, assurance: f64) -> Result<u64> {
        self.check()?;
        check_assurance(assurance)?;
        let yields = self.yields();
        let (mut sure, mut beyond) = (0, started + 1);
        while beyond - sure > 1 {
            let middle = sure.midpoint(beyond);
            if self.chance(&yields, started, middle) >= assurance { sure = middle } else { beyond = middle }
        }
        Ok(sure)
    }
}

fn check_assurance(assurance: f64) -> Result<()> {
    if assurance > 0.0 && assurance < 1.0 {
        return Ok(());
    }
    Err(StepsError::NoSuchStart { name: "assurance", value: assurance, wanted: "between 0 and 1" }.into())
}

/// P(X > below) of a beta-binomial count. At yields so near to 0 or 1 that hardly a batch could differ from the next a shape of the law
/// would vanish; the correlation is then held to what leaves it [`SMALLEST_SHAPE`].
fn over(below: f64, n: f64, take: f64, correlation: f64) -> f64 {
    let most = take.min(1.0 - take) / SMALLEST_SHAPE;
    let held = correlation.min(most / (1.0 + most));
    let by_batches = if held > 0.0 { beta_binomial::sf(below, n, take, held) } else { None };
    by_batches.unwrap_or_else(|| binomial::sf(below, n, take))
}
