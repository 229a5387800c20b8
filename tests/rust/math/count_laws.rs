//! Laws of counts beside published counts, by row: articles (Long 1990) and calls of owl nestlings (Roulin and Bersier 2007).

use rootling::control::Control;
use rootling::math::regression::counts::{
    CountCell, CountFit, CountLaw, CountPattern, CountRegression, Expected, Zeros, probabilities,
};
use serde_json::Value;

use crate::support::number;

/// A table with names of its columns.
fn table(text: &'static str) -> (Vec<&'static str>, Vec<Vec<&'static str>>) {
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let names = lines.next().unwrap().split(',').collect();
    (names, lines.map(|line| line.split(',').collect()).collect())
}

fn column(table: &(Vec<&str>, Vec<Vec<&str>>), name: &str) -> Vec<f64> {
    let at = table.0.iter().position(|one| *one == name).unwrap();
    table.1.iter().map(|row| row[at].parse().unwrap()).collect()
}

fn is(table: &(Vec<&str>, Vec<Vec<&str>>), name: &str, word: &str) -> Vec<f64> {
    let at = table.0.iter().position(|one| *one == name).unwrap();
    table.1.iter().map(|row| f64::from(u8::from(row[at] == word))).collect()
}

/// Every row a pattern of its own: a constant and these columns, in the zero part the first `zero` of them.
fn rows(counts: &[f64], columns: &[Vec<f64>], zero: usize, offset: &[f64]) -> (Vec<CountPattern>, Vec<CountCell>) {
    let row = |at: usize| -> Vec<f64> { [1.0].into_iter().chain(columns.iter().map(|one| one[at])).collect() };
    let pattern = |at: usize| CountPattern {
        zero: row(at)[..zero].to_vec(),
        count: row(at),
        offset: offset.get(at).copied().unwrap_or(0.0),
    };
    let cell = |(pattern, count): (usize, &f64)| CountCell { pattern, count: *count as u64, times: 1.0 };
    ((0..counts.len()).map(pattern).collect(), counts.iter().enumerate().map(cell).collect())
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

/// `tests/reference/values/count_laws.json`, made with R 4.2.2 (MASS 7.3.58.2, pscl 1.5.5, glmmTMB 1.1.5) by `make/count_laws.R`.
fn agrees(name: &str, fit: &CountFit) {
    let all: Value = serde_json::from_str(include_str!("../../reference/values/count_laws.json")).unwrap();
    let entries = all["entries"].as_array().unwrap();
    let want = entries.iter().find(|one| one["name"] == name).unwrap();
    for part in ["count", "zero"] {
        let (got, want) = (if part == "count" { &fit.count } else { &fit.zero }, numbers(&want[part]));
        assert_eq!(got.len(), want.len(), "{name} {part}");
        for (got, want) in got.iter().zip(want) {
            assert_rel!(*got, want, 1e-8, "{name} {part}");
        }
    }
    assert_rel!(fit.loglik, number(&want["loglik"]), 1e-10, "{name}");
    let spread = number(&want["spread"]);
    assert!(if spread == 0.0 { fit.spread == 0.0 } else { (fit.spread / spread - 1.0).abs() < 1e-8 }, "{name}");
    for (got, want) in fit.se.iter().zip(numbers(&want["se"])) {
        assert_rel!(got.unwrap(), want, 1e-6, "{name} se");
    }
}

#[test]
fn articles_of_doctoral_students() {
    let table = table(include_str!("../../data/long_1990.csv"));
    let columns: Vec<Vec<f64>> = ["women", "married", "young_children", "prestige", "mentor_articles"]
        .iter()
        .map(|name| column(&table, name))
        .collect();
    let counts = column(&table, "articles");
    for (law, law_name) in [(CountLaw::Poisson, "poisson"), (CountLaw::NegativeBinomial, "negative-binomial")] {
        for (zeros, start) in [(Zeros::Plain, ""), (Zeros::Apart, "hurdle-"), (Zeros::Added, "zero-inflated-")] {
            let width = if zeros == Zeros::Plain { 0 } else { 6 };
            let (patterns, cells) = rows(&counts, &columns, width, &[]);
            let fit = CountRegression { law, zeros, patterns, cells }.fit(&Control::new()).unwrap();
            agrees(&format!("articles, {start}{law_name}"), &fit);
        }
    }
}

#[test]
fn calls_of_owl_nestlings_by_brood() {
    let table = table(include_str!("../../data/roulin_bersier_2007.csv"));
    let (satiated, male) = (is(&table, "food", "satiated"), is(&table, "parent", "male"));
    let both: Vec<f64> = satiated.iter().zip(&male).map(|(a, b)| a * b).collect();
    let offset: Vec<f64> = column(&table, "brood").iter().map(|size| size.ln()).collect();
    let (counts, columns) = (column(&table, "calls"), [satiated, male, both]);
    let law = CountLaw::NegativeBinomial;
    for (zeros, start) in [(Zeros::Plain, ""), (Zeros::Apart, "hurdle-"), (Zeros::Added, "zero-inflated-")] {
        let (patterns, cells) = rows(&counts, &columns, usize::from(zeros != Zeros::Plain), &offset);
        let fit = CountRegression { law, zeros, patterns, cells }.fit(&Control::new()).unwrap();
        agrees(&format!("owls, {start}negative-binomial"), &fit);
    }
}

#[test]
fn very_many_rows_give_what_few_patterns_do() {
    // 5,000 rows one by one and put together: the same sums in another order.
    let counts: Vec<f64> =
        (0..5000).map(|at| f64::from((at * at + at / 7) % 9) * f64::from(u8::from(at % 3 > 0))).collect();
    let group: Vec<f64> = (0..5000).map(|at| f64::from(at % 2)).collect();
    let (patterns, cells) = rows(&counts, std::slice::from_ref(&group), 2, &[]);
    let law = CountLaw::NegativeBinomial;
    let apart = CountRegression { law, zeros: Zeros::Apart, patterns, cells }.fit(&Control::new()).unwrap();
    let (two, _) = rows(&[0.0, 0.0], &[vec![0.0, 1.0]], 2, &[]);
    let cell = |(group, count): (&f64, &f64)| CountCell { pattern: *group as usize, count: *count as u64, times: 1.0 };
    let cells = group.iter().zip(&counts).map(cell).collect();
    let together = CountRegression { law, zeros: Zeros::Apart, patterns: two, cells }.fit(&Control::new()).unwrap();
    assert_rel!(apart.loglik, together.loglik, 1e-12);
    for (got, want) in apart.count.iter().chain(&apart.zero).zip(together.count.iter().chain(&together.zero)) {
        assert_rel!(*got, *want, 1e-8);
    }
}

#[test]
fn what_is_expected_agrees_with_probabilities() {
    for zeros in [Zeros::Plain, Zeros::Truncated, Zeros::Apart, Zeros::Added] {
        for spread in [0.0, 0.4, 3.0] {
            let (eta, zeta) = (0.7, -0.4);
            let of = probabilities(zeros, eta, zeta, spread, 3000);
            let expected = Expected::at(zeros, eta, zeta, spread);
            assert_rel!(of.iter().sum::<f64>(), 1.0, 1e-9);
            assert_rel!(1.0 - of[0], expected.any, 1e-9);
            let mean: f64 = of.iter().enumerate().map(|(count, p)| count as f64 * p).sum();
            assert_rel!(mean, expected.mean, 1e-9);
            // Slopes beside differences.
            let step = 1e-5;
            let moved = |by: [f64; 3]| {
                Expected::at(zeros, eta + by[0], zeta + by[1], if spread > 0.0 { spread * by[2].exp() } else { 0.0 })
            };
            for at in 0..3 {
                let mut by = [0.0; 3];
                by[at] = step;
                let (up, down) = (moved(by), moved(by.map(|x| -x)));
                approx::assert_abs_diff_eq!(
                    expected.any_slopes[at],
                    (up.any - down.any) / (2.0 * step),
                    epsilon = 1e-8
                );
                approx::assert_abs_diff_eq!(
                    expected.mean_slopes[at],
                    (up.mean - down.mean) / (2.0 * step),
                    epsilon = 1e-8
                );
            }
        }
    }
}
