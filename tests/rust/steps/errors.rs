//! Every error of this room with its words.

use rootling::error::StepsError;
use rootling::steps::{AgreementOptions, Kept, SignCounts, SignOptions, agreement, early_sign, yield_change};

use crate::errors::check;

#[test]
fn words() {
    let named = |name: &str| name.to_owned();
    check(
        "src/error/steps.rs",
        &[
            (
                StepsError::NoSteps,
                "no step is given; give each step of the chain with its take, for example {\"graft\": 0.8, \"rooted\": 0.6}",
            ),
            (
                StepsError::OneStep,
                "a chain needs a column of what was started and one of each step; write steps=[\"grafted\", \"taken\", \"rooted\"]",
            ),
            (
                StepsError::PlantsOfNoBatch,
                "where each row is a plant, batch= names its batch and left= says who left alive, not taken_away=; write last_step=\"last\", batch=\"batch\", left=\"left\"",
            ),
            (
                StepsError::StepTwice { step: named("graft") },
                "step \"graft\" stands twice in the chain; give each step a name of its own",
            ),
            (
                StepsError::UnlikeSteps { first: named("graft"), second: named("graft, rooted") },
                "the two have different steps (graft and graft, rooted); give both the same steps",
            ),
            (
                StepsError::TakeOutOfRange { step: named("graft"), take: 80.0 },
                "the take 80 of step \"graft\" is not between 0 and 1; give it as a proportion, for example 0.8",
            ),
            (
                StepsError::RisesAlongChain { batch: 2, step: 3, into: 10, out: 11 },
                "batch 2, step 3: 11 passed of 10 that reached it; counts never rise along the chain, so correct one of the two",
            ),
            (
                StepsError::NothingReached { step: 2 },
                "no plant reached step 2, so it has no take; leave it and those behind it out of steps=, or wait until batches are old enough",
            ),
            (
                StepsError::NothingLeftFor { step: "rooted".to_owned() },
                "no plant was left for \"rooted\", so it has no take; leave it and the steps behind it out of steps=, or wait until batches are old enough",
            ),
            (
                StepsError::OneBatchCounted { step: "rooted".to_owned() },
                "\"rooted\" was counted in one batch only, so nothing tells how batches differ there; leave it and the steps behind it out of steps=, or wait for more batches",
            ),
            (
                StepsError::OneBatchAtStep { step: 3 },
                "step 3 was counted in one batch only, so nothing tells how batches differ there; leave it and those behind it out of steps=, or wait for more batches",
            ),
            (
                StepsError::UnevenChain { batch: 2, found: 1, expected: 3 },
                "batch 2 has another number of steps (1) than the first (3); give every batch the same steps, empty where one was not counted",
            ),
            (
                StepsError::TooFewBatches { batches: 1 },
                "1 of the batches can be used; at least 2 are needed to see how batches differ: add batches, or ask whose=\"current-rates\" where some are too young",
            ),
            (
                StepsError::TooFewLeft { batches: 1, set_aside: 2 },
                "1 of the batches can be used, and 2 rows were set aside; at least 2 are needed to see how batches differ: look at .set_aside, correct these rows, or add batches",
            ),
            (
                StepsError::TooManyDraws { draws: 2_000_000, most: 1_000_000 },
                "draws=2000000 is above 1000000; 999 tell how often a step costs most",
            ),
            (
                StepsError::NothingAtTheEnd,
                "no plant of the batches followed to the end reached it, so no number of starts can be given; wait for batches that do, or load the chain up to the last step that plants passed",
            ),
            (
                StepsError::OneLevel { column: named("season"), level: named("2025") },
                "column \"season\" has the one level \"2025\" among batches that can be used, so there is nothing to compare; name another column",
            ),
            (
                StepsError::NoLevels,
                "no column of levels was named when loading; write season=\"season\", room=, grafter=, rootstock= or levels=[\"bench\"]",
            ),
            (
                StepsError::TooFewOfLevel { level: named("2025"), batches: 1 },
                "\"2025\" has too few batches that can be used (1); at least 2 of each level are needed to see how batches differ",
            ),
            (
                StepsError::LevelNotFollowed { column: named("room"), level: named("A") },
                "fewer than two batches have plants at \"room\" level \"A\" up to the last step, so it cannot be followed to the end; compare levels at which plants stayed, or load the chain without its last steps",
            ),
            (
                StepsError::StepNotCounted { step: named("saleable") },
                "no batch was counted at \"saleable\" yet; leave it out of steps= until there are counts",
            ),
            (
                StepsError::NotSquare { tray: 1, grades: 2 },
                "the table of tray 1 is not 2 x 2; give a row for each answer of the first reader and a column for each of the second",
            ),
            (
                StepsError::OneAnswer,
                "one answer only leaves readers nothing to differ in; give a table of at least 2 x 2, for example [[40, 9], [6, 45]]",
            ),
            (
                StepsError::AnswerNames { names: 1, grades: 2 },
                "1 names are given for 2 answers; give each answer one name of its own",
            ),
            (StepsError::NothingRead, "no plant was read, so nothing can be said; enter the plants that were read"),
            (
                StepsError::SideNotRead { side: "without" },
                "no plant without the sign was read to its end, so what the sign tells cannot be worked out; keep some of them, chosen irrespective of outlook",
            ),
            (
                StepsError::NoSuchStart { name: "take", value: 1.0, wanted: "above 0 and below 1" },
                "take 1 is not above 0 and below 1; correct it",
            ),
            (
                StepsError::NeitherCountsNorPlants,
                "visits are one row per tray and visit (tray=, day=, started=, rooted=) or one row per plant (last_without=, day=, became=); name the columns of one of the two",
            ),
            (
                StepsError::OneLevelOverTime { treatment: named("dip") },
                "treatment \"dip\" has one level only, so there is nothing to compare; name another treatment",
            ),
            (StepsError::LevelAgainstItself { level: named("no") }, "level \"no\" is named twice; name two levels"),
            (StepsError::HalfAPair, "one level of a pair is named; name both, or none for all levels against one"),
            (
                StepsError::NowhereTogether { first: named("no"), second: named("yes") },
                "\"no\" and \"yes\" never stand in one block with the same levels of other treatments, so they cannot be compared; compare others, or load without these columns",
            ),
            (
                StepsError::NothingHappened { event: "rooted", first: named("no"), second: named("yes") },
                "no plant of \"no\" or \"yes\" was seen rooted, so there is no time to compare; wait for later visits, compare others, or ask event=\"dead\"",
            ),
            (
                StepsError::NeverSeenAgain { level: named("no") },
                "no plant of \"no\" was seen again at a visit after setting, so nothing can be told of it; visit its trays, or name two levels that were visited",
            ),
            (
                StepsError::NoSuchVisit { day: 30, days: named("14, 28") },
                "day=30 is no day on which both levels were visited; these are 14, 28",
            ),
        ],
    );
}

#[test]
fn questions_that_cannot_be_asked() {
    let chain = |takes: &[(&str, f64)]| -> Vec<(String, f64)> {
        takes.iter().map(|(step, take)| ((*step).to_owned(), *take)).collect()
    };
    let graft = chain(&[("graft", 0.8)]);
    for (before, after) in [
        (chain(&[]), graft.clone()),
        (graft.clone(), chain(&[("graft", 80.0)])),
        (graft.clone(), chain(&[("graft", f64::NAN)])),
        (chain(&[("graft", 0.8), ("graft", 0.7)]), graft.clone()),
        (graft.clone(), chain(&[("graft", 0.8), ("rooted", 0.7)])),
        (graft.clone(), chain(&[("rooted", 0.7)])),
    ] {
        assert!(yield_change(&before, &after).is_err(), "{before:?} {after:?}");
    }
    let options = AgreementOptions::default();
    let tables: [Vec<Vec<Vec<u64>>>; 6] = [
        vec![],
        vec![vec![vec![3]]],
        vec![vec![vec![3, 1], vec![2]]],
        vec![vec![vec![3, 1], vec![2, 4]], vec![vec![1; 3]; 3]],
        vec![vec![vec![0, 0], vec![0, 0]]],
        vec![vec![vec![u64::MAX, 1], vec![2, 4]]],
    ];
    for table in &tables {
        assert!(agreement(table, &options).is_err(), "{table:?}");
    }
    let sound = [vec![vec![3, 1], vec![2, 4]]];
    let same = AgreementOptions { answers: vec!["yes".to_owned(); 2], ..AgreementOptions::default() };
    assert!(agreement(&sound, &same).is_err());
    assert!(agreement(&sound, &AgreementOptions { confidence: 1.0, ..AgreementOptions::default() }).is_err());
    let lot = SignOptions { kept: Kept::Irrespective, ..SignOptions::default() };
    assert!(early_sign(&[], &lot).is_err());
    let unread = SignCounts { with_rooted: 5, with_failed: 2, without_unread: 9, ..SignCounts::default() };
    assert!(early_sign(&[unread], &lot).is_err());
    assert!(early_sign(&[unread], &SignOptions::default()).is_ok());
    let vast = SignCounts { with_rooted: u64::MAX, ..unread };
    assert!(early_sign(&[vast], &SignOptions::default()).is_err());
}
