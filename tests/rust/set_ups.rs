//! Trays with everything named that tests vary: a column of numbers, and trays of 20 with treatments alone.

use rootling::trial::{Factor, UnitKind, Units};

/// A column of whole numbers, one per tray; its levels are the values there are, in order.
pub(crate) fn column(name: &str, values: &[u32]) -> Factor {
    let mut levels = values.to_vec();
    levels.sort_unstable();
    levels.dedup();
    Factor {
        name: name.to_owned(),
        codes: values.iter().map(|one| levels.binary_search(one).unwrap() as u32).collect(),
        numbers: Some(levels.iter().map(|one| f64::from(*one)).collect()),
        levels: levels.iter().map(u32::to_string).collect(),
    }
}

/// Recorded trays of 20 cuttings each, with these treatments and no place.
pub(crate) fn trays_of_20(rooted: Vec<u64>, treatments: Vec<Factor>) -> Units {
    let n = rooted.len();
    Units {
        kind: UnitKind::Tray,
        stuck: vec![20; n],
        rooted,
        treatments,
        tray: Some(column("tray", &(0..n as u32).collect::<Vec<u32>>())),
        block: None,
        whole_plot: None,
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: Vec::new(),
    }
}
