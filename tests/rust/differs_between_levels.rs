//! A difference that changes with another treatment is an average: it is asked about, told with the difference at each level, and never "Use".

use approx::abs_diff_eq;
use rootling::compare::{
    AllComparisons, AllOptions, Changing, CompareOptions, Comparison, all_levels, changing, changing_levels,
};
use rootling::control::Control;

use rootling::models::{Model, ModelSpec};
use rootling::simulate::{LayeredDesign, UnitSpread, replicates};
use rootling::trial::{LoadOptions, Trial, Units, read_csv};

type Cell = (&'static str, &'static str, [u64; 4]);

/// 2000 is better at K17, 8000 at K30.
const OPPOSED: [Cell; 4] = [
    ("2000", "K17", [13, 16, 11, 13]),
    ("8000", "K17", [5, 3, 8, 4]),
    ("2000", "K30", [5, 2, 7, 4]),
    ("8000", "K30", [10, 13, 8, 11]),
];

/// 2000 is better at K17; at K30 nothing is shown.
const ONE_SIDED: [Cell; 4] = [
    ("2000", "K17", [14, 16, 12, 15]),
    ("8000", "K17", [3, 5, 2, 4]),
    ("2000", "K30", [11, 8, 12, 9]),
    ("8000", "K30", [8, 6, 9, 7]),
];

/// 2000 is better at both alike.
const ALIKE: [Cell; 4] = [
    ("2000", "K17", [12, 15, 10, 13]),
    ("8000", "K17", [6, 4, 8, 5]),
    ("2000", "K30", [11, 8, 13, 10]),
    ("8000", "K30", [5, 3, 6, 4]),
];

fn trial(cells: &[Cell], tray: bool) -> Trial {
    let mut text = String::from("strength,rootstock,tray,rooted,stuck\n");
    for (at, (strength, rootstock, counts)) in cells.iter().enumerate() {
        for (copy, rooted) in counts.iter().enumerate() {
            text += &format!("{strength},{rootstock},t{at}{copy},{rooted},20\n");
        }
    }
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into(), "rootstock".into()],
        tray: tray.then(|| "tray".into()),
        ..LoadOptions::default()
    };
    read_csv(text.as_bytes(), &options).unwrap()
}

fn asked(trial: &Trial, options: &CompareOptions) -> rootling::Answer<Comparison> {
    trial.compare("strength", ("2000", "8000"), options, &Control::new()).unwrap()
}

fn all(trial: &Trial) -> rootling::Answer<AllComparisons> {
    all_levels(trial.units(), "strength", &AllOptions::default(), &Control::new()).unwrap()
}

fn has_note<F>(answer: &rootling::Answer<F>) -> bool {
    answer.notes.iter().any(|note| note.code == "differs_between_levels")
}

#[test]
fn opposite_directions_have_no_single_answer() {
    let trial = trial(&OPPOSED, true);
    let answer = asked(&trial, &CompareOptions::default());
    let wanted = "No single answer: strength 2000 is better at K17, 8000 at K30; compare them within each.".to_owned();
    assert_eq!(answer.sentence, wanted);
    // 33 of 80 fewer and 24 of 80 more.
    let first = answer.details.first().unwrap();
    assert!(
        first.starts_with("The difference changes with rootstock (P < 0.001): strength 8000 has at K17 41 fewer (")
    );
    assert!(first.contains(") and at K30 30 more ("), "{first}");
    assert!(
        first.ends_with("trees per 100 than 2000; compare within each, as with at={\"rootstock\": \"K17\"}."),
        "{first}"
    );
    assert!(has_note(&answer));
    let found = &answer.numbers.changing[0];
    // A linear model of the tray rates, log((y + 1/2) / (20 - y + 1/2)), with both treatments and their interaction gives the interaction
    // P = 4.843e-5, and of the plain rates 1.912e-5 (statsmodels 0.15, anova_lm(ols("l ~ C(strength) * C(rootstock)").fit(), typ=2)):
    // another law for the same trays, so that the two logarithms need only be near.
    assert_rel!(found.p.ln(), 4.843e-5_f64.ln(), 0.10);
    assert_rel!(found.p.ln(), 1.912e-5_f64.ln(), 0.10);
    assert_eq!((found.treatment.as_str(), found.df, found.error_df), ("rootstock", 1.0, 12.0));
    let gaps: Vec<f64> = found.differences.iter().map(|one| one.value).collect();
    assert_rel!(gaps[0], -33.0 / 80.0, 1e-12);
    assert_rel!(gaps[1], 24.0 / 80.0, 1e-12);
    // Limits are those of the comparison at that level alone.
    let at = [("rootstock".to_owned(), "K17".to_owned())].into();
    let alone = asked(&trial, &CompareOptions { at, ..CompareOptions::default() });
    assert_eq!((alone.numbers.low, alone.numbers.high), (found.differences[0].low, found.differences[0].high));
    assert!(alone.numbers.changing.is_empty() && !has_note(&alone));

    let pairs = all(&trial);
    assert_eq!(pairs.sentence, wanted);
    assert!(has_note(&pairs));
    let highest: Vec<&str> = pairs.numbers.changing[0].highest.iter().map(|one| one.highest.as_str()).collect();
    assert_eq!(highest, ["2000", "8000"]);
    assert!(
        pairs.details[0].starts_with("The differences between levels of strength change with rootstock (P < 0.001): ")
    );
}

#[test]
fn the_interaction_is_that_of_the_model() {
    for cells in [OPPOSED, ONE_SIDED, ALIKE] {
        let trial = trial(&cells, true);
        let interactions = vec![vec!["strength".to_owned(), "rootstock".to_owned()]];
        let spec = ModelSpec { interactions, ..ModelSpec::of(&["strength", "rootstock"]) };
        let tests = Model::fit(trial.units(), &spec).unwrap().what_matters(None).unwrap().numbers;
        let own = tests.effects.iter().find(|one| one.effect.contains(" x ")).unwrap();
        let (options, control) = (CompareOptions::default(), Control::new());
        let pair = changing(trial.units(), "strength", ("2000", "8000"), &options, &control).unwrap();
        let levels = changing_levels(trial.units(), "strength", &options, &control).unwrap();
        for found in [&pair[0], &levels[0]] {
            assert_rel!(found.p, own.p.unwrap(), 1e-12);
            assert_rel!(found.p_adjusted, found.p, 1e-12);
        }
    }
}

#[test]
fn one_direction_is_a_leaning_on_average() {
    let trial = trial(&ONE_SIDED, true);
    let answer = asked(&trial, &CompareOptions::default());
    let start = "Leaning to strength 2000 on average over rootstock: 33 more trees per 100 than 8000 (21 to 44); compare within each rootstock";
    assert!(answer.sentence.starts_with(start), "{}", answer.sentence);
    assert!(rootling::report::words(&answer.sentence) <= 30);
    assert!(has_note(&answer) && !answer.numbers.changing[0].opposed());
    let pairs = all(&trial);
    assert!(pairs.sentence.starts_with("Leaning to strength 2000 on average over rootstock: 33 more trees per 100"));
    assert!(pairs.sentence.contains("; compare within each rootstock"), "{}", pairs.sentence);

    // What is asked of a margin keeps its claim.
    let wide = asked(&trial, &CompareOptions { margin: Some(0.6), ..CompareOptions::default() });
    assert!(wide.sentence.starts_with("Either will do: "), "{}", wide.sentence);
    assert!(has_note(&wide));
}

#[test]
fn alike_levels_and_lost_trays_change_nothing() {
    let same = trial(&ALIKE, true);
    let answer = asked(&same, &CompareOptions::default());
    assert!(answer.sentence.starts_with("Use strength 2000: 32 more trees per 100 than 8000"), "{}", answer.sentence);
    assert!(
        !has_note(&answer) && !answer.numbers.changing[0].shown() && answer.numbers.changing[0].differences.is_empty()
    );
    // Without trays nothing gives an error.
    let pooled = trial(&OPPOSED, false);
    assert!(asked(&pooled, &CompareOptions::default()).numbers.changing.is_empty());
    assert!(all(&pooled).numbers.changing.is_empty());
}

/// Whether an interaction is claimed of a trial without one.
fn alarm(units: &Units) -> rootling::Result<u64> {
    let found: Vec<Changing> = changing(units, "strength", ("0", "1"), &CompareOptions::default(), &Control::new())?;
    Ok(u64::from(found.iter().any(Changing::shown)))
}

#[test]
fn false_alarms_are_five_in_a_hundred() {
    // Two strengths on three rootstocks, four trays of 20 of each, tray effects normal on the log odds: log odds of -0.6, 1 more at the
    // second strength, 0.5 and 1 more at the other rootstocks.
    let mut design = LayeredDesign::new(&[("strength", 2), ("rootstock", 3)], 4, 20);
    design.trays = UnitSpread::Normal(0.5);
    let rate = |odds: f64| 1.0 / (1.0 + (-odds).exp());
    design.takes = [-0.6, -0.1, 0.4, 0.4, 0.9, 1.4].map(rate).to_vec();
    let add = |sum: &mut u64, one: u64| *sum += one;
    let alarms = replicates(200, 11, 0, &Control::new(), |random| alarm(&design.draw(random)), add).unwrap();
    // 5 % of 200 within 3 standard errors, 3 sqrt(0.05 0.95 / 200) = 4.6 %.
    assert!(abs_diff_eq!(alarms as f64 / 200.0, 0.05, epsilon = 0.046), "{alarms} of 200");
}
