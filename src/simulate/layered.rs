//! Trials whose trays stand in bays, blocks and seasons and come from stock plants, each with an effect of its own.
//!
//! The laws are not those by which trials are analysed: effects are normal on the log odds, or probabilities are beta around those of
//! the layer above. What is true on average is known without simulation.

use crate::math::distributions::{beta, normal};
use crate::math::rng;
use crate::math::special::gauss_hermite;
use crate::trial::{Factor, UnitKind, Units};

use super::trays::{coded, shifted};

/// Points of the rule by which rates are averaged over normal effects.
const POINTS: usize = 61;

/// How units of one layer differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum UnitSpread {
    /// Effects on the log odds, normal with this standard deviation, the same for all treatments.
    Normal(f64),
    /// Probabilities around the rate `p` that the layers before give, beta with mean `p` and variance `p (1 - p)` times this
    /// correlation (0 to 1). A unit has one rank among all units and keeps it in every treatment.
    Beta(f64),
}

impl UnitSpread {
    /// The beta law with the variance that normal effects of standard deviation `sd` have around a take.
    ///
    /// ```
    /// use rootling::simulate::UnitSpread;
    /// let UnitSpread::Beta(correlation) = UnitSpread::beta_like(0.5, 0.5) else { unreachable!() };
    /// approx::assert_relative_eq!(correlation, 0.0558, epsilon = 0.0, max_relative = 0.0017);
    /// ```
    #[must_use]
    pub fn beta_like(sd: f64, take: f64) -> Self {
        let (mean, square) = normal_moments(take, sd);
        Self::Beta(((square - mean * mean) / (mean * (1.0 - mean))).max(0.0))
    }
}

/// What a layer of units is recorded as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnitRole {
    /// Season.
    Season,
    /// Block.
    Block,
    /// Whole plot: a bay or a dark room.
    WholePlot,
    /// Stock plant.
    StockPlant,
}

/// Units above the tray.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitLayer {
    /// Column name.
    pub name: String,
    /// What it is recorded as; not recorded at all when none.
    pub role: Option<UnitRole>,
    /// How its units differ.
    pub spread: UnitSpread,
    /// The unit of every tray, counted from 0.
    pub codes: Vec<u32>,
}

/// One tray of a layout: the level of every treatment, and which of the trays of that combination it is, all counted from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TraySlot {
    levels: Vec<u32>,
    /// Which of the trays of its combination.
    pub copy: u32,
}

impl TraySlot {
    /// The level of a treatment, in the order in which they were named; 0 for one that is not there.
    #[must_use]
    pub fn level(&self, treatment: usize) -> u32 {
        self.levels.get(treatment).copied().unwrap_or(0)
    }
}

/// A trial to draw: treatments crossed, so many trays of each combination, laid out on any number of layers of units that may lie
/// within each other or cross.
///
/// ```
/// use rootling::math::rng::stream;
/// use rootling::simulate::{LayeredDesign, UnitRole, UnitSpread};
/// // Two rootstocks, four stock plants of each, two strengths, two trays of 20 of a strength from each plant.
/// let mut design = LayeredDesign::new(&[("rootstock", 2), ("strength", 2)], 8, 20)
///     .with(UnitRole::StockPlant, "plant", UnitSpread::Normal(0.5), |tray| tray.level(0) * 4 + tray.copy / 2);
/// design.takes = vec![0.5, 0.7, 0.5, 0.7];
/// let units = design.draw(&mut stream(1, 0));
/// assert_eq!((units.len(), units.stock_plant.as_ref().unwrap().levels.len()), (32, 8));
/// // Averaged over plants, the take is nearer to one half than that of a plant without effect.
/// approx::assert_relative_eq!(design.truth()[1], 0.6904, epsilon = 0.0, max_relative = 1.4e-4);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct LayeredDesign {
    /// Names of the treatments and how many levels each has.
    pub treatments: Vec<(String, u32)>,
    /// The trays: slot by slot.
    pub slots: Vec<TraySlot>,
    /// Cuttings of every tray.
    pub stuck: Vec<u64>,
    /// Take rate of every combination in units without effect, 0 to 1, the last treatment running fastest.
    pub takes: Vec<f64>,
    /// Layers of units.
    pub layers: Vec<UnitLayer>,
    /// How trays of one unit differ.
    pub trays: UnitSpread,
    /// How trays of each combination differ, in the order of `takes`, where some are more alike than others; as `trays` when empty.
    pub trays_of: Vec<UnitSpread>,
    /// Strengths of the levels of the first treatment, where they are numbers.
    pub strengths: Option<Vec<f64>>,
    /// Chance that a cutting that does not root dies, for each combination; nothing is recorded of deaths when empty.
    pub dying: Vec<f64>,
    /// Share of the trays that are lost, other ones in each draw; the last tray of a combination never is.
    pub lost: f64,
}

impl LayeredDesign {
    /// Treatments crossed, so many trays of each combination with so many cuttings; takes of 0.5, trays that differ by chance alone,
    /// no layers.
    #[must_use]
    pub fn new(treatments: &[(&str, u32)], trays: u32, cuttings: u64) -> Self {
        let mut combinations: Vec<Vec<u32>> = vec![Vec::new()];
        for (_, levels) in treatments {
            let longer = |start: &Vec<u32>| -> Vec<Vec<u32>> {
                (0..*levels).map(|level| start.iter().copied().chain([level]).collect()).collect()
            };
            combinations = combinations.iter().flat_map(longer).collect();
        }
        let takes = vec![0.5; combinations.len()];
        let copies = |levels: Vec<u32>| (0..trays).map(move |copy| TraySlot { levels: levels.clone(), copy });
        let slots: Vec<TraySlot> = combinations.into_iter().flat_map(copies).collect();
        Self {
            treatments: treatments.iter().map(|(name, levels)| ((*name).to_owned(), *levels)).collect(),
            stuck: vec![cuttings; slots.len()],
            slots,
            takes,
            layers: Vec::new(),
            trays: UnitSpread::Normal(0.0),
            trays_of: Vec::new(),
            strengths: None,
            dying: Vec::new(),
            lost: 0.0,
        }
    }

    /// With a layer of units: `unit` gives that of a tray. Beta laws work on the rates that the layers named before give.
    #[must_use]
    pub fn with(mut self, role: UnitRole, name: &str, spread: UnitSpread, unit: impl Fn(&TraySlot) -> u32) -> Self {
        let codes = self.slots.iter().map(unit).collect();
        self.layers.push(UnitLayer { name: name.to_owned(), role: Some(role), spread, codes });
        self
    }

    /// With the levels of the first treatment as strengths, and the take of each from a curve along them; other treatments change nothing.
    ///
    /// ```
    /// use rootling::simulate::LayeredDesign;
    /// let rising = |strength: f64| 0.2 + 0.5 * strength / (1000.0 + strength);
    /// let design = LayeredDesign::new(&[("strength", 3)], 4, 20).along(&[0.0, 1000.0, 4000.0], rising);
    /// approx::assert_relative_eq!(design.takes[2], 0.6, epsilon = 0.0, max_relative = 1e-12);
    /// ```
    #[must_use]
    pub fn along(mut self, strengths: &[f64], take: impl Fn(f64) -> f64) -> Self {
        let each = self.takes.len() / strengths.len().max(1);
        self.takes = strengths.iter().flat_map(|strength| vec![take(*strength); each]).collect();
        self.strengths = Some(strengths.to_vec());
        self
    }

    /// With a layer of units that nobody recorded.
    #[must_use]
    pub fn with_unrecorded(mut self, name: &str, spread: UnitSpread, unit: impl Fn(&TraySlot) -> u32) -> Self {
        let codes = self.slots.iter().map(unit).collect();
        self.layers.push(UnitLayer { name: name.to_owned(), role: None, spread, codes });
        self
    }

    /// Trays of half, one and one and a half times as many cuttings, in an order without a pattern that is always the same.
    #[must_use]
    pub fn uneven(mut self) -> Self {
        let mut random = rng::stream(20_261_129, 0);
        for stuck in &mut self.stuck {
            let halves = 1 + u64::from(rng::below(&mut random, 3));
            *stuck = (*stuck * halves).div_ceil(2);
        }
        self
    }

    /// Which combination a tray belongs to.
    fn combination(&self, slot: &TraySlot) -> usize {
        let levels = self.treatments.iter().zip(&slot.levels);
        levels.fold(0, |at, ((_, levels), level)| at * *levels as usize + *level as usize)
    }

    /// The take of every combination averaged over all units that might have been drawn, in the order of `takes`.
    ///
    /// A beta law keeps the mean of the rate it is given; normal effects, which come first, are integrated.
    #[must_use]
    pub fn truth(&self) -> Vec<f64> {
        let variance = |spread: UnitSpread| if let UnitSpread::Normal(sd) = spread { sd * sd } else { 0.0 };
        let layers: f64 = self.layers.iter().map(|layer| variance(layer.spread)).sum();
        let of = |(at, take): (usize, &f64)| normal_moments(*take, (layers + variance(self.spread_of(at))).sqrt()).0;
        self.takes.iter().enumerate().map(of).collect()
    }

    /// Draws the trial. The same design and stream give the same counts on every machine.
    pub fn draw(&self, random: &mut rng::ChaCha8Rng) -> Units {
        let effects: Vec<Vec<f64>> = self.layers.iter().map(|layer| ranks(layer, random)).collect();
        let rooted: Vec<u64> = (0..self.slots.len()).map(|tray| self.count(tray, &effects, random)).collect();
        self.recorded(&rooted, &self.kept(random))
    }

    /// Draws the trial, with the cuttings of every tray that died.
    ///
    /// ```
    /// use rootling::math::rng::stream;
    /// use rootling::simulate::LayeredDesign;
    /// let mut design = LayeredDesign::new(&[("strength", 2)], 4, 20);
    /// design.dying = vec![0.2, 0.9];
    /// let (units, dead) = design.draw_with_deaths(&mut stream(1, 0));
    /// assert!(units.rooted.iter().zip(&dead).all(|(rooted, dead)| rooted + dead <= 20));
    /// ```
    pub fn draw_with_deaths(&self, random: &mut rng::ChaCha8Rng) -> (Units, Vec<u64>) {
        let effects: Vec<Vec<f64>> = self.layers.iter().map(|layer| ranks(layer, random)).collect();
        let rooted: Vec<u64> = (0..self.slots.len()).map(|tray| self.count(tray, &effects, random)).collect();
        let kept = self.kept(random);
        let dead = |tray: &usize| {
            let (Some(slot), Some(stuck), Some(rooted)) =
                (self.slots.get(*tray), self.stuck.get(*tray), rooted.get(*tray))
            else {
                return 0;
            };
            let chance = self.dying.get(self.combination(slot)).copied().unwrap_or(0.0);
            rng::binomial(random, stuck - rooted, chance)
        };
        let dead = kept.iter().map(dead).collect();
        (self.recorded(&rooted, &kept), dead)
    }

    /// How trays of a combination differ.
    fn spread_of(&self, combination: usize) -> UnitSpread {
        self.trays_of.get(combination).copied().unwrap_or(self.trays)
    }

    /// Cuttings rooted in one tray, given the rank of every unit.
    fn count(&self, tray: usize, ranks: &[Vec<f64>], random: &mut rng::ChaCha8Rng) -> u64 {
        let (Some(slot), Some(stuck)) = (self.slots.get(tray), self.stuck.get(tray)) else { return 0 };
        let mut rate = self.takes.get(self.combination(slot)).copied().unwrap_or(0.5);
        let layers = || {
            self.layers
                .iter()
                .zip(ranks)
                .filter_map(|(layer, ranks)| Some((layer.spread, *ranks.get(*layer.codes.get(tray)? as usize)?)))
        };
        for (spread, rank) in layers() {
            if let UnitSpread::Normal(sd) = spread {
                rate = shifted(rate, -sd * normal::isf(rank));
            }
        }
        let own = self.spread_of(self.combination(slot));
        if let UnitSpread::Normal(sd) = own {
            rate = shifted(rate, sd * rng::deviate(random));
        }
        for (spread, rank) in layers() {
            if let UnitSpread::Beta(correlation) = spread {
                rate = beta_rate(rate, correlation, rank);
            }
        }
        match own {
            UnitSpread::Normal(_) => rng::binomial(random, *stuck, rate),
            UnitSpread::Beta(correlation) => rng::beta_binomial(random, *stuck, rate, correlation),
        }
    }

    /// The trays that are not lost.
    fn kept(&self, random: &mut rng::ChaCha8Rng) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.slots.len()).collect();
        let mut lose = (self.lost * order.len() as f64).round() as usize;
        if lose > 0 {
            let all = order.len();
            rng::deal(random, &mut order, all);
        }
        let home = |tray: &usize| self.slots.get(*tray).map_or(0, |slot| self.combination(slot));
        let mut left = vec![0_u32; self.takes.len()];
        order.iter().filter_map(|tray| left.get_mut(home(tray)).map(|count| *count += 1)).count();
        order.retain(|tray| {
            let Some(count) = left.get_mut(home(tray)).filter(|count| **count > 1 && lose > 0) else { return true };
            (*count, lose) = (*count - 1, lose - 1);
            false
        });
        order.sort_unstable();
        order
    }

    fn recorded(&self, rooted: &[u64], kept: &[usize]) -> Units {
        let pick = |values: &[u64]| kept.iter().filter_map(|tray| values.get(*tray).copied()).collect::<Vec<u64>>();
        let codes = |all: &[u32]| kept.iter().filter_map(|tray| all.get(*tray).copied()).collect::<Vec<u32>>();
        let treatment = |(at, (name, levels)): (usize, &(String, u32))| {
            let all: Vec<u32> = self.slots.iter().map(|slot| slot.level(at)).collect();
            let numbers = self.strengths.clone().filter(|_| at == 0);
            let levels: Vec<String> = match &numbers {
                Some(numbers) => numbers.iter().map(f64::to_string).collect(),
                None => (0..*levels).map(|level| level.to_string()).collect(),
            };
            Factor { name: name.clone(), levels, numbers, codes: codes(&all) }
        };
        let of = |role: UnitRole| {
            let layer = self.layers.iter().find(|layer| layer.role == Some(role));
            layer.map(|layer| coded(&layer.name, codes(&layer.codes)))
        };
        Units {
            kind: UnitKind::Tray,
            rooted: pick(rooted),
            stuck: pick(&self.stuck),
            treatments: self.treatments.iter().enumerate().map(treatment).collect(),
            tray: Some(coded("tray", (0..kept.len() as u32).collect())),
            block: of(UnitRole::Block),
            whole_plot: of(UnitRole::WholePlot),
            season: of(UnitRole::Season),
            earlier: None,
            stock_plant: of(UnitRole::StockPlant),
            covariates: Vec::new(),
        }
    }
}

/// A uniform number per unit of a layer.
fn ranks(layer: &UnitLayer, random: &mut rng::ChaCha8Rng) -> Vec<f64> {
    let units = layer.codes.iter().max().map_or(0, |last| last + 1);
    (0..units).map(|_| rng::uniform(random) + 0.5 / 9_007_199_254_740_992.0).collect()
}

/// The probability that a unit of that rank has where the mean is `rate`.
fn beta_rate(rate: f64, correlation: f64, rank: f64) -> f64 {
    if correlation <= 0.0 || rate <= 0.0 || rate >= 1.0 {
        return rate;
    }
    let size = (1.0 - correlation) / correlation;
    beta::quantile(rank, rate * size, (1.0 - rate) * size).clamp(0.0, 1.0)
}

/// Mean of a take and of its square over normal effects on its log odds.
fn normal_moments(take: f64, sd: f64) -> (f64, f64) {
    if sd <= 0.0 {
        return (take, take * take);
    }
    let rule = gauss_hermite(POINTS);
    let terms = rule.nodes.iter().zip(&rule.weights).map(|(z, weight)| (*weight, shifted(take, sd * z)));
    terms.fold((0.0, 0.0), |(mean, square), (weight, rate)| (mean + weight * rate, square + weight * rate * rate))
}
