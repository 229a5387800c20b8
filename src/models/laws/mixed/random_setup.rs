//! What is decided before random intercepts are fitted: order of groupings, method, what can be estimated, where to start.

use std::collections::{BTreeMap, BTreeSet};

use super::engine::Engine;
use super::groups::Layout;
use super::random_spec::{DeviationStatus, Method, RandomInterceptSpec};
use super::rows::{Table, not_fitted};
use crate::control::Control;
use crate::error::{ModelError, Result};
use crate::math::regression::Solution;
use crate::math::search::Objective;

pub(super) struct Setup {
    pub(super) engine: Engine,
    /// Where each grouping's SD is among the parameters.
    pub(super) places: Vec<usize>,
    pub(super) statuses: Vec<DeviationStatus>,
    pub(super) binomial: Solution,
    /// Start values of the coefficients.
    pub(super) coef: Vec<f64>,
    pub(super) binomial_loglik: f64,
}

pub(super) fn prepare(spec: &RandomInterceptSpec<'_>, control: &Control) -> Result<Setup> {
    let table = spec.rows.table()?;
    if spec.groupings.is_empty() {
        return Err(not_fitted("no grouping was given", "name the trays, bays or blocks whose effects are random"));
    }
    if spec.groupings.iter().any(|of| of.len() != table.rows()) {
        return Err(ModelError::Misaligned { column: "grouping".to_owned(), units: table.rows() }.into());
    }
    let (binomial, coef) = spec.rows.binomial(&table, spec.penalised, control)?;
    let statuses = statuses(spec, &table, &binomial)?;
    let order = outermost_first(spec.groupings);
    let sorted: Vec<&[usize]> = order.iter().filter_map(|g| spec.groupings.get(*g).copied()).collect();
    let layout = Layout::new(&table, &sorted);
    let places = (0..order.len()).map(|g| table.p + order.iter().position(|o| *o == g).unwrap_or(g)).collect();
    let feasible = sorted.len() == 1 || (layout.nested_in_rows() && is_nested(&sorted));
    let binomial_loglik = binomial.kernel + table.constant();
    let quadrature = match spec.method {
        Method::Auto => feasible,
        Method::Laplace => false,
        Method::Quadrature if feasible => true,
        Method::Quadrature => {
            let reason =
                "quadrature needs one grouping, or trays with one design row each nested in one other grouping";
            return Err(not_fitted(reason, "use Laplace's approximation"));
        }
    };
    if !quadrature && table.copies.iter().any(|c| (c - 1.0).abs() > 0.0) {
        return Err(not_fitted("Laplace's approximation takes no copies", "give every group its own rows"));
    }
    let engine = if quadrature {
        Engine::integral(&table, layout, spec.penalised)
    } else {
        Engine::laplace(&table, layout, spec.penalised)
    };
    Ok(Setup { engine, places, statuses, binomial, coef, binomial_loglik })
}

/// Groupings from few levels to many.
fn outermost_first(groupings: &[&[usize]]) -> Vec<usize> {
    let count = |of: &[usize]| of.iter().collect::<BTreeSet<_>>().len();
    let mut order: Vec<usize> = (0..groupings.len()).collect();
    order.sort_by_key(|g| groupings.get(*g).map_or(0, |of| count(of)));
    order
}

/// True when every level of the second grouping lies in one level of the first.
fn is_nested(sorted: &[&[usize]]) -> bool {
    let [outer, inner] = sorted else { return false };
    let mut home: BTreeMap<usize, usize> = BTreeMap::new();
    outer.iter().zip(*inner).all(|(outer, inner)| home.entry(*inner).or_insert(*outer) == outer)
}

/// What can be estimated of each SD, seen in the cuttings outside separated rows.
fn statuses(spec: &RandomInterceptSpec<'_>, table: &Table, binomial: &Solution) -> Result<Vec<DeviationStatus>> {
    let separated: BTreeSet<usize> = binomial.runaway.iter().copied().collect();
    let mut out = Vec::new();
    for of in spec.groupings {
        let mut totals: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
        let counts = table.rooted.iter().zip(&table.stuck).zip(&table.copies);
        for (i, (level, ((y, m), copies))) in of.iter().zip(counts).enumerate() {
            if !separated.contains(&i) && *copies > 0.0 {
                let total = totals.entry(*level).or_default();
                *total = (total.0 + y, total.1 + m);
            }
        }
        let pairs = totals.values().any(|(_, m)| *m >= 2.0);
        let whole = totals.values().all(|(y, m)| *y <= 0.0 || y >= m);
        if pairs && whole {
            let reason = "every group rooted wholly or not at all, so its spread runs to infinity";
            return Err(not_fitted(reason, "fit the beta-binomial model, or analyse the groups as single outcomes"));
        }
        out.push(if pairs { DeviationStatus::Estimated } else { DeviationStatus::NotEstimable });
    }
    Ok(out)
}

/// The best of a few SDs at the binomial coefficients; SDs that are not free are 0.
pub(super) fn start(engine: &mut Engine, coef: &[f64], free: &[usize]) -> Vec<f64> {
    let p = engine.p();
    let point = |s: f64| -> Vec<f64> {
        let tail = (p..p + engine.groupings()).map(|j| if free.contains(&j) { s } else { 0.0 });
        coef.iter().copied().chain(tail).collect()
    };
    let candidates: Vec<Vec<f64>> = [0.15, 0.4, 0.8, 1.6].into_iter().map(point).collect();
    let mut best = (f64::NEG_INFINITY, Vec::new());
    for at in candidates {
        let value = engine.value(&at);
        if value > best.0 || best.1.is_empty() {
            best = (if value.is_finite() { value } else { f64::NEG_INFINITY }, at);
        }
    }
    best.1
}

/// The statuses once the fit has shown which SDs are at 0.
pub(super) fn statuses_after(before: &[DeviationStatus], places: &[usize], free: &[usize]) -> Vec<DeviationStatus> {
    let after = |(status, place): (&DeviationStatus, &usize)| match status {
        DeviationStatus::Estimated if !free.contains(place) => DeviationStatus::AtZero,
        other => *other,
    };
    before.iter().zip(places).map(after).collect()
}
