//! The words, table and notes of a comparison.

use crate::answer::{Answer, MadeWith, Note, Scale, Sheet};
use crate::compare::carried::{Carried, crossed_note};
use crate::compare::decision::Decision;
use crate::compare::numbers::{CompareOptions, Comparison, counted};
use crate::compare::of_places::{self, is_place};
use crate::compare::opinion::{Opinion, confirming, opinion};
use crate::rates::{TakeRate, TraySpread, TraysUse, few_events_of, more_alike};
use crate::report::cautions::Claims;
use crate::report::{Spoken, cautions, join, numbers, plural, references, whole};
use crate::trial::{OutcomeWords, UnitKind, Units, answer_of_units, text_of_units, time_note};

pub(super) fn answer(
    found: Comparison,
    units: &Units,
    options: &CompareOptions,
    made_with: MadeWith,
) -> Answer<Comparison> {
    let said = options.spoken.clone().unwrap_or_else(|| Spoken::plain(&found.factor));
    let decision = Decision::of(&found, &said, options, units);
    let answer = Answer {
        kind: "comparison".to_owned(),
        sentence: decision.sentence(),
        details: decision.details(),
        table: table(&found, &said),
        notes: notes(&found, units, options),
        methods: methods(&found, units) + &narrowed(&found, &made_with),
        references: cited(&found),
        numbers: found,
        made_with,
    };
    answer_of_units(units, answer)
}

fn table(found: &Comparison, said: &Spoken) -> Sheet {
    let level_name = |rate: &TakeRate| said.short(&rate.levels.concat());
    let rates = [&found.first, &found.second];
    let w = found.outcome.words();
    let mut what: Vec<String> = rates.iter().map(|rate| format!("{} at {}", w.rate, level_name(rate))).collect();
    let of = if found.outcome.is_part() { format!(" of {}", w.name) } else { String::new() };
    what.push(format!("difference{of}, {} minus {}", level_name(&found.second), level_name(&found.first)));
    let mut value: Vec<Option<f64>> = vec![Some(found.first.value), Some(found.second.value), Some(found.value)];
    let known = |limit: f64| found.low.map(|_| limit);
    let mut low = vec![known(found.first.low), known(found.second.low), found.low];
    let mut high = vec![known(found.first.high), known(found.second.high), found.high];
    let mut p = vec![None, None, found.p];
    let mut scales = vec![Scale::Rate, Scale::Rate, Scale::Difference];
    let df = found.df.map(|df| format!(", t on {}", numbers::degrees_of_freedom(df))).unwrap_or_default();
    let test = found.test.as_ref().map(|test| format!("{test}{df}")).unwrap_or_default();
    let mut method = vec![String::new(), String::new(), test];
    for (name, scale, times) in [
        (format!("ratio of {}", w.rates), Scale::Ratio, found.ratio),
        ("odds ratio".to_owned(), Scale::OddsRatio, found.odds_ratio.map(|(v, l, h)| (Some(v), l, h))),
    ] {
        if let Some((middle, bottom, top)) = times {
            what.push(name);
            scales.push(scale);
            value.push(middle);
            low.push(Some(bottom));
            high.push(Some(top));
            p.push(None);
            method.push(String::new());
        }
    }
    if let Some(dealt) = confirming(found) {
        what.push(format!("second opinion, {} dealt anew", plural(&found.unit)));
        scales.push(Scale::Difference);
        value.push(None);
        low.push(None);
        high.push(None);
        p.push(Some(dealt.p));
        method.push("randomisation".to_owned());
    }
    let mut sheet = Sheet::default();
    sheet.text("what", what);
    for (column, values) in [("value", value), ("low", low), ("high", high)] {
        sheet.scaled(column, scales.clone(), values);
    }
    sheet.p("p", p);
    sheet.text("test", method);
    sheet
}

/// What cuttings without trays, or with trays that do not count, say too loudly.
fn without_trays(units: &Units, options: &CompareOptions) -> Option<Note> {
    if units.kind == UnitKind::Pooled {
        return Some(cautions::no_trays(Claims::OneOfEach));
    }
    (options.trays == TraysUse::Ignore).then(|| cautions::trays_ignored(Claims::OneOfEach))
}

fn notes(found: &Comparison, units: &Units, options: &CompareOptions) -> Vec<Note> {
    let mut notes = Vec::new();
    notes.extend(without_trays(units, options));
    let mut add = |code: &str, text: String| notes.push(Note::new(code, text));
    if let Some(why) = &found.withheld {
        // Where one place allows a test, the reason says so.
        let elsewhere = found.carried.as_ref().and_then(Carried::at_alone).is_none();
        let next = if elsewhere { " Repeat the trial in other places or times." } else { "" };
        let text = if is_place(found) {
            format!("No test: {}.", of_places::why(&found.factor))
        } else {
            format!("No test: {why}.{next}")
        };
        add("confounded_with_whole_plot", text);
    }
    layout_notes(found).into_iter().for_each(|note| add(&note.code, note.text));
    if !found.same_mix {
        add("unequal_mix", "The two levels hold other treatments in different shares, so part of the difference may be theirs; use at= to compare like with like, or the model's adjusted rates.".to_owned());
    }
    if let Some(spread) = found.spread.filter(TraySpread::few_events) {
        notes.push(few_events_of(&spread, found.outcome));
    }
    let units_named = plural(&found.unit);
    notes.extend(found.spread.and_then(|spread| more_alike(&found.unit, spread.dispersion, spread.dispersion_df)));
    let mut add = |code: &str, text: String| notes.push(Note::new(code, text));
    let unreached = found.randomisation.as_ref().filter(|_| opinion(found) == Opinion::OutOfReach);
    if let Some(test) = unreached {
        add(
            "p_out_of_reach",
            format!(
                "With {} and {} {units_named} as laid out dealing them out again cannot give a P value below {}, so it can neither confirm nor deny what the leading test says; with more {units_named} it could.",
                found.first.n_units,
                found.second.n_units,
                numbers::number(test.smallest_p)
            ),
        );
    }
    if let Some(text) = extreme(found) {
        add("extreme_rates", text);
    }
    if counted(found) && !is_place(found) && found.first.n_units.min(found.second.n_units) < 4 {
        notes.push(cautions::few_units(&found.unit));
    }
    if options.spoken.as_ref().is_some_and(Spoken::is_strength) {
        notes.push(cautions::chemical());
    }
    notes
}

/// What the units and strata of the comparison leave to be said.
fn layout_notes(found: &Comparison) -> Vec<Note> {
    let mut notes: Vec<Note> = Vec::new();
    let carried = found.carried.as_ref().and_then(|carried| carried.note(&found.factor, &found.unit));
    notes.extend(carried.filter(|_| found.withheld.is_none()));
    notes.extend(crossed_note(&found.factor, &found.judged_by).filter(|_| found.p.is_some()));
    notes.extend(found.follows_time.as_ref().map(|place| time_note(&found.factor, place)));
    notes
}

/// What none rooted or all rooted leaves of the ratios.
fn extreme(found: &Comparison) -> Option<String> {
    let OutcomeWords { cutting, rooted, .. } = found.outcome.words();
    let (none, all) = (|rate: &TakeRate| rate.rooted == 0, |rate: &TakeRate| rate.rooted == rate.stuck);
    let (first, second) = (&found.first, &found.second);
    if none(first) && none(second) {
        return Some(format!(
            "No {cutting} {rooted} at either level: the difference has an interval, the ratio of the rates can be anything, and there is no odds ratio."
        ));
    }
    if all(first) && all(second) {
        return Some(format!(
            "Every {cutting} {rooted} at both levels: the difference and the ratio have intervals, and there is no odds ratio."
        ));
    }
    let one = [first, second].into_iter().any(|rate| none(rate) || all(rate));
    one.then(|| {
        format!(
            "One level is all {rooted} or none {rooted}; the interval allows for that, an odds ratio has only a bound."
        )
    })
}

fn methods(found: &Comparison, units: &Units) -> String {
    let (percent, w) = (numbers::confidence(found.confidence), found.outcome.words());
    let (rates, cuttings) = (w.rates, w.cuttings);
    if !counted(found) {
        return format!(
            "The {rates} of two levels of {} were compared by the difference of proportions with its {percent} interval ({}) and Fisher's exact test (two-sided, by summing tables not more probable than the observed one); {cuttings} were treated as independent.",
            found.factor,
            references::spoken(&found.method)
        );
    }
    let places = if !found.adjusted_for.is_empty() {
        let fit = text_of_units(units, "weighted least squares on the tray rates".to_owned());
        format!(", with {} taken out by {fit},", join(&found.adjusted_for))
    } else if found.within.is_empty() {
        String::new()
    } else {
        format!(" within {}, weighted by n1 n2 / (n1 + n2),", join(&found.within))
    };
    if found.p.is_none() {
        return format!(
            "The experimental unit was the {}. Two levels of {} were set side by side without a test.",
            numbers::unit_in_full(&found.unit),
            found.factor
        );
    }
    let icc = found.spread.map_or(0.0, |spread| spread.icc);
    let df = found.df.map(numbers::degrees_of_freedom).unwrap_or_default();
    format!(
        "The experimental unit was the {unit}. The {rates} of two levels of {} were compared{places} by a score statistic on effective numbers of {cuttings}, n / (1 + (m - 1) icc) with m the sum of m^2 over the sum of m of the level's {units}, its variance times N / (N - 1) with N the effective {cuttings} of both levels, and with the intraclass correlation ({}) estimated by analysis of variance between {units} within treatments{}, pooled over all treatments, not below 0 and not below a planning value of 0.05 that fades as 2 / (2 + events).{} The {percent} interval of the difference and the P value come from the same statistic, judged by t on {df}; so do the limits of the ratio and of the odds ratio.{}",
        found.factor,
        numbers::number(icc),
        if found.within.is_empty() { "" } else { " with places taken out" },
        crossing(found),
        dealing(found),
        unit = numbers::unit_in_full(&found.unit),
        units = plural(&found.unit),
    )
}

/// Which units were compared, where these are not all, and the margin that was asked about; in a methods text.
fn narrowed(found: &Comparison, made_with: &MadeWith) -> String {
    let at = made_with.options.iter().find(|(name, at)| name == "at" && !at.is_empty());
    let units = if counted(found) { plural(&found.unit) } else { found.outcome.words().cuttings.to_owned() };
    let at = at.map(|(_, at)| format!(" The rates are those of {units} with {at}."));
    let margin = found.margin.filter(|_| found.p.is_some()).map(|margin| {
        format!(
            " Whether the levels differ by less than {} points was judged by limits of the difference (Schuirmann 1987).",
            numbers::points(margin)
        )
    });
    at.into_iter().chain(margin).collect()
}

/// Places that cross the units, in a methods text.
fn crossing(found: &Comparison) -> String {
    match found.judged_by.as_slice() {
        [_, crossed @ ..] if !crossed.is_empty() => format!(
            " What {}, which cross these, add to the difference was added to its variance (components by analysis of variance, not below 0), with degrees of freedom after Satterthwaite.",
            join(&crossed.iter().map(|name| plural(name)).collect::<Vec<_>>())
        ),
        _ => String::new(),
    }
}

/// The randomisation test in a methods text.
fn dealing(found: &Comparison) -> String {
    let Some(test) = confirming(found) else { return String::new() };
    let draws = test.drawn.map_or_else(
        || "all possible assignments".to_owned(),
        |drawn| format!("{} random assignments", whole(drawn, "draw of", "draws of")),
    );
    format!(
        " Beside it stands a two-sided randomisation test on the rates per {}, over {draws}.",
        numbers::unit_name(&found.unit)
    )
}

fn cited(found: &Comparison) -> Vec<String> {
    let mut cited = if counted(found) {
        vec![
            references::MIETTINEN_NURMINEN_1985,
            references::MANTEL_HAENSZEL_1959,
            references::DONNER_KLAR_2000,
            references::FISHER_1935,
            references::PHIPSON_SMYTH_2010,
            references::HURLBERT_1984,
        ]
    } else {
        let own = references::of_method(&found.method);
        [own, &[references::KOOPMAN_1984, references::CORNFIELD_1956, references::FISHER_1935]].concat()
    };
    if found.margin.is_some() {
        cited.push(references::SCHUIRMANN_1987);
    }
    cited.into_iter().map(str::to_owned).collect()
}
