//! Where deaths begin to rise, limits over shapes, and the strengths to test next.

use approx::abs_diff_eq;
use rootling::control::Control;
use rootling::curves::{
    Criterion, CurveInput, CurveOptions, DamageOptions, DamageThreshold, NextOptions, Shape, ShapeChoice,
    StrengthCurve, damage_threshold, next_strengths, strength_curve_of, strengths_for,
};
use rootling::math::distributions::{chi_squared, normal};
use rootling::math::regression::Link;
use rootling::trial::{LoadOptions, Trial, read_csv};
use rootling::{Answer, Error};

use crate::curves::{input, rows};
use crate::support::number;

fn loaded(text: &str, tray: bool) -> Trial {
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        dead: Some("dead".into()),
        treatments: vec!["strength".into()],
        tray: tray.then(|| "tray".into()),
        ..LoadOptions::default()
    };
    read_csv(text.as_bytes(), &options).unwrap()
}

fn damage(trial: &Trial, rise: f64) -> Result<Answer<DamageThreshold>, Error> {
    let options = DamageOptions { rise, ..DamageOptions::default() };
    damage_threshold(trial.units(), trial.dead().unwrap(), None, &options, &Control::new())
}

const STRENGTHS: [f64; 6] = [0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0];

// tests/reference/make/damage.py: scipy 1.17.1, shapes written with the threshold as a parameter, simplex searches from grids.
#[test]
fn thresholds_agree_with_an_independent_optimiser() {
    let all: serde_json::Value = serde_json::from_str(include_str!("../reference/values/damage.json")).unwrap();
    for set in all["sets"].as_array().unwrap() {
        let dead: Vec<u64> = set["dead"].as_array().unwrap().iter().map(|count| number(count) as u64).collect();
        let mut text = "strength,rooted,dead,stuck\n".to_owned();
        for (strength, dead) in STRENGTHS.iter().zip(&dead) {
            text.push_str(&format!("{strength},20,{dead},80\n"));
        }
        let found = damage(&loaded(&text, false), number(&all["rise"])).unwrap().numbers;
        let threshold = &found.curves[0].threshold;
        // The peer's searches end within 1e-6 of a likelihood, which moves a limit by up to 1e-4.
        assert_rel!(threshold.low, number(&set["low"]), 3e-4);
        assert_rel!(threshold.high, number(&set["high"]), 3e-4);
        assert_rel!(found.curves[0].line.value[0], number(&set["rates_at_zero"]), 1e-4);
        for shape in found.curves[0].shapes.iter().filter(|shape| shape.say > 0.0) {
            assert_rel!(shape.say, number(&set["weights"][shape.shape.name()]), 1e-4);
        }
    }
}

const TRAYS: &str = "strength,tray,rooted,dead,stuck\n0,a,3,1,20\n0,b,2,0,20\n0,c,4,1,20\n1000,d,9,1,20\n1000,e,8,2,20\n1000,f,10,0,20\n2000,g,12,1,20\n2000,h,13,2,20\n2000,i,11,1,20\n4000,j,10,4,20\n4000,k,9,3,20\n4000,l,11,5,20\n8000,m,3,12,20\n8000,n,4,11,20\n8000,o,2,13,20\n";

#[test]
fn damage_is_located_and_said_in_words() {
    let answer = damage(&loaded(TRAYS, true), 0.05).unwrap();
    let curve = &answer.numbers.curves[0];
    assert!(curve.threshold.located && (1000.0..8000.0).contains(&curve.threshold.value.unwrap()));
    assert!(curve.threshold.low < curve.threshold.value.unwrap());
    assert!(curve.test.p < 0.001, "{:?}", curve.test);
    // By hand: 3 + 2 + 4 rooted at strength 0, 2 dead of 60.
    assert_eq!((curve.rooted[0], curve.strengths[0].rooted, curve.strengths[0].stuck), (9, 2, 60));
    let survivors = curve.survivors.as_ref().unwrap();
    assert_eq!((survivors.strengths[4].rooted, survivors.strengths[4].stuck), (9, 24));
    assert!(answer.sentence.starts_with("Stay below ") && answer.sentence.contains("deaths have risen by 5 per 100"));
    let told = answer.details.join(" ");
    assert!(told.contains("Deaths have risen by 5.0 trees per 100 at about "), "{told}");
    assert!(told.contains("It rests on 5 strengths: 0, 1000, 2000, 4000 and 8000; between "), "{told}");
    assert!(told.ends_with("for this cultivar, etiolation, method and season only."));
    for code in ["read_the_label", "tested_range_only"] {
        assert!(answer.notes.iter().any(|note| note.code == code));
    }
}

#[test]
fn damage_that_no_strength_shows_is_not_located() {
    let even: String = TRAYS
        .lines()
        .map(|line| {
            let mut cells: Vec<&str> = line.split(',').collect();
            if cells[3] != "dead" {
                cells[3] = "1";
            }
            cells.join(",") + "\n"
        })
        .collect();
    let answer = damage(&loaded(&even, true), 0.05).unwrap();
    let threshold = &answer.numbers.curves[0].threshold;
    assert!(!threshold.located && threshold.value.is_none() && threshold.high == f64::INFINITY);
    assert!(answer.notes.iter().any(|note| note.code == "damage_not_located"));
    assert!(answer.sentence.starts_with("No strength tested shows 5 more deaths per 100"), "{}", answer.sentence);
    let told = answer.details.join(" ");
    assert!(told.contains("is not located: within the tested range"), "{told}");
}

/// Deaths of 80 at each strength, without trays.
fn of_eighty(strengths: &[f64], dead: &[u64]) -> Answer<DamageThreshold> {
    let mut text = "strength,rooted,dead,stuck\n".to_owned();
    for (strength, dead) in strengths.iter().zip(dead) {
        text.push_str(&format!("{strength},{},{dead},80\n", (80 - dead).min(20)));
    }
    damage(&loaded(&text, false), 0.05).unwrap()
}

#[test]
fn two_strengths_locate_no_damage() {
    let answer = of_eighty(&[0.0, 4000.0], &[1, 30]);
    let threshold = &answer.numbers.curves[0].threshold;
    assert!(!threshold.located && threshold.value.is_none() && threshold.low <= 0.0, "{threshold:?}");
    assert_eq!(threshold.high, f64::INFINITY);
    // By hand: 30 / 80 less 1 / 80 is 36.25 per 100.
    let said = "Two strengths make no curve: 1 of 80 died at 0 and 30 of 80 at 4000, 36 more per 100";
    assert!(answer.sentence.contains(said), "{}", answer.sentence);
    let told = answer.details.join(" ");
    assert!(told.contains("no one has seen. Test a strength between them."), "{told}");
    let alike = of_eighty(&[0.0, 4000.0], &[1, 1]).numbers.curves.remove(0).threshold;
    assert!(!alike.located && alike.low >= 4000.0, "{alike:?}");
}

/// Nothing died up to 2000 and all at 4000: any place between them fits as well.
#[test]
fn a_place_that_the_form_alone_chooses_spans_the_strengths_around_it() {
    let answer = of_eighty(&[0.0, 1000.0, 2000.0, 4000.0], &[1, 2, 1, 80]);
    let curve = &answer.numbers.curves[0];
    let threshold = &curve.threshold;
    assert!(threshold.by_form && threshold.located, "{threshold:?}");
    assert!(threshold.low <= 2000.0 && threshold.high >= 4000.0, "{threshold:?}");
    assert!(answer.notes.iter().any(|note| note.code == "place_by_form"));
    // Wilson (1927): the lower limit of n of n is n / (n + z squared).
    let [value, low, high] = curve.highest;
    assert_rel!(value, 1.0, 1e-12);
    assert_rel!(low, 80.0 / (80.0 + normal::quantile(0.975).powi(2)), 1e-9);
    assert_rel!(high, 1.0, 1e-12);
    let smooth = of_eighty(&STRENGTHS, &[2, 3, 4, 9, 20, 41]);
    assert!(!smooth.numbers.curves[0].threshold.by_form);
    assert!(!smooth.notes.iter().any(|note| note.code == "place_by_form"));
}

/// Where all died at every strength nothing is left to rise: no strength rules anything out.
#[test]
fn deaths_without_room_to_rise_tell_nothing() {
    let answer = of_eighty(&STRENGTHS, &[80; 6]);
    let threshold = &answer.numbers.curves[0].threshold;
    assert!(threshold.no_room && threshold.value.is_none() && threshold.low <= 0.0, "{threshold:?}");
    let said = "All cuttings died at every strength: nothing can be said about damage by strength";
    assert!(answer.sentence.contains(said), "{}", answer.sentence);
    assert!(!answer.words().contains("ruled out"), "{}", answer.words());
    let shown = serde_json::to_value(&answer.table).unwrap().to_string();
    assert!(!shown.contains("8000"), "{shown}");
    // 78 of 80 died at strength 0: a rise by 5 of 100 would come to 102.5.
    let nearly = of_eighty(&STRENGTHS, &[78, 80, 79, 80, 80, 80]);
    assert!(nearly.sentence.contains("78 of 80 cuttings died at 0 already"), "{}", nearly.sentence);
    assert!(nearly.numbers.curves[0].threshold.no_room);
}

/// Where none died the strengths' own limits tell what is ruled out, so a handful of cuttings rules out little.
#[test]
fn without_deaths_the_number_of_cuttings_decides() {
    // Wilson (1927): the upper limit of 0 of n is z squared / (n + z squared), with 80 cuttings 4.6 of 100.
    let z2 = normal::quantile(0.975).powi(2);
    let many = of_eighty(&STRENGTHS, &[0; 6]);
    let curve = &many.numbers.curves[0];
    assert_rel!(curve.possible_rise, z2 / (80.0 + z2), 1e-9);
    assert!(curve.threshold.low >= 8000.0, "{:?}", curve.threshold);
    let said = "No cutting died at any strength: a rise by 5 per 100 is ruled out up to 8000";
    assert!(many.sentence.contains(said), "{}", many.sentence);
    let text: String = STRENGTHS.iter().map(|strength| format!("{strength},2,0,10\n")).collect();
    let few = damage(&loaded(&format!("strength,rooted,dead,stuck\n{text}"), false), 0.05).unwrap();
    let curve = &few.numbers.curves[0];
    assert_rel!(curve.possible_rise, z2 / (10.0 + z2), 1e-9);
    assert!(curve.threshold.low <= 0.0, "{:?}", curve.threshold);
    // 27.8 of 100.
    assert!(few.sentence.contains("a rise by up to 28 per 100 remains possible"), "{}", few.sentence);
    assert!(!few.words().contains("ruled out"), "{}", few.words());
}

/// A strength that kills is not among those recommended, whatever the take there may be.
#[test]
fn no_strength_is_recommended_where_cuttings_die() {
    let rows = [(0, 12, 2), (500, 24, 2), (1000, 38, 3), (2000, 52, 3), (4000, 50, 16), (8000, 18, 58)];
    let mut text = "strength,tray,rooted,dead,stuck\n".to_owned();
    for (strength, rooted, dead) in rows {
        for tray in 0..4 {
            // Trays that differ by one cutting either way.
            let by = [0, 1, 0, 1][tray];
            text.push_str(&format!("{strength},s{strength}t{tray},{},{},20\n", rooted / 4 + by, dead / 4));
        }
    }
    let trial = loaded(&text, true);
    let answer = trial
        .strength_curve(&CurveOptions::default(), &Control::new())
        .and_then(|curves| curves.answer(&Control::new()))
        .unwrap();
    let found = damage(&trial, DamageOptions::default().rise).unwrap();
    let threshold = &found.numbers.curves[0].threshold;
    let stay = answer.numbers.input.damage[0].unwrap();
    assert_eq!((stay.value, stay.low, stay.high), (threshold.value.unwrap(), threshold.low, threshold.high));
    let best = &answer.numbers.curves[0].best;
    assert!(best.range_high > stay.strength() && best.range_low < stay.strength(), "{best:?} {stay:?}");
    // Both answers name the same strength.
    let below = found.sentence.split("Stay below ").nth(1).unwrap().split([' ', ':']).next().unwrap().to_owned();
    assert!(answer.sentence.contains(&format!("above {below} more cuttings may die")), "{}", answer.sentence);
    assert!(answer.sentence.contains(&format!(" to {below}")), "{}", answer.sentence);
    let told = answer.details.join(" ");
    assert!(told.contains("may kill more cuttings.") && told.contains(": stay below "), "{told}");
    assert!(answer.table.columns.iter().any(|column| column.name == "stay_below"));
    // A strength for a take says it too, from the record alone.
    let record = serde_json::to_string(&answer.numbers.input).unwrap();
    let input: CurveInput = serde_json::from_str(&record).unwrap();
    let wanted = strengths_for(&input, best.take - 0.01, &Control::new()).unwrap();
    let reached = wanted.numbers.rows[0].value.unwrap();
    assert_eq!(wanted.sentence.contains("more cuttings may die"), reached > stay.strength(), "{}", wanted.sentence);
    assert!(wanted.details.join(" ").contains(": stay below "), "{:?}", wanted.details);
}

#[test]
fn deaths_are_refused_where_they_make_no_sense() {
    let trial = loaded(TRAYS, true);
    let said = "rise 1.5 is outside 0 to 1; give it as a proportion, 0.015 for 1.5 trees per 100";
    assert_eq!(damage(&trial, 1.5).unwrap_err().to_string(), said);
    let few = damage_threshold(trial.units(), &[1], None, &DamageOptions::default(), &Control::new());
    assert_eq!(few.unwrap_err().to_string(), "1 counts of deaths for 15 units; give one for each unit");
    let empty = "strength,tray,rooted,dead,stuck\n0,a,3,,20\n1000,b,4,1,20\n";
    let options = LoadOptions { dead: Some("dead".into()), ..trial.options().clone() };
    let error = read_csv(empty.as_bytes(), &options).unwrap_err().to_string();
    assert!(error.contains("row 2, column \"dead\""), "{error}");
}

#[test]
fn deaths_of_single_cuttings_are_yes_and_no() {
    let text = "strength,tray,rooted,dead\n0,a,1,0\n0,a,0,1\n0,a,0,0\n1000,b,1,0\n1000,b,0,1\n1000,b,0,1\n";
    let options = LoadOptions {
        rooted: "rooted".into(),
        dead: Some("dead".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        ..LoadOptions::default()
    };
    assert_eq!(read_csv(text.as_bytes(), &options).unwrap().dead(), Some(&[1, 2][..]));
    let both = "strength,tray,rooted,dead\n0,a,1,1\n1000,b,1,0\n";
    let error = read_csv(both.as_bytes(), &options).unwrap_err().to_string();
    assert!(error.contains("row 2, column \"dead\": 1 rooted and 1 dead of 1 stuck"), "{error}");
}

fn hump() -> StrengthCurve {
    let text = include_str!("../data/hump_invented.csv");
    let input = input(vec![("", rows(text, [0, 2, 1]))], false, CurveOptions::default());
    strength_curve_of(&input, &Control::new()).unwrap().numbers
}

/// Limits under "auto" are the widest of what each shape allows alone, at the level that its distance in the criterion leaves.
#[test]
fn limits_hold_what_any_shape_allows() {
    let all = hump();
    let curve = &all.curves[0];
    let counting: Vec<_> = curve.shapes.iter().filter(|shape| shape.say > 0.0).collect();
    let least = counting.iter().map(|shape| shape.aicc).fold(f64::INFINITY, f64::min);
    let (mut low, mut high, mut used) = (f64::INFINITY, 0.0_f64, 0);
    for shape in counting {
        let left = normal::quantile(0.975).powi(2) - (shape.aicc - least);
        if left <= 0.0 || !shape.shape.has_top() {
            assert!(left <= 0.0, "a shape without a top is still allowed: {shape:?}");
            continue;
        }
        let shift = shape.parameters.iter().find(|one| one.name == "d0 of the axis").map(|one| one.value);
        let options = CurveOptions {
            shape: ShapeChoice::One(shape.shape),
            confidence: 1.0 - chi_squared::sf(left, 1.0),
            zero_scale: shift,
            ..CurveOptions::default()
        };
        let trays = all.input.groups[0].trays.clone();
        let alone = strength_curve_of(&input(vec![("", trays)], false, options), &Control::new()).unwrap().numbers;
        let found = alone.curves[0].best.strength;
        (low, high, used) = (low.min(found.low), high.max(found.high), used + 1);
    }
    assert!(used > 1);
    assert_rel!(curve.best.strength.low, low, 1e-5);
    assert_rel!(curve.best.strength.high, high, 1e-5);
}

// Two-parameter logistic curve: the locally D-optimal places have log odds -1.5434 and 1.5434 (Atkinson, Donev and Tobias 2007,
// section 22.4, from memory), takes 0.176 and 0.824, with half of the trays each.
#[test]
fn many_trays_go_where_theory_puts_them() {
    let text = "strength,rooted,stuck\n100,1,20\n300,4,20\n1000,10,20\n3000,16,20\n10000,19,20\n";
    let options = CurveOptions {
        shape: ShapeChoice::One(Shape::RisingFromNoneToAll),
        link: Link::Logit,
        ..CurveOptions::default()
    };
    let input = input(vec![("", rows(text, [0, 1, 2]))], false, options);
    let asked = NextOptions { trays: Some(200), cuttings: Some(1000), strengths: 4 };
    let found = next_strengths(&input, &asked, &Control::new()).unwrap();
    let designs = &found.numbers.curves[0].designs;
    assert!(designs.iter().all(|design| design.criterion == Criterion::WholeCurve));
    assert!(found.notes.iter().any(|note| note.code == "no_top"));
    let fit = strength_curve_of(&input, &Control::new()).unwrap().numbers;
    let line = &fit.curves[0].line;
    let take = |strength: f64| {
        let at = line.strength.iter().position(|d| *d >= strength).unwrap();
        line.value[at]
    };
    let (mut below, mut above) = (0.0, 0.0);
    for one in &designs[0].strengths {
        let p = take(one.strength);
        assert!(abs_diff_eq!(p, 0.176, epsilon = 0.06) || abs_diff_eq!(p, 0.824, epsilon = 0.06), "{one:?} at {p}");
        *(if p < 0.5 { &mut below } else { &mut above }) += one.n_units as f64;
    }
    assert!(abs_diff_eq!(below, above, epsilon = 4.0), "{:?}", designs[0]);
}

/// The same trial once more halves every variance; the chosen trays do at least as well.
#[test]
fn the_next_trial_narrows_the_best_strength() {
    let all = hump();
    let found = next_strengths(&all.input, &NextOptions::default(), &Control::new()).unwrap();
    let next = &found.numbers.curves[0];
    let best = next.designs.iter().find(|design| design.criterion == Criterion::BestStrength).unwrap();
    assert_rel!(best.width_ratio_repeated.unwrap(), 0.5_f64.sqrt(), 1e-9);
    assert!(best.width_ratio.unwrap() <= best.width_ratio_repeated.unwrap());
    assert_eq!(best.strengths.iter().map(|one| one.n_units).sum::<u64>(), next.n_units);
    assert!(best.strengths.len() <= 4 && best.strengths.iter().all(|one| !one.outside));
    assert!(found.sentence.starts_with("Without trays only a hint: Next time put 6 trays at "), "{}", found.sentence);
    assert!(found.details[0].starts_with("To narrow the best strength put "), "{:?}", found.details);
    assert!(found.notes.iter().any(|note| note.code == "read_the_label"));
    let none = NextOptions { trays: Some(0), ..NextOptions::default() };
    assert!(
        next_strengths(&all.input, &none, &Control::new())
            .unwrap_err()
            .to_string()
            .starts_with("trays 0 is outside 1 to 400")
    );
}

/// Each citation of strength curves is used; one is still from memory.
#[test]
fn citations_are_used() {
    let src = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let own = std::fs::read_to_string(src.join("report/references_curves.rs")).unwrap();
    let used: String = ["told/words", "told/compare_words", "damage/words", "next/answer", "surface/answer"]
        .iter()
        .map(|file| std::fs::read_to_string(src.join(format!("curves/{file}.rs"))).unwrap())
        .collect();
    let (constants, list) = own.split_once("pub const ALL").unwrap();
    let mut count = 0;
    for part in constants.split("pub const ").skip(1) {
        let name = part.split(':').next().unwrap();
        assert!(used.contains(name) && list.contains(name), "{name}");
        count += 1;
    }
    assert_eq!(count, rootling::report::references_curves::ALL.len());
    assert_eq!(constants.matches("from memory, not confirmed").count(), 1);
}
