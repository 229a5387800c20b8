//! The fitted curves of an input with where their best strengths lie, worked out once.

use std::sync::OnceLock;

use super::best::placed;
use super::numbers::{Placed, Wanted};
use crate::control::Control;
use crate::curves::fit::{Counts, Curve, Ready, fitted};
use crate::curves::input::{CurveGroup, CurveInput};
use crate::error::Result;

/// The curves of an input, fitted, with where their best strengths lie once that was asked.
#[derive(Debug)]
pub(crate) struct Fits {
    input: CurveInput,
    ready: Ready,
    placed: OnceLock<Vec<Placed>>,
}

impl Fits {
    /// Fits every curve of the input with the shapes its options ask for.
    pub(crate) fn new(input: CurveInput, control: &Control) -> Result<Self> {
        let ready = fitted(&input, input.options.check()?, control)?;
        Ok(Self { input, ready, placed: OnceLock::new() })
    }

    /// What they were fitted to.
    pub(crate) fn input(&self) -> &CurveInput {
        &self.input
    }

    pub(crate) fn ready(&self) -> &Ready {
        &self.ready
    }

    /// Each curve with its counts and its trays.
    pub(crate) fn each(&self) -> impl Iterator<Item = (&Counts, &Curve, &CurveGroup)> {
        self.ready.curves.iter().zip(&self.input.groups).map(|((counts, curve), group)| (counts, curve, group))
    }

    /// What is asked of their best strengths.
    pub(crate) fn wanted(&self) -> Wanted {
        let options = &self.input.options;
        Wanted { confidence: options.confidence, margin: options.nearly, share: options.enough }
    }

    /// Where the best strength of each lies.
    ///
    /// # Errors
    /// When a fit with the place held does not settle; when asked to stop.
    pub(crate) fn placed(&self, control: &Control) -> Result<&[Placed]> {
        if let Some(known) = self.placed.get() {
            return Ok(known);
        }
        let wanted = self.wanted();
        let one = |curve| {
            let found = placed(curve, &wanted, control);
            control.finish(1);
            found
        };
        let found: Vec<Placed> = self.each().map(|(_, curve, _)| one(curve)).collect::<Result<_>>()?;
        Ok(self.placed.get_or_init(|| found))
    }
}
