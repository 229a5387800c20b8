//! Tables of typed columns: what goes in comes out, in pieces or whole, in every width.

use std::sync::Arc;

use arrow_array::{ArrayRef, Date32Array, Int16Array, LargeStringArray, StringArray, UInt8Array, UInt64Array};
use rootling::trial::{Column, Frame, LoadOptions, Source, Trial, from_frame, read_csv};

fn options() -> LoadOptions {
    LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        tray: Some("tray".into()),
        treatments: vec!["strength".into()],
        ..LoadOptions::default()
    }
}

fn four(strength: Column, tray: Column) -> Trial {
    let rooted = Column::whole("rooted", [3, 5, 14, 11].map(Some));
    let stuck = Column::whole("stuck", [20; 4].map(Some));
    from_frame(Frame::new(vec![strength, tray, rooted, stuck]).unwrap(), Source::Frame, &options()).unwrap()
}

fn trays() -> Column {
    Column::texts("tray", ["a", "b", "c", "d"].map(Some))
}

fn pieces(name: &str, pieces: Vec<ArrayRef>) -> Column {
    Column::new(name, pieces).unwrap()
}

#[test]
fn every_width_and_every_cut_is_the_same_trial() {
    let plain = four(Column::whole("strength", [0, 0, 2500, 2500].map(Some)), trays());
    let small: ArrayRef = Arc::new(Int16Array::from(vec![0, 0, 2500]));
    let large: ArrayRef = Arc::new(UInt64Array::from(vec![2500]));
    let strengths = [
        Column::numbers("strength", [0.0, 0.0, 2500.0, 2500.0].map(Some)),
        Column::texts("strength", ["0", "0", "2500", "2500"].map(Some)),
        pieces("strength", vec![small, large]),
    ];
    let first: ArrayRef = Arc::new(StringArray::from(vec!["a"]));
    let rest: ArrayRef = Arc::new(LargeStringArray::from(vec!["b", "c", "d"]));
    for strength in strengths {
        let trial = four(strength, pieces("tray", vec![Arc::clone(&first), Arc::clone(&rest)]));
        assert_eq!(trial.units(), plain.units());
        assert_eq!(trial.fingerprint(), plain.fingerprint());
    }
    let csv = read_csv(b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,11,20\n", &options());
    assert_eq!(csv.unwrap().units(), plain.units());
}

#[test]
fn gaps_and_numbers_beyond_64_bits_are_kept() {
    let beyond: ArrayRef = Arc::new(UInt64Array::from(vec![Some(u64::MAX), None, Some(1), Some(1)]));
    let rooted: ArrayRef = Arc::new(UInt8Array::from(vec![3, 5, 14, 11]));
    let columns = vec![
        pieces("strength", vec![beyond]),
        trays(),
        pieces("rooted", vec![rooted]),
        Column::whole("stuck", [20; 4].map(Some)),
    ];
    let found = from_frame(Frame::new(columns).unwrap(), Source::Frame, &options()).unwrap_err().to_string();
    assert!(found.contains("row 2") && found.contains("strength"), "{found}");
    assert!(!found.contains("row 1,"), "{found}");
}

#[test]
fn codes_beyond_64_bits_with_a_sign_keep_their_digits() {
    let of = |codes: Vec<u64>| {
        let codes: ArrayRef = Arc::new(UInt64Array::from(codes));
        four(Column::whole("strength", [0, 0, 2500, 2500].map(Some)), pieces("tray", vec![codes]))
    };
    let large = of((0..4).map(|at| (1 << 63) + at).collect());
    assert_eq!(large.units().len(), 4);
    let written: Vec<String> = (0..4).map(|at: u64| ((1 << 63) + at).to_string()).collect();
    assert_eq!(large.units().tray.as_ref().map(|tray| tray.levels.clone()), Some(written.clone()));
    let texts = Column::texts("tray", written.iter().map(Some));
    let as_text = four(Column::whole("strength", [0, 0, 2500, 2500].map(Some)), texts);
    assert_eq!(large.fingerprint(), as_text.fingerprint());
}

#[test]
fn what_cannot_be_read_is_named() {
    let days: ArrayRef = Arc::new(Date32Array::from(vec![1, 2]));
    let found = Column::new("day", vec![days]).unwrap_err().to_string();
    assert!(found.contains("\"day\"") && found.contains("Date32"), "{found}");
    let twins = Frame::new(vec![trays(), trays()]).unwrap_err().to_string();
    assert!(twins.contains("\"tray\" appears more than once"), "{twins}");
    let short = Frame::new(vec![trays(), Column::whole("rooted", [Some(1)])]).unwrap_err().to_string();
    assert!(short.contains("\"rooted\"") && short.contains("4 and 1"), "{short}");
}

/// Quotation marks around whole fields, line ends of both kinds, short lines and blanks at the end of lines.
#[test]
fn delimited_text_is_split_as_it_is_written() {
    let text = b"strength,tray,rooted,stuck,remark\r\n0,\"a, left\",3,20,\r\n0,\"b \"\"x\"\"\",5,20,\"dry\"\r\n2500,c,14,20\r\n2500,d,11,20,,\r\n";
    let trial = read_csv(text, &options()).unwrap();
    let tray = trial.units().tray.clone().unwrap();
    assert_eq!(tray.levels, ["a, left", "b \"x\"", "c", "d"]);
    assert_eq!(trial.units().rooted, [3, 5, 14, 11]);
    assert_eq!(trial.frame().names(), ["strength", "tray", "rooted", "stuck", "remark"]);
    assert_eq!(trial.frame().height(), 4);
}
