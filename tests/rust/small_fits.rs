//! Random small designs: every link and law of the trays, blocks, whole plots, numbers of any size; almost all are
//! fitted, each at once.
//!
//! `ROOTLING_SMALL_FITS=10000 cargo test --release --test rust small_fits -- --nocapture` is the long profile.

use std::time::Instant;

use rootling::math::regression::Link;
use rootling::math::rng::{binomial, deviate, stream, uniform};
use rootling::models::{Model, ModelSpec, TrayMode};
use rootling::trial::{Covariate, Factor, UnitKind, Units};

struct Draw(rand_chacha::ChaCha8Rng);

impl Draw {
    fn below(&mut self, n: u64) -> u64 {
        (uniform(&mut self.0) * n as f64) as u64
    }

    fn chance(&mut self, p: f64) -> bool {
        uniform(&mut self.0) < p
    }

    fn one<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len() as u64) as usize]
    }
}

fn factor(name: &str, codes: Vec<u32>, numbers: Option<&dyn Fn(u32) -> f64>) -> Factor {
    let levels = codes.iter().max().unwrap() + 1;
    Factor {
        name: name.to_owned(),
        levels: (0..levels).map(|level| format!("{name}{level}")).collect(),
        numbers: numbers.map(|number| (0..levels).map(number).collect()),
        codes,
    }
}

/// A trial of at most 100 trays and a model of it.
fn design(seed: u64) -> (Units, ModelSpec) {
    let mut draw = Draw(stream(2024, seed));
    let n = 6 + draw.below(95) as u32;
    let (strengths, roots, blocks) = (2 + draw.below(4) as u32, 1 + draw.below(3) as u32, 2 + draw.below(4) as u32);
    let (size, unit, shift) =
        (draw.one(&[1_u64, 5, 10, 20, 50]), draw.one(&[1.0, 1.0, 1e-6, 1e3, 1e9]), draw.one(&[0.0, 0.0, 4.6e4, 1e6]));
    let (sd, above) = (draw.one(&[0.0, 0.0, 0.3, 1.0, 2.5]), draw.one(&[0.0, 0.5, 1.5]));
    let (base, slope) = (1.5 * deviate(&mut draw.0), deviate(&mut draw.0));
    let whole = draw.chance(0.4);
    let plots: Vec<u32> = (0..n)
        .map(|t| if whole { t % strengths } else { 2 * (t % strengths) + t % (2 * strengths) / strengths })
        .collect();
    let place: Vec<u32> = (0..n).map(|t| t / (strengths * roots) % blocks).collect();
    let (with_blocks, with_plots) = (draw.chance(0.4), draw.chance(0.4));
    let effects: Vec<f64> = (0..40).map(|_| above * deviate(&mut draw.0)).collect();
    let stuck: Vec<u64> = (0..n).map(|_| (size - size / 3 + draw.below(2 * size / 3 + 1)).max(1)).collect();
    let rooted = (0..n as usize)
        .map(|t| {
            let own = if with_blocks { effects[place[t] as usize] } else { 0.0 };
            let plot = if with_plots { effects[20 + plots[t] as usize] } else { 0.0 };
            let eta = base + slope * f64::from(t as u32 % strengths) + own + plot + sd * deviate(&mut draw.0);
            binomial(&mut draw.0, stuck[t], 1.0 / (1.0 + (-eta).exp()))
        })
        .collect();
    let days = (0..n).map(|_| (10.0 + 3.0 * deviate(&mut draw.0)) * unit + shift).collect();
    let number = |level: u32| f64::from(level) * unit + shift;
    let mut treatments = vec![factor("strength", (0..n).map(|t| t % strengths).collect(), Some(&number))];
    let mut asked = vec!["strength"];
    if roots > 1 {
        treatments.push(factor("root", (0..n).map(|t| t / strengths % roots).collect(), None));
        asked.push("root");
    }
    if draw.chance(0.3) {
        asked.push("days");
    }
    let link = draw.one(&[Link::Logit, Link::Probit, Link::ComplementaryLogLog, Link::LogLog]);
    let modes = [TrayMode::Auto, TrayMode::Dispersion, TrayMode::BetaBinomial, TrayMode::Random, TrayMode::Robust];
    // Integrals are what may take long.
    let trays = if draw.chance(0.4) { TrayMode::Random } else { draw.one(&modes) };
    let mut spec = ModelSpec { link, trays, ..ModelSpec::of(&asked) };
    if draw.chance(0.6) {
        spec.numeric = vec!["strength".to_owned()];
    }
    // Plots laid out on strengths that are levels leave nothing of the plots to be seen.
    let seen = with_plots && (!whole || (!spec.numeric.is_empty() && strengths > 2));
    if trays == TrayMode::Random && seen && draw.chance(0.6) {
        spec.random = vec!["plot".to_owned()];
    }
    let units = Units {
        kind: UnitKind::Tray,
        rooted,
        stuck,
        treatments,
        tray: None,
        block: with_blocks.then(|| factor("block", place, None)),
        whole_plot: with_plots.then(|| factor("plot", plots, None)),
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: vec![Covariate { name: "days".to_owned(), values: days }],
    };
    (units, spec)
}

/// Seconds of the processor that this process took, where the system tells: a busy machine then counts for nothing.
fn work() -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/stat").ok()?;
    let after = text.rsplit_once(')')?.1;
    let ticks: Vec<f64> = after.split_whitespace().skip(11).take(2).filter_map(|part| part.parse().ok()).collect();
    (ticks.len() == 2).then(|| ticks.iter().sum::<f64>() / 100.0)
}

#[test]
fn random_designs_are_fitted_at_once() {
    let alone = std::env::var("ROOTLING_SMALL_FITS");
    let count = alone.as_ref().ok().and_then(|text| text.parse().ok()).unwrap_or(300_u64);
    let (mut failed, mut slow, mut longest) = (Vec::new(), 0_u64, 0.0_f64);
    for seed in 0..count {
        let (units, spec) = design(seed);
        let start = (work(), Instant::now());
        let found = Model::fit(&units, &spec);
        let took =
            work().zip(start.0).map_or_else(|| start.1.elapsed().as_secs_f64(), |(after, before)| after - before);
        longest = longest.max(took);
        if took > 1.0 {
            slow += 1;
            println!("{seed}: {took:.2} s for {:?} {:?} {:?}", spec.trays, spec.link, spec.random);
        }
        match found {
            Ok(model) => {
                let finite = model.coefficients.iter().all(|one| one.value.is_finite());
                assert!(finite && model.loglik.is_finite(), "{seed}");
            }
            Err(error) => {
                println!("{seed}: {error} ({:?} {:?} {:?})", spec.trays, spec.link, spec.random);
                failed.push(seed);
            }
        }
    }
    println!("{count} fits, {} failed, {slow} took more than a second, the longest {longest:.2} s", failed.len());
    assert!(failed.len() as f64 <= 0.01 * count as f64, "{failed:?}");
    // Alone in its process: the processor's time of other tests would count as well.
    assert!(alone.is_err() || slow as f64 <= 0.005 * count as f64, "{slow} slow, the longest {longest}");
}

/// Twelve trays in one whole plot per strength, most of which rooted wholly or not at all: integrals steep on one side.
/// The log-likelihood of the estimates from a plain sum over evenly spaced effects.
#[test]
fn a_plot_per_strength() {
    let counts = [0_u64, 0, 20, 0, 0, 11, 0, 15, 18, 0, 10, 20];
    let number = |level: u32| f64::from(level) * 1000.0;
    let codes: Vec<u32> = (0..12).map(|t| t % 3).collect();
    let units = Units {
        kind: UnitKind::Tray,
        rooted: counts.to_vec(),
        stuck: vec![20; 12],
        treatments: vec![factor("strength", codes.clone(), Some(&number))],
        tray: None,
        block: None,
        whole_plot: Some(factor("plot", codes, None)),
        season: None,
        earlier: None,
        stock_plant: None,
        covariates: vec![],
    };
    let spec = ModelSpec {
        link: Link::Probit,
        trays: TrayMode::Random,
        numeric: vec!["strength".to_owned()],
        ..ModelSpec::of(&["strength"])
    };
    let start = Instant::now();
    let model = Model::fit(&units, &spec).unwrap();
    // It took two minutes; a machine that does other work besides may need some seconds.
    assert!(start.elapsed().as_secs_f64() < 30.0);
    let (tray, plot) = (&model.spread[0], &model.spread[1]);
    let b: Vec<f64> = model.coefficients.iter().map(|one| one.value).collect();
    let here = loglik(&counts, [b[0], 1000.0 * b[1]], [tray.value, plot.value]);
    assert_rel!(model.loglik, here, 1e-8);
}

/// The log-likelihood by a plain sum over evenly spaced effects: of trays within plots, probit, strengths 0, 1 and 2
/// (thousands).
fn loglik(counts: &[u64; 12], [a, b]: [f64; 2], [tray, plot]: [f64; 2]) -> f64 {
    use rootling::math::distributions::normal;
    let choose = |y: u64| (1..=y).map(|k| ((21 - k) as f64 / k as f64).ln()).sum::<f64>();
    let grid: Vec<f64> = (-160..=160).map(|k| 0.05 * f64::from(k)).collect();
    let weight = |z: f64| (-0.5 * z * z).exp() * 0.05 / (2.0 * std::f64::consts::PI).sqrt();
    let one = |y: u64, eta: f64| -> f64 {
        let at = |z: f64| {
            let (p, q) = (normal::cdf(eta + tray * z), normal::sf(eta + tray * z));
            weight(z) * p.powi(y as i32) * q.powi(20 - y as i32)
        };
        grid.iter().map(|z| at(*z)).sum::<f64>() * choose(y).exp()
    };
    let outer: &[f64] = if plot > 0.0 { &grid } else { &[0.0] };
    let mut total = 0.0;
    for level in 0..3 {
        let inside = |v: f64| -> f64 {
            let eta = a + b * level as f64 + plot * v;
            (0..4).map(|k| one(counts[3 * k + level], eta)).product()
        };
        let sum: f64 = outer.iter().map(|v| if plot > 0.0 { weight(*v) } else { 1.0 } * inside(*v)).sum();
        total += sum.ln();
    }
    total
}
