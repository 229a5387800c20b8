//! Means of units that hold many values each (trays of cuttings), with variances that follow what units of each level show.

use crate::math::dense::{Qr, dot};

/// Where a column keeps less of its length beside the others, it is one of them.
const TOLERANCE: f64 = 1e-9;
/// What all levels together lead to expect of a level's variance counts as so many degrees of freedom beside its own.
const SHARED: f64 = 2.0;
/// Variances are expected to grow with the mean by this power.
const POWER: f64 = 1.5;
/// Units up to which degrees of freedom are worked out in full.
const MOST: usize = 1_500;

/// Units with what they hold: `n` entries each.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct UnitValues {
    /// Values held (cuttings), above 0.
    pub sizes: Vec<f64>,
    /// Their sums.
    pub totals: Vec<f64>,
    /// Their sums of squares.
    pub squares: Vec<f64>,
    /// The level of each unit, 0, 1, ...
    pub levels: Vec<usize>,
    /// Places taken out side by side: for each the code of every unit.
    pub beside: Vec<Vec<usize>>,
    /// The mean that a level without any is taken to have where its variance is worked out, times its values: one of what is counted.
    pub least: f64,
}

/// A difference or a mean of levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitContrast {
    /// The estimate.
    pub value: f64,
    /// Its variance.
    pub variance: f64,
    /// Degrees of freedom of the variance.
    pub df: f64,
}

/// The least-squares fit of unit means, weighted by what units hold.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitMeans<'a> {
    values: &'a UnitValues,
    qr: Qr,
    coef: Vec<f64>,
    leverages: Vec<f64>,
    residuals: Vec<f64>,
    /// Mean, values and units of each level.
    told: Vec<Level>,
    /// The variance of one value over `mean^1.5`, and the degrees of freedom behind it, of all levels together.
    common: (f64, f64),
}

#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Level {
    size: f64,
    total: f64,
    units: f64,
    within: f64,
}

impl Level {
    fn mean(&self) -> f64 {
        self.total / self.size
    }

    /// The variance of one value within units.
    fn of_values(&self) -> f64 {
        self.within / (self.size - self.units).max(1.0)
    }
}

impl<'a> UnitMeans<'a> {
    /// Fits levels and places; `None` without units.
    ///
    /// `mean of unit i = level + places + error`, weights `sizes`. Without places the mean of a level is its total over its values, the
    /// ratio estimate.
    ///
    /// # References
    /// Cochran WG (1977), Sampling Techniques, chapter 6; Bell RM, `McCaffrey` DF (2002), Surv. Methodol. 28:169-181.
    ///
    /// ```
    /// use rootling::math::regression::{UnitMeans, UnitValues};
    /// let values = UnitValues {
    ///     sizes: vec![10.0, 20.0, 10.0, 10.0], totals: vec![20.0, 50.0, 40.0, 60.0], squares: vec![60.0, 150.0, 180.0, 380.0],
    ///     levels: vec![0, 0, 1, 1], beside: Vec::new(), least: 1.0,
    /// };
    /// let found = UnitMeans::fit(&values).and_then(|fit| fit.contrast(&[-1.0, 1.0])).unwrap();
    /// approx::assert_relative_eq!(found.value, 5.0 - 70.0 / 30.0, max_relative = 1e-12);
    /// ```
    #[must_use]
    pub fn fit(values: &'a UnitValues) -> Option<Self> {
        let n = values.sizes.len();
        let levels = values.levels.iter().max()? + 1;
        let mut told = vec![Level::default(); levels];
        for (unit, level) in values.levels.iter().enumerate() {
            let (size, total, squares) = (values.sizes.get(unit)?, values.totals.get(unit)?, values.squares.get(unit)?);
            let own = told.get_mut(*level)?;
            own.size += size;
            own.total += total;
            own.units += 1.0;
            own.within += (squares - total * total / size).max(0.0);
        }
        let roots: Vec<f64> = values.sizes.iter().map(|size| size.sqrt()).collect();
        let column = |codes: &[usize], code: usize| -> Vec<f64> {
            codes.iter().zip(&roots).map(|(own, root)| if *own == code { *root } else { 0.0 }).collect()
        };
        let mut columns: Vec<Vec<f64>> = (0..levels).map(|level| column(&values.levels, level)).collect();
        for codes in &values.beside {
            let most = codes.iter().max().copied().unwrap_or_default();
            columns.extend((0..=most).map(|code| column(codes, code)));
        }
        let qr = Qr::new(&columns, TOLERANCE);
        let weighted: Vec<f64> = values.totals.iter().zip(&roots).map(|(total, root)| total / root).collect();
        let projected = qr.project(&weighted);
        let coef = qr.solve_upper(&projected);
        let mut residuals = weighted;
        for (q, along) in qr.basis().iter().zip(&projected) {
            residuals.iter_mut().zip(q).for_each(|(residual, q)| *residual -= along * q);
        }
        residuals.iter_mut().zip(&roots).for_each(|(residual, root)| *residual /= root);
        let leverages = qr.hat(n);
        let mut fit = Self { values, qr, coef, leverages, residuals, told, common: (0.0, 0.0) };
        fit.common = fit.in_common();
        Some(fit)
    }

    /// What all levels show of the variance of a value, in proportion to `mean^1.5`, with its degrees of freedom.
    fn in_common(&self) -> (f64, f64) {
        let (mut sum, mut df) = (0.0, 0.0);
        for (level, told) in self.told.iter().enumerate().filter(|(_, told)| told.total > 0.0) {
            let part = self.own(level, &self.values.sizes);
            if part.df > 0.0 {
                sum += part.df * part.own / (part.spread * told.mean().powf(POWER));
                df += part.df;
            }
        }
        (if df > 0.0 { sum / df } else { 0.0 }, df)
    }

    /// `sum of contrast x level`: its value, its variance and degrees of freedom. `None` where a level of it has no unit to spare, or is not
    /// told from places.
    ///
    /// The variance is that of each unit's own residual, `sum c_i^2 e_i^2 / (1 - h_i)`, summed by levels. That of a level is never below
    /// what its values alone make it, and is averaged with what all levels lead to expect (`mean^1.5`), which counts as two degrees of
    /// freedom. Degrees of freedom are Satterthwaite's under these variances.
    #[must_use]
    pub fn contrast(&self, contrast: &[f64]) -> Option<UnitContrast> {
        let kept: Vec<f64> = self.qr.kept.iter().map(|at| contrast.get(*at).copied().unwrap_or(0.0)).collect();
        let lost = (0..contrast.len()).any(|at| contrast.get(at) != Some(&0.0) && !self.qr.kept.contains(&at));
        if lost {
            return None;
        }
        let shares = self.shares(&kept);
        let parts = self.by_level(&shares)?;
        let variance: f64 = parts.iter().map(|part| part.variance).sum();
        let df = self.degrees(&shares, &parts);
        Some(UnitContrast { value: dot(&kept, &self.coef), variance, df })
    }

    /// What each level adds to the variance of a contrast.
    #[must_use]
    pub fn level_variances(&self, contrast: &[f64]) -> Option<Vec<f64>> {
        let kept: Vec<f64> = self.qr.kept.iter().map(|at| contrast.get(*at).copied().unwrap_or(0.0)).collect();
        let parts = self.by_level(&self.shares(&kept))?;
        Some(parts.iter().map(|part| part.variance).collect())
    }

    /// What each unit's mean adds to the contrast.
    fn shares(&self, kept: &[f64]) -> Vec<f64> {
        let along = self.qr.solve_lower(kept);
        let mut shares = vec![0.0; self.values.sizes.len()];
        for (q, along) in self.qr.basis().iter().zip(&along) {
            shares.iter_mut().zip(q).for_each(|(share, q)| *share += along * q);
        }
        shares.iter_mut().zip(&self.values.sizes).for_each(|(share, size)| *share *= size.sqrt());
        shares
    }

    /// `(I - H) W^-1 (I - H)'` of two units.
    fn common(&self, one: usize, other: usize) -> f64 {
        let at = |unit: usize| self.values.sizes.get(unit).map_or(0.0, |size| size.sqrt());
        let product: f64 = self.qr.basis().iter().map(|q| entry(q, one) * entry(q, other)).sum();
        let own = if one == other { 1.0 } else { 0.0 };
        (own - product) / (at(one) * at(other))
    }

    fn by_level(&self, shares: &[f64]) -> Option<Vec<Part>> {
        if self.common.1 <= 0.0 {
            return None;
        }
        let mut parts: Vec<Part> = (0..self.told.len()).map(|level| self.own(level, shares)).collect();
        for (part, told) in parts.iter_mut().zip(&self.told).filter(|(part, _)| part.spread > 0.0) {
            let mean = if told.total > 0.0 { told.mean() } else { self.values.least / told.size };
            let expected = self.common.0 * mean.powf(POWER) * part.spread;
            let df = if told.total > 0.0 { part.df } else { 0.0 };
            part.variance = (df * part.own + SHARED * expected) / (df + SHARED);
            // A level that shows nothing of its own is judged by what the others show.
            if part.df <= 0.0 {
                (part.df, part.borrowed) = (self.common.1, true);
            }
        }
        Some(parts)
    }

    /// What a level's own residuals make the variance of a contrast.
    fn own(&self, level: usize, shares: &[f64]) -> Part {
        let own = |unit: &usize| self.values.levels.get(*unit) == Some(&level) && entry(shares, *unit).abs() > 1e-12;
        let used: Vec<usize> = (0..shares.len()).filter(own).collect();
        let (mut part, mut told) = (Part::default(), 0.0);
        for unit in &used {
            let (share, left) = (entry(shares, *unit), 1.0 - entry(&self.leverages, *unit));
            let spread = share * share / entry(&self.values.sizes, *unit);
            part.spread += spread;
            // A unit that is alone in its cell shows nothing of how units differ.
            if left > TOLERANCE {
                part.own += share * share * entry(&self.residuals, *unit).powi(2) / left;
                told += spread;
            }
        }
        if told > 0.0 {
            part.own *= part.spread / told;
            part.df = self.of_level(shares, &used);
        }
        let of_values = self.told.get(level).map_or(0.0, Level::of_values);
        part.own = part.own.max(of_values * part.spread);
        part
    }

    /// Degrees of freedom of one level's own sum.
    fn of_level(&self, shares: &[f64], units: &[usize]) -> f64 {
        let weights: Vec<(usize, f64)> = units
            .iter()
            .map(|unit| (*unit, 1.0 - entry(&self.leverages, *unit)))
            .filter(|(_, left)| *left > TOLERANCE)
            .map(|(unit, left)| (unit, entry(shares, unit).powi(2) / left))
            .collect();
        if weights.len() > MOST {
            return (weights.len() - 1) as f64;
        }
        let (mut sum, mut squares) = (0.0, 0.0);
        for (at, (one, a)) in weights.iter().enumerate() {
            sum += a * self.common(*one, *one);
            squares += (a * self.common(*one, *one)).powi(2);
            for (other, b) in weights.iter().skip(at + 1) {
                squares += 2.0 * a * b * self.common(*one, *other).powi(2);
            }
        }
        if squares > 0.0 { sum * sum / squares } else { 0.0 }
    }

    /// Satterthwaite's degrees of freedom under the variances of the levels.
    fn degrees(&self, shares: &[f64], parts: &[Part]) -> f64 {
        let by_levels = || {
            let (sum, squares) = parts.iter().filter(|part| part.df > 0.0).fold((0.0, 0.0), |(sum, squares), part| {
                (sum + part.variance, squares + part.variance.powi(2) / part.df)
            });
            if squares > 0.0 { sum * sum / squares } else { 0.0 }
        };
        let borrowed = parts.iter().any(|part| part.borrowed && part.spread > 0.0);
        if self.values.beside.is_empty() || borrowed || shares.len() > MOST {
            return by_levels();
        }
        self.degrees_beside(shares, parts)
    }

    /// The same where places are taken out, so that levels share their residuals.
    fn degrees_beside(&self, shares: &[f64], parts: &[Part]) -> f64 {
        let n = shares.len();
        let sizes = &self.values.sizes;
        let level = |unit: usize| self.values.levels.get(unit).and_then(|level| parts.get(*level));
        // Relative variance of each unit's mean times its size.
        let relative: Vec<f64> = (0..n)
            .map(|unit| level(unit).map_or(0.0, |part| part.variance / part.spread.max(f64::MIN_POSITIVE)))
            .collect();
        let basis = self.qr.basis();
        let inner: Vec<Vec<f64>> = basis
            .iter()
            .map(|a| {
                basis.iter().map(|b| (0..n).map(|i| entry(a, i) * entry(b, i) * entry(&relative, i)).sum()).collect()
            })
            .collect();
        let turned: Vec<Vec<f64>> = (0..n)
            .map(|unit| inner.iter().map(|row| row.iter().zip(basis).map(|(m, q)| m * entry(q, unit)).sum()).collect())
            .collect();
        let used: Vec<(usize, f64)> = (0..n)
            .filter(|unit| entry(shares, *unit).abs() > 1e-12)
            .map(|unit| (unit, 1.0 - entry(&self.leverages, unit)))
            .filter(|(_, left)| *left > TOLERANCE)
            .map(|(unit, left)| (unit, entry(shares, unit).powi(2) / left))
            .collect();
        let product = |one: usize, other: usize| -> f64 {
            let own = if one == other { entry(&relative, one) } else { 0.0 };
            let along: f64 = basis.iter().map(|q| entry(q, one) * entry(q, other)).sum();
            let both: f64 =
                turned.get(one).map_or(0.0, |row| row.iter().zip(basis).map(|(t, q)| t * entry(q, other)).sum());
            let scale = (entry(sizes, one) * entry(sizes, other)).sqrt();
            (own - along * (entry(&relative, one) + entry(&relative, other)) + both) / scale
        };
        let (mut sum, mut squares) = (0.0, 0.0);
        for (at, (one, a)) in used.iter().enumerate() {
            let own = a * product(*one, *one);
            sum += own;
            squares += own * own;
            for (other, b) in used.iter().skip(at + 1) {
                squares += 2.0 * a * b * product(*one, *other).powi(2);
            }
        }
        if squares > 0.0 { sum * sum / squares } else { 0.0 }
    }

    /// The mean of a level as it is: its total over its values.
    #[must_use]
    pub fn mean(&self, level: usize) -> Option<f64> {
        self.told.get(level).filter(|told| told.size > 0.0).map(Level::mean)
    }
}

/// One level's share of a variance.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Part {
    own: f64,
    /// The variance of the contrast for values of variance 1.
    spread: f64,
    df: f64,
    variance: f64,
    borrowed: bool,
}

fn entry(values: &[f64], at: usize) -> f64 {
    values.get(at).copied().unwrap_or(0.0)
}

/// Limits of a mean that cannot be below 0: the means `x` with `(value - x)^2 <= t^2 variance x / value`, whose variance grows with
/// the mean. `least` stands for a mean of 0.
#[must_use]
pub fn mean_limits(found: UnitContrast, t: f64, least: f64) -> (f64, f64) {
    let wide = t * t * found.variance / if found.value > 0.0 { found.value } else { least };
    let middle = found.value + 0.5 * wide;
    let reach = (0.25 * wide * wide + wide * found.value).max(0.0).sqrt();
    ((middle - reach).max(0.0), middle + reach)
}

/// Limits of `second / first` that hold 1 exactly where limits of the difference hold 0; an end that is open is `None`.
///
/// # References
/// Fieller EC (1954), J. R. Stat. Soc. B 16:175-185.
#[must_use]
pub fn ratio_limits(first: UnitContrast, second: UnitContrast, t: f64) -> (Option<f64>, Option<f64>) {
    let square = t * t;
    let a = first.value * first.value - square * first.variance;
    let b = first.value * second.value;
    let c = second.value * second.value - square * second.variance;
    let root = b * b - a * c;
    if root < 0.0 {
        return (None, None);
    }
    let low = if c <= 0.0 { Some(0.0) } else { Some(c / (b + root.sqrt())) };
    let high = if a <= 0.0 { None } else { Some((b + root.sqrt()) / a) };
    (low, high)
}
