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

/// What an answer claims too much of where trays do not count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Claims {
    /// One interval and one P value.
    OneOfEach,
    /// Intervals alone.
    Intervals,
    /// P values alone.
    PValues,
    /// Intervals and P values.
    Both,
}

impl Claims {
    fn too_strong(self) -> &'static str {
        match self {
            Self::OneOfEach => "the interval is too narrow and the P value too small",
            Self::Intervals => "the intervals are too narrow",
            Self::PValues => "the P values are too small",
            Self::Both => "the intervals are too narrow and the P values too small",
        }
    }
}

/// Plain counts, which know no trays: code `independent_cuttings`.
#[must_use]
pub fn independent_cuttings() -> Note {
    Note::new(
        "independent_cuttings",
        "Cuttings count as independent of each other. Where they share trays, P values come out too small and intervals too narrow: \
         load the trial with its trays.",
    )
}

/// A trial without trays: code `no_tray_information`.
///
/// ```
/// use rootling::report::cautions::{Claims, no_trays};
/// let want = "No trays were recorded: cuttings are counted as if each stood alone, so the intervals are too narrow.";
/// assert_eq!(no_trays(Claims::Intervals).text, want);
/// ```
#[must_use]
pub fn no_trays(claims: Claims) -> Note {
    let text =
        format!("No trays were recorded: cuttings are counted as if each stood alone, so {}.", claims.too_strong());
    Note::new("no_tray_information", text)
}

/// Trays that were recorded and do not count, as asked: code `trays_ignored`.
///
/// ```
/// use rootling::report::cautions::{Claims, trays_ignored};
/// assert!(trays_ignored(Claims::PValues).text.ends_with("share its luck, so the P values are too small."));
/// ```
#[must_use]
pub fn trays_ignored(claims: Claims) -> Note {
    let text =
        format!("Trays were ignored on request: cuttings of one tray share its luck, so {}.", claims.too_strong());
    Note::new("trays_ignored", text)
}

/// Lines of a table that count cuttings beside those that count trays: code `cuttings_shown_too`.
pub(crate) fn cuttings_shown_too() -> Note {
    Note::new(
        "cuttings_shown_too",
        "Lines that count cuttings treat them as independent; they are shown for comparison with older reports only.",
    )
}

/// Several pairs or contrasts that each hold for themselves: code `not_adjusted`.
pub(crate) fn not_adjusted(one: &str) -> Note {
    let text = format!(
        "P values and intervals hold for each {one} alone; among several {} some false claim is likelier than each says.",
        plural(one)
    );
    Note::new("not_adjusted", text)
}

/// What an adjustment of false discoveries holds: code `discovery_rate`.
pub(crate) fn discovery_rate() -> Note {
    Note::new(
        "discovery_rate",
        "The adjustment holds the share of false claims among all claims, not the chance of any false claim.",
    )
}

/// Where no fit of a law of the trays is found with a contrast held, the covariance of the estimates stands in for its likelihood.
pub(crate) fn judged_by_covariance() -> Note {
    Note::new(
        "judged_by_covariance",
        "For some comparisons no fit of the law of the trays was found with the difference held at none, so they are judged by the covariance of the estimates, the others by likelihood ratios. Where an effect test disagrees, take the effect test and call the difference open. With trays=\"auto\" all go by one score.",
    )
}

/// Levels that are numbers, set against each other in pairs: code `curve_first`.
pub(crate) fn curve_before_pairs(by: &str) -> Note {
    Note::new(
        "curve_first",
        format!("The levels of {by} are numbers: a curve over them says more than pairs of levels."),
    )
}

/// Ways to deal trays out anew that were drawn: code `drawn_assignments`.
pub(crate) fn drawn_assignments(drawn: u64, error: f64) -> Note {
    let text = format!(
        "There are too many assignments to go through: {drawn} were drawn, so the randomisation P value has a standard error {}.",
        if error < 1e-4 { "below 0.0001".to_owned() } else { format!("of {}", super::numbers::number(error)) }
    );
    Note::new("drawn_assignments", text)
}

/// What a model is asked beyond what was tried, with its verb ("strength 9000 lies"): code `outside_tested_range`.
pub(crate) fn beyond_tested(what: &str, range: Option<&str>) -> Note {
    let of = range.map(|range| format!(" of {range}")).unwrap_or_default();
    let text = format!(
        "{what} beyond the tested range{of}: there the model only extends its line, and nothing in the trial supports it."
    );
    Note::new("outside_tested_range", text)
}

/// Why rates differ less than chance makes them, at the end of notes of code `underdispersion`.
pub(crate) const ALIKE_SINCE: &str = "Rounded counts can cause this, or stuck cuttings shared out evenly by quality, or \
readings that were not blind.";

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
