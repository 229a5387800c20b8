//! The axes that curves use, and a strength on all of them.

/// Which `d0` an axis `ln(1 + d / d0)` has: the given one, or the lowest strength above 0, times one of [`FACTORS`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct On(u8);

impl On {
    /// The given `d0`, or the lowest strength above 0.
    pub(crate) const BASE: Self = Self(4);
    /// The smallest `d0` that is tried where cuttings root without hormone.
    const QUARTER: Self = Self(2);
}

/// From a quarter on, each twice the one before; the two below bend so late that nothing needs to root at strength 0.
const FACTORS: [f64; 12] = [0.015_625, 0.0625, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0];

/// A strength on all axes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Place {
    /// `ln(1 + d / d0)`, counted from 0 at the lowest to 1 at the highest tested strength.
    pub(crate) t: f64,
    /// The same for every `d0`.
    all: [f64; FACTORS.len()],
    /// `ln d`; minus infinity at 0.
    pub(crate) z: f64,
    /// `ln d0` of the axis asked for.
    pub(crate) ln_d0: f64,
}

impl Place {
    /// The place on one of the axes `ln(1 + d / d0)`.
    pub(crate) fn on(&self, on: On) -> f64 {
        self.all.get(usize::from(on.0)).copied().unwrap_or(self.t)
    }
}

/// One axis `ln(1 + d / d0)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Scale {
    /// `d0`.
    pub(crate) shift: f64,
    low: f64,
    /// Distance from the lowest to the highest tested strength.
    pub(crate) span: f64,
}

impl Scale {
    fn new(shift: f64, low: f64, high: f64) -> Self {
        let x_low = (low / shift).ln_1p();
        let span = (high / shift).ln_1p() - x_low;
        Self { shift, low: x_low, span: if span > 0.0 { span } else { 1.0 } }
    }

    fn t(&self, strength: f64) -> f64 {
        ((strength / self.shift).ln_1p() - self.low) / self.span
    }
}

/// What the tested strengths span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Axis {
    base: Scale,
    all: [Scale; FACTORS.len()],
    /// True where `d0` was given: then no other is tried.
    pub(crate) given: bool,
    /// Lowest strength tested.
    pub(crate) low: f64,
    /// Highest strength tested.
    pub(crate) high: f64,
    /// `ln` of the lowest strength above 0.
    pub(crate) z_low: f64,
    /// `ln` of the highest strength.
    pub(crate) z_high: f64,
    /// Least distance between two strengths above 0 on the log scale.
    pub(crate) z_gap: f64,
}

impl Axis {
    /// From strengths in rising order, without repeats; `shift` is the lowest strength above 0 when not given.
    pub(crate) fn new(strengths: &[f64], shift: Option<f64>) -> Self {
        let positive: Vec<f64> = strengths.iter().copied().filter(|d| *d > 0.0).collect();
        let (first, last) = (positive.first().copied().unwrap_or(1.0), positive.last().copied().unwrap_or(1.0));
        let gaps = positive.iter().zip(positive.iter().skip(1)).map(|(a, b)| (b / a).ln());
        let given = shift.is_some();
        let shift = shift.unwrap_or(first);
        let low = strengths.first().copied().unwrap_or(0.0);
        let high = last.max(low);
        let z_gap = gaps.fold(f64::INFINITY, f64::min).clamp(1e-3, 4.0);
        let base = Scale::new(shift, low, high);
        let all = FACTORS.map(|factor| Scale::new(factor * shift, low, high));
        Self { base, all, given, low, high, z_low: first.ln(), z_high: last.ln(), z_gap }
    }

    /// One of the axes `ln(1 + d / d0)`.
    pub(crate) fn scale(&self, on: On) -> &Scale {
        self.all.get(usize::from(on.0)).unwrap_or(&self.base)
    }

    /// The axes to try: the given one alone, else all `d0` up to half of the highest strength. `none` tells that nothing rooted at
    /// strength 0: then smaller ones as well.
    pub(crate) fn tried(&self, none: bool) -> Vec<On> {
        let least = if none { 0 } else { usize::from(On::QUARTER.0) };
        let usable =
            |(at, scale): (usize, &Scale)| (at >= least && scale.shift <= 0.5 * self.high).then_some(On(at as u8));
        let found: Vec<On> = self.all.iter().enumerate().filter_map(usable).collect();
        if self.given || found.is_empty() { vec![On::BASE] } else { found }
    }

    /// Fewer of them, for a shape that bends by itself: the base, and each four times the one before.
    pub(crate) fn tried_coarsely(&self, none: bool) -> Vec<On> {
        let wanted = |on: &On| (none || on.0 >= On::BASE.0) && on.0.is_multiple_of(2);
        let found: Vec<On> = self.tried(none).into_iter().filter(wanted).collect();
        if found.is_empty() { vec![On::BASE] } else { found }
    }

    /// `ln` of the given `d0`, or of the lowest strength above 0.
    pub(crate) fn ln_d0(&self) -> f64 {
        self.base.shift.ln()
    }

    pub(crate) fn z_span(&self) -> f64 {
        self.z_high - self.z_low
    }

    /// A strength on the axes.
    pub(crate) fn place(&self, strength: f64) -> Place {
        let all = self.all.map(|scale| scale.t(strength));
        Place { t: self.base.t(strength), all, z: strength.ln(), ln_d0: self.ln_d0() }
    }

    /// The strength at a place `t` (0 at the lowest, 1 at the highest tested).
    pub(crate) fn strength(&self, t: f64) -> f64 {
        self.strength_on(On::BASE, t)
    }

    /// The same on one of the axes.
    pub(crate) fn strength_on(&self, on: On, t: f64) -> f64 {
        let scale = self.scale(on);
        // The ends are the tested strengths to the last digit.
        if t <= 0.0 && t > -1e-15 {
            self.low
        } else if t == 1.0 {
            self.high
        } else {
            (scale.shift * (scale.low + t * scale.span).exp_m1()).max(0.0)
        }
    }

    /// The strength into the tested range.
    pub(crate) fn within(&self, strength: f64) -> f64 {
        strength.max(self.low).min(self.high)
    }

    /// `count + 1` strengths from the lowest to the highest, evenly spread on `x`.
    pub(crate) fn grid(&self, count: usize) -> Vec<f64> {
        (0..=count).map(|i| self.strength(i as f64 / count as f64)).collect()
    }
}
