//! Trials in which one treatment is given to whole bays and another to trays within them.

use super::trays::{coded, shifted};
use crate::math::rng;
use crate::trial::{UnitKind, Units};

/// A split-plot trial to draw: two levels of darkness, each given to its own bays, and strengths given to trays in every bay.
///
/// ```
/// use rootling::simulate::SplitPlotDesign;
/// let design = SplitPlotDesign {
///     bays: 4, strengths: 2, trays: 2, cuttings: 20, icc: 0.05, bay_sd: 0.3, take: 0.5, dark_effect: 0.0, strength_effect: 0.0,
/// };
/// assert_eq!(design.draw(&mut rootling::math::rng::stream(1, 0)).len(), 16);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SplitPlotDesign {
    /// Bays in all, alternating between the two levels of darkness.
    pub bays: u32,
    /// Levels of strength.
    pub strengths: u32,
    /// Trays of each strength in a bay.
    pub trays: u32,
    /// Cuttings per tray.
    pub cuttings: u64,
    /// Intraclass correlation within trays, 0 to 1.
    pub icc: f64,
    /// Standard deviation of bay effects on the log odds.
    pub bay_sd: f64,
    /// Take at the first levels in a bay without effect, 0 to 1.
    pub take: f64,
    /// Effect of the second level of darkness on the log odds.
    pub dark_effect: f64,
    /// Effect of each step of strength on the log odds.
    pub strength_effect: f64,
}

impl SplitPlotDesign {
    /// Draws the trial: treatments `dark` and `strength`, whole plot `bay`.
    pub fn draw(&self, random: &mut rng::ChaCha8Rng) -> Units {
        let (mut dark, mut strength, mut bays, mut rooted) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for bay in 0..self.bays {
            let effect = self.bay_sd * rng::deviate(random) + f64::from(bay % 2) * self.dark_effect;
            for step in 0..self.strengths {
                let rate = shifted(self.take, effect + f64::from(step) * self.strength_effect);
                for _ in 0..self.trays {
                    dark.push(bay % 2);
                    strength.push(step);
                    bays.push(bay);
                    rooted.push(rng::beta_binomial(random, self.cuttings, rate, self.icc));
                }
            }
        }
        Units {
            kind: UnitKind::Tray,
            stuck: vec![self.cuttings; rooted.len()],
            tray: Some(coded("tray", (0..rooted.len() as u32).collect())),
            treatments: vec![coded("dark", dark), coded("strength", strength)],
            block: None,
            whole_plot: Some(coded("bay", bays)),
            season: None,
            earlier: None,
            stock_plant: None,
            covariates: Vec::new(),
            rooted,
        }
    }
}
