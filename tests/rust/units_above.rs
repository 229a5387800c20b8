//! Units above the tray: whichever column records them, a treatment is judged against what it was given to.

use approx::abs_diff_eq;
use proptest::prelude::*;
use rootling::compare::{AllOptions, CompareOptions, Comparison, all_levels, strengths};
use rootling::control::Control;
use rootling::rates::{TakeRatesOptions, take_rates};
use rootling::tables::{AssociationOptions, TrialTrendOptions, association, trial_trend};
use rootling::trial::{Factor, Units};

use crate::set_ups::{column, trays_of_20};

fn factor(name: &str, codes: Vec<u32>) -> Factor {
    column(name, &codes)
}

/// Trays with two treatments, rootstock and strength, and one column of places, in no role yet.
fn trays(rows: &[(u32, u32, u32, u64)]) -> (Units, Factor) {
    let treatments = vec![
        factor("rootstock", rows.iter().map(|row| row.0).collect()),
        factor("strength", rows.iter().map(|row| row.1).collect()),
    ];
    let units = trays_of_20(rows.iter().map(|row| row.3).collect(), treatments);
    (units, factor("place", rows.iter().map(|row| row.2).collect()))
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Role {
    Block,
    WholePlot,
    Season,
    StockPlant,
}

fn with(mut units: Units, place: &Factor, role: Role) -> Units {
    let place = Some(place.clone());
    match role {
        Role::Block => units.block = place,
        Role::WholePlot => units.whole_plot = place,
        Role::Season => units.season = place,
        Role::StockPlant => units.stock_plant = place,
    }
    units
}

const ROLES: [Role; 4] = [Role::Block, Role::WholePlot, Role::Season, Role::StockPlant];

fn compared(units: &Units, treatment: &str) -> Comparison {
    strengths(units, treatment, "0", "1", &CompareOptions::default(), &Control::new()).unwrap().numbers
}

fn known(found: &Comparison) -> (Option<f64>, Option<f64>, Option<f64>, u64, String) {
    (found.p, found.low, found.df, found.first.n_units, found.unit.clone())
}

/// Two rootstocks, four plants each, two strengths, two trays: (rootstock, strength, plant, rooted).
fn plants(counts: &[u64]) -> Vec<(u32, u32, u32, u64)> {
    counts.iter().zip(0_u32..).map(|(rooted, at)| (at / 16, at / 2 % 2, at / 4, *rooted)).collect()
}

#[test]
fn a_rootstock_is_judged_against_plants_whatever_names_them() {
    let rows = plants(&[
        4, 5, 9, 8, 11, 9, 14, 15, 6, 7, 10, 11, 3, 2, 7, 8, 12, 13, 16, 15, 5, 6, 11, 10, 9, 8, 15, 13, 7, 9, 12, 12,
    ]);
    let (bare, place) = trays(&rows);
    let reference = compared(&with(bare.clone(), &place, Role::WholePlot), "rootstock");
    assert_eq!((reference.first.n_units, reference.df), (4, Some(6.0)));
    for role in ROLES {
        let units = with(bare.clone(), &place, role);
        let found = compared(&units, "rootstock");
        assert_eq!(known(&found), known(&reference), "{role:?}");
        // re-dealt are plants: 8 choose 4 ways
        assert_eq!(found.randomisation.as_ref().map(|test| test.assignments), Some(70.0), "{role:?}");
        assert_eq!(found.tray_t.map(|test| test.df), Some(6.0), "{role:?}");
        let asked = association(&units, "rootstock", &AssociationOptions::default(), &Control::new()).unwrap().numbers;
        assert_eq!((asked.p, asked.unit.as_str()), (reference.p, "place"), "{role:?}");
        let line = trial_trend(&units, "rootstock", &TrialTrendOptions::default(), &Control::new()).unwrap().numbers;
        assert_eq!((line.unit.as_str(), line.tests[0].test.df), ("place", Some(6.0)), "{role:?}");
        // Within plants the strength is judged against trays, and plants are taken out.
        let within = compared(&units, "strength");
        assert_eq!((within.unit.as_str(), within.first.n_units), ("tray", 16), "{role:?}");
        assert!(within.within.contains(&"place".to_owned()), "{role:?} {:?}", within.within);
    }
    // Trays taken for units would have called the rootstocks different.
    assert!(compared(&bare, "rootstock").p.unwrap() < reference.p.unwrap());
}

#[test]
fn one_place_per_level_is_an_estimate_without_a_test_in_every_role() {
    let rows: Vec<(u32, u32, u32, u64)> = (0..12_u32).map(|at| (at / 6, at % 2, at / 6, u64::from(5 + at))).collect();
    let (bare, place) = trays(&rows);
    for role in ROLES {
        let units = with(bare.clone(), &place, role);
        let found = compared(&units, "rootstock");
        assert_eq!((found.p, found.low), (None, None), "{role:?}");
        assert!(found.withheld.unwrap().contains("in a single place"), "{role:?}");
        let asked = association(&units, "rootstock", &AssociationOptions::default(), &Control::new()).unwrap().numbers;
        assert!(asked.p.is_none() || asked.withheld.is_some(), "{role:?}");
    }
}

#[test]
fn bays_in_seasons_are_compared_within_seasons() {
    // Three seasons, each with two bays of its own per rootstock, two trays in every bay.
    let rows: Vec<(u32, u32, u32, u64)> =
        (0..24_u32).map(|at| (at / 2 % 2, 0, at / 2, u64::from(4 + at % 7 + 3 * (at / 2 % 2)))).collect();
    let (mut units, bays) = trays(&rows);
    units.treatments.truncate(1);
    units.season = Some(factor("season", (0..24_u32).map(|at| at / 8).collect()));
    for role in [Role::Block, Role::WholePlot] {
        let found = compared(&with(units.clone(), &bays, role), "rootstock");
        assert_eq!((found.unit.as_str(), found.first.n_units), ("place", 6), "{role:?}");
        assert_eq!(found.within, ["season"], "{role:?}");
        // 12 bays, less 3 seasons, less 1
        assert_eq!(found.df, Some(8.0), "{role:?}");
    }
}

#[test]
fn plants_that_hold_few_levels_are_units_level_by_level() {
    // Six plants, two of which gave cuttings to both strengths: strata of plants would lose most trays.
    let plan = [(0, 0), (0, 0), (1, 0), (1, 0), (2, 0), (2, 1), (3, 1), (3, 1), (4, 1), (4, 1), (5, 0), (5, 1)];
    let rows: Vec<(u32, u32, u32, u64)> =
        plan.iter().zip(5_u64..).map(|((plant, level), rooted)| (0, *level, *plant, rooted)).collect();
    let (mut units, place) = trays(&rows);
    units.treatments.remove(0);
    let found = compared(&with(units, &place, Role::StockPlant), "strength");
    assert_eq!((found.unit.as_str(), found.first.n_units, found.second.n_units), ("place", 4, 4));
}

#[test]
fn units_that_carry_nothing_are_counted_and_a_single_stratum_is_refused() {
    // Season 0 holds both levels, seasons 1 and 2 one each.
    let mut rows: Vec<(u32, u32, u32, u64)> = Vec::new();
    for (season, level, count) in [(0, 0, 2), (0, 1, 2), (1, 0, 18), (2, 1, 18)] {
        rows.extend((0..count).map(|at| (0, level, season, 4 + at % 5 + 6 * u64::from(level))));
    }
    let (mut units, season) = trays(&rows);
    units.treatments.remove(0);
    units.season = Some(season);
    let answer = strengths(&units, "strength", "0", "1", &CompareOptions::default(), &Control::new()).unwrap();
    let carried = answer.numbers.carried.unwrap();
    assert_eq!((carried.n_strata, carried.n_strata_used), (3, 1));
    assert!(carried.levels.iter().all(|level| (level.n_units, level.n_units_used) == (20, 2)));
    assert_eq!(carried.left_out, ["place 1", "place 2"]);
    assert_eq!(answer.numbers.p, None);
    let why = answer.numbers.withheld.unwrap();
    assert!(why.contains("2 of 20 at 0 and 2 of 20 at 1") && why.ends_with("at={\"place\": \"0\"}"), "{why}");
    // Asked there alone it is an ordinary comparison.
    let at = [("place".to_owned(), "0".to_owned())].into_iter().collect();
    let there = CompareOptions { at, ..CompareOptions::default() };
    let found = strengths(&units, "strength", "0", "1", &there, &Control::new()).unwrap().numbers;
    assert!(found.p.is_some() && !found.carried.unwrap().loses());
    let all = all_levels(&units, "strength", &AllOptions::default(), &Control::new()).unwrap().numbers;
    assert_eq!((all.pairs[0].n_units, all.pairs[0].n_units_used), ((20, 20), (2, 2)));
    assert!(all.pairs[0].withheld.is_some());
    let asked = association(&units, "strength", &AssociationOptions::default(), &Control::new()).unwrap().numbers;
    assert_eq!((asked.withheld.as_ref(), asked.carried[0].n_strata_used), (Some(&why), 1));
}

#[test]
fn less_than_four_fifths_of_a_level_is_noted() {
    let mut rows: Vec<(u32, u32, u32, u64)> = Vec::new();
    for (season, level, count) in [(0, 0, 3), (0, 1, 3), (1, 0, 3), (1, 1, 3), (2, 0, 4)] {
        rows.extend((0..count).map(|at| (0, level, season, 4 + at % 5 + 3 * u64::from(level))));
    }
    let (mut units, season) = trays(&rows);
    units.treatments.remove(0);
    let answer = strengths(
        &with(units, &season, Role::Block),
        "strength",
        "0",
        "1",
        &CompareOptions::default(),
        &Control::new(),
    )
    .unwrap();
    assert!(answer.numbers.p.is_some());
    let note = answer.notes.iter().find(|note| note.code == "units_left_out").unwrap();
    assert!(note.text.contains("6 of 10 at 0 and 6 of 6 at 1"), "{}", note.text);
    assert!(note.text.ends_with("Left out: place 2."), "{}", note.text);
}

#[test]
fn levels_that_follow_time_are_noted() {
    let rows: Vec<(u32, u32, u32, u64)> = (0..16_u32).map(|at| (0, at / 8, at / 4, u64::from(4 + at % 5))).collect();
    let (mut units, place) = trays(&rows);
    units.treatments.remove(0);
    let follows = |units: &Units| {
        let found = strengths(units, "strength", "0", "1", &CompareOptions::default(), &Control::new()).unwrap();
        (found.numbers.follows_time, found.notes.iter().any(|note| note.code == "levels_follow_time"))
    };
    for (role, expected) in
        [(Role::Season, true), (Role::Block, true), (Role::WholePlot, false), (Role::StockPlant, false)]
    {
        let named = expected.then(|| "place".to_owned());
        assert_eq!(follows(&with(units.clone(), &place, role)), (named, expected), "{role:?}");
    }
    // Dealt out over the seasons, nothing follows.
    let mut mixed = place.clone();
    mixed.codes = (0..16_u32).map(|at| 2 * (at / 4 % 2) + at / 8).collect();
    assert_eq!(follows(&with(units, &mixed, Role::Season)), (None, false));
}

#[test]
fn take_rates_hold_over_plants_and_a_comparison_says_the_same() {
    let rows = plants(&[
        4, 5, 9, 8, 11, 9, 14, 15, 6, 7, 10, 11, 3, 2, 7, 8, 12, 13, 16, 15, 5, 6, 11, 10, 9, 8, 15, 13, 7, 9, 12, 12,
    ]);
    let (bare, place) = trays(&rows);
    let rates = |units: &Units, by: &[&str]| take_rates(units, by, &TakeRatesOptions::default()).unwrap().numbers;
    for role in ROLES {
        let units = with(bare.clone(), &place, role);
        let found = rates(&units, &["rootstock"]);
        // by hand: rates of rootstocks in a balanced layout draw on plants alone, 8 plants less 2 rootstocks
        for df in &found.df {
            assert_rel!(*df, 6.0, 1.6e-10, "{role:?} {df}");
        }
        let told = compared(&units, "rootstock");
        for (rate, other) in found.rates.iter().zip([&told.first, &told.second]) {
            assert_eq!((rate.low, rate.high), (other.low, other.high), "{role:?}");
        }
        // A strength draws on plants and on trays within them.
        assert!(rates(&units, &["strength"]).df.iter().all(|df| *df > 6.0 && *df < 30.0), "{role:?}");
        assert_eq!(
            found.layers.iter().map(|layer| (layer.name.as_str(), layer.df)).collect::<Vec<_>>(),
            [("place", 6.0)]
        );
        // Asked by itself, a plant is no source of error.
        assert!(rates(&units, &["place"]).df.iter().all(|df| *df > 15.0), "{role:?}");
    }
    let (alone, over) =
        (rates(&bare, &["rootstock"]), rates(&with(bare.clone(), &place, Role::StockPlant), &["rootstock"]));
    for (narrow, wide) in alone.rates.iter().zip(&over.rates) {
        assert!(wide.high - wide.low > narrow.high - narrow.low);
    }
    assert!(alone.layers.is_empty());
}

#[test]
fn plants_crossed_with_bays_both_enter() {
    // Each rootstock has four plants and two bays of its own; every plant stands in both bays of its rootstock.
    let rows: Vec<(u32, u32, u32, u64)> = (0..32_u32)
        .map(|at| (at / 16, 0, 4 * (at / 16) + at / 4 % 4, u64::from(6 + at * 5 % 7 + 2 * (at / 16) + at / 4 % 4)))
        .collect();
    let (mut units, plants) = trays(&rows);
    units.treatments.truncate(1);
    units.stock_plant = Some(plants);
    units.whole_plot = Some(factor("bay", (0..32_u32).map(|at| 2 * (at / 16) + at / 2 % 2).collect()));
    let both = strengths(&units, "rootstock", "0", "1", &CompareOptions::default(), &Control::new()).unwrap();
    assert_eq!(both.numbers.judged_by, ["bay", "place"]);
    assert!(both.notes.iter().any(|note| note.code == "crossed_units"));
    let bays = compared(&Units { stock_plant: None, ..units.clone() }, "rootstock");
    assert_eq!(bays.judged_by, ["bay"]);
    let width = |found: &Comparison| found.high.unwrap() - found.low.unwrap();
    assert!(width(&both.numbers) >= width(&bays));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// The role that names the places, the order of rows and the names of places change no number.
    #[test]
    fn roles_rows_and_names_change_nothing(
        counts in prop::collection::vec(0_u64..=20, 32),
        shift in 0_u32..8,
        turn in 0_usize..32,
    ) {
        let rows = plants(&counts);
        let (bare, place) = trays(&rows);
        let reference = known(&compared(&with(bare.clone(), &place, Role::WholePlot), "rootstock"));
        let mut renamed = place.clone();
        renamed.codes = place.codes.iter().map(|code| (code + shift) % 8).collect();
        let mut turned = rows.clone();
        turned.rotate_left(turn);
        let (turned, turned_place) = trays(&turned);
        for role in ROLES {
            prop_assert_eq!(&known(&compared(&with(bare.clone(), &place, role), "rootstock")), &reference);
            for other in [with(bare.clone(), &renamed, role), with(turned.clone(), &turned_place, role)] {
                let other = known(&compared(&other, "rootstock"));
                for (got, want) in [(other.0, reference.0), (other.1, reference.1)] {
                    prop_assert!(abs_diff_eq!(got.unwrap(), want.unwrap(), epsilon = 1e-9 * want.unwrap().abs().max(1e-12)));
                }
            }
        }
    }
}
