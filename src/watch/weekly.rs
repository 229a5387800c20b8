//! Weekly batches with a known answer: places, cultivars, a yearly wave, shocks of weeks and places, and a drop.

use crate::math::distributions::rng::{ChaCha8Rng, beta_binomial, binomial, deviate, stream, uniform};
use crate::math::special::{expit, logit};
use crate::watch::crop::{Batch, Grouping, Part};

/// How two plants of a batch come to be alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BatchSpread {
    /// Beta-binomial with this correlation.
    Correlation(f64),
    /// A normal shift of the logit with this standard deviation.
    Logit(f64),
}

/// A drop of the logit from a day on, in all places or in one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drop {
    /// First week of setting that has it, counted from the first week.
    pub week: u32,
    /// By how much the logit falls.
    pub by: f64,
    /// The place that has it; None for all.
    pub place: Option<u32>,
}

/// A crop that is set in batches week by week.
#[derive(Debug, Clone, PartialEq)]
pub struct WeeklyDesign {
    /// Weeks of a season, and seasons.
    pub weeks: u32,
    /// Number of seasons; one begins every 52 weeks.
    pub seasons: u32,
    /// Batches set in a week.
    pub batches: u32,
    /// Fewest and most plants started in a batch.
    pub started: (u64, u64),
    /// Survival of the first cultivar.
    pub rate: f64,
    /// Shift of the logit of each cultivar.
    pub cultivars: Vec<f64>,
    /// Shift of the logit of each place.
    pub places: Vec<f64>,
    /// How batches differ.
    pub spread: BatchSpread,
    /// Standard deviation of the logit between set weeks, shared by places.
    pub week: f64,
    /// Standard deviation of the logit between set weeks of a place.
    pub week_in_place: f64,
    /// Standard deviation of the logit between seasons.
    pub season: f64,
    /// Height of the yearly wave on the logit scale.
    pub wave: f64,
    /// Days from setting to reading, at the least.
    pub age: i32,
    /// Days by which readings come later than that, at the most.
    pub age_spread: i32,
    /// True where the drop comes with the calendar week in which batches of its week of setting are read, whenever a batch was set.
    pub by_reading: bool,
    /// A drop.
    pub drop: Option<Drop>,
}

impl Default for WeeklyDesign {
    fn default() -> Self {
        Self {
            weeks: 52,
            seasons: 2,
            batches: 5,
            started: (15, 15),
            rate: 0.88,
            cultivars: vec![0.0],
            places: vec![0.0],
            spread: BatchSpread::Correlation(0.03),
            week: 0.0,
            week_in_place: 0.0,
            season: 0.0,
            wave: 0.0,
            age: 60,
            age_spread: 0,
            by_reading: false,
            drop: None,
        }
    }
}

/// Monday of the first week: 5 January 2015.
const FIRST: i32 = 16_440;

impl WeeklyDesign {
    /// The columns of levels.
    #[must_use]
    pub fn groupings(&self) -> Vec<Grouping> {
        let grouping = |name: &str, part: Part, prefix: &str, count: usize| Grouping {
            name: name.to_owned(),
            part,
            levels: (1..=count).map(|level| format!("{prefix}{level}")).collect(),
        };
        vec![
            grouping("rootstock", Part::Cultivar, "K1", self.cultivars.len()),
            grouping("room", Part::Place, "room ", self.places.len()),
        ]
    }

    /// One crop.
    #[must_use]
    pub fn draw(&self, seed: u64, replicate: u64) -> Vec<Batch> {
        let mut rng = stream(seed, replicate);
        let mut drawn = Vec::new();
        for season in 0..self.seasons {
            let of_season = self.season * deviate(&mut rng);
            for week in 0..self.weeks {
                let of_week = of_season + self.week * deviate(&mut rng);
                let in_place: Vec<f64> =
                    self.places.iter().map(|place| place + self.week_in_place * deviate(&mut rng)).collect();
                for number in 0..self.batches {
                    let batch = self.batch(season, week, number, of_week, &in_place, &mut rng);
                    drawn.push(batch);
                }
            }
        }
        drawn
    }

    fn batch(&self, season: u32, week: u32, number: u32, shift: f64, places: &[f64], rng: &mut ChaCha8Rng) -> Batch {
        let pick = |count: usize, rng: &mut ChaCha8Rng| ((uniform(rng) * count as f64) as usize).min(count - 1);
        let (cultivar, place) = (pick(self.cultivars.len(), rng), pick(places.len(), rng));
        let since = season * 52 + week;
        let set = FIRST + 7 * since as i32 + (number % 5) as i32;
        let wave = self.wave * (std::f64::consts::TAU * f64::from(set) / 365.25).sin();
        let later = if self.age_spread > 0 { (uniform(rng) * f64::from(self.age_spread + 1)) as i32 } else { 0 };
        let read = set + self.age + later;
        let from = |drop: &Drop| {
            let first = FIRST + 7 * drop.week as i32;
            // From the Monday of the week in which batches of that day are read.
            let monday = first + self.age - self.age.rem_euclid(7);
            if self.by_reading { read >= monday } else { set >= first }
        };
        let dropped = self.drop.filter(|drop| from(drop) && drop.place.is_none_or(|one| one as usize == place));
        let own = self.cultivars.get(cultivar).unwrap_or(&0.0) + places.get(place).unwrap_or(&0.0);
        let at = logit(self.rate) + own + shift + wave + dropped.map_or(0.0, |drop| drop.by);
        let (few, many) = self.started;
        let started = few + ((uniform(rng) * (many - few + 1) as f64) as u64).min(many - few);
        let alive = match self.spread {
            BatchSpread::Correlation(rho) => beta_binomial(rng, started, expit(at), rho),
            BatchSpread::Logit(sd) => {
                let own = sd * deviate(rng);
                binomial(rng, started, expit(at + own))
            }
        };
        Batch {
            name: format!("b{since:03}-{number:02}"),
            row: 0,
            set,
            read,
            started,
            alive,
            levels: vec![cultivar as u32, place as u32],
            season: season as i32,
            steps: Vec::new(),
        }
    }
}
