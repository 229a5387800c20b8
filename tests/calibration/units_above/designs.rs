//! Trials with units above the tray.

use rootling::simulate::{LayeredDesign, UnitRole, UnitSpread};

/// A layout with its laws and takes: the same without and with effects.
#[derive(Clone)]
pub(super) struct Above {
    pub layout: &'static str,
    /// Standard deviation of the units on the log odds (a beta law has the variance that goes with it).
    pub sd: f64,
    pub beta: bool,
    pub take: f64,
    pub null: LayeredDesign,
    pub moved: LayeredDesign,
    /// A treatment given to whole units, and one given to trays within them.
    pub between: Option<&'static str>,
    pub within: Option<&'static str>,
}

impl std::fmt::Debug for Above {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let law = if self.beta { "beta" } else { "normal" };
        write!(to, "{}, {law} units of SD {}, take {}", self.layout, self.sd, self.take)
    }
}

impl Above {
    /// Takes of 10 to 90 %.
    pub(super) fn mid(&self) -> bool {
        (0.1..=0.9).contains(&self.take)
    }
}

/// Layouts: name, standard deviations of their units.
const LAYOUTS: [(&str, &[f64]); 11] = [
    ("2 rootstocks x 4 plants x 2 strengths x 2 trays", &[0.0, 0.5, 0.8]),
    ("2 lengths x 2 bays x 4 trays", &[0.0, 0.4, 0.6]),
    ("2 lengths x 3 bays x 4 trays", &[0.0, 0.4, 0.6]),
    ("2 lengths x 4 bays x 4 trays", &[0.0, 0.4, 0.6]),
    ("2 lengths x 2 bays x 2 strengths x 2 trays", &[0.0, 0.4, 0.6]),
    ("2 lengths x 3 bays x 2 strengths x 2 trays", &[0.0, 0.4, 0.6]),
    ("2 lengths x 4 bays x 2 strengths x 2 trays", &[0.0, 0.4, 0.6]),
    ("2 seasons x 3 blocks of their own x 2 strengths x 2 trays", &[0.4]),
    ("2 rootstocks x 3 plants, each in 2 x 3 bays, a tray each", &[0.4]),
    ("2 rootstocks x 3 and 5 plants x 2 strengths x 2 trays, uneven, a sixth lost", &[0.5]),
    ("2 lengths x 2 and 4 bays x 2 strengths x 2 trays, uneven, a sixth lost", &[0.4]),
];

/// Every layout with its spreads, laws and takes.
pub(super) fn grid() -> Vec<Above> {
    let mut all = Vec::new();
    for (at, (_, sds)) in LAYOUTS.iter().enumerate() {
        for (sd, beta) in sds.iter().flat_map(|sd| [(*sd, false), (*sd, true)]) {
            all.extend([0.02, 0.1, 0.5, 0.9, 0.98].map(|take| above(at, sd, beta, take)));
        }
    }
    all
}

/// Few of them: what went wrong most before units above the tray were judged.
pub(super) fn few() -> Vec<Above> {
    let chosen = [(0, 0.8), (1, 0.6), (2, 0.4), (5, 0.4), (7, 0.4), (8, 0.4), (9, 0.5), (10, 0.4)];
    chosen.iter().flat_map(|(at, sd)| [above(*at, *sd, at % 2 == 1, 0.5), above(*at, *sd, at % 2 == 0, 0.1)]).collect()
}

/// The effect that the take moves by, away from the nearer end.
fn moved(take: f64) -> f64 {
    if take > 0.5 { -0.8 } else { 0.8 }
}

fn above(at: usize, sd: f64, beta: bool, take: f64) -> Above {
    let spread = if beta && sd > 0.0 { UnitSpread::beta_like(sd, take) } else { UnitSpread::Normal(sd) };
    let trays = if beta { UnitSpread::Beta(0.05) } else { UnitSpread::Normal(0.4) };
    let (mut null, between, within) = layout(at, spread);
    null.trays = trays;
    null.takes = vec![take; null.takes.len()];
    let logit = (take / (1.0 - take)).ln();
    let mut other = null.clone();
    for (cell, take) in other.takes.iter_mut().enumerate() {
        // Half the effect for the first treatment, all of it for the second.
        let (first, second) = if null.treatments.len() > 1 { (cell / 2, cell % 2) } else { (0, cell % 2) };
        let eta = logit + (0.5 * first as f64 + second as f64) * moved(*take);
        *take = 1.0 / (1.0 + (-eta).exp());
    }
    Above { layout: LAYOUTS[at].0, sd, beta, take, null, moved: other, between, within }
}

type Layout = (LayeredDesign, Option<&'static str>, Option<&'static str>);

fn layout(at: usize, spread: UnitSpread) -> Layout {
    use UnitRole::{Block, Season, StockPlant, WholePlot};
    let (plants, bays) = ([("rootstock", 2), ("strength", 2)], [("length", 2), ("strength", 2)]);
    let split = |bays_each: u32| {
        let design = LayeredDesign::new(&bays, 2 * bays_each, 20);
        design.with(WholePlot, "bay", spread, |tray| tray.level(0) * bays_each + tray.copy / 2)
    };
    match at {
        0 => {
            let design = LayeredDesign::new(&plants, 8, 20);
            let design = design.with(StockPlant, "plant", spread, |tray| tray.level(0) * 4 + tray.copy / 2);
            (design, Some("rootstock"), Some("strength"))
        }
        1..=3 => {
            let each = at as u32 + 1;
            let design = LayeredDesign::new(&[("length", 2)], 4 * each, 20);
            let design = design.with(WholePlot, "bay", spread, |tray| tray.level(0) * each + tray.copy / 4);
            (design, Some("length"), None)
        }
        4..=6 => (split(at as u32 - 2), Some("length"), Some("strength")),
        7 => {
            // Each season has blocks of its own; a strength stands in all of them.
            let design = LayeredDesign::new(&[("strength", 2)], 12, 20);
            let design = design.with(Season, "season", spread, |tray| tray.copy / 6);
            (design.with(Block, "block", spread, |tray| tray.copy / 2), None, Some("strength"))
        }
        8 => {
            let design = LayeredDesign::new(&[("length", 2), ("rootstock", 2)], 9, 20);
            let design = design.with(WholePlot, "bay", spread, |tray| tray.level(0) * 3 + tray.copy / 3);
            (design.with(StockPlant, "plant", spread, |tray| tray.level(1) * 3 + tray.copy % 3), Some("length"), None)
        }
        9 => {
            let design = LayeredDesign::new(&plants, 8, 20).uneven();
            let plant = |level: u32, copy: u32| if level == 0 { copy / 3 } else { 3 + copy % 5 };
            let design = design.with(StockPlant, "plant", spread, |tray| plant(tray.level(0), tray.copy));
            (LayeredDesign { lost: 1.0 / 6.0, ..design }, Some("rootstock"), Some("strength"))
        }
        _ => {
            let design = LayeredDesign::new(&bays, 6, 20).uneven();
            let bay = |level: u32, copy: u32| if level == 0 { copy / 3 } else { 2 + copy % 4 };
            let design = design.with(WholePlot, "bay", spread, |tray| bay(tray.level(0), tray.copy));
            (LayeredDesign { lost: 1.0 / 6.0, ..design }, Some("length"), Some("strength"))
        }
    }
}
