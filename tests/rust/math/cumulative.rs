//! Cumulative logits of grades: published fits, the test of one slope, and two grades as the binomial logit.

use rootling::math::regression::{
    Cumulative, CumulativeFit, GradeRows, columns_score, combination_score, proportional_odds,
};
use serde_json::Value;

use crate::support::{entry, number};

/// Bitterness of wine, five grades, by temperature and contact: Randall (1989), Biometrical Journal 31:781-793.
fn wine() -> GradeRows {
    let (mut columns, mut grades) = (vec![Vec::new(), Vec::new()], Vec::new());
    for line in include_str!("../../data/randall_1989.csv").lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let [_, rating, temp, contact, ..] = cells[..] else { panic!("a line of wine: {line}") };
        grades.push(rating.parse::<usize>().unwrap() - 1);
        columns[0].push(f64::from(u8::from(temp == "warm")));
        columns[1].push(f64::from(u8::from(contact == "yes")));
    }
    GradeRows::grouped(&columns, &grades, 5).unwrap()
}

/// Satisfaction with housing, three grades, by influence, type and contact: Madsen (1976); Venables and Ripley (2002), section 7.3.
fn housing() -> GradeRows {
    let (mut x, mut counts): (Vec<Vec<(usize, f64)>>, Vec<f64>) = (Vec::new(), Vec::new());
    for line in include_str!("../../data/madsen_1976.csv").lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let [satisfaction, influence, kind, contact, freq] = cells[..] else { panic!("a line of housing: {line}") };
        let place = |of: &[&str], one: &str| of.iter().position(|name| *name == one);
        let mut row = Vec::new();
        row.extend(place(&["Medium", "High"], influence).map(|at| (at, 1.0)));
        row.extend(place(&["Apartment", "Atrium", "Terrace"], kind).map(|at| (at + 2, 1.0)));
        row.extend(place(&["High"], contact).map(|at| (at + 5, 1.0)));
        let grade = place(&["Low", "Medium", "High"], satisfaction).unwrap();
        x.push(row);
        counts.extend((0..3).map(|one| if one == grade { freq.parse().unwrap() } else { 0.0 }));
    }
    GradeRows::new(6, 3, x, counts).unwrap()
}

fn fitted(rows: &GradeRows) -> CumulativeFit {
    Cumulative { rows, partial: &[] }.fit().unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

#[test]
fn wine_is_that_of_its_source() {
    let (fit, want) = (fitted(&wine()), entry("wine_clm"));
    // There the cuts are those of being at or below a grade: signs turned.
    let got: Vec<f64> = fit.cuts.iter().map(|cut| -cut).chain(fit.slopes.iter().copied()).collect();
    for (got, want) in got.iter().zip(numbers(&want["estimate"])) {
        assert_rel!(*got, want, 1e-9);
    }
    for (at, want) in numbers(&want["se"]).into_iter().enumerate() {
        assert_rel!(fit.covariance[at][at].sqrt(), want, 1e-8);
    }
    assert_rel!(fit.ln_likelihood, number(&want["loglik"]), 1e-12);
}

#[test]
fn housing_is_that_of_its_source() {
    let rows = housing();
    let fit = fitted(&rows);
    let got: Vec<f64> = fit.slopes.iter().copied().chain(fit.cuts.iter().map(|cut| -cut)).collect();
    // Printed to four digits in Venables and Ripley (2002), p. 205.
    for (got, want) in got.iter().zip(numbers(&entry("housing_polr_printed")["estimate"])) {
        assert!((got - want).abs() < 6e-5, "{got} {want}");
    }
    // clm of ordinal 2022.11-16 with gradTol = 1e-10; the entry housing_polr stopped at its fourth digit.
    let want = [
        0.566393737905927,
        1.288819110372257,
        -0.572350002041979,
        -0.366186370688950,
        -1.091014658969603,
        0.360284004569130,
        -0.496135138197093,
        0.690708259263148,
    ];
    for (got, want) in got.iter().zip(want) {
        assert_rel!(*got, want, 1e-9);
    }
    assert_rel!(-2.0 * fit.ln_likelihood, 3479.14929905895, 1e-12);
}

#[test]
fn slopes_that_differ_by_cut_are_those_of_their_source() {
    // clm(rating ~ temp, nominal = ~ contact) and clm(Sat ~ Infl + Type, nominal = ~ Cont), ordinal 2022.11-16, gradTol = 1e-10.
    let wine = wine();
    let fit = Cumulative { rows: &wine, partial: &[1] }.fit().unwrap();
    assert_rel!(fit.ln_likelihood, -86.2085532314582, 1e-12);
    let by_cut: Vec<f64> =
        std::iter::once(0.0).chain(fit.more[0].iter().copied()).map(|more| fit.slopes[1] + more).collect();
    for (got, want) in by_cut.iter().zip([1.61505921197687, 1.51156733085296, 1.67475569699166, 1.05062292776455]) {
        assert_rel!(*got, want, 1e-8);
    }
    assert_rel!(fit.slopes[0], 2.51904477351139, 1e-8);
    let housing = housing();
    assert_rel!(Cumulative { rows: &housing, partial: &[5] }.fit().unwrap().ln_likelihood, -1738.352373200, 1e-11);
}

#[test]
fn the_test_of_one_slope_is_that_of_its_definition() {
    // tests/reference/make/grades.py: slopes of the likelihood by complex steps, information summed over grades.
    let (wine, housing) = (wine(), housing());
    let cases: [(&GradeRows, &[usize], f64, usize); 7] = [
        (&wine, &[0, 1], 2.844416433513915, 6),
        (&wine, &[0], 2.102862660360317, 3),
        (&wine, &[1], 0.5612192788545702, 3),
        (&housing, &[0, 1, 2, 3, 4, 5], 8.729301868242297, 6),
        (&housing, &[0, 1], 1.0997250885301342, 2),
        (&housing, &[2, 3, 4], 5.907505220447316, 3),
        (&housing, &[5], 2.4352219094637015, 1),
    ];
    for (rows, columns, statistic, df) in cases {
        let found = proportional_odds(rows, columns).unwrap();
        assert_rel!(found.statistic, statistic, 1e-8, "{columns:?}");
        assert_eq!(found.df, df);
    }
}

#[test]
fn without_other_columns_the_score_is_kruskal_and_wallis() {
    // Three groups, four grades with ties; the statistic from ranks.
    let counts = [[5.0, 3.0, 2.0, 0.0], [1.0, 3.0, 6.0, 2.0], [0.0, 4.0, 1.0, 7.0]];
    let x = vec![vec![], vec![(0, 1.0)], vec![(1, 1.0)]];
    let rows = GradeRows::new(2, 4, x, counts.concat()).unwrap();
    let by_grade = rows.by_grade();
    let n: f64 = by_grade.iter().sum();
    let mut below = 0.0;
    let ranks: Vec<f64> = by_grade
        .iter()
        .map(|m| {
            below += m;
            below - m + (m + 1.0) / 2.0
        })
        .collect();
    let between: f64 = counts
        .iter()
        .map(|group| {
            let m: f64 = group.iter().sum();
            let mean: f64 = group.iter().zip(&ranks).map(|(n, rank)| n * rank).sum::<f64>() / m;
            m * (mean - (n + 1.0) / 2.0).powi(2)
        })
        .sum();
    let ties: f64 = by_grade.iter().map(|m| m * (m * m - 1.0)).sum::<f64>() / (n * (n * n - 1.0));
    let want = 12.0 / (n * (n + 1.0)) * between / (1.0 - ties);
    let (statistic, df) = columns_score(&rows, &[0, 1]).unwrap().statistic();
    assert_rel!(statistic, want, 1e-10);
    assert_eq!(df, 2);
}

#[test]
fn a_combination_held_at_its_estimate_has_no_score() {
    let rows = wine();
    let fit = fitted(&rows);
    for l in [[1.0, 0.0], [0.0, 1.0], [1.0, -1.0], [0.3, 2.0]] {
        let value: f64 = l.iter().zip(&fit.slopes).map(|(l, b)| l * b).sum();
        assert!(combination_score(&rows, &l, value).unwrap().signed().abs() < 1e-7);
    }
    let one = columns_score(&rows, &[0]).unwrap().statistic().0;
    assert_rel!(combination_score(&rows, &[1.0, 0.0], 0.0).unwrap().signed().powi(2), one, 1e-9);
}

#[test]
fn a_level_all_at_the_top_has_a_score_and_a_steadied_fit() {
    let rows =
        GradeRows::new(1, 4, vec![vec![], vec![(0, 1.0)]], vec![6.0, 7.0, 4.0, 3.0, 0.0, 0.0, 0.0, 20.0]).unwrap();
    let model = Cumulative { rows: &rows, partial: &[] };
    assert!(model.fit().is_err());
    let steadied = model.fit_steadied().unwrap();
    assert!(steadied.slopes[0] > 3.0 && steadied.slopes[0] < 8.0 && steadied.steadied);
    assert!(combination_score(&rows, &[1.0], 0.0).unwrap().signed() > 4.0);
    // However large the value held, the score stays above 0: there is no upper limit.
    assert!(combination_score(&rows, &[1.0], 12.0).unwrap().signed() > 0.0);
}

#[test]
fn very_many_rows_give_what_few_patterns_do() {
    // 6,000 cuttings, each a row by a tiny measurement that changes nothing much, and the same put together.
    let n = 6000;
    let group: Vec<f64> = (0..n).map(|at: usize| f64::from(u8::from(at % 3 == 1))).collect();
    let grades: Vec<usize> = (0..n).map(|at: usize| (at * at / 11 + at % 3 + at / 5) % 5).collect();
    let measured: Vec<f64> = (0..n).map(|at| ((at * 37) % 6007) as f64 / 6007.0).collect();
    let columns = [group, measured];
    // Hardly two rows are alike, so each stays a row.
    assert_eq!(GradeRows::grouped(&columns, &grades, 5).unwrap().len(), n);
    let two: Vec<usize> = (0..n).filter(|at| at % 2 == 0).collect();
    let half = |list: &[f64]| two.iter().map(|at| list[*at]).collect::<Vec<f64>>();
    let small: Vec<Vec<f64>> = columns.iter().map(|one| half(one)).collect();
    let own: Vec<usize> = two.iter().map(|at| grades[*at]).collect();
    // 3,000 rows by grade, and 1,500 patterns of two cuttings each from a column of few values.
    let coarse: Vec<f64> = small[1].iter().map(|x| (x * 700.0).floor() / 700.0).collect();
    let few = GradeRows::grouped(&[small[0].clone(), coarse.clone()], &own, 5).unwrap();
    assert!(few.len() < 2048);
    let rows = own.iter().enumerate().map(|(at, _)| vec![(0, small[0][at]), (1, coarse[at])]);
    let mut counts = vec![0.0; own.len() * 5];
    own.iter().enumerate().for_each(|(at, grade)| counts[at * 5 + grade] = 1.0);
    let many = GradeRows::new(2, 5, rows.collect(), counts).unwrap();
    assert_eq!(many.len(), 3000);
    let (few, many) = (fitted(&few), fitted(&many));
    assert_rel!(many.ln_likelihood, few.ln_likelihood, 1e-12);
    for (got, want) in many.cuts.iter().chain(&many.slopes).zip(few.cuts.iter().chain(&few.slopes)) {
        approx::assert_abs_diff_eq!(*got, *want, epsilon = 1e-9);
    }
    for (got, want) in many.covariance.iter().flatten().zip(few.covariance.iter().flatten()) {
        approx::assert_abs_diff_eq!(*got, *want, epsilon = 1e-10);
    }
}
