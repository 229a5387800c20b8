//! Levels that look the same are asked about, and only those.

use rootling::error::Severity;
use rootling::trial::{BadRows, LoadOptions, read_csv};

/// The question about levels of trays under these strengths, or none.
fn asked(levels: &[&str]) -> Option<String> {
    let mut text = "strength,tray,rooted,stuck\n".to_owned();
    for (at, level) in levels.iter().enumerate() {
        text.push_str(&format!("{level},t{at},3,20\nother,u{at},4,20\n"));
    }
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strength".into()],
        tray: Some("tray".into()),
        bad_rows: BadRows::SetAside,
        ..LoadOptions::default()
    };
    let trial = read_csv(text.as_bytes(), &options).unwrap();
    let questions: Vec<_> = trial.issues().iter().filter(|issue| issue.code == "similar_levels").collect();
    assert!(
        questions
            .iter()
            .all(|issue| issue.severity == Severity::Question && issue.hint.contains("distinct_levels=True"))
    );
    questions.first().map(|issue| issue.reason.clone())
}

#[test]
fn what_looks_the_same_is_asked_about() {
    // Characters by Unicode Technical Standard 39, confusables and default-ignorable code points; written by hand.
    let cases: [(&[&str], &str); 9] = [
        (&["K12", "K12\u{200b}"], "U+200B, which cannot be seen"),
        (&["K12", "\u{feff}K12\u{2060}"], "U+FEFF, which cannot be seen; U+2060, which cannot be seen"),
        (&["Tür", "Tu\u{308}r"], "U+0308, a mark of its own; U+00FC"),
        (&["K12", "\u{41a}12"], "U+041A, Cyrillic"),
        (&["bench", "b\u{435}nch"], "U+0435, Cyrillic"),
        (&["INA", "\u{399}NA"], "U+0399, Greek"),
        (&["K12", "\u{ff2b}12"], "U+FF2B"),
        (&["k12", "\u{41a}12\u{200b}"], "U+041A, Cyrillic; U+200B, which cannot be seen"),
        (&["0.3", "0.30000000000000004"], "differ only by rounding"),
    ];
    for (levels, told) in cases {
        let reason = asked(levels).unwrap_or_default();
        assert!(reason.contains(told), "{levels:?}: {reason:?}");
    }
}

#[test]
fn what_looks_different_is_not() {
    let cases: [&[&str]; 7] = [
        &["K1", "Kl"],
        &["K0", "KO"],
        &["barn", "bam"],
        &["Tür", "Tur"],
        &["rosé", "rose"],
        &["\u{41a}12", "\u{41a}13"],
        &["0.3", "0.31"],
    ];
    for levels in cases {
        assert_eq!(asked(levels), None, "{levels:?}");
    }
}

#[test]
fn long_whole_numbers_are_not_rounded_together() {
    assert_eq!(asked(&["4006381333931", "4006381333932"]), None);
}

#[test]
fn the_case_of_letters_is_still_told_as_such() {
    assert_eq!(asked(&["K12", "k12"]).as_deref(), Some("\"K12\" and \"k12\" differ only by case or spaces"));
}
