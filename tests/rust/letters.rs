//! Letters beside adjusted rates.

use rootling::Answer;
use rootling::control::Control;
use rootling::effects::{ContrastOptions, LetterOptions, LetterOrder, Letters};
use rootling::models::{Model, ModelSpec};
use rootling::trial::{UnitKind, Units};

use crate::contrasts::ask;
use crate::models::{Table, crowder, factor, has_note, spec, units};

fn lettered(model: &Model, by: &str, options: &LetterOptions) -> Answer<Letters> {
    model.letters(by, options, &Control::new()).unwrap()
}

fn share(a: &str, b: &str) -> bool {
    a.chars().any(|letter| b.contains(letter))
}

/// Every pair of a slice shares a letter exactly where its contrast is not shown.
fn agree(model: &Model, by: &str, within: Option<&str>) -> Answer<Letters> {
    let within = within.map(str::to_owned);
    let found = lettered(model, by, &LetterOptions { within: within.clone(), ..LetterOptions::default() });
    let pairs = ask(model, by, &ContrastOptions { within, ..ContrastOptions::default() }).numbers;
    for row in &pairs.contrasts {
        let prefix = format!("{by} ");
        let (second, first) = row.comparison.trim_start_matches(&prefix).split_once(" against ").unwrap();
        let of = |level: &str| {
            let one = found.numbers.rates.iter().find(|one| one.rate.by == level && one.rate.within == row.within);
            one.unwrap().letters.clone()
        };
        match row.p_adjusted {
            Some(p) => assert_eq!(share(&of(first).unwrap(), &of(second).unwrap()), p >= 0.05, "{row:?}"),
            None => assert!(of(first).is_none() || of(second).is_none()),
        }
    }
    assert!(found.numbers.fewest);
    assert!(found.words().contains("no proof of equality"), "{}", found.sentence);
    found
}

fn five() -> Units {
    let levels = ["0", "500", "1000", "2500", "5000"];
    let strength: Vec<&str> = (0..20).map(|tray| levels[tray / 4]).collect();
    let mut strength = factor("strength", &strength);
    strength.numbers = Some(vec![0.0, 500.0, 1000.0, 2500.0, 5000.0]);
    let rooted = vec![1, 2, 0, 3, 4, 6, 5, 3, 8, 7, 9, 8, 14, 15, 13, 16, 15, 12, 14, 13];
    units(UnitKind::Tray, rooted, vec![20; 20], vec![strength])
}

#[test]
fn letters_say_what_the_contrasts_show() {
    let model = Model::fit(&five(), &ModelSpec::of(&["strength"])).unwrap();
    let found = agree(&model, "strength", None);
    // The highest rate (2500) holds "a"; a strength axis is sent to the curve.
    assert!(found.numbers.rates[3].letters.as_ref().unwrap().starts_with('a'));
    assert!(has_note(&found.notes, "curve_first") && has_note(&found.notes, "letters"));
    // Said once, in the note.
    assert!(!found.words().contains("a curve over them"));
    let up = lettered(&model, "strength", &LetterOptions { order: LetterOrder::Ascending, ..LetterOptions::default() });
    assert!(up.numbers.rates[0].letters.as_ref().unwrap().starts_with('a'));
    let rates = model.adjusted_rates("strength", &Default::default()).unwrap().numbers.rates;
    for (one, rate) in found.numbers.rates.iter().zip(&rates) {
        assert_eq!(&one.rate, rate);
    }
}

#[test]
fn crowder_plates_from_load_to_letters() {
    let model = Model::fit(&crowder(), &spec(&["seed", "extract"], &[&["seed", "extract"]])).unwrap();
    let found = agree(&model, "extract", Some("seed"));
    let shown: Vec<&str> = found.numbers.rates.iter().map(|one| one.letters.as_deref().unwrap()).collect();
    // Crowder 1978, Table 3: the extracts differ in one of the two seeds.
    assert_eq!(shown.len(), 4);
    let letters = found.notes.iter().find(|note| note.code == "letters").unwrap();
    assert!(letters.text.starts_with("Letters start afresh in each level of seed"), "{}", letters.text);
    assert_eq!(found.numbers.rates.iter().map(|one| one.rate.n_units).sum::<u64>(), 21);
}

/// Marin et al. 1993 in Ridout et al. 1998: shoots rooted, by photoperiod and BAP.
pub(crate) fn shoots() -> Units {
    let table = Table::read("marin_1993.csv");
    let rooted = table.number("roots").into_iter().zip(table.whole("shoots"));
    let rooted: Vec<u64> = rooted.map(|(roots, shoots)| if roots > 0.0 { shoots } else { 0 }).collect();
    let treatments = vec![factor("photoperiod", &table.text("photoperiod_h")), factor("bap", &table.text("bap_um"))];
    units(UnitKind::Pooled, rooted, table.whole("shoots"), treatments)
}

#[test]
fn apple_shoots_from_load_to_letters() {
    let model = Model::fit(&shoots(), &spec(&["photoperiod", "bap"], &[&["photoperiod", "bap"]])).unwrap();
    let found = agree(&model, "bap", Some("photoperiod"));
    assert!(found.words().contains("No trays recorded: intervals are too narrow."), "{}", found.sentence);
    assert!(has_note(&found.notes, "separation"));
    let whole = agree(&model, "photoperiod", None);
    let shown: Vec<&str> = whole.numbers.rates.iter().map(|one| one.letters.as_deref().unwrap()).collect();
    // Ridout et al. 1998: 138 of 140 rooted under 8 hours, 68 of 130 under 16.
    assert_eq!(shown, ["a", "b"]);
}

#[test]
fn levels_on_whole_plots_without_repeats_have_no_letters() {
    let dark: Vec<&str> = (0..12).map(|tray| ["0", "30"][tray / 6]).collect();
    let strength: Vec<&str> = (0..12).map(|tray| ["0", "2500"][tray % 2]).collect();
    let mut data = units(
        UnitKind::Tray,
        vec![4, 9, 5, 8, 3, 10, 8, 13, 7, 15, 9, 12],
        vec![20; 12],
        vec![factor("dark", &dark), factor("strength", &strength)],
    );
    data.whole_plot = Some(factor("room", &dark));
    let model = Model::fit(&data, &spec(&["dark", "strength"], &[])).unwrap();
    let found = lettered(&model, "dark", &LetterOptions::default());
    assert!(found.numbers.rates.iter().all(|one| one.letters.is_none()));
    assert!(found.words().contains("cannot be tested in this layout"));
    assert!(has_note(&found.notes, "no_letters"));
    let pairs = ask(&model, "dark", &ContrastOptions::default());
    assert!(pairs.numbers.contrasts[0].value.is_some() && pairs.numbers.contrasts[0].p_adjusted.is_none());
    assert!(pairs.words().contains("cannot be told apart"), "{}", pairs.sentence);
    // Strength lies within rooms and is tested between trays.
    assert!(lettered(&model, "strength", &LetterOptions::default()).numbers.rates[0].letters.is_some());
}

#[test]
fn a_cell_that_was_not_tried_stands_aside() {
    let strength =
        factor("strength", &["0", "0", "2500", "2500", "0", "0", "0", "2500", "2500", "2500", "0", "5000", "5000"]);
    let stock = factor(
        "rootstock",
        &["K12", "K12", "K12", "K12", "K17", "K17", "K17", "K17", "K17", "K17", "K12", "K12", "K12"],
    );
    let data =
        units(UnitKind::Tray, vec![3, 5, 12, 11, 6, 8, 7, 12, 14, 13, 4, 14, 15], vec![20; 13], vec![strength, stock]);
    let model = Model::fit(&data, &spec(&["strength", "rootstock"], &[&["strength", "rootstock"]])).unwrap();
    let found = agree(&model, "strength", Some("rootstock"));
    let missing: Vec<bool> = found.numbers.rates.iter().map(|one| one.letters.is_none()).collect();
    assert_eq!(missing, [false, false, false, false, false, true]);
}
