//! Cells of tables: each scale at its edges, heads, and the four places where a table is read.

use rootling::Sheet;
use rootling::answer::{Cells, Column, Scale, Scales};
use rootling::report::{Format, cells, heading, render, rendered, written};

const SIZES: [f64; 8] = [0.0, -0.0, 1.0, 1e-300, 1e300, f64::INFINITY, f64::NEG_INFINITY, f64::NAN];

fn all(scale: Scale) -> [String; 8] {
    SIZES.map(|x| written(x, scale))
}

#[test]
fn rates_are_never_rounded_onto_0_or_1() {
    let cases = [
        (0.0, "0.0 %"),
        (-0.0, "0.0 %"),
        (-1e-9, "0.0 %"),
        (1e-300, "< 0.1 %"),
        (0.0002, "< 0.1 %"),
        (0.000_499_9, "< 0.1 %"),
        (0.0005, "0.1 %"),
        (0.6583, "65.8 %"),
        (0.9994, "99.9 %"),
        (0.9995, "> 99.9 %"),
        (0.999_96, "> 99.9 %"),
        (1.0 - f64::EPSILON, "> 99.9 %"),
        (1.0, "100.0 %"),
        (1.2, "120.0 %"),
        (f64::INFINITY, "no upper limit"),
        (f64::NEG_INFINITY, "no lower limit"),
    ];
    for (x, want) in cases {
        assert_eq!(written(x, Scale::Rate), want, "{x}");
    }
    for step in 1..20_000 {
        let text = written(f64::from(step) / 20_000.0, Scale::Rate);
        assert!(!["0.0 %", "100.0 %"].contains(&text.as_str()), "{step}");
    }
}

#[test]
fn differences_have_a_sign_and_sizes_none() {
    let cases = [
        (0.283, "+28.3 points", "28.3 points"),
        (-0.041, "-4.1 points", "-4.1 points"),
        (0.0, "0.0 points", "0.0 points"),
        (-0.0, "0.0 points", "0.0 points"),
        (-0.0004, "0.0 points", "0.0 points"),
        (-1e-300, "0.0 points", "0.0 points"),
        (-1.0, "-100.0 points", "-100.0 points"),
        (f64::INFINITY, "no upper limit", "no upper limit"),
        (f64::NEG_INFINITY, "no lower limit", "no lower limit"),
    ];
    for (x, difference, size) in cases {
        assert_eq!([written(x, Scale::Difference), written(x, Scale::Size)], [difference, size], "{x}");
    }
}

#[test]
fn a_p_value_is_never_0_and_1_only_where_it_is() {
    let want = ["< 0.001", "< 0.001", "1", "< 0.001", "1", "not available", "not available", "not available"];
    assert_eq!(all(Scale::P), want);
    let cases = [(0.001, "0.0010"), (0.17, "0.17"), (0.0837, "0.084"), (0.995, "0.99"), (0.9951, "> 0.99")];
    for (p, want) in cases {
        assert_eq!(written(p, Scale::P), want, "{p}");
    }
}

#[test]
fn strengths_counts_and_levels_are_never_powers_of_ten() {
    let cases = [
        (0.25, "0.25"),
        (0.000_02, "0.00002"),
        (1e-12, "0.000000000001"),
        (1e-13, "0"),
        (-0.0, "0"),
        (999.96, "1000"),
        (3366.4, "3366"),
        (12_500.0, "12500"),
        (9_999.7, "10000"),
        (2.5e10, "25000000000"),
        (-12_500.0, "-12500"),
        (f64::INFINITY, "no upper limit"),
    ];
    for scale in [Scale::Strength, Scale::Count, Scale::Level] {
        for (x, want) in cases {
            assert_eq!(written(x, scale), want, "{scale:?} {x}");
        }
    }
    assert_eq!(written(f64::INFINITY, Scale::StrengthOrNever), "or never reached");
    assert_eq!(written(f64::NEG_INFINITY, Scale::StrengthOrNever), "no lower limit");
    assert_eq!(written(900.0, Scale::StrengthOrNever), "900");
}

#[test]
fn other_numbers_have_four_digits_and_no_notation_of_programs() {
    let cases = [
        (0.0, "0"),
        (-8.46e-17, "0"),
        (1.0, "1"),
        (0.001_234_56, "0.001235"),
        (0.000_099_999_9, "0.0001"),
        (0.000_012_34, "1.234 x 10^-5"),
        (12_345.678, "12346"),
        (-1.0, "-1"),
        (3.0e9, "3 x 10^9"),
        (1e300, "1 x 10^300"),
        (f64::INFINITY, "no upper limit"),
        (f64::NEG_INFINITY, "no lower limit"),
    ];
    for scale in [Scale::Ratio, Scale::OddsRatio, Scale::Statistic, Scale::Plain] {
        for (x, want) in cases {
            assert_eq!(written(x, scale), want, "{scale:?} {x}");
        }
    }
}

#[test]
fn degrees_are_whole_where_rounding_alone_parts_them() {
    let cases = [(7.999, "8"), (5.32, "5.3"), (48.0, "48"), (0.0, "0"), (-0.0, "0"), (1e6, "1000000")];
    for (x, want) in cases {
        assert_eq!(written(x, Scale::Degrees), want, "{x}");
    }
}

#[test]
fn confidence_has_no_needless_decimals_and_no_certainty() {
    let cases = [(0.95, "95 %"), (0.975, "97.5 %"), (0.952_381, "95.2381 %"), (1.0, "100 %"), (0.0, "0 %")];
    for (x, want) in cases {
        assert_eq!(written(x, Scale::Confidence), want, "{x}");
    }
    assert_eq!([1.0 - 1e-10, 1e-300].map(|x| written(x, Scale::Confidence)), ["> 99.9999 %", "< 0.0001 %"]);
}

#[test]
fn nothing_is_written_as_programs_do() {
    let sizes = (-310..309).map(|power| 10_f64.powi(power)).flat_map(|x| [1.5 * x, 9.9999 * x, -x]).chain(SIZES);
    for x in sizes {
        for scale in Scale::ALL {
            let text = written(x, scale);
            let program = ["inf", "NaN", "nan", "-0.0 ", "e-", "e+"].iter().any(|one| text.contains(one));
            assert!(!program && !text.is_empty() && text != "-0", "{scale:?} {x}: {text}");
        }
    }
}

#[test]
fn scales_keep_their_names_in_records() {
    for scale in Scale::ALL {
        assert_eq!(serde_json::to_string(&scale).unwrap(), format!("\"{}\"", scale.name()));
        assert_eq!(Scale::from(scale.name().to_owned()), scale);
    }
    assert_eq!(Scale::from("of a later version".to_owned()), Scale::Plain);
}

/// A table with every trouble that a user's names can make.
fn odd() -> Sheet {
    let mut sheet = Sheet::default();
    sheet.level("my_level & 50 %", ["a|b_c", "<b>\"x\"</b>\n$y$"]).whole("rooted", [Some(9), None]).headed("alive");
    sheet.scaled("value", vec![Scale::Rate, Scale::Difference], [0.0002, -0.283]).plain("odd", [1e-7, f64::NAN]);
    sheet
}

#[test]
fn a_table_is_safe_where_it_is_read() {
    let terminal = "\
my level & 50 %        alive         value        odd
a|b_c                      9       < 0.1 %  1 x 10^-7
<b>\"x\"</b><U+000A>$y$         -28.3 points
";
    assert_eq!(render(&odd()), terminal);
    let markdown = r#"| my level \& 50 % | alive | value | odd |
| :-- | --: | --: | --: |
| a\|b\_c | 9 | \< 0.1 % | 1 x 10^-7 |
| \<b\>"x"\</b\>\<U+000A\>\$y\$ |  | -28.3 points |  |
"#;
    assert_eq!(rendered(&odd(), Format::Markdown), markdown);
    let latex = r"\begin{tabular}{lrrr}
\hline
my level \& 50 \% & alive & value & odd \\
\hline
a\textbar{}b\_c & 9 & \textless{} 0.1 \% & 1 $\times$ $10^{-7}$ \\
\textless{}b\textgreater{}''x''\textless{}/b\textgreater{}\textless{}U+000A\textgreater{}\$y\$ &  & $-$28.3 points &  \\
\hline
\end{tabular}
";
    assert_eq!(rendered(&odd(), Format::Latex), latex);
    let html = cells(&odd(), Format::Html);
    assert_eq!(html.heads[0], "my level &amp; 50 %");
    assert_eq!(html.rows[1][0], "&lt;b&gt;&quot;x&quot;&lt;/b&gt;&lt;U+000A&gt;$y$");
    assert_eq!(html.rows[0][2], "&lt; 0.1 %");
    let page = rendered(&odd(), Format::Html);
    assert!(page.starts_with("<table>\n<thead><tr><th style=\"text-align:left\">my level"), "{page}");
    assert!(page.contains("<td style=\"text-align:right\">-28.3 points</td>"));
    assert_eq!([Format::Terminal, Format::Latex].map(|format| rendered(&Sheet::default(), format)), ["", ""]);
}

#[test]
fn a_table_that_does_not_say_its_scales_is_read_by_names() {
    let number = |name: &str, values: Cells| Column {
        name: name.into(),
        kind: "number".into(),
        values,
        scale: None,
        unit: None,
        head: None,
    };
    let columns = vec![
        number("p", Cells::Number(vec![Some(1e-300), None])),
        number("take", Cells::Number(vec![Some(0.0002), Some(1.0)])),
        number("value", Cells::Whole(vec![Some(1), Some(12_345)])),
        number("error_df", Cells::Number(vec![Some(7.999), Some(f64::NAN)])),
    ];
    let shown = cells(&Sheet { columns }, Format::Terminal);
    assert_eq!(shown.heads, ["P value", "take", "value", "error df"]);
    assert_eq!(shown.rows, [["< 0.001", "< 0.1 %", "1", "8"], ["", "100.0 %", "12345", ""]]);
    assert!(shown.numeric.iter().all(|numeric| *numeric));
    let record = r#"{"columns":[{"name":"p","kind":"number","values":[0.5]}]}"#;
    let sheet: Sheet = serde_json::from_str(record).unwrap();
    assert_eq!(serde_json::to_string(&sheet).unwrap(), record);
}

#[test]
fn a_users_column_keeps_its_name() {
    let mut sheet = Sheet::default();
    sheet.level("p", ["a"]).level("value", ["b"]).rate("value", [0.5]).p("low", [0.2]);
    assert_eq!(cells(&sheet, Format::Terminal).heads, ["p", "value (your column)", "value", "from"]);
    assert_eq!(heading("n_cuttings"), "cuttings");
    let mut sheet = Sheet::default();
    sheet.rate("value", [0.5, 0.5]);
    assert_eq!(sheet.columns[0].scale, Some(Scales::One(Scale::Rate)));
}
