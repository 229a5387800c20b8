//! What is said of a watched crop, word by word; and of records and questions that cannot be.

use rootling::Error;
use rootling::control::Control;
use rootling::error::Issue;
use rootling::watch::{
    Baseline, BaselineOptions, BatchOptions, BatchSpread, MixOptions, SignalOptions, TargetOptions, Watch,
    WatchOptions, WeeklyDesign, read_csv,
};

const FROM: i32 = 16_440 + 7 * 52 + 62;

/// A season of baseline and one after it, in so many places.
fn crop(places: usize) -> (Watch, Baseline) {
    let design = WeeklyDesign {
        batches: 3,
        places: vec![0.0; places],
        cultivars: vec![0.0, 0.4],
        spread: BatchSpread::Correlation(0.03),
        ..WeeklyDesign::default()
    };
    let watch = Watch::new(design.draw(3, 1), design.groupings());
    let until = BaselineOptions { until: Some(FROM), ..BaselineOptions::default() };
    let baseline = watch.baseline(&until, &Control::new()).unwrap();
    (watch, baseline)
}

/// Sentence, details, notes, methods and the texts of the table of every answer.
fn told(places: usize) -> Vec<(String, Vec<String>, String)> {
    let (watch, baseline) = crop(places);
    let control = Control::new();
    let until = BaselineOptions { until: Some(FROM), ..BaselineOptions::default() };
    let signals = SignalOptions { draws: 99, ..SignalOptions::default() };
    macro_rules! said {
        ($answer:expr) => {{
            let answer = $answer.unwrap();
            let notes = answer.notes.iter().map(|note| note.text.clone());
            let lines = answer.details.iter().cloned().chain(notes).chain([answer.sentence.clone()]).collect();
            (answer.kind.clone(), lines, answer.methods.clone())
        }};
    }
    vec![
        said!(watch.expected(&until, &control)),
        said!(watch.signals(&baseline, &signals, &control)),
        said!(watch.batch_chart(&baseline, &BatchOptions::default())),
        said!(watch.mix(&MixOptions { from: FROM, ..MixOptions::default() })),
        said!(watch.target(0.88, &baseline, &TargetOptions::default())),
    ]
}

#[test]
fn sentences_of_methods_have_thirty_words_at_most() {
    for (kind, _, methods) in told(3) {
        for sentence in methods.split(". ") {
            let words = sentence.split_whitespace().count();
            assert!((3..=30).contains(&words), "{kind}: {words} words in {sentence:?}");
        }
    }
}

#[test]
fn an_agronomist_meets_no_jargon() {
    for (kind, lines, _) in told(1).into_iter().chain(told(3)) {
        for line in lines {
            for word in
                ["layer", "alike with", "without partner", "logit", "all 1 charts", " 1 fewer trees", "like batches"]
            {
                assert!(!line.contains(word), "{kind}: {word:?} in {line:?}");
            }
        }
    }
}

#[test]
fn one_chart_and_a_small_baseline_are_told_as_such() {
    let (_, lines, methods) = told(1).remove(1);
    assert!(lines.iter().any(|line| line.ends_with("or more rarely, on the one chart.")), "{lines:?}");
    assert!(methods.contains("for one signal by chance in 104 weeks on the one chart."), "{methods}");
    let (watch, _) = crop(1);
    let short = BaselineOptions { until: Some(FROM - 200), ..BaselineOptions::default() };
    let found = watch.expected(&short, &Control::new()).unwrap();
    let note = found.notes.iter().find(|note| note.code == "provisional_baseline").unwrap();
    assert!(note.text.starts_with("The baseline is provisional: it rests on "), "{}", note.text);
    assert!(note.text.contains("150 or more make a firm one"), "{}", note.text);
}

#[test]
fn a_chart_without_a_batch_below_says_so() {
    let (watch, baseline) = crop(1);
    let options = BatchOptions { one_in: 1e9, ..BatchOptions::default() };
    let found = watch.batch_chart(&baseline, &options).unwrap();
    let count = found.numbers.batches.len();
    let said = format!("No batch among {count} lies below its lower limit; chance alone puts about 0.0 there.");
    assert_eq!(found.sentence, said);
}

#[test]
fn what_is_unknown_of_seasons_is_said_once() {
    let (_, lines, _) = told(3).remove(0);
    assert_eq!(lines.iter().filter(|line| line.contains("easons differ")).count(), 1, "{lines:?}");
}

#[test]
fn kinds_of_batches_are_explained_where_the_mix_is() {
    let (_, lines, _) = told(3).remove(3);
    let said = "Batches are of the same kind where rootstock and room are the same.";
    assert!(lines.iter().any(|line| line == said), "{lines:?}");
}

#[test]
fn drops_that_no_chart_is_for_are_refused() {
    let (watch, baseline) = crop(1);
    let ask = |drop: f64| {
        let options = SignalOptions { drop, draws: 19, ..SignalOptions::default() };
        watch.signals(&baseline, &options, &Control::new()).map(|_| ()).map_err(|error| error.to_string())
    };
    for (drop, words) in [
        (1e-300, "drop=1e-300 is below 0.001"),
        (0.000_9, "is below 0.001"),
        (0.8, "more than three quarters of the usual rate"),
        (0.95, "is not between 0 and the usual rate"),
        (0.0, "is not between 0 and the usual rate"),
        (-0.05, "is not between 0 and the usual rate"),
        (f64::NAN, "is not between 0 and the usual rate"),
    ] {
        let told = ask(drop).unwrap_err();
        assert!(told.contains(words), "{drop}: {told}");
    }
    assert!(ask(0.001).is_ok() && ask(0.6).is_ok());
}

fn options() -> WatchOptions {
    let columns =
        WatchOptions::columns("started", "alive", "set", "read").with_batch(&["batch"]).with_places(&["room"]);
    WatchOptions {
        today: Some("2026-11-30".into()),
        parent: Some("from".into()),
        status: Some("status".into()),
        ..columns
    }
}

fn load(lines: &[&str], options: &WatchOptions) -> rootling::Result<Watch> {
    read_csv(format!("batch,room,set,read,started,alive,from,status\n{}\n", lines.join("\n")).as_bytes(), options)
}

fn issues(lines: &[&str]) -> Vec<Issue> {
    match load(lines, &options()) {
        Err(Error::Record(record)) => record.issues,
        other => panic!("{other:?}"),
    }
}

fn line(batch: &str, from: &str) -> String {
    format!("{batch},A,2026-01-05,2026-03-02,15,13,{from},")
}

#[test]
fn a_batch_that_descends_from_itself_is_told_with_its_rows() {
    let lines = [line("b1", "b3"), line("b2", "b1"), line("b3", "b2"), line("b4", "b1"), line("b5", "old")];
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    let found = issues(&lines);
    let rows: Vec<(&str, Option<u64>, Option<&str>)> =
        found.iter().map(|issue| (issue.code.as_str(), issue.row, issue.column.as_deref())).collect();
    assert_eq!(rows, [2, 3, 4].map(|row| ("parents_in_circle", Some(row), Some("from"))));
    let text = load(&lines, &options()).unwrap_err().to_string();
    assert!(text.starts_with("1 problem in the record of batches:"), "{text}");
    assert!(text.contains("row 2") && text.contains("likewise in rows 3, 4"), "{text}");
    assert!(text.contains("descends from itself, by way of"), "{text}");
    // Those that are no part of it enter.
    let aside = WatchOptions { bad_rows: rootling::trial::BadRows::SetAside, ..options() };
    let names: Vec<String> = load(&lines, &aside).unwrap().batches().iter().map(|batch| batch.name.clone()).collect();
    assert_eq!(names, ["b4", "b5"]);
    let own = issues(&[&line("b1", "b1")]);
    assert!(own[0].reason.contains("named as split from itself"), "{:?}", own[0]);
    let two = issues(&[&line("b1", "a"), "b1,A,2026-01-05,2026-04-02,15,13,b,"]);
    assert_eq!((two[0].code.as_str(), two[0].row), ("two_parents", Some(3)));
}

#[test]
fn long_lines_of_descent_are_ordinary() {
    let lines: Vec<String> = (0..2000).map(|at| line(&format!("b{}x", at + 1), &format!("b{at}x"))).collect();
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    assert_eq!(load(&lines, &options()).unwrap().batches().len(), 2000);
}

#[test]
fn rows_and_questions_that_are_not_there_are_told() {
    let good = line("b1", "");
    let ask = |options: WatchOptions| load(&[&good], &options).unwrap_err().to_string();
    let rows = ask(WatchOptions { leave_out: vec![2, 9], ..options() });
    assert!(rows.contains("leave_out= names row 9, which is not in the table"), "{rows}");
    assert!(rows.contains("record of batches") && rows.contains("2 to 2"), "{rows}");
    let question = ask(WatchOptions { checked: vec!["similar_batch".into()], ..options() });
    assert!(question.contains("did you mean \"similar_batches\""), "{question}");
    let other = ask(WatchOptions { checked: vec!["sum_row".into()], ..options() });
    assert!(other.contains("similar_batches, similar_levels"), "{other}");
}

#[test]
fn reasons_name_their_column() {
    let lines = [
        line("b1", ""),
        "b1,B,2026-01-05,2026-04-02,15,13,,".to_owned(),
        "b2,A,2026-01-05,2026-03-02,15,,,".to_owned(),
        "b3,A,2026-01-05,2026-03-02,15,13,,moved".to_owned(),
        "b4,A,2026-01-05,2026-01-20,15,13,,".to_owned(),
        line("b5", ""),
    ];
    let found = issues(&lines.iter().map(String::as_str).collect::<Vec<_>>());
    let columns: Vec<(&str, Option<&str>)> =
        found.iter().map(|issue| (issue.code.as_str(), issue.column.as_deref())).collect();
    let want = [("batch_in_two_places", "room"), ("not_read", "alive"), ("moved", "status"), ("not_due", "read")];
    assert_eq!(columns, want.map(|(code, column)| (code, Some(column))));
}

#[test]
fn a_table_that_cannot_be_read_is_one_of_batches() {
    for text in ["", "batch,batch\n1,2\n", "batch\n\"b1"] {
        let error = read_csv(text.as_bytes(), &options()).unwrap_err();
        assert!(matches!(error, Error::Record(_)), "{error:?}");
        assert!(error.to_string().contains("the record of batches"), "{error}");
    }
}
