//! One row per tray and one treatment per tray, or the line that says how the trays are numbered.

use crate::error::{Issue, Severity};
use crate::math::design::{Key, distinct, sorted};
use crate::trial::checker::Checker;
use crate::trial::columns::Factor;
use crate::trial::unused::Apart;

/// A tray under several treatments: its name, the combinations, how many times each was met, and its lines.
struct Mixed {
    name: String,
    kinds: Vec<Vec<String>>,
    lines: Vec<usize>,
}

impl Checker<'_> {
    /// Trays, and the places and plants above them, are one each under their label.
    pub(super) fn trays(&mut self) {
        self.tray_names();
        self.places();
    }

    /// Trays are told apart by season, block, whole plot and tray name; each has one treatment and, with counts, one row.
    fn tray_names(&mut self) {
        let usable = self.usable_lines();
        self.code(&usable);
        let (options, counts_trays) = (self.options, self.counts_trays());
        let Some(tray) = options.tray.as_deref() else { return };
        let place = [&options.season, &options.block, &options.whole_plot, &options.tray];
        let place: Vec<&Factor> = place.into_iter().flatten().filter_map(|name| self.coded(name)).collect();
        let treatments: Vec<&Factor> = options.treatments.iter().filter_map(|name| self.coded(name)).collect();
        let kinds = distinct(&treatments.iter().map(|one| one.key()).collect::<Vec<_>>(), usable.len()).numbers;
        let members = sorted(&place.iter().map(|one| one.key()).collect::<Vec<_>>(), usable.len());
        let mut mixed: Vec<Mixed> = Vec::new();
        let mut repeated: Vec<(String, Vec<usize>)> = Vec::new();
        for ats in members.groups() {
            let one_kind = ats.windows(2).all(|pair| match pair {
                [a, b] => kinds.get(*a) == kinds.get(*b),
                _ => true,
            });
            let twice = ats.len() > 1 || ats.iter().any(|at| self.weight(usable.get(*at)) > 1);
            if one_kind && !(twice && counts_trays) {
                continue;
            }
            let lead = ats.first().copied().unwrap_or_default();
            let name = place.last().and_then(|one| one.label(lead)).unwrap_or_default().to_owned();
            let lines = ats.iter().filter_map(|at| usable.get(*at).copied()).collect();
            if one_kind {
                repeated.push((name, lines));
            } else {
                mixed.push(Mixed { name, kinds: combinations(&treatments, ats), lines });
            }
        }
        // Most trays under several treatments: the numbers start afresh, which is no mistake in a row.
        if mixed.len() >= 2 && 2 * mixed.len() >= members.len() {
            let within = restart_within(&treatments, &place, &kinds, usable.len());
            let issue = self.restarting(tray, &place, &within, &mixed);
            self.issues.extend(issue);
            return;
        }
        // Most trays in several rows that differ: these start afresh too, within a place that may not be named.
        if repeated.len() >= 2 && 2 * repeated.len() >= members.len() && !repeated.iter().all(|one| self.alike(&one.1))
        {
            let issue = self.repeating(tray, &place, &repeated);
            self.issues.extend(issue);
            return;
        }
        let changed = !mixed.is_empty() || !repeated.is_empty();
        for found in mixed {
            self.tray_under_two(tray, &found);
        }
        for (name, lines) in repeated {
            self.repeated_tray(tray, &name, &lines);
        }
        if changed {
            self.code(&self.usable_lines());
        }
    }

    fn restarting(&self, column: &str, place: &[&Factor], within: &[String], mixed: &[Mixed]) -> Option<Issue> {
        let first = mixed.first()?;
        let rows = self.in_rows(&first.lines);
        let levels: Vec<String> = first.kinds.iter().take(3).map(|kind| kind.join(" / ")).collect();
        let once = mixed.iter().all(|one| !self.counts_trays() || one.kinds.len() == one.lines.len());
        let reason = format!(
            "tray numbers start afresh: {:?} stands under {} treatments ({}), in {rows}; {} tray numbers in all do so",
            first.name,
            first.kinds.len(),
            some_of(&levels, first.kinds.len()),
            mixed.len()
        );
        let issue = |hint: String| Issue::of_input("tray_restarts", reason.clone(), hint).in_column(column);
        Some(if once {
            let names: Vec<String> =
                within.iter().map(String::as_str).chain([column]).map(|name| format!("{name:?}")).collect();
            let paste = format!("tray=[{}]", names.join(", "));
            issue(format!("if each treatment has trays of its own, say so with {paste}")).pasted(&paste)
        } else {
            self.answered(issue, place)
        })
    }

    /// Tray names that stand in several rows of one treatment each.
    fn repeating(&self, column: &str, place: &[&Factor], repeated: &[(String, Vec<usize>)]) -> Option<Issue> {
        let (name, lines) = repeated.first()?;
        let reason = format!(
            "tray numbers start afresh: {name:?} stands in {}, and {} tray numbers in all stand in several rows",
            self.in_rows(lines),
            repeated.len()
        );
        let issue = |hint: String| Issue::of_input("tray_restarts", reason.clone(), hint).in_column(column);
        Some(self.answered(issue, place))
    }

    /// The place within which trays are numbered afresh, where a column that nobody named is called so and tells them apart. Where none is,
    /// nobody can know which it is, and trays of their own would hide it: no line to paste.
    fn answered(&self, with: impl Fn(String) -> Issue, place: &[&Factor]) -> Issue {
        let usable = self.usable_lines();
        let trays = distinct(&place.iter().map(|one| one.key()).collect::<Vec<_>>(), usable.len()).numbers;
        let rows: Vec<usize> = usable.iter().filter_map(|line| self.frame_row(*line)).collect();
        let given: Vec<&Factor> = self.options.treatments.iter().filter_map(|name| self.coded(name)).collect();
        match self.unused.apart(&rows, &trays, &given, self.options) {
            Some(Apart { name, paste }) => with(format!(
                "the column {name:?} tells them apart: if trays are numbered afresh in each {name}, name it with {paste}"
            ))
            .pasted(&paste),
            None => with(
                "name the bench or room within which they are numbered as block= or whole_plot=; only where each row is a tray of its own and nothing is shared, tray=\"each-row\" says so; a tray that was entered twice has to be one row"
                    .to_owned(),
            ),
        }
    }

    /// True where the rows hold the same in every column.
    fn alike(&self, lines: &[usize]) -> bool {
        lines.windows(2).all(|pair| match pair {
            [a, b] => self.table.columns.iter().all(|column| column.get(*a) == column.get(*b)),
            _ => true,
        })
    }

    fn tray_under_two(&mut self, column: &str, found: &Mixed) {
        let shown: Vec<String> = found.kinds.iter().take(3).map(|kind| kind.join(" / ")).collect();
        let rows = self.in_rows(&found.lines);
        let reason = format!(
            "tray {:?} appears under {} treatments ({}), in {rows}",
            found.name,
            found.kinds.len(),
            some_of(&shown, found.kinds.len())
        );
        let names: Vec<String> = self.options.treatments.iter().map(|name| format!("{name:?}")).collect();
        let paste = format!("tray=[{}, {column:?}]", names.join(", "));
        let hint = format!(
            "a tray has one treatment; correct the entry, or, if trays are numbered afresh in each treatment, say so with {paste}"
        );
        for line in &found.lines {
            let issue = Issue::of_input("tray_in_two_treatments", reason.clone(), hint.clone());
            self.set_aside(*line, issue.in_column(column).with_value(found.name.as_str()).pasted(&paste));
        }
    }

    fn repeated_tray(&mut self, column: &str, name: &str, lines: &[usize]) {
        let same = self.alike(lines);
        let reason = format!("tray {name:?} stands in {}", self.in_rows(lines));
        let hint = "keep one row per tray; a tray counted twice makes the trial look larger than it is; where each row is a tray of its own, tray=\"each-row\" says so";
        for line in lines.iter().skip(usize::from(same)) {
            let issue = Issue::of_input("duplicate_tray", reason.clone(), hint).in_column(column).with_value(name);
            let paste = if same { format!("leave_out=[{}]", self.row(*line)) } else { "tray=\"each-row\"".to_owned() };
            self.set_aside(*line, issue.pasted(&paste));
        }
        // A set of identical rows in a grouped table: no row of its own to set aside, but the issue asks for the look by row.
        if lines.len() == 1 {
            let issue = Issue::of_input("duplicate_tray", reason, hint).in_column(column).with_value(name);
            self.issues.push(issue.graded(Severity::Problem));
        }
    }
}

/// "a; b", or "a; b; c and 6 more" where not all are named.
fn some_of(shown: &[String], all: usize) -> String {
    let more = all.saturating_sub(shown.len());
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", shown.join("; "))
}

/// The treatments within which tray numbers start afresh: one of them where that is enough, else all.
fn restart_within(treatments: &[&Factor], place: &[&Factor], kinds: &[u32], lines: usize) -> Vec<String> {
    let enough = |one: &&&Factor| {
        let keys: Vec<Key<'_>> = place.iter().map(|place| place.key()).chain([one.key()]).collect();
        let first = |ats: &[usize]| ats.first().and_then(|at| kinds.get(*at)).copied();
        sorted(&keys, lines).groups().all(|ats| ats.iter().all(|at| kinds.get(*at).copied() == first(ats)))
    };
    let one: Vec<String> = treatments.iter().filter(enough).take(1).map(|one| one.name.clone()).collect();
    if one.is_empty() { treatments.iter().map(|one| one.name.clone()).collect() } else { one }
}

/// The combinations of levels at some lines, each once, in order.
fn combinations(factors: &[&Factor], lines: &[usize]) -> Vec<Vec<String>> {
    let codes = |line: &usize| -> Vec<u32> { factors.iter().filter_map(|one| one.codes.get(*line).copied()).collect() };
    let mut kinds: Vec<(Vec<u32>, usize)> = lines.iter().map(|line| (codes(line), *line)).collect();
    kinds.sort_unstable();
    kinds.dedup_by(|a, b| a.0 == b.0);
    let shown = |line: usize| factors.iter().filter_map(|one| one.label(line)).map(str::to_owned).collect();
    kinds.into_iter().map(|(_, line)| shown(line)).collect()
}
