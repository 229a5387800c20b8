//! Means of units that hold many values each (trays of cuttings), with variances that follow what units of each level show.

use crate::math::dense::{Dependent, Qr, dot};

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
    /// Columns of the means where these are more than one for each level (effects of several treatments, places); empty for levels alone.
    pub columns: Vec<Vec<f64>>,
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

/// Several contrasts judged at once by the sum of their squares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnitTest {
    /// The sum of squares over the sum of variances.
    pub statistic: f64,
    /// Degrees of freedom of the contrasts.
    pub df: f64,
    /// Degrees of freedom of their variances.
    pub error_df: f64,
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
    ///     levels: vec![0, 0, 1, 1], least: 1.0, ..UnitValues::default()
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
        let scaled = |own: &Vec<f64>| -> Vec<f64> { own.iter().zip(&roots).map(|(own, root)| own * root).collect() };
        let mut columns: Vec<Vec<f64>> = if values.columns.is_empty() {
            (0..levels).map(|level| column(&values.levels, level)).collect()
        } else {
            values.columns.iter().map(scaled).collect()
        };
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
            let squares: Vec<f64> = self.values.sizes.iter().map(|size| size * size).collect();
            let part = self.own(level, &squares);
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
        let kept = self.kept(contrast)?;
        let squares = squared(&[self.shares(&kept)]);
        let parts = self.by_level(&squares)?;
        let variance: f64 = parts.iter().map(|part| part.variance).sum();
        let df = self.degrees(&squares, &parts);
        Some(UnitContrast { value: dot(&kept, &self.coef), variance, df })
    }

    /// The value of a contrast alone; `None` where it is not told from what else was fitted.
    #[must_use]
    pub fn value(&self, contrast: &[f64]) -> Option<f64> {
        Some(dot(&self.kept(contrast)?, &self.coef))
    }

    /// What each level adds to the variance of a contrast.
    #[must_use]
    pub fn level_variances(&self, contrast: &[f64]) -> Option<Vec<f64>> {
        let parts = self.by_level(&squared(&[self.shares(&self.kept(contrast)?)]))?;
        Some(parts.iter().map(|part| part.variance).collect())
    }

    /// Several contrasts at once: the sum of their squares over the sum of their variances, held against F. Both degrees of freedom are
    /// matched by moments, so levels whose units differ by unlike amounts are allowed for. A single contrast is judged as by
    /// [`contrast`](Self::contrast).
    ///
    /// # References
    /// Brunner E, Dette H, Munk A (1997), J. Am. Stat. Assoc. 92:1494-1502.
    ///
    /// ```
    /// use rootling::math::regression::{UnitMeans, UnitValues};
    /// let values = UnitValues {
    ///     sizes: vec![10.0, 20.0, 10.0, 10.0], totals: vec![20.0, 50.0, 40.0, 60.0], squares: vec![60.0, 150.0, 180.0, 380.0],
    ///     levels: vec![0, 0, 1, 1], least: 1.0, ..UnitValues::default()
    /// };
    /// let fit = UnitMeans::fit(&values).unwrap();
    /// let (one, all) = (fit.contrast(&[-1.0, 1.0]).unwrap(), fit.joint(&[vec![-1.0, 1.0]]).unwrap());
    /// approx::assert_relative_eq!(all.statistic, one.value.powi(2) / one.variance, max_relative = 1e-12);
    /// approx::assert_relative_eq!(all.error_df, one.df, max_relative = 1e-12);
    /// ```
    #[must_use]
    pub fn joint(&self, contrasts: &[Vec<f64>]) -> Option<UnitTest> {
        let kept: Vec<Vec<f64>> = contrasts.iter().map(|one| self.kept(one)).collect::<Option<_>>()?;
        let shares: Vec<Vec<f64>> = kept.iter().map(|one| self.shares(one)).collect();
        let squares = squared(&shares);
        let parts = self.by_level(&squares)?;
        let covariance = self.covariance_of(&shares, &parts);
        let trace: f64 = covariance.iter().enumerate().filter_map(|(at, row)| row.get(at)).sum();
        let of_squares: f64 = covariance.iter().flatten().map(|entry| entry * entry).sum();
        let sum: f64 = kept.iter().map(|one| dot(one, &self.coef).powi(2)).sum();
        let error_df = self.degrees(&squares, &parts);
        let found = UnitTest { statistic: sum / trace, df: trace * trace / of_squares, error_df };
        (trace > 0.0 && found.error_df > 0.0 && found.statistic.is_finite()).then_some(found)
    }

    /// The covariance of several contrasts, their levels' variances being those of all of them together.
    #[must_use]
    pub fn covariance(&self, contrasts: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
        let shares: Vec<Vec<f64>> =
            contrasts.iter().map(|one| Some(self.shares(&self.kept(one)?))).collect::<Option<_>>()?;
        let parts = self.by_level(&squared(&shares))?;
        Some(self.covariance_of(&shares, &parts))
    }

    fn covariance_of(&self, shares: &[Vec<f64>], parts: &[Part]) -> Vec<Vec<f64>> {
        let each = self.relative(parts);
        let sized: Vec<f64> = each.iter().zip(&self.values.sizes).map(|(each, size)| each / size).collect();
        let between = |a: &Vec<f64>, b: &Vec<f64>| a.iter().zip(b).zip(&sized).map(|((a, b), v)| a * b * v).sum();
        shares.iter().map(|a| shares.iter().map(|b| between(a, b)).collect()).collect()
    }

    /// The variance of one value of each unit, whose unit's mean has it over the unit's size.
    fn relative(&self, parts: &[Part]) -> Vec<f64> {
        let level = |level: &usize| parts.get(*level).filter(|part| part.spread > 0.0);
        self.values.levels.iter().map(|own| level(own).map_or(0.0, |part| part.variance / part.spread)).collect()
    }

    /// Number of columns that say something of their own.
    #[must_use]
    pub fn rank(&self) -> usize {
        self.qr.rank()
    }

    /// Each unit's mean, what is fitted to it, and how far it lies from that in standard deviations; the last is none where the unit alone
    /// makes what is fitted.
    #[must_use]
    pub fn residuals(&self) -> Vec<(f64, f64, Option<f64>)> {
        let squares: Vec<f64> = self.values.sizes.iter().map(|size| size * size).collect();
        let each = self.by_level(&squares).map(|parts| self.relative(&parts)).unwrap_or_default();
        let units = self.values.totals.iter().zip(&self.values.sizes).zip(&self.residuals).enumerate();
        units
            .map(|(unit, ((total, size), residual))| {
                let (mean, left) = (total / size, 1.0 - entry(&self.leverages, unit));
                let sd = (entry(&each, unit) * left / size).sqrt();
                (mean, mean - residual, (left > TOLERANCE && sd > 0.0).then(|| residual / sd))
            })
            .collect()
    }

    /// The contrast on the columns that were kept; none where columns that depend on these say otherwise of it.
    fn kept(&self, contrast: &[f64]) -> Option<Vec<f64>> {
        let kept: Vec<f64> = self.qr.kept.iter().map(|at| entry(contrast, *at)).collect();
        let reach = contrast.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
        let told = |one: &Dependent| {
            let along: f64 = one.combination.iter().zip(&kept).map(|(a, b)| a * b).sum();
            (along - entry(contrast, one.column)).abs() <= 1e-7 * reach
        };
        self.qr.dependent.iter().all(told).then_some(kept)
    }

    /// What columns that depend on others say against a contrast: all 0 where it can be estimated.
    #[must_use]
    pub fn untold(&self, contrast: &[f64]) -> Vec<f64> {
        let kept: Vec<f64> = self.qr.kept.iter().map(|at| entry(contrast, *at)).collect();
        let along = |one: &Dependent| one.combination.iter().zip(&kept).map(|(a, b)| a * b).sum::<f64>();
        self.qr.dependent.iter().map(|one| along(one) - entry(contrast, one.column)).collect()
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

    fn by_level(&self, squares: &[f64]) -> Option<Vec<Part>> {
        if self.common.1 <= 0.0 {
            return None;
        }
        let mut parts: Vec<Part> = (0..self.told.len()).map(|level| self.own(level, squares)).collect();
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
    fn own(&self, level: usize, squares: &[f64]) -> Part {
        let own = |unit: &usize| self.values.levels.get(*unit) == Some(&level) && entry(squares, *unit) > 1e-24;
        let used: Vec<usize> = (0..squares.len()).filter(own).collect();
        let (mut part, mut told) = (Part::default(), 0.0);
        for unit in &used {
            let (square, left) = (entry(squares, *unit), 1.0 - entry(&self.leverages, *unit));
            let spread = square / entry(&self.values.sizes, *unit);
            part.spread += spread;
            // A unit that is alone in its cell shows nothing of how units differ.
            if left > TOLERANCE {
                part.own += square * entry(&self.residuals, *unit).powi(2) / left;
                told += spread;
            }
        }
        if told > 0.0 {
            part.own *= part.spread / told;
            part.df = self.of_level(squares, &used);
        }
        let of_values = self.told.get(level).map_or(0.0, Level::of_values);
        part.own = part.own.max(of_values * part.spread);
        part
    }

    /// Degrees of freedom of one level's own sum.
    fn of_level(&self, squares: &[f64], units: &[usize]) -> f64 {
        let weights: Vec<(usize, f64)> = units
            .iter()
            .map(|unit| (*unit, 1.0 - entry(&self.leverages, *unit)))
            .filter(|(_, left)| *left > TOLERANCE)
            .map(|(unit, left)| (unit, entry(squares, unit) / left))
            .collect();
        if weights.len() > MOST {
            return (weights.len() - 1) as f64;
        }
        let (mut sum, mut twice) = (0.0, 0.0);
        for (at, (one, a)) in weights.iter().enumerate() {
            sum += a * self.common(*one, *one);
            twice += (a * self.common(*one, *one)).powi(2);
            for (other, b) in weights.iter().skip(at + 1) {
                twice += 2.0 * a * b * self.common(*one, *other).powi(2);
            }
        }
        if twice > 0.0 { sum * sum / twice } else { 0.0 }
    }

    /// Satterthwaite's degrees of freedom under the variances of the levels.
    fn degrees(&self, squares: &[f64], parts: &[Part]) -> f64 {
        let by_levels = || {
            let (sum, twice) = parts
                .iter()
                .filter(|part| part.df > 0.0)
                .fold((0.0, 0.0), |(sum, twice), part| (sum + part.variance, twice + part.variance.powi(2) / part.df));
            if twice > 0.0 { sum * sum / twice } else { 0.0 }
        };
        let borrowed = parts.iter().any(|part| part.borrowed && part.spread > 0.0);
        let plain = self.values.beside.is_empty() && self.values.columns.is_empty();
        if plain || borrowed || squares.len() > MOST {
            return by_levels();
        }
        self.degrees_beside(squares, parts)
    }

    /// The same where places are taken out, so that levels share their residuals.
    fn degrees_beside(&self, squares: &[f64], parts: &[Part]) -> f64 {
        let n = squares.len();
        let sizes = &self.values.sizes;
        // Relative variance of each unit's mean times its size.
        let relative = self.relative(parts);
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
            .filter(|unit| entry(squares, *unit) > 1e-24)
            .map(|unit| (unit, 1.0 - entry(&self.leverages, unit)))
            .filter(|(_, left)| *left > TOLERANCE)
            .map(|(unit, left)| (unit, entry(squares, unit) / left))
            .collect();
        let product = |one: usize, other: usize| -> f64 {
            let own = if one == other { entry(&relative, one) } else { 0.0 };
            let along: f64 = basis.iter().map(|q| entry(q, one) * entry(q, other)).sum();
            let both: f64 =
                turned.get(one).map_or(0.0, |row| row.iter().zip(basis).map(|(t, q)| t * entry(q, other)).sum());
            let scale = (entry(sizes, one) * entry(sizes, other)).sqrt();
            (own - along * (entry(&relative, one) + entry(&relative, other)) + both) / scale
        };
        let (mut sum, mut twice) = (0.0, 0.0);
        for (at, (one, a)) in used.iter().enumerate() {
            let own = a * product(*one, *one);
            sum += own;
            twice += own * own;
            for (other, b) in used.iter().skip(at + 1) {
                twice += 2.0 * a * b * product(*one, *other).powi(2);
            }
        }
        if twice > 0.0 { sum * sum / twice } else { 0.0 }
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

/// The squares of what units add to contrasts, summed over these.
fn squared(shares: &[Vec<f64>]) -> Vec<f64> {
    let mut sums = vec![0.0; shares.first().map_or(0, Vec::len)];
    for one in shares {
        sums.iter_mut().zip(one).for_each(|(sum, share)| *sum += share * share);
    }
    sums
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
