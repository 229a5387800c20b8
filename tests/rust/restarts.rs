//! Labels of bays, blocks and mother plants that start afresh: asked about, joined, and then the same as labels that never repeat.

use std::collections::BTreeMap;

use rootling::Error;
use rootling::compare::CompareOptions;
use rootling::control::Control;
use rootling::error::Issue;
use rootling::trial::{LoadOptions, Trial, read_csv};
use rootling::units::Strength;

/// A sheet of trays; `row` gives the columns before the counts.
fn sheet(head: &str, rows: &[String]) -> String {
    let counted = |(at, row): (usize, &String)| format!("{row},t{at},{},20\n", 3 + (7 * at + at * at / 3) % 14);
    let rows: String = rows.iter().enumerate().map(counted).collect();
    format!("{head},tray,rooted,stuck\n{rows}")
}

fn options(treatments: &[&str]) -> LoadOptions {
    LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: treatments.iter().map(|&name| name.into()).collect(),
        tray: Some("tray".into()),
        ..LoadOptions::default()
    }
}

fn issues(text: &str, options: &LoadOptions) -> Vec<Issue> {
    match read_csv(text.as_bytes(), options) {
        Err(Error::Data(error)) => error.issues,
        Err(other) => panic!("another kind of error: {other}"),
        Ok(_) => Vec::new(),
    }
}

fn load(text: &str, options: &LoadOptions) -> Trial {
    read_csv(text.as_bytes(), options).unwrap()
}

fn joined(role: &str, columns: &[&str]) -> BTreeMap<String, Vec<String>> {
    BTreeMap::from([(role.to_owned(), columns.iter().map(|&name| name.to_owned()).collect())])
}

/// Three bays in each darkness, two strengths in each; `restart` numbers the bays afresh.
fn bays(restart: bool) -> String {
    let mut rows = Vec::new();
    for (first, dark) in [(0, 0), (3, 21)] {
        for bay in 1..=3 {
            let bay = if restart { bay } else { bay + first };
            rows.extend([0, 1000].map(|strength| format!("{dark},B{bay},{strength}")));
        }
    }
    sheet("dark_days,bay,strength", &rows)
}

fn p_value(trial: &Trial, treatment: &str, first: &str, second: &str) -> (f64, String) {
    let found = trial.compare(treatment, (first, second), &CompareOptions::default(), &Control::new()).unwrap();
    (found.numbers.p.unwrap(), found.numbers.unit)
}

#[test]
fn bays_that_restart_are_asked_about_and_joined_they_are_the_units() {
    let mut restarting = LoadOptions { whole_plot: Some("bay".into()), ..options(&["dark_days", "strength"]) };
    let found = issues(&bays(true), &restarting);
    let words: Vec<String> = found.iter().map(Issue::to_string).collect();
    assert_eq!(
        words,
        [
            "column \"bay\": no treatment is the same all over a bay: \"B1\" stands under dark_days 0 and 21, in rows 2, 8, and 3 of 3 labels stand under several levels; if bay labels start afresh in each dark_days (or another treatment that whole bay labels were given), say so with whole_plot=[\"dark_days\", \"bay\"]; if every bay really held several levels, with checked=[\"restarted_whole_plots\"], and trays are compared"
        ]
    );
    assert_eq!(found[0].paste.as_deref(), Some("whole_plot=[\"dark_days\", \"bay\"]"));
    let unique = load(&bays(false), &restarting);
    let checked = LoadOptions { checked: vec!["restarted_whole_plots".into()], ..restarting.clone() };
    assert_eq!(p_value(&load(&bays(true), &checked), "dark_days", "0", "21").1, "tray");
    restarting.whole_plot = None;
    restarting.labels_within = joined("whole_plot", &["dark_days", "bay"]);
    let trial = load(&bays(true), &restarting);
    let (p, unit) = p_value(&trial, "dark_days", "0", "21");
    assert_eq!(unit, "bay within dark_days");
    assert_eq!(trial.units().whole_plot.as_ref().unwrap().levels.len(), 6);
    // The same trays in bays whose labels never repeat: nothing but the names differs.
    assert_rel!(p, p_value(&unique, "dark_days", "0", "21").0, 1e-12);
}

#[test]
fn bays_as_blocks_are_asked_about_under_several_lengths_of_darkness_alone() {
    let mut block = LoadOptions { block: Some("bay".into()), ..options(&["dark_days", "strength"]) };
    let found = issues(&bays(true), &block);
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!(
        found[0].to_string(),
        "column \"bay\": darkness is given to whole rooms and bays, but \"B1\" stands under dark_days 0 and 21, in rows 2, 8, and 3 of 3 labels stand under several levels; if bay labels start afresh in each dark_days, say so with block=[\"dark_days\", \"bay\"]; if every bay really held several levels side by side, with checked=[\"restarted_blocks\"], and trays are compared"
    );
    assert_eq!(issues(&bays(false), &block), []);
    let bench = LoadOptions { block: Some("bench".into()), ..block.clone() };
    assert_eq!(issues(&bays(true).replace("bay", "bench"), &bench), []);
    let heat = LoadOptions { treatments: vec!["heat".into(), "strength".into()], ..block.clone() };
    assert_eq!(issues(&bays(true).replace("dark_days", "heat"), &heat), []);
    // Joined they are the units of darkness, as with labels that never repeat.
    let unique = p_value(&load(&bays(false), &block), "dark_days", "0", "21").0;
    block.block = None;
    block.labels_within = joined("block", &["dark_days", "bay"]);
    let (p, unit) = p_value(&load(&bays(true), &block), "dark_days", "0", "21");
    assert_eq!(unit, "bay within dark_days");
    assert_rel!(p, unique, 1e-12);
}

#[test]
fn bays_that_are_trays_are_not_asked_about() {
    let rows: Vec<String> = (0..8).map(|at| format!("{},B{}", [0, 1000][at % 2], at / 2)).collect();
    let single = LoadOptions { whole_plot: Some("bay".into()), ..options(&["strength"]) };
    assert_eq!(issues(&sheet("strength,bay", &rows), &single), []);
}

#[test]
fn a_slip_in_a_bay_is_no_restart() {
    let text = bays(false).replace("21,B5,1000", "0,B5,1000");
    let given = LoadOptions { whole_plot: Some("bay".into()), ..options(&["dark_days"]) };
    let found = issues(&text, &given);
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!(
        found[0].to_string(),
        "column \"bay\": \"B5\" stands under dark_days 0 and 21, in rows 11, 10, while 5 of 6 bay labels have one level of dark_days; correct the entry; if it is right, say so with checked=[\"restarted_whole_plots\"]"
    );
    assert_eq!(found[0].paste, None);
}

/// Two plots in each of four blocks; darkness is dealt out to plots afresh in every block.
fn plots_in_blocks() -> String {
    let mut rows = Vec::new();
    for block in 1..=4 {
        for plot in 1..=2 {
            let dark = if (block + plot) % 2 == 0 { 0 } else { 21 };
            rows.extend([0, 1000, 3000].map(|strength| format!("{block},{plot},{dark},{strength}")));
        }
    }
    sheet("block,plot,dark_days,strength", &rows)
}

#[test]
fn plots_numbered_afresh_in_each_block_are_plots_of_their_block() {
    let mut given = options(&["dark_days", "strength"]);
    given.block = Some("block".into());
    given.whole_plot = Some("plot".into());
    let found = issues(&plots_in_blocks(), &given);
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!(
        found[0].to_string(),
        "column \"plot\": plot labels seem to start afresh in each block: there every plot holds a single level of dark_days, while \"1\" stands under dark_days 0 and 21, in rows 2, 8, and 2 of 2 labels stand under several levels; if they do, or if dark_days was given to each plot anew in each block, say so with whole_plot=[\"block\", \"plot\"]; if not, with checked=[\"restarted_whole_plots\"], and trays are compared"
    );
    given.whole_plot = None;
    given.labels_within = joined("whole_plot", &["block", "plot"]);
    let trial = load(&plots_in_blocks(), &given);
    assert_eq!(trial.units().whole_plot.as_ref().unwrap().levels.len(), 8);
    assert_eq!(p_value(&trial, "dark_days", "0", "21").1, "plot within block");
}

#[test]
fn batches_numbered_afresh_in_each_season_are_batches_of_their_season() {
    let mut rows = Vec::new();
    for season in 2024..=2026 {
        for batch in 1..=4 {
            let source = if (season + batch) % 2 == 0 { "north" } else { "south" };
            rows.extend((0..3).map(|_| format!("{season},{batch},{source}")));
        }
    }
    let mut given = options(&["source"]);
    (given.season, given.block) = (Some("season".into()), Some("batch".into()));
    let text = sheet("season,batch,source", &rows);
    // Nothing has to be asked: the batches of each season are told apart, and batches of one number may have something in common.
    assert!(issues(&text, &given).is_empty());
    let own = p_value(&load(&text, &given), "source", "north", "south");
    given.block = None;
    given.labels_within = joined("block", &["season", "batch"]);
    let named = p_value(&load(&text, &given), "source", "north", "south");
    assert_eq!((own.1.as_str(), named.1.as_str()), ("batch within season", "batch within season"));
    assert!((own.0 / named.0).ln().abs() < 0.2, "{own:?} {named:?}");
}

#[test]
fn batches_under_several_weeks_or_seasons_are_asked_about() {
    let rows: Vec<String> =
        (0..18).map(|at| format!("{},{},{}", 20 + at / 6, 1 + at % 6 / 2, [0, 1000][at % 2])).collect();
    let text = sheet("week,batch,strength", &rows);
    let mut given = LoadOptions { block: Some("batch".into()), ..options(&["week", "strength"]) };
    let found = issues(&text, &given);
    assert_eq!(found.len(), 1, "{found:#?}");
    assert!(
        found[0].to_string().contains("a batch is stuck once, but \"1\" stands under week 20, 21 and 22"),
        "{found:#?}"
    );
    assert_eq!(found[0].paste.as_deref(), Some("block=[\"week\", \"batch\"]"));
    given.treatments = vec!["strength".into()];
    given.season = Some("week".into());
    // Within seasons nothing has to be asked: the batches of each are told apart, named together or not.
    assert_eq!(load(&text, &given).units().whole_plot.as_ref().unwrap().levels.len(), 9);
    given.block = None;
    given.labels_within = joined("block", &["week", "batch"]);
    assert_eq!(load(&text, &given).units().block.as_ref().unwrap().levels.len(), 9);
    let bench = LoadOptions { block: Some("bench".into()), labels_within: BTreeMap::new(), ..given };
    assert_eq!(issues(&text.replace("batch", "bench"), &bench), []);
}

/// Four plants of each rootstock, each in two strengths of two trays; `restart` numbers them afresh.
fn plants(restart: bool, rootstocks: [&str; 2], name: &str) -> String {
    let mut rows = Vec::new();
    for (first, rootstock) in rootstocks.into_iter().enumerate() {
        for plant in 1..=4 {
            let plant = if restart { plant } else { plant + 4 * first };
            rows.extend([0, 0, 1000, 1000].map(|strength| format!("{rootstock},{plant},{strength}")));
        }
    }
    sheet(&format!("{name},plant,strength"), &rows)
}

#[test]
fn plants_that_restart_are_asked_about_and_joined_they_are_the_units() {
    let mut given = LoadOptions { stock_plant: Some("plant".into()), ..options(&["rootstock", "strength"]) };
    let text = plants(true, ["K12", "K17"], "rootstock");
    let found = issues(&text, &given);
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!(
        found[0].to_string(),
        "column \"plant\": a plant is of one rootstock, but \"1\" stands under rootstock K12 and K17, in rows 2, 18, and 4 of 4 labels stand under several levels; if plant labels start afresh in each rootstock, say so with stock_plant=[\"rootstock\", \"plant\"]; if each of these plants really gave cuttings to several levels, with checked=[\"restarted_stock_plants\"]"
    );
    let unique = load(&plants(false, ["K12", "K17"], "rootstock"), &given);
    given.stock_plant = None;
    given.labels_within = joined("stock_plant", &["rootstock", "plant"]);
    let (p, unit) = p_value(&load(&text, &given), "rootstock", "K12", "K17");
    assert_eq!(unit, "plant within rootstock");
    // As above: labels that never repeat.
    assert_rel!(p, p_value(&unique, "rootstock", "K12", "K17").0, 1e-12);
}

#[test]
fn plants_spread_over_what_was_done_to_cuttings_are_ordinary() {
    for (levels, name) in
        [(["0", "2000"], "dose"), (["IBA", "NAA"], "kind"), (["dim", "bright"], "light"), (["0", "21"], "dark_days")]
    {
        let given = LoadOptions { stock_plant: Some("plant".into()), ..options(&[name, "strength"]) };
        assert_eq!(issues(&plants(true, levels, name), &given), [], "{name}");
    }
    // Codes that are numbers are kinds of plants where the column says so, and unknown names may be.
    for (levels, name) in [(["12", "17"], "rootstock"), (["Hob", "Lob"], "origin")] {
        let given = LoadOptions { stock_plant: Some("plant".into()), ..options(&[name, "strength"]) };
        assert_eq!(issues(&plants(true, levels, name), &given).len(), 1, "{name}");
    }
}

#[test]
fn a_strength_written_two_ways_is_one_place() {
    let text = bays(true).replace("21,B1,0", "21.0,B1,0");
    let mut given = options(&["dark_days", "strength"]);
    given.strength = Some(Strength::new("IBA", "mg/L").unwrap());
    given.labels_within = joined("whole_plot", &["dark_days", "bay"]);
    assert_eq!(load(&text, &given).units().whole_plot.as_ref().unwrap().levels.len(), 6);
}
