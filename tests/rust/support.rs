//! Helpers: relative comparison without an absolute floor, and the reference entries with their own tolerances.

use serde_json::Value;
use std::sync::OnceLock;

/// Whether |got - want| <= rel |want|, without an absolute floor: a P value of 1e-50 is held to its digits. No NaN agrees.
///
/// `relative_eq!` compares with a share of the larger of the two, so the share is made smaller until it is one of `want`.
#[macro_export]
macro_rules! rel_eq {
    ($got:expr, $want:expr, $rel:expr) => {{
        let (got, want, rel): (f64, f64, f64) = ($got, $want, $rel);
        approx::relative_eq!(got, want, epsilon = 0.0, max_relative = rel / (1.0 + rel))
    }};
}

/// [`rel_eq!`] or the numbers in the message; two NaN agree.
#[macro_export]
macro_rules! assert_rel {
    ($got:expr, $want:expr, $rel:expr) => {
        assert_rel!($got, $want, $rel, "")
    };
    ($got:expr, $want:expr, $rel:expr, $($note:tt)+) => {{
        let (got, want, rel): (f64, f64, f64) = ($got, $want, $rel);
        assert!(
            (got.is_nan() && want.is_nan()) || $crate::rel_eq!(got, want, rel),
            "got {got:e}, want {want:e} within {rel:e} relative, off by {:e} {}",
            (got / want - 1.0).abs(),
            format_args!($($note)+)
        );
    }};
}

/// |got - want| <= abs + rel |want|; equal infinities and two NaN agree.
pub(crate) fn within(got: f64, want: f64, rel: f64, abs: f64) -> bool {
    got == want || (got.is_nan() && want.is_nan()) || (want.is_finite() && (got - want).abs() <= abs + rel * want.abs())
}

/// The whole entry of `tests/reference/expected.json`.
fn record(id: &str) -> &'static Value {
    static ALL: OnceLock<Value> = OnceLock::new();
    let all = ALL.get_or_init(|| {
        serde_json::from_str(include_str!("../reference/expected.json")).expect("expected.json is JSON")
    });
    all["entries"]
        .as_array()
        .and_then(|list| list.iter().find(|one| one["id"] == id))
        .unwrap_or_else(|| panic!("no entry {id:?} in expected.json"))
}

/// The values of an entry.
#[allow(dead_code)]
pub(crate) fn entry(id: &str) -> Value {
    record(id)["values"].clone()
}

/// A number; "inf", "-inf" and "nan" are strings in the file.
pub(crate) fn number(value: &Value) -> f64 {
    match value {
        Value::String(text) => text.parse().unwrap_or_else(|_| panic!("{text:?} is not a number")),
        other => other.as_f64().unwrap_or_else(|| panic!("{other} is not a number")),
    }
}

fn tolerance(id: &str) -> (f64, f64) {
    let given = &record(id)["tolerance"];
    (given["rel"].as_f64().unwrap_or(0.0), given["abs"].as_f64().unwrap_or(0.0))
}

fn agree(id: &str, key: &str, got: f64, want: f64) {
    let (rel, mut abs) = tolerance(id);
    // P values are held relatively only.
    if key == "p" || key.starts_with("p_") || key.ends_with("_p") || key.contains("_p_") {
        abs = 0.0;
    }
    assert!(within(got, want, rel, abs), "{id} {key}: got {got:e}, want {want:e} (rel {rel:e}, abs {abs:e})");
}

/// Compares with a single number of an entry, by the entry's tolerance.
#[allow(dead_code)]
#[track_caller]
pub(crate) fn check(id: &str, key: &str, got: f64) {
    let value = &record(id)["values"][key];
    assert!(!value.is_null(), "no value {key:?} in entry {id:?}");
    agree(id, key, got, number(value));
}

/// Compares with a list of an entry, by the entry's tolerance.
#[allow(dead_code)]
#[track_caller]
pub(crate) fn check_list(id: &str, key: &str, got: &[f64]) {
    let list = record(id)["values"][key].as_array().unwrap_or_else(|| panic!("no list {key:?} in entry {id:?}"));
    assert_eq!(list.len(), got.len(), "{id} {key}: length");
    for (got, want) in got.iter().zip(list) {
        agree(id, key, *got, number(want));
    }
}

/// The highest point of a function near a start, by Nelder and Mead's simplex begun anew until it gains nothing.
///
/// Nelder JA, Mead R (1965), Computer J. 7:308-313.
pub(crate) fn highest(f: impl Fn(&[f64]) -> f64, start: &[f64]) -> (Vec<f64>, f64) {
    let mut best = (start.to_vec(), f(start));
    for round in 0..60 {
        let step = [1.0, 0.1, 0.01][round % 3];
        let found = simplex(&f, &best.0, step);
        let gained = found.1 - best.1;
        if found.1 > best.1 {
            best = found;
        }
        if round >= 6 && round % 3 == 2 && gained < 1e-12 {
            break;
        }
    }
    best
}

fn simplex(f: &impl Fn(&[f64]) -> f64, start: &[f64], step: f64) -> (Vec<f64>, f64) {
    let n = start.len();
    let value = |at: Vec<f64>| {
        let height = f(&at);
        (at, if height.is_nan() { f64::NEG_INFINITY } else { height })
    };
    let mut all = vec![value(start.to_vec())];
    for j in 0..n {
        let mut at = start.to_vec();
        at[j] += step;
        all.push(value(at));
    }
    for _ in 0..400 * n {
        all.sort_by(|a, b| b.1.total_cmp(&a.1));
        if all[0].1 - all[n].1 < 1e-14 * (1.0 + all[0].1.abs()) {
            break;
        }
        let middle: Vec<f64> = (0..n).map(|j| all[..n].iter().map(|one| one.0[j]).sum::<f64>() / n as f64).collect();
        let towards = |share: f64| -> Vec<f64> {
            middle.iter().zip(&all[n].0).map(|(m, worst)| m + share * (m - worst)).collect()
        };
        let mut next = value(towards(1.0));
        if next.1 > all[0].1 {
            let farther = value(towards(2.0));
            next = if farther.1 > next.1 { farther } else { next };
        } else if next.1 <= all[n - 1].1 {
            next = value(towards(if next.1 > all[n].1 { 0.5 } else { -0.5 }));
        }
        if next.1 > all[n].1 {
            all[n] = next;
        } else {
            let first = all[0].0.clone();
            for one in all.iter_mut().skip(1) {
                *one = value(one.0.iter().zip(&first).map(|(x, top)| 0.5 * (x + top)).collect());
            }
        }
    }
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    all.swap_remove(0)
}
