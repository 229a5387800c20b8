//! The words, table and notes of all comparisons of a treatment.

use super::borderline;
use super::decision::{Claim, details, sentence};
use super::numbers::{AllComparisons, AllOptions, PairComparison};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::compare::changing;
use crate::compare::numbers::Comparison;
use crate::compare::opinion::a_pair_needs;
use crate::effects::{Adjustment, cited};
use crate::report::{cautions, numbers, plural, whole};
use crate::trial::{Units, answer_of_units, units_head};

/// What stands around the figures.
pub(super) struct Around<'a> {
    pub(super) units: &'a Units,
    pub(super) options: &'a AllOptions,
    /// Notes of all pairs, as they came.
    pub(super) notes: Vec<Note>,
    /// Whether the levels are numbers of which a curve would say more.
    pub(super) curve: bool,
    /// The first pair, whose methods paragraph holds for all.
    pub(super) first: Option<Answer<Comparison>>,
}

pub(super) fn answer(found: AllComparisons, adjust: Adjustment, around: Around<'_>) -> Answer<AllComparisons> {
    let at: Vec<String> = around.options.compare.at.iter().map(|(name, value)| format!("{name} {value}")).collect();
    let made_with = MadeWith {
        seed: around.first.as_ref().and_then(|one| one.made_with.seed),
        ..MadeWith::new(&[
            ("factor", found.factor.clone()),
            ("against", found.against.clone().unwrap_or_default()),
            ("together", found.together.name().to_owned()),
            ("at", at.join(", ")),
            ("confidence", found.confidence.to_string()),
            ("trays", format!("{:?}", around.options.compare.trays).to_lowercase()),
        ])
    };
    let made_with = told_of_first(made_with, around.first.as_ref());
    let mut references = around.first.as_ref().map(|one| one.references.clone()).unwrap_or_default();
    references.extend(cited(adjust).iter().map(|one| (*one).to_owned()));
    references.extend(
        changing::cited(&found.changing).into_iter().filter(|one| !references.contains(one)).collect::<Vec<_>>(),
    );
    let units = around.units;
    let answer = Answer {
        kind: "all_comparisons".to_owned(),
        table: table(&found, around.options),
        sentence: sentence(&found, around.options, around.units),
        details: details(&found, adjust, (around.options, around.units)),
        methods: methods(&found, adjust, &around) + &changing::methods(&found.changing, &found.factor),
        notes: notes(&found, adjust, around),
        numbers: found,
        references,
        made_with,
    };
    answer_of_units(units, answer)
}

/// What the methods tell of the first pair, which holds for all.
fn told_of_first(made_with: MadeWith, first: Option<&Answer<Comparison>>) -> MadeWith {
    let Some(first) = first.map(|one| &one.numbers) else { return made_with };
    let told = made_with
        .resting_on("correlation", first.spread.map_or(0.0, |spread| spread.icc))
        .resting_on("df", first.df.unwrap_or(f64::NAN))
        .resting_on("interval_level", first.confidence);
    match first.randomisation.as_ref().and_then(|dealt| dealt.drawn) {
        Some(drawn) => told.resting_on("draws", drawn as f64),
        None => told,
    }
}

fn table(found: &AllComparisons, options: &AllOptions) -> Sheet {
    let (pairs, units) = (&found.pairs, units_head(&found.unit));
    let said = |level: &str| options.compare.spoken.as_ref().map_or_else(|| level.to_owned(), |one| one.short(level));
    let mut sheet = Sheet::default();
    sheet.text("second", pairs.iter().map(|pair| said(&pair.second)));
    sheet.text("minus first", pairs.iter().map(|pair| said(&pair.first)));
    sheet.difference("value", pairs.iter().map(|pair| pair.value));
    sheet.difference("low", pairs.iter().map(|pair| pair.low));
    sheet.difference("high", pairs.iter().map(|pair| pair.high));
    sheet.p("p", pairs.iter().map(|pair| pair.p));
    sheet.p("p_adjusted", pairs.iter().map(|pair| pair.p_adjusted));
    sheet.text("shown", pairs.iter().map(|pair| Claim::in_words(pair, 1.0 - found.confidence)));
    sheet.text("test", pairs.iter().map(|pair| pair.test.clone().unwrap_or_default()));
    sheet.whole("n_units_second", pairs.iter().map(|pair| pair.n_units.1)).headed(format!("{units} of second"));
    sheet.whole("n_units_first", pairs.iter().map(|pair| pair.n_units.0)).headed(format!("{units} of first"));
    sheet
}

fn notes(found: &AllComparisons, adjust: Adjustment, around: Around<'_>) -> Vec<Note> {
    let mut notes: Vec<Note> = changing::note(&changing::shown(&found.changing), &found.factor).into_iter().collect();
    for note in around.notes.into_iter().filter(|note| note.code != "units_left_out") {
        // Each pair brings the same cautions; one of a kind is enough.
        if note.code != "p_out_of_reach" && notes.iter().all(|known| known.code != note.code) {
            notes.push(note);
        }
    }
    notes.extend(left_out(found));
    notes.extend(out_of_reach(found));
    let each = numbers::number(100.0 * found.interval_level);
    if adjust == Adjustment::None && found.n_tests > 1 {
        notes.push(cautions::not_adjusted("pair"));
    } else if !adjust.matches_intervals() && found.n_tests > 1 {
        let kind = if adjust == Adjustment::SidakStepDown { "Šidák" } else { "Bonferroni" };
        notes.push(Note::new("single_step_intervals", format!(
            "The adjustment goes by steps and has no simple intervals of its own: the intervals are {kind}'s, at {each} % each, and a pair whose adjusted P value is small while its interval crosses 0 is not told apart. {} has intervals of one step, which agree with their P values.",
            borderline::call(found, around.options, around.units)
        )));
    }
    if adjust.holds_discovery_rate() {
        notes.push(cautions::discovery_rate());
    }
    if around.curve {
        notes.push(cautions::curve_before_pairs(&found.factor));
    }
    if found.n_tests > 0 && found.n_tests < found.pairs.len() as u64 {
        notes.push(Note::new(
            "pairs_without_test",
            format!("The family holds the {} that can be tested.", whole(found.n_tests, "pair", "pairs")),
        ));
    }
    cautions::last(notes)
}

/// That dealing the units out again is too coarse for pairs that are judged together.
fn out_of_reach(found: &AllComparisons) -> Option<Note> {
    let wanted = 1.0 - found.interval_level;
    let known: Vec<f64> = found.pairs.iter().filter_map(|pair| pair.smallest_p).collect();
    let beyond: Vec<f64> = known.iter().copied().filter(|least| *least > wanted).collect();
    let least = beyond.iter().copied().min_by(f64::total_cmp)?;
    let units = plural(&found.unit);
    let which = if beyond.len() == known.len() {
        "for any pair".to_owned()
    } else {
        format!("for {} of {} pairs", beyond.len(), known.len())
    };
    let needs = a_pair_needs(found.interval_level, found.confidence, found.n_tests);
    let text = format!(
        "With {units} as laid out dealing them out again cannot give a P value below {} {which}{needs}: there it can neither confirm nor deny what the leading test says; with more {units} it could.",
        numbers::number(least)
    );
    Some(Note::new("p_out_of_reach", text))
}

/// The pairs that rest on a part of their units.
fn left_out(found: &AllComparisons) -> Option<Note> {
    let few = |pair: &&PairComparison| {
        pair.p.is_some() && pair.carried.as_ref().is_some_and(|carried| carried.note(&found.factor, "").is_some())
    };
    let one = |pair: &PairComparison| {
        let ((first, second), (of_first, of_second)) = (pair.n_units_used, pair.n_units);
        format!("{} minus {}: {second} of {of_second} and {first} of {of_first}", pair.second, pair.first)
    };
    let pairs: Vec<String> = found.pairs.iter().filter(few).map(one).collect();
    (!pairs.is_empty()).then(|| {
        Note::new(
            "units_left_out",
            format!(
                "Units in strata of a single level carry nothing. Pairs that rest on fewer than 80 % of a level's {}: {}.",
                plural(&found.unit),
                pairs.join("; ")
            ),
        )
    })
}

fn methods(found: &AllComparisons, adjust: Adjustment, around: &Around<'_>) -> String {
    let family = match &found.against {
        Some(level) => format!("the comparisons with {level}"),
        None => "all pairs of levels".to_owned(),
    };
    let one = around.first.as_ref().map(|one| one.methods.clone()).unwrap_or_default();
    if adjust == Adjustment::None {
        return format!("{one} The P values and intervals of {family} were not adjusted for their number.");
    }
    format!(
        "{one} The P values of {family} ({}) were adjusted together ({}); each interval has a level of {} %, so that all hold together at {} % or more. Two levels are said to differ where both the adjusted P value and the interval say so.",
        whole(found.n_tests, "test", "tests"),
        adjust.in_words(),
        numbers::number(100.0 * found.interval_level),
        numbers::number(100.0 * found.confidence)
    )
}
