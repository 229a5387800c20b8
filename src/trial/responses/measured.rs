//! The entries of a response, unit by unit: what methods work on.

use serde::Serialize;

use crate::math::design::Sorted;
use crate::trial::responses::Response;

/// What one line of the table says of a response: a value, and how many cuttings have it (none where nothing was measured).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(in crate::trial) struct Entry {
    /// The value, or the mean of a tray.
    pub(in crate::trial) value: f64,
    /// Cuttings.
    pub(in crate::trial) times: u64,
}

/// A response of a trial: for each unit the values met, each once and rising, with how many cuttings have it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Measured {
    /// As it was declared.
    pub response: Response,
    /// Where the entries of each unit begin; one more than there are units.
    pub starts: Vec<usize>,
    /// The values, unit by unit. Of rooted cuttings; of a grade of all.
    pub values: Vec<f64>,
    /// Cuttings with that value.
    pub times: Vec<u64>,
}

impl Measured {
    /// Values and cuttings of one unit.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::trial::Response;
    /// let csv = b"strength,tray,rooted,roots\n0,a,1,2\n0,a,1,2\n0,a,1,5\n0,b,0,0\n2500,c,1,7\n2500,d,1,4\n";
    /// let mut options = LoadOptions { rooted: "rooted".into(), ..LoadOptions::default() }.with_tray("tray");
    /// options.treatments = vec!["strength".into()];
    /// options.responses = vec![Response::count("roots")];
    /// let trial = read_csv(csv, &options)?;
    /// let roots = trial.measured("roots")?;
    /// assert_eq!(roots.of(0), (&[2.0, 5.0][..], &[2, 1][..]));
    /// assert_eq!((roots.number(0), roots.mean(0), roots.mean(1)), (3, Some(3.0), None));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn of(&self, unit: usize) -> (&[f64], &[u64]) {
        let ends = self.starts.get(unit).zip(self.starts.get(unit + 1));
        let found = ends.and_then(|(from, to)| self.values.get(*from..*to).zip(self.times.get(*from..*to)));
        found.unwrap_or_default()
    }

    /// Cuttings measured in one unit.
    #[must_use]
    pub fn number(&self, unit: usize) -> u64 {
        self.of(unit).1.iter().sum()
    }

    /// The sum over the cuttings measured in one unit.
    #[must_use]
    pub fn total(&self, unit: usize) -> f64 {
        let (values, times) = self.of(unit);
        values.iter().zip(times).map(|(value, times)| value * *times as f64).sum()
    }

    /// The mean over the cuttings measured in one unit, where there are any.
    #[must_use]
    pub fn mean(&self, unit: usize) -> Option<f64> {
        let number = self.number(unit);
        (number > 0).then(|| self.total(unit) / number as f64)
    }

    /// Number of units.
    #[must_use]
    pub fn len(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    /// True when there is no unit.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }
}

/// Gathers the entries of lines into units; the order of lines within a unit does not matter.
pub(in crate::trial) fn by_units(response: &Response, entries: &[Entry], members: &Sorted) -> Measured {
    let mut found = Measured { response: response.clone(), starts: vec![0], values: Vec::new(), times: Vec::new() };
    for lines in members.groups() {
        let mut own: Vec<Entry> =
            lines.iter().filter_map(|line| entries.get(*line).copied()).filter(|entry| entry.times > 0).collect();
        own.sort_by(|a, b| a.value.total_cmp(&b.value));
        for entry in own {
            let begun = found.starts.last().copied().unwrap_or_default() < found.values.len();
            match (found.values.last(), found.times.last_mut()) {
                (Some(last), Some(times)) if begun && last.total_cmp(&entry.value).is_eq() => {
                    *times = times.saturating_add(entry.times);
                }
                _ => {
                    found.values.push(entry.value);
                    found.times.push(entry.times);
                }
            }
        }
        found.starts.push(found.values.len());
    }
    found
}
