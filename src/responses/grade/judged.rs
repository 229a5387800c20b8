//! Tests of effects on grades, and limits of cumulative odds ratios, by one score on effective cuttings.

use crate::error::Result;
use crate::math::distributions::{fisher_f, student_t};
use crate::math::regression::{
    Cumulative, CumulativeFit, GradeRows, SlopesByCut, columns_score, combination_score, proportional_odds,
};
use crate::math::search::brent;

use super::trays::{GradeCorrelation, effective_grades};

/// Log odds ratios beyond this are none: odds of ten million.
const FARTHEST: f64 = 16.0;

/// Trays as effective cuttings, ready to be asked.
#[derive(Debug, Clone)]
pub struct JudgedGrades {
    /// Effective cuttings; trays with the same columns are one row.
    pub rows: GradeRows,
    /// How alike grades of one tray are; none where cuttings are counted.
    pub correlation: Option<GradeCorrelation>,
    /// Trays less cuts' and slopes' one each: degrees of freedom; infinite where cuttings are counted.
    pub error_df: f64,
    /// The fit on effective cuttings.
    pub fit: CumulativeFit,
}

/// An F statistic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GradeF {
    /// F.
    pub statistic: f64,
    /// Its degrees of freedom.
    pub df: f64,
    /// Its P value.
    pub p: f64,
}

/// A log odds ratio with its limits; a limit that is not there is one beyond every odds ratio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LogOdds {
    /// The estimate; none where the likelihood climbs without end.
    pub value: Option<f64>,
    /// Lower limit.
    pub low: Option<f64>,
    /// Upper limit.
    pub high: Option<f64>,
    /// P value of no difference.
    pub p: f64,
}

impl JudgedGrades {
    /// Trays (one row each, every grade held) with their grades alike or, `counted`, as single cuttings.
    ///
    /// # Errors
    /// Where neither the plain nor the steadied fit settles.
    pub fn of(trays: &GradeRows, counted: bool) -> Result<Self> {
        let correlation = (!counted).then(|| GradeCorrelation::of(trays));
        let rows = effective_grades(trays, correlation.map_or(0.0, |found| found.used()))?;
        let error_df = correlation.map_or(f64::INFINITY, |found| found.df);
        let model = Cumulative { rows: &rows, partial: &[] };
        let fit = model.fit().or_else(|_| model.fit_steadied())?;
        Ok(Self { rows, correlation, error_df, fit })
    }

    fn judged(&self, (statistic, df): (f64, usize)) -> GradeF {
        let df = df as f64;
        let statistic = statistic / df.max(1.0);
        GradeF { statistic, df, p: fisher_f::sf(statistic, df, self.error_df) }
    }

    /// Whether some columns matter: their score over its degrees of freedom against F on those of the trays.
    ///
    /// # Errors
    /// Where the fit without them does not settle.
    pub fn test(&self, columns: &[usize]) -> Result<GradeF> {
        Ok(self.judged(columns_score(&self.rows, columns)?.statistic()))
    }

    /// Whether one slope serves all cuts, for some columns together; none with two grades.
    #[must_use]
    pub fn one_slope(&self, columns: &[usize]) -> Option<GradeF> {
        let SlopesByCut { statistic, df, .. } = proportional_odds(&self.rows, columns).ok()?;
        (df > 0).then(|| self.judged((statistic, df)))
    }

    /// `sum l b` with its limits: values whose score does not go beyond t on the trays' degrees of freedom.
    ///
    /// # Errors
    /// Where the fit under no difference does not settle.
    pub fn log_odds(&self, l: &[f64], confidence: f64) -> Result<LogOdds> {
        let critical = student_t::quantile(f64::midpoint(1.0, confidence), self.error_df);
        let at_none = combination_score(&self.rows, l, 0.0)?.signed();
        let guess: f64 = l.iter().zip(&self.fit.slopes).map(|(l, b)| l * b).sum();
        let signed = |value: f64| combination_score(&self.rows, l, value).map_or(f64::NAN, |held| held.signed());
        // The score falls as the value held rises: it meets `+ critical` at the lower limit.
        let limit = |sign: f64| {
            let beyond = |value: f64| signed(value) - sign * critical;
            let (mut near, mut step) = (guess, 0.5);
            let toward = -sign;
            // Where the estimate is a steadied one, the score there need not be 0.
            while beyond(near) * sign > 0.0 && near.abs() < FARTHEST {
                near -= toward * step;
                step *= 2.0;
            }
            step = 0.5;
            loop {
                let far = near + toward * step;
                let found = beyond(far);
                if found.is_nan() {
                    return None;
                }
                if found * sign >= 0.0 {
                    return brent(beyond, near.min(far), near.max(far), 1e-10).ok();
                }
                if far.abs() > FARTHEST + guess.abs() {
                    return None;
                }
                near = far;
                step *= 1.6;
            }
        };
        let (low, high) = (limit(1.0), limit(-1.0));
        let value = (!self.fit.steadied || (low.is_some() && high.is_some())).then_some(guess);
        let p = student_t::two_sided(at_none, self.error_df);
        Ok(LogOdds { value, low, high, p })
    }
}
