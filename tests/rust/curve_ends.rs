//! Strengths that kill every cutting or root every one: takes, ranges and limits stay usable and agree with the trays' own rates.

use approx::abs_diff_eq;
use rootling::control::Control;
use rootling::curves::{
    CurveInput, CurveOptions, Located, OneCurve, Shape, ShapeChoice, TrayCount, strength_curve, strength_curve_of,
};
use rootling::trial::Units;

use crate::curves::input;
use crate::set_ups::{column, trays_of_20};
use crate::support::highest;

/// Trays of 25 around these counts.
fn trays(counts: &[(f64, u64)]) -> Vec<TrayCount> {
    let off = [0_i64, 2, -1, 1, -2, 0];
    let own = |&(strength, rooted): &(f64, u64)| {
        off.map(|by| {
            let inside = (1..25).contains(&rooted);
            let rooted = if inside { (rooted as i64 + by).clamp(0, 25) as u64 } else { rooted };
            TrayCount { strength, rooted, stuck: 25, block: None }
        })
    };
    counts.iter().flat_map(own).collect()
}

fn asked(counts: &[(f64, u64)]) -> CurveInput {
    input(vec![("", trays(counts))], true, CurveOptions::default())
}

fn curve(counts: &[(f64, u64)]) -> OneCurve {
    strength_curve_of(&asked(counts), &Control::new()).unwrap().numbers.curves.remove(0)
}

fn usable(found: &OneCurve) {
    let best = &found.best;
    assert!(best.take_low <= best.take && best.take <= best.take_high, "{best:?}");
    assert!(best.take_high - best.take_low < 0.4, "{best:?}");
    assert!(best.strength.low <= best.strength.value && best.strength.value <= best.strength.high);
    assert!(best.range_low <= best.strength.value && best.strength.value <= best.range_high, "{best:?}");
    assert!(best.adequate.low <= best.adequate.value && best.adequate.value <= best.adequate.high);
    // What is far worse by its own trays is not in the range.
    let top = found.strengths.iter().map(|one| one.low).fold(0.0, f64::max);
    for one in found.strengths.iter().filter(|one| one.high < top - 0.15) {
        assert!(one.strength < best.range_low || one.strength > best.range_high, "{} in {best:?}", one.strength);
    }
}

#[test]
fn a_deadly_highest_strength() {
    let found = curve(&[(0.0, 11), (1000.0, 14), (3000.0, 18), (8000.0, 0)]);
    usable(&found);
    assert!(found.best.range_low > 0.0 && found.best.range_high < 8000.0, "{:?}", found.best);
    assert_eq!(found.best.located, Located::Inside);
    // One rooted cutting changes little.
    let mut one = trays(&[(0.0, 11), (1000.0, 14), (3000.0, 18), (8000.0, 0)]);
    one.last_mut().unwrap().rooted = 1;
    let one = input(vec![("", one)], true, CurveOptions::default());
    let near = strength_curve_of(&one, &Control::new()).unwrap().numbers.curves.remove(0);
    usable(&near);
    assert!(abs_diff_eq!(near.best.take, found.best.take, epsilon = 0.08), "{} {}", near.best.take, found.best.take);
}

#[test]
fn ends_anywhere() {
    for counts in [
        // Nothing without hormone.
        [(0.0, 0), (1000.0, 8), (2000.0, 15), (4000.0, 17), (8000.0, 10)],
        // Nothing at either end.
        [(0.0, 0), (1000.0, 12), (2000.0, 17), (4000.0, 11), (8000.0, 0)],
        // The two highest kill.
        [(0.0, 6), (1000.0, 15), (2000.0, 17), (4000.0, 0), (8000.0, 0)],
        // Some root all.
        [(0.0, 8), (1000.0, 20), (2000.0, 25), (4000.0, 25), (8000.0, 9)],
        // All at the lowest, none at the highest.
        [(0.0, 25), (1000.0, 24), (2000.0, 16), (4000.0, 4), (8000.0, 0)],
    ] {
        usable(&curve(&counts));
    }
    usable(&curve(&[(0.0, 6), (2000.0, 18), (8000.0, 0)]));
}

/// A curve with a deadly strength and one without, side by side: the second is as it is alone, given their common spread.
#[test]
fn one_curve_of_several() {
    let options = CurveOptions { within: vec!["rootstock".to_owned()], ..CurveOptions::default() };
    let deadly = trays(&[(0.0, 5), (1000.0, 14), (3000.0, 18), (8000.0, 0)]);
    let mild = trays(&[(0.0, 5), (1000.0, 14), (3000.0, 18), (8000.0, 9)]);
    let both = input(vec![("K12", deadly), ("K17", mild)], true, options);
    for found in &strength_curve_of(&both, &Control::new()).unwrap().numbers.curves {
        usable(found);
    }
}

/// The log-likelihood of a quadratic in `ln(1 + d / d0)`: log odds at the top, root of the curvature, ln of the strength of the top; single
/// cuttings, six trays of 25.
fn height(counts: &[(f64, u64)], theta: [f64; 3]) -> f64 {
    let d0 = counts.iter().map(|one| one.0).find(|d| *d > 0.0).unwrap();
    let x = |d: f64| (d / d0).ln_1p();
    let one = |&(d, rooted): &(f64, u64)| {
        let (y, n) = (6.0 * rooted as f64, 150.0);
        let eta = theta[0] - theta[1] * theta[1] * (x(d) - x(theta[2].exp())).powi(2);
        -y * (-eta).exp().ln_1p() - (n - y) * eta.exp().ln_1p()
    };
    counts.iter().map(one).sum()
}

/// At limits of the best strength the statistic, maximised anew from several starts, is the quantile.
#[test]
fn limits_are_where_the_statistic_is_the_quantile() {
    for counts in [
        [(0.0, 4), (1000.0, 12), (2000.0, 17), (4000.0, 13), (8000.0, 3)],
        [(0.0, 3), (500.0, 10), (1000.0, 16), (4000.0, 14), (8000.0, 5)],
        [(0.0, 1), (1000.0, 12), (2000.0, 20), (4000.0, 13), (8000.0, 0)],
    ] {
        let flat: Vec<TrayCount> = counts
            .iter()
            .map(|&(strength, rooted)| TrayCount { strength, rooted: 6 * rooted, stuck: 150, block: None })
            .collect();
        let options = CurveOptions { shape: ShapeChoice::One(Shape::Hump), ..CurveOptions::default() };
        let asked = input(vec![("", flat)], false, options);
        let found = strength_curve_of(&asked, &Control::new()).unwrap().numbers.curves.remove(0).best.strength;
        let best = highest(|t| height(&counts, [t[0], t[1], t[2]]), &[0.5, 1.0, found.value.ln()]).1;
        let mut checked = 0;
        for limit in [found.low, found.high].into_iter().filter(|d| *d > 0.0 && *d < 8000.0) {
            let held = |start: &[f64; 2]| highest(|t| height(&counts, [t[0], t[1], limit.ln()]), start).1;
            let starts = [[0.0, 0.5], [1.0, 1.0], [1.0, 3.0], [-1.0, 2.0], [2.0, 0.2]];
            let fall = 2.0 * (best - starts.iter().map(held).fold(f64::NEG_INFINITY, f64::max));
            // chi-square quantile 0.95 on 1 degree of freedom
            assert_rel!(fall, 3.841_458_820_694_124, 1e-6, "{counts:?} at {limit}: {fall}");
            checked += 1;
        }
        assert_eq!(checked, 2, "{counts:?} {found:?}");
    }
}

/// Two trays of each of three plants (or bays, blocks, seasons) at each strength.
fn nested() -> Units {
    let strengths: Vec<u32> = [0, 1000, 2000, 4000].iter().flat_map(|d| [*d; 6]).collect();
    let rooted = [3, 4, 6, 7, 5, 5, 9, 10, 13, 12, 10, 12, 14, 15, 17, 16, 11, 12, 8, 9, 12, 13, 7, 8];
    trays_of_20(rooted.to_vec(), vec![column("strength", &strengths)])
}

#[test]
fn strengths_given_to_units_above_the_tray() {
    let above = column("above", &(0..24).map(|at| at / 2).collect::<Vec<u32>>());
    for place in 0..4 {
        let mut units = nested();
        *[&mut units.block, &mut units.whole_plot, &mut units.season, &mut units.stock_plant][place] =
            Some(above.clone());
        let found = strength_curve(&units, None, &CurveOptions::default(), &Control::new()).unwrap();
        assert_eq!(found.numbers.input.unit_of, "above", "{place}");
        assert_eq!(found.numbers.curves[0].n_units, 12);
        assert_eq!(found.numbers.df, Some(8.0));
        assert!(found.notes.iter().any(|note| note.code == "judged_by"), "{place}");
    }
    // Plants that give cuttings to every strength leave trays as units, and say so.
    let mut units = nested();
    units.stock_plant = Some(column("plant", &(0..24).map(|at| at % 6).collect::<Vec<u32>>()));
    let found = strength_curve(&units, None, &CurveOptions::default(), &Control::new()).unwrap();
    assert_eq!(found.numbers.input.unit_of, "tray");
    let note = found.notes.iter().find(|note| note.code == "judged_by").unwrap();
    assert!(note.text.starts_with("Trays judge the curve; differences between levels of plant count"), "{}", note.text);
    // Plants without trays are the units themselves.
    units.tray = None;
    units.stock_plant = Some(column("plant", &(0..24).collect::<Vec<u32>>()));
    let found = strength_curve(&units, None, &CurveOptions::default(), &Control::new()).unwrap();
    assert!(found.notes.iter().all(|note| note.code != "judged_by"), "{:?}", found.notes);
}

#[test]
fn two_strengths_make_no_curve() {
    let found = strength_curve_of(&asked(&[(0.0, 6), (2000.0, 15)]), &Control::new()).unwrap();
    let said = &found.sentence;
    assert!(said.starts_with("Two strengths make no curve: 2000 mg/L has 36 more trees per 100 than 0 ("), "{said}");
    assert!(said.ends_with("Test 500 and 1000 mg/L between them."), "{said}");
    let limits = found.table.columns.iter().find(|column| column.name == "low").unwrap();
    assert_eq!(limits.values, rootling::answer::Cells::Number(vec![None]));
    assert!(!said.contains("lowest strength that reaches"), "{said}");
}

/// Two rootstocks with few trays each: none shows a best, both together do, and the common curve finds it.
#[test]
fn a_common_curve_is_offered() {
    let mut units = nested();
    let rootstock = column("rootstock", &(0..24).map(|at| at % 2).collect::<Vec<u32>>());
    units.treatments.push(rootstock);
    units.rooted = vec![8, 9, 5, 7, 9, 8, 11, 10, 8, 12, 10, 11, 12, 13, 11, 14, 13, 10, 7, 9, 6, 10, 8, 7];
    let refused = strength_curve(&units, None, &CurveOptions::default(), &Control::new()).unwrap_err().to_string();
    assert!(refused.contains("for one curve of all"), "{refused}");
    let within = CurveOptions { within: vec!["rootstock".to_owned()], ..CurveOptions::default() };
    let each = strength_curve(&units, None, &within, &Control::new()).unwrap();
    if each.numbers.curves.iter().all(|curve| curve.best.located != Located::Inside) {
        let note = each.notes.iter().find(|note| note.code == "common_curve").unwrap();
        assert!(note.text.ends_with("trial.strength_curve(common=\"rootstock\")"), "{}", note.text);
    }
    let common = CurveOptions { common: vec!["rootstock".to_owned()], ..CurveOptions::default() };
    let all = strength_curve(&units, None, &common, &Control::new()).unwrap();
    assert_eq!(all.numbers.curves.len(), 1);
    assert!(all.notes.iter().any(|note| note.code == "blocks_taken_out"));
}

/// Trays of 20 that take far less without hormone than with any: where on the way up the best strength lies is open, that none does as well is not.
#[test]
fn a_best_strength_just_above_none_is_no_reason_to_use_none() {
    const ROOTED: [(f64, [u64; 4]); 5] = [
        (0.0, [10, 7, 7, 7]),
        (1000.0, [16, 12, 15, 17]),
        (2500.0, [17, 15, 12, 17]),
        (5000.0, [11, 13, 15, 17]),
        (10_000.0, [9, 12, 15, 14]),
    ];
    let own = |(strength, rooted): (f64, [u64; 4])| {
        rooted.map(|rooted| TrayCount { strength, rooted, stuck: 20, block: None })
    };
    let trays = ROOTED.into_iter().flat_map(own).collect();
    let found = strength_curve_of(&input(vec![("", trays)], true, CurveOptions::default()), &Control::new()).unwrap();
    let best = &found.numbers.curves[0].best;
    assert_eq!(best.located, Located::Low);
    assert!(best.range_low > 0.0, "{best:?}");
    assert!(
        found.sentence.starts_with("No best strength yet: it may lie just above 0. Test between 0 and 1000"),
        "{}",
        found.sentence
    );
    assert!(found.details.iter().all(|line| !line.contains("no hormone at all")), "{:?}", found.details);
}
