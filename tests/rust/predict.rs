//! Expected rates of new rows: second routes, tray ranges that hold, and entries that a model cannot know.

use rootling::checks::CheckOptions;
use rootling::control::Control;
use rootling::effects::{RateOf, RateOptions};
use rootling::math::rng::{self, stream};
use rootling::models::{Link, Model, ModelSpec, TrayMode};
use rootling::prediction::{PredictOptions, Prediction, columns};
use rootling::trial::{Covariate, NewRows, UnitKind, Units};

use crate::models::{crowder, endometrial, factor, full_arm, has_note, spec, trays, units};

const MODES: [TrayMode; 4] = [TrayMode::Dispersion, TrayMode::BetaBinomial, TrayMode::Random, TrayMode::Ignore];

fn at(model: &Model, text: &str, options: &PredictOptions) -> Vec<Prediction> {
    model.predict(&NewRows::from_csv(text.as_bytes()).unwrap(), options).unwrap().numbers.rows
}

fn plainly(model: &Model, text: &str) -> Vec<Prediction> {
    at(model, text, &PredictOptions::default())
}

fn refused(model: &Model, text: &str) -> String {
    let rows = NewRows::from_csv(text.as_bytes()).unwrap();
    model.predict(&rows, &PredictOptions::default()).unwrap_err().to_string()
}

#[test]
fn adjusted_rates_are_averages_of_predictions() {
    // A second route: the rate of a seed is the mean of the predictions of its two extracts, in every tray mode and link.
    for trays in MODES {
        for link in [Link::Logit, Link::Probit, Link::ComplementaryLogLog, Link::LogLog] {
            let spec = ModelSpec { trays, link, ..spec(&["seed", "extract"], &[&["seed", "extract"]]) };
            let model = Model::fit(&crowder(), &spec).unwrap();
            let adjusted = model
                .adjusted_rates("seed", &RateOptions { confidence: 0.9, ..RateOptions::default() })
                .unwrap()
                .numbers
                .rates;
            for rate in adjusted {
                let text = format!("extract,seed\nbean,{0}\ncucumber,{0}\n", rate.by);
                let rows = plainly(&model, &text);
                let mean = 0.5 * (rows[0].value.unwrap() + rows[1].value.unwrap());
                assert_rel!(mean, rate.value.unwrap(), 1e-12);
            }
            let split = model
                .adjusted_rates("seed", &RateOptions { confidence: 0.9, ..RateOptions::within("extract") })
                .unwrap()
                .numbers
                .rates;
            for rate in split {
                let text = format!("extract,seed\n{},{}\n", rate.within.unwrap(), rate.by);
                let row = &at(&model, &text, &PredictOptions { confidence: 0.9, ..PredictOptions::default() })[0];
                assert_rel!(row.value.unwrap(), rate.value.unwrap(), 1e-12);
                assert_rel!(row.se.unwrap(), rate.se.unwrap(), 1e-12);
                assert_rel!(row.low.unwrap(), rate.low.unwrap(), 1e-12);
                assert_rel!(row.high.unwrap(), rate.high.unwrap(), 1e-12);
            }
        }
    }
}

/// The plates with a length and a lift of the log odds that is known.
fn plates() -> Units {
    let mut data = crowder();
    let number = |of: fn(usize) -> f64| (0..data.len()).map(of).collect::<Vec<f64>>();
    let columns =
        [("length", number(|i| 8.0 + (i * 7 % 11) as f64 * 0.37)), ("lift", number(|i| 0.1 * (i % 5) as f64 - 0.2))];
    data.covariates = columns.map(|(name, values)| Covariate { name: name.into(), values }).into();
    data
}

#[test]
fn observed_rows_have_their_fitted_rates() {
    // A second route: what the diagnostics expect of every plate, with a square, an offset and in every tray mode.
    for trays in [TrayMode::Dispersion, TrayMode::BetaBinomial, TrayMode::Random, TrayMode::Robust, TrayMode::Ignore] {
        let mut asked =
            ModelSpec { trays, offset: Some("lift".to_owned()), ..spec(&["seed", "extract", "length"], &[]) };
        asked.polynomials.insert("length".to_owned(), 2);
        let data = plates();
        let model = Model::fit(&data, &asked).unwrap();
        assert_eq!(columns(&model), ["seed", "extract", "length", "lift"]);
        let row = |unit: usize| {
            let label = |name: &str| data.factor(name).unwrap().label(unit).unwrap().to_owned();
            format!(
                "{},{},{},{}\n",
                label("seed"),
                label("extract"),
                data.covariates[0].values[unit],
                data.covariates[1].values[unit]
            )
        };
        let text: String = (0..data.len()).map(row).collect();
        let rows = plainly(&model, &format!("seed,extract,length,lift\n{text}"));
        let checks = model.checks(&CheckOptions::default(), &Control::new()).unwrap();
        for (row, tray) in rows.iter().zip(&checks.numbers.trays) {
            assert_rel!(row.value.unwrap(), tray.expected / tray.stuck as f64, 1e-9);
        }
        let without = refused(&model, "seed,extract,length\nO_aegyptiaca_75,bean,9\n");
        assert_eq!(
            without,
            "there is no column \"lift\", which the model needs; add it; the columns are seed, extract, length"
        );
        let text = "seed,extract,length,lift\nO_aegyptiaca_75,bean,9,high\n";
        assert_eq!(refused(&model, text), "row 2, column \"lift\": \"high\" is not a number; enter one");
    }
}

#[test]
fn limits_are_those_of_the_linear_predictor() {
    // by hand: strengths alone, so the log odds are those of the pooled counts; t on 9 degrees of freedom at 97.5 %,
    // scipy 1.15.3 stats.t.ppf(0.975, 9)
    let t = 2.262_157_162_740_991_7;
    let mut data = trays();
    data.block = None;
    let model = Model::fit(&data, &ModelSpec { trays: TrayMode::Dispersion, ..spec(&["strength"], &[]) }).unwrap();
    let strength = &data.treatments[0];
    for row in plainly(&model, &format!("strength\n{}\n", strength.levels.join("\n"))) {
        let mine = |unit: &usize| strength.label(*unit) == Some(row.labels[0].as_str());
        let members: Vec<usize> = (0..data.len()).filter(mine).collect();
        let sum = |of: &[u64]| members.iter().map(|unit| of[*unit] as f64).sum::<f64>();
        let (y, m) = (sum(&data.rooted), sum(&data.stuck));
        assert_rel!(row.value.unwrap(), y / m, 1e-10);
        let dof = row.df.unwrap();
        let quantile = rootling::math::distributions::student_t::quantile(0.975, dof);
        if dof == 9.0 {
            assert_rel!(quantile, t, 1e-12);
        }
        let half = quantile * (model.strata.tray.dispersion * (1.0 / y + 1.0 / (m - y))).sqrt();
        let limit = |eta: f64| 1.0 / (1.0 + (-eta).exp());
        assert_rel!(row.low.unwrap(), limit((y / (m - y)).ln() - half), 1e-9);
        assert_rel!(row.high.unwrap(), limit((y / (m - y)).ln() + half), 1e-9);
    }
}

#[test]
fn a_block_may_be_left_out() {
    let model = Model::fit(&trays(), &spec(&["strength"], &[])).unwrap();
    assert_eq!(columns(&model), ["bench", "strength"]);
    let benches = trays().block.unwrap().levels;
    let strength = trays().treatments[0].levels[1].clone();
    let text = benches.iter().fold("bench,strength\n".to_owned(), |text, bench| format!("{text}{bench},{strength}\n"));
    let each = plainly(&model, &text);
    let mean = each.iter().map(|row| row.value.unwrap()).sum::<f64>() / each.len() as f64;
    let rows = NewRows::from_csv(format!("strength\n{strength}\n").as_bytes()).unwrap();
    let found = model.predict(&rows, &PredictOptions::default()).unwrap();
    assert_rel!(found.numbers.rows[0].value.unwrap(), mean, 1e-12);
    assert!(has_note(&found.notes, "averaged_over_block"));
    assert!(found.words().contains("The expected take rate is "), "{}", found.sentence);
}

#[test]
fn typical_trays_and_all_trays_have_two_rates() {
    let spec = ModelSpec { trays: TrayMode::Random, ..spec(&["seed", "extract"], &[]) };
    let model = Model::fit(&crowder(), &spec).unwrap();
    let text = "seed,extract\nO_aegyptiaca_75,bean\nO_aegyptiaca_73,cucumber\n";
    let (all, typical) = (
        plainly(&model, text),
        at(&model, text, &PredictOptions { rate_of: RateOf::TypicalTray, ..PredictOptions::default() }),
    );
    let b = |name: &str| model.coefficient(name).map_or(0.0, |coefficient| coefficient.value);
    for (row, (all, typical)) in all.iter().zip(&typical).enumerate() {
        let levels: f64 = model
            .coefficients
            .iter()
            .skip(1)
            .filter(|c| typical.labels.iter().any(|l| c.name.ends_with(l.as_str())))
            .map(|c| c.value)
            .sum();
        assert_rel!(typical.value.unwrap(), 1.0 / (1.0 + (-b("intercept") - levels).exp()), 1e-10);
        // the average over trays lies nearer to one half
        assert!((all.value.unwrap() - 0.5).abs() < (typical.value.unwrap() - 0.5).abs(), "{row}");
    }
    let plain = Model::fit(&crowder(), &ModelSpec { trays: TrayMode::BetaBinomial, ..spec.clone() }).unwrap();
    let rows = NewRows::from_csv(text.as_bytes()).unwrap();
    let error = plain.predict(&rows, &PredictOptions { rate_of: RateOf::TypicalTray, ..PredictOptions::default() });
    assert!(error.unwrap_err().to_string().starts_with("a typical tray's rate comes from trays=\"random\" only"));
}

#[test]
fn penalised_and_pooled_models_predict_too() {
    let model = Model::fit(&full_arm(), &spec(&["strength"], &[])).unwrap();
    let levels = full_arm().treatments[0].levels.clone();
    let mut full = 0;
    for row in plainly(&model, &format!("strength\n{}\n", levels.join("\n"))) {
        let (low, value, high) = (row.low.unwrap(), row.value.unwrap(), row.high.unwrap());
        assert!(0.0 < low && low < value && value < high && high <= 1.0);
        // Where all rooted, all may.
        full += usize::from(high == 1.0);
    }
    assert_eq!(full, 1);
    let model = Model::fit(&endometrial(), &spec(&["NV", "PI", "EH"], &[])).unwrap();
    let rows = NewRows::from_csv(b"NV,PI,EH\n0,13,1.64\n1,500,2.26\n").unwrap();
    let found = model.predict(&rows, &PredictOptions::default()).unwrap();
    assert_eq!(found.numbers.rows[0].outside, Vec::<String>::new());
    assert_eq!(found.numbers.rows[1].outside, ["PI"]);
    let note = found.notes.iter().find(|note| note.code == "outside_tested_range").unwrap();
    // heinze_schemper_2002.csv: PI runs from 0 to 49
    assert!(note.text.starts_with("Row 3 lies beyond the tested range of PI (0 to 49 in the trial)"), "{}", note.text);
    let no_trays = PredictOptions { new_tray: Some(20), ..PredictOptions::default() };
    assert!(
        model.predict(&rows, &no_trays).unwrap_err().to_string().starts_with("a range for a new tray needs the spread")
    );
}

#[test]
fn combinations_that_were_not_tried_are_left_open() {
    let strength = factor("strength", &["0", "0", "2500", "2500", "0", "0"]);
    let rootstock = factor("rootstock", &["K12", "K12", "K12", "K12", "K17", "K17"]);
    let data = units(UnitKind::Tray, vec![3, 5, 12, 11, 6, 8], vec![20; 6], vec![strength, rootstock]);
    let model = Model::fit(&data, &spec(&["strength", "rootstock"], &[&["strength", "rootstock"]])).unwrap();
    let rows = NewRows::from_csv(b"strength,rootstock\n2500.0,K17\n0,K17\n").unwrap();
    let found = model.predict(&rows, &PredictOptions::default()).unwrap();
    assert_eq!(found.numbers.rows[0].value, None);
    // by hand: 14 of 40
    assert_rel!(found.numbers.rows[1].value.unwrap(), 0.35, 1e-10);
    assert!(has_note(&found.notes, "not_estimable"));
}

#[test]
fn whole_plots_set_the_error_of_rates() {
    let data = bays(4);
    let effects: Vec<String> = data.treatments.iter().map(|factor| factor.name.clone()).collect();
    let model = Model::fit(&data, &ModelSpec::of(&effects)).unwrap();
    let error = model.strata.whole_plots.as_ref().unwrap().error.unwrap();
    let text = format!(
        "{}\n{}\n",
        effects.join(","),
        data.treatments.iter().map(|f| f.levels[0].as_str()).collect::<Vec<_>>().join(",")
    );
    let row = &plainly(&model, &text)[0];
    // A cell draws on bays and on trays: more degrees of freedom than bays alone, fewer than both together.
    let (bays, trays) = (error.df.unwrap(), model.strata.tray.df.unwrap());
    assert!(row.df.unwrap() > bays && row.df.unwrap() < bays + trays);
}

/// A drawn trial of darkness on bays and two strengths in trays, two trays of each in a bay.
pub(crate) fn bays(bays: u32) -> Units {
    let design = rootling::simulate::SplitPlotDesign {
        bays,
        strengths: 2,
        trays: 2,
        cuttings: 20,
        icc: 0.03,
        bay_sd: 0.3,
        take: 0.5,
        dark_effect: 0.5,
        strength_effect: 0.3,
    };
    design.draw(&mut stream(3, 0))
}

/// One treatment of four trays of 12, the model's range for a fifth.
fn held(seed: u64, rate: f64, rho: f64) -> bool {
    let mut random = stream(seed, 0);
    let levels = ["a", "a", "a", "a", "a", "b", "b", "b", "b", "b"];
    let rooted: Vec<u64> = levels.iter().map(|_| rng::beta_binomial(&mut random, 12, rate, rho)).collect();
    let data = units(UnitKind::Tray, rooted, vec![12; 10], vec![factor("strength", &levels)]);
    let model = Model::fit(&data, &spec(&["strength"], &[])).unwrap();
    let row = &at(&model, "strength\na\n", &PredictOptions { new_tray: Some(12), ..PredictOptions::default() })[0];
    let next = rng::beta_binomial(&mut random, 12, rate, rho);
    (row.tray_low.unwrap()..=row.tray_high.unwrap()).contains(&next)
}

#[test]
fn ranges_hold_new_trays() {
    // Simulated: 1,000 trials each; the standard error of a coverage of 95 % is 0.7 points, so 92.5 is 3.6 of them below.
    for (rate, rho) in [(0.5, 0.0), (0.5, 0.15), (0.15, 0.05), (0.9, 0.1)] {
        let count = (0..1000).filter(|seed| held(*seed, rate, rho)).count();
        assert!(count >= 925, "rate {rate}, rho {rho}: {count} of 1000");
    }
}

#[test]
fn a_tray_of_one_cutting_may_do_either() {
    let model = Model::fit(&crowder(), &spec(&["seed", "extract"], &[])).unwrap();
    let text = "seed,extract\nO_aegyptiaca_75,bean\n";
    let one = &at(&model, text, &PredictOptions { new_tray: Some(1), ..PredictOptions::default() })[0];
    assert_eq!((one.tray_low, one.tray_high), (Some(0), Some(1)));
    let rows = NewRows::from_csv(text.as_bytes()).unwrap();
    let none = model.predict(&rows, &PredictOptions { new_tray: Some(0), ..PredictOptions::default() });
    assert!(none.unwrap_err().to_string().starts_with("new_tray 0 is a tray without cuttings"));
}

fn two_factors() -> Units {
    let strength = factor("strength", &["0", "0", "2500", "2500", "5000", "5000"]);
    let rootstock = factor("rootstock", &["K12", "K17", "K12", "K17", "K12", "K17"]);
    let mut data = units(UnitKind::Tray, vec![3, 5, 12, 11, 9, 8], vec![20; 6], vec![strength, rootstock]);
    data.covariates = vec![Covariate { name: "length".into(), values: vec![8.0, 9.0, 12.0, 10.0, 11.0, 9.5] }];
    data
}

#[test]
fn entries_that_the_model_cannot_know() {
    let model = Model::fit(&two_factors(), &spec(&["strength", "rootstock", "length"], &[])).unwrap();
    let cases = [
        (
            "strength,length\n0,9\n",
            "there is no column \"rootstock\", which the model needs; add it; the columns are strength, length",
        ),
        (
            "strenght,rootstock,length\n0,K12,9\n",
            "there is no column \"strength\", which the model needs; did you mean \"strenght\"? The columns are strenght, rootstock, length",
        ),
        (
            "strength,rootstock,length\n0,K12,9\n2600,K12,9\n",
            "row 3, column \"strength\": the model does not know \"2600\"; the nearest it knows is \"2500\", of 0, 2500 and 5000",
        ),
        (
            "strength,rootstock,length\n0,k17,9\n",
            "row 2, column \"rootstock\": the model does not know \"k17\"; the nearest it knows is \"K17\", of K12 and K17",
        ),
        (
            "strength,rootstock,length\n0,M9,9\n",
            "row 2, column \"rootstock\": the model does not know \"M9\"; it knows K12 and K17",
        ),
        ("strength,rootstock,length\n0,,9\n", "row 2, column \"rootstock\": no value; the model knows K12 and K17"),
        ("strength,rootstock,length\n0,K12,long\n", "row 2, column \"length\": \"long\" is not a number; enter one"),
        ("strength,rootstock,length\n0,K12,NaN\n", "row 2, column \"length\": no value; enter a number"),
        ("strength,rootstock,length\n", "there are no rows to predict for; give at least one"),
        (
            "strength,rootstock,length\n1,K12,x\n0,K12,9\n",
            "2 problems in the rows to predict for:\n  row 2, column \"strength\": the model does not know \"1\"; the nearest it knows is \"0\", of 0, \
             2500 and 5000\n  row 2, column \"length\": \"x\" is not a number; enter one",
        ),
    ];
    for (text, words) in cases {
        assert_eq!(refused(&model, text), words);
    }
    let level = PredictOptions { confidence: 95.0, ..PredictOptions::default() };
    let rows = NewRows::from_csv(b"strength,rootstock,length\n0,K12,9\n").unwrap();
    assert!(model.predict(&rows, &level).unwrap_err().to_string().starts_with("confidence 95 is not between 0 and 1"));
}
