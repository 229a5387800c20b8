//! Numbers in words, citations, cautions.

use rootling::report::cautions::{self, Claims};
use rootling::report::{
    confidence, degrees_of_freedom, interval, join, number, p_value, percent, points, references, whole,
};

#[test]
fn percentages() {
    let cases = [
        (0.65, "65.0 %"),
        (0.0, "0 %"),
        (1.0, "100 %"),
        (0.0004, "< 0.1 %"),
        (0.0005, "0.1 %"),
        (0.9996, "> 99.9 %"),
        (0.999, "99.9 %"),
        (f64::NAN, "not available"),
        (f64::INFINITY, "infinite"),
        (-0.1, "-10.0 %"),
        (1.2, "120.0 %"),
    ];
    for (x, want) in cases {
        assert_eq!(percent(x), want, "{x}");
    }
}

#[test]
fn differences_in_trees_per_100() {
    let cases = [
        (0.213, "21.3"),
        (-0.041, "-4.1"),
        (0.0, "0.0"),
        (-0.0004, "0.0"),
        (-1.0, "-100.0"),
        (f64::NEG_INFINITY, "minus infinite"),
    ];
    for (x, want) in cases {
        assert_eq!(points(x), want, "{x}");
    }
}

#[test]
fn p_values_are_never_zero_and_never_round_to_one() {
    let cases = [
        (0.012, "P = 0.012"),
        (0.0047, "P = 0.0047"),
        (0.001, "P = 0.0010"),
        (0.000_99, "P < 0.001"),
        (0.0, "P < 0.001"),
        (1e-300, "P < 0.001"),
        (0.5, "P = 0.50"),
        (0.0996, "P = 0.10"),
        (0.997, "P > 0.99"),
        (1.0, "P = 1"),
        (f64::NAN, "P not available"),
    ];
    for (p, want) in cases {
        assert_eq!(p_value(p), want, "{p}");
    }
    for step in 1..2000 {
        let text = p_value(f64::from(step) / 20_000.0);
        assert!(text.bytes().any(|b| (b'1'..=b'9').contains(&b)), "{text}");
    }
}

#[test]
fn numbers() {
    let cases = [
        (0.0, "0"),
        (-0.0, "0"),
        (2.0, "2"),
        (12.3007, "12.3"),
        (0.842_17, "0.842"),
        (999.96, "1000"),
        (12_345.4, "12345"),
        (1e9, "1 x 10^9"),
        (3.217e-7, "3.22 x 10^-7"),
        (-2.5, "-2.5"),
        (f64::INFINITY, "infinite"),
        (f64::NEG_INFINITY, "minus infinite"),
        (f64::NAN, "not available"),
    ];
    for (x, want) in cases {
        assert_eq!(number(x), want, "{x}");
    }
}

#[test]
fn small_words() {
    assert_eq!(interval(points(-0.1), points(0.3), 0.95), "95 % interval -10.0 to 30.0");
    assert_eq!(interval("a", "b", 0.999), "99.9 % interval a to b");
    assert_eq!([0.95, 0.975, 0.9, 0.999].map(confidence), ["95 %", "97.5 %", "90 %", "99.9 %"]);
    let shown = [1.0, 2.0, 5.3, 1.000_000_1].map(degrees_of_freedom);
    assert_eq!(shown[..2], ["1 degree of freedom", "2 degrees of freedom"]);
    assert_eq!(shown[2..], ["5.3 degrees of freedom", "1 degree of freedom"]);
    assert_eq!(join::<&str>(&[]), "");
    assert_eq!(join(&["a".to_owned()]), "a");
    assert_eq!(join(&["a", "b"]), "a and b");
    assert_eq!(join(&["a", "b", "c"]), "a, b and c");
    assert_eq!(whole(1, "tray", "trays"), "1 tray");
    assert_eq!(whole(12, "tray", "trays"), "12 trays");
}

#[test]
fn citations_are_whole_and_single() {
    for (at, citation) in references::ALL.iter().enumerate() {
        assert!(citation.ends_with('.') && citation.contains(" (1") | citation.contains(" (2"), "{citation}");
        assert!(!references::ALL[..at].contains(citation), "{citation}");
    }
}

/// Kept for methods that come with a later part of the project; a citation leaves this list when a source file uses it.
const WAITING: [&str; 13] = [
    "COCHRAN_1954",
    "ARMITAGE_1955",
    "MANTEL_HAENSZEL_1959",
    "BRESLOW_DAY_1980",
    "TARONE_1985",
    "ROBINS_BRESLOW_GREENLAND_1986",
    "ALBERT_ANDERSON_1984",
    "WILLIAMS_1982",
    "CROWDER_1978",
    "VENZON_MOOLGAVKAR_1988",
    "RAO_SCOTT_1992",
    "HOBLYN_PALMER_1934",
    "PIEPHO_2004",
];

/// Every `.rs` file below a folder, one text.
fn source_text(folder: &std::path::Path, skip: &str) -> String {
    let mut text = String::new();
    for entry in std::fs::read_dir(folder).expect("src is there") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            text.push_str(&source_text(&path, skip));
        } else if path.extension().is_some_and(|end| end == "rs") && !path.ends_with(skip) {
            text.push_str(&std::fs::read_to_string(&path).expect("a text file"));
        }
    }
    text
}

#[test]
fn every_citation_is_used_and_says_where_it_was_confirmed() {
    let src = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let own = std::fs::read_to_string(src.join("report/references.rs")).expect("the citations");
    let (constants, after) = own.split_once("pub const ALL").expect("the list of all");
    let methods = after.split_once("pub fn of_method").expect("the citations by method").1;
    let used = source_text(&src, "report/references.rs") + methods;
    let is_used = |name: &str| used.split(|c: char| !c.is_alphanumeric() && c != '_').any(|word| word == name);
    let mut count = 0;
    for part in constants.split("pub const ").skip(1) {
        let name = part.split(':').next().unwrap_or_default();
        let listed = after.contains(&format!("    {name},\n"));
        assert!(listed, "{name} is missing in references::ALL");
        assert!(is_used(name) || WAITING.contains(&name), "{name} is cited nowhere; use it or take it out");
        count += 1;
    }
    assert_eq!(count, references::ALL.len());
    let blocks: Vec<&str> = constants.split(";\n").collect();
    for block in &blocks[..count] {
        assert!(block.contains("// Confirmed: ") || block.contains("from memory, not confirmed"), "{block}");
    }
}

#[test]
fn methods_cite_their_authors() {
    use rootling::counts::{DifferenceMethod, OddsRatioMethod, RatioMethod};
    use rootling::rates::IntervalMethod;
    let intervals = IntervalMethod::ALL.map(IntervalMethod::name);
    let ratios = RatioMethod::ALL.map(RatioMethod::name);
    let odds = OddsRatioMethod::ALL.map(OddsRatioMethod::name);
    for name in intervals.iter().chain(&ratios).chain(&odds) {
        assert!(!references::of_method(name).is_empty(), "{name}");
    }
    for name in DifferenceMethod::ALL.map(DifferenceMethod::name) {
        assert!(!references::of_method(name).is_empty(), "{name}");
    }
}

#[test]
fn cautions_have_their_codes() {
    let notes = [
        cautions::chemical(),
        cautions::best_strength(),
        cautions::few_trays(),
        cautions::trays_ignored(Claims::Both),
        cautions::small_trial(-0.2),
    ];
    assert_eq!(
        notes.each_ref().map(|n| n.code.as_str()),
        ["read_the_label", "tested_range_only", "few_trays", "trays_ignored", "small_trial"]
    );
    assert!(notes.iter().all(|n| n.text.ends_with('.') && !n.text.contains("  ")));
}

#[test]
fn a_caution_has_one_wording() {
    for claims in [Claims::OneOfEach, Claims::Intervals, Claims::PValues, Claims::Both] {
        let [none, ignored] = [cautions::no_trays(claims), cautions::trays_ignored(claims)];
        let claim = |note: &str| note.split_once(", so ").expect("what is claimed too much of").1.to_owned();
        assert_eq!(claim(&none.text), claim(&ignored.text));
    }
    // No text of a caution stands twice in the source, whatever its code.
    let text = source_text(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), "no file");
    let text: String = text.lines().filter(|line| !line.trim_start().starts_with("//")).collect();
    for told in
        ["counted as if each stood alone, so", "share its luck, so", "than each says", "draw no conclusion for food"]
    {
        assert_eq!(text.matches(told).count(), 1, "{told}");
    }
}
