//! The log-density of one tray's count with its derivatives, whatever the law.

/// Log-density of one count, without its binomial coefficient, and its derivatives by the log odds `e` and by the spread `s`.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct TrayTerms {
    pub(crate) value: f64,
    pub(crate) e: f64,
    pub(crate) ee: f64,
    pub(crate) s: f64,
    pub(crate) ss: f64,
    pub(crate) es: f64,
}
