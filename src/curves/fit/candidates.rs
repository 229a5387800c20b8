//! Whether the best strength of a curve may be stated: one rule for the curve itself, for curves compared, strengths for a take, the next trial
//! and figures.

use rayon::prelude::*;

use super::cache::{OfCurve, OfMember};
use super::climb::free_loglik;
use super::data::{Data, Level};
use super::judge::Judge;
use super::one_shape::{ALONG, Effort, FULL, Fitted, fit};
use crate::control::Control;
use crate::curves::shape::{Asked, CANDIDATES, DEATHS, Form, On, Power, Shape};
use crate::error::{CurveError, Result};
use crate::math::regression::Link;
use crate::report::whole;

/// A lack of fit below this P contradicts a shape, and that of all shapes by their weights says that no curve fits. At 0.05 one hump in fifty
/// would be refused by chance (`tests/calibration/curves.md`).
pub(crate) const CONTRADICTED: f64 = 0.01;

/// One shape's fit and its weight.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Member {
    pub(crate) fitted: Fitted,
    /// Akaike's criterion with correction for few units, on effective counts.
    pub(crate) aicc: f64,
    pub(crate) weight: f64,
    /// Twice the log-likelihood lost against a rate of its own for every strength.
    pub(crate) deviance: f64,
    /// Degrees of freedom of that: strengths minus parameters.
    pub(crate) lack_df: f64,
    /// Its P; `None` without degrees of freedom.
    pub(crate) lack_p: Option<f64>,
    pub(crate) cache: OfMember,
}

/// The counts of one group with everything fitted to them.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Curve {
    pub(crate) data: Data,
    pub(crate) judge: Judge,
    /// By falling weight.
    pub(crate) members: Vec<Member>,
    /// Shapes left out, and why.
    pub(crate) out: Vec<(Shape, String)>,
    /// Log-likelihood with a rate of its own for every strength.
    pub(crate) free: f64,
    /// True where strengths that rooted all or none are softened.
    soft: bool,
    pub(crate) cache: OfCurve,
}

/// Why a shape cannot be fitted to the counts.
fn barred(shape: Shape, data: &Data, judge: &Judge) -> Option<String> {
    let (strengths, parameters) = (data.levels.len(), shape.parameters());
    if shape == Shape::Flat {
        // One take can always be told.
        return None;
    }
    let named = whole(parameters as u64, "parameter", "parameters");
    if parameters > strengths {
        return Some(format!("{named} and {}", whole(strengths as u64, "strength", "strengths")));
    }
    let at_zero = data.levels.first().filter(|level| level.strength == 0.0);
    if shape.needs_none_at_zero() {
        if at_zero.is_some_and(|level| level.rooted > 0.0) {
            return Some("cuttings rooted at strength 0, where this shape has none".to_owned());
        }
        let above = strengths - usize::from(at_zero.is_some());
        if parameters > above {
            return Some(format!("{named} and {} above 0", whole(above as u64, "strength", "strengths")));
        }
    }
    let left = judge.n_obs - penalised(parameters, judge) - 1.0;
    (left <= 0.0).then(|| format!("{named} and {}", whole(judge.n_obs as u64, "unit", "units")))
}

/// Parameters that count: those of the curve, and the spread between trays where it was estimated. Shifts of blocks are common to all
/// shapes and take their units away instead, as contrasts free of them would.
fn penalised(parameters: usize, judge: &Judge) -> f64 {
    parameters as f64 + f64::from(u8::from(judge.df.is_some()))
}

fn aicc(loglik: f64, shape: Shape, judge: &Judge) -> f64 {
    criterion(loglik, shape.parameters(), judge)
}

/// Akaike's criterion with correction for few units.
pub(super) fn criterion(loglik: f64, parameters: usize, judge: &Judge) -> f64 {
    let k = penalised(parameters, judge);
    // Only a flat curve, which is then alone, has fewer units left than one.
    2.0 * k - 2.0 * loglik + 2.0 * k * (k + 1.0) / (judge.n_obs - k - 1.0).max(1.0)
}

/// Fits what is asked for. Shapes that are weighed are fitted to softened counts ([`Data::softened`]); a shape asked for by name is so only
/// where its own top runs to the edge.
pub(crate) fn fit_all(data: Data, judge: Judge, asked: Asked, link: Link, control: &Control) -> Result<Curve> {
    match asked {
        Asked::Auto => fit_each(data.softened(), judge, (asked, true), link, control),
        Asked::One(_) => {
            let softer = data.clone().softened();
            let plain = fit_each(data, judge, (asked, false), link, control)?;
            let at_edge = plain.members.iter().any(|member| runs_to_edge(&member.fitted, &plain.data));
            if at_edge && softer.is_softened() {
                fit_each(softer, judge, (asked, true), link, control)
            } else {
                Ok(plain)
            }
        }
        Asked::Deaths => fit_each(data, judge, (asked, false), link, control),
    }
}

/// True where a coordinate stopped at an end of its range, or where the fitted rate of a strength that rooted all or none is as good as
/// all or none.
fn runs_to_edge(fitted: &Fitted, data: &Data) -> bool {
    const NEAR: f64 = 1e-5;
    let runs = |level: &Level| {
        let p = fitted.form.at(fitted.own(), level.place).mean;
        (level.rooted <= 0.0 && p < NEAR) || (level.rooted >= level.stuck && p > 1.0 - NEAR)
    };
    !fitted.form.shape.needs_none_at_zero() && (!fitted.at_end.is_empty() || data.levels.iter().any(runs))
}

fn fit_each(data: Data, judge: Judge, (asked, soft): (Asked, bool), link: Link, control: &Control) -> Result<Curve> {
    let mut out = Vec::new();
    let mut shapes = Vec::new();
    let wanted: &[Shape] = match &asked {
        Asked::Auto => &CANDIDATES,
        Asked::One(shape) => std::slice::from_ref(shape),
        Asked::Deaths => &DEATHS,
    };
    for shape in wanted {
        match barred(*shape, &data, &judge) {
            Some(why) if matches!(asked, Asked::One(_)) => {
                return Err(CurveError::ShapeOut { shape: shape.name(), why }.into());
            }
            Some(why) => out.push((*shape, why)),
            None => shapes.push(*shape),
        }
    }
    let in_each_form = |shape: Shape| -> Result<Vec<Fitted>> {
        let mut fits: Vec<Fitted> = Vec::new();
        for form in forms(shape, link, asked, &data) {
            let near = fits.last().map(|last| last.on_axis(form.on, &data.axis));
            let effort = if near.is_some() { ALONG } else { FULL };
            fits.push(fit(form, &data, near.as_deref(), effort, control)?);
        }
        Ok(fits)
    };
    let fits: Vec<Vec<Fitted>> = shapes.into_par_iter().map(in_each_form).collect::<Result<_>>()?;
    let fits = fits.into_iter().flatten().collect();
    let free = free_loglik(&data, FULL.enough, control)?;
    Ok(weigh((data, free, soft), judge, fits, out))
}

fn weigh((data, free, soft): (Data, f64, bool), judge: Judge, fits: Vec<Fitted>, out: Vec<(Shape, String)>) -> Curve {
    let strengths = data.levels.len() as f64;
    let mut members: Vec<Member> = fits
        .into_iter()
        .map(|fitted| {
            let shape = fitted.form.shape;
            let (deviance, lack_dof) = ((2.0 * (free - fitted.loglik)).max(0.0), strengths - shape.parameters() as f64);
            let lack_p = (lack_dof > 0.0).then(|| judge.tail(deviance, lack_dof));
            Member {
                aicc: aicc(fitted.loglik, shape, &judge),
                weight: 0.0,
                deviance,
                lack_df: lack_dof,
                lack_p,
                fitted,
                cache: OfMember::default(),
            }
        })
        .collect();
    set_weights(&mut members);
    members.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    Curve { data, judge, members, out, free, soft, cache: OfCurve::default() }
}

/// The forms a shape is tried in, which share one weight beforehand: under `auto` the hump and the rise and fall on several axes, since
/// nobody knows `d0`; Cedergreen's stimulation with every power.
fn forms(shape: Shape, link: Link, asked: Asked, data: &Data) -> Vec<Form> {
    let plain = Form { shape, link, on: On::BASE, power: Power::Half };
    let on = |all: Vec<On>| all.into_iter().map(|on| Form { on, ..plain }).collect();
    match shape {
        Shape::Hump if asked == Asked::Auto => on(data.axis.tried(data.none_at_zero())),
        Shape::RiseAndFall if asked == Asked::Auto => on(data.axis.tried_coarsely(data.none_at_zero())),
        Shape::Cedergreen => Power::ALL.map(|power| Form { power, ..plain }).to_vec(),
        _ => vec![plain],
    }
}

fn set_weights(members: &mut [Member]) {
    let least = members.iter().map(|member| member.aicc).fold(f64::INFINITY, f64::min);
    let alike: Vec<Shape> = members.iter().map(|member| member.fitted.form.shape).collect();
    let raw = |member: &Member| {
        let shared = alike.iter().filter(|shape| **shape == member.fitted.form.shape).count() as f64;
        (-0.5 * (member.aicc - least)).exp() / shared
    };
    let total: f64 = members.iter().map(raw).sum();
    for member in members {
        member.weight = raw(member) / total;
    }
}

impl Curve {
    /// The same shapes fitted to other counts, starting from these fits. Shapes without any weight stay out.
    pub(crate) fn again(&self, data: Data, effort: Effort, control: &Control) -> Result<Self> {
        const WEIGHTLESS: f64 = 1e-5;
        let data = if self.soft { data.softened() } else { data };
        let mut fits = Vec::with_capacity(self.members.len());
        for member in self.members.iter().filter(|member| member.weight >= WEIGHTLESS) {
            fits.push(fit(member.fitted.form, &data, Some(&member.fitted.theta), effort, control)?);
        }
        let free = free_loglik(&data, effort.enough, control)?;
        Ok(weigh((data, free, self.soft), self.judge, fits, Vec::new()))
    }

    /// The members that have a say, with weights that add up to 1: those with some weight that the strengths' own rates do not
    /// contradict, or all with some weight where every one is contradicted.
    pub(crate) fn counting(&self) -> Vec<(&Member, f64)> {
        const NEGLIGIBLE: f64 = 2e-3;
        let fits = |member: &Member| member.lack_p.is_none_or(|p| p >= CONTRADICTED);
        let total: f64 = self.members.iter().filter(|member| fits(member)).map(|member| member.weight).sum();
        let all = total <= 0.0;
        let total = if all { 1.0 } else { total };
        let say = |member: &&Member| (all || fits(member)) && member.weight >= NEGLIGIBLE * total;
        let kept: Vec<&Member> = self.members.iter().filter(say).collect();
        let total: f64 = kept.iter().map(|member| member.weight).sum();
        kept.into_iter().map(|member| (member, member.weight / total)).collect()
    }

    /// Log-likelihood of one take at all strengths.
    pub(crate) fn flat_loglik(&self, control: &Control) -> Result<f64> {
        if self.data.beside.is_some() {
            let flat = self.members.iter().find(|member| member.fitted.form.shape == Shape::Flat);
            let form = Form { shape: Shape::Flat, link: Link::Logit, on: On::BASE, power: Power::Half };
            return match flat {
                Some(flat) => Ok(flat.fitted.loglik),
                None => Ok(fit(form, &self.data, None, FULL, control)?.loglik),
            };
        }
        let rates = vec![self.data.overall(); self.data.levels.len()];
        let (rooted, stuck) = self.data.counts();
        Ok(crate::math::regression::isotonic::loglik(&rooted, &stuck, &rates))
    }
}
