//! Contrasts of adjusted rates.

use std::collections::BTreeMap;

use rootling::Answer;
use rootling::control::Control;
use rootling::effects::{Adjust, Average, Contrast, ContrastOptions, Contrasts, Pattern, Scale};
use rootling::models::{Model, ModelSpec, TrayMode};
use rootling::trial::{UnitKind, Units};

use crate::models::{crowder, factor, full_arm, has_note, plum, quasi, spec, trays, units};

pub(crate) fn ask(model: &Model, by: &str, options: &ContrastOptions) -> Answer<Contrasts> {
    model.contrasts(by, options, &Control::new()).unwrap()
}

fn refusal(model: &Model, by: &str, options: &ContrastOptions) -> String {
    model.contrasts(by, options, &Control::new()).unwrap_err().to_string()
}

pub(crate) fn options() -> ContrastOptions {
    ContrastOptions::default()
}

pub(crate) fn on(scale: Scale) -> ContrastOptions {
    ContrastOptions { scale, ..options() }
}

/// Four strengths with four trays each in a 2 x 2 with rootstocks; one cell without a rooted cutting.
fn trial() -> Units {
    let mut strength = Vec::new();
    let mut stock = Vec::new();
    for cell in 0..8 {
        for _ in 0..4 {
            strength.push(["0", "1000", "2500", "5000"][cell % 4]);
            stock.push(["K12", "K17"][cell / 4]);
        }
    }
    let rooted = vec![
        2, 4, 3, 5, 6, 9, 7, 8, 10, 13, 12, 9, 12, 15, 11, 14, //
        5, 3, 6, 7, 9, 11, 8, 12, 15, 14, 17, 13, 13, 10, 14, 12,
    ];
    let mut strength = factor("strength", &strength);
    strength.numbers = Some(vec![0.0, 1000.0, 2500.0, 5000.0]);
    units(UnitKind::Tray, rooted, vec![20; 32], vec![strength, factor("rootstock", &stock)])
}

fn model() -> Model {
    Model::fit(&trial(), &spec(&["strength", "rootstock"], &[&["strength", "rootstock"]])).unwrap()
}

#[test]
fn two_levels_are_the_effect_test() {
    let model = Model::fit(&trial(), &quasi(spec(&["strength", "rootstock"], &[]))).unwrap();
    let test = &model.what_matters(None).unwrap().numbers.effects[1];
    let row = &ask(&model, "rootstock", &options()).numbers.contrasts[0];
    // two routes: a linear constraint by leaving a column out, and a held difference of averaged rates
    assert_rel!(row.statistic.unwrap().powi(2), test.statistic.unwrap(), 1e-8);
    assert_rel!(row.p.unwrap(), test.p.unwrap(), 1e-8);
    assert_rel!(row.p_adjusted.unwrap(), row.p.unwrap(), 1e-10);
}

#[test]
fn odds_of_one_factor_are_its_odds_ratios() {
    // two routes: that of a coefficient (checked against expected.json elsewhere) and that of an odds ratio of rates
    let data = Units { block: None, ..trays() };
    for data in [data, full_arm()] {
        let model = Model::fit(&data, &quasi(ModelSpec::of(&["strength"]))).unwrap();
        let ratios = model.odds_ratios(0.95).unwrap().numbers.ratios;
        let options =
            ContrastOptions { pattern: Pattern::Control, together: "none".parse().unwrap(), ..on(Scale::Odds) };
        let found = ask(&model, "strength", &options).numbers.contrasts;
        assert_eq!(ratios.len(), found.len());
        for (ratio, row) in ratios.iter().zip(&found) {
            assert_rel!(row.value.unwrap(), ratio.odds_ratio, 1e-8);
            assert_rel!(row.low.unwrap(), ratio.low.unwrap(), 1e-7);
            assert_rel!(row.high.unwrap(), ratio.high.unwrap(), 1e-7);
            assert_rel!(row.p.unwrap(), ratio.p.unwrap(), 1e-6);
        }
    }
}

#[test]
fn one_p_value_whatever_the_scale() {
    for model in [model(), Model::fit(&full_arm(), &ModelSpec::of(&["strength"])).unwrap()] {
        let found = [Scale::Points, Scale::Ratio, Scale::Odds].map(|scale| ask(&model, "strength", &on(scale)).numbers);
        for at in 0..found[0].contrasts.len() {
            let [points, ratio, odds] = [0, 1, 2].map(|scale| &found[scale].contrasts[at]);
            assert_rel!(ratio.p.unwrap(), points.p.unwrap(), 1e-6);
            assert_rel!(odds.p_adjusted.unwrap(), points.p_adjusted.unwrap(), 1e-4);
            assert_eq!(points.value.unwrap() > 0.0, ratio.value.unwrap() > 1.0);
            let [low, high] = [points.low, points.high].map(Option::unwrap);
            assert!(-1.0 < low && low < points.value.unwrap() && points.value.unwrap() < high && high < 1.0);
        }
    }
}

fn agrees(row: &Contrast, neutral: f64, alpha: f64) {
    let (low, high) = (row.low.unwrap_or(0.0), row.high.unwrap_or(f64::INFINITY));
    assert_eq!(low > neutral || high < neutral, row.p_adjusted.unwrap() < alpha, "{row:?}");
}

#[test]
fn one_step_intervals_and_p_values_agree() {
    let model = model();
    for adjust in ["joint", "tukey-kramer", "scheffe", "bonferroni", "sidak", "none"] {
        for (scale, neutral) in [(Scale::Points, 0.0), (Scale::Ratio, 1.0), (Scale::Odds, 1.0)] {
            let found =
                ask(&model, "strength", &ContrastOptions { together: adjust.parse().unwrap(), ..on(scale) }).numbers;
            assert_eq!(found.contrasts.len(), 6);
            found.contrasts.iter().for_each(|row| agrees(row, neutral, 0.05));
        }
    }
    let control =
        ContrastOptions { against: Some("control".into()), together: "dunnett".parse().unwrap(), ..options() };
    let found = ask(&model, "strength", &control).numbers;
    assert_eq!((found.against.as_deref(), found.contrasts.len()), (Some("0"), 3));
    found.contrasts.iter().for_each(|row| agrees(row, 0.0, 0.05));
    // Equal trays and no difference: the correlations are those of means with one variance.
    let joint = ask(&model, "strength", &ContrastOptions { together: "joint".parse().unwrap(), ..control }).numbers;
    assert_rel!(joint.critical.unwrap(), found.critical.unwrap(), 1e-9);
}

#[test]
fn the_control_is_the_declared_one() {
    let mut asked = spec(&["strength"], &[]);
    let control = ContrastOptions { pattern: Pattern::Control, ..options() };
    let against = |asked: &ModelSpec| ask(&Model::fit(&trial(), asked).unwrap(), "strength", &control).numbers.against;
    assert_eq!(against(&asked).as_deref(), Some("0"));
    asked.reference.insert("strength".into(), "2500".into());
    // A strength of 0 is a control even where the model counts from another level.
    assert_eq!(against(&asked).as_deref(), Some("0"));
    asked.controls.insert("strength".into(), "1000".into());
    assert_eq!(against(&asked).as_deref(), Some("1000"));
}

#[test]
fn equal_groups_make_joint_and_range_agree() {
    let model = Model::fit(&trial(), &spec(&["strength"], &[])).unwrap();
    let [joint, range] = ["joint", "tukey-kramer"].map(|adjust| {
        ask(&model, "strength", &ContrastOptions { together: adjust.parse().unwrap(), ..options() }).numbers
    });
    for (a, b) in joint.contrasts.iter().zip(&range.contrasts) {
        assert_rel!(a.p_adjusted.unwrap(), b.p_adjusted.unwrap(), 2e-3);
    }
    assert_rel!(joint.critical.unwrap(), range.critical.unwrap(), 2e-4);
}

#[test]
fn stepwise_adjustments_say_what_their_intervals_are() {
    let model = model();
    for adjust in ["holm", "hommel", "hochberg", "sidak-step-down"] {
        let found = ask(&model, "strength", &ContrastOptions { together: adjust.parse().unwrap(), ..options() });
        assert!(has_note(&found.notes, "single_step_intervals"), "{adjust}");
        assert!(found.numbers.contrasts.iter().all(|row| row.p_adjusted >= row.p));
    }
    for (adjust, code) in [("benjamini-hochberg", "discovery_rate"), ("none", "not_adjusted")] {
        let found = ask(&model, "strength", &ContrastOptions { together: adjust.parse().unwrap(), ..options() });
        assert!(has_note(&found.notes, code));
    }
}

#[test]
fn differences_of_differences() {
    let model = Model::fit(&plum(), &spec(&["planting", "length"], &[&["planting", "length"]])).unwrap();
    let changing = ContrastOptions { changing_with: Some("length".into()), ..options() };
    let found = ask(&model, "planting", &changing).numbers;
    // by hand: (31 - 107) / 240 - (84 - 156) / 240
    assert_rel!(found.contrasts[0].value.unwrap(), -4.0 / 240.0, 1e-9);
    assert_eq!(found.contrasts[0].comparison, "planting spring against at_once, length short against long");
    let odds = ask(&model, "planting", &ContrastOptions { scale: Scale::Odds, ..changing }).numbers;
    // On the odds scale it is the interaction of the model.
    let test = &model.what_matters(None).unwrap().numbers.effects[2];
    assert_rel!(odds.contrasts[0].statistic.unwrap().powi(2), test.statistic.unwrap(), 1e-7);
}

#[test]
fn slices_are_one_family() {
    let model = model();
    let found = ask(&model, "strength", &ContrastOptions { within: Some("rootstock".into()), ..options() });
    assert_eq!((found.numbers.contrasts.len(), found.numbers.n_tests), (12, 12));
    assert_eq!(found.numbers.contrasts[6].within.as_deref(), Some("K17"));
    // by hand: 22 more rooted of 80 (3 + 2 + 4 + 5 = 14 of 80 against 30 of 80), 1000 against 0 of K12
    assert_rel!(found.numbers.contrasts[0].value.unwrap(), (30.0 - 14.0) / 80.0, 1e-9);
    let alone = ask(&model, "strength", &options()).numbers;
    assert!(found.numbers.critical > alone.critical);
}

#[test]
fn kinds_of_contrasts() {
    let model = Model::fit(&trial(), &spec(&["strength"], &[])).unwrap();
    let rates: Vec<f64> = model
        .adjusted_rates("strength", &Default::default())
        .unwrap()
        .numbers
        .rates
        .iter()
        .map(|r| r.value.unwrap())
        .collect();
    let of = |kind: Pattern| ask(&model, "strength", &ContrastOptions { pattern: kind, ..options() }).numbers.contrasts;
    let steps = of(Pattern::Steps);
    assert_eq!(steps.len(), 3);
    assert_rel!(steps[2].value.unwrap(), rates[3] - rates[2], 1e-9);
    let trend = of(Pattern::Trend);
    // by hand: scores 0, 1000, 2500, 5000 less their mean 2125, times 5000 over the sum of squares 14,187,500
    let want: f64 =
        [0.0, 1000.0, 2500.0, 5000.0].iter().zip(&rates).map(|(s, p)| (s - 2125.0) * 5000.0 / 14_187_500.0 * p).sum();
    assert_rel!(trend[0].value.unwrap(), want, 1e-9);
    assert_eq!(trend[0].comparison, "strength 5000 against 0, along a straight line");
    let weights = BTreeMap::from([("0".to_owned(), -2.0), ("2500".to_owned(), 1.0), ("5000".to_owned(), 1.0)]);
    let found = ask(
        &model,
        "strength",
        &ContrastOptions { pattern: Pattern::Weights(vec![(String::new(), weights)]), ..options() },
    );
    assert_eq!(found.numbers.contrasts[0].comparison, "strength 2500 and 5000 against 0");
    assert_rel!(found.numbers.contrasts[0].value.unwrap(), 0.5 * (rates[2] + rates[3]) - rates[0], 1e-9);
    assert!(has_note(&found.notes, "weights_scaled"));
}

#[test]
fn a_margin_is_met_where_the_interval_lies_within() {
    let model = Model::fit(&trial(), &spec(&["strength", "rootstock"], &[])).unwrap();
    for margin in [0.05, 0.2, 0.5] {
        let found = ask(&model, "rootstock", &ContrastOptions { margin: Some(margin), ..options() });
        let row = &found.numbers.contrasts[0];
        let inside = row.low.unwrap() > -margin && row.high.unwrap() < margin;
        assert_eq!(row.within_margin, Some(inside));
        assert_eq!(found.words().contains("Shown to lie within"), inside, "{}", found.sentence);
    }
}

#[test]
fn separated_levels_have_bounds() {
    // none of 80 rooted at 0, all of 80 at 5000
    let strength =
        factor("strength", &["0", "0", "0", "0", "2500", "2500", "2500", "2500", "5000", "5000", "5000", "5000"]);
    let data = units(UnitKind::Tray, vec![0, 0, 0, 0, 9, 12, 10, 11, 20, 20, 20, 20], vec![20; 12], vec![strength]);
    let model = Model::fit(&data, &ModelSpec::of(&["strength"])).unwrap();
    for scale in [Scale::Points, Scale::Ratio, Scale::Odds] {
        let found = ask(&model, "strength", &on(scale));
        assert!(has_note(&found.notes, "separation"));
        for row in &found.numbers.contrasts {
            // The score of 0 of 80 against 42 of 80 is 7.1 on t with 9 degrees of freedom: P = 0.00006, for one of three about 0.0001.
            assert!(row.p_adjusted.unwrap() < 1e-3, "{row:?}");
            assert!(row.low.is_some());
        }
    }
    let points = ask(&model, "strength", &options()).numbers.contrasts;
    assert!(points.iter().all(|row| row.high.unwrap() <= 1.0 && row.low.unwrap() > 0.1));
}

#[test]
fn laws_of_trays_have_contrasts() {
    for trays in [TrayMode::BetaBinomial, TrayMode::Random] {
        let model = Model::fit(&trial(), &ModelSpec { trays, ..spec(&["strength"], &[]) }).unwrap();
        let found = [Scale::Points, Scale::Odds].map(|scale| ask(&model, "strength", &on(scale)).numbers.contrasts);
        for (points, odds) in found[0].iter().zip(&found[1]) {
            assert_rel!(points.p.unwrap(), odds.p.unwrap(), 1e-5);
            agrees(points, 0.0, 0.05);
        }
    }
}

#[test]
fn averages_can_be_weighted() {
    let model = model();
    let mix = |k12: f64, k17: f64| {
        let shares = BTreeMap::from([("K12".to_owned(), k12), ("K17".to_owned(), k17)]);
        ContrastOptions { average: Average::Mix(BTreeMap::from([("rootstock".to_owned(), shares)])), ..options() }
    };
    let value = |options: &ContrastOptions| ask(&model, "strength", options).numbers.contrasts[0].value.unwrap();
    let at =
        |level: &str| ContrastOptions { at: BTreeMap::from([("rootstock".to_owned(), level.to_owned())]), ..options() };
    assert_rel!(value(&mix(0.25, 0.75)), 0.25 * value(&at("K12")) + 0.75 * value(&at("K17")), 1e-9);
    assert_rel!(value(&mix(3.0, 1.0)), 0.75 * value(&at("K12")) + 0.25 * value(&at("K17")), 1e-9);
    assert!(has_note(&ask(&model, "strength", &mix(3.0, 1.0)).notes, "mix_scaled"));
    // Equal trays: the observed mix is the equal one.
    let observed = ContrastOptions { average: Average::AsStuck, ..options() };
    assert_rel!(value(&observed), value(&options()), 1e-9);
}

#[test]
fn the_order_of_levels_mirrors_the_answer() {
    let mut turned = trial();
    turned.treatments[0].levels.reverse();
    turned.treatments[0].numbers = None;
    turned.treatments[0].codes.iter_mut().for_each(|code| *code = 3 - *code);
    let fit = |data: &Units| Model::fit(data, &spec(&["strength"], &[])).unwrap();
    let (one, two) = (ask(&fit(&trial()), "strength", &options()), ask(&fit(&turned), "strength", &options()));
    for row in &one.numbers.contrasts {
        let mut parts = row.comparison.trim_start_matches("strength ").split(" against ");
        let (second, first) = (parts.next().unwrap(), parts.next().unwrap());
        let name = format!("strength {first} against {second}");
        let other = two.numbers.contrasts.iter().find(|other| other.comparison == name).unwrap();
        assert_rel!(other.value.unwrap(), -row.value.unwrap(), 1e-8);
        assert_rel!(other.low.unwrap(), -row.high.unwrap(), 1e-3);
        assert_rel!(other.p.unwrap(), row.p.unwrap(), 1e-7);
    }
}

#[test]
fn what_cannot_be_asked_is_said() {
    let model = model();
    let weights = |pairs: &[(&str, f64)]| {
        let list = pairs.iter().map(|(level, weight)| ((*level).to_owned(), *weight)).collect();
        ContrastOptions { pattern: Pattern::Weights(vec![("mine".to_owned(), list)]), ..options() }
    };
    let cases: Vec<(&str, ContrastOptions, &str)> = vec![
        (
            "strenght",
            options(),
            "factor of the model \"strenght\" is not known; did you mean \"strength\"? Known: strength, rootstock",
        ),
        (
            "strength",
            ContrastOptions { against: Some("2550".into()), ..options() },
            "level of strength \"2550\" is not known; did you mean \"2500\"? Known: 0, 1000, 2500, 5000",
        ),
        (
            "strength",
            weights(&[("0", -1.0), ("2500", 2.0)]),
            "the weights of contrast \"mine\" sum to 1, not to 0; a contrast sets some levels against others, so let them sum to 0",
        ),
        (
            "strength",
            weights(&[("0", 0.0)]),
            "contrast \"mine\" needs at least two weights that are numbers other than 0",
        ),
        (
            "strength",
            ContrastOptions { within: Some("strength".into()), ..options() },
            "\"strength\" is named twice, in treatment and in within=; name two factors that differ",
        ),
        (
            "strength",
            ContrastOptions { within: Some("rootstock".into()), changing_with: Some("rootstock".into()), ..options() },
            "within= and changing_with= do not go together; ask for the contrasts within its levels, or for how they change with it",
        ),
        (
            "strength",
            ContrastOptions { together: "dunnett".parse().unwrap(), ..options() },
            "together=\"dunnett\" and these contrasts do not go together; use it with against=, or use together=\"joint\"",
        ),
        (
            "strength",
            ContrastOptions { margin: Some(10.0), ..options() },
            "margin 10 is not a proportion above 0 and below 1; 0.1 stands for 10 trees per 100",
        ),
        (
            "strength",
            ContrastOptions { at: BTreeMap::from([("rootstock".into(), "K30".into())]), ..options() },
            "level of rootstock \"K30\" is not known; known: K12, K17",
        ),
        (
            "strength",
            ContrastOptions {
                average: Average::Mix(BTreeMap::from([("rootstock".into(), BTreeMap::from([("K12".into(), 1.0)]))])),
                ..options()
            },
            "the mix of rootstock leaves out K17; give every level a share, 0 for one that is not grown",
        ),
    ];
    for (by, options, words) in cases {
        assert_eq!(refusal(&model, by, &options), words);
    }
    let mut empty = trial();
    empty.treatments[1].levels.push("K30".into());
    let model = Model::fit(&empty, &spec(&["strength", "rootstock"], &[])).unwrap();
    assert_eq!(
        refusal(&model, "rootstock", &ContrastOptions { against: Some("K30".into()), ..options() }),
        "level \"K30\" of rootstock has no trays with cuttings, so the model has no rate for it; leave it out"
    );
    let levels: Vec<String> = (0..92).map(|level| format!("L{}", level / 2)).collect();
    let many = units(UnitKind::Tray, vec![7; 92], vec![20; 92], vec![factor("lot", &levels)]);
    let model = Model::fit(&many, &ModelSpec::of(&["lot"])).unwrap();
    assert_eq!(
        refusal(&model, "lot", &options()),
        "1035 comparisons are more than make sense together (at most 1000); compare with one level, or within one level of the \
         other factor, or name the few contrasts that matter"
    );
}

#[test]
fn stopping_stops() {
    let control = Control::new();
    control.stop();
    let stopped = model().contrasts("strength", &options(), &control).unwrap_err();
    assert_eq!(stopped, rootling::Error::Interrupted);
}

#[test]
fn crowder_plates_from_load_to_contrasts() {
    let model = Model::fit(&crowder(), &spec(&["seed", "extract"], &[&["seed", "extract"]])).unwrap();
    let found = ask(&model, "extract", &ContrastOptions { within: Some("seed".into()), ..options() });
    assert_eq!(found.numbers.df, Some(17.0));
    assert!(found.words().contains("trees per 100"), "{}", found.sentence);
}

#[test]
fn an_adjustment_that_is_not_known_names_the_nearest() {
    let said = "dunet".parse::<Adjust>().unwrap_err().to_string();
    let known = "adjustment \"dunet\" is not known; did you mean \"dunnett\"? Known: joint, tukey-kramer, dunnett, scheffe, bonferroni, \
                 holm, hochberg, hommel, sidak, sidak-step-down, benjamini-hochberg, benjamini-yekutieli, none";
    assert_eq!(said, known);
}
