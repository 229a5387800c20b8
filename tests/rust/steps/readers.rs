//! Two readers of the same plants.

use rootling::steps::{AgreementOptions, GradeWeights, agreement, kappa_of, kappa_weighted};

/// Fleiss, Cohen and Everitt 1969, Psychological Bulletin 72:323-327, table 1 (shares times 200; table and weights from memory, the
/// published kappa .4286 with standard error .0537 and weighted kappa .5071 follow from them).
const DIAGNOSES: [[f64; 3]; 3] = [[106.0, 10.0, 4.0], [22.0, 28.0, 10.0], [2.0, 12.0, 6.0]];

fn rows(table: [[f64; 3]; 3]) -> Vec<Vec<f64>> {
    table.iter().map(|row| row.to_vec()).collect()
}

#[test]
fn kappa_and_its_standard_error_are_the_published_ones() {
    // The formulas of the paper written out in Python with numpy.
    let found = kappa_of(&rows(DIAGNOSES), GradeWeights::Same);
    assert_rel!(found.value.unwrap(), 0.4285714285714286, 1e-13);
    assert_rel!(found.se.unwrap(), 0.053711004869167356, 1e-13);
    assert_rel!(found.by_chance, 0.475, 1e-13);
    let weights = [[1.0, 0.0, 4.0 / 9.0], [0.0, 1.0, 2.0 / 3.0], [4.0 / 9.0, 2.0 / 3.0, 1.0]];
    let found = kappa_weighted(&rows(DIAGNOSES), &rows(weights));
    assert_rel!(found.value.unwrap(), 0.5070603337612322, 1e-13);
    assert_rel!(found.se.unwrap(), 0.05699415015197204, 1e-13);
    for (weights, value, se) in [
        (GradeWeights::Linear, 0.4923076923076926, 0.05071860760768721),
        (GradeWeights::Squared, 0.566666666666667, 0.05566634015823021),
    ] {
        let found = kappa_of(&rows(DIAGNOSES), weights);
        assert_rel!(found.value.unwrap(), value, 1e-13);
        assert_rel!(found.se.unwrap(), se, 1e-13);
    }
}

fn two(table: [[u64; 2]; 2]) -> Vec<Vec<u64>> {
    table.iter().map(|row| row.to_vec()).collect()
}

#[test]
fn high_agreement_with_low_kappa_is_explained() {
    // Feinstein and Cicchetti 1990 (tables from memory): both agree on 85 of 100, kappa 0.70 and 0.32.
    let options = AgreementOptions::default();
    let even = agreement(&[two([[40, 9], [6, 45]])], &options).unwrap();
    let uneven = agreement(&[two([[80, 10], [5, 5]])], &options).unwrap();
    assert_rel!(even.numbers.value, 0.85, 1e-15);
    assert_rel!(even.numbers.kappa.unwrap(), 0.699519230769231, 1e-13);
    assert_rel!(uneven.numbers.kappa.unwrap(), 0.3181818181818182, 1e-13);
    let codes = |notes: &[rootling::Note]| notes.iter().map(|note| note.code.clone()).collect::<Vec<_>>();
    assert_eq!(codes(&even.notes), ["no_tray_information"]);
    assert_eq!(codes(&uneven.notes), ["no_tray_information", "kappa_says_little"]);
    assert_eq!(
        uneven.notes[1].text,
        "Kappa is only 0.318 although the readers agree on 85.0 % of plants: both answer \"yes\" for most, so they would agree on 78.0 % by chance and little room is left for more. Read the agreement on each answer instead (91.4 % on \"yes\", 40.0 % on \"no\")."
    );
    // Positive and negative agreement: 2 x 80 / (2 x 80 + 15) and 2 x 5 / (2 x 5 + 15).
    assert_rel!(uneven.numbers.answers[0].agreed.unwrap(), 160.0 / 175.0, 1e-15);
    assert_rel!(uneven.numbers.answers[1].agreed.unwrap(), 10.0 / 25.0, 1e-15);
    assert_eq!(
        uneven.sentence,
        "Two readers agree on 85.0 of 100 plants (76.7 to 90.7); by chance alone it would be 78.0."
    );
}

#[test]
fn trays_are_left_out_one_by_one() {
    // Leaving out each of four tables in Python with numpy.
    let trays = [[[9, 1], [0, 10]], [[7, 3], [2, 8]], [[10, 0], [1, 9]], [[6, 2], [3, 9]]].map(two);
    let found = agreement(&trays, &AgreementOptions::default()).unwrap().numbers;
    assert_eq!((found.n_units, found.n_plants, found.df), (Some(4), 80, Some(3.0)));
    assert_rel!(found.kappa.unwrap(), 0.6992481203007521, 1e-13);
    assert_rel!(found.kappa_se.unwrap(), 0.11666899787633993, 1e-12);
    // t(0.975, 3) = 3.182446305284263 (scipy 1.x); the upper limit is held at 1.
    assert_rel!(found.kappa_low.unwrap(), 0.6992481203007521 - 3.182446305284263 * 0.11666899787633993, 1e-11);
    assert_eq!(found.kappa_high, Some(1.0));
    let bias = &found.answers[0];
    assert_eq!(bias.difference, 0.0);
    assert_rel!(bias.high.unwrap(), 3.182446305284263 * 0.028867513459481287, 1e-11);
    // One tray more or less alike moves nothing where all trays are the same.
    let alike = vec![two([[9, 1], [2, 8]]); 5];
    let found = agreement(&alike, &AgreementOptions::default()).unwrap();
    assert_eq!((found.numbers.kappa_se, found.numbers.kappa_low), (None, None));
    assert!(found.notes.iter().any(|note| note.code == "no_limits_of_kappa"));
}

#[test]
fn a_reader_who_says_more_is_named() {
    let options =
        AgreementOptions { answers: vec!["rooted".to_owned(), "not rooted".to_owned()], ..AgreementOptions::default() };
    let found = agreement(&[two([[40, 1], [18, 41]])], &options).unwrap();
    assert_eq!(
        found.sentence,
        "Two readers agree on 81.0 of 100 plants (72.2 to 87.5); the second calls 17.0 more per 100 \"rooted\"."
    );
    assert!(found.methods.contains("Tango"));
}

#[test]
fn one_and_the_same_answer_has_no_kappa() {
    let found = agreement(&[two([[20, 0], [0, 0]])], &AgreementOptions::default()).unwrap();
    assert_eq!((found.numbers.kappa, found.numbers.value), (None, 1.0));
    assert_eq!(found.numbers.answers[1].agreed, None);
    assert!(found.details.last().unwrap().contains("not defined"));
    let full = agreement(&[two([[12, 0], [0, 8]])], &AgreementOptions::default()).unwrap().numbers;
    assert_eq!((full.kappa, full.kappa_low), (Some(1.0), None));
}
