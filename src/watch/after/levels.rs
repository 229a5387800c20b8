//! Levels of all columns beside each other: how far each lies below the others once some are allowed for.

use super::crop_law::CropLaw;
use crate::math::dense::Cholesky;
use crate::math::special::expit;
use crate::watch::baseline::{Baseline, clustered};
use crate::watch::crop::{Batch, Grouping};

/// Steps towards the shifts that are allowed for, and where they end.
const STEPS: usize = 30;
const CLOSE: f64 = 1e-6;
const FARTHEST: f64 = 8.0;
/// Share of what a level tells that has to be its own before it is told apart from others.
const OWN: f64 = 1e-6;

/// One batch from the likely week on.
#[derive(Debug, Clone, Copy)]
struct Held {
    at: usize,
    started: f64,
    logit: f64,
    /// What its count is divided by for being alike within.
    alike: f64,
}

/// The batches from the likely week on, and every level as a column of them with the layers of weeks and places taken out.
pub(super) struct Levels {
    held: Vec<Held>,
    /// Grouping and level of each column; the first column is that of all batches and has none.
    pub(super) names: Vec<Option<(usize, u32)>>,
    /// Whether each batch is of a column.
    inside: Vec<Vec<f64>>,
    /// Columns with the layers taken out.
    swept: Vec<Vec<f64>>,
    /// What columns tell together.
    told: Vec<Vec<f64>>,
}

impl Levels {
    /// The levels of the batches set from a week on.
    pub(super) fn new(law: &CropLaw<'_>, groupings: &[Grouping], baseline: &Baseline, first: i32) -> Self {
        let rho = baseline.spreads.batch;
        let held: Vec<Held> = (law.batches.iter().zip(&law.logits).enumerate())
            .filter(|(_, (batch, _))| batch.set_week() >= first)
            .map(|(at, (batch, logit))| {
                let started = batch.started as f64;
                Held { at, started, logit: *logit, alike: 1.0 + (started - 1.0) * rho }
            })
            .collect();
        let batches: Vec<&Batch> = held.iter().filter_map(|one| law.batches.get(one.at).copied()).collect();
        let mut names = vec![None];
        for (at, grouping) in groupings.iter().enumerate() {
            let met = |level: &u32| batches.iter().any(|batch| batch.levels.get(at) == Some(level));
            let levels: Vec<u32> = (0..grouping.levels.len() as u32).filter(met).collect();
            if levels.len() > 1 {
                names.extend(levels.into_iter().map(|level| Some((at, level))));
            }
        }
        let column = |name: &Option<(usize, u32)>| -> Vec<f64> {
            let is = |batch: &&Batch| name.is_none_or(|(at, level)| batch.levels.get(at) == Some(&level));
            batches.iter().map(|batch| f64::from(u8::from(is(batch)))).collect()
        };
        let inside: Vec<Vec<f64>> = names.iter().map(column).collect();
        let tells: Vec<f64> = held
            .iter()
            .map(|one| {
                let rate = expit(one.logit);
                one.started * rate * (1.0 - rate) / one.alike
            })
            .collect();
        let made = clustered(batches.iter().copied().enumerate(), groupings);
        let sweep = |column: &Vec<f64>| swept(column, &tells, &made.clusters, &made.weeks, baseline);
        let swept: Vec<Vec<f64>> = inside.iter().map(sweep).collect();
        let product = |one: &Vec<f64>, other: &Vec<f64>| -> f64 {
            one.iter().zip(other).zip(&tells).map(|((one, other), tells)| one * other * tells).sum()
        };
        let told = swept.iter().map(|one| inside.iter().map(|other| product(one, other)).collect()).collect();
        Self { held, names, inside, swept, told }
    }

    /// The sum of what is left of counts over one column, with these shifts of some columns, and how much of what the columns tell at no shift they
    /// tell there.
    fn left(&self, alive: &[u64], columns: &[usize], shifts: &[f64]) -> (Vec<f64>, f64) {
        let (mut told, mut at_none) = (0.0, 0.0);
        let left: Vec<f64> = (self.held.iter().zip(0..))
            .map(|(one, place)| {
                let shift = self.shift_at(place, columns, shifts);
                let (rate, own) = (expit(one.logit + shift), expit(one.logit));
                told += one.started * rate * (1.0 - rate) / one.alike;
                at_none += one.started * own * (1.0 - own) / one.alike;
                let counted = alive.get(one.at).copied().unwrap_or(0) as f64;
                (counted - one.started * rate) / one.alike
            })
            .collect();
        (left, told / at_none.max(f64::MIN_POSITIVE))
    }

    fn shift_at(&self, place: usize, columns: &[usize], shifts: &[f64]) -> f64 {
        let one = |(column, shift): (&usize, &f64)| Some(shift * self.inside.get(*column)?.get(place)?);
        columns.iter().zip(shifts).filter_map(one).sum()
    }

    fn score(&self, column: usize, left: &[f64]) -> f64 {
        self.swept.get(column).map_or(0.0, |swept| swept.iter().zip(left).map(|(x, left)| x * left).sum())
    }

    fn told(&self, one: usize, other: usize) -> f64 {
        self.told.get(one).and_then(|row| row.get(other)).copied().unwrap_or(0.0)
    }

    /// The root of what these columns tell together.
    fn root(&self, columns: &[usize]) -> Option<Cholesky> {
        let rows: Vec<Vec<f64>> =
            columns.iter().map(|one| columns.iter().map(|other| self.told(*one, *other)).collect()).collect();
        Cholesky::new(&rows).filter(|root| root.smallest_share() > OWN)
    }

    /// The shifts of these columns that the counts give, and what is left of the counts there.
    fn allowed_for(&self, alive: &[u64], columns: &[usize]) -> Option<(Vec<f64>, Vec<f64>)> {
        let root = self.root(columns)?;
        let mut shifts = vec![0.0; columns.len()];
        for _ in 0..STEPS {
            let (left, more) = self.left(alive, columns, &shifts);
            let scores: Vec<f64> = columns.iter().map(|column| self.score(*column, &left)).collect();
            let by: Vec<f64> =
                root.solve(&scores).into_iter().map(|by| (by / more.max(0.2)).clamp(-1.0, 1.0)).collect();
            shifts.iter_mut().zip(&by).for_each(|(shift, by)| *shift = (*shift + by).clamp(-FARTHEST, FARTHEST));
            if by.iter().all(|by| by.abs() < CLOSE) {
                break;
            }
        }
        let (left, _) = self.left(alive, columns, &shifts);
        Some((shifts, left))
    }

    /// How far each level lies below what the allowed columns make of it, in standard errors; None where it cannot be told apart from them.
    pub(super) fn below(&self, alive: &[u64], allowed: &Allowed) -> Vec<Option<f64>> {
        let Some((_, left)) = self.allowed_for(alive, &allowed.columns) else { return vec![None; self.names.len()] };
        let one = |(column, own): (usize, &Option<f64>)| Some(-self.score(column, &left) / own.as_ref()?.sqrt());
        allowed.own.iter().enumerate().map(one).collect()
    }

    /// These columns as what is allowed for, beside a shift of all batches.
    pub(super) fn allow(&self, others: &[usize]) -> Allowed {
        let columns: Vec<usize> = std::iter::once(0).chain(others.iter().copied()).collect();
        let root = self.root(&columns);
        let own = |column: usize| {
            let root = root.as_ref().filter(|_| !columns.contains(&column))?;
            let beside: Vec<f64> = columns.iter().map(|other| self.told(*other, column)).collect();
            let all = self.told(column, column);
            let own = all - root.forward(&beside).iter().map(|one| one * one).sum::<f64>();
            (own > OWN.sqrt() * all).then_some(own)
        };
        Allowed { own: (0..self.names.len()).map(own).collect(), columns }
    }

    /// The shift of each of so many batches that the allowed columns make of the counts.
    pub(super) fn shifted(&self, alive: &[u64], allowed: &Allowed) -> Vec<f64> {
        let mut by = vec![0.0; alive.len()];
        let Some((shifts, _)) = self.allowed_for(alive, &allowed.columns) else { return by };
        for (place, one) in self.held.iter().enumerate() {
            let shift = self.shift_at(place, &allowed.columns, &shifts);
            by.iter_mut().skip(one.at).take(1).for_each(|entry| *entry = shift);
        }
        by
    }
}

/// Columns that are allowed for, and what each level tells beyond them.
pub(super) struct Allowed {
    columns: Vec<usize>,
    own: Vec<Option<f64>>,
}

/// A column with the layers taken out: what a batch's score counts for in it.
fn swept(
    column: &[f64],
    tells: &[f64],
    clusters: &[Vec<usize>],
    weeks: &[Vec<usize>],
    baseline: &Baseline,
) -> Vec<f64> {
    let within = baseline.spreads.week_in_place.powi(2);
    let between = baseline.spreads.week.powi(2);
    let mut swept = column.to_vec();
    let sum = |cluster: &[usize], of: &[f64]| -> f64 {
        cluster.iter().filter_map(|at| Some(tells.get(*at)? * of.get(*at)?)).sum()
    };
    let ones = vec![1.0; column.len()];
    for week in weeks {
        let own: Vec<(&Vec<usize>, f64, f64)> = week
            .iter()
            .filter_map(|at| clusters.get(*at))
            .map(|cluster| {
                let kept = 1.0 / (1.0 + within * sum(cluster, &ones));
                (cluster, kept, sum(cluster, column))
            })
            .collect();
        let of_week: f64 = own.iter().map(|(_, kept, sum)| kept * sum).sum();
        let all: f64 = own.iter().map(|(cluster, kept, _)| kept * sum(cluster, &ones)).sum();
        let shared = between / (1.0 + between * all) * of_week;
        for (cluster, kept, of_cluster) in own {
            let less = kept * (within * of_cluster + shared);
            cluster.iter().for_each(|at| swept.iter_mut().skip(*at).take(1).for_each(|entry| *entry -= less));
        }
    }
    swept
}
