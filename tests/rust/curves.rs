//! Strength curves: published data, identities, what is refused.

use approx::abs_diff_eq;
use rootling::control::Control;
use rootling::curves::{
    CurveGroup, CurveInput, CurveOptions, Located, OneCurve, Shape, ShapeChoice, ShapeFit, TrayCount, compare_curves,
    strength_curve_of, strengths_for,
};
use rootling::math::regression::Link;

use crate::support::{check, entry, number};

/// Strength, rooted and stuck of each row of a data set.
pub(crate) fn rows(text: &str, columns: [usize; 3]) -> Vec<TrayCount> {
    let row = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        TrayCount {
            strength: cells[columns[0]].parse().unwrap(),
            rooted: cells[columns[1]].parse().unwrap(),
            stuck: cells[columns[2]].parse().unwrap(),
            block: None,
        }
    };
    text.lines().skip(1).map(row).collect()
}

pub(crate) fn input(groups: Vec<(&str, Vec<TrayCount>)>, counted: bool, options: CurveOptions) -> CurveInput {
    let group = |(name, trays): (&str, Vec<TrayCount>)| CurveGroup {
        levels: if name.is_empty() { Vec::new() } else { vec![name.to_owned()] },
        trays,
    };
    CurveInput {
        strength: None,
        unit: "mg/L".to_owned(),
        counted,
        pooled: !counted,
        blocks: None,
        bays: None,
        places: None,
        unit_of: if counted { "tray" } else { "cutting" }.to_owned(),
        called: String::new(),
        groups: groups.into_iter().map(group).collect(),
        damage: Vec::new(),
        notes: Vec::new(),
        options,
    }
}

fn shaped(shape: &str, link: Link) -> CurveOptions {
    CurveOptions { shape: shape.parse().unwrap(), link, ..CurveOptions::default() }
}

fn parameter(fit: &ShapeFit, name: &str) -> f64 {
    fit.parameters.iter().find(|one| one.name == name).unwrap_or_else(|| panic!("{name}: {:?}", fit.parameters)).value
}

fn one(input: &CurveInput) -> OneCurve {
    strength_curve_of(input, &Control::new()).unwrap().numbers.curves.remove(0)
}

fn fitted(input: &CurveInput) -> ShapeFit {
    one(input).shapes.remove(0)
}

fn curve_of(text: &str, columns: [usize; 3], shape: &str, link: Link) -> CurveInput {
    input(vec![("", rows(text, columns))], false, shaped(shape, link))
}

/// log10 of value and limits of one method.
fn log10_of(input: &CurveInput, take: f64, method: &str) -> [f64; 3] {
    let answer = strengths_for(input, take, &Control::new()).unwrap();
    let row = answer.numbers.rows.iter().find(|row| row.method.name() == method).unwrap();
    [row.value.unwrap(), row.low, row.high].map(f64::log10)
}

/// Intercept and slope on log10 strength of a shape that rises from none to all.
fn line(fit: &ShapeFit, link: Link) -> (f64, f64) {
    let slope = parameter(fit, "steepness") * std::f64::consts::LN_10;
    let median = if link == Link::ComplementaryLogLog { std::f64::consts::LN_2.ln() } else { 0.0 };
    (median - slope * parameter(fit, "strength halfway").log10(), slope)
}

fn agrees(id: &str, got: f64, want: &serde_json::Value) {
    // The entries' own tolerance: 1e-5 relative, 1e-6 absolute.
    assert!(
        abs_diff_eq!(got, number(want), epsilon = 1e-6 + 1e-5 * number(want).abs()),
        "{id}: got {got}, want {want}"
    );
}

fn check_entry(id: &str, input: &CurveInput, link: Link, takes: &[(&str, f64)]) {
    let values = entry(id);
    let fit = fitted(input);
    let (intercept, slope) = line(&fit, link);
    agrees(id, intercept, &values["estimate"][0]);
    agrees(id, slope, &values["estimate"][1]);
    check(id, "deviance", fit.deviance);
    check(id, "loglik", fit.loglik);
    for (name, take) in takes {
        let want = &values[*name];
        for (method, limits) in [("delta", "delta_ci"), ("fieller", "fieller_ci"), ("profile", "profile_ci")] {
            let [value, low, high] = log10_of(input, *take, method);
            agrees(&format!("{id} {name} {method}"), value, &want["estimate"]);
            agrees(&format!("{id} {name} {method} low"), low, &want[limits][0]);
            agrees(&format!("{id} {name} {method} high"), high, &want[limits][1]);
        }
    }
}

/// Bliss' strengths from the 4-decimal logarithms of the file, as the expected values have them.
fn bliss() -> Vec<TrayCount> {
    let mut trays = rows(include_str!("../data/bliss_beetles.csv"), [1, 3, 2]);
    trays.iter_mut().for_each(|tray| tray.strength = 10.0_f64.powf(tray.strength));
    trays
}

const ALL_OR_NONE: &str = "rising-from-none-to-all";
const LETHAL: [(&str, f64); 3] = [("log10_ld50", 0.5), ("log10_ld90", 0.9), ("log10_ld10", 0.1)];

// Bliss 1935, Annals of Applied Biology 22:134-167; R 4.2.2 glm, limits by their definitions (expected.json).
#[test]
fn beetles() {
    for (id, link) in
        [("bliss_logit", Link::Logit), ("bliss_probit", Link::Probit), ("bliss_cloglog", Link::ComplementaryLogLog)]
    {
        check_entry(id, &input(vec![("", bliss())], false, shaped(ALL_OR_NONE, link)), link, &LETHAL);
    }
    // Dobson 2002, An Introduction to Generalized Linear Models, tables 7.3 and 8.4: printed deviances.
    for (name, link) in [("logit", Link::Logit), ("probit", Link::Probit), ("cloglog", Link::ComplementaryLogLog)] {
        let fit = fitted(&input(vec![("", bliss())], false, shaped(ALL_OR_NONE, link)));
        check("bliss_deviances_printed", name, fit.deviance);
        assert_rel!(fit.lack_df, 6.0, 1.6e-13);
    }
}

// Martin 1942, Annals of Applied Biology 29:69-81; R 4.2.2 glm (expected.json).
#[test]
fn rotenone() {
    let text = include_str!("../data/martin_rotenone.csv");
    for (id, link) in [
        ("rotenone_logit", Link::Logit),
        ("rotenone_probit", Link::Probit),
        ("rotenone_cloglog", Link::ComplementaryLogLog),
    ] {
        let input = curve_of(text, [0, 2, 1], ALL_OR_NONE, link);
        check_entry(id, &input, link, &LETHAL[..2]);
        let values = entry(id);
        let fieller = log10_of(&input, 0.5, "fieller").map(|x| 10.0_f64.powf(x));
        agrees(id, fieller[0], &values["ld50"]);
        agrees(id, fieller[1], &values["ld50_fieller"][0]);
        agrees(id, fieller[2], &values["ld50_fieller"][1]);
    }
}

// Finney 1944, Annals of Applied Biology 31:68-74; R 4.2.2 optim on the three-parameter likelihood (expected.json).
#[test]
fn natural_response() {
    let text = include_str!("../data/finney_ephestia_control_mortality.csv");
    let fit = fitted(&curve_of(text, [0, 2, 1], "natural-response", Link::Probit));
    let (id, (intercept, slope)) = ("finney_ephestia_natural", line(&fit, Link::Probit));
    check(id, "C", parameter(&fit, "take without hormone"));
    check(id, "intercept", intercept);
    check(id, "slope", slope);
    check(id, "loglik", fit.loglik);
    check(id, "ld50", parameter(&fit, "strength halfway"));
}

fn hump() -> Vec<TrayCount> {
    rows(include_str!("../data/hump_invented.csv"), [0, 2, 1])
}

fn hump_of(shape: &str) -> CurveInput {
    input(vec![("", hump())], false, shaped(shape, Link::Logit))
}

// R 4.2.2 glm on x = log(1 + d/500) (expected.json).
#[test]
fn quadratic_hump() {
    let (id, fit) = ("hump_quadratic", fitted(&hump_of("hump")));
    check(id, "deviance", fit.deviance);
    check(id, "optimum_strength", parameter(&fit, "strength at the top"));
    check(id, "p_at_optimum", parameter(&fit, "take at the top"));
    let (bend, x) = (parameter(&fit, "curvature"), (parameter(&fit, "strength at the top") / 500.0).ln_1p());
    let values = entry(id);
    agrees(id, -bend, &values["estimate"][2]);
    agrees(id, 2.0 * bend * x, &values["estimate"][1]);
}

// R 4.2.2 optim, Nelder-Mead restarted, strengths in g/L (expected.json).
#[test]
fn hormetic_hump() {
    let (id, fit) = ("hump_hormetic", fitted(&hump_of("brain-cousens")));
    check(id, "c", parameter(&fit, "take without hormone"));
    check(id, "f", 1000.0 * parameter(&fit, "gain at low strengths"));
    check(id, "e", parameter(&fit, "strength of the fall") / 1000.0);
    check(id, "b", parameter(&fit, "steepness of the fall"));
    check(id, "loglik", fit.loglik);
    check(id, "optimum_g_per_l", parameter(&fit, "strength at the top") / 1000.0);
    check(id, "p_max", parameter(&fit, "take at the top"));
}

fn reference() -> serde_json::Value {
    serde_json::from_str(include_str!("../reference/values/curves.json")).unwrap()
}

// tests/reference/make/curves.py: scipy 1.17.1, differential evolution, profile by bounded searches and brentq.
#[test]
fn best_strength_of_one_shape() {
    let want = &reference()["hump"];
    for shape in ["hump", "rise-and-fall", "brain-cousens", "cedergreen"] {
        let (best, want) = (one(&hump_of(shape)).best, &want[shape]);
        assert_rel!(best.strength.value, number(&want["value"]), 1e-6);
        assert_rel!(best.strength.low, number(&want["low"]), 1e-5);
        assert_rel!(best.strength.high, number(&want["high"]), 1e-5);
        assert_eq!(best.located, Located::Inside);
    }
}

// tests/reference/make/curves.py: scipy 1.17.1, differential evolution for each power of the stimulation.
#[test]
fn powers_of_the_stimulation() {
    let want = &reference()["hump"]["cedergreen"]["powers"];
    let curve = one(&hump_of("cedergreen"));
    assert_eq!(curve.shapes.len(), 3);
    for fit in &curve.shapes {
        let want = &want[format!("{:?}", parameter(fit, "power of the stimulation"))];
        assert_rel!(fit.loglik, number(&want["loglik"]), 1e-9);
        assert_rel!(parameter(fit, "strength at the top"), number(&want["top"]), 1e-5);
        assert_rel!(parameter(fit, "take at the top"), number(&want["take"]), 1e-6);
    }
    // The formula of Cedergreen, Ritz and Streibig 2005 with the parameters as named, averaged over the powers.
    for level in &curve.strengths {
        let rate = |fit: &ShapeFit| {
            let of = |name| parameter(fit, name);
            let (c, f) = (of("take without hormone"), of("size of the stimulation"));
            let (d0, alpha) = (of("d0 of the stimulation"), of("power of the stimulation"));
            let (e, b) = (of("strength of the fall"), of("steepness of the fall"));
            let d = level.strength;
            fit.say * (c + f * (-(d0 / d).powf(alpha)).exp()) / (1.0 + (d / e).powf(b))
        };
        assert_rel!(level.fitted, curve.shapes.iter().map(rate).sum::<f64>(), 1e-10);
    }
}

// tests/reference/make/curves.py: statsmodels 0.15.0 GLM; Fieller by its quadratic, profile by offsets.
#[test]
fn straight_line() {
    let want = &reference()["straight"];
    let options =
        CurveOptions { shape: ShapeChoice::One(Shape::Straight), zero_scale: Some(50.0), ..CurveOptions::default() };
    let input = input(vec![("", bliss())], false, options);
    let fit = fitted(&input);
    assert_rel!(parameter(&fit, "slope"), number(&want["slope"]), 1e-7);
    assert_rel!(parameter(&fit, "log odds at strength 0"), number(&want["intercept"]), 1e-7);
    assert_rel!(fit.deviance, number(&want["deviance"]), 1e-8);
    let rows = strengths_for(&input, 0.5, &Control::new()).unwrap().numbers.rows;
    for (method, limits) in [("fieller", "fieller"), ("profile", "profile")] {
        let row = rows.iter().find(|row| row.method.name() == method).unwrap();
        assert_rel!(row.value.unwrap(), number(&want["half"]), 1e-8);
        assert_rel!(row.low, number(&want[limits][0]), 1e-6);
        assert_rel!(row.high, number(&want[limits][1]), 1e-6);
    }
}

// tests/reference/make/curves.py: statsmodels 0.15.0 GLM with one slope; relative potency by profile.
#[test]
fn relative_potency() {
    let want = &reference()["potency"];
    let mut other = bliss();
    for (tray, rooted) in other.iter_mut().zip(want["other"].as_array().unwrap()) {
        tray.rooted = rooted.as_u64().unwrap();
    }
    let groups = vec![("K12", bliss()), ("K17", other)];
    let mut input = input(groups, false, shaped(ALL_OR_NONE, Link::Logit));
    input.options.within = vec!["rootstock".to_owned()];
    let answer = compare_curves(&input, &Control::new()).unwrap();
    let shift = &answer.numbers.compared.distances[0];
    assert_eq!(shift.measure, "relative potency");
    assert_rel!(shift.value, number(&want["relative_potency"]), 1e-7);
    assert_rel!(shift.low, number(&want["low"]), 1e-6);
    assert_rel!(shift.high, number(&want["high"]), 1e-6);
    for (test, name) in answer.numbers.compared.tests.iter().zip(["same_form", "same_curve", "no_difference"]) {
        assert_eq!(test.method.name().replace(' ', "_"), name);
        assert_rel!(test.statistic.unwrap(), number(&want[name]), 1e-6);
        assert_rel!(test.p, number(&want[format!("p_{name}")]), 1e-5);
    }
}
