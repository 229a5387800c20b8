//! The layers of error against Kenward and Roger (1997) and the analysis of variance of tray rates
//! (`tests/reference/values/layered_rates.json`, made by `tests/reference/make/layered_rates.{py,R}`: R 4.2.2, lme4 1.1.31, pbkrtest 0.5.2,
//! lmerTest 3.1.3, emmeans 1.8.4.1; numpy 2.4.6).

use approx::abs_diff_eq;
use rootling::layers::{Judged, Layers, Place, Trays};
use rootling::math::dense::Cholesky;
use serde_json::Value;

use crate::models::Table;

/// A reference case with its trays.
struct Case {
    wanted: Value,
    table: Table,
    rooted: Vec<f64>,
    stuck: Vec<f64>,
    treatments: Vec<String>,
    /// Row of the saturated design by tray, and the levels of the treatments by row.
    row: Vec<usize>,
    cells: Vec<Vec<String>>,
    design: Vec<Vec<f64>>,
    places: Vec<Place>,
}

fn names(value: &Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|name| name.as_str().unwrap().to_owned()).collect()
}

fn codes<T: Ord + Clone>(labels: &[T]) -> (Vec<u32>, Vec<T>) {
    let mut levels = labels.to_vec();
    levels.sort();
    levels.dedup();
    (labels.iter().map(|label| levels.binary_search(label).unwrap() as u32).collect(), levels)
}

fn cases() -> Vec<Case> {
    let all: Value = serde_json::from_str(include_str!("../reference/values/layered_rates.json")).unwrap();
    let read = |wanted: &Value| {
        let table = Table::read(&format!("layered/{}.csv", wanted["name"].as_str().unwrap()));
        let mut treatments: Vec<String> = wanted["treatments"].as_object().unwrap().keys().cloned().collect();
        treatments.sort();
        let labels: Vec<Vec<String>> = treatments.iter().map(|name| table.text(name)).collect();
        let keys: Vec<Vec<String>> =
            (0..table.rows.len()).map(|at| labels.iter().map(|column| column[at].clone()).collect()).collect();
        let (row, cells) = codes(&keys);
        let design =
            (0..cells.len()).map(|k| (0..cells.len()).map(|at| f64::from(u8::from(at == k))).collect()).collect();
        let places = names(&wanted["units"]).iter().map(|name| Place::new(name, &codes(&table.text(name)).0)).collect();
        Case {
            wanted: wanted.clone(),
            rooted: table.number("rooted"),
            stuck: table.number("stuck"),
            treatments,
            row: row.iter().map(|code| *code as usize).collect(),
            cells,
            design,
            places,
            table,
        }
    };
    all["cases"].as_array().unwrap().iter().map(read).collect()
}

impl Case {
    fn name(&self) -> &str {
        self.wanted["name"].as_str().unwrap()
    }

    fn balanced(&self) -> bool {
        self.wanted["balanced"].as_bool().unwrap()
    }

    fn trays(&self) -> Trays<'_> {
        Trays { rooted: &self.rooted, stuck: &self.stuck, row: &self.row, design: &self.design, places: &self.places }
    }

    fn layers(&self) -> Layers {
        Layers::of(&self.trays()).unwrap()
    }

    /// Cells whose label holds every part of a condition, "length=35,strength=0".
    fn cells_of(&self, label: &str) -> Vec<usize> {
        let wanted: Vec<(&str, &str)> = label.split(',').map(|part| part.split_once('=').unwrap()).collect();
        let fits = |cell: &Vec<String>| {
            wanted
                .iter()
                .all(|(name, level)| cell[self.treatments.iter().position(|known| known == name).unwrap()] == *level)
        };
        (0..self.cells.len()).filter(|at| fits(&self.cells[*at])).collect()
    }

    /// Weights on tray rates of the mean over cells alike.
    fn mean(&self, label: &str) -> Vec<f64> {
        let cells = self.cells_of(label);
        let count = |cell: usize| self.row.iter().filter(|row| **row == cell).count() as f64;
        let weight = |row: &usize| if cells.contains(row) { 1.0 / cells.len() as f64 / count(*row) } else { 0.0 };
        self.row.iter().map(weight).collect()
    }

    /// "strength:contrast=strength1000 - strength0,length=21" as weights on tray rates.
    fn contrast(&self, label: &str) -> Vec<f64> {
        let (treatment, rest) = label.split_once(':').unwrap();
        let (pair, place) = rest.strip_prefix("contrast=").unwrap().split_once(',').unwrap_or((&rest[9..], ""));
        let (high, low) = pair.split_once(" - ").unwrap();
        let side = |name: &str| {
            // Levels that are words stand alone, numbers follow the name of their treatment.
            let level = name.strip_prefix(treatment).unwrap_or(name);
            self.mean(&if place.is_empty() {
                format!("{treatment}={level}")
            } else {
                format!("{treatment}={level},{place}")
            })
        };
        side(high).iter().zip(side(low)).map(|(a, b)| a - b).collect()
    }

    /// The variance of weights on tray rates where cells share one variance, as the reference has them: rates of one half give every
    /// tray the same, and the scale is that of the trays' mean square.
    fn judged(&self, layers: &Layers, weights: &[f64]) -> Judged {
        let half = vec![0.5; self.row.len()];
        let on_counts = |weights: &[f64]| weights.iter().zip(&self.stuck).map(|(w, m)| w / m).collect::<Vec<f64>>();
        let found = layers.of_combination(&self.trays(), &on_counts(weights), &half);
        // Two trays of one cell and one place differ by trays alone: their variance per squared weight is the mean square of trays over
        // the size of a tray.
        let twins = self.twins();
        let known = layers.of_combination(&self.trays(), &on_counts(&twins), &half);
        let squares: f64 = twins.iter().map(|w| w * w).sum();
        let scale = squares * layers.tray_mean_square / self.stuck[0] / known.variance;
        Judged { variance: found.variance * scale, df: found.df }
    }

    /// Weights on trays in which every place adds up to 0: two of one place, or two plants in two bays each.
    fn twins(&self) -> Vec<f64> {
        let n = self.row.len();
        let same = |a: usize, b: usize, place: &Place| place.codes[a] == place.codes[b];
        let mut weights = vec![0.0; n];
        let pairs = || (0..n).flat_map(|a| (a + 1..n).map(move |b| (a, b)));
        if let Some((a, b)) = pairs().find(|(a, b)| self.places.iter().all(|place| same(*a, *b, place))) {
            (weights[a], weights[b]) = (1.0, -1.0);
            return weights;
        }
        let [bay, plant] = &self.places[..] else { panic!("no two trays alike in {}", self.name()) };
        let square = pairs().filter(|(a, b)| same(*a, *b, bay)).find_map(|(a, b)| {
            let below = pairs()
                .find(|(c, d)| same(*c, *d, bay) && !same(a, *c, bay) && same(a, *c, plant) && same(b, *d, plant));
            below.map(|(c, d)| [a, b, c, d])
        });
        for (at, sign) in square.unwrap().into_iter().zip([1.0, -1.0, -1.0, 1.0]) {
            weights[at] = sign;
        }
        weights
    }
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect()
}

#[test]
fn mean_squares_and_components_are_those_of_the_analysis_of_variance() {
    for case in cases().iter().filter(|case| case.name() != "uneven_trays") {
        let layers = case.layers();
        let anova = &case.wanted["anova"];
        let m = case.stuck[0];
        for component in &layers.components {
            // numpy 2.4.6: projections, Henderson's method 3; ours are sums over cuttings, so the rates' times the size of a tray
            assert_rel!(component.mean_square, m * anova["mean_square"][&component.name].as_f64().unwrap(), 1e-9);
            assert_rel!(component.df, anova["df"][&component.name].as_f64().unwrap(), 1e-9);
        }
        assert_rel!(layers.tray_mean_square, m * anova["mean_square"]["tray"].as_f64().unwrap(), 1e-9);
        assert_rel!(layers.tray.df, anova["df"]["tray"].as_f64().unwrap(), 1e-9);
        // Components relative to that of trays: (mean square - beneath) over its multiplier, here through correlations. A layer at 0 is
        // held there.
        let tray = anova["component"]["tray"].as_f64().unwrap();
        for component in &layers.components {
            let wanted = anova["component"][&component.name].as_f64().unwrap().max(0.0);
            let share = layers.share_within * tray_part(&layers, m);
            assert_rel!(component.correlation / share + 1.0, wanted / tray + 1.0, 1e-6);
        }
    }
}

/// The variance of the rate of a tray of `m` cuttings within all places, over that of a cutting.
fn tray_part(layers: &Layers, m: f64) -> f64 {
    (1.0 + (m - 1.0) * layers.tray.used()) / m
}

#[test]
fn balanced_layouts_have_kenward_and_rogers_errors_and_degrees_of_freedom() {
    let mut checked = 0;
    for case in cases().iter().filter(|case| case.balanced()) {
        let layers = case.layers();
        for (kind, wanted) in ["mean", "contrast"].into_iter().flat_map(|kind| {
            case.wanted["rate"][kind].as_object().unwrap().iter().map(move |(label, values)| (kind, (label, values)))
        }) {
            let (label, values) = wanted;
            let weights = if kind == "mean" { case.mean(label) } else { case.contrast(label) };
            let values = numbers(values);
            let rate: f64 = weights.iter().zip(&case.rooted).zip(&case.stuck).map(|((w, y), m)| w * y / m).sum();
            assert!(abs_diff_eq!(rate, values[0], epsilon = 1e-12), "{} {label}", case.name());
            let judged = case.judged(&layers, &weights);
            // REML ends within 1e-7 of its variances; in a balanced layout with every component above 0 both are the classical ones
            assert_rel!(judged.variance.sqrt(), values[1], 2e-6);
            assert_rel!(judged.df, values[2], 2e-6);
            checked += 1;
        }
    }
    assert!(checked > 80, "{checked}");
}

#[test]
fn layouts_with_lost_trays_come_near_kenward_and_roger() {
    let mut checked = 0;
    for case in cases().iter().filter(|case| !case.balanced() && case.name() != "uneven_trays") {
        let layers = case.layers();
        for (label, values) in case.wanted["rate"]["contrast"].as_object().unwrap() {
            let judged = case.judged(&layers, &case.contrast(label));
            let values = numbers(values);
            // Plain averages of tray rates against generalised least squares, moments against REML with Kenward and Roger's correction of
            // the covariance: with a sixth of the trays lost they part by less than the sampling error of the variances themselves.
            assert!(rel_eq!(judged.variance.sqrt(), values[1], 0.25), "{} {label}: {judged:?} {values:?}", case.name());
            assert!(rel_eq!(judged.df, values[2], 0.4), "{} {label}: {judged:?} {values:?}", case.name());
            checked += 1;
        }
    }
    assert!(checked > 40, "{checked}");
}

impl Case {
    /// Weights on tray rates that span a term: every level of its treatments against the first, averaged over the other treatments, by
    /// generalised least squares.
    fn spanning(&self, term: &str) -> Vec<Vec<f64>> {
        let levels = |name: &String| -> Vec<String> { codes(&self.table.text(name)).1 };
        let mut found: Vec<Vec<f64>> = vec![vec![1.0; self.cells.len()]];
        for (at, name) in self.treatments.iter().enumerate() {
            let (known, asked) = (levels(name), term.split(':').any(|part| part == name));
            let sides: Vec<Vec<f64>> = if asked {
                let one =
                    |k: usize| (0..known.len()).map(move |i| f64::from(u8::from(i == k)) - f64::from(u8::from(i == 0)));
                (1..known.len()).map(|k| one(k).collect()).collect()
            } else {
                vec![vec![1.0 / known.len() as f64; known.len()]]
            };
            let level = |cell: usize| known.iter().position(|level| *level == self.cells[cell][at]).unwrap();
            let times = |start: &Vec<f64>, side: &Vec<f64>| -> Vec<f64> {
                start.iter().enumerate().map(|(cell, weight)| weight * side[level(cell)]).collect()
            };
            found = found.iter().flat_map(|start| sides.iter().map(move |side| times(start, side))).collect();
        }
        let means = self.means();
        let on_trays = |cells: &Vec<f64>| -> Vec<f64> {
            (0..self.row.len()).map(|tray| cells.iter().zip(&means).map(|(w, mean)| w * mean[tray]).sum()).collect()
        };
        found.iter().map(on_trays).collect()
    }

    /// Weights on tray rates of the mean of each cell by generalised least squares, (X' V^-1 X)^-1 X' V^-1, with the reference's own
    /// variances: in a balanced layout the plain means.
    fn means(&self) -> Vec<Vec<f64>> {
        let component = |name: &str| numbers(&self.wanted["rate"]["component"][name])[0];
        let covariance = |a: usize, b: usize| {
            let places = self.places.iter().filter(|place| place.codes[a] == place.codes[b]);
            f64::from(u8::from(a == b)) * component("tray") + places.map(|place| component(&place.name)).sum::<f64>()
        };
        let n = self.row.len();
        let rows: Vec<Vec<f64>> = (0..n).map(|a| (0..n).map(|b| covariance(a, b)).collect()).collect();
        let inverse = Cholesky::new(&rows).unwrap().inverse();
        let weighted: Vec<Vec<f64>> = (0..self.cells.len())
            .map(|cell| (0..n).map(|b| (0..n).filter(|a| self.row[*a] == cell).map(|a| inverse[a][b]).sum()).collect())
            .collect();
        let held = |one: &Vec<f64>, cell: usize| -> f64 {
            one.iter().zip(&self.row).filter(|(_, row)| **row == cell).map(|(w, _)| w).sum()
        };
        let information: Vec<Vec<f64>> =
            weighted.iter().map(|one| (0..self.cells.len()).map(|cell| held(one, cell)).collect()).collect();
        let covariances = Cholesky::new(&information).unwrap().inverse();
        let mean = |row: &Vec<f64>| -> Vec<f64> {
            (0..n).map(|tray| row.iter().zip(&weighted).map(|(share, one)| share * one[tray]).sum()).collect()
        };
        covariances.iter().map(mean).collect()
    }

    /// F of a term and its degrees of freedom, on the scale of [`Case::judged`].
    fn f(&self, layers: &Layers, term: &str) -> (f64, f64, f64) {
        let spanning = self.spanning(term);
        let rate = |weights: &Vec<f64>| -> f64 {
            weights.iter().zip(&self.rooted).zip(&self.stuck).map(|((w, y), m)| w * y / m).sum()
        };
        let u: Vec<f64> = spanning.iter().map(rate).collect();
        let on_counts =
            |weights: &Vec<f64>| -> Vec<f64> { weights.iter().zip(&self.stuck).map(|(w, m)| w / m).collect() };
        let half = vec![0.5; self.row.len()];
        let combinations: Vec<Vec<f64>> = spanning.iter().map(on_counts).collect();
        let found = layers.joint_of(&self.trays(), (&u, &combinations), &half, &[]).unwrap();
        let plain = layers.of_combination(&self.trays(), &combinations[0], &half).variance;
        let scale = self.judged(layers, &spanning[0]).variance / plain;
        (found.statistic / scale, found.rank as f64, found.df)
    }
}

#[test]
fn tests_of_balanced_layouts_have_kenward_and_rogers_f_and_degrees_of_freedom() {
    let mut checked = 0;
    for case in cases().iter().filter(|case| case.balanced()) {
        let layers = case.layers();
        for (term, values) in case.wanted["rate"]["test"].as_object().unwrap() {
            // lmerTest::anova(fit, type = 3, ddf = "Kenward-Roger"): F, its degrees of freedom and those of the error
            let (wanted, found) = (numbers(values), case.f(&layers, term));
            assert_rel!(found.0, wanted[0], 1e-5);
            assert_eq!(found.1, wanted[1], "{} {term}", case.name());
            assert_rel!(found.2, wanted[2], 2e-6);
            checked += 1;
        }
    }
    assert!(checked >= 22, "{checked}");
}

#[test]
fn tests_of_layouts_with_lost_trays_come_near_kenward_and_roger() {
    let z = |f: f64, df: f64, error: f64| {
        -rootling::math::distributions::normal::quantile(
            0.5 * rootling::math::distributions::fisher_f::sf(f, df, error),
        )
    };
    let mut checked = 0;
    for case in cases().iter().filter(|case| !case.balanced() && case.name() != "uneven_trays") {
        let layers = case.layers();
        for (term, values) in case.wanted["rate"]["test"].as_object().unwrap() {
            let (wanted, (f, df, error)) = (numbers(values), case.f(&layers, term));
            let (theirs, ours) = (z(wanted[0], wanted[1], wanted[2]), z(f, df, error));
            println!(
                "{} {term}: F {f:.3} on {df}, {error:.2}; Kenward-Roger {wanted:?}; z {ours:.3} {theirs:.3}",
                case.name()
            );
            assert_eq!(df, wanted[1]);
            // The same averages; moments against REML with Kenward and Roger's correction of the covariance.
            assert!((error / wanted[2]).ln().abs() < 0.35, "{} {term}: df {error} {wanted:?}", case.name());
            assert!(
                abs_diff_eq!(ours, theirs, epsilon = 0.2 + 0.12 * theirs),
                "{} {term}: z {ours} {theirs}",
                case.name()
            );
            checked += 1;
        }
    }
    assert!(checked >= 12, "{checked}");
}

#[test]
fn both_sources_of_the_references_agree() {
    // REML and Henderson's method 3 are one in balanced layouts with components above 0: two programs, two routes.
    for case in cases().iter().filter(|case| case.balanced()) {
        let anova = &case.wanted["anova"];
        for (name, wanted) in anova["component"].as_object().unwrap() {
            assert_rel!(numbers(&case.wanted["rate"]["component"][name])[0], wanted.as_f64().unwrap(), 1e-6);
        }
        for (term, unit) in case.wanted["treatments"].as_object().unwrap() {
            let test = numbers(&case.wanted["rate"]["test"][term]);
            assert_rel!(test[2], anova["df"][unit.as_str().unwrap()].as_f64().unwrap(), 1e-9);
        }
    }
    assert_eq!(cases().iter().filter(|case| case.table.head.contains(&"stuck".to_owned())).count(), 13);
}
