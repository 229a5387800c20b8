//! Trays of one stratum ready to be dealt to several treatments: counting, summing and enumerating assignments.

use super::dealing::{choices, mean};
use super::strata::TreatmentStratum;
use crate::control::Control;
use crate::error::Result;

/// A stratum ready for dealing: centred rates in the order of treatments, and how many trays each treatment has.
#[derive(Debug, Clone)]
pub(super) struct Deck {
    pub(super) rates: Vec<f64>,
    pub(super) hands: Vec<(usize, usize)>,
}

pub(super) fn decks(strata: &[TreatmentStratum]) -> Vec<Deck> {
    let deck = |stratum: &TreatmentStratum| {
        let middle = mean(&stratum.rates);
        let mut trays: Vec<(usize, f64)> = stratum
            .treatments
            .iter()
            .zip(&stratum.rates)
            .map(|(treatment, rate)| (*treatment, rate - middle))
            .collect();
        trays.sort_by_key(|tray| tray.0);
        let mut hands: Vec<(usize, usize)> = Vec::new();
        for (treatment, _) in &trays {
            match hands.last_mut() {
                Some(hand) if hand.0 == *treatment => hand.1 += 1,
                _ => hands.push((*treatment, 1)),
            }
        }
        Deck { rates: trays.into_iter().map(|tray| tray.1).collect(), hands }
    };
    strata.iter().filter(|stratum| !stratum.rates.is_empty()).map(deck).collect()
}

impl Deck {
    pub(super) fn assignments(&self) -> f64 {
        let mut left = self.rates.len();
        self.hands.iter().fold(1.0, |product, (_, size)| {
            let ways = choices(left, *size);
            left -= size;
            product * ways
        })
    }

    pub(super) fn add(&self, totals: &mut [f64]) {
        let mut rates = self.rates.iter();
        for (treatment, size) in &self.hands {
            let sum: f64 = rates.by_ref().take(*size).sum();
            if let Some(total) = totals.get_mut(*treatment) {
                *total += sum;
            }
        }
    }

    /// The totals of all hands in every assignment, one after another.
    pub(super) fn enumerate(&self, control: &Control) -> Result<Vec<f64>> {
        // The largest hand takes what the others leave, so the depth stays small.
        let largest = (0..self.hands.len()).max_by_key(|at| self.hands.get(*at).map_or(0, |hand| hand.1)).unwrap_or(0);
        let order =
            self.hands.iter().enumerate().filter(|(at, _)| *at != largest).map(|(at, hand)| (at, hand.1)).collect();
        let sums = vec![0.0; self.hands.len()];
        let mut walk = Walk { order, largest, sums, found: Vec::new(), control };
        walk.hand(&self.rates, 0)?;
        Ok(walk.found)
    }
}

/// Goes through all ways to deal one stratum.
struct Walk<'a> {
    /// Hands to pick, place and size.
    order: Vec<(usize, usize)>,
    /// The hand that takes the rest.
    largest: usize,
    sums: Vec<f64>,
    found: Vec<f64>,
    control: &'a Control,
}

impl Walk<'_> {
    fn set(&mut self, at: usize, sum: f64) {
        if let Some(place) = self.sums.get_mut(at) {
            *place = sum;
        }
    }

    /// Deals hand number `step` from `rates`, then the next ones.
    fn hand(&mut self, rates: &[f64], step: usize) -> Result<()> {
        self.control.step()?;
        match self.order.get(step) {
            Some((_, size)) => self.pick(rates, *size, &mut Vec::with_capacity(rates.len()), (step, 0.0)),
            None => {
                self.found.extend_from_slice(&self.sums);
                Ok(())
            }
        }
    }

    /// Picks `size` more of `rates` for hand number `step`; those passed over wait in `left`.
    fn pick(&mut self, rates: &[f64], size: usize, left: &mut Vec<f64>, (step, sum): (usize, f64)) -> Result<()> {
        if size == 0 {
            if let Some((at, _)) = self.order.get(step).copied() {
                self.set(at, sum);
            }
            if step + 1 == self.order.len() {
                // Rates are centred: the rest is what is missing to 0.
                let dealt: f64 = self.order.iter().filter_map(|(at, _)| self.sums.get(*at)).sum();
                self.set(self.largest, -dealt);
                self.found.extend_from_slice(&self.sums);
                return Ok(());
            }
            let rest: Vec<f64> = left.iter().chain(rates).copied().collect();
            return self.hand(&rest, step + 1);
        }
        let before = left.len();
        let mut rest = rates;
        while let Some((first, others)) = rest.split_first().filter(|_| rest.len() >= size) {
            self.pick(others, size - 1, left, (step, sum + first))?;
            left.push(*first);
            rest = others;
        }
        left.truncate(before);
        Ok(())
    }
}
