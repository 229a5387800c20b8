//! Strength and darkness together: reference values, rooms, what is withheld and refused.

use rootling::control::Control;
use rootling::curves::{
    CurveOptions, ResponseSurface, SurfaceInput, SurfaceOptions, SurfaceTray, response_surface, response_surface_of,
};
use rootling::math::rng;
use rootling::math::special::expit;
use rootling::trial::{LoadOptions, read_csv};

use crate::support::number;

fn input(trays: Vec<SurfaceTray>, counted: bool, shift: Option<f64>) -> SurfaceInput {
    let bays = trays.iter().any(|tray| tray.bay.is_some()).then(|| "room".to_owned());
    let curve = CurveOptions { zero_scale: shift, ..CurveOptions::default() };
    SurfaceInput {
        strength: None,
        unit: "mg/L".to_owned(),
        counted,
        bays,
        trays,
        notes: Vec::new(),
        options: SurfaceOptions { curve, ..SurfaceOptions::default() },
    }
}

fn fitted(input: &SurfaceInput) -> ResponseSurface {
    response_surface_of(input, &Control::new()).unwrap().numbers
}

fn test(found: &ResponseSurface, name: &str) -> rootling::estimate::TestResult {
    found.tests.iter().find(|test| test.method.name() == name).unwrap_or_else(|| panic!("{name}")).clone()
}

// tests/reference/make/surface.py: statsmodels 0.14 GLM, profile by searches (versions in the file).
#[test]
fn surfaces_agree_with_an_independent_fit() {
    let all: serde_json::Value = serde_json::from_str(include_str!("../reference/values/surface.json")).unwrap();
    let list = |value: &serde_json::Value| value.as_array().unwrap().iter().map(number).collect::<Vec<f64>>();
    let mut trays = Vec::new();
    for (day, rooted) in list(&all["days"]).into_iter().zip(all["rooted"].as_array().unwrap()) {
        for (strength, rooted) in list(&all["strength"]).into_iter().zip(list(rooted)) {
            let (rooted, stuck) = (rooted as u64, number(&all["stuck"]) as u64);
            trays.push(SurfaceTray { strength, darkness: day, bay: None, rooted, stuck });
        }
    }
    let found = fitted(&input(trays, false, Some(500.0)));
    for (best, want) in found.best.iter().zip(all["best"].as_array().unwrap()) {
        let want = list(want);
        // The peer's fits end within 1e-14 of the deviance, which moves a place by up to 1e-7.
        assert_rel!(best.strength.value, want[0], 1e-6);
        assert_rel!(best.strength.low, want[1], 2e-6);
        assert_rel!(best.strength.high, want[2], 2e-6);
        assert!(best.located);
    }
    assert_rel!(
        test(&found, "one best strength at every darkness").statistic.unwrap(),
        number(&all["parallel_ratio"]),
        1e-7
    );
    assert_rel!(test(&found, "lack of fit").statistic.unwrap(), number(&all["lack_of_fit"]), 1e-7);
    let top = found.top.unwrap();
    assert_rel!(top.strength, number(&all["top_strength"]), 1e-6);
    assert_rel!(top.darkness, number(&all["top_days"]), 1e-6);
    let fourth = top.region.iter().filter(|(row, column)| row % 4 == 0 && column % 4 == 0);
    let places: Vec<Vec<f64>> = fourth.map(|(row, column)| vec![*row as f64, *column as f64]).collect();
    let want: Vec<Vec<f64>> = all["region_of_every_fourth_place"].as_array().unwrap().iter().map(list).collect();
    assert!(want.len() > 3);
    assert_eq!(places, want);
    assert_eq!(top.located, top.region.iter().all(|(row, column)| ![0, 32].contains(row) && ![0, 32].contains(column)));
    let want = (number(&all["best"][2][0]) + 500.0) / (number(&all["best"][0][0]) + 500.0);
    assert_rel!(found.shift_factor.unwrap(), want, 1e-6);
}

/// A trial with `rooms` rooms for each darkness; `slope` shifts the best strength.
fn drawn(rooms: u32, (days, slope, room_sd): (&[f64], f64, f64), seed: u64) -> Vec<SurfaceTray> {
    let mut random = rng::stream(20_261_126, seed);
    let mut trays = Vec::new();
    for (at, day) in days.iter().enumerate() {
        for room in 0..rooms {
            let off = room_sd * rng::deviate(&mut random);
            for strength in [0.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0] {
                let x = (strength / 500.0_f64).ln_1p() - 1.6 + slope * (day - 28.0) / 14.0;
                let take = expit(0.7 - 0.9 * x * x + off);
                for _ in 0..2 {
                    let rooted = rng::beta_binomial(&mut random, 20, take, 0.03);
                    let bay = Some(at as u32 * rooms + room);
                    trays.push(SurfaceTray { strength, darkness: *day, bay, rooted, stuck: 20 });
                }
            }
        }
    }
    trays
}

/// Rooms differ and darkness does nothing: 150 trials of three darknesses in three rooms each (6 degrees of freedom).
#[test]
fn darkness_is_judged_by_rooms() {
    let (mut alarms, mut shifts, mut held, runs) = (0.0, 0.0, 0.0, 150);
    for seed in 0..runs {
        let found = fitted(&input(drawn(3, (&[14.0, 28.0, 42.0], 0.0, 0.5), seed), true, None));
        assert_eq!(found.df_bays, Some(6.0));
        alarms += f64::from(u8::from(test(&found, "darkness").p < 0.05));
        shifts += f64::from(u8::from(test(&found, "one best strength at every darkness").p < 0.05));
        let truth = 500.0 * 1.6_f64.exp_m1();
        let best = &found.best[1].strength;
        held += f64::from(u8::from(best.low <= truth && truth <= best.high));
    }
    let share = |count: f64| 100.0 * count / runs as f64;
    println!("darkness {}, shift {}, best held {}", share(alarms), share(shifts), share(held));
    assert!(share(alarms) <= 10.0, "false alarms of darkness: {} %", share(alarms));
    assert!(share(shifts) <= 10.0, "false alarms of the shift: {} %", share(shifts));
    assert!(share(held) >= 90.0, "best strength held: {} %", share(held));
}

#[test]
fn a_shift_is_found_and_said() {
    let answer =
        response_surface_of(&input(drawn(2, (&[14.0, 28.0, 42.0], 0.5, 0.2), 1), true, None), &Control::new()).unwrap();
    let found = &answer.numbers;
    assert!(test(found, "one best strength at every darkness").p < 0.001);
    assert!(found.best[0].strength.value > 1.5 * found.best[2].strength.value);
    assert!(answer.sentence.contains("The best strength shifts with darkness"), "{}", answer.sentence);
    for code in ["read_the_label", "tested_range_only", "few_bays"] {
        assert!(answer.notes.iter().any(|note| note.code == code), "{code}");
    }
    assert_eq!(found.grid.take.dim(), (33, 33));
}

#[test]
fn one_room_for_each_darkness_withholds_the_claim() {
    let answer =
        response_surface_of(&input(drawn(1, (&[14.0, 28.0, 42.0], 0.0, 0.2), 1), true, None), &Control::new()).unwrap();
    let found = &answer.numbers;
    assert!(found.tests.iter().all(|test| test.method.name() != "darkness"));
    assert!(found.top.as_ref().is_none_or(|top| top.region.is_empty() && !top.located));
    assert!(answer.notes.iter().any(|note| note.code == "darkness_confounded"));
    let told = answer.details.join(" ");
    assert!(told.contains("Nothing is claimed about darkness itself: a darkness stood in one room only"), "{told}");
    let two = fitted(&input(drawn(2, (&[14.0, 42.0], 0.0, 0.2), 1), true, None));
    assert!(two.top.is_none() && two.best.len() == 2);
}

#[test]
fn what_makes_no_surface_is_refused() {
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into(), "dark_days".into()],
        tray: Some("tray".into()),
        ..LoadOptions::default()
    };
    let load = |text: &str| read_csv(text.as_bytes(), &options).unwrap();
    let ask = |text: &str, darkness: &str| {
        let asked = SurfaceOptions { darkness: darkness.to_owned(), ..SurfaceOptions::default() };
        response_surface(load(text).units(), None, &asked, &Control::new()).unwrap_err().to_string()
    };
    let few = "strength,dark_days,tray,rooted,stuck\n0,14,a,3,20\n500,14,b,8,20\n0,28,c,4,20\n500,28,d,9,20\n";
    assert_eq!(
        ask(few, "dark_days"),
        "2 strengths and 2 levels of darkness are too few for a surface; it needs three strengths and two levels of darkness"
    );
    assert!(ask(few, "dark_day").contains("did you mean \"dark_days\"?"), "{}", ask(few, "dark_day"));
    let words =
        "strength,dark_days,tray,rooted,stuck\n0,short,a,3,20\n500,short,b,8,20\n0,long,c,4,20\n500,long,d,9,20\n";
    assert!(ask(words, "dark_days").contains("of \"dark_days\" is not a number"), "{}", ask(words, "dark_days"));
    let stopped = Control::new();
    stopped.stop();
    let input = input(drawn(2, (&[14.0, 28.0, 42.0], 0.0, 0.2), 1), true, None);
    assert_eq!(response_surface_of(&input, &stopped).unwrap_err(), rootling::Error::Interrupted);
}
