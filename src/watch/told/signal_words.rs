//! The words of signals: the decision, a fact a line, the table, the paragraph for a methods section.

use super::phrases::{DECIDES, balance, batches as batch_words, place, several, trees, weeks as week_words};
use crate::answer::{Note, Sheet};
use crate::report::{HOW_SURE, capital, confidence as shown_confidence, fitted, p_value, points};
use crate::watch::after::{Change, Form, GoesWith};
use crate::watch::baseline::Baseline;
use crate::watch::chart::{Chart, ChartWeek, Charted, Quiet, Signal};
use crate::watch::load::{shown_day, shown_week};

pub(super) fn unknown_note(charted: &Charted) -> Option<Note> {
    let unknown = charted.without_expectation.len();
    (unknown > 0).then(|| {
        let (whose, stand) = if unknown == 1 { ("its", "it is on no chart") } else { ("their", "they are on no chart") };
        let text = format!(
            "Of {} nothing is expected, since the baseline never saw {whose} cultivar, grafter or place; {stand}. Make a new baseline once enough of them were read.",
            batch_words(unknown as u64)
        );
        Note::new("no_expectation", text)
    })
}

fn named(of: Option<&(String, String)>) -> Option<(&str, &str)> {
    of.map(|(grouping, level)| (grouping.as_str(), level.as_str()))
}

/// What a search after a signal decides.
fn changed(change: &Change) -> String {
    let where_ = place(named(change.place.as_ref()));
    let since = match change.form {
        Form::Drift => format!("in a decline that began by {}", shown_week(change.weeks.1)),
        _ if change.from_the_start => format!("since {} or before", week_words(change.weeks.0, change.weeks.1)),
        _ => format!("since {}", week_words(change.weeks.0, change.weeks.1)),
    };
    let size = trees(change.size);
    if change.p <= DECIDES && change.season_p.is_some_and(|p| p > DECIDES) {
        let lead = format!("{} stands {size} trees per 100 below earlier seasons {since}", capital(&where_));
        return fitted(&lead, &[", no more than seasons differ".to_owned(), "; keep watching".to_owned()]);
    }
    if change.p <= DECIDES {
        let lost = if change.high > 0.0 { "may have lost" } else { "has lost" };
        let lead = format!("{} {lost} {size} trees per 100 {since}", capital(&where_));
        if change.season_open {
            return fitted(&lead, &[", unless this season is a poor one as a whole".to_owned()]);
        }
        let check = match (carrier(change), &change.place) {
            (Some(named), _) => format!("; {named} carries it: check there first"),
            (None, Some(_)) => "; check what is particular there first".to_owned(),
            (None, None) => "; check reading age, reader and graft wood first".to_owned(),
        };
        return fitted(&lead, &[check]);
    }
    let lead =
        format!("Signal in {where_}, but chance alone shows as much in {} searches of 100", (100.0 * change.p).round());
    fitted(&lead, &["; keep watching before acting".to_owned()])
}

/// A share of batches on no chart from which on the sentence says so.
const MANY: f64 = 0.1;

pub(super) fn sentence(
    charted: &Charted,
    signal: Option<&Signal>,
    change: Option<&Change>,
    quiet: Option<&Quiet>,
) -> String {
    if let Some(change) = change {
        return changed(change);
    }
    if signal.is_some() {
        return "A signal came, but nothing is expected of the batches behind it.".to_owned();
    }
    let unwatched = charted.without_expectation.len();
    if charted.charts.is_empty() {
        return if unwatched == 0 {
            "Nothing has been read since the baseline, so there is nothing to watch yet.".to_owned()
        } else {
            format!(
                "Nothing is expected of the {} read since the baseline: make a new one.",
                batch_words(unwatched as u64)
            )
        };
    }
    let watched: u64 = charted.charts.first().map_or(0, |all| all.weeks.iter().map(|week| week.n_batches).sum());
    if unwatched as u64 > watched {
        let all = unwatched as u64 + watched;
        return format!(
            "Most is not watched: of {unwatched} among {all} batches nothing is expected; make a new baseline. The others are quiet."
        );
    }
    match quiet.and_then(|quiet| Some((quiet, quiet.drop?))) {
        Some((_, drop)) if unwatched as f64 >= MANY * (unwatched as f64 + watched as f64) => {
            let lead = format!("Quiet: a drop of {} trees per 100 would have shown by now", trees(drop));
            let all = unwatched as u64 + watched;
            fitted(&lead, &[format!(", but {unwatched} of {all} batches are not judged: nothing is expected of them")])
        }
        Some((quiet, drop)) => {
            let lead = format!("Quiet: a drop of {} trees per 100 would have shown by now", trees(drop));
            fitted(&lead, &[format!(", had it come by {}", shown_week(quiet.since))])
        }
        None => "Quiet so far, but too little was read since the baseline for a drop to show.".to_owned(),
    }
}

pub(super) fn details(
    charted: &Charted,
    signal: Option<&Signal>,
    change: Option<&Change>,
    quiet: Option<&Quiet>,
) -> Vec<String> {
    let mut lines = Vec::new();
    let rarely = format!(
        "Signals come by chance once in {:.0} weeks or more rarely, {}.",
        charted.weeks_between,
        over_charts(charted)
    );
    if let Some((signal, change)) = signal.zip(change) {
        lines.extend(change_lines(signal, change, &rarely));
    } else if let Some(quiet) = quiet {
        if quiet.drop.is_some() {
            let sure = (10.0 * quiet.sure).round();
            lines.push(format!(
                "Shown means {sure} times in 10, by the chart of all batches, over {} with readings.",
                several(quiet.n_weeks as usize, "week")
            ));
        }
        lines.push(rarely);
    }
    lines.extend(charted.charts.first().map(|all| balance(all.lost())));
    if signal.is_none() && !charted.signals.is_empty() {
        let told: Vec<String> =
            charted.signals.iter().map(|one| format!("{} in {}", shown_day(one.monday), chart_name(one))).collect();
        lines.push(format!("Earlier signals: {}.", told.join("; ")));
    }
    lines
}

/// "over all 4 charts together".
fn over_charts(charted: &Charted) -> String {
    match charted.charts.len() {
        1 => "on the one chart".to_owned(),
        count => format!("over all {count} charts together"),
    }
}

/// The level of another column that lies farthest below the others, where one is shown to.
fn carrier(change: &Change) -> Option<String> {
    let own = change.place.as_ref();
    let shown = change.places.iter().filter(|one| one.stands_out && one.carries());
    let farthest = shown.min_by(|a, b| a.beside_others.total_cmp(&b.beside_others))?;
    let is_own = own.is_some_and(|(grouping, level)| *grouping == farthest.grouping && *level == farthest.level);
    let others = farthest.not_apart_from.iter().map(|(grouping, level)| place(Some((grouping, level))));
    let named: Vec<String> =
        std::iter::once(place(Some((&farthest.grouping, &farthest.level)))).chain(others).collect();
    (!is_own).then(|| named.join(" or "))
}

/// The chart of a signal, as the table calls it.
fn chart_name(signal: &Signal) -> String {
    let named = signal.grouping.as_deref().zip(signal.level.as_deref());
    named.map_or_else(|| "all batches".to_owned(), |named| place(Some(named)))
}

/// What is known of a change, a fact a line.
fn change_lines(signal: &Signal, change: &Change, rarely: &str) -> Vec<String> {
    let mut lines = Vec::new();
    let chart = chart_name(signal);
    lines.push(format!(
        "{HOW_SURE}were nothing wrong, a look through all weeks and places would find as much with {} ({} drawn crops).",
        p_value(change.p),
        change.draws
    ));
    lines.push(format!("The signal came on {} in the chart of {chart}. {rarely}", shown_day(signal.monday)));
    lines.push(format!(
        "The first batches that have it were set in {} ({} confidence{}).",
        week_words(change.weeks.0, change.weeks.1),
        shown_confidence(change.confidence),
        if change.form == Form::Step && !change.from_the_start { "" } else { "; had it come at once" }
    ));
    if change.from_the_start {
        lines.push(
            "The first week looked through is among them: it may have begun before, in an earlier season.".to_owned(),
        );
    }
    lines.extend(season_line(change));
    let source = if change.size_from_later_batches {
        "from batches read after the signal"
    } else {
        "less what looking for the worst weeks adds"
    };
    lines.push(format!(
        "The change is {} trees per 100 ({} to {}), {source}.",
        points(change.size),
        points(change.low),
        points(change.high)
    ));
    lines.push(match change.form {
        _ if change.from_the_start => {
            "Whether it came at once or little by little cannot be told: it may have begun before.".to_owned()
        }
        Form::Step => "It came from one week to the next, not little by little.".to_owned(),
        Form::Drift => "It came little by little, not from one week to the next.".to_owned(),
        Form::Open => "Whether it came at once or little by little cannot be told.".to_owned(),
    });
    lines.push(match change.goes_with {
        GoesWith::Setting => {
            "It likely goes with the week of setting: look at graft wood, grafting and medium.".to_owned()
        }
        GoesWith::Reading => {
            "It likely goes with the calendar week of reading: look at the place and at who read.".to_owned()
        }
        GoesWith::Open => "Whether it goes with the week of setting or of reading cannot be told.".to_owned(),
    });
    lines.extend(standing_lines(change));
    lines.extend(step_lines(change));
    lines
}

/// How the season stands beside others, where that could be all there is.
fn season_line(change: &Change) -> Option<String> {
    if change.season_open {
        return Some(
            "How seasons differ is not known, and one that is poor as a whole would look the same.".to_owned(),
        );
    }
    let p = change.season_p?;
    let shown = if p > DECIDES { "no worse than seasons may be" } else { "worse than seasons are" };
    Some(format!("As one season among those of the baseline it is {shown} ({}).", p_value(p)))
}

/// Levels that stand below the others, each with those that would explain it as well.
fn standing_lines(change: &Change) -> Vec<String> {
    let mut lines = Vec::new();
    for one in change.places.iter().filter(|one| one.stands_out) {
        let name = place(Some((&one.grouping, &one.level)));
        let others: Vec<String> =
            one.not_apart_from.iter().map(|(grouping, level)| place(Some((grouping, level)))).collect();
        let apart = if others.is_empty() {
            String::new()
        } else {
            format!("; from {} it cannot be told apart", others.join(" or "))
        };
        let own = one.change - one.beside_others;
        let also =
            if own < 0.0 && !one.carries() { format!(", which lost {} themselves", trees(own)) } else { String::new() };
        lines.push(format!(
            "{} stands {} trees per 100 below the others{also} ({}){apart}.",
            capital(&name),
            trees(one.beside_others),
            p_value(one.p)
        ));
    }
    lines
}

/// Which steps of the chain carry it, where they were counted.
fn step_lines(change: &Change) -> Vec<String> {
    let (carrying, others): (Vec<_>, Vec<_>) = change.steps.iter().partition(|one| one.p <= DECIDES);
    let mut lines: Vec<String> = carrying
        .iter()
        .map(|one| {
            format!(
                "The step that carries it: {}, {} per 100 below what is usual ({}).",
                one.step,
                trees(one.change),
                p_value(one.p)
            )
        })
        .collect();
    if !others.is_empty() {
        let told: Vec<&str> = others.iter().map(|one| one.step.as_str()).collect();
        lines.push(format!("Not shown to be lower: {}.", told.join(", ")));
    }
    lines
}

pub(super) fn table(charted: &Charted) -> Sheet {
    let charts = &charted.charts;
    let sum = |of: fn(&ChartWeek) -> u64| -> Vec<u64> {
        charts.iter().map(|chart| chart.weeks.iter().map(of).sum()).collect()
    };
    let last = |of: fn(&ChartWeek) -> f64| -> Vec<Option<f64>> {
        charts.iter().map(|chart| chart.weeks.last().map(of)).collect()
    };
    let first_signal = |chart: &Chart| {
        chart.weeks.iter().rev().find(|week| week.signal).map_or_else(String::new, |week| shown_day(week.monday))
    };
    let name = |chart: &Chart| {
        chart.level.clone().map_or_else(
            || "all batches".to_owned(),
            |level| place(Some((chart.grouping.as_deref().unwrap_or_default(), &level))),
        )
    };
    let (started, alive) = (sum(|week| week.started), sum(|week| week.alive));
    let rate = |values: Vec<f64>| -> Vec<Option<f64>> {
        values.iter().zip(&started).map(|(value, all)| (*all > 0).then(|| value / *all as f64)).collect()
    };
    let expected: Vec<f64> = charts.iter().map(|chart| chart.weeks.iter().map(|week| week.expected).sum()).collect();
    let mut sheet = Sheet::default();
    sheet
        .text("chart", charts.iter().map(name))
        .whole("batches", sum(|week| week.n_batches))
        .whole("started", started.clone());
    sheet.whole("alive", alive.clone());
    sheet.rate("value", rate(alive.iter().map(|one| *one as f64).collect())).headed("rate");
    sheet.rate("expected", rate(expected.clone()));
    sheet.count("lost", charts.iter().map(Chart::lost)).headed("trees lost");
    sheet.statistic("sum", last(|week| week.sum)).statistic("limit", last(|week| week.limit));
    sheet.text("last_signal", charts.iter().map(first_signal)).headed("last signal");
    sheet
}

pub(super) fn methods(charted: &Charted, baseline: &Baseline, searched: bool) -> String {
    let spreads = baseline.spreads;
    let mut text = format!(
        "Counts of batches were charted as cumulative sums of log likelihood ratios of beta-binomial laws. They look for a fall from {:.1} to {:.1} % (odds ratio {:.2}). All batches read in a week were judged together, with a correlation of {:.3} within batches. Shifts shared by set weeks were integrated out: a standard deviation of {:.2} on the logit scale, {:.2} within places.",
        100.0 * charted.usual,
        100.0 * (charted.usual - charted.drop),
        charted.odds_ratio,
        spreads.batch,
        spreads.week.hypot(spreads.week_in_place),
        spreads.week_in_place,
    );
    text.push_str(&format!(
        " What was expected came from a baseline of {} by levels{}, fitted by penalised likelihood. How batches and weeks differ was fitted by adjusted likelihood. Limits follow from the law of the sum given no signal, for one signal by chance in {:.0} weeks {}. They are set for crops as far from the baseline as nine in ten estimates are.",
        batch_words(baseline.n_batches),
        if baseline.has_wave() { " and a yearly wave" } else { "" },
        charted.weeks_between,
        over_charts(charted),
    ));
    if searched {
        text.push_str(" The week of the change was searched over all weeks and places. Its P value, the set of weeks and the places rest on crops drawn from the baseline, as uncertain as it is. The set of weeks rests on those drawn crops whose chart signalled.");
    }
    text
}
