//! The curves of an input, fitted.

use super::candidates::{Curve, Member, fit_all};
use super::counts::Counts;
use super::judge::Judge;
use super::level::Slope;
use crate::control::Control;
use crate::curves::input::{CurveInput, CurveTrays};
use crate::curves::shape::{Asked, Shape};
use crate::error::{CurveError, Result};
use crate::rates::{Arm, PLANNING_ICC, TraySpread, tray_spread, tray_spread_within};

/// The curves of an input, fitted, with what they share.
#[derive(Debug)]
pub(crate) struct Ready {
    pub(crate) curves: Vec<(Counts, Curve)>,
    pub(crate) spread: Option<TraySpread>,
    pub(crate) assumed: bool,
    pub(crate) judge: Judge,
}

/// Fits every curve of the input.
pub(crate) fn fitted(input: &CurveInput, asked: Asked, control: &Control) -> Result<Ready> {
    let options = &input.options;
    let plain: Vec<Counts> =
        input.groups.iter().map(|group| Counts::new(&group.trays, None, options.zero_scale)).collect();
    let arms: Vec<Arm> = plain.iter().flat_map(|counts| counts.arms.clone()).collect();
    let mut places: Vec<Vec<u32>> = Vec::with_capacity(arms.len());
    let mut blocks = 0;
    for counts in &plain {
        places.extend(counts.places(blocks));
        blocks += counts.n_blocks() as u32;
    }
    let found = match (input.counted, input.blocks.is_some()) {
        (true, true) => tray_spread_within(&arms, &places),
        (true, false) => tray_spread(&arms),
        (false, _) => None,
    };
    let assumed = input.counted && found.is_none();
    let known = TraySpread {
        icc: PLANNING_ICC,
        df: f64::INFINITY,
        dispersion: None,
        dispersion_df: 0.0,
        icc_floor: PLANNING_ICC,
        events: 0.0,
    };
    let spread = found.or(assumed.then_some(known));
    let shared = found.map(|spread| spread.df);
    let (law, mut all) = (options.trays, 0.0);
    // Of each curve the fit, where its best strength lies, and the trials drawn from it.
    control.expect(input.groups.len() as u64 * (2 + options.draws));
    let mut curves = Vec::with_capacity(plain.len());
    for (group, plain) in input.groups.iter().zip(plain) {
        control.step()?;
        let counts = Counts::new(&group.trays, spread.as_ref(), options.zero_scale).under(law, spread.as_ref());
        let own = shown(&counts, &group.name(&options.within), (law, shared))?;
        all += own.unwrap_or(0.0);
        let df = if law.is_law() { own } else { shared };
        let n_obs =
            if input.counted { plain.units() } else { plain.cuttings() } as f64 + 1.0 - counts.n_blocks() as f64;
        let asked = if counts.all_alike() { Asked::One(Shape::Flat) } else { asked };
        let judge = Judge { df, n_obs, level_variance: 0.0 };
        let mut curve = fit_all(counts.effective(), judge, asked, options.link, control)?;
        let own = |member: &Member| member.weight * member.fitted.form.shape.parameters() as f64;
        let parameters: f64 = curve.members.iter().map(own).sum();
        curve.judge.level_variance = curve.members.first().map_or(0.0, |lead| {
            let slope = Slope::of(&lead.fitted, &curve.data);
            input.over_places(curves.len(), (&judge, parameters), (slope, curve.data.mean_take().1))
        });
        curves.push((counts, curve));
        control.finish(1);
    }
    let df = if law.is_law() { Some(all) } else { shared };
    Ok(Ready { curves, spread: found, assumed, judge: Judge { df, n_obs: 0.0, level_variance: 0.0 } })
}

/// Degrees of freedom of the spread between a curve's own trays under a law, refused where its trays cannot show it.
fn shown(counts: &Counts, name: &str, (law, shared): (CurveTrays, Option<f64>)) -> Result<Option<f64>> {
    let not = |why: &str| CurveError::LawNotShown { trays: law.name(), place: name.to_owned(), why: why.to_owned() };
    let taken = counts.strengths.len() + counts.n_blocks() - 1;
    let left = (counts.units() as usize).saturating_sub(taken) as f64;
    match law {
        CurveTrays::Dispersion if shared.is_none() => Err(not("no strength has two trays").into()),
        CurveTrays::Auto | CurveTrays::Ignore | CurveTrays::Dispersion => Ok(None),
        CurveTrays::BetaBinomial | CurveTrays::Random if left < 1.0 => Err(not("no strength has two trays").into()),
        CurveTrays::BetaBinomial | CurveTrays::Random if !counts.has_pairs() => {
            Err(not("every tray holds a single cutting").into())
        }
        CurveTrays::BetaBinomial | CurveTrays::Random => Ok(Some(left)),
    }
}
