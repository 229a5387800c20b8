//! Effect tests, odds ratios and adjusted rates of fitted models.

use rootling::effects::RateOptions;
use rootling::models::{Link, Model, ModelSpec, TrayMode};
use rootling::trial::{UnitKind, Units};

use crate::models::{
    complete_separation, crowder, endometrial, factor, full_arm, has_note, plum, quasi, spec, trays, units,
};
use crate::support::{check, check_list, entry};

fn relative(got: f64, want: f64, rel: f64) {
    assert_rel!(got, want, rel);
}

#[test]
fn plum_interaction_is_the_three_factor_test() {
    // expected.json plum_three_way (R 4.2.2)
    let model = Model::fit(&plum(), &spec(&["planting", "length"], &[&["planting", "length"]])).unwrap();
    let tests = model.what_matters(None).unwrap();
    let row = &tests.numbers.effects[2];
    check("plum_three_way", "lr", row.statistic.unwrap());
    check("plum_three_way", "lr_p", row.p.unwrap());
    assert_eq!((row.df, row.test.as_str()), (1.0, "likelihood ratio"));
    assert!(tests.words().contains("No trays recorded: intervals are too narrow."));
    assert!(has_note(&tests.notes, "main_effect_under_interaction"));
    // by hand: (156 - 84) / 240 - (107 - 31) / 240 = -4 / 240
    relative(row.largest_difference.unwrap(), 4.0 / 240.0, 1e-9);
}

#[test]
fn plum_main_effects_keep_to_marginality() {
    // expected.json plum_glm_logit_main: a main effect is tested without the interaction that contains it,
    // so the sum of planting alone and length after it is the null deviance minus the deviance
    let (one, both) = (spec(&["planting"], &[]), spec(&["planting", "length"], &[&["planting", "length"]]));
    let alone = Model::fit(&plum(), &one).unwrap().what_matters(None).unwrap();
    let full = Model::fit(&plum(), &both).unwrap().what_matters(None).unwrap();
    let values = entry("plum_glm_logit_main");
    let total = values["deviance_without_effects"].as_f64().unwrap() - values["deviance"].as_f64().unwrap();
    let sum = alone.numbers.effects[0].statistic.unwrap() + full.numbers.effects[1].statistic.unwrap();
    relative(sum, total, 1e-9);
}

#[test]
fn plum_odds_ratios_have_profile_limits() {
    // expected.json plum_profile_ci_main (MASS 7.3.58.2), plum_glm_logit_main (R 4.2.2)
    let model = Model::fit(&plum(), &spec(&["planting", "length"], &[])).unwrap();
    let ratios = model.odds_ratios(0.95).unwrap();
    assert_eq!(ratios.numbers.ratios[0].comparison, "planting spring against at_once");
    let logs = |end: fn(&rootling::effects::OddsRatio) -> f64| -> Vec<f64> {
        let first = model.profile("intercept", 0.95).unwrap().unwrap();
        let first = if end(&ratios.numbers.ratios[0]) < 0.25 { first.low } else { first.high };
        std::iter::once(first).chain(ratios.numbers.ratios.iter().map(|ratio| end(ratio).ln())).collect()
    };
    check_list("plum_profile_ci_main", "lower", &logs(|ratio| ratio.low.unwrap()));
    check_list("plum_profile_ci_main", "upper", &logs(|ratio| ratio.high.unwrap()));
}

#[test]
fn crowder_interaction_is_tested_by_f() {
    // expected.json crowder_quasibinomial (R 4.2.2)
    let mut wanted = spec(&["seed", "extract"], &[&["seed", "extract"]]);
    wanted.reference.insert("seed".into(), "O_aegyptiaca_75".into());
    let tests = Model::fit(&crowder(), &quasi(wanted)).unwrap().what_matters(None).unwrap();
    let row = &tests.numbers.effects[2];
    check("crowder_quasibinomial", "F_interaction", row.statistic.unwrap());
    check("crowder_quasibinomial", "F_interaction_p", row.p.unwrap());
    assert_eq!(row.error_df, Some(17.0));
}

#[test]
fn trays_are_tested_by_f() {
    // expected.json trays_quasi (R 4.2.2)
    let model = Model::fit(&trays(), &quasi(spec(&["strength"], &[]))).unwrap();
    let tests = model.what_matters(None).unwrap();
    assert_eq!(tests.numbers.effects.len(), 1);
    check("trays_quasi", "quasi_F", tests.numbers.effects[0].statistic.unwrap());
    check("trays_quasi", "quasi_F_p", tests.numbers.effects[0].p.unwrap());
    assert!(tests.words().contains("Strength matters (P = 0.0083)"), "{}", tests.sentence);
    let ignored = ModelSpec { trays: TrayMode::Ignore, ..spec(&["strength"], &[]) };
    let ignored = Model::fit(&trays(), &ignored).unwrap().what_matters(None).unwrap();
    check("trays_quasi", "lr_chi2", ignored.numbers.effects[0].statistic.unwrap());
}

#[test]
fn penalised_ratio_tests() {
    // expected.json endometrial_firth, toy_full_arm_firth, toy_complete_separation_firth
    let model = Model::fit(&endometrial(), &spec(&["NV", "PI", "EH"], &[])).unwrap();
    let tests = model.what_matters(None).unwrap();
    let wanted = entry("endometrial_firth");
    for (row, index) in tests.numbers.effects.iter().zip(1..) {
        relative(row.statistic.unwrap(), wanted["plr_chi2"][index].as_f64().unwrap(), 1e-6);
        relative(row.p.unwrap(), wanted["plr_p"][index].as_f64().unwrap(), 1e-5);
        assert_eq!(row.test, "penalised likelihood ratio");
    }
    let ignore = ModelSpec { trays: TrayMode::Ignore, ..spec(&["strength"], &[]) };
    let tests = Model::fit(&full_arm(), &ignore).unwrap().what_matters(None).unwrap();
    let wanted = entry("toy_full_arm_firth");
    relative(tests.numbers.effects[0].statistic.unwrap(), wanted["plr_chi2"][1].as_f64().unwrap(), 1e-6);
    let model = Model::fit(&complete_separation(), &spec(&["x"], &[])).unwrap();
    let ratios = model.odds_ratios(0.95).unwrap();
    let wanted = entry("toy_complete_separation_firth");
    relative(ratios.numbers.ratios[0].p.unwrap(), wanted["plr_p"][1].as_f64().unwrap(), 1e-5);
    relative(ratios.numbers.ratios[0].high.unwrap().ln(), wanted["profile_upper"][1].as_f64().unwrap(), 1e-5);
}

#[test]
fn one_full_tray_row_has_a_small_penalised_p() {
    // domain guide section 4.4 (derived there): 20/20 against 14/20, penalised likelihood ratio P 0.008
    let data = units(UnitKind::Pooled, vec![14, 20], vec![20, 20], vec![factor("strength", &["2500", "5000"])]);
    let ratios = Model::fit(&data, &spec(&["strength"], &[])).unwrap().odds_ratios(0.95).unwrap();
    relative(ratios.numbers.ratios[0].p.unwrap(), 0.008, 0.07);
}

#[test]
fn saturated_rates_are_the_observed_ones() {
    let model = Model::fit(&plum(), &spec(&["planting", "length"], &[&["planting", "length"]])).unwrap();
    let answer = model.adjusted_rates("planting", &RateOptions::within("length")).unwrap();
    // by hand: observed shares of the four cells, and for 156 of 240 logit(0.65) -+ 1.959964 sqrt(1/156 + 1/84)
    for (rate, want) in answer.numbers.rates.iter().zip([156.0, 84.0, 107.0, 31.0]) {
        relative(rate.value.unwrap(), want / 240.0, 1e-9);
    }
    let first = &answer.numbers.rates[0];
    let (centre, half) = ((156.0_f64 / 84.0).ln(), 1.959_963_984_540_054 * (1.0 / 156.0 + 1.0 / 84.0_f64).sqrt());
    relative(first.low.unwrap(), 1.0 / (1.0 + (half - centre).exp()), 1e-8);
    relative(first.high.unwrap(), 1.0 / (1.0 + (-half - centre).exp()), 1e-8);
    assert_eq!((first.rooted, first.stuck, first.n_units), (156, 240, 1));
    let averaged = model.adjusted_rates("planting", &RateOptions::default()).unwrap();
    // by hand: (156 + 107) / 480
    relative(averaged.numbers.rates[0].value.unwrap(), 263.0 / 480.0, 1e-9);
}

#[test]
fn rates_of_a_full_arm_stay_inside_the_unit_interval() {
    let model = Model::fit(&full_arm(), &spec(&["strength"], &[])).unwrap();
    for rate in model.adjusted_rates("strength", &RateOptions::default()).unwrap().numbers.rates {
        let (low, value, high) = (rate.low.unwrap(), rate.value.unwrap(), rate.high.unwrap());
        assert!(0.0 < low && low < value && value < high && high <= 1.0);
        // A full arm cannot rule out 100 %.
        assert_eq!(high >= 1.0, rate.rooted == rate.stuck);
    }
}

#[test]
fn rates_that_were_not_tried_are_left_open() {
    let strength = factor("strength", &["0", "0", "2500", "2500", "0", "0"]);
    let rootstock = factor("rootstock", &["K12", "K12", "K12", "K12", "K17", "K17"]);
    let data = units(UnitKind::Tray, vec![3, 5, 12, 11, 6, 8], vec![20; 6], vec![strength, rootstock]);
    let model = Model::fit(&data, &spec(&["strength", "rootstock"], &[&["strength", "rootstock"]])).unwrap();
    let answer = model.adjusted_rates("strength", &RateOptions::within("rootstock")).unwrap();
    assert_eq!(answer.numbers.rates.iter().filter(|rate| rate.value.is_none()).count(), 1);
    assert!(has_note(&answer.notes, "not_estimable"));
    let tests = model.what_matters(None).unwrap();
    assert_eq!((tests.numbers.effects[2].p, tests.numbers.effects[2].df), (None, 0.0));
}

/// Dark days on bays, strengths on trays within bays: `bays` per length of darkness, four trays each.
fn dark_rooms(bays: usize) -> Units {
    let (mut rooted, mut dark, mut bay, mut strength) = (vec![], vec![], vec![], vec![]);
    for room in 0..2 * bays {
        for tray in 0..4_usize {
            rooted.push((6 + 3 * (room % 2) + 4 * (tray % 2) + (room * 5 + tray * 3) % 4) as u64);
            dark.push(if room % 2 == 0 { "0" } else { "30" });
            bay.push(format!("bay {room}"));
            strength.push(if tray % 2 == 0 { "0" } else { "2500" });
        }
    }
    let stuck = vec![20; rooted.len()];
    let mut units =
        units(UnitKind::Tray, rooted, stuck, vec![factor("dark_days", &dark), factor("strength", &strength)]);
    units.whole_plot = Some(factor("bay", &bay));
    units
}

#[test]
fn one_bay_per_level_is_never_tested() {
    let model = Model::fit(&dark_rooms(1), &spec(&["dark_days", "strength"], &[])).unwrap();
    let note = model.notes.iter().find(|note| note.code == "confounded_with_whole_plot").unwrap();
    assert!(note.text.contains("dark_days") && note.text.contains("bay"), "{}", note.text);
    let tests = model.what_matters(None).unwrap();
    let rows = &tests.numbers.effects;
    assert_eq!((rows[0].p, rows[0].statistic, rows[0].test.as_str()), (None, None, "not tested"));
    assert!(rows[0].largest_difference.unwrap() > 0.0);
    assert!(rows[1].p.is_some());
    let ratios = model.odds_ratios(0.95).unwrap().numbers.ratios;
    assert_eq!((ratios[0].p, ratios[0].low), (None, None));
    assert!(ratios[1].low.is_some());
    let rates = model.adjusted_rates("dark_days", &RateOptions::default()).unwrap().numbers.rates;
    assert!(rates[0].value.is_some() && rates[0].low.is_none());
    let ignored = ModelSpec { trays: TrayMode::Ignore, ..spec(&["dark_days", "strength"], &[]) };
    let ignored = Model::fit(&dark_rooms(1), &ignored).unwrap().what_matters(None).unwrap();
    assert_eq!(ignored.numbers.effects[0].p, None);
}

#[test]
fn whole_plot_effects_are_tested_against_whole_plots() {
    let data = dark_rooms(3);
    let model = Model::fit(&data, &quasi(spec(&["dark_days", "strength"], &[]))).unwrap();
    let tests = model.what_matters(None).unwrap();
    let dark = &tests.numbers.effects[0];
    assert_eq!((dark.error_df, dark.test.as_str()), (Some(4.0), "F on whole plots"));
    // two routes: deviances of separate fits without trays' strata, with and without bays
    let deviance = |effects: &[&str], bays: bool| {
        let mut data = data.clone();
        data.block = if bays { data.whole_plot.clone() } else { None };
        data.whole_plot = None;
        Model::fit(&data, &quasi(spec(effects, &[]))).unwrap()
    };
    let (full, with, without) =
        (deviance(&["dark_days", "strength"], false), deviance(&["strength"], true), deviance(&["strength"], false));
    let error = ((full.deviance - with.deviance) / 4.0).max(with.strata.tray.dispersion);
    relative(dark.statistic.unwrap(), (without.deviance - full.deviance) / error, 1e-8);
    assert_eq!(tests.numbers.effects[1].error_df, Some(17.0));
    let ratios = model.odds_ratios(0.95).unwrap().numbers.ratios;
    relative(ratios[0].p.unwrap(), dark.p.unwrap(), 1e-7);
}

#[test]
fn odds_ratios_need_the_logit() {
    let probit = ModelSpec { link: Link::Probit, ..spec(&["planting"], &[]) };
    let model = Model::fit(&plum(), &probit).unwrap();
    assert!(model.odds_ratios(0.95).unwrap_err().to_string().contains("logit"));
    assert!(model.adjusted_rates("plantin", &RateOptions::default()).unwrap_err().to_string().contains("did you mean"));
}

#[test]
fn no_difference_comes_with_what_cannot_be_ruled_out() {
    let data =
        units(UnitKind::Tray, vec![8, 9, 10, 9], vec![20; 4], vec![factor("strength", &["0", "0", "1000", "1000"])]);
    let tests = Model::fit(&data, &spec(&["strength"], &[])).unwrap().what_matters(None).unwrap();
    assert!(tests.words().contains("no difference shown"), "{}", tests.sentence);
    assert!(tests.words().contains("cannot be ruled out"));
}

#[test]
fn relabelling_levels_changes_no_test() {
    let mut renamed = trays();
    renamed.treatments[0].levels = vec!["x".into(), "y".into(), "z".into()];
    let one = Model::fit(&trays(), &spec(&["strength"], &[])).unwrap().what_matters(None).unwrap();
    let two = Model::fit(&renamed, &spec(&["strength"], &[])).unwrap().what_matters(None).unwrap();
    assert_eq!(one.numbers, two.numbers);
}

#[test]
fn three_factors_that_interact_have_a_size() {
    let (mut a, mut b, mut c) = (vec![], vec![], vec![]);
    for cell in 0..8 {
        a.push(["0", "2500"][cell / 4]);
        b.push(["K12", "K17"][cell / 2 % 2]);
        c.push(["0", "21"][cell % 2]);
    }
    let rooted = vec![30, 42, 51, 45, 38, 66, 71, 40];
    let factors = vec![factor("strength", &a), factor("rootstock", &b), factor("dark", &c)];
    let data = units(UnitKind::Pooled, rooted, vec![100; 8], factors);
    let names = ["strength", "rootstock", "dark"];
    let pairs: [&[&str]; 4] = [&["strength", "rootstock"], &["strength", "dark"], &["rootstock", "dark"], &names];
    let tests = Model::fit(&data, &spec(&names, &pairs)).unwrap().what_matters(None).unwrap();
    // by hand, in trees per 100: ((40 - 71) - (66 - 38)) - ((45 - 51) - (42 - 30)) = -59 + 18
    relative(tests.numbers.effects[6].largest_difference.unwrap(), 0.41, 1e-8);
    assert!(tests.numbers.effects[6].not_ruled_out.unwrap() > 0.41);
    assert!(tests.words().contains("This is an average: it changes in"), "{}", tests.sentence);
}

#[test]
fn errors_of_rates_are_those_of_trials_drawn_again() {
    use rootling::math::rng::{binomial, stream};
    let model = Model::fit(&plum(), &spec(&["planting", "length"], &[])).unwrap();
    let asked = model.adjusted_rates("planting", &RateOptions::default()).unwrap().numbers.rates;
    let cells = model.adjusted_rates("planting", &RateOptions::within("length")).unwrap().numbers.rates;
    // Cells of plum(): at_once long, at_once short, spring long, spring short.
    let rates: Vec<f64> = [0, 2, 1, 3].iter().map(|at: &usize| cells[*at].value.unwrap()).collect();
    let draws = 1500;
    let mut found = [Vec::new(), Vec::new()];
    for draw in 0..draws {
        let mut rng = stream(5, draw);
        let mut data = plum();
        data.rooted = rates.iter().map(|rate| binomial(&mut rng, 240, *rate)).collect();
        let again = Model::fit(&data, &spec(&["planting", "length"], &[])).unwrap();
        for (list, rate) in
            found.iter_mut().zip(again.adjusted_rates("planting", &RateOptions::default()).unwrap().numbers.rates)
        {
            list.push(rate.value.unwrap());
        }
    }
    for (list, rate) in found.iter().zip(&asked) {
        let mean = list.iter().sum::<f64>() / draws as f64;
        let spread = (list.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (draws as f64 - 1.0)).sqrt();
        // The standard deviation of 1,500 draws is known to 1.8 %.
        relative(rate.se.unwrap(), spread, 0.06);
    }
}
