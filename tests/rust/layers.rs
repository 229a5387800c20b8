//! Layers of error: mean squares against published tables, combinations against the classical ones, nesting and crossing.

use rootling::layers::{Layers, Place, Trays, refines};

/// Counts, rows of the design, design and places.
struct Layout {
    rooted: Vec<f64>,
    stuck: Vec<f64>,
    row: Vec<usize>,
    design: Vec<Vec<f64>>,
    places: Vec<Place>,
}

impl Layout {
    fn trays(&self) -> Trays<'_> {
        Trays { rooted: &self.rooted, stuck: &self.stuck, row: &self.row, design: &self.design, places: &self.places }
    }
}

/// One indicator per row.
fn cells(rows: usize) -> Vec<Vec<f64>> {
    (0..rows).map(|row| (0..rows).map(|at| f64::from(u8::from(at == row))).collect()).collect()
}

fn codes(names: &[String]) -> Vec<u32> {
    let mut known: Vec<&String> = names.iter().collect();
    known.sort();
    known.dedup();
    names.iter().map(|name| known.binary_search(&name).unwrap() as u32).collect()
}

/// Yates' oats as rates: yields over 200 in plots of 100.
fn oats() -> Layout {
    let lines: Vec<Vec<String>> = include_str!("../data/yates_1935.csv")
        .lines()
        .skip(1)
        .map(|line| line.trim().split(',').map(str::to_owned).collect())
        .collect();
    let column = |at: usize| lines.iter().map(|line| line[at].clone()).collect::<Vec<_>>();
    let (block, variety, nitrogen) = (codes(&column(0)), codes(&column(1)), codes(&column(2)));
    let plot: Vec<u32> = block.iter().zip(&variety).map(|(b, v)| 3 * b + v).collect();
    Layout {
        rooted: lines.iter().map(|line| line[3].parse::<f64>().unwrap() / 2.0).collect(),
        stuck: vec![100.0; lines.len()],
        row: variety.iter().zip(&nitrogen).map(|(v, n)| (4 * v + n) as usize).collect(),
        design: cells(12),
        places: vec![Place::new("plot", &plot), Place::new("block", &block)],
    }
}

#[test]
fn oats_mean_squares_and_their_combinations() {
    let oats = oats();
    let layers = Layers::of(&oats.trays()).unwrap();
    let found = |name: &str| layers.component(name).unwrap();
    // Yates (1935), JRSS Suppl. 2:181-247, the split plot of oats; mean squares by R 4.2.2: summary(aov(yield ~ variety * nitrogen +
    // Error(block / variety))); here over 400, since rates are yields over 200 and plots count 100.
    assert_rel!(400.0 * found("block").mean_square, 3175.05555555556, 1e-12);
    assert_rel!(400.0 * found("plot").mean_square, 601.330555555556, 1e-12);
    assert_rel!(400.0 * layers.tray_mean_square, 177.083333333333, 1e-12);
    assert_eq!((found("block").df, found("plot").df, layers.tray.df), (5.0, 10.0, 45.0));
    // E MS of blocks = that of plots + 12 plots' cuttings times the blocks' variance.
    assert_rel!(400.0 * found("block").beneath, 601.330555555556, 1e-12);
    assert_rel!(400.0 * found("plot").beneath, 177.083333333333, 1e-9);

    let rates = vec![0.5; 72];
    let scale = layers.tray_mean_square / layers.of_combination(&oats.trays(), &within(&oats), &rates).variance;
    let judged = |weights: &[f64]| {
        let found = layers.of_combination(&oats.trays(), weights, &rates);
        (found.variance * scale * 400.0, found.df)
    };
    // Two varieties over all nitrogens: between plots alone. Variances here are those of sums of counts over 100 x 2.
    let sign = |row: usize, first: &dyn Fn(usize) -> f64| first(row);
    let varieties: Vec<f64> = oats
        .row
        .iter()
        .map(|r| {
            sign(*r, &|r| {
                if r < 4 {
                    1.0
                } else if r < 8 {
                    -1.0
                } else {
                    0.0
                }
            })
        })
        .collect();
    let (variance, dof) = judged(&varieties);
    assert_rel!(variance / varieties.iter().map(|c| c * c).sum::<f64>(), 601.330555555556 / norm(&oats), 1e-9);
    assert_rel!(dof, 10.0, 1e-9);
    // Two nitrogens of one variety: within plots alone.
    let nitrogens: Vec<f64> = oats
        .row
        .iter()
        .map(|r| {
            if *r == 0 {
                1.0
            } else if *r == 1 {
                -1.0
            } else {
                0.0
            }
        })
        .collect();
    let (variance, dof) = judged(&nitrogens);
    assert_rel!(variance / 12.0, 177.083333333333 / norm(&oats), 1e-9);
    assert_rel!(dof, 45.0, 1e-9);
    // Two varieties at one nitrogen: (MS of plots + 3 MS within) / 4, Satterthwaite (1946) by hand from the mean squares above.
    let cell: Vec<f64> = oats
        .row
        .iter()
        .map(|r| {
            if *r == 0 {
                1.0
            } else if *r == 4 {
                -1.0
            } else {
                0.0
            }
        })
        .collect();
    let (a, b) = (601.330555555556, 3.0 * 177.083333333333);
    let (variance, dof) = judged(&cell);
    assert_rel!(variance / 12.0, (a + b) / 4.0 / norm(&oats), 1e-9);
    assert_rel!(dof, (a + b) * (a + b) / (a * a / 10.0 + b * b / 45.0), 1e-9);
}

/// A contrast within plots, of squared length 12, whose variance is 12 times the mean square within over `norm`.
fn within(oats: &Layout) -> Vec<f64> {
    oats.row
        .iter()
        .map(|r| {
            if *r == 0 {
                1.0
            } else if *r == 1 {
                -1.0
            } else {
                0.0
            }
        })
        .collect()
}

/// What variances are divided by above.
fn norm(oats: &Layout) -> f64 {
    400.0 * within(oats).iter().map(|c| c * c).sum::<f64>() / 400.0
}

#[test]
fn crossed_and_nested_places_are_told_apart() {
    let seasons: Vec<u32> = (0..48).map(|i| i / 24).collect();
    let bays: Vec<u32> = (0..48).map(|i| i / 8).collect();
    let plants: Vec<u32> = (0..48).map(|i| i % 4).collect();
    assert!(refines(&bays, &seasons) && !refines(&plants, &bays) && !refines(&seasons, &bays));
    let rooted: Vec<f64> = (0..48_u32).map(|i| f64::from((i * 7 + i * i * 3) % 13) + 3.0).collect();
    let layout = Layout {
        rooted,
        stuck: vec![20.0; 48],
        row: (0..48).map(|i| (i / 4) % 2).collect(),
        design: cells(2),
        places: vec![
            Place::new("plant", &plants),
            Place::new("bay", &bays),
            Place::new("season", &seasons),
            Place::new("same", &plants),
            Place::new("tray", &(0..48).collect::<Vec<_>>()),
            Place::new("one", &[0; 48]),
        ],
    };
    let layers = Layers::of(&layout.trays()).unwrap();
    let told: Vec<(&str, f64)> = layers.components.iter().map(|one| (one.name.as_str(), one.df)).collect();
    assert_eq!(told, [("season", 1.0), ("plant", 3.0), ("bay", 4.0)]);
    assert_eq!(layers.alike, [("same".to_owned(), "plant".to_owned())]);
    // 48 - 2 treatments - 5 bays - 3 plants
    assert_eq!(layers.tray.df, 38.0);
}

#[test]
fn relabelled_and_reordered_trays_change_nothing() {
    let oats = oats();
    let first = Layers::of(&oats.trays()).unwrap();
    let order: Vec<usize> = (0..72).map(|i| (i * 29 + 5) % 72).collect();
    let moved = |x: &[f64]| order.iter().map(|i| x[*i]).collect::<Vec<f64>>();
    let places = oats.places.iter().rev().map(|place| {
        let most = place.codes.iter().max().unwrap();
        Place::new(&place.name, &order.iter().map(|i| most - place.codes[*i]).collect::<Vec<_>>())
    });
    let other = Layout {
        rooted: moved(&oats.rooted),
        stuck: moved(&oats.stuck),
        row: order.iter().map(|i| 11 - oats.row[*i]).collect(),
        design: cells(12),
        places: places.collect(),
    };
    let second = Layers::of(&other.trays()).unwrap();
    for one in &first.components {
        let same = second.component(&one.name).unwrap();
        assert_rel!(same.mean_square, one.mean_square, 1e-10);
        assert_rel!(same.correlation, one.correlation, 1e-10);
        assert_eq!(same.df, one.df);
    }
    assert_rel!(second.tray.estimate, first.tray.estimate, 1e-10);
}

#[test]
fn a_place_with_one_level_per_treatment_has_no_degrees_of_freedom() {
    let layout = Layout {
        rooted: vec![4.0, 6.0, 9.0, 8.0, 12.0, 14.0, 8.0, 9.0],
        stuck: vec![20.0; 8],
        row: vec![0, 0, 1, 1, 2, 2, 3, 3],
        design: cells(4),
        places: vec![Place::new("bay", &[0, 0, 0, 0, 1, 1, 1, 1])],
    };
    let layers = Layers::of(&layout.trays()).unwrap();
    let bay = layers.component("bay").unwrap();
    assert_eq!((bay.df, bay.correlation), (0.0, 0.0));
    assert_eq!(layers.tray.df, 4.0);
}
