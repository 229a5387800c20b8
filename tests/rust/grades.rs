//! Grades in trays: two grades as the model of a share, what nobody holds, ends that a level holds alone, and the words.

use std::sync::Arc;

use rootling::Error;
use rootling::control::Control;
use rootling::error::GradeError;
use rootling::models::ModelSpec;
use rootling::prelude::*;
use rootling::responses::grade::{GradeOptions, Grades};
use rootling::trial::{GradesOf, Outcome, Response, Trial};

use crate::errors::check;

/// Trays: strength, bench, grades one letter each.
type Trays<'a> = &'a [(&'a str, &'a str, &'a str)];

const TRAYS: Trays<'_> = &[
    ("2500", "A", "00112023140015320124"),
    ("5000", "A", "02334152443501342534"),
    ("2500", "B", "00021030112204130021"),
    ("5000", "B", "13024354431225410333"),
    ("2500", "C", "0213042511003214020"),
    ("5000", "C", "5443215344230155344"),
    ("2500", "D", "01002311204100312"),
    ("5000", "D", "0142335044312"),
];

fn trial_of(trays: Trays<'_>, highest: i64) -> Trial {
    let mut csv = "strength,bench,tray,rooted,grade\n".to_owned();
    for (at, (strength, bench, grades)) in trays.iter().enumerate() {
        for grade in grades.chars() {
            csv += &format!("{strength},{bench},T{at},{},{grade}\n", u8::from(grade > '0'));
        }
    }
    let options = LoadOptions {
        rooted: "rooted".into(),
        tray: Some("tray".into()),
        block: Some("bench".into()),
        treatments: vec!["strength".into()],
        responses: vec![Response::grade("grade", 0, highest)],
        ..LoadOptions::default()
    };
    read_csv(csv.as_bytes(), &options).unwrap()
}

fn asked(at_least: i64) -> GradeOptions {
    GradeOptions { response: "grade".into(), at_least, ..GradeOptions::default() }
}

fn grades(trial: &Trial, options: &GradeOptions) -> rootling::Answer<Grades> {
    trial.grades("strength", options, &Control::new()).unwrap()
}

#[test]
fn errors_have_their_words() {
    check(
        "src/error/grade.rs",
        &[
            (
                GradeError::NotGrades { response: "roots".into() },
                "\"roots\" holds no grades; declare it with rl.responses.grade(lowest, highest) when loading, or ask a response that does",
            ),
            (
                GradeError::OutOfScale { at_least: 7, lowest: 0, highest: 5 },
                "at_least=7 divides no grades of the scale 0 to 5; give a grade from 1 to 5",
            ),
            (
                GradeError::NothingGraded { response: "grade".into() },
                "\"grade\" holds no grade of any cutting; enter grades, or ask for the take",
            ),
            (
                GradeError::RootedUnknown { unit: "tray T1".into(), graded: 20, rooted: 12 },
                "in tray T1 20 cuttings hold a grade, 12 rooted, and too few of them hold the lowest: which grades are of rooted cuttings is not known; ask with grades_of=\"stuck\"",
            ),
            (
                GradeError::OneLevel { treatment: "strength".into() },
                "\"strength\" has one level with graded cuttings, so there is nothing to set it against; ask for another treatment",
            ),
        ],
    );
}

#[test]
fn a_grade_outside_the_scale_is_refused() {
    let trial = trial_of(TRAYS, 5);
    for at_least in [0, 6, -1] {
        let found = trial.reaching("grade", at_least, GradesOf::Stuck).unwrap_err();
        assert_eq!(found, Error::Grade(GradeError::OutOfScale { at_least, lowest: 0, highest: 5 }));
    }
    assert!(trial.reaching("roots", 3, GradesOf::Stuck).is_err());
}

#[test]
fn two_grades_are_the_model_of_the_share() {
    // Three and better against below, as a scale of two grades.
    let two: Vec<(&str, &str, String)> = TRAYS
        .iter()
        .map(|(strength, bench, grades)| {
            (*strength, *bench, grades.chars().map(|one| if one >= '3' { '1' } else { '0' }).collect())
        })
        .collect();
    let borrowed: Vec<(&str, &str, &str)> = two.iter().map(|(a, b, c)| (*a, *b, c.as_str())).collect();
    let trial = trial_of(&borrowed, 1);
    let all = grades(&trial, &asked(1)).numbers.all_grades.unwrap();
    let share = trial_of(TRAYS, 5).reaching("grade", 3, GradesOf::Stuck).unwrap();
    let spec = ModelSpec { outcome: Outcome::GradeReached, ..ModelSpec::of(&["strength"]) };
    let model = share.model(&spec, &Arc::new(Control::new())).unwrap();
    let effect = &model.what_matters(None).unwrap().numbers.effects[0];
    assert_rel!(all.test.statistic, effect.statistic.unwrap(), 1e-8);
    assert_rel!(all.test.p, effect.p.unwrap(), 1e-8);
    assert_eq!(all.test.error_df, effect.error_df);
    let odds = model.odds_ratios(0.95).unwrap().numbers.ratios;
    let odds = odds.iter().find(|one| one.comparison.starts_with("strength")).unwrap();
    let ratio = all.odds[0].ratio;
    assert_rel!(ratio.value.unwrap(), odds.odds_ratio, 1e-7);
    assert_rel!(ratio.low.unwrap(), odds.low.unwrap(), 1e-6);
    assert_rel!(ratio.high.unwrap(), odds.high.unwrap(), 1e-6);
    // At one grade alone there is nothing else.
    assert_rel!(all.odds[0].by_grade[0].ratio.value.unwrap(), ratio.value.unwrap(), 1e-9);
    assert!(all.one_slope.is_none());
    // The grade cut at 3 within the scale of six is the same share.
    let six = grades(&trial_of(TRAYS, 5), &asked(3)).numbers.all_grades.unwrap();
    assert_rel!(six.odds[0].by_grade[2].ratio.value.unwrap(), ratio.value.unwrap(), 1e-9);
}

#[test]
fn shares_lead_and_all_grades_follow() {
    let found = grades(&trial_of(TRAYS, 5), &asked(3));
    let numbers = &found.numbers;
    assert_eq!(numbers.levels.len(), 2);
    assert_eq!(numbers.levels[0].counts.iter().sum::<u64>(), numbers.levels[0].n_cuttings);
    assert_eq!(numbers.levels[0].median, Some(1));
    let share = trial_of(TRAYS, 5).reaching("grade", 3, GradesOf::Stuck).unwrap();
    let options = CompareOptions { outcome: Outcome::GradeReached, ..CompareOptions::default() };
    let compared = share.compare("strength", ("2500", "5000"), &options, &Control::new()).unwrap();
    assert_eq!(found.sentence, compared.sentence);
    assert!(found.sentence.contains("grade 3 or better"), "{}", found.sentence);
    assert!(!found.sentence.contains("trees") && found.sentence.split_whitespace().count() <= 30, "{}", found.sentence);
    assert!(found.details[0].starts_with("All grades at once: the odds of a better grade"), "{:?}", found.details);
    let all = numbers.all_grades.as_ref().unwrap();
    assert_eq!((all.within.clone(), all.n_units), (vec!["bench".to_owned()], 8));
    assert!(all.joined.is_empty() && !all.steadied);
    let (low, high) = (all.odds[0].ratio.low.unwrap(), all.odds[0].ratio.high.unwrap());
    let value = all.odds[0].ratio.value.unwrap();
    assert!(low < value && value < high);
    // The limits leave out 1 exactly where P is below 5 %.
    assert_eq!(all.odds[0].ratio.p < 0.05, low > 1.0 || high < 1.0);
    assert_rel!(all.odds[0].ratio.p, all.test.p, 1e-9);
}

#[test]
fn levels_turned_about_turn_the_ratio() {
    let trial = trial_of(TRAYS, 5);
    let plain = grades(&trial, &asked(3)).numbers.all_grades.unwrap();
    let turned = GradeOptions { against: Some("5000".into()), ..asked(3) };
    let turned = grades(&trial, &turned).numbers.all_grades.unwrap();
    let (one, other) = (plain.odds[0].ratio, turned.odds[0].ratio);
    assert_rel!(one.value.unwrap() * other.value.unwrap(), 1.0, 1e-8);
    assert_rel!(one.low.unwrap() * other.high.unwrap(), 1.0, 1e-6);
    assert_rel!(one.p, other.p, 1e-8);
}

#[test]
fn grades_nobody_holds_are_joined_and_said() {
    let trays: Trays<'_> = &[
        ("2500", "A", "00220002205522"),
        ("5000", "A", "22552250255522"),
        ("2500", "B", "02000225022000"),
        ("5000", "B", "52252052552250"),
        ("2500", "C", "00202000252200"),
        ("5000", "C", "25502525552222"),
    ];
    let found = grades(&trial_of(trays, 5), &asked(3));
    let all = found.numbers.all_grades.as_ref().unwrap();
    assert_eq!(all.joined, [1, 3, 4]);
    assert_eq!(all.odds[0].by_grade.iter().map(|one| one.at_least).collect::<Vec<_>>(), [2, 5]);
    assert!(found.details.iter().any(|line| line.contains("holds grades 1, 3 and 4")), "{:?}", found.details);
}

#[test]
fn one_grade_is_a_sentence() {
    let trays: Trays<'_> =
        &[("2500", "A", "3333333"), ("5000", "A", "3333333"), ("2500", "B", "33333"), ("5000", "B", "333333")];
    let found = grades(&trial_of(trays, 5), &asked(3));
    assert!(found.numbers.all_grades.is_none());
    assert!(found.numbers.withheld.as_ref().is_some_and(|why| why.contains("the same grade")));
    assert!(found.sentence.contains("grade 3 or better"), "{}", found.sentence);
}

#[test]
fn a_level_all_at_the_top_has_a_bound() {
    let trays: Trays<'_> = &[
        ("2500", "A", "00112023140015320124"),
        ("5000", "A", "55555555555555555555"),
        ("2500", "B", "00021030112204130021"),
        ("5000", "B", "55555555555555555555"),
        ("2500", "C", "0213042511003214020"),
        ("5000", "C", "5555555555555555555"),
    ];
    let found = grades(&trial_of(trays, 5), &asked(3));
    let all = found.numbers.all_grades.as_ref().unwrap();
    let ratio = all.odds[0].ratio;
    assert!(all.steadied && ratio.value.is_none() && ratio.high.is_none(), "{ratio:?}");
    assert!(ratio.low.is_some_and(|low| low > 2.0) && ratio.p < 0.05, "{ratio:?}");
    assert!(found.notes.iter().any(|note| note.code == "separation"));
    assert!(found.details[0].contains("at least"), "{:?}", found.details);
}

#[test]
fn grades_of_rooted_cuttings_leave_the_others_out() {
    let trial = trial_of(TRAYS, 5);
    let all = trial.grade_counts("grade", GradesOf::Stuck).unwrap();
    let rooted = trial.grade_counts("grade", GradesOf::Rooted).unwrap();
    let number = |counts: &[Vec<u64>]| counts.iter().flatten().sum::<u64>();
    assert_eq!(number(&all.counts), trial.units().stuck.iter().sum::<u64>());
    assert_eq!(number(&rooted.counts), trial.units().rooted.iter().sum::<u64>());
    let options = GradeOptions { of: GradesOf::Rooted, ..asked(3) };
    let found = grades(&trial, &options);
    assert!(found.details.iter().any(|line| line.contains("rooted cuttings alone")));
}

#[test]
fn answers_of_a_share_name_their_grade() {
    let share = trial_of(TRAYS, 5).reaching("grade", 3, GradesOf::Stuck).unwrap();
    let spec = ModelSpec { outcome: Outcome::GradeReached, ..ModelSpec::of(&["strength"]) };
    let model = share.model(&spec, &Arc::new(Control::new())).unwrap();
    let matters = model.what_matters(None).unwrap();
    let asked =
        |name: &str| matters.made_with.options.iter().find(|(one, _)| one == name).map(|(_, value)| value.clone());
    assert_eq!((asked("response").as_deref(), asked("at_least").as_deref()), (Some("grade"), Some("3")));
    let texts = [&matters.sentence, &matters.methods];
    for text in texts.into_iter().chain(&matters.details) {
        assert!(!text.contains("the grade or") && !text.contains("trees"), "{text}");
    }
    // What deaths and grades share is asked one at a time.
    assert!(trial_of(TRAYS, 5).units_of(Outcome::GradeReached).is_err());
}
