//! Limits of a difference, said in the direction that the difference has.

/// Both limits, read as the difference is: of "31 fewer" as "17" and "46", and where they lie on both sides of 0 as "10 fewer" and "4 more".
#[must_use]
pub fn limits_apart((low, high): (f64, f64), show: impl Fn(f64) -> String) -> (String, String) {
    match (low < 0.0, high > 0.0) {
        (true, true) => (format!("{} fewer", show(-low)), format!("{} more", show(high))),
        (true, false) => (show(-high), show(-low)),
        (false, _) => (show(low), show(high)),
    }
}

/// The same as one text.
///
/// ```
/// use rootling::report::limits_read;
/// let whole = |x: f64| format!("{:.0}", 100.0 * x);
/// assert_eq!(limits_read((-0.46, -0.17), whole), "17 to 46");
/// assert_eq!(limits_read((-0.10, 0.04), whole), "10 fewer to 4 more");
/// ```
#[must_use]
pub fn limits_read(limits: (f64, f64), show: impl Fn(f64) -> String) -> String {
    let (low, high) = limits_apart(limits, show);
    format!("{low} to {high}")
}
