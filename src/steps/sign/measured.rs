//! Each question to a sign with its limits.

use super::corrected::corrected;
use super::direction::direction;
use super::numbers::{EarlySign, Kept, SignCounts, SignMeasure, SignOptions, SignQuestion};
use super::sums::Sums;
use crate::counts::ratio_effective;
use crate::error::{CountError, Result, StepsError};
use crate::estimate::{LARGEST_COUNT, check_level};
use crate::steps::trays::{Rate, rate};

type Limits = (Option<f64>, Option<f64>);

/// Works out all of it; one entry is of no tray in particular.
pub(super) fn measured(trays: &[SignCounts], options: &SignOptions) -> Result<EarlySign> {
    check_level(options.confidence)?;
    // A tray without a plant tells nothing of how trays differ.
    let read: Vec<SignCounts> = trays.iter().filter(|tray| **tray != SignCounts::default()).copied().collect();
    let trays = if read.is_empty() { trays } else { &read };
    let sums = Sums::of(trays);
    check(trays, sums, options.kept)?;
    check_money(options)?;
    let unread = sums.u + sums.v;
    let kept = (unread > 0.0).then_some(options.kept);
    let bounds = kept == Some(Kept::Chosen);
    let filled = if bounds { None } else { sums.filled() };
    let measures: Result<Vec<SignMeasure>> = SignQuestion::ALL
        .into_iter()
        .map(|question| {
            let (low, high) = ends(trays, sums, question, kept, options.confidence)?;
            let value = filled.and_then(|filled| filled.answer(question));
            Ok(SignMeasure { question, value, low, high, as_read: sums.answer(question) })
        })
        .collect();
    let measures = measures?;
    let freed = sums.without() / sums.all();
    let failed = measures.iter().find(|one| one.question == SignQuestion::FailedOfWithout);
    let lose = |failed: Option<f64>| failed.map(|share| freed * (1.0 - share));
    // Without a plant that lacks the sign nothing is culled and nothing lost.
    let none = (sums.without() <= 0.0).then_some(0.0);
    let lost = none.or_else(|| lose(failed.and_then(|one| one.value)));
    let lost_low = none.or_else(|| lose(failed.and_then(|one| one.high)));
    let lost_high = none.or_else(|| lose(failed.and_then(|one| one.low)));
    let way = direction(trays, sums, bounds, options.confidence)?;
    let with = measures.iter().find(|one| one.question == SignQuestion::RootedOfWith);
    let kept_gain = |share: Option<f64>| Some(options.worth? * share? - options.cost?);
    let gained = |lost: Option<f64>| Some(freed * options.cost? - options.worth? * lost?);
    Ok(EarlySign {
        sign: options.sign.clone(),
        n_plants: (sums.all() - unread) as u64,
        n_unread: unread as u64,
        n_units: (trays.len() > 1).then_some(trays.len() as u64),
        kept,
        bounds,
        points: way.points,
        more_rooted: way.value,
        more_rooted_low: way.low,
        more_rooted_high: way.high,
        freed,
        lost,
        lost_low,
        lost_high,
        kept_gain: kept_gain(with.and_then(|one| one.value)),
        kept_gain_low: kept_gain(with.and_then(|one| one.low)),
        kept_gain_high: kept_gain(with.and_then(|one| one.high)),
        saved: options.cost.map(|cost| freed * cost),
        forgone: options.worth.zip(lost).map(|(worth, lost)| worth * lost),
        gained: gained(lost),
        gained_low: gained(lost_high),
        gained_high: gained(lost_low),
        rooted: filled.map(|filled| (filled.a + filled.c) / filled.all()),
        confidence: options.confidence,
        measures,
    })
}

fn check_money(options: &SignOptions) -> Result<()> {
    for (name, value) in [("cost", options.cost), ("worth", options.worth)] {
        if let Some(value) = value.filter(|value| !(*value >= 0.0 && value.is_finite())) {
            return Err(StepsError::NoSuchStart { name, value, wanted: "0 or more" }.into());
        }
    }
    Ok(())
}

fn check(trays: &[SignCounts], sums: Sums, kept: Kept) -> Result<()> {
    let counts = |tray: &SignCounts| {
        [
            tray.with_rooted,
            tray.with_failed,
            tray.without_rooted,
            tray.without_failed,
            tray.with_unread,
            tray.without_unread,
        ]
    };
    let total = trays.iter().flat_map(counts).fold(0, u64::saturating_add);
    if total > LARGEST_COUNT {
        return Err(CountError::TooLarge { value: total }.into());
    }
    if sums.all() - sums.u - sums.v <= 0.0 {
        return Err(StepsError::NothingRead.into());
    }
    for (read, unread, side) in [(sums.a + sums.b, sums.u, "with"), (sums.c + sums.d, sums.v, "without")] {
        if kept == Kept::Irrespective && read <= 0.0 && unread > 0.0 {
            return Err(StepsError::SideNotRead { side }.into());
        }
    }
    Ok(())
}

/// Limits of one answer, or its bounds where what was not read can be anything.
fn ends(
    trays: &[SignCounts],
    sums: Sums,
    question: SignQuestion,
    kept: Option<Kept>,
    confidence: f64,
) -> Result<Limits> {
    if kept == Some(Kept::Chosen) {
        return Ok(sums.bounds(question));
    }
    let of = |pick: fn(&SignCounts) -> (u64, u64)| -> Result<Option<Rate>> {
        rate(&trays.iter().map(pick).collect::<Vec<_>>(), confidence)
    };
    let plain = |found: Option<Rate>| {
        let limits = found.and_then(|rate| rate.limits());
        (limits.map(|ends| ends.0), limits.map(|ends| ends.1))
    };
    // What is asked of one side of the sign is read on that side alone.
    match question {
        SignQuestion::RootedOfWith => {
            return Ok(plain(of(|one| (one.with_rooted, one.with_rooted + one.with_failed))?));
        }
        SignQuestion::FailedOfWithout => {
            return Ok(plain(of(|one| (one.without_failed, one.without_rooted + one.without_failed))?));
        }
        _ => {}
    }
    if kept.is_some() {
        let trays: Vec<Sums> = trays.iter().map(Sums::one).collect();
        let found = corrected(sums, &trays, question, confidence);
        return Ok((found.map(|ends| ends.0), found.map(|ends| ends.1)));
    }
    let rooted = of(|one| (one.with_rooted, one.with_rooted + one.without_rooted))?;
    let failed = of(|one| (one.without_failed, one.with_failed + one.without_failed))?;
    match question {
        SignQuestion::Sensitivity => Ok(plain(rooted)),
        SignQuestion::Specificity => Ok(plain(failed)),
        _ => ratio_ends(rooted, failed, question),
    }
}

/// Limits of a likelihood ratio: Koopman's on effective plants, rooted against failed, at the larger critical value of the two.
fn ratio_ends(rooted: Option<Rate>, failed: Option<Rate>, question: SignQuestion) -> Result<Limits> {
    let Some((rooted, failed)) = rooted.zip(failed) else { return Ok((None, None)) };
    let Some((one, two)) = rooted.known.zip(failed.known) else { return Ok((None, None)) };
    let critical = one.critical.max(two.critical);
    let (sign, against) = if question == SignQuestion::LikelihoodRatioWith {
        (rooted.value, 1.0 - failed.value)
    } else {
        (1.0 - rooted.value, failed.value)
    };
    if sign <= 0.0 && against <= 0.0 {
        return Ok((None, None));
    }
    let (low, high) = ratio_effective((against, two.effective), (sign, one.effective), critical)?;
    Ok((Some(low), Some(high).filter(|high| high.is_finite())))
}
