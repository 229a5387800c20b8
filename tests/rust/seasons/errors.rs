//! Every error of this room with its words.

use rootling::control::Control;
use rootling::error::{Error, SeasonsError};
use rootling::prelude::*;
use rootling::seasons::{PoolOptions, Season, pool};

use super::pooled::{asked, trial, years};
use crate::errors::check;

#[test]
fn words() {
    let named = |name: &str| name.to_owned();
    check(
        "src/error/seasons.rs",
        &[
            (
                SeasonsError::NotSaid,
                "trials do not say what is compared; give the treatment and two of its levels behind them, for example \"strength\", 2500, 5000",
            ),
            (
                SeasonsError::TooFew { entering: 1, left_out: vec![named("2024: no trays are counted")] },
                "only one season can enter (2024: no trays are counted); seasons are pooled from two on, so add another or ask this one alone",
            ),
            (
                SeasonsError::NameTwice { season: named("2024") },
                "two seasons are called \"2024\"; give each a name of its own with seasons=",
            ),
            (
                SeasonsError::SameData { first: named("2023"), second: named("2024") },
                "seasons \"2023\" and \"2024\" hold the very same counts, which would count them twice; give each trial once, and load each season of one table by itself",
            ),
            (
                SeasonsError::Unlike {
                    season: named("2024"),
                    what: "levels",
                    found: named("0 and 5000"),
                    wanted: named("2500 and 5000"),
                },
                "season \"2024\" has levels \"0 and 5000\", where \"2500 and 5000\" is wanted as in the others; ask every season the same, or leave it out",
            ),
            (
                SeasonsError::NotAsked { season: named("2024"), why: named("there is no column; name it") },
                "season \"2024\": there is no column; name it",
            ),
            (
                SeasonsError::Draws { draws: 10 },
                "draws=10 is not between 1000 and 200000; 10000 tell limits of a new season to about half a tree per 100",
            ),
        ],
    );
}

fn wrong(seasons: &[Season], options: &PoolOptions) -> SeasonsError {
    match pool(seasons, options, &Control::new()) {
        Err(Error::Seasons(found)) => found,
        other => panic!("{other:?}"),
    }
}

#[test]
fn seasons_that_do_not_go_together() {
    let trials = years();
    let (one, other) = (Season::of_trial(&trials[0]), Season::of_trial(&trials[1]));
    let open = PoolOptions { treatment: None, levels: None, ..asked() };
    assert_eq!(wrong(&[one.clone(), other.clone()], &open), SeasonsError::NotSaid);
    assert!(matches!(wrong(std::slice::from_ref(&one), &asked()), SeasonsError::TooFew { entering: 1, .. }));
    let same = wrong(&[one.clone().named("a"), one.clone().named("b")], &asked());
    assert_eq!(same, SeasonsError::SameData { first: "a".to_owned(), second: "b".to_owned() });
    let twice = wrong(&[one.clone().named("a"), other.clone().named("a")], &asked());
    assert_eq!(twice, SeasonsError::NameTwice { season: "a".to_owned() });
    let few = PoolOptions { draws: 10, ..asked() };
    assert_eq!(wrong(&[one.clone(), other.clone()], &few), SeasonsError::Draws { draws: 10 });
    let single = trial(&[9], &[13]);
    assert!(matches!(wrong(&[one, Season::of_trial(&single)], &asked()), SeasonsError::TooFew { .. }));
}

#[test]
fn seasons_that_were_asked_something_else() {
    let trials = years();
    let ask =
        |trial: &Trial, levels| trial.compare("strength", levels, &CompareOptions::default(), &Control::new()).unwrap();
    let (one, turned) = (ask(&trials[0], ("2500", "5000")), ask(&trials[1], ("5000", "2500")));
    let open = PoolOptions { treatment: None, levels: None, ..asked() };
    let found = wrong(&[Season::of_comparison(&one), Season::of_comparison(&turned)], &open);
    assert_eq!(
        found.to_string(),
        "season \"2\" has levels \"5000 and 2500\", where \"2500 and 5000\" is wanted as in the others; ask every season the same, or leave it out"
    );
    let found = wrong(&[Season::of_trial(&trials[0])], &PoolOptions::of("strength", ("2500", "8000")));
    assert!(matches!(&found, SeasonsError::NotAsked { season, .. } if season == "2030"), "{found}");
}
