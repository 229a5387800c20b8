//! Numbers in the unit of a response, with as many decimals as their limits bear.

use super::numbers::MeanOf;
use crate::report::capital;
use crate::trial::{Response, ResponseKind};

/// How amounts of a response are said.
#[derive(Debug, Clone)]
pub(super) struct Amounts {
    /// The column's name for reading.
    pub(super) name: String,
    /// Behind a number: "cm"; empty for counts.
    unit: String,
    count: bool,
    of: MeanOf,
    decimals: usize,
}

impl Amounts {
    /// For numbers whose limits lie so far apart.
    pub(super) fn of(response: &Response, of: MeanOf, width: f64) -> Self {
        let decimals =
            if width > 0.0 && width.is_finite() { (1.0 - (0.5 * width).log10().floor()).clamp(0.0, 6.0) } else { 2.0 };
        let count = response.kind == ResponseKind::Count;
        let unit = if count { String::new() } else { format!(" {}", response.amount()) };
        // Counts of cuttings are read to a tenth at most where limits bear no more.
        Self { name: response.column.replace('_', " "), unit, count, of, decimals: decimals as usize }
    }

    /// "2.3", "-0.4".
    pub(super) fn bare(&self, value: f64) -> String {
        let text = format!("{value:.*}", self.decimals);
        let zero = text.trim_start_matches('-').chars().all(|sign| matches!(sign, '0' | '.'));
        if zero { text.trim_start_matches('-').to_owned() } else { text }
    }

    /// "2.3 cm"; of a count "2.3".
    pub(super) fn said(&self, value: f64) -> String {
        format!("{}{}", self.bare(value), self.unit)
    }

    /// "per cutting", "per rooted cutting".
    pub(super) fn per(&self) -> &'static str {
        match self.of {
            MeanOf::Stuck => "per cutting",
            MeanOf::Rooted => "per rooted cutting",
        }
    }

    /// "roots per cutting".
    pub(super) fn what(&self) -> String {
        format!("{} {}", self.name, self.per())
    }

    /// "Roots per cutting".
    pub(super) fn head(&self) -> String {
        capital(&self.what())
    }

    /// "2.3 more roots per cutting", "longest 1.3 cm more per rooted cutting".
    pub(super) fn more(&self, value: f64) -> String {
        if self.count {
            return format!("{} more {}", self.bare(value), self.what());
        }
        format!("{} {} more {}", self.name, self.said(value), self.per())
    }

    /// "1.1 to 3.5", "0.4 fewer to 1.8 more".
    pub(super) fn range(&self, low: f64, high: f64) -> String {
        if low >= 0.0 {
            return format!("{} to {}", self.bare(low), self.bare(high));
        }
        let less = if self.count { "fewer" } else { "less" };
        let side = |value: f64| format!("{} {}", self.said(value.abs()), if value < 0.0 { less } else { "more" });
        if high <= 0.0 {
            return format!("{} to {} {less}", self.bare(-high), self.said(-low));
        }
        format!("{} to {}", side(low), side(high))
    }
}
