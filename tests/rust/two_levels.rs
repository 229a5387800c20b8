//! A treatment of two levels: whoever asks, comparison or association, is told the same.

use proptest::prelude::*;
use rootling::compare::{CompareOptions, strengths};
use rootling::control::Control;
use rootling::rates::TraysUse;
use rootling::tables::{AssociationOptions, association};
use rootling::trial::{LoadOptions, Trial, read_csv};

/// Trays of two strengths: (strength, place, rooted, stuck).
fn trial(trays: &[(u32, u32, u32, u32)], place: Option<bool>, tray: bool) -> Trial {
    let mut text = "strength,place,tray,rooted,stuck\n".to_owned();
    for (at, (strength, place, rooted, stuck)) in trays.iter().enumerate() {
        text.push_str(&format!("{strength},p{place},t{at},{rooted},{stuck}\n"));
    }
    let place_is = |whole_plot: bool| (place == Some(whole_plot)).then(|| "place".to_owned());
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into()],
        tray: tray.then(|| "tray".into()),
        block: place_is(false),
        whole_plot: place_is(true),
        // Places hold what they happen to hold, and counts may happen to be sums or means of those before them.
        checked: ["restarted_whole_plots", "restarted_blocks", "sum_row", "mean_row"].map(str::to_owned).to_vec(),
        ..LoadOptions::default()
    };
    read_csv(text.as_bytes(), &options).unwrap()
}

/// Leading P and why it is withheld, of the comparison and of the association.
fn both(trial: &Trial, trays: TraysUse) -> [(Option<f64>, Option<String>); 2] {
    let control = Control::new();
    let options = CompareOptions { trays, ..CompareOptions::default() };
    let compared = strengths(trial.units(), "strength", "0", "2500", &options, &control).unwrap().numbers;
    let options = AssociationOptions { trays, ..AssociationOptions::default() };
    let found = association(trial.units(), "strength", &options, &control).unwrap().numbers;
    [(compared.p, compared.withheld), (found.p, found.withheld)]
}

#[test]
fn where_a_comparison_withholds_its_test_so_does_the_association() {
    // each level in a place of its own; one tray each; places as blocks that hold one level each
    let apart = [(0, 1, 3, 20), (0, 1, 5, 20), (2500, 2, 9, 20), (2500, 2, 14, 20)];
    for (trays, place) in [(&apart[..], Some(true)), (&apart[..], Some(false)), (&apart[1..3], None)] {
        let trial = trial(trays, place, true);
        let [compared, found] = both(&trial, TraysUse::Auto);
        assert_eq!((compared.0, found.0), (None, None));
        // With one tray each the comparison says why in its sentence.
        assert!(found.1.is_some() && (compared.1.is_none() || compared.1 == found.1), "{compared:?} {found:?}");
        let answer = association(trial.units(), "strength", &AssociationOptions::default(), &Control::new()).unwrap();
        assert!(answer.words().contains("No test of strength is given: "), "{}", answer.sentence);
        assert!(answer.numbers.tests.iter().all(|one| one.counts == "cuttings"));
        assert!(answer.methods.ends_with("No test of strength was made."), "{}", answer.methods);
    }
}

#[test]
fn more_levels_have_no_score_test() {
    let trays = [(0, 1, 3, 20), (0, 1, 5, 20), (2500, 1, 9, 20), (2500, 1, 14, 20), (5000, 1, 9, 20), (5000, 1, 8, 20)];
    let options = AssociationOptions { method: Some("score".parse().unwrap()), ..AssociationOptions::default() };
    let said = association(trial(&trays, None, true).units(), "strength", &options, &Control::new()).unwrap_err();
    assert_eq!(
        said.to_string(),
        "the score test of an association is not defined: it is for two levels and there are more; leave the method out, or compare two levels by name"
    );
    // one tray of each of three levels: nothing to judge by, whatever the cuttings say
    let alone = [(0, 1, 0, 20), (2500, 1, 9, 20), (5000, 1, 20, 20)];
    let found =
        association(trial(&alone, None, true).units(), "strength", &AssociationOptions::default(), &Control::new());
    assert_eq!(
        found.unwrap().details,
        [
            "No test of strength is given: no level of strength has a second tray beside it, so there is nothing to judge a difference by."
        ]
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn one_question_has_one_answer(
        counts in prop::collection::vec((0_u32..=20, 1_u32..=3, 5_u32..=30), 4..14),
        place in prop_oneof![Just(None), Just(Some(false)), Just(Some(true))],
        tray in any::<bool>(),
    ) {
        let trays: Vec<(u32, u32, u32, u32)> = counts
            .iter()
            .enumerate()
            .map(|(at, (rooted, place, more))| (2500 * (at as u32 % 2), *place, (*rooted).min(*more), *more))
            .collect();
        let trial = trial(&trays, place, tray);
        for use_of_trays in [TraysUse::Auto, TraysUse::Ignore] {
            let [compared, found] = both(&trial, use_of_trays);
            prop_assert_eq!(compared.0, found.0, "{:?} {:?}", compared.1, found.1);
            prop_assert!(compared.1.is_none() || compared.1 == found.1);
        }
    }
}
