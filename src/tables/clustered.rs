//! Chi-square tests of take rates adjusted for trays, under their authors' names, and judged by F.

use crate::counts::tables::chi_square_result;
use crate::estimate::{TestName, TestResult};
use crate::math::distributions::{chi_squared, fisher_f};
use crate::rates::{Arm, TraySpread};

/// The design effect of one treatment, estimated from its own trays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArmEffect {
    /// Take rate.
    pub rate: f64,
    /// Its standard error by the ratio estimator, from the trays.
    pub se: f64,
    /// Its variance over the binomial one at the same rate; 1 where every cutting rooted or none did.
    pub design_effect: f64,
}

/// Design effects from each treatment's own trays: with `k` trays of `m` cuttings, `x` rooted, `p = sum x / n` and
/// `v = k / (k - 1) / n^2 sum (x - p m)^2`, the effect is `n v / (p (1 - p))`. `None` when a treatment has a single tray.
///
/// # References
/// Rao JNK, Scott AJ (1992), Biometrics 48:577-585.
///
/// ```
/// use rootling::{rates::Arm, tables::arm_effects};
/// let arm = Arm { rooted: vec![3, 9, 6], stuck: vec![20, 20, 20] };
/// assert!(arm_effects(&[arm]).is_some_and(|effects| effects[0].design_effect > 1.0));
/// ```
#[must_use]
pub fn arm_effects(arms: &[Arm]) -> Option<Vec<ArmEffect>> {
    arms.iter()
        .map(|arm| {
            let trays = arm.stuck.len() as f64;
            let (rate, (_, stuck)) = (arm.rate(), arm.total());
            let residuals = arm.rooted.iter().zip(&arm.stuck).map(|(x, m)| (*x as f64 - rate * *m as f64).powi(2));
            let variance = trays / (trays - 1.0) / (stuck * stuck) * residuals.sum::<f64>();
            let binomial = rate * (1.0 - rate) / stuck;
            let design_effect = if binomial > 0.0 { variance / binomial } else { 1.0 };
            (trays > 1.0).then(|| ArmEffect { rate, se: variance.sqrt(), design_effect })
        })
        .collect()
}

fn overall(arms: &[Arm]) -> Option<f64> {
    let (rooted, stuck) = arms.iter().map(Arm::total).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let rate = rooted / stuck;
    (arms.len() > 1 && rate > 0.0 && rate < 1.0).then_some(rate)
}

/// Chi-square of arms adjusted for the intraclass correlation: each arm's cuttings are divided by its correction factor
/// `C = 1 + (sum(m^2)/sum(m) - 1) icc`; the statistic is `sum n_a (p_a - p)^2 / (C_a p (1 - p))` with `p` the overall rate.
///
/// `None` when every cutting rooted or none did.
///
/// # References
/// Donner A (1989); Donner A, Klar N (2000), chapter 6.
#[must_use]
pub fn donner_chi_square(arms: &[Arm], spread: &TraySpread) -> Option<TestResult> {
    let (rooted, stuck) = arms.iter().map(Arm::total).fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let overall = rooted / stuck;
    if !(overall > 0.0 && overall < 1.0) {
        return None;
    }
    // A negative correlation is kept at 0 by `icc_used`, so the test is never sharper than Pearson's.
    let statistic: f64 = arms
        .iter()
        .map(|arm| {
            arm.total().1 * (arm.rate() - overall).powi(2) / (spread.design_effect(arm) * overall * (1.0 - overall))
        })
        .sum();
    let df = arms.len() as f64 - 1.0;
    Some(TestResult {
        method: TestName::Donner,
        statistic: Some(statistic),
        df: Some(df),
        error_df: None,
        p: chi_squared::sf(statistic, df),
    })
}

/// Chi-square of counts divided by each treatment's own design effect, with the overall rate of the divided counts.
///
/// Design effects below 1 count as 1, so that trays more alike than chance never sharpen the test. `None` when a treatment has a single
/// tray, or every cutting rooted or none did. With few trays the effects are poorly known; see [`judged_by_f`].
///
/// # References
/// Rao JNK, Scott AJ (1992), Biometrics 48:577-585.
///
/// ```
/// use rootling::{rates::Arm, tables::rao_scott};
/// let arm = |rooted: [u64; 3]| Arm { rooted: rooted.to_vec(), stuck: vec![20, 20, 20] };
/// let test = rao_scott(&[arm([3, 9, 6]), arm([12, 8, 15])]).ok_or("single trays")?;
/// assert!(test.p > 0.01 && test.p < 0.2);
/// # Ok::<(), &str>(())
/// ```
#[must_use]
pub fn rao_scott(arms: &[Arm]) -> Option<TestResult> {
    overall(arms)?;
    let effects = arm_effects(arms)?;
    let divided: Vec<(f64, f64)> = arms
        .iter()
        .zip(&effects)
        .map(|(arm, effect)| (arm.rate(), arm.total().1 / effect.design_effect.max(1.0)))
        .collect();
    let all: f64 = divided.iter().map(|(_, n)| n).sum();
    let rate = divided.iter().map(|(p, n)| p * n).sum::<f64>() / all;
    let statistic = divided.iter().map(|(p, n)| n * (p - rate).powi(2) / (rate * (1.0 - rate))).sum();
    Some(chi_square_result(TestName::RaoScott, statistic, arms.len() as f64 - 1.0))
}

/// Pearson's chi-square divided by the mean generalised design effect (first order), and by `1 + a^2` as well with as many fewer
/// degrees of freedom (second order), `a` the coefficient of variation of the effects.
///
/// With design effects `d = n v / (p (1 - p))` at the overall rate (not below 1) and shares `f = n / N`, the generalised effects are the
/// eigenvalues of `P D`, `P = I - sqrt(f) sqrt(f)'`; only their sum and sum of squares are needed. `None` as in [`rao_scott`].
///
/// # References
/// Rao JNK, Scott AJ (1984), Ann. Stat. 12:46-60.
///
/// ```
/// use rootling::{rates::Arm, tables::rao_scott_orders};
/// let arm = |rooted: [u64; 3]| Arm { rooted: rooted.to_vec(), stuck: vec![20, 20, 20] };
/// let [first, second] = rao_scott_orders(&[arm([3, 9, 6]), arm([12, 8, 15])]).ok_or("single trays")?;
/// assert_eq!(first.df, second.df); // one effect only, so the orders agree
/// # Ok::<(), &str>(())
/// ```
#[must_use]
pub fn rao_scott_orders(arms: &[Arm]) -> Option<[TestResult; 2]> {
    let rate = overall(arms)?;
    let effects = arm_effects(arms)?;
    let all: f64 = arms.iter().map(|arm| arm.total().1).sum();
    let binomial = rate * (1.0 - rate);
    let parts: Vec<(f64, f64)> = arms
        .iter()
        .zip(&effects)
        .map(|(arm, effect)| {
            let n = arm.total().1;
            (n / all, (n * effect.se.powi(2) / binomial).max(1.0))
        })
        .collect();
    let pearson: f64 = arms.iter().map(|arm| arm.total().1 * (arm.rate() - rate).powi(2) / binomial).sum();
    let df = arms.len() as f64 - 1.0;
    let sum: f64 = parts.iter().map(|(share, effect)| (1.0 - share) * effect).sum();
    // trace of (P D)^2: sum d^2 (1 - f)^2 and, off the diagonal, sum f g d e.
    let own: f64 = parts.iter().map(|(share, effect)| (effect * (1.0 - share)).powi(2)).sum();
    let weighted: f64 = parts.iter().map(|(share, effect)| share * effect).sum();
    let same: f64 = parts.iter().map(|(share, effect)| (share * effect).powi(2)).sum();
    let squares = own + weighted * weighted - same;
    let mean = sum / df;
    let spread = (squares / (df * mean * mean)).max(1.0);
    Some([
        chi_square_result(TestName::RaoScottFirstOrder, pearson / mean, df),
        chi_square_result(TestName::RaoScottSecondOrder, pearson / (mean * spread), df / spread),
    ])
}

/// An adjusted chi-square over its degrees of freedom, judged by F with `trays_dof` (trays minus treatments) in the denominator:
/// with few trays the chi-square tail, which takes the design effects as known, is too sharp.
///
/// # References
/// Thomas DR, Rao JNK (1987), JASA 82:630-636.
#[must_use]
pub fn judged_by_f(test: TestResult, trays_dof: f64) -> TestResult {
    let (Some(statistic), Some(df)) = (test.statistic, test.df) else { return test };
    let p = fisher_f::sf(statistic / df, df, trays_dof);
    TestResult { error_df: Some(trays_dof), p, ..test }
}
