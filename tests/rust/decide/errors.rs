//! Every error of this room with its words.

use std::collections::BTreeMap;

use rootling::decide::{ChooseOptions, Days, SeasonsPooled, TrialToCome, choose};
use rootling::error::{DecideError, Error};
use rootling::prelude::*;

use super::chosen::{asked, trial};
use crate::errors::check;

fn named(name: &str) -> String {
    name.to_owned()
}

#[test]
fn words() {
    check(
        "src/error/decide.rs",
        &[
            (
                DecideError::NotAbove {
                    name: "price",
                    value: -3.0,
                    what: "what a saleable tree brings, for example 3.0",
                },
                "price=-3 is not a number above 0; give what a saleable tree brings, for example 3.0",
            ),
            (
                DecideError::Cost { name: named("per_tray"), value: -1.0 },
                "per_tray=-1 is no cost of 0 or more; give what it costs in the money of the price",
            ),
            (
                DecideError::NoCosts,
                "no cost is given, so money would say no more than takes do; give at least one of per_cutting, per_tray, per_day and of_level (0 is an answer, too)",
            ),
            (
                DecideError::OneLevel { treatment: named("strength"), level: named("2500") },
                "\"strength\" has the one level \"2500\" here, so there is nothing to choose; name a treatment of two levels or more",
            ),
            (
                DecideError::NothingRooted { treatment: named("strength") },
                "not one cutting rooted at any level of \"strength\", so there is no take to weigh costs by; the cheapest level loses least until a trial shows a take",
            ),
            (
                DecideError::Saleable { value: 80.0 },
                "saleable=80 is no share above 0 and at most 1; give the share of rooted cuttings that come to sale, for example 0.8",
            ),
            (
                DecideError::SaleableLimits { low: 0.85, high: 0.9, value: 0.8 },
                "saleable_limits=0.85 and 0.9 do not lie within 0 and 1 around saleable=0.8; give the lower and the upper limit of the share, for example 0.7 and 0.88",
            ),
            (
                DecideError::TraySize { name: "per_tray" },
                "per_tray is a cost of trays, and the trial does not say how many cuttings one holds; give cuttings_per_tray",
            ),
            (
                DecideError::Days { treatment: named("strength"), level: named("2500") },
                "per_day is a cost of darkness, and it is not known how many days \"strength\" \"2500\" was dark; give days, one number or one for each level",
            ),
            (
                DecideError::DaysWithoutCost,
                "days= is given and per_day= is not, so days of darkness would cost nothing; give per_day=, what a day of darkness costs for a tray, or leave days= out",
            ),
            (DecideError::NoDays { value: -1.0 }, "days=-1 is no number of days; give 0 or more"),
            (
                DecideError::Seasons { seasons: 0 },
                "seasons=0 is not between 1 and 50; give the seasons that the choice is to hold",
            ),
            (
                DecideError::SeasonSd { value: -1.0 },
                "season_sd=-1 is not between 0 and 3; it is the standard deviation of log odds over seasons, for example 0.3",
            ),
            (DecideError::TwoSpreads, "season_sd and pooled both say how seasons differ; give one of them"),
            (
                DecideError::NoSpread { seasons: 2 },
                "pooled holds 2 seasons, which do not tell how far seasons differ; pool three or more, or give season_sd",
            ),
            (
                DecideError::OtherTreatment { found: named("dark_days"), wanted: named("strength") },
                "pooled is of \"dark_days\", and the choice is of \"strength\"; pool trials of the same treatment",
            ),
            (
                DecideError::NextTrial { what: "trays", value: 0.0 },
                "next_trial with trays 0 is no trial; give trays of each level (1 to 1000), cuttings of each tray (1 to 10000) and what it costs (0 or more)",
            ),
            (
                DecideError::Draws { draws: 10 },
                "draws=10 is not between 1000 and 200000; 10000 tell chances to about half of 100",
            ),
        ],
    );
}

fn wrong(trial: &Trial, options: &ChooseOptions) -> Error {
    choose(trial, "strength", options, &Control::new()).unwrap_err()
}

fn decided(options: &ChooseOptions) -> DecideError {
    match wrong(&trial(), options) {
        Error::Decide(found) => found,
        other => panic!("{other:?}"),
    }
}

#[test]
fn options_that_cannot_be() {
    let price = |price| decided(&ChooseOptions { price, ..asked() });
    assert!(matches!(price(-3.0), DecideError::NotAbove { name: "price", .. }));
    assert!(matches!(price(f64::NAN), DecideError::NotAbove { name: "price", .. }));
    let none = ChooseOptions { per_cutting: None, per_tray: None, of_level: BTreeMap::new(), ..asked() };
    assert_eq!(decided(&none), DecideError::NoCosts);
    assert!(matches!(decided(&ChooseOptions { per_tray: Some(-1.0), ..asked() }), DecideError::Cost { .. }));
    assert_eq!(decided(&ChooseOptions { saleable: 80.0, ..asked() }), DecideError::Saleable { value: 80.0 });
    let limits = ChooseOptions { saleable_limits: Some((0.85, 0.9)), ..asked() };
    assert!(matches!(decided(&limits), DecideError::SaleableLimits { .. }));
    assert_eq!(decided(&ChooseOptions { seasons: 0, ..asked() }), DecideError::Seasons { seasons: 0 });
    assert!(matches!(decided(&ChooseOptions { season_sd: Some(-1.0), ..asked() }), DecideError::SeasonSd { .. }));
    assert!(matches!(decided(&ChooseOptions { per_day: Some(0.1), ..asked() }), DecideError::Days { .. }));
    let days = ChooseOptions { per_day: Some(0.1), days: Some(Days::Alike(-1.0)), ..asked() };
    assert_eq!(decided(&days), DecideError::NoDays { value: -1.0 });
    let free = ChooseOptions { days: Some(Days::Alike(28.0)), ..asked() };
    assert_eq!(decided(&free), DecideError::DaysWithoutCost);
    let next = |trays, cuttings, cost| {
        decided(&ChooseOptions { next_trial: Some(TrialToCome { trays, cuttings, cost }), ..asked() })
    };
    assert_eq!(next(0, 20, 500.0), DecideError::NextTrial { what: "trays", value: 0.0 });
    assert!(matches!(next(8, 0, 500.0), DecideError::NextTrial { what: "cuttings", .. }));
    assert!(matches!(next(8, 20, f64::NAN), DecideError::NextTrial { what: "cost", .. }));
    assert_eq!(decided(&ChooseOptions { draws: 10, ..asked() }), DecideError::Draws { draws: 10 });
}

#[test]
fn seasons_that_do_not_go_with_the_choice() {
    let pooled = |treatment: &str, n_seasons, spread| SeasonsPooled {
        treatment: named(treatment),
        first: named("2500"),
        second: named("5000"),
        n_seasons,
        spread,
    };
    let of = |pooled| ChooseOptions { pooled: Some(pooled), ..asked() };
    assert_eq!(decided(&of(pooled("strength", 2, None))), DecideError::NoSpread { seasons: 2 });
    assert!(matches!(decided(&of(pooled("dark_days", 5, Some(0.1)))), DecideError::OtherTreatment { .. }));
    let both = ChooseOptions { season_sd: Some(0.3), ..of(pooled("strength", 5, Some(0.1))) };
    assert_eq!(decided(&both), DecideError::TwoSpreads);
}

#[test]
fn trials_that_leave_nothing_to_choose() {
    let of = |csv: &str| {
        let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
        options.checked = vec!["one_level".to_owned()];
        read_csv(csv.as_bytes(), &options).unwrap()
    };
    let one = of("strength,tray,rooted,stuck\n2500,a,9,20\n2500,b,11,20\n");
    assert!(matches!(wrong(&one, &asked()), Error::Choice(_) | Error::Decide(DecideError::OneLevel { .. })));
    let bare = ChooseOptions { of_level: BTreeMap::new(), ..asked() };
    assert!(matches!(wrong(&one, &bare), Error::Decide(DecideError::OneLevel { .. })));
    let none = of("strength,tray,rooted,stuck\n2500,a,0,20\n2500,b,0,20\n5000,c,0,20\n5000,d,0,20\n");
    assert!(matches!(wrong(&none, &asked()), Error::Decide(DecideError::NothingRooted { .. })));
    let unknown = ChooseOptions { of_level: BTreeMap::from([(named("8000"), 0.1)]), ..asked() };
    assert!(wrong(&trial(), &unknown).to_string().contains("level of strength \"8000\" is not known"));
    let pooled = "strength,rooted,stuck\n2500,9,20\n5000,14,20\n";
    let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]);
    let pooled = read_csv(pooled.as_bytes(), &options).unwrap();
    assert!(matches!(wrong(&pooled, &asked()), Error::Decide(DecideError::TraySize { name: "per_tray" })));
    let stopped = Control::new();
    stopped.stop();
    assert_eq!(choose(&trial(), "strength", &asked(), &stopped).unwrap_err(), Error::Interrupted);
}
