//! What is decided of an early sign: first whether it tells anything, and which way, then what culling on it would bring.

use super::numbers::{EarlySign, SignPoints, SignQuestion};
use crate::report::{capital, fitted, number, percent, points};

/// " (2.0 to 7.0)"; blank where nothing is known.
fn ends(low: Option<f64>, high: Option<f64>) -> String {
    low.zip(high).map_or_else(String::new, |(low, high)| format!(" ({} to {})", points(low), points(high)))
}

/// What culling is settled to bring.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pays {
    /// It gains.
    Yes,
    /// It costs.
    No,
    /// Limits hold both.
    Open,
    /// Costs or worth were not given.
    NotAsked,
}

pub(super) fn pays(found: &EarlySign) -> Pays {
    match (found.gained_low.zip(found.gained_high), found.gained) {
        (Some((low, _)), _) if low > 0.0 => Pays::Yes,
        (Some((_, high)), _) if high < 0.0 => Pays::No,
        (None, None) => Pays::NotAsked,
        _ => Pays::Open,
    }
}

/// Shares rooted with the sign and without it, in percent.
fn both(found: &EarlySign) -> Option<(String, String)> {
    let of = |question: SignQuestion| found.measures.iter().find(|one| one.question == question)?.value;
    let (with, failed) = (of(SignQuestion::RootedOfWith)?, of(SignQuestion::FailedOfWithout)?);
    Some((percent(with), percent(1.0 - failed)))
}

pub(super) fn sentence(found: &EarlySign) -> String {
    let sign = &found.sign;
    let open = if found.bounds { "; which, the plants culled unread leave open" } else { "" }.to_owned();
    match found.points {
        SignPoints::Nowhere => {
            let all = if found.freed > 0.0 { "No plant has" } else { "All plants have" };
            fitted(&format!("{all} the {sign}, so it tells none from another: do not cull on it"), &[])
        }
        SignPoints::AgainstRooting => {
            let told = both(found).map_or_else(String::new, |(with, without)| {
                format!(": {with} of plants with it root, {without} of those without")
            });
            fitted(
                &format!("The {sign} points the other way{told}; do not cull plants for lacking it"),
                &[if found.bounds { " whatever became of those not read".to_owned() } else { String::new() }],
            )
        }
        SignPoints::NotShown if found.bounds => culled(found, &[open]),
        SignPoints::NotShown => {
            let told = both(found)
                .map_or_else(String::new, |(with, without)| format!("; {with} with it root, {without} without"));
            let range = found.more_rooted_low.zip(found.more_rooted_high);
            let range = range.map_or_else(String::new, |(low, high)| {
                format!(": {} fewer to {} more of 100 remain possible", points(-low), points(high))
            });
            fitted(&format!("The {sign} is not shown to tell rooting, so do not cull on it{range}"), &[told])
        }
        SignPoints::ToRooting => culled(found, &if found.bounds { vec![open] } else { Vec::new() }),
    }
}

/// What culling frees, loses and brings.
fn culled(found: &EarlySign, open: &[String]) -> String {
    let sign = &found.sign;
    let freed = format!("frees {} of 100 places", points(found.freed));
    let plain = format!("culling plants without the {sign}");
    let hundred = |value: f64| number(100.0 * value.abs());
    let lost = match (found.lost, found.lost_low.zip(found.lost_high)) {
        (Some(lost), _) => format!("loses {} trees{}", points(lost), ends(found.lost_low, found.lost_high)),
        (None, Some((low, high))) => format!("loses between {} and {} trees", points(low), points(high)),
        (None, None) => "loses nobody knows how many trees".to_owned(),
    };
    let range = found.gained_low.zip(found.gained_high);
    match (pays(found), range) {
        (Pays::Yes, Some((low, high))) if found.kept_gain_high.is_some_and(|high| high < 0.0) => {
            let kept = found.kept_gain.map_or_else(String::new, |gain| format!(" {}", hundred(gain)));
            let lead = format!("At these costs no plant pays: 100 with the {sign} lose{kept} more than they bring");
            let range = format!("; culling those without gains {} to {} for 100 plants", hundred(low), hundred(high));
            fitted(&lead, &[range])
        }
        (Pays::Yes, Some((low, high))) => {
            let gain = found.gained.map_or_else(
                || format!(" {} to {}", hundred(low), hundred(high)),
                |gain| format!(" {} ({} to {})", hundred(gain), hundred(low), hundred(high)),
            );
            fitted(&format!("Cull plants without the {sign}: that {freed}, {lost} and gains{gain} for 100 plants"), &[])
        }
        (Pays::No, Some((low, high))) => {
            let cost = found.gained.map_or_else(
                || format!(" {} to {}", hundred(high), hundred(low)),
                |gain| format!(" {} ({} to {})", hundred(gain), hundred(high), hundred(low)),
            );
            fitted(&format!("Do not cull on the {sign}: that {freed}, {lost} and costs{cost} for 100 plants"), &[])
        }
        (Pays::Open, range) => {
            let range = range.map_or_else(String::new, |(low, high)| {
                format!("; from a cost of {} to a gain of {}", hundred(low), hundred(high))
            });
            fitted(&format!("Not settled whether culling on the {sign} pays: it {freed}, {lost}"), &[range])
        }
        _ => {
            let of = found.rooted.map(|rooted| format!(" of the {} that root", points(rooted)));
            let tails: Vec<String> = of.into_iter().chain(open.iter().cloned()).collect();
            fitted(&format!("{} {freed} and {lost}", capital(&plain)), &tails)
        }
    }
}
