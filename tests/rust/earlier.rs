//! Earlier trials of the place: what they add, how it is told, and what is refused.

use rootling::control::Control;

use rootling::layers::{Earlier, Known};
use rootling::math::rng::stream;
use rootling::models::{Model, ModelSpec};
use rootling::simulate::{LayeredDesign, UnitRole, UnitSpread};
use rootling::trial::{LoadOptions, Trial, Units, for_later, read_csv};

fn bays(mean_square: f64, df: f64) -> Known {
    let (unit, role) = ("bay".to_owned(), "whole_plot".to_owned());
    Known { unit, role, totals: false, mean_square, beneath: 1.0, cuttings: 80.0, df }
}

fn earlier(squares: &[(f64, f64)]) -> Earlier {
    Earlier {
        trials: (0..squares.len()).map(|at| at.to_string()).collect(),
        known: squares.iter().map(|(mean_square, df)| bays(*mean_square, *df)).collect(),
    }
}

#[test]
fn prior_value_and_degrees_of_freedom_are_those_of_the_moments() {
    // scipy 1.17.1, digamma, polygamma(1, x) and brentq on the formulas of `Earlier::shrunk`
    let cases = [
        (vec![(4.0, 4.0), (2.5, 4.0), (6.0, 4.0)], 4.065794060301601, 4.606207008393862),
        (vec![(4.0, 4.0)], 2.9589028602696863, 2.016827329037799),
        (vec![(1.2, 3.0), (9.0, 6.0), (3.0, 2.0), (30.0, 8.0)], 6.866679303768932, 2.9282753358091584),
    ];
    for (squares, expected, df) in cases {
        let found = earlier(&squares).shrunk(&bays(1.5, 2.0)).unwrap();
        assert_rel!(found.expected, expected, 1e-9);
        assert_rel!(found.earlier_df, df, 1e-9);
        assert_rel!(found.used, (2.0 * 1.5 + df * expected) / (2.0 + df), 1e-9);
        // Never their summed degrees of freedom.
        assert!(found.earlier_df < squares.iter().map(|(_, df)| df).sum::<f64>());
    }
    // Few earlier trials never count for much, however many degrees of freedom they have.
    let two = earlier(&[(4.0, 1000.0), (4.0, 1000.0)]).shrunk(&bays(1.5, 2.0)).unwrap();
    assert!(two.earlier_df < 4.0, "{two:?}");
    // Many that agree count for more, yet for less than all of theirs.
    let many = earlier(&[(4.0, 20.0); 12]).shrunk(&bays(1.5, 2.0)).unwrap();
    assert!((15.0..240.0).contains(&many.earlier_df), "{many:?}");
    // Other units, and totals of units, are told apart.
    let other = Known { unit: "room".to_owned(), ..bays(4.0, 4.0) };
    assert!(Earlier { trials: vec!["a".to_owned()], known: vec![other] }.shrunk(&bays(1.5, 2.0)).is_none());
    let totals = Known { totals: true, ..bays(4.0, 4.0) };
    assert!(Earlier { trials: vec!["a".to_owned()], known: vec![totals] }.shrunk(&bays(1.5, 2.0)).is_none());
}

#[test]
fn spreads_are_translated_to_the_layout_at_hand() {
    // Half the cuttings per bay: what lies above chance halves, 1 + (4 - 1) / 2.
    let wide = earlier(&[(4.0, 1e6); 3]);
    let own = Known { cuttings: 40.0, ..bays(1.5, 2.0) };
    let found = wide.shrunk(&own).unwrap();
    let same = earlier(&[(2.5, 1e6); 3]).shrunk(&bays(1.5, 2.0)).unwrap();
    assert_rel!(found.expected, same.expected, 1e-5);
    assert!(found.differs == same.differs);
}

fn split(take: f64, replicate: u64) -> Units {
    let mut design = LayeredDesign::new(&[("length", 2), ("strength", 2)], 4, 20).with(
        UnitRole::WholePlot,
        "bay",
        UnitSpread::Normal(0.5),
        |tray| tray.level(0) * 2 + tray.copy / 2,
    );
    design.takes = vec![take, take, 0.6, 0.6];
    design.trays = UnitSpread::Normal(0.3);
    design.draw(&mut stream(11, replicate))
}

fn joined(replicates: std::ops::Range<u64>) -> Option<Earlier> {
    let each: Vec<Earlier> = replicates.map(|at| for_later(&split(0.5, at), &format!("trial {at}")).unwrap()).collect();
    Earlier::joined(&each)
}

#[test]
fn every_verb_takes_them_up() {
    let alone = split(0.5, 0);
    let told = Units { earlier: joined(1..5), ..alone.clone() };
    let length = |units: &Units| {
        let model = Model::fit(units, &ModelSpec::of(&["length", "strength"])).unwrap();
        let tests = model.what_matters(None).unwrap();
        (tests.numbers.effects[0].error_df.unwrap(), tests)
    };
    let ((few, plain), (more, answer)) = (length(&alone), length(&told));
    assert!(few < 2.5 && more > few + 2.0, "{few} {more}");
    assert!(answer.notes.iter().any(|note| note.code == "earlier_trials"));
    assert!(answer.methods.contains("Smyth 2004") && !plain.methods.contains("Smyth 2004"));
    assert!(answer.references.iter().any(|one| one.contains("empirical Bayes")));
    let compared = |units: &Units| {
        let options = rootling::compare::CompareOptions::default();
        rootling::compare::strengths(units, "length", "0", "1", &options, &Control::new()).unwrap()
    };
    let (plain, answer) = (compared(&alone), compared(&told));
    assert!(answer.numbers.df.unwrap() > plain.numbers.df.unwrap() + 1.0);
    assert!(answer.methods.contains("Smyth 2004") && answer.notes.iter().any(|note| note.code == "earlier_trials"));
    let rates = |units: &Units| {
        rootling::rates::take_rates(units, &["length"], &rootling::rates::TakeRatesOptions::default()).unwrap()
    };
    let width = |units: &Units| rates(units).numbers.rates.iter().map(|rate| rate.high - rate.low).sum::<f64>();
    assert!(width(&told) != width(&alone));
    assert!(rates(&told).methods.contains("Smyth 2004"));
    let tested = |units: &Units| {
        let options = rootling::tables::AssociationOptions::default();
        rootling::tables::association(units, "length", &options, &Control::new()).unwrap()
    };
    assert!(tested(&told).numbers.p != tested(&alone).numbers.p);
    assert!(tested(&told).methods.contains("Smyth 2004"));
    let line = |units: &Units| {
        let scores = Some([("0".to_owned(), 0.0), ("1".to_owned(), 1.0)].into());
        let options = rootling::tables::TrialTrendOptions { scores, ..Default::default() };
        rootling::tables::trial_trend(units, "length", &options, &Control::new()).unwrap()
    };
    let (plain, answer) = (line(&alone), line(&told));
    let dof =
        |answer: &rootling::answer::Answer<rootling::tables::TrialTrend>| answer.numbers.tests[0].test.df.unwrap();
    assert!(dof(&answer) > dof(&plain) + 1.0);
    assert!(answer.methods.contains("Smyth 2004") && !plain.methods.contains("Smyth 2004"));
    // Two levels are compared, with what earlier trials add; below stands the line, whose t in equal bays is the F of the association on the
    // same rates per bay.
    assert_rel!(answer.numbers.p.unwrap(), compared(&told).numbers.p.unwrap(), 1e-12);
    let f = tested(&told).numbers.tests.into_iter().find(|one| one.test.method.name() == "tray-rates").unwrap().test;
    let t = &answer.numbers.tests.iter().find(|one| one.test.method.name() == "t on trays").unwrap().test;
    assert_rel!(t.statistic.unwrap().powi(2), f.statistic.unwrap(), 1e-9);
    assert_rel!(t.df.unwrap(), f.error_df.unwrap(), 1e-9);
}

fn options() -> LoadOptions {
    LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["length".into(), "strength".into()],
        tray: Some("tray".into()),
        whole_plot: Some("bay".into()),
        ..LoadOptions::default()
    }
}

/// A trial as text, its bays under a name of their own.
fn text(units: &Units, bay: &str) -> String {
    let mut text = format!("length,strength,{bay},tray,rooted,stuck\n");
    for unit in 0..units.len() {
        let of = |name: &str| units.factor(name).unwrap().label(unit).unwrap().to_owned();
        let line = [of("length"), of("strength"), of("bay"), of("tray")].join(",");
        text.push_str(&format!("{line},{},{}\n", units.rooted[unit], units.stuck[unit]));
    }
    text
}

fn loaded(replicate: u64, options: &LoadOptions) -> rootling::Result<Trial> {
    let bay = options.whole_plot.clone().unwrap_or_else(|| "bay".to_owned());
    read_csv(text(&split(0.5, replicate), &bay).as_bytes(), options)
}

#[test]
fn a_trial_says_what_came_from_earlier_ones() {
    let each: Vec<Earlier> = (1..4).map(|at| loaded(at, &options()).unwrap().for_later().unwrap()).collect();
    let plain = loaded(0, &options()).unwrap();
    let trial = loaded(0, &LoadOptions { earlier: each.clone(), ..options() }).unwrap();
    let lines = trial.design().lines.join("\n");
    assert!(lines.contains("how trays differ: 3 earlier trials add "), "{lines}");
    assert!(lines.contains("how levels of bay differ: 3 earlier trials add "), "{lines}");
    // The data are the same, and the options keep what was given.
    assert_eq!(trial.fingerprint(), plain.fingerprint());
    let record = serde_json::to_value(trial.options()).unwrap();
    assert_eq!(serde_json::from_value::<LoadOptions>(record).unwrap().earlier, each);
}

#[test]
fn what_cannot_be_taken_over_is_said_in_one_sentence() {
    let said = |error: rootling::Error| error.to_string();
    let pooled = loaded(1, &LoadOptions { tray: None, ..options() }).unwrap();
    assert!(said(pooled.for_later().unwrap_err()).contains(
        "an earlier trial has no trays recorded, so it does not tell how trays differ; name its tray column with tray="
    ),);
    let one_each = "length,strength,bay,tray,rooted,stuck\n0,0,a,1,3,20\n0,1,a,2,4,20\n1,0,b,3,5,20\n1,1,b,4,9,20\n";
    let single = read_csv(one_each.as_bytes(), &options()).unwrap();
    assert!(said(single.for_later().unwrap_err()).contains("no two trays of an earlier trial were treated alike"));
    let (own, other) = (loaded(1, &options()).unwrap().for_later().unwrap(), loaded(2, &options()).unwrap());
    let with = |earlier: Vec<Earlier>| said(loaded(1, &LoadOptions { earlier, ..options() }).unwrap_err());
    assert!(
        with(vec![own]).contains("a trial given as earlier has the very counts of this one; take it out of earlier=")
    );
    let twice = other.for_later().unwrap();
    assert!(with(vec![twice.clone(), twice]).contains("a trial is given twice as earlier"));
    let room = LoadOptions { whole_plot: Some("room".into()), ..options() };
    let room = loaded(3, &room).unwrap().for_later().unwrap();
    let words = with(vec![room]);
    assert!(
        words.contains("an earlier trial calls its whole_plot column \"room\", this one \"bay\", so its spread cannot be taken over"),
        "{words}"
    );
}
