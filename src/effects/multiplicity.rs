//! Several P values at once: adjusted so that the whole list keeps its error rate.

use crate::choice::choice;
use crate::control::Control;
use crate::error::{CountError, Result};
use crate::report::references;

/// How a list of P values is adjusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Adjustment {
    /// Each P value times their number.
    Bonferroni,
    /// Step-down Bonferroni; holds whatever the dependence between the tests.
    #[default]
    Holm,
    /// Step-up; for independent or positively dependent tests.
    Hochberg,
    /// Closed testing with Simes' test; for independent or positively dependent tests.
    Hommel,
    /// Single step, `1 - (1 - p)^m`; for independent or positively dependent tests.
    Sidak,
    /// Step-down form of the same.
    SidakStepDown,
    /// False discovery rate; for independent or positively dependent tests.
    BenjaminiHochberg,
    /// False discovery rate whatever the dependence.
    BenjaminiYekutieli,
    /// As they are.
    None,
}

choice!(
    Adjustment, "adjustment":
    Bonferroni = "bonferroni",
    Holm = "holm",
    Hochberg = "hochberg",
    Hommel = "hommel",
    Sidak = "sidak",
    SidakStepDown = "sidak-step-down",
    BenjaminiHochberg = "benjamini-hochberg",
    BenjaminiYekutieli = "benjamini-yekutieli",
    None = "none",
);

impl Adjustment {
    /// The name in a sentence.
    #[must_use]
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Bonferroni => "Bonferroni",
            Self::Holm => "Holm",
            Self::Hochberg => "Hochberg",
            Self::Hommel => "Hommel",
            Self::Sidak => "Šidák",
            Self::SidakStepDown => "Šidák, step-down",
            Self::BenjaminiHochberg => "Benjamini-Hochberg",
            Self::BenjaminiYekutieli => "Benjamini-Yekutieli",
            Self::None => "no adjustment",
        }
    }

    /// True when the share of false claims among all claims is held, not the chance of any false claim.
    #[must_use]
    pub fn holds_discovery_rate(self) -> bool {
        matches!(self, Self::BenjaminiHochberg | Self::BenjaminiYekutieli)
    }

    /// True when intervals at [`Adjustment::interval_level`] leave out zero exactly where the adjusted P value is at most
    /// `1 - level`, given that interval and P value of a pair come from one method.
    #[must_use]
    pub fn matches_intervals(self) -> bool {
        matches!(self, Self::Bonferroni | Self::Sidak | Self::None)
    }

    /// The level of each of `m` intervals that hold together at `level`: `1 - (1 - level) / m` (Bonferroni), or
    /// `level^(1/m)` for the two Sidak forms. Stepwise P values have no simple intervals of their own; theirs are the
    /// single-step ones.
    ///
    /// ```
    /// use rootling::effects::Adjustment;
    /// approx::assert_relative_eq!(Adjustment::Holm.interval_level(0.95, 5), 0.99, epsilon = 0.0, max_relative = 1e-15);
    /// ```
    #[must_use]
    pub fn interval_level(self, level: f64, m: usize) -> f64 {
        let m = m.max(1) as f64;
        match self {
            Self::None => level,
            Self::Sidak | Self::SidakStepDown => (level.ln() / m).exp(),
            _ => 1.0 - (1.0 - level) / m,
        }
    }
}

/// P values adjusted for their number, in the order given; each between 0 and 1.
///
/// With `p(1) <= ... <= p(m)`: Bonferroni `m p`; Holm the running maximum of `(m - i + 1) p(i)`; Hochberg the running
/// minimum of the same from the largest down; Hommel by closed testing; Sidak `1 - (1 - p)^m`, step-down
/// the running maximum of `1 - (1 - p(i))^(m - i + 1)`; Benjamini-Hochberg the running minimum of `m p(i) / i` from the
/// largest down, Benjamini-Yekutieli that times `1 + 1/2 + ... + 1/m`. An adjusted value is never below the raw one nor
/// above 1, and stays exact for P values down to the smallest a float holds.
///
/// # Errors
/// A count error naming the entry when a value is not between 0 and 1; [`crate::Error::Interrupted`] when stopped (Hommel
/// takes time with the square of the number).
///
/// # References
/// Holm S (1979); Hochberg Y (1988), Biometrika 75:800-802; Hommel G (1988), Biometrika 75:383-386; Wright SP (1992),
/// Biometrics 48:1005-1013; Sidak Z (1967), JASA 62:626-633; Benjamini Y, Hochberg Y (1995); Benjamini Y, Yekutieli D
/// (2001), Ann. Stat. 29:1165-1188.
///
/// ```
/// use rootling::effects::{Adjustment, adjusted_p};
/// let found = adjusted_p(&[0.01, 0.04, 0.03], Adjustment::Holm, &rootling::control::Control::new())?;
/// assert_eq!(found, vec![0.03, 0.06, 0.06]);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn adjusted_p(p_values: &[f64], method: Adjustment, control: &Control) -> Result<Vec<f64>> {
    for (at, value) in p_values.iter().enumerate() {
        if !(0.0..=1.0).contains(value) {
            let problem = Box::new(CountError::OutOfRange { name: "P value", value: *value, low: 0.0, high: 1.0 });
            return Err(CountError::Entry { index: at + 1, problem }.into());
        }
    }
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    let raw = |at: &usize| p_values.get(*at).copied().unwrap_or(1.0);
    order.sort_by(|a, b| raw(a).total_cmp(&raw(b)));
    let sorted: Vec<f64> = order.iter().map(raw).collect();
    let adjusted = ascending(&sorted, method, control)?;
    let mut placed = vec![1.0; p_values.len()];
    for ((at, value), p) in order.iter().zip(adjusted).zip(&sorted) {
        if let Some(place) = placed.get_mut(*at) {
            *place = value.clamp(*p, 1.0);
        }
    }
    Ok(placed)
}

/// Adjusts P values in ascending order.
fn ascending(sorted: &[f64], method: Adjustment, control: &Control) -> Result<Vec<f64>> {
    let m = sorted.len() as f64;
    let left = |at: usize| m - at as f64;
    let harmonic: f64 = (1..=sorted.len()).map(|i| 1.0 / i as f64).sum();
    let each = |change: &dyn Fn(usize, f64) -> f64| -> Vec<f64> {
        sorted.iter().enumerate().map(|(at, p)| change(at, *p)).collect()
    };
    Ok(match method {
        Adjustment::None => sorted.to_vec(),
        Adjustment::Bonferroni => each(&|_, p| m * p),
        Adjustment::Holm => running_maximum(each(&|at, p| left(at) * p)),
        Adjustment::Hochberg => running_minimum(each(&|at, p| left(at) * p)),
        Adjustment::Sidak => each(&|_, p| any_of(p, m)),
        Adjustment::SidakStepDown => running_maximum(each(&|at, p| any_of(p, left(at)))),
        Adjustment::BenjaminiHochberg => running_minimum(each(&|at, p| m * p / (at + 1) as f64)),
        Adjustment::BenjaminiYekutieli => running_minimum(each(&|at, p| harmonic * m * p / (at + 1) as f64)),
        Adjustment::Hommel => hommel(sorted, control)?,
    })
}

/// `1 - (1 - p)^m` without loss for small p.
fn any_of(p: f64, m: f64) -> f64 {
    -(m * (-p).ln_1p()).exp_m1()
}

fn running_maximum(mut values: Vec<f64>) -> Vec<f64> {
    let mut most = 0.0_f64;
    for value in &mut values {
        most = most.max(*value);
        *value = most;
    }
    values
}

fn running_minimum(mut values: Vec<f64>) -> Vec<f64> {
    let mut least = 1.0_f64;
    for value in values.iter_mut().rev() {
        least = least.min(*value);
        *value = least;
    }
    values
}

/// Hommel's adjusted values by the largest Simes value over all subsets that hold a P value (Wright 1992, appendix): of the
/// subsets of `size`, the worst holds the `size` largest values, or the value itself and the `size - 1` largest.
fn hommel(sorted: &[f64], control: &Control) -> Result<Vec<f64>> {
    let n = sorted.len();
    let mut adjusted = sorted.to_vec();
    for size in (2..=n).rev() {
        control.step()?;
        let (small, large) = sorted.split_at(n - size);
        // Simes' value of the `size` largest without their smallest, and of all of them.
        let scaled = |(at, p): (usize, &f64)| size as f64 * p / (at + 1) as f64;
        let others = large.iter().enumerate().skip(1).map(scaled).fold(f64::INFINITY, f64::min);
        let whole = large.first().map_or(others, |least| others.min(size as f64 * least));
        let (low, high) = adjusted.split_at_mut(n - size);
        for value in high {
            *value = value.max(whole);
        }
        for (value, p) in low.iter_mut().zip(small) {
            *value = value.max(others.min(size as f64 * p));
        }
    }
    Ok(adjusted)
}

/// What to cite for an adjustment and the intervals that go with it.
pub(crate) fn cited(adjust: Adjustment) -> &'static [&'static str] {
    match adjust {
        Adjustment::Bonferroni => &[references::DUNN_1961],
        Adjustment::Holm => &[references::HOLM_1979, references::DUNN_1961],
        Adjustment::Hochberg => &[references::HOCHBERG_1988, references::DUNN_1961],
        Adjustment::Hommel => &[references::HOMMEL_1988, references::WRIGHT_1992, references::DUNN_1961],
        Adjustment::Sidak | Adjustment::SidakStepDown => &[references::SIDAK_1967],
        Adjustment::BenjaminiHochberg => &[references::BENJAMINI_HOCHBERG_1995, references::DUNN_1961],
        Adjustment::BenjaminiYekutieli => &[references::BENJAMINI_YEKUTIELI_2001, references::DUNN_1961],
        Adjustment::None => &[],
    }
}
