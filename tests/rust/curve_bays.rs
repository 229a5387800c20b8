//! Curves where a treatment beside the strengths was given to whole bays, and what curves compared decide.

use approx::{abs_diff_eq, assert_abs_diff_eq};
use rootling::Answer;
use rootling::control::Control;
use rootling::curves::{
    CurveDifferences, CurveInput, CurveOptions, NextOptions, Shape, ShapeChoice, StrengthCurve, TrayCount,
    compare_curves, next_strengths, strength_curve, strength_curve_of, strengths_for,
};
use rootling::math::distributions::{fisher_f, student_t};
use rootling::math::special::{expit, logit};
use rootling::trial::{Factor, LoadOptions, Outcome, UnitKind, Units, read_csv};

use crate::curves::input;

fn factor(name: &str, levels: &[&str], codes: Vec<u32>) -> Factor {
    let numbers: Option<Vec<f64>> = levels.iter().map(|level| level.parse().ok()).collect();
    Factor { name: name.into(), levels: levels.iter().map(|level| (*level).to_owned()).collect(), numbers, codes }
}

/// Rooted of 20 of every tray: heat (cool, warm), bay, strength (0, 2000, 4000), two trays each.
const ROOTED: [(u32, u32, [[u64; 2]; 3]); 4] = [
    (0, 1, [[6, 7], [8, 10], [12, 6]]),
    (0, 3, [[7, 6], [5, 7], [11, 6]]),
    (1, 0, [[15, 13], [15, 17], [12, 16]]),
    (1, 2, [[15, 12], [19, 15], [15, 17]]),
];

fn trays(bays: &[usize]) -> Units {
    let (mut rooted, mut heat, mut bay, mut strength) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (level, place, counts) in bays.iter().map(|at| ROOTED[*at]) {
        for (at, pair) in counts.iter().enumerate() {
            for count in pair {
                rooted.push(*count);
                heat.push(level);
                bay.push(place);
                strength.push(at as u32);
            }
        }
    }
    let n = rooted.len();
    Units {
        kind: UnitKind::Tray,
        stuck: vec![20; n],
        rooted,
        treatments: vec![factor("heat", &["cool", "warm"], heat), factor("strength", &["0", "2000", "4000"], strength)],
        tray: None,
        block: None,
        whole_plot: Some(factor("bay", &["1", "2", "3", "4"], bay)),
        season: None,
        stock_plant: None,
        earlier: None,
        covariates: Vec::new(),
    }
}

fn within() -> CurveOptions {
    CurveOptions { within: vec!["heat".to_owned()], ..CurveOptions::default() }
}

fn warm() -> CurveOptions {
    CurveOptions { at: [("heat".to_owned(), "warm".to_owned())].into(), ..CurveOptions::default() }
}

fn asked(units: &Units, options: &CurveOptions) -> Answer<StrengthCurve> {
    strength_curve(units, None, options, &Control::new()).unwrap()
}

fn words(said: &str) -> usize {
    said.split_whitespace().count()
}

/// A shape that the counts leave open once opened the take of the warm bays to 0 to 100.
#[test]
fn a_curve_of_several_and_alone_say_the_same() {
    let units = trays(&[0, 1, 2, 3]);
    let (both, alone) = (asked(&units, &within()), asked(&units, &warm()));
    let (one, other) = (&both.numbers.curves[1], &alone.numbers.curves[0]);
    for (a, b) in [
        (one.best.take, other.best.take),
        (one.best.take_low, other.best.take_low),
        (one.best.take_high, other.best.take_high),
    ] {
        assert!(abs_diff_eq!(a, b, epsilon = 0.02), "{:?} {:?}", one.best, other.best);
    }
    assert!(one.best.take_low > 0.5 && one.best.take_high < 0.92, "{:?}", one.best);
    let widest = one.line.high.iter().zip(&one.line.low).map(|(high, low)| high - low).fold(0.0, f64::max);
    assert!(widest < 0.4, "{widest}");
    for found in [&both, &alone] {
        assert_eq!(found.numbers.input.bays.as_ref().unwrap().df, 2.0);
        assert!(found.notes.iter().any(|note| note.code == "level_over_bays"));
    }
}

/// Without heat in the trial a bay is a block like others: one stratum, no level over bays.
#[test]
fn one_stratum_has_no_level_over_bays() {
    let mut units = trays(&[0, 1, 2, 3]);
    units.treatments.remove(0);
    assert!(asked(&units, &CurveOptions::default()).numbers.input.bays.is_none());
    // Rootstocks within bays are compared by trays.
    let mut crossed = trays(&[0, 1, 2, 3]);
    crossed.treatments[0].codes = (0..24).map(|at| at % 2).collect();
    assert!(asked(&crossed, &within()).numbers.input.bays.is_none());
}

/// One take at all strengths in equal trays: the level's variance is the mean square of bays over the trays, by hand, and its limits are
/// t's on the bays' degrees of freedom.
#[test]
fn limits_of_a_level_are_those_of_bays() {
    let options = CurveOptions { shape: ShapeChoice::One(Shape::Flat), ..within() };
    let found = asked(&trays(&[0, 1, 2, 3]), &options).numbers;
    // Rates of trays less the means of heat and strength; a bay's six trays add up to `off`, which adds off^2 / 6 to the sum of squares.
    let cell = |heat: usize, strength: usize| {
        let own = ROOTED.iter().filter(|row| row.0 as usize == heat).map(|row| row.2[strength]);
        own.flat_map(|pair| pair.map(|count| count as f64 / 20.0)).sum::<f64>() / 4.0
    };
    let off = |row: &(u32, u32, [[u64; 2]; 3])| -> f64 {
        let trays = row.2.iter().enumerate();
        trays
            .map(|(at, pair)| pair.iter().map(|count| *count as f64 / 20.0 - cell(row.0 as usize, at)).sum::<f64>())
            .sum()
    };
    let bays: f64 = ROOTED.iter().map(|row| off(row).powi(2) / 6.0).sum::<f64>() / 2.0;
    let trays: f64 = {
        let all: f64 = ROOTED
            .iter()
            .flat_map(|row| row.2.iter().enumerate().map(move |(at, pair)| (row.0 as usize, at, pair)))
            .flat_map(|(heat, at, pair)| pair.iter().map(move |count| (*count as f64 / 20.0, heat, at)))
            .map(|(rate, heat, at)| (rate - cell(heat, at)).powi(2))
            .sum();
        (all - ROOTED.iter().map(|row| off(row).powi(2) / 6.0).sum::<f64>()) / 16.0
    };
    // Here bays differ less than their trays would make them, so they are held there.
    assert!(bays < trays);
    let t = student_t::quantile(0.975, 2.0);
    for (curve, rooted) in found.curves.iter().zip([91.0, 181.0]) {
        let p = rooted / 240.0;
        let reach = t * (trays / 12.0).sqrt() / (p * (1.0 - p));
        // The mean square of trays as used is never below what chance gives; here the two are near.
        let near =
            |limit: f64, want: f64| assert!(abs_diff_eq!(logit(limit), want, epsilon = 0.25 * reach), "{limit} {want}");
        near(curve.best.take_low, logit(p) - reach);
        near(curve.best.take_high, logit(p) + reach);
        assert_abs_diff_eq!(curve.best.take, p, epsilon = 0.002);
        assert!(expit(logit(p) - reach) < curve.best.take);
    }
}

/// Two bays of a level tell little of it: carried along the log odds to a take near 0 that was said to be anything up to a third, where 80
/// cuttings beside each other had one rooted. The curve claims no less there than the trays of the strength do by themselves over bays.
#[test]
fn a_take_near_0_stays_within_what_its_trays_say_over_bays() {
    let mut units = trays(&[0, 1, 2, 3]);
    units.rooted = vec![0, 0, 2, 3, 9, 11, 1, 0, 4, 6, 14, 16, 0, 0, 1, 2, 5, 6, 0, 1, 3, 2, 12, 9];
    let found = asked(&units, &within()).numbers;
    for curve in &found.curves {
        let (line, own) = (&curve.line, &curve.strengths[0]);
        assert_eq!((own.rooted, line.strength[0]), (1, 0.0));
        assert!(line.low[0] <= line.value[0] && line.value[0] <= line.high[0], "{line:?}");
        assert!(line.high[0] <= own.high.max(line.value[0]) + 1e-12, "{} {own:?}", line.high[0]);
        // Wilson's limit of 1 of 80 cuttings that are alike, by hand: (0.0125 + 0.0240 + 1.96 * 0.01745) / 1.0480.
        assert!(own.high > 0.0675, "{own:?}");
    }
}

fn compared(input: &CurveInput) -> Answer<CurveDifferences> {
    compare_curves(input, &Control::new()).unwrap()
}

#[test]
fn bays_judge_what_was_given_to_them() {
    let input = asked(&trays(&[0, 1, 2, 3]), &within()).numbers.input;
    let found = compared(&input);
    let tests = &found.numbers.compared.tests;
    assert!(tests.iter().all(|test| !["no difference", "same curve", "same form"].contains(&test.method.name())));
    let height = tests.iter().find(|test| test.method.name() == "same height").unwrap();
    assert_eq!((height.df, height.error_df), (Some(1.0), Some(2.0)));
    // A t test on the four bay means, by hand: difference 0.375, P 0.009; the rates' scale moves it a little.
    assert!((0.003..0.03).contains(&height.p), "{height:?}");
    assert_rel!(height.p, fisher_f::sf(height.statistic.unwrap(), 1.0, 2.0), 1e-12);
    assert!(found.sentence.starts_with("Warm takes more than cool at every strength (P = 0.0"), "{}", found.sentence);
    assert!(found.sentence.ends_with("no best strength is located in cool and warm, so none is chosen for each."));
    assert!(words(&found.sentence) <= 30, "{}", found.sentence);
    // A record of the curve says the same.
    let text = serde_json::to_string(&input).unwrap();
    assert_eq!(compared(&serde_json::from_str(&text).unwrap()).numbers, found.numbers);
}

#[test]
fn one_bay_for_each_level_tells_nothing_of_levels() {
    let found = asked(&trays(&[0, 2]), &within());
    assert!(found.notes.iter().any(|note| note.code == "level_not_judged"));
    let compared = compared(&found.numbers.input);
    assert!(compared.numbers.compared.tests.iter().all(|test| test.method.name() != "same height"));
    assert!(compared.numbers.compared.heights.is_empty());
    assert!(compared.sentence.starts_with("Which takes more cannot be told: one bay each; "), "{}", compared.sentence);
}

#[test]
fn no_hormone_is_needed_where_strength_0_reaches_the_take() {
    let input = asked(&trays(&[0, 1, 2, 3]), &within()).numbers.input;
    let found = strengths_for(&input, 0.5, &Control::new()).unwrap();
    assert!(found.sentence.contains("no hormone needed in warm"), "{}", found.sentence);
    let warm = found.numbers.rows.iter().find(|row| row.curve == "warm" && row.method.name() == "profile").unwrap();
    assert_eq!((warm.value, warm.low, warm.high), (Some(0.0), 0.0, 0.0));
    assert!(found.details.iter().any(|line| line.starts_with("warm: No hormone is needed for 50 trees per 100: ")));
    // 55 of 80 at strength 0 are 69 of 100; over bays 66 are not certain.
    let unsure = strengths_for(&input, 0.66, &Control::new()).unwrap();
    let warm = unsure.numbers.rows.iter().find(|row| row.curve == "warm" && row.method.name() == "profile").unwrap();
    assert!(warm.high > 0.0, "{warm:?}");
    assert!(unsure.sentence.contains("perhaps no hormone needed in warm"), "{}", unsure.sentence);
    assert!(words(&found.sentence) <= 30 && words(&unsure.sentence) <= 30);
}

const STRENGTHS: [f64; 6] = [0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];

/// Six trays of 25 around takes of the strengths.
fn around(takes: [u64; 6]) -> Vec<TrayCount> {
    let off = [0_i64, 1, -1, 2, -2, 0];
    let tray = |(strength, rooted): (&f64, u64)| {
        let strength = *strength;
        off.map(move |by| TrayCount { strength, rooted: (rooted as i64 + by) as u64, stuck: 25, block: None })
    };
    STRENGTHS.iter().zip(takes).flat_map(tray).collect()
}

fn pair(a: [u64; 6], b: [u64; 6]) -> CurveInput {
    let options = CurveOptions { within: vec!["rootstock".to_owned()], ..CurveOptions::default() };
    input(vec![("K12", around(a)), ("K17", around(b))], true, options)
}

/// Takes of one hump on the log odds, and the same higher by 1.2.
#[test]
fn a_difference_of_height_is_no_reason_for_two_strengths() {
    let found = compared(&pair([4, 7, 10, 13, 11, 4], [10, 15, 18, 20, 19, 10]));
    let of = |name: &str| found.numbers.compared.tests.iter().find(|test| test.method.name() == name).unwrap().p;
    assert!(of("same height") < 1e-4 && of("same but for height") > 0.2, "{:?}", found.numbers.compared.tests);
    let height = &found.numbers.compared.heights[0];
    assert!((2.0..6.0).contains(&height.value) && height.low > 1.0, "{height:?}");
    assert_eq!(found.numbers.bests.differ, Some(false));
    let said = &found.sentence;
    assert!(
        said.starts_with("K17 takes more than K12 at every strength (P < 0.001); the same strength suits both, "),
        "{said}"
    );
    assert!(words(said) <= 30, "{said}");
}

#[test]
fn best_strengths_that_differ_are_chosen_apart() {
    let found = compared(&pair([6, 13, 19, 14, 7, 2], [3, 5, 7, 14, 19, 13]));
    assert_eq!(found.numbers.bests.differ, Some(true), "{:?}", found.numbers.bests);
    assert!(found.sentence.contains("choose a strength for each: about "), "{}", found.sentence);
    assert!(words(&found.sentence) <= 30, "{}", found.sentence);
    // What differs in form has no one ratio of odds, in no place of the answer.
    let told = format!("{} {} {:?}", found.sentence, found.details.join(" "), found.table);
    assert!(told.contains("so no one ratio of odds holds at every strength: read each curve"), "{told}");
    for not in ["At any one strength", "odds ratio at every strength", "further along log(1 + d/d0)"] {
        assert!(!told.contains(not), "{told}");
    }
}

/// The same trays of two rootstocks as a trial.
fn stocks(takes: [[u64; 6]; 2]) -> Units {
    let (mut rooted, mut rootstock, mut strength) = (Vec::new(), Vec::new(), Vec::new());
    for (stock, takes) in takes.into_iter().enumerate() {
        for (at, tray) in around(takes).into_iter().enumerate() {
            rooted.push(tray.rooted);
            rootstock.push(stock as u32);
            strength.push((at / 6) as u32);
        }
    }
    let n = rooted.len();
    let levels = ["0", "500", "1000", "2000", "4000", "8000"];
    Units {
        rooted,
        stuck: vec![25; n],
        treatments: vec![factor("rootstock", &["K12", "K17"], rootstock), factor("strength", &levels, strength)],
        whole_plot: None,
        ..trays(&[0])
    }
}

#[test]
fn one_curve_for_curves_of_different_form_is_noted() {
    let common = CurveOptions { common: vec!["rootstock".to_owned()], ..CurveOptions::default() };
    let noted = |takes| {
        let found = strength_curve(&stocks(takes), None, &common, &Control::new()).unwrap();
        found.notes.iter().any(|note| note.code == "common_forms_differ")
    };
    assert!(noted([[6, 13, 19, 14, 7, 2], [3, 5, 7, 14, 19, 13]]));
    assert!(!noted([[4, 7, 10, 13, 11, 4], [10, 15, 18, 20, 19, 10]]));
}

#[test]
fn curves_of_survival_are_compared_in_its_words() {
    let mut input = pair([4, 7, 10, 13, 11, 4], [10, 15, 18, 20, 19, 10]);
    input.options.outcome = Outcome::Survival;
    let found = compared(&input);
    let said = &found.sentence;
    assert!(said.starts_with("K17 has a higher survival rate than K12 at every strength (P < 0.001); "), "{said}");
    assert!(found.details.iter().any(|line| line.starts_with("At any one strength the odds of survival of K17 are ")));
    assert!(!found.details.join(" ").contains("rooting"), "{:?}", found.details);
    let next = next_strengths(&input, &NextOptions::default(), &Control::new()).unwrap();
    assert!(!format!("{} {:?}", next.details.join(" "), next.table).contains("root "), "{next:?}");
    let curve = strength_curve_of(&input, &Control::new()).unwrap().details.join(" ");
    assert!(curve.contains("of the best survival rate is ") && !curve.contains("best take"), "{curve}");
}

/// The whole answer of one curve; no shape has two humps.
#[test]
fn a_curve_that_does_not_fit_is_not_used() {
    let input = input(vec![("", around([5, 20, 6, 22, 5, 3]))], true, CurveOptions::default());
    let found = strength_curve_of(&input, &Control::new()).unwrap();
    assert!(found.notes.iter().any(|note| note.code == "lack_of_fit"));
    assert!(
        found
            .sentence
            .starts_with("Not settled: no curve fits these takes (P < 0.001). Best tested 2000 mg/L: 88 trees")
    );
    let half = strengths_for(&input, 0.4, &Control::new()).unwrap();
    let said =
        "Not settled for 40 trees per 100: no curve fits these takes (P < 0.001); read the strengths' own takes.";
    assert_eq!(half.sentence, said);
}

#[test]
fn the_next_trial_has_strengths_that_are_mixed_apart() {
    let takes = [[4, 7, 10, 13, 11, 4], [4, 9, 14, 18, 21, 22], [12, 12, 13, 12, 11, 12]];
    for takes in takes {
        let input = input(vec![("", around(takes))], true, CurveOptions::default());
        let found = next_strengths(&input, &NextOptions::default(), &Control::new()).unwrap();
        assert!(words(&found.sentence) <= 30, "{}", found.sentence);
        let designs = &found.numbers.curves[0].designs;
        for design in designs {
            let strengths: Vec<f64> = design.strengths.iter().map(|one| one.strength).collect();
            assert!(strengths.len() >= 3, "{design:?}");
            assert!(strengths.windows(2).all(|two| two[0] <= 0.0 || two[1] / two[0] >= 1.24), "{design:?}");
            assert_eq!(design.strengths.iter().map(|one| one.n_units).sum::<u64>(), 36);
        }
        let zero = designs.iter().all(|design| design.strengths.iter().any(|one| one.strength <= 0.0));
        assert_eq!(found.details.iter().any(|line| line.contains(", beside strength 0 as the control")), !zero);
    }
}

/// R 4.2.2 on tray rates with Kenward and Roger's approximation: lmer(rate ~ season + strength + `dark_days` + (1 | bay) + (1 | season:bay)), darkness F
/// 13.54 on 1 and 9.4 degrees of freedom, P 0.0047. The bays last, and darkness changes its bay every season.
#[test]
fn heights_are_compared_over_bays_whose_darkness_changes() {
    let curves = |treatments: &[&str]| {
        let options = LoadOptions {
            rooted: "rooted".into(),
            stuck: Some("stuck".into()),
            treatments: treatments.iter().map(|&name| name.into()).collect(),
            tray: Some("tray".into()),
            season: Some("season".into()),
            whole_plot: Some("bay".into()),
            ..LoadOptions::default()
        };
        let trial = read_csv(include_str!("../data/changing_bays_invented.csv").as_bytes(), &options).unwrap();
        let options = CurveOptions {
            within: vec!["dark_days".to_owned()],
            common: treatments.iter().skip(2).map(|&name| name.to_owned()).collect(),
            ..CurveOptions::default()
        };
        asked(trial.units(), &options)
    };
    let found = compared(&curves(&["strength", "dark_days"]).numbers.input);
    let height = found.numbers.compared.tests.iter().find(|test| test.method.name() == "same height").unwrap();
    assert!((height.p / 0.0047).ln().abs() < 0.3, "{height:?}");
    // Satterthwaite on mean squares gives 13.7 here, Kenward and Roger on components by restricted likelihood fewer.
    assert!((height.error_df.unwrap() / 9.4).ln().abs() < 0.45, "{height:?}");
    // Five of nine bays of a season in the dark were bright, four of nine in the light: heights would hold a part of the light.
    let common = curves(&["strength", "dark_days", "light"]);
    assert!(common.notes.iter().any(|note| note.code == "uneven_mix"), "{:?}", common.notes);
    let found = compared(&common.numbers.input);
    assert!(found.numbers.compared.tests.iter().all(|test| test.method.name() != "same height"));
    assert!(found.sentence.contains("light being uneven over dark days"), "{}", found.sentence);
}
