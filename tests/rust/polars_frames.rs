//! Frames of polars, for those who use the crate from Rust.

use polars::prelude::{Categories, DataFrame, DataType, NamedFrom, Series};
use rootling::trial::{Frame, LoadOptions, Source, Trial, from_frame, read_csv};

fn options() -> LoadOptions {
    LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        tray: Some("tray".into()),
        treatments: vec!["strength".into()],
        ..LoadOptions::default()
    }
}

fn trial(columns: Vec<Series>) -> Trial {
    let height = columns[0].len();
    let frame = DataFrame::new(height, columns.into_iter().map(Into::into).collect()).unwrap();
    from_frame(Frame::try_from(&frame).unwrap(), Source::Frame, &options()).unwrap()
}

#[test]
fn a_frame_of_polars_is_the_trial_of_the_same_text() {
    let tray = Series::new("tray".into(), ["a", "b", "c", "d"]);
    let stuck = Series::new("stuck".into(), [20_u8; 4].map(u32::from));
    let rooted = Series::new("rooted".into(), [3_i64, 5, 14, 11]);
    let strength = Series::new("strength".into(), [0.0, 0.0, 2500.0, 2500.0]);
    let text = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,11,20\n";
    let plain = read_csv(text, &options()).unwrap();
    let category = tray.cast(&DataType::from_categories(Categories::global())).unwrap();
    for tray in [tray, category] {
        let found = trial(vec![strength.clone(), tray, rooted.clone(), stuck.clone()]);
        assert_eq!(found.units(), plain.units());
    }
}
