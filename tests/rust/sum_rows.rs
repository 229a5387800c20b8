//! Rows that are sums are asked about; trays whose counts add up by chance are not.

use rootling::Error;
use rootling::math::rng;
use rootling::trial::{LoadOptions, read_csv};

fn options() -> LoadOptions {
    LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        block: Some("bench".into()),
        ..LoadOptions::default()
    }
}

/// A tray: strength, bench, rooted, stuck.
type Tray = (u64, u64, u64, u64);

fn sheet(trays: &[Tray]) -> String {
    let row =
        |(at, (strength, bench, rooted, stuck)): (usize, &Tray)| format!("{strength},B{bench},{at},{rooted},{stuck}\n");
    let rows: String = trays.iter().enumerate().map(row).collect();
    format!("strength,bench,tray,rooted,stuck\n{rows}")
}

/// Spreadsheet rows that are held for sums.
fn asked(trays: &[Tray]) -> Vec<u64> {
    match read_csv(sheet(trays).as_bytes(), &options()) {
        Ok(_) => Vec::new(),
        Err(Error::Data(error)) => {
            error.issues.iter().filter(|issue| issue.code == "sum_row").filter_map(|issue| issue.row).collect()
        }
        Err(other) => panic!("another kind of error: {other}"),
    }
}

/// Two to six strengths with 3 to 12 trays of 5 to 40 cuttings: of any size, of a band of sizes, or of three sizes of which one is another doubled.
fn drawn(seed: u64) -> Vec<Tray> {
    let mut random = rng::stream(seed, 0);
    let mut below = |n: u64| (rng::uniform(&mut random) * n as f64) as u64;
    let (levels, benches, kind) = (2 + below(5), 3 + below(10), below(3));
    let (low, width) = (5 + below(15), 1 + below(16));
    let mut trays = Vec::new();
    for level in 0..levels {
        let take = 2 + below(97);
        for bench in 0..benches {
            let stuck = match kind {
                0 => 5 + below(36),
                1 => low + below(width),
                _ => low * [1, 1, 2][below(3) as usize],
            };
            let rooted = (0..stuck).filter(|_| below(100) < take).count() as u64;
            trays.push((1000 * level, bench, rooted, stuck));
        }
    }
    match below(3) {
        0 => trays.sort_by_key(|tray| (tray.1, tray.0)),
        1 => trays.sort_by_key(|tray| (tray.2 * 7919 + tray.3 * 104_729) % 1013),
        _ => {}
    }
    trays
}

#[test]
fn drawn_trials_are_not_asked_about() {
    let false_alarms: Vec<u64> = (0..2000).filter(|seed| !asked(&drawn(*seed)).is_empty()).collect();
    assert!(false_alarms.is_empty(), "{false_alarms:?}");
}

#[test]
fn three_small_trays_that_add_up_are_trays() {
    let trays = [(0, 1, 2, 8), (0, 2, 3, 9), (0, 3, 5, 17), (1000, 1, 9, 18), (1000, 2, 8, 16), (1000, 3, 9, 15)];
    assert!(asked(&trays).is_empty());
}

/// The trays of each group with a row of their sums.
fn with_sums(trays: &[Tray], group: impl Fn(&Tray) -> u64, wanted: impl Fn(usize) -> bool) -> (Vec<Tray>, Vec<u64>) {
    let (mut rows, mut sums, mut from) = (Vec::new(), Vec::new(), 0);
    let mut groups = 0;
    for (at, tray) in trays.iter().enumerate() {
        rows.push(*tray);
        if trays.get(at + 1).map(&group) != Some(group(tray)) {
            if wanted(groups) {
                let of = |part: fn(&Tray) -> u64| trays[from..=at].iter().map(part).sum::<u64>();
                rows.push((tray.0, 99, of(|tray| tray.2), of(|tray| tray.3)));
                sums.push(rows.len() as u64 + 1);
            }
            (from, groups) = (at + 1, groups + 1);
        }
    }
    (rows, sums)
}

#[test]
fn sums_of_groups_and_of_all_are_asked_about() {
    for seed in 0..200 {
        let mut trays = drawn(seed);
        trays.sort_unstable();
        // A sum of nothing is not looked for, nor one below the largest tray.
        for tray in &mut trays {
            tray.3 = 15 + tray.3 % 6;
            tray.2 = tray.2.clamp(1, tray.3);
        }
        let (rows, sums) = with_sums(&trays, |tray| tray.0, |_| true);
        assert_eq!(asked(&rows), sums, "all groups of {seed}: {rows:?}");
        let (rows, sums) = with_sums(&trays, |_| 0, |_| true);
        assert_eq!(asked(&rows), sums, "the whole of {seed}: {rows:?}");
        let (rows, sums) = with_sums(&trays, |tray| tray.0, |group| group == 0);
        assert_eq!(asked(&rows), sums, "the first group of {seed}: {rows:?}");
    }
}
