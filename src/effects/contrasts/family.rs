//! The family of contrasts: which averaged rates are set against which, and what each is called.

use super::options::{ContrastOptions, Pattern};
use crate::effects::averaging::{Averaging, Blend};
use crate::effects::resolve::Names;
use crate::error::{EffectError, Result};
use crate::models::{Term, Variable};
use crate::report::join;
use crate::trial::Value;

/// Most contrasts of a family.
pub(super) const MOST: usize = 1_000;

/// One contrast: weights on positions in the list of averaged rates.
#[derive(Debug, Clone)]
pub(super) struct Member {
    pub(super) comparison: String,
    /// The level of `within`.
    pub(super) within: Option<String>,
    pub(super) weights: Vec<(f64, usize)>,
}

impl Member {
    /// Rates that it sets against each other.
    pub(super) fn parts(&self) -> usize {
        self.weights.iter().filter(|(weight, _)| weight.abs() > 1e-12).count()
    }
}

/// All contrasts of a question.
#[derive(Debug, Clone)]
pub(super) struct Family {
    pub(super) members: Vec<Member>,
    /// Averaged rates, by level of the other factor (if any), then by level; none where not estimable.
    pub(super) blends: Vec<Option<Blend>>,
    /// The level that others are set against.
    pub(super) against: Option<String>,
    /// Numeric factor with at least three levels.
    pub(super) curve: bool,
    /// Weights that had to be scaled.
    pub(super) scaled: bool,
}

/// Weights on the levels of the factor, with a name.
struct Plain {
    name: String,
    weights: Vec<(f64, usize)>,
}

impl Family {
    pub(super) fn new(names: Names<'_>, by: &str, options: &ContrastOptions, averaging: &Averaging) -> Result<Self> {
        let first = names.factor(by)?;
        let second = other(names, by, options)?;
        for (index, variable) in std::iter::once(first).chain(second) {
            if averaging.holds(index) {
                let name = variable.name.clone();
                return Err(
                    EffectError::Twice { name, first: "at=", second: "treatment, within= or changing_with=" }.into()
                );
            }
        }
        let mut found = Self { members: Vec::new(), blends: Vec::new(), against: None, curve: false, scaled: false };
        let plain = found.plain(names, first.1, options)?;
        let levels = second.map_or(1, |(_, variable)| variable.levels.len());
        let pairs = if options.changing_with.is_some() { levels * (levels - 1) / 2 } else { levels };
        let count = plain.len() * pairs;
        if count > MOST {
            return Err(EffectError::TooMany { count, most: MOST }.into());
        }
        found.curve = numbers(names, first.1).is_some() && first.1.levels.len() > 2;
        let width = first.1.levels.len();
        for split in 0..levels {
            for code in 0..width {
                let mut fixed = vec![(first.0, Value::Level(code))];
                fixed.extend(second.map(|(index, _)| (index, Value::Level(split))));
                found.blends.push(averaging.blend(names.ready, &fixed));
            }
        }
        let label = |split: usize| second.map(|(_, variable)| variable.label(Value::Level(split)));
        if options.changing_with.is_some() {
            for (a, b) in (0..levels).flat_map(|a| (a + 1..levels).map(move |b| (a, b))) {
                let place = second.map_or("", |(_, variable)| variable.name.as_str());
                let (low, high) = (label(a).unwrap_or_default(), label(b).unwrap_or_default());
                found.members.extend(plain.iter().map(|one| Member {
                    comparison: format!("{}, {place} {high} against {low}", one.name),
                    within: None,
                    weights: [moved(&one.weights, 1.0, b * width), moved(&one.weights, -1.0, a * width)].concat(),
                }));
            }
        } else {
            for split in 0..levels {
                found.members.extend(plain.iter().map(|one| Member {
                    comparison: one.name.clone(),
                    within: label(split),
                    weights: moved(&one.weights, 1.0, split * width),
                }));
            }
        }
        Ok(found)
    }

    /// True when some rate is an average over other effects.
    pub(super) fn averages(&self) -> bool {
        self.blends.iter().flatten().any(|blend| blend.0.len() > 1)
    }

    /// The contrasts of the levels of one factor.
    fn plain(&mut self, names: Names<'_>, by: &Variable, options: &ContrastOptions) -> Result<Vec<Plain>> {
        let label = |code: usize| by.label(Value::Level(code));
        let against = |second: usize, first: usize| Plain {
            name: format!("{} {} against {}", by.name, label(second), label(first)),
            weights: vec![(1.0, second), (-1.0, first)],
        };
        let size = by.levels.len();
        let one = options.against.is_some() || options.pattern == Pattern::Control;
        if options.against.is_some() && !matches!(options.pattern, Pattern::Control | Pattern::AllPairs) {
            let instead = "leave one of them out";
            return Err(EffectError::NotTogether { first: "against=", second: "this kind=", instead }.into());
        }
        if one {
            let first = control(names, by, options.against.as_deref())?;
            self.against = Some(label(first));
            return Ok((0..size).filter(|code| *code != first).map(|code| against(code, first)).collect());
        }
        Ok(match &options.pattern {
            Pattern::AllPairs | Pattern::Control => {
                (0..size).flat_map(|i| (i + 1..size).map(move |j| (j, i))).map(|(j, i)| against(j, i)).collect()
            }
            Pattern::Steps => (1..size).map(|code| against(code, code - 1)).collect(),
            Pattern::Trend => vec![trend(names, by)],
            Pattern::Weights(lists) => {
                lists.iter().map(|(name, weights)| self.weighted(names, by, name, weights)).collect::<Result<_>>()?
            }
        })
    }

    /// Weights as given, scaled so that the positive ones sum to 1.
    fn weighted(
        &mut self,
        names: Names<'_>,
        by: &Variable,
        name: &str,
        given: &std::collections::BTreeMap<String, f64>,
    ) -> Result<Plain> {
        let mut weights = Vec::new();
        for (level, weight) in given {
            weights.push((*weight, names.level_of(by, level)?));
        }
        weights.sort_by_key(|(_, code)| *code);
        let named = if name.is_empty() { composed(by, &weights) } else { name.to_owned() };
        let name = named.clone();
        if weights.iter().any(|(weight, _)| !weight.is_finite())
            || weights.iter().filter(|(weight, _)| *weight != 0.0).count() < 2
        {
            return Err(EffectError::NoWeights { name }.into());
        }
        let sum: f64 = weights.iter().map(|(weight, _)| weight).sum();
        let positive: f64 = weights.iter().map(|(weight, _)| weight.max(0.0)).sum();
        if sum.abs() > 1e-9 * weights.iter().map(|(weight, _)| weight.abs()).sum::<f64>() {
            return Err(EffectError::Weights { name, sum }.into());
        }
        self.scaled |= (positive - 1.0).abs() > 1e-9;
        let weights = weights.into_iter().filter(|(weight, _)| *weight != 0.0);
        Ok(Plain { name: named, weights: weights.map(|(weight, code)| (weight / positive, code)).collect() })
    }
}

/// The other factor, from `within` or `changing_with`.
fn other<'a>(names: Names<'a>, by: &str, options: &ContrastOptions) -> Result<Option<(usize, &'a Variable)>> {
    let given = match (&options.within, &options.changing_with) {
        (Some(_), Some(_)) => {
            let instead = "ask for the contrasts within its levels, or for how they change with it";
            return Err(EffectError::NotTogether { first: "within=", second: "changing_with=", instead }.into());
        }
        (Some(name), None) => Some((name, "within=")),
        (None, Some(name)) => Some((name, "changing_with=")),
        (None, None) => None,
    };
    let Some((name, place)) = given else { return Ok(None) };
    if name == by {
        return Err(EffectError::Twice { name: name.clone(), first: "treatment", second: place }.into());
    }
    let found = names.factor(name)?;
    if options.changing_with.is_some() {
        let (own, _) = names.factor(by)?;
        let together = |term: &Term| term.variables.contains(&own) && term.variables.contains(&found.0);
        if !names.ready.frame.terms.iter().any(together) {
            return Err(EffectError::NoInteraction { first: by.to_owned(), second: name.clone() }.into());
        }
    }
    Ok(Some(found))
}

/// The levels of a factor as numbers, in the model's order.
pub(super) fn numbers(names: Names<'_>, by: &Variable) -> Option<Vec<f64>> {
    let factor = names.model.units.factor(&by.name)?;
    let known = factor.numbers.as_ref()?;
    let number = |level: &String| factor.levels.iter().position(|one| one == level).and_then(|at| known.get(at));
    by.levels.iter().map(|level| number(level).copied()).collect()
}

/// The level that others are set against: the one named, else the trial's control, else the strength 0, else the model's reference.
fn control(names: Names<'_>, by: &Variable, given: Option<&str>) -> Result<usize> {
    match given {
        Some(level) if level != "control" || by.levels.iter().any(|known| known == level) => names.level_of(by, level),
        _ => {
            let declared = names.model.spec.controls.get(&by.name);
            if let Some(code) = declared.and_then(|level| by.levels.iter().position(|known| known == level)) {
                return Ok(code);
            }
            let zero = numbers(names, by).and_then(|numbers| numbers.iter().position(|number| *number == 0.0));
            Ok(zero.unwrap_or(by.reference))
        }
    }
}

/// The least-squares line through the rates, over the whole range of the levels: by their numbers, else by their order.
/// Weights of levels for the change from the lowest to the highest score along the straight line through their values.
pub(crate) fn along_a_line(scores: &[f64]) -> Vec<f64> {
    let mean = scores.iter().sum::<f64>() / scores.len() as f64;
    let squares: f64 = scores.iter().map(|score| (score - mean).powi(2)).sum();
    let low = scores.iter().copied().fold(f64::INFINITY, f64::min);
    let high = scores.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    scores.iter().map(|score| (score - mean) * (high - low) / squares).collect()
}

fn trend(names: Names<'_>, by: &Variable) -> Plain {
    let scores = numbers(names, by).unwrap_or_else(|| (0..by.levels.len()).map(|code| code as f64).collect());
    let low = scores.iter().copied().fold(f64::INFINITY, f64::min);
    let high = scores.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let place = |wanted: f64| scores.iter().position(|score| *score == wanted).unwrap_or_default();
    let label = |wanted: f64| by.label(Value::Level(place(wanted)));
    Plain {
        name: format!("{} {} against {}, along a straight line", by.name, label(high), label(low)),
        weights: along_a_line(&scores).into_iter().zip(0..).collect(),
    }
}

/// "strength 2500 and 5000 against 0", from the signs of the weights.
fn composed(by: &Variable, weights: &[(f64, usize)]) -> String {
    let side = |sign: f64| -> String {
        let of = weights.iter().filter(|(weight, _)| weight * sign > 0.0);
        join(&of.map(|(_, code)| by.label(Value::Level(*code))).collect::<Vec<_>>())
    };
    let sides: Vec<String> = [side(1.0), side(-1.0)].into_iter().filter(|side| !side.is_empty()).collect();
    format!("{} {}", by.name, sides.join(" against "))
}

fn moved(weights: &[(f64, usize)], sign: f64, by: usize) -> Vec<(f64, usize)> {
    weights.iter().map(|(weight, code)| (sign * weight, code + by)).collect()
}
