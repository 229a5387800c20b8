//! Mean squares of the layers, what they are expected to be, and the correlations that follow.

use serde::{Deserialize, Serialize};

use super::earlier::{Earlier, Known, Shrunk, TRAY};
use super::stage::{Stage, levels};
use super::trays::{Cells, Place, Trays, refines};

/// The correlation assumed for planning, when trays have not shown theirs.
pub const PLANNING_ICC: f64 = 0.05;

/// The correlation of two cuttings of one tray beyond design and places.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrayPart {
    /// Analysis of variance estimate, as computed; negative when trays are more alike than chance.
    pub estimate: f64,
    /// The least that is used: `0.05 x 2 / (2 + events)`.
    pub floor: f64,
    /// Expected cuttings of the rarer outcome.
    pub events: f64,
    /// Trays minus what design and places take of them.
    pub df: f64,
}

impl TrayPart {
    /// The correlation used: never below 0 nor below the floor.
    #[must_use]
    pub fn used(&self) -> f64 {
        self.estimate.max(self.floor).clamp(0.0, 1.0)
    }
}

/// One layer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Component {
    /// The user's column.
    pub name: String,
    /// Its position among the places given.
    pub place: usize,
    /// Levels that occur.
    pub levels: u64,
    /// Degrees of freedom beside the design and all places that do not lie within it; 0 where it cannot be told apart from them.
    pub df: f64,
    /// Correlation of two trays of one level beyond the layers above, as used: never below 0.
    pub correlation: f64,
    /// The same as computed.
    pub estimate: f64,
    /// Mean square `sum m (rate)^2 / df`, as computed.
    pub mean_square: f64,
    /// What it would be on average without this layer.
    pub beneath: f64,
    /// The same as multiples of the variance of one cutting, for [`Layers::variance`].
    pub(super) parts: Parts,
}

/// A layer's mean square over the variance of one cutting: as used, and its expectation.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub(super) struct Parts {
    pub(super) used: f64,
    /// What cuttings and trays give.
    pub(super) base: f64,
    /// What each layer's variance (over that of one cutting) is multiplied by.
    pub(super) by: Vec<f64>,
    /// This layer's variance over that of one cutting.
    pub(super) ratio: f64,
}

/// The layers of a trial, from the coarsest to the finest, and the trays beneath them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Layers {
    /// Trays.
    pub tray: TrayPart,
    /// Layers above, those with fewest levels first. Places of one level, with one tray per level, or alike to an earlier one drop out.
    pub components: Vec<Component>,
    /// Places that dropped out since another puts the same trays together, with the name of that one.
    pub alike: Vec<(String, String)>,
    /// The mean square between trays as computed.
    pub tray_mean_square: f64,
    /// The share of `p (1 - p)` that lies within levels of all layers.
    pub share_within: f64,
    /// What this trial alone shows of trays and of each layer, for later trials.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub own: Vec<Known>,
    /// Where earlier trials entered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shrunk: Vec<Shrunk>,
}

/// Multiples below this are rounding.
const NOTHING: f64 = 1e-8;

impl Layers {
    /// Analysis of variance of tray rates; none when the design leaves trays no degree of freedom.
    ///
    /// Each layer's sum of squares is what its levels add to the design and to all places that do not lie within it (Henderson's
    /// method 3); its expectation counts cuttings, trays and the layers that lie within it with their exact coefficients. With
    /// `s2` the variance within trays and above, a layer's correlation is its variance over `p (1 - p)`, the sum of all. A mean square
    /// below what the layers beneath it give is held there.
    #[must_use]
    pub fn of(trays: &Trays<'_>) -> Option<Self> {
        Self::with(trays, None)
    }

    /// The same with what earlier trials tell: the mean square of trays and that of each layer of the same name are averaged with what
    /// they lead to expect, and have their degrees of freedom as well ([`Earlier::shrunk`]).
    #[must_use]
    pub fn with(trays: &Trays<'_>, earlier: Option<&Earlier>) -> Option<Self> {
        let (mut kept, alike) = chosen(trays);
        loop {
            let places: Vec<&Place> = kept.iter().filter_map(|at| trays.places.get(*at)).collect();
            let cells = Cells::of(trays, &places);
            let whole = Stage::new(&cells, &(0..kept.len()).collect::<Vec<_>>());
            let df = cells.trays - whole.rank();
            if df > 0.5 {
                return Some(estimated(trays, &cells, &whole, (&kept, alike), earlier));
            }
            // Places and treatments leave nothing between trays: the finest place then has its own trays' spread within it.
            kept.pop()?;
        }
    }

    /// The correlation of two cuttings of one tray when its places are not held: that of trays and of all layers together.
    #[must_use]
    pub fn of_any_tray(&self) -> f64 {
        let above: f64 = self.components.iter().map(|component| component.correlation).sum();
        self.share_within * self.tray.used() + above
    }

    /// The same for rates whose `p (1 - p)` is taken within the levels of the places named: their part of it is left out already.
    pub(crate) fn given(mut self, places: &[&str]) -> Self {
        let others = self.components.iter().filter(|one| !places.contains(&one.name.as_str()));
        self.share_within = 1.0 / (1.0 + others.map(|one| one.parts.ratio).sum::<f64>());
        self
    }

    /// The layer of that column, where it is one.
    #[must_use]
    pub fn component(&self, name: &str) -> Option<&Component> {
        self.components.iter().find(|component| component.name == name)
    }
}

/// Places that can be layers, coarsest first, and those alike to another.
fn chosen(trays: &Trays<'_>) -> (Vec<usize>, Vec<(String, String)>) {
    let (mut kept, mut alike): (Vec<usize>, Vec<(String, String)>) = (Vec::new(), Vec::new());
    for (at, place) in trays.places.iter().enumerate() {
        let found = place.levels();
        if found < 2 || found >= trays.stuck.len() {
            continue;
        }
        let same = |known: &&Place| refines(&known.codes, &place.codes) && refines(&place.codes, &known.codes);
        match kept.iter().filter_map(|at| trays.places.get(*at)).find(same) {
            Some(known) => alike.push((place.name.clone(), known.name.clone())),
            None => kept.push(at),
        }
    }
    kept.sort_by_key(|at| trays.places.get(*at).map_or(0, Place::levels));
    (kept, alike)
}

/// A layer's sum of squares and its expectation.
struct Square {
    df: f64,
    mean: f64,
    trays: f64,
    by: Vec<f64>,
}

fn square(cells: &Cells, at: usize) -> Square {
    let Some(own) = cells.places.get(at) else { return Square { df: 0.0, mean: 0.0, trays: 0.0, by: Vec::new() } };
    let within = |other: usize| other != at && cells.places.get(other).is_some_and(|codes| refines(codes, own));
    let others: Vec<usize> = (0..cells.places.len()).filter(|other| *other != at && !within(*other)).collect();
    let before = Stage::new(cells, &others);
    let after = Stage::new(cells, &[others.as_slice(), &[at]].concat());
    let df = (after.rank() - before.rank()).max(0.0);
    let share = |x: f64| if df > 0.5 { x / df } else { 0.0 };
    let by = |other: usize| match cells.places.get(other) {
        Some(codes) if other == at => share(before.trace_of_place(codes)),
        Some(codes) if within(other) => share(before.trace_of_place(codes) - after.trace_of_place(codes)),
        _ => 0.0,
    };
    Square {
        df,
        mean: share(unless_rounding(before.left() - after.left(), cells)),
        trays: share(before.trace_of_trays() - after.trace_of_trays()),
        by: (0..cells.places.len()).map(by).collect(),
    }
}

/// A sum of squares; what rounding leaves where all fits exactly is none.
fn unless_rounding(sum: f64, cells: &Cells) -> f64 {
    if sum < 1e-12 * cells.weight.iter().sum::<f64>() { 0.0 } else { sum }
}

/// The variance of a cutting where neither cuttings within trays nor trays within layers differ: what layers show is then nearly all.
const LEAST_OF_ONE: f64 = 1e-9;

fn estimated(
    trays: &Trays<'_>,
    cells: &Cells,
    whole: &Stage<'_>,
    (kept, alike): (&[usize], Vec<(String, String)>),
    earlier: Option<&Earlier>,
) -> Layers {
    let (mut own_squares, mut shrunk) = (Vec::new(), Vec::new());
    let mut asked = |known: Known| -> Option<Shrunk> {
        let found = earlier.and_then(|earlier| earlier.shrunk(&known));
        own_squares.push(known);
        shrunk.extend(found.clone());
        found
    };
    let (tray, within) = tray_part(trays, cells, whole, &mut asked);
    let squares: Vec<Square> = (0..kept.len()).map(|at| square(cells, at)).collect();
    let (icc, mean_square) = (tray.used(), whole.left() / (cells.trays - whole.rank()));
    // The variance of a cutting within all layers.
    let one = if within > 0.0 && icc < 1.0 {
        within / (1.0 - icc)
    } else {
        (unless_rounding(whole.left(), cells) / whole.trace_of_trays()).max(LEAST_OF_ONE)
    };
    let name = |at: usize| kept.get(at).and_then(|at| trays.places.get(*at)).map_or("", |place| place.name.as_str());
    let mut parts: Vec<Parts> = vec![Parts::default(); kept.len()];
    let mut dofs: Vec<f64> = squares.iter().map(|square| square.df).collect();
    // The finest first: each layer lies over those found.
    for (at, square) in squares.iter().enumerate().rev() {
        let base = (1.0 - icc) + icc * square.trays;
        let finer: f64 = square.by.iter().zip(&parts).map(|(by, part)| by * part.ratio).sum();
        let own = square.by.get(at).copied().unwrap_or(0.0);
        let seen = square.df > 0.5 && own > NOTHING;
        let known = Known::of(name(at), (square.mean / one, base + finer), own, if seen { square.df } else { 0.0 });
        let known = asked(known);
        if let (Some(found), Some(df)) = (&known, dofs.get_mut(at)) {
            *df = found.df;
        }
        let used = known.map_or(square.mean / one, |found| found.used).max(base + finer);
        let ratio = if seen { (used - base - finer) / own } else { 0.0 };
        if let Some(part) = parts.get_mut(at) {
            *part = Parts { used, base, by: square.by.clone(), ratio };
        }
    }
    let total = 1.0 + parts.iter().map(|part| part.ratio).sum::<f64>();
    let component = |(at, (square, place)): (usize, (&Square, &usize))| {
        let part = parts.get(at).cloned().unwrap_or_default();
        let own = square.by.get(at).copied().unwrap_or(0.0);
        let others = square.by.iter().zip(&parts).enumerate().filter(|(other, _)| *other != at);
        let beneath = part.base + others.map(|(_, (by, part))| by * part.ratio).sum::<f64>();
        let estimate = if own > NOTHING { (square.mean / one - beneath) / own / total } else { 0.0 };
        Component {
            name: trays.places.get(*place).map(|place| place.name.clone()).unwrap_or_default(),
            place: *place,
            levels: cells.places.get(at).map_or(0, |codes| levels(codes) as u64),
            df: if own > NOTHING { dofs.get(at).copied().unwrap_or(0.0) } else { 0.0 },
            correlation: part.ratio / total,
            estimate,
            mean_square: square.mean,
            beneath: beneath * one,
            parts: part,
        }
    };
    let components = squares.iter().zip(kept).enumerate().map(component).collect();
    let share_within = 1.0 / total;
    Layers { tray, components, alike, tray_mean_square: mean_square, share_within, own: own_squares, shrunk }
}

/// The correlation within trays about design and places, and the mean square within trays.
fn tray_part(
    trays: &Trays<'_>,
    cells: &Cells,
    whole: &Stage<'_>,
    asked: impl FnOnce(Known) -> Option<Shrunk>,
) -> (TrayPart, f64) {
    let cuttings: f64 = cells.weight.iter().sum();
    let df = cells.trays - whole.rank();
    let between = unless_rounding(whole.left(), cells) / df;
    let inside: f64 = trays.rooted.iter().zip(trays.stuck).map(|(y, m)| y * (1.0 - y / m)).sum();
    let within = if cuttings > cells.trays { inside / (cuttings - cells.trays) } else { 0.0 };
    let size = whole.trace_of_trays() / df;
    let known = if within > 0.0 { asked(Known::of(TRAY, (between / within, 1.0), size, df)) } else { None };
    let (between, df) = known.map_or((between, df), |found| (found.used * within, found.df));
    let sum = between + (size - 1.0) * within;
    let events = whole.fitted().into_iter().zip(&cells.weight).map(|(fit, m)| {
        let share = fit.clamp(0.0, 1.0);
        m * share.min(1.0 - share)
    });
    let events: f64 = events.sum();
    let estimate = if sum > 0.0 { (between - within) / sum } else { 0.0 };
    (TrayPart { estimate, floor: PLANNING_ICC * 2.0 / (2.0 + events), events, df }, within)
}
