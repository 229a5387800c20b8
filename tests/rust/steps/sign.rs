//! Early signs: published rates, culled plants, bounds.

use rootling::steps::{EarlySign, Kept, SignCounts, SignMeasure, SignOptions, SignPoints, SignQuestion, early_sign};

fn counts([a, b, c, d]: [u64; 4], unread: [u64; 2]) -> SignCounts {
    SignCounts {
        with_rooted: a,
        with_failed: b,
        without_rooted: c,
        without_failed: d,
        with_unread: unread[0],
        without_unread: unread[1],
    }
}

fn asked(kept: Kept) -> SignOptions {
    SignOptions { sign: "tint".to_owned(), kept, ..SignOptions::default() }
}

fn of(found: &EarlySign, question: SignQuestion) -> SignMeasure {
    *found.measures.iter().find(|one| one.question == question).unwrap()
}

#[test]
fn the_liver_scan_of_altman_and_bland() {
    // Altman and Bland 1994, British Medical Journal 308:1552: 231 of 258 and 54 of 86. Wilson limits and Koopman's score limits of the
    // ratios by scipy (brentq on the score statistic).
    let found = early_sign(&[counts([231, 32, 27, 54], [0, 0])], &asked(Kept::Chosen)).unwrap().numbers;
    let wanted = [
        (SignQuestion::Sensitivity, 231.0 / 258.0, 0.8520214062328004, 0.9270759946096565),
        (SignQuestion::Specificity, 54.0 / 86.0, 0.5223383164148251, 0.7225374935818455),
        (SignQuestion::RootedOfWith, 231.0 / 263.0, 0.8332807314898486, 0.9124804440016979),
        (SignQuestion::FailedOfWithout, 54.0 / 81.0, 0.5585283506058687, 0.7597122875833262),
        (SignQuestion::LikelihoodRatioWith, 2.40625, 1.8667223013545713, 3.2355347112901693),
        (SignQuestion::LikelihoodRatioWithout, 1.0 / 6.0, 0.11259596615050385, 0.24570010068914336),
    ];
    for (question, value, low, high) in wanted {
        let one = of(&found, question);
        assert_rel!(one.value.unwrap(), value, 1e-13);
        assert_rel!(one.low.unwrap(), low, 1e-9, "{question:?}");
        assert_rel!(one.high.unwrap(), high, 1e-9, "{question:?}");
        assert_eq!(one.as_read, one.value);
    }
    assert_rel!(found.freed, 81.0 / 344.0, 1e-14);
    assert_rel!(found.lost.unwrap(), 27.0 / 344.0, 1e-13);
    assert_eq!((found.kept, found.bounds), (None, false));
}

#[test]
fn plants_culled_irrespective_of_outlook_are_given_back() {
    // 96 of 104 and 72 of 96; 60 of the 80 without the tint culled unseen leave 96 of 98 and 18 of 42.
    let culled = [counts([96, 24, 2, 18], [0, 60])];
    let answer = early_sign(&culled, &asked(Kept::Irrespective)).unwrap();
    let found = &answer.numbers;
    let sensitivity = of(found, SignQuestion::Sensitivity);
    let specificity = of(found, SignQuestion::Specificity);
    assert_rel!(sensitivity.as_read.unwrap(), 96.0 / 98.0, 1e-14);
    assert_rel!(specificity.as_read.unwrap(), 18.0 / 42.0, 1e-14);
    assert_rel!(sensitivity.value.unwrap(), 96.0 / 104.0, 1e-13);
    assert_rel!(specificity.value.unwrap(), 0.75, 1e-13);
    // Begg and Greenes 1983: limits of the logit, the formula written out in Python.
    assert_rel!(sensitivity.low.unwrap(), 0.7571394897290172, 1e-10);
    assert_rel!(sensitivity.high.unwrap(), 0.978808856467838, 1e-10);
    assert_rel!(specificity.low.unwrap(), 0.6501352421480919, 1e-10);
    assert_rel!(specificity.high.unwrap(), 0.8288630522169526, 1e-10);
    // Likelihood ratios by the delta method on shares with the sign, rooted with it and rooted without it; slopes by differences, in Python.
    let ratios = [
        (SignQuestion::LikelihoodRatioWith, 2.4861902754344753, 5.483544935953101),
        (SignQuestion::LikelihoodRatioWithout, 0.02862422964529312, 0.3674996765025441),
    ];
    for (question, low, high) in ratios {
        assert_rel!(of(found, question).low.unwrap(), low, 1e-8);
        assert_rel!(of(found, question).high.unwrap(), high, 1e-8);
    }
    assert!(answer.notes.iter().all(|note| note.code != "no_limits_of_sign"));
    assert_rel!(found.lost.unwrap(), 0.04, 1e-13);
    assert!(
        answer.sentence.starts_with("Culling plants without the tint frees 40.0 of 100 places and loses 4.0 trees")
    );
    assert!(answer.notes.iter().any(|note| note.code == "unread_like_read"));
}

#[test]
fn plants_culled_by_outlook_leave_bounds() {
    let answer = early_sign(&[counts([96, 24, 2, 18], [0, 60])], &asked(Kept::Chosen)).unwrap();
    let found = &answer.numbers;
    let sensitivity = of(found, SignQuestion::Sensitivity);
    assert_eq!(sensitivity.value, None);
    // All or none of the 60 would have rooted.
    assert_rel!(sensitivity.low.unwrap(), 96.0 / 158.0, 1e-14);
    assert_rel!(sensitivity.high.unwrap(), 96.0 / 98.0, 1e-14);
    let specificity = of(found, SignQuestion::Specificity);
    assert_rel!(specificity.low.unwrap(), 18.0 / 42.0, 1e-14);
    assert_rel!(specificity.high.unwrap(), 78.0 / 102.0, 1e-14);
    assert!(found.bounds && found.lost.is_none());
    assert_eq!(
        answer.sentence,
        "Culling plants without the tint frees 40.0 of 100 places and loses between 1.0 and 31.0 trees; which, the plants culled unread leave open."
    );
    // Whatever the unread would have done, the answer lies within its bounds.
    for rooted in 0..=60 {
        let whole =
            early_sign(&[counts([96, 24, 2 + rooted, 78 - rooted], [0, 0])], &asked(Kept::Chosen)).unwrap().numbers;
        for (one, bound) in whole.measures.iter().zip(&found.measures) {
            let value = one.value.unwrap();
            assert!(bound.low.unwrap() <= value + 1e-12 && bound.high.is_none_or(|high| value <= high + 1e-12));
        }
    }
}

#[test]
fn trays_are_heeded() {
    let trays: Vec<SignCounts> =
        [([20, 6, 1, 4], [0, 10]), ([26, 5, 0, 6], [0, 15]), ([24, 8, 1, 3], [0, 17]), ([26, 5, 1, 5], [0, 18])]
            .map(|(read, unread)| counts(read, unread))
            .to_vec();
    let found = early_sign(&trays, &asked(Kept::Irrespective)).unwrap().numbers;
    // Leaving out each tray on the logit, t(0.975, 3), in Python.
    let sensitivity = of(&found, SignQuestion::Sensitivity);
    assert_rel!(sensitivity.value.unwrap(), 0.8924302788844621, 1e-13);
    assert_rel!(sensitivity.low.unwrap(), 0.7154546373222488, 1e-10);
    assert_rel!(sensitivity.high.unwrap(), 0.9647564401493965, 1e-10);
    assert!(of(&found, SignQuestion::LikelihoodRatioWith).low.is_some());
    // Trays that differ widen limits beyond those of the same plants without trays.
    let apart = [counts([30, 5, 2, 13], [0, 0]), counts([10, 5, 22, 13], [0, 0]), counts([25, 8, 7, 10], [0, 0])];
    let whole = counts([65, 18, 31, 36], [0, 0]);
    let (trays, none) = (
        early_sign(&apart, &asked(Kept::Chosen)).unwrap().numbers,
        early_sign(&[whole], &asked(Kept::Chosen)).unwrap().numbers,
    );
    let width = |found: &EarlySign| {
        let one = of(found, SignQuestion::Sensitivity);
        one.high.unwrap() - one.low.unwrap()
    };
    assert!(width(&trays) > 1.5 * width(&none));
    assert_eq!(trays.n_units, Some(3));
}

#[test]
fn ends_of_the_scale_are_ordinary() {
    // No plant without the sign rooted, and none with it failed.
    let found = early_sign(&[counts([20, 0, 0, 15], [0, 0])], &asked(Kept::Chosen)).unwrap().numbers;
    assert_eq!(of(&found, SignQuestion::Sensitivity).value, Some(1.0));
    let ratio = of(&found, SignQuestion::LikelihoodRatioWith);
    assert_eq!((ratio.value, ratio.high), (None, None));
    assert!(ratio.low.unwrap() > 3.0);
    assert_eq!(found.lost, Some(0.0));
    // All plants with the sign: nothing is freed and nothing lost.
    let all = early_sign(&[counts([20, 5, 0, 0], [0, 0])], &asked(Kept::Chosen)).unwrap().numbers;
    assert_eq!((all.freed, all.lost), (0.0, Some(0.0)));
}

#[test]
fn what_culling_saves_and_loses_in_money() {
    // Altman and Bland 1994: 81 of 344 without the sign, 27 of these rooted.
    let liver = SignCounts {
        with_rooted: 231,
        with_failed: 32,
        without_rooted: 27,
        without_failed: 54,
        ..SignCounts::default()
    };
    let options = SignOptions { cost: Some(2.0), worth: Some(9.0), ..SignOptions::default() };
    let found = early_sign(&[liver], &options).unwrap();
    let numbers = &found.numbers;
    assert_rel!(numbers.saved.unwrap(), 2.0 * 81.0 / 344.0, 1e-12);
    assert_rel!(numbers.forgone.unwrap(), 9.0 * 27.0 / 344.0, 1e-12);
    assert_rel!(numbers.gained.unwrap(), (2.0 * 81.0 - 9.0 * 27.0) / 344.0, 1e-12);
    assert_rel!(numbers.gained_low.unwrap(), numbers.saved.unwrap() - 9.0 * numbers.lost_high.unwrap(), 1e-12);
    assert!(found.details.iter().any(|line| line.ends_with("so do not cull on it.")), "{:?}", found.details);
    assert!(early_sign(&[liver], &SignOptions { cost: Some(-1.0), ..SignOptions::default() }).is_err());
    assert_eq!(early_sign(&[liver], &SignOptions::default()).unwrap().numbers.gained, None);
}

fn priced(trays: &[SignCounts], kept: Kept) -> (String, EarlySign, Vec<String>) {
    let options = SignOptions { cost: Some(0.4), worth: Some(3.0), ..asked(kept) };
    let answer = early_sign(trays, &options).unwrap();
    assert!(answer.sentence.split_whitespace().count() <= 30, "{}", answer.sentence);
    (answer.sentence, answer.numbers, answer.details)
}

#[test]
fn a_sign_that_points_the_other_way_is_said_to() {
    let (sentence, found, details) = priced(&[counts([10, 90, 80, 20], [0, 0])], Kept::Chosen);
    assert_eq!(
        sentence,
        "The tint points the other way: 10.0 % of plants with it root, 80.0 % of those without; do not cull plants for lacking it."
    );
    assert_eq!(found.points, SignPoints::AgainstRooting);
    // Newcombe's limits of the difference from Wilson's of 10 and 80 of 100, in Python.
    assert_rel!(found.more_rooted.unwrap(), -0.7, 1e-12);
    assert_rel!(found.more_rooted_low.unwrap(), -0.7802769938528026, 1e-9);
    assert_rel!(found.more_rooted_high.unwrap(), -0.5841515115720529, 1e-9);
    assert!(details.iter().any(|line| line.contains("with the two sides exchanged")), "{details:?}");
    assert!(!details.iter().any(|line| line.contains("culling pays")), "{details:?}");
    // Whatever became of plants that were not read.
    let (sentence, found, _) = priced(&[counts([10, 90, 80, 20], [0, 10])], Kept::Chosen);
    assert!(sentence.starts_with("The tint points the other way"), "{sentence}");
    assert_rel!(found.more_rooted_low.unwrap(), 0.1 - 90.0 / 110.0, 1e-12);
    assert_rel!(found.more_rooted_high.unwrap(), 0.1 - 80.0 / 110.0, 1e-12);
}

#[test]
fn what_tells_nothing_is_nothing_to_cull_on() {
    let (sentence, found, details) = priced(&[counts([50, 50, 48, 52], [0, 0])], Kept::Chosen);
    assert!(sentence.starts_with("The tint is not shown to tell rooting, so do not cull on it: "), "{sentence}");
    assert!(sentence.contains(" fewer to ") && sentence.contains(" more of 100 remain possible"), "{sentence}");
    assert_eq!(found.points, SignPoints::NotShown);
    assert!(details.last().unwrap().contains("as culling any plants by lot would"), "{details:?}");
    for (table, start) in [([0, 0, 50, 50], "No plant has the tint"), ([50, 50, 0, 0], "All plants have the tint")] {
        let (sentence, found, _) = priced(&[counts(table, [0, 0])], Kept::Chosen);
        assert!(sentence.starts_with(start) && sentence.ends_with("do not cull on it."), "{sentence}");
        assert_eq!(found.points, SignPoints::Nowhere);
    }
    // All rooted, with the sign and without.
    let (sentence, found, _) = priced(&[counts([50, 0, 50, 0], [0, 0])], Kept::Chosen);
    assert_eq!(found.points, SignPoints::NotShown, "{sentence}");
}

#[test]
fn money_is_claimed_where_its_limits_allow() {
    // 10 of 100 without the sign root: culling saves 20 and loses 15 for 100 plants, with limits on both sides of 0.
    let (sentence, found, details) = priced(&[counts([80, 20, 10, 90], [0, 0])], Kept::Chosen);
    assert!(found.gained_low.unwrap() < 0.0 && found.gained_high.unwrap() > 0.0);
    assert!(sentence.starts_with("Not settled whether culling on the tint pays: it frees 50.0"), "{sentence}");
    assert!(sentence.contains("; from a cost of ") && !sentence.contains("gains"), "{sentence}");
    assert!(details.last().unwrap().ends_with("so it is not settled whether culling pays."), "{details:?}");
    // 2 of 300: it pays; 90 of 300: it costs.
    let (sentence, _, details) = priced(&[counts([240, 60, 2, 298], [0, 0])], Kept::Chosen);
    assert!(
        sentence.starts_with("Cull plants without the tint: that frees 50.0 of 100 places, loses 0.3 trees"),
        "{sentence}"
    );
    assert!(
        sentence.contains(" and gains 19 (") && details.last().unwrap().ends_with("so culling pays."),
        "{sentence}"
    );
    let (sentence, _, details) = priced(&[counts([240, 60, 90, 210], [0, 0])], Kept::Chosen);
    assert!(sentence.starts_with("Do not cull on the tint: that frees"), "{sentence}");
    assert!(
        sentence.contains(" and costs 25 (") && details.last().unwrap().ends_with("so do not cull on it."),
        "{sentence}"
    );
    // Culled unread: what it pays is as open as what they were.
    let (sentence, _, details) = priced(&[counts([80, 20, 3, 27], [0, 70])], Kept::Chosen);
    assert!(sentence.starts_with("Not settled whether culling"), "{sentence}");
    assert!(details.last().unwrap().contains("whatever became of those not read, so it is not settled"), "{details:?}");
}
