//! What single takes of curves hold for: further blocks and seasons where these are taken out; and what is withheld.

use approx::abs_diff_eq;
use rootling::Answer;
use rootling::control::Control;
use rootling::curves::{
    Criterion, CurveOptions, CurveTrays, NextOptions, Shape, ShapeChoice, StrengthCurve, Why, Withheld, compare_curves,
    damage_threshold, next_strengths, strength_curve, strength_curve_of, strengths_for,
};
use rootling::math::rng;
use rootling::rates::{TakeRatesOptions, take_rates};
use rootling::trial::{LoadOptions, Trial, read_csv};

use crate::curves::input;

/// Four benches, one tray of each strength in each: rooted, dead and stuck at 0, 500, 1500, 4000 and 8000 (drawn).
const BENCHES: [[[u64; 3]; 5]; 4] = [
    [[0, 3, 16], [4, 3, 18], [6, 4, 19], [14, 3, 18], [6, 5, 17]],
    [[6, 0, 20], [3, 1, 14], [10, 0, 14], [15, 2, 19], [10, 7, 19]],
    [[1, 1, 18], [4, 2, 20], [7, 1, 14], [10, 0, 14], [2, 1, 14]],
    [[1, 1, 19], [9, 0, 20], [16, 1, 20], [13, 2, 19], [6, 8, 17]],
];
const STRENGTHS: [u32; 5] = [0, 500, 1500, 4000, 8000];

fn loaded(text: &str, season: bool) -> Trial {
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        dead: text.starts_with("tray,bench,strength,rooted,dead").then(|| "dead".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        block: Some("bench".into()),
        season: season.then(|| "season".into()),
        ..LoadOptions::default()
    };
    read_csv(text.as_bytes(), &options).unwrap()
}

fn benches() -> Trial {
    let mut text = "tray,bench,strength,rooted,dead,stuck\n".to_owned();
    for (bench, rows) in BENCHES.iter().enumerate() {
        for (strength, [rooted, dead, stuck]) in STRENGTHS.iter().zip(rows) {
            text.push_str(&format!("{bench}-{strength},N{bench},{strength},{rooted},{dead},{stuck}\n"));
        }
    }
    loaded(&text, false)
}

/// Seasons of three benches of their own, trays of 20 around a hump that is higher in some seasons than in others.
fn seasons(n: usize) -> Trial {
    let mut text = "tray,bench,strength,rooted,stuck,season\n".to_owned();
    let mut random = rng::stream(11, 0);
    for season in 0..n {
        for bench in 0..3 {
            for (strength, take) in STRENGTHS.iter().zip([0.2, 0.35, 0.6, 0.65, 0.3]) {
                let take = take + [0.12, -0.12, 0.05, -0.08][season] + 0.01 * f64::from(bench);
                let rooted = rng::beta_binomial(&mut random, 20, take, 0.02);
                text.push_str(&format!(
                    "{season}-{bench}-{strength},b{season}{bench},{strength},{rooted},20,{season}\n"
                ));
            }
        }
    }
    loaded(&text, true)
}

fn curve(trial: &Trial, options: &CurveOptions) -> Answer<StrengthCurve> {
    strength_curve(trial.units(), None, options, &Control::new()).unwrap()
}

fn codes(found: &Answer<StrengthCurve>) -> Vec<&str> {
    found.notes.iter().map(|note| note.code.as_str()).collect()
}

/// Two routes: what each strength's own trays show over benches, here and in take rates (Satterthwaite on the mean squares); the curve adds
/// squared reaches, so the two need not be the same.
#[test]
fn takes_hold_over_benches_as_take_rates_do() {
    let trial = benches();
    let found = curve(&trial, &CurveOptions::default());
    assert!(codes(&found).contains(&"holds_over_places"), "{:?}", codes(&found));
    let places = found.numbers.input.places.as_ref().unwrap();
    assert_eq!((places.column.as_str(), places.df), ("bench", 3.0));
    let rates = take_rates(trial.units(), &["strength"], &TakeRatesOptions::default()).unwrap().numbers.rates;
    for (own, rate) in found.numbers.curves[0].strengths.iter().zip(&rates) {
        assert_eq!(own.rooted, rate.rooted);
        let (here, there) = (own.high - own.low, rate.high - rate.low);
        assert!(here >= 0.93 * there && here <= 1.35 * there, "{own:?} {rate:?}");
    }
    assert!(found.methods.contains("Rates hold over further levels of bench"), "{}", found.methods);
    assert!(found.references.iter().any(|one| one.starts_with("Satterthwaite")));
}

/// The place of the best is a matter of strengths beside each other: what benches add to the level of the curve does not move it.
#[test]
fn the_best_strength_is_judged_within_places() {
    let over = curve(&seasons(3), &CurveOptions::default());
    let mut within = over.numbers.input.clone();
    within.places = None;
    let within = strength_curve_of(&within, &Control::new()).unwrap();
    let (a, b) = (&over.numbers.curves[0].best, &within.numbers.curves[0].best);
    assert_eq!((a.strength, a.located, a.take), (b.strength, b.located, b.take));
    assert_eq!((a.range_low, a.range_high, a.adequate), (b.range_low, b.range_high, b.adequate));
    assert!(a.take_low < b.take_low && a.take_high > b.take_high, "{a:?} {b:?}");
    let wide = strengths_for(&over.numbers.input, 0.5, &Control::new()).unwrap().numbers.rows.remove(0);
    let narrow = strengths_for(&within.numbers.input, 0.5, &Control::new()).unwrap().numbers.rows.remove(0);
    assert_eq!(wide.value, narrow.value);
    assert!(wide.low <= narrow.low && wide.high >= narrow.high, "{wide:?} {narrow:?}");
}

/// Two seasons: one degree of freedom, so that hardly anything is known of others; take rates and models say so too.
#[test]
fn two_seasons_leave_a_take_open() {
    let trial = seasons(2);
    let best = curve(&trial, &CurveOptions::default()).numbers.curves.remove(0).best;
    assert!(best.take_low < 0.1 && best.take_high > 0.9, "{best:?}");
    let rates = take_rates(trial.units(), &["strength"], &TakeRatesOptions::default()).unwrap().numbers.rates;
    assert!(rates[3].low < 0.1 && rates[3].high > 0.9, "{:?}", rates[3]);
}

// R 4.2: glm(cbind(rooted, stuck - rooted) ~ bench + x + I(x^2), binomial) with x = log1p(strength / 500), its top -b / (2 c) as a strength;
// without bench it is 2633.50974979.
#[test]
fn cuttings_counted_one_by_one_keep_their_blocks() {
    let options =
        CurveOptions { trays: CurveTrays::Ignore, shape: ShapeChoice::One(Shape::Hump), ..CurveOptions::default() };
    let found = curve(&benches(), &options);
    assert_rel!(found.numbers.curves[0].best.strength.value, 2581.61941461, 1e-6);
    let told = codes(&found);
    assert!(told.contains(&"blocks_taken_out") && told.contains(&"holds_for_places_at_hand"), "{told:?}");
    assert!(found.methods.contains("What the levels of bench add was taken out"), "{}", found.methods);
}

#[test]
fn a_strength_at_which_all_died_has_limits() {
    let mut text = "tray,bench,strength,rooted,dead,stuck\n".to_owned();
    for (bench, rows) in BENCHES.iter().enumerate() {
        for (strength, [rooted, dead, stuck]) in STRENGTHS.iter().zip(rows) {
            text.push_str(&format!("{bench}-{strength},N{bench},{strength},{rooted},{dead},{stuck}\n"));
        }
        text.push_str(&format!("{bench}-20000,N{bench},20000,0,19,19\n"));
    }
    let trial = loaded(&text, false);
    let dead = trial.dead().unwrap();
    let found = damage_threshold(trial.units(), dead, None, &Default::default(), &Control::new()).unwrap();
    let [value, low, high] = found.numbers.curves[0].highest;
    let own = found.numbers.curves[0].strengths.last().unwrap();
    assert_eq!((own.rooted, own.stuck), (76, 76));
    assert!(value > 0.97 && high >= 1.0 - 1e-12, "{value} {high}");
    // What the trays of that strength say: no wider, and no claim beyond them.
    assert!(abs_diff_eq!(low, own.low.min(value), epsilon = 1e-12) && low > 0.6, "{low} {own:?}");
    assert!(found.methods.contains("Rates hold over further levels of bench"), "{}", found.methods);
}

/// Six trays of 25 around takes of six strengths.
fn around(takes: [u64; 6]) -> Vec<rootling::curves::TrayCount> {
    let off = [0_i64, 1, -1, 2, -2, 0];
    let tray = |(strength, rooted): ([f64; 1], u64)| {
        off.map(move |by| rootling::curves::TrayCount {
            strength: strength[0],
            rooted: (rooted as i64 + by) as u64,
            stuck: 25,
            block: None,
        })
    };
    [0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0].map(|d| [d]).into_iter().zip(takes).flat_map(tray).collect()
}

/// A curve that its strengths contradict: nothing that is asked of it states its best.
#[test]
fn what_a_curve_withholds_is_withheld_everywhere() {
    let options = CurveOptions { within: vec!["rootstock".to_owned()], ..CurveOptions::default() };
    let pair = vec![("K12", around([4, 7, 10, 13, 11, 4])), ("K17", around([5, 20, 6, 22, 5, 3]))];
    let asked = input(pair, true, options);
    let found = strength_curve_of(&asked, &Control::new()).unwrap();
    let withheld: Vec<Option<Withheld>> = found.numbers.curves.iter().map(|curve| curve.best.withheld).collect();
    assert_eq!(withheld, [None, Some(Withheld::NoCurveFits)]);
    assert!(found.sentence.ends_with("no best strength yet for K17."), "{}", found.sentence);
    assert!(!found.details.iter().any(|line| line.starts_with("K17: The take is highest")), "{:?}", found.details);
    let compared = compare_curves(&asked, &Control::new()).unwrap();
    let bests = &compared.numbers.bests;
    assert_eq!((bests.differ, bests.suits_from), (None, None), "{bests:?}");
    assert!(
        compared.sentence.contains("no curve fits K17, so no common best strength is told"),
        "{}",
        compared.sentence
    );
    assert!(
        !compared.details.iter().any(|line| line.starts_with("K17: best at") || line.contains("one best strength"))
    );
    let half = strengths_for(&asked, 0.4, &Control::new()).unwrap();
    assert!(half.details.iter().any(|line| line.starts_with("K17: No curve fits these takes")), "{:?}", half.details);
    let next = next_strengths(&asked, &NextOptions::default(), &Control::new()).unwrap();
    let purposes: Vec<Criterion> = next.numbers.curves[1].designs.iter().map(|design| design.criterion).collect();
    assert_eq!(purposes, [Criterion::WholeCurve]);
    assert!(next.notes.iter().any(|note| note.code == "lack_of_fit"), "{:?}", next.notes);
}

/// A top that may just reach the take, and strengths above that do harm: limits end where the top may lie.
#[test]
fn a_take_near_the_top_is_reached_before_it_or_never() {
    let asked = input(vec![("", around([2, 9, 14, 18, 15, 3]))], true, CurveOptions::default());
    let best = strength_curve_of(&asked, &Control::new()).unwrap().numbers.curves.remove(0).best;
    let found = strengths_for(&asked, best.take - 0.005, &Control::new()).unwrap();
    let row = &found.numbers.rows[0];
    assert!(row.or_never && row.high.is_finite(), "{row:?}");
    assert!(row.high <= best.strength.high * (1.0 + 1e-6), "{row:?} {best:?}");
    assert!(found.sentence.ends_with("or it is never reached)."), "{}", found.sentence);
    let above = strengths_for(&asked, best.take_high - 0.01, &Control::new()).unwrap();
    let row = &above.numbers.rows[0];
    assert!(row.value.is_none() && row.or_never && row.low > 0.0 && row.high < 8000.0, "{row:?}");
    // Far beyond all: no strength that nobody tested is named.
    for take in [0.95, 0.99] {
        let far = strengths_for(&asked, take, &Control::new()).unwrap().numbers.rows;
        assert!(far.iter().all(|row| row.value.is_none_or(|value| value <= 12000.0) && row.low <= 8000.0), "{far:?}");
    }
}

/// All died at the highest strength, so the curve falls: an upper limit lies where the take is still possible, and none is "no upper limit".
#[test]
fn a_curve_that_falls_has_upper_limits() {
    let mut trays = around([2, 9, 14, 18, 15, 3]);
    let highest = trays.iter().map(|tray| tray.strength).fold(0.0, f64::max);
    trays.iter_mut().filter(|tray| tray.strength >= highest).for_each(|tray| tray.rooted = 0);
    let asked = input(vec![("", trays)], true, CurveOptions::default());
    for take in [0.2, 0.4, 0.6, 0.7, 0.75, 0.9] {
        let found = strengths_for(&asked, take, &Control::new()).unwrap();
        for row in &found.numbers.rows {
            assert!(row.falls && (row.value.is_none() || row.high <= highest), "{row:?}");
        }
        let told = format!("{} {} {:?}", found.sentence, found.details.join(" "), found.table);
        assert!(!told.contains("no upper limit") && !told.contains("without limit"), "{told}");
    }
}

#[test]
fn the_next_trial_says_what_each_strength_is_for() {
    let asked = input(vec![("", around([4, 7, 12, 17, 13, 3]))], true, CurveOptions::default());
    let best = strength_curve_of(&asked, &Control::new()).unwrap().numbers.curves.remove(0).best.strength;
    let next = next_strengths(&asked, &NextOptions::default(), &Control::new()).unwrap();
    let design = &next.numbers.curves[0].designs[0];
    assert_eq!(design.criterion, Criterion::BestStrength);
    assert!(design.strengths.len() >= 4, "{design:?}");
    let trays =
        |why: Why| -> u64 { design.strengths.iter().filter(|one| one.why == Some(why)).map(|one| one.n_units).sum() };
    assert!(trays(Why::Near) >= 6 && trays(Why::Above) >= 6, "{design:?}");
    for one in &design.strengths {
        let near = one.strength >= best.low && one.strength <= best.high;
        assert_eq!(one.why == Some(Why::Near), near, "{one:?} {best:?}");
    }
    assert_eq!(next.table.columns.iter().filter(|column| column.name == "why").count(), 1);
    assert!(next.details.iter().all(|line| !line.starts_with("Keep strength 0")), "{:?}", next.details);
}
