//! What the recorded columns say about the design, in words: the unit, balance, nesting, and what cannot be tested.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::answer::Note;
use crate::math::design::{Key, tally};
use crate::report::cautions::Claims;
use crate::report::{capital, cautions, plural, whole};
use crate::trial::columns::{Factor, UnitKind, Units};
use crate::trial::unit_words::unit_called;
use crate::trial::units::StockSpread;

/// A treatment that cannot be told apart from a place or from another treatment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Confounding {
    /// The treatment.
    pub treatment: String,
    /// What it cannot be told apart from.
    pub with: String,
    /// Why, in a sentence.
    pub reason: String,
}

/// The design as recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Design {
    /// "tray", "pooled cuttings", or the column of mother plants where these are the units.
    pub unit: String,
    /// Number of units.
    pub n_units: usize,
    /// Number of cuttings.
    pub n_cuttings: u64,
    /// Treatment combinations present.
    pub n_combinations: usize,
    /// Fewest units in a combination that is present.
    pub fewest_units: usize,
    /// Most units in a combination.
    pub most_units: usize,
    /// Treatments whose effect cannot be tested, and why.
    pub confounded: Vec<Confounding>,
    /// Treatments applied to whole plots that have repeats.
    pub whole_plot_treatments: Vec<String>,
    /// The control level of each treatment that has one.
    pub controls: BTreeMap<String, String>,
    /// The design in one or two sentences.
    pub sentence: String,
    /// Further lines, one fact each.
    pub lines: Vec<String>,
    /// Named cautions.
    pub notes: Vec<Note>,
}

/// Describes the design.
#[must_use]
pub(super) fn describe(units: &Units, stock: &[StockSpread]) -> Design {
    let keys: Vec<Key<'_>> = units.treatments.iter().map(Factor::key).collect();
    let trays: Vec<usize> = tally(&keys, units.len()).1.into_iter().map(|size| size as usize).collect();
    let fewest = trays.iter().copied().min().unwrap_or(0);
    let most = trays.iter().copied().max().unwrap_or(0);
    let possible: usize = units.treatments.iter().fold(1, |cells, one| cells.saturating_mul(one.levels.len()));
    let confounded = confoundings(units);
    let mut design = Design {
        unit: if units.kind == UnitKind::Tray { unit_called(units) } else { "pooled cuttings".to_owned() },
        n_units: units.len(),
        n_cuttings: units.stuck.iter().fold(0_u64, |sum, value| sum.saturating_add(*value)),
        n_combinations: trays.len(),
        fewest_units: fewest,
        most_units: most,
        whole_plot_treatments: repeated_whole_plots(units, &confounded),
        confounded,
        controls: BTreeMap::new(),
        sentence: String::new(),
        lines: Vec::new(),
        notes: Vec::new(),
    };
    design.sentence = sentence(&design, units);
    design.lines = lines(&design, units, possible, stock);
    design.notes = notes(&design, units, stock);
    design
}

/// For each level of `outer`, how many levels of `inner` are found with it.
fn found_with(outer: &Factor, inner: &Factor) -> Vec<usize> {
    let mut found = vec![0; outer.levels.len()];
    for unit in tally(&[outer.key(), inner.key()], outer.codes.len()).0 {
        let code = outer.codes.get(unit).copied().unwrap_or_default();
        if let Some(found) = found.get_mut(code as usize) {
            *found += 1;
        }
    }
    found.retain(|levels| *levels > 0);
    found
}

fn constant_within(inner: &Factor, outer: &Factor) -> bool {
    found_with(outer, inner).iter().all(|levels| *levels == 1)
}

fn one_place_per_level(treatment: &Factor, place: &Factor) -> bool {
    found_with(treatment, place).iter().all(|places| *places == 1)
}

fn confoundings(units: &Units) -> Vec<Confounding> {
    let mut found = Vec::new();
    for (at, one) in units.treatments.iter().enumerate() {
        if one.levels.len() < 2 {
            continue;
        }
        for place in [&units.whole_plot, &units.block, &units.season, &units.stock_plant].into_iter().flatten() {
            if constant_within(one, place) && one_place_per_level(one, place) {
                let reason = format!(
                    "each level of {} was in a single {}, so a difference between levels may just as well be a difference between places; its effect can be estimated but not tested",
                    one.name, place.name
                );
                found.push(Confounding { treatment: one.name.clone(), with: place.name.clone(), reason });
            }
        }
        for other in units.treatments.iter().take(at).filter(|other| other.levels.len() > 1) {
            if constant_within(one, other) && constant_within(other, one) {
                let reason = format!(
                    "{} and {} always change together, so their effects cannot be told apart",
                    other.name, one.name
                );
                found.push(Confounding { treatment: one.name.clone(), with: other.name.clone(), reason });
            }
        }
    }
    found
}

fn repeated_whole_plots(units: &Units, confounded: &[Confounding]) -> Vec<String> {
    let Some(place) = &units.whole_plot else { return Vec::new() };
    let free = |one: &&Factor| {
        one.levels.len() > 1
            && constant_within(one, place)
            && !confounded.iter().any(|c| c.treatment == one.name && c.with == place.name)
    };
    units.treatments.iter().filter(free).map(|one| one.name.clone()).collect()
}

/// Treatments that were given to seasons, blocks or stock plants as a whole, several per level, with that column.
fn judged_above(units: &Units, design: &Design) -> Vec<(String, String)> {
    let several = units.treatments.iter().filter(|one| one.levels.len() > 1);
    let above = several.filter_map(|one| Some((one.name.clone(), units.unit_of(one)?.name.clone())));
    let plots = units.whole_plot.as_ref().map(|place| place.name.as_str());
    above
        .filter(|(name, place)| Some(place.as_str()) != plots && design.confounded.iter().all(|c| c.treatment != *name))
        .collect()
}

fn sentence(design: &Design, units: &Units) -> String {
    let names: Vec<&str> = units.treatments.iter().map(|one| one.name.as_str()).collect();
    let over = if names.is_empty() {
        String::new()
    } else {
        format!(" over {} of {}", whole(design.n_combinations as u64, "combination", "combinations"), names.join(" x "))
    };
    match units.kind {
        UnitKind::Tray => {
            let word = unit_called(units);
            let told = if units.plants_are_units() {
                " No trays were recorded, so a plant's cuttings are counted together."
            } else {
                ""
            };
            format!(
                "The experimental unit is the {word}: {} with {} cuttings{over}, {} per combination.{told}",
                whole(design.n_units as u64, &word, &plural(&word)),
                design.n_cuttings,
                range(design.fewest_units, design.most_units, &word)
            )
        }
        UnitKind::Pooled => format!(
            "No trays were recorded: {} cuttings{over} are pooled, so nothing tells how trays differ and every interval is too narrow.",
            design.n_cuttings
        ),
    }
}

fn range(low: usize, high: usize, word: &str) -> String {
    if low == high {
        return whole(low as u64, word, &plural(word));
    }
    format!("{low} to {high} {}", plural(word))
}

fn lines(design: &Design, units: &Units, possible: usize, stock: &[StockSpread]) -> Vec<String> {
    let mut lines = Vec::new();
    for one in &units.treatments {
        lines.push(format!("{}: {} ({})", one.name, levels_of(one), shown(&one.levels)));
    }
    if design.n_combinations < possible {
        lines.push(format!(
            "{} of {possible} treatment combinations {} no cuttings",
            possible - design.n_combinations,
            if possible - design.n_combinations == 1 { "has" } else { "have" }
        ));
    }
    if units.kind == UnitKind::Tray {
        let least = units.stuck.iter().min().copied().unwrap_or(0);
        let most = units.stuck.iter().max().copied().unwrap_or(0);
        let size = if least == most { format!("{least}") } else { format!("{least} to {most}") };
        let balance =
            if design.fewest_units == design.most_units && least == most { "balanced" } else { "not balanced" };
        lines.push(format!("{size} cuttings per {}; {balance}", unit_called(units)));
    }
    for (role, place) in [("block", &units.block), ("whole plot", &units.whole_plot), ("season", &units.season)] {
        if let Some(place) = place {
            lines.push(format!("{role} {}: {}", place.name, place_line(place, units)));
        }
    }
    if let (Some(whole), Some(block)) = (&units.whole_plot, &units.block) {
        if constant_within(block, whole) {
            lines.push(format!("{} is nested in {}", whole.name, block.name));
        } else if constant_within(whole, block) {
            lines.push(format!("{} is nested in {}", block.name, whole.name));
        }
    }
    for name in &design.whole_plot_treatments {
        lines.push(format!(
            "{name} was given to whole plots, several per level: it is judged against whole plots, not trays"
        ));
    }
    for (name, place) in judged_above(units, design) {
        // Where the plants are the units no trays were recorded.
        let trays = if units.plants_are_units() { "" } else { ", not trays" };
        let what = plural(&place);
        let one = place.replace('_', " ");
        lines.push(format!("{name} does not change within any {one}: it is judged against {what}{trays}"));
    }
    lines.extend(design.confounded.iter().map(|one| one.reason.clone()));
    lines.extend(stock.iter().map(|one| match one.confined {
        all if all == one.plants => format!("{all} mother plants, each in a single level of {}", one.treatment),
        some => format!("{} mother plants; {some} of them in a single level of {}", one.plants, one.treatment),
    }));
    lines
}

fn shown(levels: &[String]) -> String {
    const MOST: usize = 12;
    let mut text = levels.iter().take(MOST).cloned().collect::<Vec<_>>().join(", ");
    if levels.len() > MOST {
        text.push_str(&format!(", ... {} more", levels.len() - MOST));
    }
    text
}

fn place_line(place: &Factor, units: &Units) -> String {
    let parts: Vec<String> = units
        .treatments
        .iter()
        .filter(|one| one.levels.len() > 1)
        .map(|one| {
            let found = found_with(place, one);
            if found.iter().all(|levels| *levels == one.levels.len()) {
                format!("every one holds all levels of {}", one.name)
            } else if found.iter().all(|levels| *levels == 1) {
                format!("each holds one level of {}", one.name)
            } else {
                format!("some lack levels of {}", one.name)
            }
        })
        .collect();
    format!("{}; {}", levels_of(place), parts.join("; "))
}

fn notes(design: &Design, units: &Units, stock: &[StockSpread]) -> Vec<Note> {
    let mut notes = Vec::new();
    if units.kind == UnitKind::Pooled {
        notes.push(cautions::no_trays(Claims::Both));
    } else if design.fewest_units < 4 {
        let text = format!(
            "Some treatment has only {}; 4 or more, better 6, are needed to judge differences.",
            range(design.fewest_units, design.fewest_units, &unit_called(units))
        );
        notes.push(Note::new("few_trays", text));
    }
    if units.plants_are_units() {
        notes.push(Note::new(
            "plants_for_trays",
            "No trays were recorded, so the cuttings of each mother plant are counted as one. Where several plants shared a tray, or each treatment had trays of its own, what the trays add is not counted: record tray numbers.",
        ));
    } else if units.kind == UnitKind::Pooled && !stock.is_empty() {
        notes.push(Note::new(
            "plants_without_trays",
            "Mother plants are named and no trays, and a treatment changes within plants: cuttings are counted, and plants play no part. Where the cuttings of a plant that had one treatment stood by themselves, tray= takes the columns of plant and treatments together; then plants are counted too.",
        ));
    }
    for one in &design.confounded {
        let mut text = one.reason.clone();
        text.push_str("; repeat the trial in other rooms or times to tell them apart.");
        notes.push(Note::new("confounded", capital(&text)));
    }
    let told = |one: &&StockSpread| design.confounded.iter().all(|c| c.treatment != one.treatment);
    for one in stock.iter().filter(|one| one.plants > 0 && one.confined == one.plants).filter(told) {
        let judged = if units.kind == UnitKind::Pooled {
            " lies between plants, whose number should count and does not without trays."
        } else if units.stock_plant.is_some() {
            " is judged against plants: their number counts, not that of trays."
        } else {
            " lies between plants, which trays mix: their number counts, not that of trays."
        };
        let text = format!(
            "Every mother plant gave cuttings to a single level of {0}, so {0}{judged} A rootstock cannot be otherwise; where {0} can be dealt out, give each plant all levels.",
            one.treatment
        );
        notes.push(Note::new("stock_plant_confounded", text));
    }
    notes
}

fn levels_of(factor: &Factor) -> String {
    whole(factor.levels.len() as u64, "level", "levels")
}
