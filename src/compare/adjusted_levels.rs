//! All levels of a treatment, or a trend over them, where what lies beside them is uneven: other treatments that change within the
//! units, or places that cross these. What the levels say is that of a least-squares fit with all of these in it.

use std::collections::BTreeSet;

use crate::answer::Note;
use crate::compare::adjusted::{Weighed, beside};
use crate::compare::carried::Carried;
use crate::layers::Judged;
use crate::math::dense::{Cholesky, dot};
use crate::math::distributions::fisher_f;
use crate::rates::OverPlaces;
use crate::report::join;
use crate::trial::{Factor, Layout, Units, same_shares};

use super::permutation::TrayRateTest;

/// What lies beside the levels, with how trays and places vary.
pub(crate) struct Uneven {
    over: OverPlaces,
    members: Vec<usize>,
    /// What is taken out.
    pub(crate) beside: Vec<String>,
    /// For the reason that strata would leave out too many units.
    pub(crate) thin: bool,
    /// The units that carry the fit.
    pub(crate) carried: Carried,
}

/// A slope with other columns taken out.
pub(crate) struct AdjustedSlope {
    /// Rise of the rate per unit of score.
    pub(crate) slope: f64,
    /// Its variance with its degrees of freedom.
    pub(crate) judged: Judged,
}

impl Uneven {
    /// Where levels of the treatment hold other treatments in different shares of `members` that no stratum keeps apart, where places that
    /// cross the units would be lost, or where strata by other treatments are too small; none elsewhere.
    pub(crate) fn of(units: &Units, treatment: &Factor, layout: &Layout<'_>, members: &[usize]) -> Option<Self> {
        let kept = |factor: &Factor| layout.others.iter().chain(&layout.places).any(|one| one.name == factor.name);
        let left = units.treatments.iter().filter(|one| one.name != treatment.name && !kept(one));
        let thin = layout.thin(treatment, members);
        let alike = same_shares(&[treatment], &left.collect::<Vec<_>>(), members);
        if alike && !thin && !layout.crosswise(units, treatment) {
            return None;
        }
        let beside = beside(units, treatment, members, layout);
        let over = OverPlaces::of_a_fit(units, &[])?;
        let carried = if thin {
            let drawn_on = drawn_on(&Weighed::new(units, members, &beside, &over), treatment);
            let asked = |group: &&[usize]| group.iter().any(|tray| members.binary_search(tray).is_ok());
            let all: Vec<&[usize]> = layout.groups.iter().filter(asked).collect();
            Carried::of_fit(treatment, &beside, &all, &drawn_on)
        } else {
            Carried::count(treatment, &[], &layout.leads(members).collect::<Vec<usize>>())
        };
        let beside = beside.iter().map(|one| one.name.clone()).collect();
        Some(Self { over, members: members.to_vec(), beside, thin, carried })
    }

    /// F of all differences between the levels; with scores, one for each unit of the trial, of what a line along them leaves.
    ///
    /// # References
    /// Frisch R, Waugh FV (1933), Econometrica 1:387-401 (partial regression); Fai AHT, Cornelius PL (1996).
    pub(crate) fn levels(&self, units: &Units, treatment: &Factor, line: Option<&[f64]>) -> Option<TrayRateTest> {
        let mut weighed = self.weighed(units);
        if let Some(scores) = line {
            weighed.beside(scores);
        }
        let mut known: Vec<u32> = weighed.own.iter().filter_map(|unit| treatment.codes.get(*unit).copied()).collect();
        known.sort_unstable();
        known.dedup();
        let left: Option<Vec<Vec<f64>>> = known
            .iter()
            .skip(1 + usize::from(line.is_some()))
            .map(|level| weighed.residual(&weighed.is(treatment, *level)))
            .collect();
        let left = left.filter(|left| !left.is_empty())?;
        let along: Vec<Vec<f64>> = left.iter().map(|one| weighed.along(one)).collect();
        let products: Vec<Vec<f64>> = along.iter().map(|a| left.iter().map(|b| dot(a, b)).collect()).collect();
        let inverse = Cholesky::new(&products)?.inverse();
        let of_rates = |row: &Vec<f64>| -> Vec<f64> {
            (0..weighed.own.len())
                .map(|at| row.iter().zip(&along).map(|(c, one)| c * one.get(at).copied().unwrap_or(0.0)).sum())
                .collect()
        };
        let combinations: Vec<Vec<f64>> = inverse.iter().map(of_rates).collect();
        let values: Vec<f64> = combinations.iter().map(|one| dot(one, &weighed.rate)).collect();
        let on_units: Vec<Vec<f64>> = combinations.iter().map(|one| weighed.on_counts(units, one)).collect();
        let found = self.over.joint((&values, &on_units), &weighed.alike(units), &[])?;
        let df = found.rank as f64;
        let p = Some(fisher_f::sf(found.statistic, df, found.df));
        Some(TrayRateTest { statistic: found.statistic, df, error_df: found.df, p })
    }

    /// The slope along scores, one for each unit of the trial.
    pub(crate) fn slope(&self, units: &Units, scores: &[f64]) -> Option<AdjustedSlope> {
        let weighed = self.weighed(units);
        let left = weighed.residual(&weighed.of_own(scores))?;
        let along = weighed.along(&left);
        let length = dot(&along, &left);
        let combination: Vec<f64> = along.iter().map(|w| w / length).collect();
        let judged = self.over.judged(&weighed.on_counts(units, &combination), &weighed.alike(units), &[]);
        Some(AdjustedSlope { slope: dot(&combination, &weighed.rate), judged })
    }

    fn weighed(&self, units: &Units) -> Weighed {
        let beside: Vec<&Factor> = self.beside.iter().filter_map(|name| units.factor(name)).collect();
        Weighed::new(units, &self.members, &beside, &self.over)
    }
}

/// The trays whose rates some difference between levels draws on.
fn drawn_on(weighed: &Weighed, treatment: &Factor) -> BTreeSet<usize> {
    let known: BTreeSet<u32> = weighed.own.iter().filter_map(|unit| treatment.codes.get(*unit).copied()).collect();
    let left: Vec<Vec<f64>> =
        known.into_iter().skip(1).filter_map(|level| weighed.residual(&weighed.is(treatment, level))).collect();
    weighed.drawn_on(&left)
}

/// That the rates as counted are not what was tested; none where nothing was taken out.
pub(crate) fn uneven_note(factor: &str, adjusted_for: &[String]) -> Option<Note> {
    let text = format!(
        "The levels of {factor} lie in different shares over {}, or change places over them. The test takes this out by least squares; the rates beside it are as counted, so part of what parts them is the mix. To set levels beside each other print the model's adjusted rates, which compare like with like; the rates as counted say what was there.",
        join(adjusted_for)
    );
    (!adjusted_for.is_empty()).then(|| Note::new("uneven_mix_taken_out", text))
}
