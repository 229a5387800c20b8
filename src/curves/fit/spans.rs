//! Figures with limits.

/// A figure with limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spanned {
    pub(crate) value: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
}

/// Limits; `None` for an end that is not ruled out.
pub(crate) type Limits = (Option<f64>, Option<f64>);
