//! Names and files to trip over: no panic, short messages, lines that Python reads, and room for the issues of a long file.

use rootling::error::Issue;
use rootling::trial::{Column, Frame, LoadOptions, read_csv};

#[test]
fn options_to_paste_are_quoted_as_python_reads_them() {
    let name = "a\0\u{7f}\u{202e}\"\\0 \u{1f333}\n";
    let issue = Issue::of_input("missing_value", "no value", "enter it").pasted(&format!("fill_down=[{name:?}]"));
    let wanted = r#"fill_down=["a\x00\U0000007f\U0000202e\"\\0 🌳\n"]"#;
    assert_eq!(issue.paste.as_deref(), Some(wanted));
}

#[test]
fn a_name_with_a_nul_is_refused() {
    let told = Frame::new(vec![Column::whole("a\0b", [Some(1)])]).unwrap_err().to_string();
    assert!(told.contains(r#"the column name "a\0b" has a sign"#), "{told}");
}

#[test]
fn of_a_file_in_which_every_row_is_wrong_the_first_rows_are_kept() {
    let rows = 30_007;
    let text: String = (0..rows).map(|row| format!("{},t{row},{},20\n", row % 2, 121 + row % 7)).collect();
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        tray: Some("tray".into()),
        treatments: vec!["strength".into()],
        ..LoadOptions::default()
    };
    let told = read_csv(format!("strength,tray,rooted,stuck\n{text}").as_bytes(), &options);
    let Err(rootling::Error::Data(data)) = told else { panic!("it was loaded") };
    let above: Vec<&Issue> = data.issues.iter().filter(|issue| issue.code == "rooted_above_stuck").collect();
    assert_eq!((above.len(), above[9_999].row), (10_000, Some(10_001)));
    let beyond: Vec<&Issue> = data.issues.iter().filter(|issue| issue.code == "more_rows").collect();
    assert_eq!((beyond.len(), beyond[0].value.as_deref()), (1, Some("20007")));
    assert!(data.to_string().contains("20007 more rows have the problem \"rooted_above_stuck\""), "{data}");
}

#[test]
fn messages_stay_short_whatever_a_header_holds() {
    let long = "x".repeat(100_000);
    let options = LoadOptions {
        rooted: "rooted".into(),
        stuck: Some("stuck".into()),
        treatments: vec!["strenth".into()],
        ..LoadOptions::default()
    };
    let text = format!("{long},strength,rooted,stuck,{}\n", vec!["two words ".repeat(50); 200].join(","));
    let told = read_csv(text.as_bytes(), &options).unwrap_err().to_string();
    assert!(told.len() < 4000, "{}", told.len());
}
