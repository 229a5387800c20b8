//! A plan made, and one that was written down looked at again.

use super::asked::Asked;
use super::benches::Dealer;
use super::codes::{self, codes, seal};
use super::confounded::confounded;
use super::numbers::{Layout, LayoutOptions, PlacedTray};
use super::set;
use super::shared::share;
use super::told::told;
use crate::answer::Answer;
use crate::error::{LayoutError, Result};
use crate::math::rng::stream;

/// Codes are drawn from a stream of their own, and from all that was asked: they tell nothing of the layout, and other plans have others.
const CODES: u64 = 1;

/// Lays a trial out.
///
/// # Errors
/// [`LayoutError`] for what cannot be laid out as asked, with what can.
///
/// ```
/// use rootling::layout::{LayoutKind, LayoutOptions, TreatmentLevels, layout};
/// let strength = TreatmentLevels { name: "strength".into(), levels: vec!["2500".into(), "5000".into()] };
/// let options = LayoutOptions { blocks: vec!["1".into(), "2".into(), "3".into()], seed: 1, ..LayoutOptions::new(LayoutKind::Blocks, vec![strength]) };
/// let plan = layout(&options)?;
/// assert_eq!(plan.numbers.trays.len(), 6);
/// # Ok::<(), rootling::Error>(())
/// ```
///
/// # References
/// Fisher 1935; Yates 1935, 1936; Jacobson and Matthews 1996; John and Williams 1995; Federer 1956; Grundy and Healy 1950; Bailey 1987.
pub fn layout(options: &LayoutOptions) -> Result<Answer<Layout>> {
    let asked = Asked::new(options)?;
    let set = set::set(&asked)?;
    let dealer = Dealer::new(&asked)?;
    let made = dealer.deal(&mut stream(options.seed, 0))?;
    let mut trays = made.placed(&asked);
    share(options, &mut trays);
    let own = codes(&mut stream(codes::number_of(options), CODES), trays.len());
    trays.iter_mut().zip(own).for_each(|((_, tray), code)| tray.tray = code);
    let confounded = confounded(options, &trays);
    let mut layout = Layout {
        options: options.clone(),
        n_units: trays.len() as u64,
        n_combinations: asked.combinations.len() as u64,
        n_benches: made.benches.len() as u64,
        rows: made.rows as u64,
        columns: made.columns as u64,
        trays: trays.into_iter().map(|(_, tray)| tray).collect(),
        set,
        efficiency: dealer.efficiency,
        confounded,
        fingerprint: String::new(),
    };
    layout.fingerprint = codes::fingerprint(&(&layout.options, &layout.trays));
    let plan = layout.fingerprint.clone();
    layout.trays.iter_mut().for_each(|tray| tray.seal = seal(&plan, &tray.tray, &tray.entries()));
    Ok(told(&asked, layout))
}

/// Whether a plan that was written down is still the one that was made: its fingerprint goes with its trays, and each seal with its tray.
///
/// # Errors
/// [`LayoutError::NoPlan`] with what does not fit.
pub fn check(layout: &Layout) -> Result<()> {
    let refused = |what: String| Err(LayoutError::NoPlan { what }.into());
    for tray in &layout.trays {
        if codes::tray_code(&tray.tray).is_none() {
            return refused(format!("{:?} is no code of a tray", tray.tray));
        }
        if tray.seal != seal(&layout.fingerprint, &tray.tray, &tray.entries()) {
            return refused(format!("the entries of tray {} were changed", tray.tray));
        }
    }
    let bare: Vec<PlacedTray> =
        layout.trays.iter().map(|tray| PlacedTray { seal: String::new(), ..tray.clone() }).collect();
    if layout.fingerprint == codes::fingerprint(&(&layout.options, &bare)) {
        Ok(())
    } else {
        refused("its fingerprint is of other trays".to_owned())
    }
}

impl PlacedTray {
    /// What a line of the key says of a tray beside its code, in the order of the key's columns; blank where there is nothing.
    #[must_use]
    pub fn entries(&self) -> Vec<String> {
        let places = [&self.replicate, &self.block, &self.whole_plot, &self.strip];
        let told = |one: &Option<String>| one.clone().unwrap_or_default();
        [self.bench.clone(), self.row.to_string(), self.column.to_string()]
            .into_iter()
            .chain(places.map(told))
            .chain(self.levels.iter().cloned())
            .chain([told(&self.stock_plant), told(&self.reader)])
            .collect()
    }
}

impl LayoutOptions {
    /// Treatments to be laid out so, with nothing else said.
    #[must_use]
    pub fn new(layout: super::LayoutKind, treatments: Vec<super::TreatmentLevels>) -> Self {
        Self {
            layout,
            treatments,
            trays: None,
            blocks: Vec::new(),
            whole_plot: Vec::new(),
            whole_plots: None,
            per_block: None,
            controls: Vec::new(),
            positions: None,
            stuck: None,
            stock_plants: None,
            genotype: None,
            readers: None,
            longest_run: None,
            different_ends: false,
            seed: 0,
        }
    }
}
