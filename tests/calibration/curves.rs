//! The strength curve with `shape = "auto"`: does the best strength's interval hold, and is "not located" said when it should be?

use rootling::control::Control;
use rootling::curves::{
    CurveBlocks, CurveGroup, CurveInput, CurveOptions, Located, OneCurve, TrayCount, strength_curve_of,
};
use rootling::math::rng;
use rootling::math::special::{expit, logit};

use crate::summary::Figures;

/// A true curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Truth {
    /// Log odds quadratic in `ln(1 + d / d0)`: d0, place of the top (mg/L), take there, take at 0.
    Hump(f64, f64, f64, f64),
    /// The same with a broad top: a rising times a falling logistic curve in `ln d`: half of the rise and of the fall (mg/L).
    Plateau(f64, f64),
    /// `(c + f d) / (1 + (d / e)^b)`.
    Stimulus(f64, f64, f64, f64),
    /// Rises from a floor to a ceiling and stays there: floor, ceiling, strength halfway.
    LevelsOff(f64, f64, f64),
}

impl Truth {
    pub(crate) fn rate(self, d: f64) -> f64 {
        match self {
            Self::Hump(d0, top, at_top, at_zero) => {
                let (x, x_top) = ((d / d0).ln_1p(), (top / d0).ln_1p());
                let bend = (logit(at_top) - logit(at_zero)) / (x_top * x_top);
                expit(logit(at_top) - bend * (x - x_top) * (x - x_top))
            }
            Self::Plateau(rise, fall) => {
                0.1 + 0.65 * (d / rise).powi(2) / (1.0 + (d / rise).powi(2)) / (1.0 + (d / fall).powi(3))
            }
            Self::Stimulus(c, f, e, b) => (c + f * d) / (1.0 + (d / e).powf(b)),
            Self::LevelsOff(floor, ceiling, half) => {
                floor + (ceiling - floor) * (d / half).powi(2) / (1.0 + (d / half).powi(2))
            }
        }
    }

    /// Where the rate is highest up to `most`.
    pub(crate) fn top(self, most: f64) -> f64 {
        let at = |i: i32| most * (f64::from(i) / 20_000.0).powi(2);
        (0..=20_000).map(at).max_by(|a, b| self.rate(*a).total_cmp(&self.rate(*b))).unwrap()
    }

    /// The lowest strength with 95 % of the best take up to `most`.
    pub(crate) fn adequate(self, most: f64) -> f64 {
        let wanted = 0.95 * self.rate(self.top(most));
        let at = |i: i32| most * (f64::from(i) / 20_000.0).powi(2);
        (0..=20_000).map(at).find(|d| self.rate(*d) >= wanted).unwrap()
    }
}

/// A trial to draw.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct CurveCase {
    pub truth: Truth,
    pub strengths: Vec<f64>,
    pub trays: usize,
    pub cuttings: u64,
    pub icc: f64,
    /// The true best lies outside the tested strengths.
    pub outside: bool,
}

/// Strengths: five to eight, doubling.
pub(crate) fn tested(count: usize, highest: f64) -> Vec<f64> {
    let above = count - 1;
    std::iter::once(0.0).chain((0..above).map(|i| highest / 2.0_f64.powi((above - 1 - i) as i32))).collect()
}

/// Designs: best strength well inside, and outside.
pub(crate) fn cases(all: bool) -> Vec<CurveCase> {
    let humps = [
        Truth::Hump(500.0, 2000.0, 0.70, 0.15),
        Truth::Hump(1000.0, 2500.0, 0.65, 0.20),
        Truth::Plateau(900.0, 5500.0),
        Truth::Stimulus(0.2, 0.000_37, 3200.0, 2.5),
    ];
    let mut cases = Vec::new();
    for truth in humps {
        for (count, trays) in [(5, 4), (5, 8), (6, 6), (8, 4), (8, 8)] {
            cases.push(CurveCase {
                truth,
                strengths: tested(count, 8000.0),
                trays,
                cuttings: 20,
                icc: 0.05,
                outside: false,
            });
        }
    }
    // The top lies at 1.5 and 3 times the highest strength.
    for (truth, highest) in [
        (Truth::Hump(1000.0, 6000.0, 0.75, 0.15), 4000.0),
        (Truth::Hump(1000.0, 12_000.0, 0.75, 0.10), 4000.0),
        (Truth::Plateau(1500.0, 16_000.0), 4000.0),
        (Truth::Stimulus(0.1, 0.000_15, 9000.0, 3.0), 4000.0),
        (Truth::LevelsOff(0.15, 0.65, 1000.0), 8000.0),
        (Truth::LevelsOff(0.10, 0.70, 2500.0), 8000.0),
    ] {
        for (count, trays) in [(5, 4), (6, 6), (8, 8)] {
            cases.push(CurveCase {
                truth,
                strengths: tested(count, highest),
                trays,
                cuttings: 20,
                icc: 0.05,
                outside: true,
            });
        }
    }
    if !all {
        cases.retain(|case| {
            (case.strengths.len(), case.trays) != (5, 8) && (case.strengths.len(), case.trays) != (8, 4)
        });
    }
    cases
}

/// The curve of these trays.
pub(crate) fn ask(trays: Vec<TrayCount>, blocks: Option<CurveBlocks>, options: CurveOptions) -> OneCurve {
    let input = CurveInput {
        strength: None,
        unit: "mg/L".to_owned(),
        counted: true,
        pooled: false,
        unit_of: "tray".to_owned(),
        called: String::new(),
        blocks,
        bays: None,
        places: None,
        groups: vec![CurveGroup { levels: Vec::new(), trays }],
        damage: Vec::new(),
        notes: Vec::new(),
        options,
    };
    strength_curve_of(&input, &Control::new()).unwrap().numbers.curves.remove(0)
}

/// One trial: coverage, location, widths.
pub(crate) fn one_trial(case: &CurveCase, random: &mut rng::ChaCha8Rng) -> Figures {
    let mut trays = Vec::new();
    for strength in &case.strengths {
        for _ in 0..case.trays {
            let rooted = rng::beta_binomial(random, case.cuttings, case.truth.rate(*strength), case.icc);
            trays.push(TrayCount { strength: *strength, rooted, stuck: case.cuttings, block: None });
        }
    }
    let best = ask(trays, None, CurveOptions::default()).best;
    let yes = |is: bool| f64::from(u8::from(is));
    let most = *case.strengths.last().unwrap();
    let mut figures = Figures::default();
    let found = &best.strength;
    // An open end holds what lies beyond it.
    let top = case.truth.top(10.0 * most);
    let held = (found.open_low || found.low <= top) && (found.open_high || found.high >= top);
    let adequate = case.truth.adequate(10.0 * most);
    let fine = &best.adequate;
    let reached = (fine.open_low || fine.low <= adequate) && (fine.open_high || fine.high >= adequate);
    figures.add("best strength", 0, yes(held));
    figures.add("adequate strength", 0, yes(reached));
    figures.add("not located", 0, yes(best.located != Located::Inside));
    let within = top.min(most);
    figures.add("range holds the best", 0, yes(best.range_low <= within && within <= best.range_high));
    let loss = case.truth.rate(within) - case.truth.rate(best.strength.value);
    figures.add("trees lost", 0, loss);
    figures.add(
        "take",
        0,
        yes(best.take_low <= case.truth.rate(best.strength.value)
            && case.truth.rate(best.strength.value) <= best.take_high),
    );
    figures
}
