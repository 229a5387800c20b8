//! Earlier trials of the place: what they hand on, what is checked of it, and how it is told.

use std::collections::BTreeMap;

use crate::answer::{Answer, Note};
use crate::error::Issue;
use crate::layers::{Earlier, Known, Layers, Place, TRAY, Trays};
use crate::report::{join, references_spread};
use crate::trial::LoadOptions;
use crate::trial::columns::{Factor, UnitKind, Units};

/// Units above the tray with the part they play.
fn places(units: &Units) -> Vec<(&'static str, &Factor)> {
    let recorded = [
        ("season", &units.season),
        ("block", &units.block),
        ("whole_plot", &units.whole_plot),
        ("stock_plant", &units.stock_plant),
    ];
    recorded.into_iter().filter_map(|(role, factor)| factor.as_ref().map(|factor| (role, factor))).collect()
}

/// Sets of units counted as one each, by their treatments.
struct Counted {
    rooted: Vec<f64>,
    stuck: Vec<f64>,
    row: Vec<usize>,
    /// The first unit of each.
    first: Vec<usize>,
    design: Vec<Vec<f64>>,
}

impl Counted {
    /// `home` tells which units belong together.
    fn new(units: &Units, treatments: &[&Factor], home: impl Fn(usize) -> u32) -> Self {
        let mut sums: BTreeMap<u32, (f64, f64, usize)> = BTreeMap::new();
        for unit in 0..units.len() {
            let Some(count) = units.count(unit).filter(|count| count.stuck > 0) else { continue };
            let sum = sums.entry(home(unit)).or_insert((0.0, 0.0, unit));
            *sum = (sum.0 + count.rooted as f64, sum.1 + count.stuck as f64, sum.2);
        }
        let mut cells: BTreeMap<Vec<u32>, usize> = BTreeMap::new();
        let codes =
            |unit: usize| -> Vec<u32> { treatments.iter().filter_map(|one| one.codes.get(unit).copied()).collect() };
        let mut row = Vec::with_capacity(sums.len());
        for (_, _, unit) in sums.values() {
            let next = cells.len();
            row.push(*cells.entry(codes(*unit)).or_insert(next));
        }
        let n = cells.len();
        let design = (0..n).map(|cell| (0..n).map(|at| f64::from(u8::from(at == cell))).collect()).collect();
        let (rooted, stuck) = sums.values().map(|sum| (sum.0, sum.1)).unzip();
        Self { rooted, stuck, row, first: sums.values().map(|sum| sum.2).collect(), design }
    }

    fn layers(&self, places: &[Place], earlier: Option<&Earlier>) -> Option<Layers> {
        let trays = Trays { rooted: &self.rooted, stuck: &self.stuck, row: &self.row, design: &self.design, places };
        Layers::with(&trays, earlier)
    }
}

/// The layers of a trial within all combinations of its treatments.
fn layers(units: &Units, earlier: Option<&Earlier>) -> Option<Layers> {
    let counted = Counted::new(units, &units.treatments.iter().collect::<Vec<_>>(), |unit| unit as u32);
    let place = |(_, factor): (&str, &Factor)| {
        let codes: Vec<u32> = counted.first.iter().filter_map(|unit| factor.codes.get(*unit).copied()).collect();
        Place::new(&factor.name, &codes)
    };
    let places: Vec<Place> = places(units).into_iter().map(place).collect();
    counted.layers(&places, earlier)
}

/// What counts hand on to later trials: how their trays differ, and the units above them ([`crate::trial::Trial::for_later`] of a trial).
/// `fingerprint` tells these counts from others.
///
/// # Errors
/// An issue where no trays are recorded or nothing shows how they differ.
pub fn for_later(units: &Units, fingerprint: &str) -> Result<Earlier, Issue> {
    if units.kind != UnitKind::Tray {
        let hint = "name its tray column with tray= when loading it, or leave it out of earlier=";
        let reason = "an earlier trial has no trays recorded, so it does not tell how trays differ";
        return Err(Issue::of_input("earlier_without_trays", reason, hint));
    }
    let Some(found) = layers(units, None) else {
        let hint = "leave it out of earlier=, or load it with fewer treatments";
        let reason = "no two trays of an earlier trial were treated alike, so it does not tell how trays differ";
        return Err(Issue::of_input("earlier_tells_nothing", reason, hint));
    };
    let role = |known: &Known| {
        let role =
            places(units).into_iter().find(|(_, factor)| factor.name == known.unit).map_or(TRAY, |(role, _)| role);
        Known { role: role.to_owned(), ..known.clone() }
    };
    let mut known: Vec<Known> = found.own.iter().filter(|one| one.df > 0.5).map(role).collect();
    for (role, factor) in places(units) {
        let given: Vec<&Factor> = units.treatments.iter().filter(|one| one.constant_within(factor)).collect();
        let code = |unit: usize| factor.codes.get(unit).copied().unwrap_or_default();
        let totals = Counted::new(units, &given, code).layers(&[], None);
        let own = totals.and_then(|found| found.own.into_iter().next()).filter(|one| one.df > 0.5);
        known.extend(own.map(|own| Known { unit: factor.name.clone(), role: role.to_owned(), totals: true, ..own }));
    }
    Ok(Earlier { trials: vec![fingerprint.to_owned()], known })
}

/// What is wrong with earlier trials beside this one.
pub(super) fn wrong(earlier: &[Earlier], fingerprint: &str, options: &LoadOptions) -> Vec<Issue> {
    let mut issues = Vec::new();
    if earlier.iter().flat_map(|one| &one.trials).any(|trial| trial == fingerprint) {
        let reason = "a trial given as earlier has the very counts of this one";
        issues.push(Issue::of_input("earlier_is_this_trial", reason, "take it out of earlier="));
    }
    let mut seen: Vec<&String> = Vec::new();
    for trial in earlier.iter().flat_map(|one| &one.trials) {
        if seen.contains(&trial) {
            let reason = "a trial is given twice as earlier, which would count its spread twice";
            issues.push(Issue::of_input("earlier_twice", reason, "give each earlier trial once"));
            break;
        }
        seen.push(trial);
    }
    let roles: BTreeMap<&str, &str> = options.roles().into_iter().collect();
    let mut told: Vec<(&str, &str)> = Vec::new();
    for known in earlier.iter().flat_map(|one| &one.known) {
        let here = roles.get(known.role.as_str()).filter(|_| known.role != TRAY);
        if let Some(here) = here.filter(|here| **here != known.unit)
            && !told.contains(&(known.role.as_str(), known.unit.as_str()))
        {
            told.push((&known.role, &known.unit));
            let reason = format!(
                "an earlier trial calls its {} column {:?}, this one {here:?}, so its spread cannot be taken over",
                known.role, known.unit
            );
            let hint = format!("rename the column to {here:?} in the earlier trial if both are the same kind of unit");
            issues.push(Issue::of_input("earlier_other_names", reason, hint));
        }
    }
    issues
}

/// Lines of the design and notes about what came from earlier trials.
pub(super) fn tell(units: &Units, lines: &mut Vec<String>, notes: &mut Vec<Note>) {
    let Some(found) = units.earlier.as_ref().and_then(|earlier| layers(units, Some(earlier))) else { return };
    let name = |unit: &str| if unit == TRAY { "trays".to_owned() } else { format!("levels of {unit}") };
    for one in &found.shrunk {
        let trials =
            if one.trials == 1 { "1 earlier trial".to_owned() } else { format!("{} earlier trials", one.trials) };
        lines.push(format!(
            "how {} differ: {trials} add {:.1} degrees of freedom to the {:.0} of this trial",
            name(&one.unit),
            one.earlier_df,
            one.own_df
        ));
    }
    let differ: Vec<String> = found.shrunk.iter().filter(|one| one.differs).map(|one| name(&one.unit)).collect();
    if !differ.is_empty() {
        let text = format!(
            "In this trial {} differ more or less than in the earlier trials. Nothing changes for it: the earlier trials count as before, by how their own spreads vary.",
            join(&differ.iter().map(String::as_str).collect::<Vec<_>>())
        );
        notes.push(Note::new("earlier_trials_differ", text));
    }
}

/// What is said where earlier trials had a say in the error.
pub(crate) struct EarlierWords {
    pub(crate) note: Note,
    pub(crate) methods: String,
    pub(crate) references: [&'static str; 2],
    pub(crate) option: (String, String),
}

/// The words for answers about these units; none where no earlier trials were given or trays are not counted.
pub(crate) fn earlier_words(units: &Units) -> Option<EarlierWords> {
    let earlier = units.earlier.as_ref().filter(|_| units.kind == UnitKind::Tray)?;
    let count = earlier.trials.len();
    let trials = if count == 1 { "an earlier trial".to_owned() } else { format!("{count} earlier trials") };
    let note = format!(
        "How trays and the units above them differ was learnt from this trial and from {trials} of the place; trial.design says how much each adds."
    );
    let few = if count < 3 { ", with so few of them at least as if spreads differed by a factor of two" } else { "" };
    let methods = format!(
        " Mean squares of trays and of units above them were averaged by degrees of freedom with what {trials} led to expect, whose weight was estimated from how spreads differ between trials{few} (Smyth 2004; Lönnstedt and Speed 2002)."
    );
    Some(EarlierWords {
        note: Note::new("earlier_trials", note),
        methods,
        references: [references_spread::SMYTH_2004, references_spread::LONNSTEDT_SPEED_2002],
        option: ("earlier".to_owned(), earlier.trials.join(" ")),
    })
}

/// An answer about units that says that earlier trials had a say in its error.
pub(crate) fn with_earlier<F>(mut answer: Answer<F>, units: &Units) -> Answer<F> {
    if let Some(words) = earlier_words(units) {
        answer.notes.push(words.note);
        answer.methods.push_str(&words.methods);
        answer.references.extend(words.references.map(str::to_owned));
        answer.made_with.options.push(words.option);
    }
    answer
}
