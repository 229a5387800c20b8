//! A hurdle law of counts and a cumulative logit of grades, row by row: `laws_side_by_side.py` writes the tables and sets the times beside those
//! of general packages.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::indexing_slicing)]

use std::time::Instant;

use rootling::control::Control;
use rootling::math::regression::counts::{CountCell, CountLaw, CountPattern, CountRegression, Zeros};
use rootling::math::regression::{Cumulative, GradeRows};

const ROUNDS: usize = 7;

/// What was counted, a measurement, a group of three.
fn table(path: &str) -> Vec<(u64, f64, usize)> {
    let text = std::fs::read_to_string(path).unwrap();
    let row = |line: &str| {
        let parts: Vec<f64> = line.split(',').map(|part| part.parse().unwrap()).collect();
        (parts[0] as u64, parts[1], parts[2] as usize)
    };
    text.lines().skip(1).map(row).collect()
}

/// The least time of some rounds, in milliseconds.
fn least<T>(work: impl Fn() -> T) -> (f64, T) {
    let one = || {
        let start = Instant::now();
        let found = work();
        (start.elapsed().as_secs_f64() * 1e3, found)
    };
    (0..ROUNDS).map(|_| one()).min_by(|a, b| a.0.total_cmp(&b.0)).unwrap()
}

fn row(x: f64, group: usize) -> Vec<f64> {
    vec![1.0, x, f64::from(u8::from(group == 1)), f64::from(u8::from(group == 2))]
}

fn main() {
    // Without a folder there is nothing to measure.
    let Some(folder) = std::env::args().find(|one| std::path::Path::new(one).join("counts.csv").exists()) else {
        println!("write: cargo bench --bench laws -- FOLDER, with counts.csv and grades.csv; see laws_side_by_side.py");
        return;
    };
    let counts = table(&format!("{folder}/counts.csv"));
    let hurdle = || {
        let pattern = |(_, x, group): &(u64, f64, usize)| {
            let own = row(*x, *group);
            CountPattern { zero: own.clone(), count: own, offset: 0.0 }
        };
        let cell = |(pattern, one): (usize, &(u64, f64, usize))| CountCell { pattern, count: one.0, times: 1.0 };
        let given = CountRegression {
            law: CountLaw::NegativeBinomial,
            zeros: Zeros::Apart,
            patterns: counts.iter().map(pattern).collect(),
            cells: counts.iter().enumerate().map(cell).collect(),
        };
        given.fit(&Control::new()).unwrap().loglik
    };
    let (time, loglik) = least(hurdle);
    println!("hurdle {time:.2} {loglik:.6}");
    let grades = table(&format!("{folder}/grades.csv"));
    let logit = || {
        let column = |of: &dyn Fn(&(u64, f64, usize)) -> f64| grades.iter().map(of).collect::<Vec<f64>>();
        let columns = [
            column(&|one| one.1),
            column(&|one| f64::from(u8::from(one.2 == 1))),
            column(&|one| f64::from(u8::from(one.2 == 2))),
        ];
        let held: Vec<usize> = grades.iter().map(|one| one.0 as usize - 1).collect();
        let rows = GradeRows::grouped(&columns, &held, 5).unwrap();
        Cumulative { rows: &rows, partial: &[] }.fit().unwrap().ln_likelihood
    };
    let (time, loglik) = least(logit);
    println!("grades {time:.2} {loglik:.6}");
}
