//! Cautions that stand beside an answer, each as a fixed text and as a named note.

use crate::answer::Note;
use crate::report::{agree, plural};

/// Shown wherever a strength is suggested and in the strength calculator.
pub const CHEMICAL: &str = "Growth regulators are regulated plant protection or pesticide products in many places: read \
the product label and the local register, and draw no conclusion for food crops. Wear eye protection when mixing where \
the label says so and avoid dust. Alcohol is flammable, gives off vapour, harms stems when near full strength and \
evaporates, so that the strength drifts. This is not professional safety advice.";

/// Shown with every best strength.
pub const BEST_STRENGTH: &str = "Holds within the tested range, for this rootstock, etiolation, method and season only; \
the product label decides lawful use and strength; trial a small batch first.";

/// Shown when a treatment has fewer than four trays.
pub const FEW_TRAYS: &str = "Fewer than four trays in a treatment: the spread between trays is poorly known, so the \
intervals are wide and a real difference is easily missed; more trays help, more cuttings per tray hardly do.";

/// Shown with every analysis that ignores trays or has none.
pub const POOLED: &str = "This treats cuttings as independent: cuttings of one tray share its place and care, so the \
interval is too narrow and the P value too small.";

/// Shown when a strength lies outside the usual range of its method.
pub const UNUSUAL_STRENGTH: &str = "Unusual for this method; check unit and substance.";

/// Shown with every monitoring alarm.
pub const SIGNAL: &str = "A signal is not a cause: check reading date, mix, operator, medium and graft wood.";

/// [`CHEMICAL`] as a note, code `chemical`.
#[must_use]
pub fn chemical() -> Note {
    Note::new("read_the_label", CHEMICAL)
}

/// Notes about the numbers first, those about the work last.
///
/// ```
/// use rootling::{Note, report::cautions};
/// let ordered = cautions::last(vec![cautions::chemical(), Note::new("few_trays", "Few.")]);
/// assert_eq!(ordered[0].code, "few_trays");
/// ```
#[must_use]
pub fn last(notes: Vec<Note>) -> Vec<Note> {
    let (work, numbers): (Vec<Note>, Vec<Note>) =
        notes.into_iter().partition(|note| note.code == "tested_range_only" || note.code == "read_the_label");
    [numbers, work].concat()
}

/// [`BEST_STRENGTH`] as a note, code `best_strength`.
#[must_use]
pub fn best_strength() -> Note {
    Note::new("tested_range_only", BEST_STRENGTH)
}

/// Rates that hold over further levels of these places, code `holds_over_places`.
pub(crate) fn holds_over_places(names: &str) -> Note {
    let text = format!(
        "Rates hold over further levels of {names}, as take_rates do, so their limits count how {names} {}. Differences are \
         compared within {names} and are not wider for it. For one level alone, hold it with at=.",
        agree(names, "differs", "differ")
    );
    Note::new("holds_over_places", text)
}

/// Rates that hold for the levels of these places at hand, code `holds_for_places_at_hand`; take rates hold over further levels where trays
/// were recorded.
pub(crate) fn holds_for_places_at_hand(names: &str, trays_recorded: bool) -> Note {
    let elsewhere = if trays_recorded { " Those of take_rates hold over further levels." } else { "" };
    let text = format!(
        "Rates hold for the levels of {names} at hand: how further levels would differ is not in their limits.{elsewhere}"
    );
    Note::new("holds_for_places_at_hand", text)
}

/// [`FEW_TRAYS`] as a note, code `few_trays`.
#[must_use]
pub fn few_trays() -> Note {
    Note::new("few_trays", FEW_TRAYS)
}

/// The same of other units than trays, as bays or seasons that hold a level each: code `few_trays`.
///
/// ```
/// let note = rootling::report::cautions::few_units("bay");
/// assert!(note.text.starts_with("Fewer than four bays in a level") && note.text.contains("more bays help"));
/// ```
#[must_use]
pub fn few_units(unit: &str) -> Note {
    if unit == "tray" {
        return few_trays();
    }
    let (unit, units) = (super::numbers::unit_name(unit), plural(unit));
    let text = format!(
        "Fewer than four {units} in a level: the spread between {units} is poorly known, so the intervals are wide and a real \
         difference is easily missed; more {units} help, more trays or cuttings in a {unit} hardly do."
    );
    Note::new("few_trays", text)
}

/// A method of pooled cuttings was named where trays are counted: code `method_unused`.
#[must_use]
pub(crate) fn method_unused(method: &str) -> Note {
    let text = format!(
        "method={method:?} is an interval of cuttings that stand alone; trays are counted here, so it plays no part. With trays=\"ignore\" it would."
    );
    Note::new("method_unused", text)
}

/// [`POOLED`] as a note, code `trays_ignored`.
#[must_use]
pub fn pooled() -> Note {
    Note::new("trays_ignored", POOLED)
}

/// A trial too small to rule out a difference of `proportion` (0-1): code `small_trial`.
///
/// ```
/// let note = rootling::report::cautions::small_trial(0.183);
/// assert_eq!(note.text, "Differences of up to 18.3 trees per 100 cannot be ruled out.");
/// ```
#[must_use]
pub fn small_trial(proportion: f64) -> Note {
    let size = super::numbers::points(proportion.abs());
    Note::new("small_trial", format!("Differences of up to {size} trees per 100 cannot be ruled out."))
}
