//! What may be told of an effect where everything or nothing rooted at one level: a bound, since the estimate itself is a by-product of
//! the penalty that keeps it finite.

use crate::answer::Note;

/// What may be told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Told {
    /// The estimate, with whatever limits it has.
    Value,
    /// No more than that it is at least this.
    AtLeast(f64),
    /// No more than that it is at most this.
    AtMost(f64),
    /// Nothing: it is bounded on neither side.
    Nothing,
}

/// Of a ratio or an odds ratio: one without a lower bound has the limit 0.
pub(super) fn of_ratio(low: Option<f64>, high: Option<f64>) -> Told {
    told(low, high, 0.0)
}

/// Of a coefficient: one without a lower bound has the limit minus infinity.
pub(super) fn of_coefficient(low: Option<f64>, high: Option<f64>) -> Told {
    told(low, high, f64::NEG_INFINITY)
}

fn told(low: Option<f64>, high: Option<f64>, lowest: f64) -> Told {
    match (low, high) {
        (Some(low), Some(high)) => match (low <= lowest, high.is_infinite()) {
            (false, false) => Told::Value,
            (false, true) => Told::AtLeast(low),
            (true, false) => Told::AtMost(high),
            (true, true) => Told::Nothing,
        },
        (Some(low), None) if low > lowest => Told::AtLeast(low),
        (None, Some(high)) if high.is_finite() => Told::AtMost(high),
        _ => Told::Value,
    }
}

/// "at least 23", "at most 0.2", "no bound on either side"; none where the estimate itself may be told.
pub(super) fn in_words(told: Told, show: impl Fn(f64) -> String) -> Option<String> {
    match told {
        Told::Value => None,
        Told::AtLeast(low) => Some(format!("at least {}", show(low))),
        Told::AtMost(high) => Some(format!("at most {}", show(high))),
        Told::Nothing => Some("no bound on either side".to_owned()),
    }
}

/// The caution beside a table that holds such estimates; `none` is what a limit that is no bound looks like.
pub(super) fn note(what: &str, none: &str) -> Note {
    let text = format!(
        "At least one {what} has a bound on one side only: {none} means that there is none there. Report the bound: the value beside it \
         comes from the penalty that keeps it finite, and says nothing more."
    );
    Note::new("one_sided_bound", text)
}
