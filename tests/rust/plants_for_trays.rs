//! Mother plants without trays: they are the units of what does not change within them, and of nothing else.

use rootling::compare::CompareOptions;
use rootling::control::Control;
use rootling::effects::RateOptions;
use rootling::models::{Model, ModelSpec};
use rootling::rates::{CorrelationOptions, trial_correlation};
use rootling::trial::{LoadOptions, Trial, UnitKind, read_csv};

/// Five plants of each rootstock with eight to ten cuttings, one row per cutting, each with a strength and a length.
fn cuttings() -> String {
    let mut text = "rootstock,plant,strength,length,rooted\n".to_owned();
    for plant in 0..10_usize {
        let kind = if plant < 5 { "K12" } else { "K17" };
        for cutting in 0..8 + plant % 3 {
            let rooted = usize::from((cutting * 7 + plant * 5) % 11 < 2 + plant % 4 + 3 * (plant / 5));
            text.push_str(&format!("{kind},p{plant},{},{},{rooted}\n", cutting % 2 * 1000, 10 + cutting));
        }
    }
    text
}

fn load(treatments: &[&str], change: impl FnOnce(&mut LoadOptions)) -> Trial {
    let mut options = LoadOptions {
        rooted: "rooted".into(),
        treatments: treatments.iter().map(|&name| name.into()).collect(),
        ..LoadOptions::default()
    };
    change(&mut options);
    read_csv(cuttings().as_bytes(), &options).unwrap()
}

fn judged(trial: &Trial) -> (f64, f64, String) {
    let found = trial.compare("rootstock", ("K12", "K17"), &CompareOptions::default(), &Control::new()).unwrap();
    (found.numbers.value, found.numbers.p.unwrap(), found.numbers.unit)
}

#[test]
fn plants_judge_what_does_not_change_within_them() {
    let plants = load(&["rootstock"], |one| one.stock_plant = Some("plant".into()));
    assert_eq!((plants.units().kind, plants.units().len()), (UnitKind::Tray, 10));
    assert!(plants.design().sentence.starts_with("The experimental unit is the plant: 10 plants with 89 cuttings"));
    assert!(plants.notes().iter().any(|note| note.code == "plants_for_trays"));
    // The second route: each plant's cuttings in a tray of their own.
    let trays = load(&["rootstock"], |one| one.tray = Some("plant".into()));
    let (value, p, unit) = judged(&plants);
    let (same, tray_p, _) = judged(&trays);
    assert_eq!(unit, "plant");
    assert_rel!(value, same, 1e-12);
    assert_rel!(p, tray_p, 1e-9);
    // Cuttings counted as if each stood alone claim more.
    assert!(judged(&load(&["rootstock"], |_| ())).1 < p);
}

#[test]
fn a_length_that_differs_between_cuttings_of_a_plant_keeps_the_plants() {
    let trial = load(&["rootstock"], |one| {
        one.stock_plant = Some("plant".into());
        one.covariates = vec!["length".into()];
    });
    assert_eq!(trial.units().len(), 89);
    assert_eq!(judged(&trial).2, "plant");
}

#[test]
fn what_changes_within_plants_needs_trays() {
    let both = load(&["rootstock", "strength"], |one| one.stock_plant = Some("plant".into()));
    assert_eq!(both.units().kind, UnitKind::Pooled);
    let codes: Vec<&str> = both.notes().iter().map(|note| note.code.as_str()).collect();
    assert!(codes.contains(&"plants_without_trays") && codes.contains(&"no_tray_information"), "{codes:?}");
    let told = both.notes().iter().find(|note| note.code == "stock_plant_confounded").unwrap();
    assert!(told.text.contains("whose number should count and does not without trays"), "{}", told.text);
    let apart = load(&["rootstock", "strength"], |one| {
        one.stock_plant = Some("plant".into());
        one.tray_within = vec!["strength".into(), "plant".into()];
    });
    assert_eq!((apart.units().kind, apart.units().len(), judged(&apart).2), (UnitKind::Tray, 20, "plant".to_owned()));
}

#[test]
fn what_a_model_and_a_correlation_say_of_plants_names_them() {
    let trial = load(&["rootstock"], |one| one.stock_plant = Some("plant".into()));
    let model = Model::fit(trial.units(), &ModelSpec::of(&["rootstock"])).unwrap();
    let rates = model.adjusted_rates("rootstock", &RateOptions::default()).unwrap();
    assert_eq!(rates.numbers.unit, "plant");
    assert!(rates.methods.contains("of 89 cuttings in 10 plants were analysed"), "{}", rates.methods);
    assert!(rates.methods.contains("m cuttings per plant"), "{}", rates.methods);
    assert!(!rates.methods.contains("tray"), "{}", rates.methods);
    let lettered = model.letters("rootstock", &Default::default(), &Control::new()).unwrap();
    assert_eq!(lettered.numbers.unit, "plant");
    let alike = trial_correlation(trial.units(), &CorrelationOptions::default(), &Control::new()).unwrap();
    let told = format!("{} {}", alike.words(), alike.methods);
    assert!(told.contains("10 plants in 2 treatments") && !told.contains("tray"), "{told}");
    // Trays keep their name.
    let trays = load(&["rootstock"], |one| one.tray = Some("plant".into()));
    let model = Model::fit(trays.units(), &ModelSpec::of(&["rootstock"])).unwrap();
    let rates = model.adjusted_rates("rootstock", &RateOptions::default()).unwrap();
    assert_eq!(rates.numbers.unit, "tray");
    assert!(rates.methods.contains("in 10 trays were analysed"));
}
