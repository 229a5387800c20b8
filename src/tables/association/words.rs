//! The words, table and notes of an association.

use super::numbers::{Association, AssociationOptions, AssociationTest};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::compare::{Carried, cannot_object, crossed_left_out, crossed_note, uneven_note, why_no_place_is_tested};
use crate::counts::FREEMAN_HALTON_1951;
use crate::estimate::{TestName, TestResult};
use crate::rates::{TakeRate, TraySpread, leans_on_alike, more_alike, uneven_mix};
use crate::report::cautions::Claims;
use crate::report::{
    HOW_SURE, Spoken, capital, cautions, facts, fitted, join, numbers, plural, references, verb_for, whole,
};
use crate::tables::mix::lines_without_mix;
use crate::trial::{
    Factor, Outcome, OutcomeWords, UnitKind, Units, answer_of_units, text_of_unit, text_of_units, time_note, time_tail,
};

pub(super) fn answer(
    figures: Association,
    units: &Units,
    options: &AssociationOptions,
    spread: Option<&TraySpread>,
) -> Answer<Association> {
    let tests = &figures.tests;
    let mut table = Sheet::default();
    if let Some(name) = &options.within {
        table.level(name, tests.iter().map(|one| one.stratum.clone().unwrap_or_default()));
    }
    table.text("test", tests.iter().map(|one| test_in_words(&figures, one.test.method.name())));
    let counts = |one: &AssociationTest| if one.counts == "trays" { plural(&figures.unit) } else { one.counts.clone() };
    table.text("counts", tests.iter().map(counts));
    table.text("statistic_is", tests.iter().map(|one| statistic_is(one)));
    table.statistic("statistic", tests.iter().map(|one| one.test.statistic));
    table.degrees("df", tests.iter().map(|one| one.test.df));
    table.degrees("error_df", tests.iter().map(|one| one.test.error_df));
    table.p("p", tests.iter().map(|one| one.test.p));
    let made_with = MadeWith::new(&[
        ("factor", figures.factor.clone()),
        ("within", options.within.clone().unwrap_or_default()),
        ("trays", format!("{:?}", options.trays).to_lowercase()),
        ("method", figures.method.name().to_owned()),
    ]);
    let made_with = MadeWith { seed: figures.se.map(|_| options.seed), ..made_with };
    let mut cited = vec![references::PEARSON_1900, references::FISHER_1935];
    if counted(&figures) {
        cited.extend([
            references::DONNER_KLAR_2000,
            references::DONNER_1989,
            references::RAO_SCOTT_1992,
            references::RAO_SCOTT_1984,
            references::THOMAS_RAO_1987,
        ]);
    }
    if figures.judged_by.len() > 1 && figures.left_out.is_empty() {
        cited.extend([references::HENDERSON_1953, references::SATTERTHWAITE_1946, references::FAI_CORNELIUS_1996]);
    }
    if figures.tests.iter().any(|one| one.test.method.name().starts_with("freeman-halton")) {
        cited.push(FREEMAN_HALTON_1951);
    }
    if options.within.is_some() {
        cited.push(references::HOLM_1979);
    }
    let cited = cited.into_iter().map(str::to_owned).collect();
    let answer = Answer {
        kind: "association".to_owned(),
        details: details(&figures, units, options),
        sentence: fitted(decision(&figures, units, options).trim_end_matches('.'), &tails(&figures)),
        notes: notes(&figures, units, options, spread),
        methods: methods(&figures, units, spread, options.outcome),
        references: cited,
        table,
        numbers: figures,
        made_with,
    };
    answer_of_units(units, answer)
}

/// Whether trays are counted.
fn counted(figures: &Association) -> bool {
    figures.unit != "cutting"
}

/// The decision line.
fn decision(figures: &Association, units: &Units, options: &AssociationOptions) -> String {
    let plain = Spoken::plain(&figures.factor);
    let said = options.spoken.as_ref().unwrap_or(&plain);
    let name = said.name();
    let hint = if counted(figures) && units.kind == UnitKind::Tray { "" } else { "Without trays only a hint: " };
    let OutcomeWords { rates, rooted, cutting, .. } = options.outcome.words();
    if figures.withheld.is_some() {
        if figures.unit == figures.factor {
            return format!(
                "No verdict: each level of {name} is one {name}; take_rates({:?}) shows all with intervals.",
                figures.factor
            );
        }
        return format!("No verdict: this layout cannot tell an effect of {name} from one of its places.");
    }
    let counts = if counted(figures) { "trays" } else { "cuttings" };
    let leading = || figures.tests.iter().filter(|one| one.test.method == figures.method && one.counts == counts);
    let smallest = leading().min_by(|a, b| a.test.p.total_cmp(&b.test.p));
    let Some(smallest) = smallest else {
        return format!("{hint}Nothing to test: every {cutting} {rooted}, or none did.");
    };
    let matters = verb_for(&name, "matters", "matter");
    if let Some(within) = &options.within {
        let (within, all) = (within.replace('_', " "), leading().count());
        let shown = told_apart(&leading().map(|one| one.test.p).collect::<Vec<_>>());
        let told = match shown {
            0 => format!("{} not shown to matter at any of {all} levels of {within}", verb_for(&name, "is", "are")),
            _ if shown == all => {
                format!("{matters} at each of the {all} levels of {within}; read the {rates} there for how much")
            }
            _ => format!("{matters} at {shown} of {all} levels of {within}; read the {rates} there for how much"),
        };
        let told = format!("{hint}{} {told}", start_of(&name, hint));
        return format!("{told}{}.", if shown == 0 { String::new() } else { not_dealt_out(figures, &told) });
    }
    let rate = |rate: &TakeRate| rate.levels.last().map(|level| (format!("{:.0}", 100.0 * rate.value), level.clone()));
    let judged =
        || figures.rates.iter().filter(|one| !one.levels.last().is_some_and(|level| figures.is_left_out(level)));
    let low = judged().min_by(|a, b| a.value.total_cmp(&b.value)).and_then(rate);
    let high = judged().max_by(|a, b| a.value.total_cmp(&b.value)).and_then(rate);
    let range = low.zip(high).map_or_else(String::new, |((low, worst), (high, best))| {
        let did = options.outcome.counted();
        format!(": {low} of 100 {did} at {}, {high} at {}", said.level(&worst), said.short(&best))
    });
    let p = numbers::p_value(smallest.test.p);
    let start = start_of(&name, hint);
    if smallest.test.p <= 0.05 {
        let told = format!("{hint}{start} {matters} ({p}){range}");
        format!("{told}{}.", not_dealt_out(figures, &told))
    } else {
        format!("{hint}{start} {} not shown to matter ({p}){range}.", verb_for(&name, "is", "are"))
    }
}

/// That dates were not dealt out, where the levels follow time.
fn not_dealt_out(figures: &Association, told: &str) -> String {
    figures.follows_time.as_ref().map_or_else(String::new, |_| time_tail(told, None))
}

/// That a part of the units carries the test, for the decision line.
fn tails(figures: &Association) -> Vec<String> {
    let known = || figures.carried.iter().filter(|_| figures.withheld.is_none());
    let out: Vec<&str> = known().flat_map(Carried::unjudged).collect();
    let out = (!out.is_empty()).then(|| format!("; {} cannot be judged", join(&out)));
    let carried = known().filter_map(|one| one.tail(&figures.unit)).take(1).map(|tail| format!("; {tail}"));
    out.into_iter().chain(carried).collect()
}

impl Association {
    /// True for a level of which no unit carries the test.
    fn is_left_out(&self, level: &str) -> bool {
        self.carried.iter().any(|one| one.unjudged().any(|own| own == level))
    }
}

/// Everything else, a fact a line: which units carry the test first.
fn details(figures: &Association, units: &Units, options: &AssociationOptions) -> Vec<String> {
    let known = figures.carried.iter().filter(|_| figures.withheld.is_none());
    let told = known.filter_map(|one| one.line(&figures.unit)).chain(facts(&sentence(figures, units, options)));
    how_sure(figures).into_iter().chain(told).collect()
}

/// What dealing the units out again makes of what the leading test shows, or that it cannot object.
fn how_sure(figures: &Association) -> Option<String> {
    let counts = if counted(figures) { "trays" } else { "cuttings" };
    let leading = |one: &&AssociationTest| one.test.method == figures.method && one.counts == counts;
    let shown = figures.withheld.is_none() && figures.tests.iter().filter(leading).any(|one| one.test.p <= 0.05);
    if let Some(least) = figures.smallest_p.filter(|least| shown && *least > 0.05) {
        return Some(format!("{HOW_SURE}{}.", cannot_object(&format!("so few {}", plural(&figures.unit)), least)));
    }
    let lead = figures.method != TestName::Randomisation && figures.tests.iter().filter(leading).count() == 1;
    let dealt =
        figures.tests.iter().find(|one| one.test.method == TestName::Randomisation).filter(|_| shown && lead)?;
    let says = if dealt.test.p <= 0.05 { "agrees" } else { "does not confirm it" };
    Some(format!("{HOW_SURE}a second check that assumes less {says} ({}).", numbers::p_value(dealt.test.p)))
}

/// What one of several tests says: judged together with the others, as the decision judges it.
fn verdict_of(test: &TestResult, all: &[f64], the_take: &str) -> (String, String) {
    let mut sorted = all.to_vec();
    sorted.sort_by(f64::total_cmp);
    let stands = told_apart(all).checked_sub(1).and_then(|at| sorted.get(at)).is_some_and(|last| test.p <= *last);
    let p = numbers::p_value(test.p);
    if stands {
        return (format!("{the_take} depends on"), p);
    }
    let alone = test.p <= 0.05;
    let p = if alone { format!("{p} by itself, which does not stand among {} tests", all.len()) } else { p };
    ("no dependence is shown on".to_owned(), p)
}

/// How many of several tests hold at 5 % judged together, by Holm's steps (1979).
fn told_apart(p_values: &[f64]) -> usize {
    let mut sorted = p_values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    sorted.iter().enumerate().take_while(|(at, p)| **p * (n - at) as f64 <= 0.05).count()
}

/// A name at the start of a sentence, or behind a hint.
fn start_of(name: &str, hint: &str) -> String {
    if hint.is_empty() { capital(name) } else { name.to_owned() }
}

fn sentence(figures: &Association, units: &Units, options: &AssociationOptions) -> String {
    let w = options.outcome.words();
    let start = match (units.kind, counted(figures)) {
        (UnitKind::Pooled, _) => "No trays were recorded, so the P values are too small. ",
        (UnitKind::Tray, false) => "Trays are not counted here, so the P values are too small. ",
        (UnitKind::Tray, true) => "",
    };
    let start = text_of_units(units, start.to_owned());
    if let Some(why) = &figures.withheld {
        let why = if figures.unit == figures.factor { why_no_place_is_tested(&figures.factor) } else { why.clone() };
        return format!("No test of {} is given: {why}.", figures.factor);
    }
    let counts = if counted(figures) { "trays" } else { "cuttings" };
    let leading = || figures.tests.iter().filter(|one| one.test.method == figures.method && one.counts == counts);
    let all: Vec<f64> = leading().map(|one| one.test.p).collect();
    let parts: Vec<String> = leading()
        .map(|one| {
            let place = one.stratum.as_ref().map(|level| at_level(options.within.as_deref(), level));
            let place = place.unwrap_or_default();
            let (verdict, p) = verdict_of(&one.test, &all, w.the_take);
            format!("{verdict} {}{place} ({}, {p})", figures.factor, text_of_unit(&figures.unit, &basis(&one.test)))
        })
        .collect();
    if parts.is_empty() {
        return format!("{start}Nothing to test: every {} {}, or none did.", w.cutting, w.rooted);
    }
    let text = capital(&parts.join("; "));
    format!("{start}{text}. See the {} for how large the differences are and what cannot be ruled out.", w.rates)
}

/// " at K12", " at `dark_days` 21": a level that is a number alone says nothing without its name.
fn at_level(within: Option<&str>, level: &str) -> String {
    match within {
        Some(name) if !level.contains(char::is_alphabetic) => format!(" at {name} {level}"),
        _ => format!(" at {level}"),
    }
}

/// What a test is called in the table.
fn test_in_words(figures: &Association, method: &str) -> String {
    let words = match method {
        "tray-rates" => "F of tray rates",
        "randomisation" => "F by dealing trays anew",
        "donner" => "Donner's chi-square",
        "rao-scott" => "Rao-Scott chi-square",
        "rao-scott-first-order" => "Rao-Scott of first order",
        "rao-scott-second-order" => "Rao-Scott of second order",
        "score" => "score on effective cuttings",
        "pearson" => "Pearson's chi-square",
        "pearson-corrected" => "Pearson's with Yates' correction",
        "likelihood-ratio" => "likelihood ratio",
        "fisher" => "Fisher's exact test",
        "freeman-halton" => "Freeman-Halton exact test",
        "freeman-halton, drawn" => "Freeman-Halton by drawn tables",
        other => other,
    };
    text_of_unit(&figures.unit, words)
}

/// What the statistic of a line is: t, F, chi-square, or nothing.
fn statistic_is(one: &AssociationTest) -> &'static str {
    match (one.test.statistic, one.counts.as_str(), one.test.method) {
        (None, _, _) => "",
        (_, "trays", TestName::Score) => "t",
        (_, "trays", TestName::TrayRates | TestName::Randomisation) => "F",
        _ => "chi-square",
    }
}

/// Statistic and degrees of freedom in words.
fn basis(test: &TestResult) -> String {
    let statistic = test.statistic.map(numbers::number).unwrap_or_default();
    let df = test.df.map(numbers::number).unwrap_or_default();
    let trays = test.error_df.map(numbers::number);
    match (test.method, trays) {
        (TestName::Randomisation, _) if statistic.is_empty() => "by randomisation".to_owned(),
        (TestName::Randomisation, _) => format!("F {statistic} of tray rates, by randomisation"),
        (TestName::Fisher, _) => "by Fisher's exact test".to_owned(),
        (TestName::Score, _) => {
            format!("t {statistic} on {}", numbers::degrees_of_freedom(test.df.unwrap_or(f64::NAN)))
        }
        (TestName::TrayRates, Some(trays)) => {
            format!("F {statistic} of tray rates on {df} and {trays} degrees of freedom")
        }
        (_, Some(trays)) => format!("chi-square {statistic} on {df} and {trays} degrees of freedom"),
        (_, None) => {
            format!("chi-square {statistic} on {}", numbers::degrees_of_freedom(test.df.unwrap_or(f64::NAN)))
        }
    }
}

/// One test per level of another column is several tests.
fn several_tests(figures: &Association, options: &AssociationOptions) -> Option<Note> {
    let within = options.within.as_ref()?;
    let counts = if counted(figures) { "trays" } else { "cuttings" };
    let n = figures.tests.iter().filter(|one| one.test.method == figures.method && one.counts == counts).count();
    (n > 1).then(|| {
        let text = format!(
            "These are {n} tests, one per level of {within}: the sentence and the details judge them together (Holm 1979), while each P value in the table is that of its own test."
        );
        Note::new("several_tests", text)
    })
}

/// What the design allows and how trays spread.
fn design_notes(figures: &Association, spread: &TraySpread, randomisations: u64) -> Vec<Note> {
    let mut notes = Vec::new();
    let by_rates = figures.method == TestName::TrayRates && figures.withheld.is_none();
    let alike = if by_rates { leans_on_alike } else { more_alike };
    notes.extend(alike(&figures.unit, spread.dispersion, spread.dispersion_df));
    if let Some(smallest) = figures.smallest_p.filter(|smallest| *smallest > 0.05) {
        let units = plural(&figures.unit);
        notes.push(Note::new(
            "p_out_of_reach",
            format!(
                "With {units} as laid out dealing them out again cannot give a P value below {}, so it can neither confirm nor deny what the leading test says; with more {units} it could.",
                numbers::number(smallest)
            ),
        ));
    }
    if let Some(error) = figures.se {
        notes.push(cautions::drawn_assignments(randomisations, error));
    }
    notes
}

fn notes(figures: &Association, units: &Units, options: &AssociationOptions, spread: Option<&TraySpread>) -> Vec<Note> {
    let mut notes = spread.map(|spread| design_notes(figures, spread, options.randomisations)).unwrap_or_default();
    notes.extend(several_tests(figures, options));
    if let Some(why) = &figures.withheld {
        let alone = figures.carried.iter().any(|one| one.at_alone().is_some());
        let next = if alone { "" } else { " Repeat the trial in other places or times." };
        let text = if figures.unit == figures.factor {
            format!("No test: {}.", why_no_place_is_tested(&figures.factor))
        } else {
            format!("No test: {why}.{next}")
        };
        notes.push(Note::new("confounded_with_whole_plot", text));
    } else {
        notes.extend(figures.carried.iter().filter_map(|one| one.note(&figures.factor, &figures.unit)));
        let note = if figures.left_out.is_empty() { crossed_note } else { crossed_left_out };
        notes.extend(note(&figures.factor, &figures.judged_by));
    }
    notes.extend(uneven_note(&figures.factor, &figures.adjusted_for));
    // The test keeps the mix apart, the rates beside it do not.
    let by: Vec<&Factor> = figures.by.iter().filter_map(|name| units.factor(name)).collect();
    notes.extend(uneven_mix(&by, units).filter(|_| figures.adjusted_for.is_empty()));
    if counted(figures) {
        let lines = figures.tests.iter().map(|one| one.test.method);
        let within = options.within.as_deref();
        notes.extend(lines_without_mix(units, (&figures.factor, within), &lines.collect::<Vec<_>>(), |method| {
            test_in_words(figures, method)
        }));
    }
    notes.extend(figures.follows_time.as_ref().map(|place| time_note(&figures.factor, place)));
    if units.kind == UnitKind::Pooled {
        notes.push(cautions::no_trays(Claims::PValues));
    } else if !counted(figures) {
        notes.push(cautions::trays_ignored(Claims::PValues));
    } else {
        notes.push(cautions::cuttings_shown_too());
    }
    if TWO_LEVELS.contains(&figures.method) {
        notes.push(Note::new(
            "ask_compare",
            "Two levels make this the question of a comparison, whose test leads here: comparing them gives the same P value, with the difference and its interval. The other tests of the table weigh the same counts in other ways.",
        ));
    }
    notes
}

/// The tests that lead where there are two levels.
const TWO_LEVELS: [TestName; 2] = [TestName::Score, TestName::Fisher];

/// What was tested with trays, in words.
fn how(figures: &Association, units: &Units, spread: &TraySpread) -> String {
    match figures.method {
        TestName::TrayRates if !figures.adjusted_for.is_empty() => format!(
            "an F test of its coefficients in {} with {} in it, {} (mean squares by Henderson's method 3), with degrees of freedom after Fai and Cornelius",
            text_of_units(units, "a weighted least-squares fit of the tray rates".to_owned()),
            join(&figures.adjusted_for),
            text_of_units(units, "their covariance from the variances of trays and of the units above".to_owned())
        ),
        TestName::TrayRates if figures.judged_by.len() > 1 && figures.left_out.is_empty() => {
            "an F test on the rates per unit within blocks and other treatments, with one spread, less the share of its quadratic form that places or plants crossing the units account for (mean squares by Henderson's method 3), with the fewer degrees of freedom of the two errors (Fai and Cornelius)".to_owned()
        }
        TestName::TrayRates => {
            "an F test on the rates per unit within blocks and other treatments, with one spread".to_owned()
        }
        TestName::Randomisation => {
            "a randomisation test of F on the rates per unit, dealt anew within blocks and other treatments"
                .to_owned()
        }
        TestName::Donner => format!(
            "a chi-square statistic whose counts are divided by the correction factor 1 + (m - 1) icc (Donner), with the intraclass correlation ({}) by analysis of variance and not below 0, judged by F on that chi-square over its degrees of freedom with {} in the denominator",
            numbers::number(spread.icc),
            whole(spread.df as u64, "degree of freedom", "degrees of freedom")
        ),
        _ => format!(
            "a chi-square statistic adjusted by the design effects of the treatments (Rao and Scott, {}; none below 1), judged by F with {} in the denominator",
            match figures.method {
                TestName::RaoScottFirstOrder => "first order",
                TestName::RaoScottSecondOrder => "second order",
                _ => "divided counts",
            },
            whole(spread.df as u64, "degree of freedom", "degrees of freedom")
        ),
    }
}

fn methods(figures: &Association, units: &Units, spread: Option<&TraySpread>, outcome: Outcome) -> String {
    let (rooting, cuttings) = (outcome.words().rooting, outcome.words().cuttings);
    let unit = numbers::unit_in_full(&figures.unit);
    if figures.withheld.is_some() {
        return format!("The experimental unit was the {unit}. No test of {} was made.", figures.factor);
    }
    match spread.filter(|_| counted(figures)) {
        _ if figures.method == TestName::Score => format!(
            "The experimental unit was the {unit}. Dependence of {rooting} on {} was tested as in a comparison of its two levels, by a score statistic on effective numbers of {cuttings} within blocks and other treatments, judged by t.",
            figures.factor
        ),
        Some(spread) => {
            let how = how(figures, units, spread);
            format!(
                "The experimental unit was the {unit}. Dependence of {rooting} on {} was tested by {how}.{}",
                figures.factor,
                beside(figures)
            )
        }
        None if counted(figures) => format!(
            "The experimental unit was the {unit}. Dependence of {rooting} on {} was tested on the rates per unit within blocks and other treatments ({}).",
            figures.factor,
            figures.method.name()
        ),
        None => format!(
            "Dependence of {rooting} on {} was tested by {}; {cuttings} were treated as independent.",
            figures.factor,
            if figures.method == TestName::Fisher {
                "Fisher's exact test (two-sided, by summing tables not more probable than the observed one), with chi-square tests beside it"
            } else {
                "Pearson's chi-square, with the likelihood-ratio chi-square and the exact test of Freeman and Halton beside it"
            }
        ),
    }
}

/// The tests that stand beside the leading one, each once.
fn beside(figures: &Association) -> String {
    let mut named: Vec<String> = Vec::new();
    for one in figures.tests.iter().filter(|one| one.test.method != figures.method) {
        let words = test_in_words(figures, one.test.method.name());
        if !named.contains(&words) {
            named.push(words);
        }
    }
    if named.is_empty() { String::new() } else { format!(" Beside it stand {}.", numbers::join(&named)) }
}

#[cfg(test)]
mod tests {
    use super::verdict_of;
    use crate::estimate::{TestName, TestResult};

    #[test]
    fn a_test_that_does_not_stand_among_several_says_so() {
        let test = |p| TestResult { method: TestName::TrayRates, statistic: None, df: None, error_df: None, p };
        // by hand (Holm 1979): 5 x 0.049 is above 0.05, while of 0.001 and 0.049 both stand: 2 x 0.001 and 1 x 0.049 are not
        let (said, p) = verdict_of(&test(0.049), &[0.27, 0.16, 0.10, 0.098, 0.049], "survival");
        assert_eq!(said, "no dependence is shown on");
        assert_eq!(p, "P = 0.049 by itself, which does not stand among 5 tests");
        let (said, p) = verdict_of(&test(0.049), &[0.001, 0.049], "survival");
        assert_eq!((said.as_str(), p.as_str()), ("survival depends on", "P = 0.049"));
        let (_, p) = verdict_of(&test(0.27), &[0.27, 0.049], "survival");
        assert_eq!(p, "P = 0.27");
    }
}
