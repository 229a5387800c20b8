//! A plan in words: what stands where, what it was drawn from, what to mind before anything is stuck.

use super::asked::Asked;
use super::numbers::{Counted, Layout, LayoutKind, PlacedTray};
use super::phrases::{given, outer_and_inner, p_shown, shown};
use super::set::smallest_of_whole_plots;
use crate::answer::{Answer, MadeWith, Note, Sheet};
use crate::report::references_layout as works;
use crate::report::{capital, fitted, whole};

/// A place of a tray that not every layout has.
type Place = fn(&PlacedTray) -> &Option<String>;

/// A test has to be able to come to this.
const REACH: f64 = 0.05;

/// The answer around a plan.
pub(super) fn told(asked: &Asked<'_>, layout: Layout) -> Answer<Layout> {
    let options = asked.options;
    let mut made_with = MadeWith::new(&[
        ("layout", options.layout.name().to_owned()),
        ("trays", asked.trays.to_string()),
        ("blocks", options.blocks.len().to_string()),
        ("positions", format!("{} x {}", layout.rows, layout.columns)),
    ]);
    made_with.seed = Some(options.seed);
    made_with.data_fingerprint = Some(layout.fingerprint.clone());
    Answer {
        kind: "layout".to_owned(),
        table: table(asked, &layout.trays),
        sentence: sentence(asked, &layout),
        details: details(asked, &layout),
        notes: notes(asked, &layout),
        methods: methods(asked, &layout),
        references: references(asked),
        made_with,
        numbers: layout,
    }
}

fn trays_of(layout: &Layout) -> String {
    whole(layout.n_units, "tray", "trays")
}

fn times(n: u64) -> String {
    match n {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

fn sentence(asked: &Asked<'_>, layout: &Layout) -> String {
    if let Some(one) = layout.confounded.iter().find(|one| one.inseparable) {
        let lead = format!("Not ready to start: each level of {} has a single {}", one.treatment, one.with);
        let tail = "; a difference between levels may be one between places or people".to_owned();
        return fitted(&lead, &[tail]);
    }
    let untested = if untestable(asked, layout) { "; it cannot be tested" } else { "" };
    fitted(&format!("{}{untested}", lead(asked, layout)), &[format!("; seed {}", asked.options.seed)])
}

/// Nothing tells a difference from one between trays: every layout is as good, or controls leave nothing by which trays differ.
fn untestable(asked: &Asked<'_>, layout: &Layout) -> bool {
    let controls = asked.options.controls.len();
    let unsaid =
        asked.options.layout == LayoutKind::Augmented && controls * asked.trays < controls + asked.blocks().max(1);
    unsaid || layout.set.smallest_p.is_some_and(|p| p >= 1.0)
}

fn lead(asked: &Asked<'_>, layout: &Layout) -> String {
    let (trays, what) = (trays_of(layout), given(asked));
    let blocks = whole(asked.blocks() as u64, "block", "blocks");
    let each = |parts: u64| times((asked.trays as u64) / parts.max(1));
    match asked.options.layout {
        LayoutKind::CompletelyRandomised => {
            format!("{trays}: every {what} {}, any tray at any position", each(1))
        }
        LayoutKind::Blocks => format!("{trays} in {blocks}: every {what} {} in each", each(asked.blocks() as u64)),
        LayoutKind::LatinSquare => {
            let squares = layout.n_benches;
            let square = if squares == 1 { "a Latin square".to_owned() } else { format!("{squares} Latin squares") };
            format!("{trays} in {square}: every {what} once in each row and each column")
        }
        LayoutKind::SplitPlot => {
            let (outer, inner) = outer_and_inner(asked);
            let plots = whole(layout.n_benches, "whole plot", "whole plots");
            format!("{trays} in {plots}: {outer} differs between them, {inner} between the trays of each")
        }
        LayoutKind::StripPlot => {
            let (outer, inner) = outer_and_inner(asked);
            format!("{trays} in {blocks}: {outer} differs between rows, {inner} between the columns across them")
        }
        LayoutKind::IncompleteBlocks => {
            let kept = layout.efficiency.as_ref().map_or(0.0, |kept| kept.value);
            let blocks = whole(layout.n_benches, "block", "blocks");
            format!("{trays} in {blocks}: every {what} {}, {:.0} % of the information kept", each(1), 100.0 * kept)
        }
        LayoutKind::Augmented => {
            let controls = asked.options.controls.len() as u64;
            let entries = layout.n_combinations - controls;
            let entries = whole(entries, "new entry", "new entries");
            let controls = whole(controls, "control", "controls");
            format!(
                "{trays} in {blocks}: {entries} once each, {controls} {} in every block",
                each(asked.blocks() as u64)
            )
        }
    }
}

fn details(asked: &Asked<'_>, layout: &Layout) -> Vec<String> {
    let options = asked.options;
    let mut lines = Vec::new();
    let benches = whole(layout.n_benches, "bench", "benches");
    let (rows, columns) = (whole(layout.rows, "row", "rows"), whole(layout.columns, "column", "columns"));
    lines.push(format!("{} of {rows} and {columns}; trays take positions row by row.", capital(&benches)));
    if let Some(stuck) = options.stuck {
        let all = stuck * layout.n_units;
        lines.push(format!("{stuck} cuttings in each tray, {all} in all."));
    }
    lines.push(match (layout.set.layouts, layout.set.counted) {
        (Some(n), Counted::Exactly) => {
            format!("Drawn from {}: {} layouts, each as likely as the others.", layout.set.within, shown(n))
        }
        (Some(n), _) => format!(
            "Drawn from {}: {} layouts as drawn ones show, each as likely as the others.",
            layout.set.within,
            shown(n)
        ),
        (None, _) => format!("Drawn from {}.", layout.set.within),
    });
    if let (Some(all), false) = (layout.set.without_restrictions, asked.rule.is_none()) {
        lines.push(format!("Without the restriction there would be {} layouts.", shown(all)));
    }
    if let Some(kept) = &layout.efficiency {
        lines.push(format!(
            "Average efficiency factor {:.3}; no design of this size exceeds {:.3}. Two levels share {} to {} blocks.",
            kept.value, kept.bound, kept.fewest_together, kept.most_together
        ));
    }
    if let Some(plants) = options.stock_plants.as_ref().filter(|plants| plants.treatment.is_none()) {
        let n = whole(plants.names.len() as u64, "mother plant", "mother plants");
        lines.push(format!("{} spread over all trays, as evenly within each {} as can be.", capital(&n), given(asked)));
    }
    lines.extend(layout.confounded.iter().map(|one| format!("{}.", capital(&one.reason))));
    lines.push(format!(
        "Plan {}: each sheet carries these letters, and a sheet of another plan is refused.",
        layout.fingerprint
    ));
    lines
}

fn notes(asked: &Asked<'_>, layout: &Layout) -> Vec<Note> {
    let options = asked.options;
    let mut notes: Vec<Note> = layout
        .confounded
        .iter()
        .map(|one| {
            Note::new(if one.inseparable { "confounded" } else { "other_units" }, format!("{}.", capital(&one.reason)))
        })
        .collect();
    if let Some(p) = layout.set.smallest_p.filter(|p| *p > REACH) {
        notes.push(Note::new(
            "few_layouts",
            if untestable(asked, layout) {
                "Every other layout says the same, so no difference can be tested; more trays, or more blocks, would allow it.".to_owned()
            } else {
                format!("Dealing the trays out anew can give no P value below {}, so such a test never reaches 5 %; more trays, or more blocks, would.", p_shown(p))
            },
        ));
    }
    let confounded = layout.confounded.iter().any(|one| one.with == "whole plot" && one.inseparable);
    if let Some(p) = smallest_of_whole_plots(asked).filter(|p| *p > REACH && !confounded) {
        let (outer, _) = outer_and_inner(asked);
        notes.push(Note::new(
            "few_whole_plots",
            format!("Dealing whole plots out anew can give no P value below {} for {outer}; it is known less well than what differs between trays.", p_shown(p)),
        ));
    }
    notes.extend(neighbours(layout));
    match options.layout {
        LayoutKind::LatinSquare => notes.push(Note::new(
            "columns_in_error",
            "A trial loaded with this plan takes rows for blocks; how columns differ stays in the error, which makes its answers cautious; plan.dealt_anew keeps to both.",
        )),
        LayoutKind::StripPlot => {
            let (_, inner) = outer_and_inner(asked);
            notes.push(Note::new(
                "strips_are_units",
                format!("A trial loaded with this plan takes rows for whole plots. Columns are the units of {inner}: load it with whole_plot=\"strip\" for that, or ask plan.dealt_anew, which keeps to both."),
            ));
        }
        LayoutKind::IncompleteBlocks if layout.efficiency.as_ref().is_some_and(|kept| kept.value > 1.0 - 1e-9) => {
            notes.push(Note::new("complete_blocks", "A block has room for every level, so blocks are complete; layout=\"blocks\" says the same."));
        }
        LayoutKind::Augmented => notes.push(Note::new(
            "single_trays",
            "New entries stand once: how trays differ is known from the controls alone, and differences between new entries are rough. An entry meets a control in one block only, so trial.compare of the two has no test; contrasts of trial.model, which fits blocks, and plan.dealt_anew test them, and trial.compare_all lists every pair.",
        )),
        _ => {}
    }
    notes
}

/// What restrictions do to neighbours (Grundy and Healy 1950; Bailey 1987).
fn neighbours(layout: &Layout) -> Option<Note> {
    let ((low, high), any) = (layout.set.neighbours_alike?, layout.set.any_two_alike?);
    let chance = |p: f64| format!("{:.0} %", 100.0 * p);
    let range = if (high - low).abs() < 0.005 { chance(low) } else { format!("{} to {}", chance(low), chance(high)) };
    Some(Note::new(
        "unequal_neighbours",
        format!(
            "With this restriction neighbours are treated alike with a chance of {range}, any two trays with {}. Where neighbouring trays are alike by themselves, the usual error is then too large or too small; judge by plan.dealt_anew too, which deals the trays out within the same set.",
            chance(any)
        ),
    ))
}

fn methods(asked: &Asked<'_>, layout: &Layout) -> String {
    let options = asked.options;
    let what = match options.layout {
        LayoutKind::CompletelyRandomised => "completely at random",
        LayoutKind::Blocks => "in randomised complete blocks",
        LayoutKind::LatinSquare => "in Latin squares",
        LayoutKind::SplitPlot => "as a split plot",
        LayoutKind::StripPlot => "in crossing strips",
        LayoutKind::IncompleteBlocks => "in resolvable incomplete blocks",
        LayoutKind::Augmented => "in blocks with repeated controls and single new entries",
    };
    let stuck = options.stuck.map_or_else(String::new, |stuck| format!(" of {stuck} cuttings"));
    let mut told = format!(
        "{}{stuck} were laid out {what}. The layout was drawn by a seeded generator (ChaCha with 8 rounds, seed {}) from {}",
        capital(&trays_of(layout)),
        options.seed,
        layout.set.within
    );
    match layout.set.layouts {
        Some(n) if layout.set.counted == Counted::Exactly => told.push_str(&format!(" ({} layouts).", shown(n))),
        _ => told.push('.'),
    }
    if let Some(kept) = &layout.efficiency {
        told.push_str(&format!(
            " Blocks were searched by interchange on the average efficiency factor, which is {:.3} with an upper bound of {:.3} (John and Williams 1995).",
            kept.value, kept.bound
        ));
    }
    told.push_str(&format!(
        " Trays carried blind codes; plan {}, rootling {}.",
        layout.fingerprint,
        env!("CARGO_PKG_VERSION")
    ));
    told
}

fn references(asked: &Asked<'_>) -> Vec<String> {
    let mut named = match asked.options.layout {
        LayoutKind::CompletelyRandomised | LayoutKind::Blocks => vec![works::FISHER_1935],
        LayoutKind::LatinSquare if asked.combinations.len() > 6 => {
            vec![works::FISHER_1935, works::JACOBSON_MATTHEWS_1996, works::MCKAY_WANLESS_2005]
        }
        LayoutKind::LatinSquare => vec![works::FISHER_1935, works::MCKAY_WANLESS_2005],
        LayoutKind::SplitPlot | LayoutKind::StripPlot => vec![works::YATES_1935],
        LayoutKind::IncompleteBlocks => {
            vec![works::YATES_1936, works::PATTERSON_WILLIAMS_1976, works::JARRETT_1977, works::JOHN_WILLIAMS_1995]
        }
        LayoutKind::Augmented => vec![works::FEDERER_1956],
    };
    if !asked.rule.is_none() {
        named.extend([works::GRUNDY_HEALY_1950, works::BAILEY_1987]);
    }
    named.into_iter().map(str::to_owned).collect()
}

fn table(asked: &Asked<'_>, trays: &[PlacedTray]) -> Sheet {
    let mut sheet = Sheet::default();
    sheet.text("tray", trays.iter().map(|tray| tray.tray.clone()));
    sheet.level("bench", trays.iter().map(|tray| tray.bench.clone()));
    sheet.whole("row", trays.iter().map(|tray| tray.row)).whole("column", trays.iter().map(|tray| tray.column));
    let places: [(&str, Place); 4] = [
        ("replicate", |tray| &tray.replicate),
        ("block", |tray| &tray.block),
        ("whole_plot", |tray| &tray.whole_plot),
        ("strip", |tray| &tray.strip),
    ];
    for (name, place) in places {
        if trays.iter().any(|tray| place(tray).is_some()) {
            sheet.level(name, trays.iter().map(|tray| place(tray).clone().unwrap_or_default()));
        }
    }
    for (at, one) in asked.options.treatments.iter().enumerate() {
        sheet.level(&one.name, trays.iter().map(|tray| tray.levels.get(at).cloned().unwrap_or_default()));
    }
    for (name, who) in [("stock_plant", (|tray| &tray.stock_plant) as Place), ("reader", |tray| &tray.reader)] {
        if trays.iter().any(|tray| who(tray).is_some()) {
            sheet.level(name, trays.iter().map(|tray| who(tray).clone().unwrap_or_default()));
        }
    }
    sheet
}
