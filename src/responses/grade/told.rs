//! Words, table and notes of grades.

use super::lead::Lead;
use super::numbers::{AllGrades, GradeOdds, GradeOptions, GradeRatio, Grades};
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::report::{Spoken, cautions, join, numbers, plural, references, references_grades, whole};
use crate::trial::{GradesOf, Units, notes_of_units, text_of_units, units_head};

/// Below it the test of one ratio for all grades speaks against it.
const AGAINST: f64 = 0.05;

pub(super) fn told(
    found: Grades,
    (lead, beside): (Lead, Vec<Note>),
    (said, units): (&Spoken, &Units),
    options: &GradeOptions,
) -> Answer<Grades> {
    let mut details = lead.details.clone();
    details.splice(0..0, second_answer(&found, said));
    details.extend(medians(&found, said));
    details.push(whose(&found));
    let mut notes = lead.notes.clone();
    notes.extend(beside.into_iter().filter(|note| !lead.notes.iter().any(|known| known.code == note.code)));
    notes.extend(notes_of_units(units, own_notes(&found)));
    let mut cited = lead.references.clone();
    cited.extend(own_references(&found).into_iter().map(str::to_owned));
    let mut once: Vec<String> = Vec::new();
    cited.into_iter().for_each(|one| {
        if !once.contains(&one) {
            once.push(one);
        }
    });
    let made_with = MadeWith::new(&[
        ("treatment", found.factor.clone()),
        ("response", found.response.clone()),
        ("at_least", found.at_least.to_string()),
        ("grades_of", found.of.name().to_owned()),
        ("against", options.against.clone().unwrap_or_default()),
        ("confidence", found.confidence.to_string()),
        ("nearly", options.nearly.to_string()),
    ]);
    Answer {
        kind: "grades".to_owned(),
        sentence: lead.sentence.clone(),
        details,
        table: table(&found, said),
        notes: cautions::last(notes),
        methods: format!("{} {}", lead.methods, text_of_units(units, methods(&found))),
        references: once,
        made_with: MadeWith { seed: Some(options.seed), rests_on: lead.rests_on.clone(), ..made_with },
        numbers: found,
    }
}

/// "grade 3 or better".
fn reached(at_least: i64, highest: i64) -> String {
    format!("grade {at_least}{}", if at_least < highest { " or better" } else { "" })
}

fn times(x: f64) -> String {
    numbers::number(x)
}

/// "2.9 times (1.4 to 6.1)", or what is known of it.
fn ratio(one: &GradeRatio) -> String {
    match (one.value, one.low, one.high) {
        (Some(value), Some(low), Some(high)) => format!("{} times ({} to {})", times(value), times(low), times(high)),
        (_, Some(low), None) => format!("at least {} times", times(low)),
        (_, None, Some(high)) => format!("at most {} times", times(high)),
        (Some(value), None, None) => format!("{} times (without bounds)", times(value)),
        _ => "any number of times".to_owned(),
    }
}

/// All grades at once, and whether one ratio serves them.
fn second_answer(found: &Grades, said: &Spoken) -> Vec<String> {
    let Some(all) = &found.all_grades else {
        return found.withheld.iter().map(|why| format!("All grades at once: {why}.")).collect();
    };
    let p = numbers::p_value;
    let first = match all.odds.as_slice() {
        [one] => format!(
            "All grades at once: the odds of a better grade at {} are {} those at {} ({}).",
            said.level(&one.level),
            ratio(&one.ratio),
            said.short(&one.against),
            p(one.ratio.p)
        ),
        many => {
            let against = many.first().map(|one| said.short(&one.against)).unwrap_or_default();
            let each: Vec<String> =
                many.iter().map(|one| format!("{} {}", said.short(&one.level), ratio(&one.ratio))).collect();
            let differ = if all.test.p < 1.0 - found.confidence { "differ" } else { "are not shown to differ" };
            format!(
                "All grades at once: levels {differ} ({}); odds of a better grade over those at {against}: {}.",
                p(all.test.p),
                each.join("; ")
            )
        }
    };
    let mut lines = vec![first];
    if let Some(test) = all.one_slope {
        if test.p < AGAINST {
            lines.push(format!(
                "One ratio does not serve all grades ({}), so go by the share at {} and the ratio at each grade: {}.",
                p(test.p),
                reached(found.at_least, found.highest),
                all.odds.iter().map(|one| each_grade(one, found, said)).collect::<Vec<_>>().join("; ")
            ));
        } else {
            lines.push(format!("Nothing speaks against one ratio for all grades ({}).", p(test.p)));
        }
    }
    if !all.joined.is_empty() {
        let names: Vec<String> = all.joined.iter().map(i64::to_string).collect();
        let what = if names.len() == 1 { "grade" } else { "grades" };
        lines.push(format!(
            "No cutting compared holds {what} {}, which stands as one with the next held.",
            join(&names)
        ));
    }
    if !all.within.is_empty() {
        lines.push(format!("All grades at once are judged with {} taken out.", join(&all.within)));
    }
    lines
}

/// "5000 mg/L: grade 1 or better 4.1 times (1.2 to 14), ...".
fn each_grade(one: &GradeOdds, found: &Grades, said: &Spoken) -> String {
    let each: Vec<String> =
        one.by_grade.iter().map(|at| format!("{} {}", reached(at.at_least, found.highest), ratio(&at.ratio))).collect();
    format!("{} over {}: {}", said.short(&one.level), said.short(&one.against), each.join(", "))
}

/// The middle cutting of each level; a mean of grades says nothing alone.
fn medians(found: &Grades, said: &Spoken) -> Option<String> {
    let name = |median: Option<i64>| median.map_or_else(|| "no grade".to_owned(), |grade| grade.to_string());
    let each: Vec<String> =
        found.levels.iter().map(|one| format!("{} at {}", name(one.median), said.short(&one.level))).collect();
    (!each.is_empty()).then(|| format!("Half of the cuttings hold at most this grade: {}.", each.join(", ")))
}

/// Which cuttings the grades are of.
fn whose(found: &Grades) -> String {
    let ungraded: u64 = found.levels.iter().filter_map(|one| one.counts.first()).sum();
    match (found.of, ungraded) {
        (GradesOf::Rooted, _) => {
            "Grades are of rooted cuttings alone: how many rooted is another question, so read the take beside them."
                .to_owned()
        }
        (GradesOf::Stuck, 0) => "Grades are of all cuttings, rooted or not.".to_owned(),
        (GradesOf::Stuck, n) => format!(
            "Grades are of all cuttings: {} without a root and without a grade {} as below every grade.",
            whole(n, "cutting", "cuttings"),
            if n == 1 { "counts" } else { "count" }
        ),
    }
}

fn own_notes(found: &Grades) -> Vec<Note> {
    let mut notes = Vec::new();
    let Some(all) = &found.all_grades else { return notes };
    let mut add = |code: &str, text: &str| notes.push(Note::new(code, text));
    if all.steadied || all.odds.iter().any(|one| one.ratio.value.is_none()) {
        add(
            "separation",
            "At a level every cutting holds the best grade held, or the worst, so an odds ratio over all grades has a bound and no estimate; the share has its interval.",
        );
    }
    if all.one_slope.is_some_and(|test| test.p < AGAINST) {
        add(
            "one_ratio_fails",
            "The odds ratio differs from grade to grade, so one for all grades is an average of unlike ones: go by the share that reaches the grade you need.",
        );
    }
    if all.odds.len() > 1 {
        add(
            "own_limits",
            "Limits of the odds ratios hold one by one; the comparison of shares holds for all levels together.",
        );
    }
    notes
}

fn methods(found: &Grades) -> String {
    let Some(all) = &found.all_grades else { return String::new() };
    let units = plural(&found.unit);
    let effects: Vec<&str> = all.within.iter().chain([&found.factor]).map(String::as_str).collect();
    let judged = match (all.correlation, all.test.error_df) {
        (Some(known), Some(df)) => format!(
            "The counts of every {} of m cuttings were divided by 1 + (m - 1) icc, with the intraclass correlation ({}) of the grades' midranks by analysis of variance between {units} about an additive fit, not below 0 and not below the planning value of 0.05 times 2 / (2 + events), events the cuttings beside the commonest grade; levels were tested by the score of their log odds ratios (its variance by the expected information, each row times m / (m - h)) over its degrees of freedom, against F on {}, and limits are the log odds ratios whose score meets t.",
            numbers::unit_name(&found.unit),
            numbers::number(known.used()),
            numbers::degrees_of_freedom(df)
        ),
        _ => "Cuttings were taken as independent; levels were tested by the score of their log odds ratios, limits are those whose score meets the normal quantile.".to_owned(),
    };
    let steadied = if all.steadied {
        " Since a level holds one end of the grades alone, estimates are those with one cutting per effect added, shared out as all grades are (Clogg et al. 1991)."
    } else {
        ""
    };
    format!(
        "All grades ({}) together were described by cumulative logits, logit P(grade >= j) = cut_j + effects of {}, with one odds ratio for all cuts (McCullagh 1980). {judged} Whether one ratio serves all cuts was asked by the score of slopes by cut (Peterson and Harrell 1990).{steadied}",
        found.response,
        join(&effects)
    )
}

fn own_references(found: &Grades) -> Vec<&'static str> {
    let Some(all) = &found.all_grades else { return Vec::new() };
    let mut cited = vec![references_grades::MCCULLAGH_1980, references_grades::PETERSON_HARRELL_1990];
    if all.steadied {
        cited.push(references_grades::CLOGG_1991);
    }
    if all.correlation.is_some() {
        cited.push(references::DONNER_KLAR_2000);
    }
    cited
}

fn table(found: &Grades, said: &Spoken) -> Sheet {
    let levels = || found.levels.iter();
    let odds = |pick: fn(&GradeRatio) -> Option<f64>| -> Vec<Option<f64>> {
        let of = |all: &AllGrades, level: &str| {
            all.odds.iter().find(|one| one.level == level).and_then(|one| pick(&one.ratio))
        };
        levels().map(|one| found.all_grades.as_ref().and_then(|all| of(all, &one.level))).collect()
    };
    let mut sheet = Sheet::default();
    sheet.level(&found.factor, levels().map(|one| one.level.clone())).headed(said.head());
    sheet
        .rate("value", levels().map(|one| one.value))
        .headed(format!("share at {}", reached(found.at_least, found.highest)));
    sheet.rate("low", levels().map(|one| one.low)).rate("high", levels().map(|one| one.high));
    sheet.whole("n_cuttings", levels().map(|one| one.n_cuttings));
    sheet.whole("n_units", levels().map(|one| one.n_units)).headed(units_head("tray"));
    let ungraded = levels().any(|one| one.counts.first().is_some_and(|n| *n > 0));
    for (at, grade) in (found.lowest - 1..=found.highest).enumerate().skip(usize::from(!ungraded)) {
        let name = if at == 0 { "no_grade".to_owned() } else { format!("grade_{grade}") };
        sheet.whole(&name, levels().map(|one| one.counts.get(at).copied())).headed(name.replace('_', " "));
    }
    if found.all_grades.is_some() {
        sheet.odds_ratio("odds_ratio", odds(|one| one.value)).headed("odds ratio, all grades");
        sheet.odds_ratio("odds_low", odds(|one| one.low)).headed("low of it");
        sheet.odds_ratio("odds_high", odds(|one| one.high)).headed("high of it");
        sheet.p("p", odds(|one| Some(one.p)));
    }
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ratio_without_an_end_is_a_bound() {
        let of = |value, low, high| ratio(&GradeRatio { value, low, high, p: 0.01 });
        assert_eq!(of(None, Some(3.4), None), "at least 3.4 times");
        assert_eq!(of(Some(2.0), Some(1.0), Some(4.0)), "2 times (1 to 4)");
        assert_eq!(reached(5, 5), "grade 5");
    }
}
