//! What would load without a complaint and be wrong: percentages for counts, sums for trays, thousands for decimals, dates for
//! levels. Each is asked about, and each question has its answer.

use crate::error::{Issue, Severity};
use crate::trial::cell::{Cell, is_ambiguous_number, read_count};
use crate::trial::checker::Checker;
use crate::trial::coding::Coded;
use crate::trial::levels::factor;
use crate::trial::roles::{LoadOptions, Source};
use crate::trial::sheet::{
    Counted, Held, Share, is_ditto, label_word, looks_like_a_date, means, odd_rows, percent_name, percent_values,
    sum_rows as sheet_sums, thousands_or_decimals,
};
use crate::trial::table::Rows;

/// The reason of a tray that was not read: nothing was lost.
const UNREAD: &str = "not read";
/// So begins what it says of a tray that is on no row of the sheet; its code follows.
const ABSENT: &str = "not read: ";

/// Rows of the frame that are worked out from those above, and the code of the question each is.
pub(super) type Derived = Vec<(usize, &'static str)>;

/// Rows of the frame whose counts are the sums of those above, or their means.
#[must_use]
pub(super) fn derived_rows(rows: &Rows, options: &LoadOptions, source: Source) -> Derived {
    let columns = (rows.column(&options.rooted), options.stuck.as_deref().and_then(|name| rows.column(name)));
    let (Some(rooted), Some(stuck)) = columns else { return Vec::new() };
    let read =
        |column: &Coded| -> Vec<Option<u64>> { column.entries().iter().map(|cell| read_count(cell).ok()).collect() };
    let (of_rooted, of_stuck) = (read(rooted), read(stuck));
    let out =
        |row: usize| !options.leave_out.is_empty() && options.leave_out.contains(&options.row_number(row, source));
    let count = |row: usize| {
        let rooted = rooted.code(row).and_then(|code| of_rooted.get(code).copied().flatten())?;
        let stuck = stuck.code(row).and_then(|code| of_stuck.get(code).copied().flatten())?;
        (!out(row)).then_some((rooted, stuck))
    };
    let counts: Vec<Option<(u64, u64)>> = (0..rows.height()).map(count).collect();
    let label = |column: &Coded, row: usize| column.code(row).filter(|_| !column.is_missing(row));
    let labels = || options.labels().into_iter().filter_map(|name| rows.column(name));
    let labels: Vec<Vec<Option<usize>>> =
        labels().map(|column| (0..rows.height()).map(|row| label(column, row)).collect()).collect();
    let mut found = Vec::new();
    // Sums are larger than what they sum: none where all trays are alike.
    let alike = of_stuck.iter().flatten().max() == of_stuck.iter().flatten().min();
    if !alike && !options.has_checked("sum_row") {
        let sums = sheet_sums(&Counted { counts: &counts, labels: &labels });
        found.extend(sums.into_iter().map(|row| (row, "sum_row")));
    }
    if rows.height() <= MOST_BY_HAND && options.leave_out.is_empty() && !options.has_checked("mean_row") {
        found.extend(means(&counts).into_iter().map(|row| (row, "mean_row")));
    }
    if rows.height() <= MOST_BY_HAND {
        let odd = odd_labels(rows, options);
        let held = |row: usize| held(rooted.get(row)?, stuck.get(row)?).filter(|_| !out(row));
        let held: Vec<Option<Held>> = (0..rows.height()).map(held).collect();
        let odd =
            odd_rows(&held, &odd).into_iter().map(|one| (one.row, if one.is_mean { "mean_row" } else { "sum_row" }));
        let new: Derived = odd
            .filter(|(row, code)| !options.has_checked(code) && found.iter().all(|(known, _)| known != row))
            .collect();
        found.extend(new);
    }
    found
}

/// The numbers of a row, with half a unit of the last digit of those rooted.
fn held(rooted: &Cell, stuck: &Cell) -> Option<Held> {
    let shown = rooted.shown();
    let decimals = shown.trim().split_once(['.', ',']).map_or(0, |(_, tail)| tail.len().min(12));
    let slack = 0.5 * 0.1_f64.powi(decimals as i32);
    Some(Held { rooted: rooted.as_number()?, slack, stuck: stuck.as_number()? })
}

/// Rows whose tray is called by a word where most are called by numbers.
fn odd_labels(rows: &Rows, options: &LoadOptions) -> Vec<bool> {
    let Some(column) = options.tray.as_deref().and_then(|name| rows.column(name)) else { return Vec::new() };
    let own = |text: &str| text.rsplit_once(" / ").map_or_else(|| text.to_owned(), |(_, own)| own.to_owned());
    let word = |cell: &Cell| match cell {
        Cell::Text(text) => Cell::Text(own(text)).as_number().is_none(),
        _ => false,
    };
    let words: Vec<bool> = column.entries().iter().map(word).collect();
    let odd: Vec<bool> =
        (0..rows.height()).map(|row| column.code(row).and_then(|code| words.get(code)) == Some(&true)).collect();
    if 3 * odd.iter().filter(|odd| **odd).count() <= odd.len() { odd } else { Vec::new() }
}

/// Rows of the longest sheet that somebody adds up by hand.
const MOST_BY_HAND: usize = 5_000;

impl Checker<'_> {
    /// Rows the user leaves out, and trays that were lost.
    pub(super) fn left_out(&mut self) {
        let options = self.options;
        let wanted: std::collections::BTreeSet<u64> = options.leave_out.iter().copied().collect();
        if !wanted.is_empty() {
            let lines: Vec<usize> = (0..self.table.len()).filter(|line| wanted.contains(&self.row(*line))).collect();
            for line in lines {
                let issue = Issue::of_input("left_out", "left out as asked", "nothing to do");
                self.not_a_tray(line, issue.graded(Severity::Information));
            }
        }
        let Some(reasons) = options.lost.as_deref().and_then(|name| self.column(name)) else { return };
        let rooted = self.column(&options.rooted);
        let stuck = options.stuck.as_deref().and_then(|name| self.column(name));
        let nothing = |column: Option<&Coded>, line: usize| {
            column.and_then(|column| column.get(line)).is_some_and(Cell::is_missing)
        };
        let none =
            |line: usize| stuck.and_then(|column| column.get(line)).is_some_and(|cell| read_count(cell) == Ok(0));
        for line in 0..self.table.len() {
            let lost = nothing(rooted, line) || nothing(stuck, line) || none(line);
            let Some(reason) = reasons.get(line).filter(|cell| lost && !cell.is_missing()) else { continue };
            if self.is_usable(line) {
                let shown = reason.shown();
                if let Some(tray) = shown.strip_prefix(ABSENT) {
                    let why = format!("tray {tray} of the plan is not on the sheet");
                    let issue = Issue::of_input("unread_tray", why, "read it, or leave it");
                    self.not_in_sheet(line, issue.graded(Severity::Information).with_value(tray));
                    continue;
                }
                let issue = if shown == UNREAD {
                    let why = "nothing is counted here; a blank is unread and no 0";
                    Issue::of_input("unread_tray", why, "read it, or leave it")
                } else {
                    Issue::of_input("lost_tray", format!("the tray was lost ({shown})"), "nothing to do")
                };
                self.not_a_tray(line, issue.graded(Severity::Information).with_value(shown));
            }
        }
    }

    /// Rows that say of themselves that they are sums or averages, and those that are by their counts.
    pub(super) fn totals(&mut self, derived: &Derived) {
        let options = self.options;
        for name in options.labels() {
            let Some(column) = self.column(name).filter(|_| !options.has_checked("total_row")) else { continue };
            let tray = options.tray.as_deref() == Some(name);
            let mut lines_of = vec![0_u64; column.entries().len()];
            for line in 0..self.table.len() {
                if let Some(lines) = column.code(line).and_then(|code| lines_of.get_mut(code)) {
                    *lines += self.weight(Some(&line));
                }
            }
            let word = |(cell, lines): (&Cell, &u64)| match cell {
                Cell::Text(text) => label_word(text, tray || *lines == 1),
                _ => None,
            };
            let words: Vec<Option<&str>> = column.entries().iter().zip(&lines_of).map(word).collect();
            if words.iter().all(Option::is_none) {
                continue;
            }
            for line in 0..self.table.len() {
                let word = column.code(line).and_then(|code| words.get(code).copied().flatten());
                let (Some(word), Some(cell), true) = (word, column.get(line), self.is_usable(line)) else { continue };
                let reason = format!(
                    "\"{}\" says {word:?}, so the row looks like a sum or an average and not like a tray",
                    cell.shown()
                );
                let hint = "leave the row out; if it is a tray, say so with checked=[\"total_row\"]";
                let issue = Issue::of_input("total_row", reason, hint).in_column(name).with_value(cell.shown());
                let paste = format!("leave_out=[{}]", self.row(line));
                self.not_a_tray(line, issue.pasted(&paste));
            }
        }
        for (row, code) in derived {
            let Ok(line) = self.table.rows.binary_search(row) else { continue };
            if !self.is_usable(line) {
                continue;
            }
            let hint = format!("leave the row out; if it is a tray, say so with checked=[{code:?}]");
            let looks = |what: &str, looks: &str| {
                format!(
                    "the counts are the {what} of the rows above, so the row looks like {looks} and not like a tray"
                )
            };
            let issue = if *code == "sum_row" {
                Issue::of_input("sum_row", looks("sums", "a total"), hint)
            } else {
                Issue::of_input("mean_row", looks("means", "an average"), hint)
            };
            let paste = format!("leave_out=[{}]", self.row(line));
            self.not_a_tray(line, issue.in_column(&options.rooted).pasted(&paste));
        }
    }

    /// Marks that say "as above" in columns of levels.
    pub(super) fn dittos(&mut self) {
        for name in self.options.labels() {
            let Some(column) = self.column(name) else { continue };
            let ditto = |cell: &Cell| matches!(cell, Cell::Text(text) if is_ditto(text));
            let marks: Vec<bool> = column.entries().iter().map(ditto).collect();
            if !marks.contains(&true) {
                continue;
            }
            for line in 0..self.table.len() {
                let marked = column.code(line).and_then(|code| marks.get(code)) == Some(&true);
                let Some(cell) = column.get(line).filter(|_| marked && self.is_usable(line)) else { continue };
                let paste = format!("fill_down=[{name:?}]");
                let reason = format!("{:?} seems to say \"as above\"", cell.shown());
                let hint = format!("{paste} gives these rows the entry above");
                let issue = Issue::of_input("ditto_mark", reason, hint).in_column(name).with_value(cell.shown());
                self.not_a_tray(line, issue.pasted(&paste));
            }
        }
    }

    /// True where no row holds fewer rooted than stuck, and most hold more: the two columns were named the wrong way round.
    pub(super) fn swapped(&mut self, stuck: &str) -> bool {
        let rooted = self.options.rooted.clone();
        if self.options.shaped.as_ref().is_some_and(|shaped| shaped.stuck_each.is_some()) {
            return false;
        }
        let (Some(of_rooted), Some(of_stuck)) = (self.column(&rooted), self.column(stuck)) else { return false };
        let read = |column: &Coded| -> Vec<Option<u64>> {
            column.entries().iter().map(|cell| read_count(cell).ok()).collect()
        };
        let (counts, others) = (read(of_rooted), read(of_stuck));
        let pair = |line: usize| {
            let rooted = of_rooted.code(line).and_then(|code| counts.get(code).copied().flatten())?;
            let stuck = of_stuck.code(line).and_then(|code| others.get(code).copied().flatten())?;
            Some((rooted, stuck))
        };
        let (mut above, mut rows) = (0, 0);
        for line in self.usable_lines() {
            let Some((rooted, stuck)) = pair(line).filter(|(rooted, stuck)| rooted >= stuck) else { return false };
            rows += 1;
            above += usize::from(rooted > stuck);
        }
        // Trays have few sizes; a column of many values is no number stuck, whatever else it is.
        let sizes = counts.iter().flatten().count();
        if above < 3 || 2 * above <= rows || sizes > others.iter().flatten().count() || 2 * sizes > rows {
            return false;
        }
        let reason =
            format!("the counts are at or above those of {stuck:?} in every row, {rooted:?} is named as rooted");
        let paste = format!("rooted={stuck:?}, stuck={rooted:?}");
        let hint = format!("the two columns seem to be named the wrong way round: {paste}");
        self.issues.push(Issue::of_input("swapped_counts", reason, hint).in_column(&rooted).pasted(&paste));
        true
    }

    /// True where rows that cannot be used hold other levels of the column: what is wrong with these rows is said, not their loss.
    pub(super) fn loses_levels(&self, name: &str) -> bool {
        let lines: Vec<usize> = (0..self.table.len()).filter(|line| !self.is_out(*line)).collect();
        let Some(column) = self.column(name) else { return false };
        let filled: Vec<usize> = lines.into_iter().filter(|line| !column.is_missing(*line)).collect();
        factor(name, column, &filled, self.options.treatments.iter().any(|one| one == name)).levels.len() > 1
    }

    /// Percentages where counts are expected: told by the column's name, by how they are written, or by their values. True when
    /// one was found: no count of the column means anything then.
    pub(super) fn percentages(&mut self, stuck: &str) -> bool {
        let options = self.options;
        if options.has_checked("percent_as_counts") {
            return false;
        }
        let mut found = None;
        for name in [Some(options.rooted.as_str()), options.dead.as_deref()].into_iter().flatten() {
            if percent_name(name) {
                found = Some((name, "by its name the column holds percentages and not counts".to_owned()));
                break;
            }
        }
        let found = found.or_else(|| {
            let name = options.rooted.as_str();
            let column = self.column(name)?;
            let reason = self.written_as_rates(column).or_else(|| self.valued_as_rates(column, self.column(stuck)?))?;
            Some((name, reason))
        });
        let Some((name, reason)) = found else { return false };
        let wide = options.shaped.iter().flat_map(|shaped| &shaped.notes).any(|note| note.code == "wide_sheet");
        let paste = if wide { "rooted_percent=True".to_owned() } else { format!("rooted_percent={name:?}") };
        let hint = format!(
            "percentages with the number stuck are read with {paste}; if these are cuttings counted, say so with checked=[\"percent_as_counts\"]"
        );
        let issue = Issue::of_input("percent_as_counts", reason, hint).in_column(name);
        let counted = options.dead.as_deref() == Some(name);
        self.issues.push(issue.pasted(if counted { "checked=[\"percent_as_counts\"]" } else { &paste }));
        true
    }

    /// Several entries with decimals or with a percent sign, in rows that can be trays.
    fn written_as_rates(&self, column: &Coded) -> Option<String> {
        let rate = |cell: &Cell| match cell {
            Cell::Text(text) if text.trim_end().ends_with('%') => true,
            other => other.as_number().is_some_and(|value| value.fract() != 0.0 && (0.0..=100.0).contains(&value)),
        };
        let rates: Vec<bool> = column.entries().iter().map(rate).collect();
        if rates.iter().filter(|rate| **rate).count() < 2 {
            return None;
        }
        let mut used = vec![false; rates.len()];
        for code in (0..self.table.len()).filter(|line| self.is_usable(*line)).filter_map(|line| column.code(line)) {
            if let Some(used) = used.get_mut(code) {
                *used = true;
            }
        }
        let mut found =
            column.entries().iter().zip(rates.iter().zip(&used)).filter(|(_, (rate, used))| **rate && **used);
        let ((first, _), (second, _)) = (found.next()?, found.next()?);
        Some(format!(
            "entries such as {} and {} are no whole numbers of cuttings; they look like percentages",
            first.shown(),
            second.shown()
        ))
    }

    fn valued_as_rates(&self, rooted: &Coded, stuck: &Coded) -> Option<String> {
        let read = |column: &Coded| -> Vec<Option<u64>> {
            column.entries().iter().map(|cell| read_count(cell).ok()).collect()
        };
        let (of_rooted, of_stuck) = (read(rooted), read(stuck));
        if of_rooted.iter().flatten().any(|rooted| *rooted > 100) {
            return None;
        }
        let count = |line: usize| {
            let rooted = rooted.code(line).and_then(|code| of_rooted.get(code).copied().flatten())?;
            let stuck = stuck.code(line).and_then(|code| of_stuck.get(code).copied().flatten())?;
            self.is_usable(line).then_some((rooted, stuck))
        };
        let counts = || (0..self.table.len()).filter_map(count);
        match percent_values(counts)? {
            Share::Above { stuck } => Some(format!(
                "many counts are above the number stuck, none is above 100, and as percentages all are whole numbers of cuttings, for example of {stuck}; they look like percentages"
            )),
            Share::Multiples { stuck, step } => Some(format!(
                "with {stuck} stuck every count is a multiple of {step}, as percentages of {stuck} are; they look like percentages"
            )),
        }
    }

    /// Marks within numbers that can be read two ways.
    pub(super) fn number_marks(&mut self) {
        let options = self.options;
        if !options.marks().is_silent() || options.has_checked("thousands_or_decimals") {
            return;
        }
        let numeric =
            |role: &str| matches!(role, "rooted" | "stuck" | "dead" | "treatments" | "covariates" | "responses");
        for (role, name) in options.roles().into_iter().filter(|(role, _)| numeric(role)) {
            let Some(column) = self.column(name) else { continue };
            let texts = || {
                column
                    .entries()
                    .iter()
                    .filter_map(|cell| if let Cell::Text(text) = cell { Some(text.as_str()) } else { None })
            };
            let commas: Vec<&str> = texts().filter(|text| is_ambiguous_number(text)).take(1).collect();
            let is_strength = options.strength_treatment() == Some(name);
            let (shown, mark) = match (thousands_or_decimals(texts()), commas.as_slice()) {
                (Some(points), _) => (points.join(" and "), '.'),
                (None, [comma]) if role == "treatments" && !is_strength => ((*comma).to_owned(), ','),
                _ => continue,
            };
            let reason = format!("{shown} can be read with thousands or with decimals");
            let hint = format!("say which: thousands=\"{mark}\" or decimal=\"{mark}\"");
            let issue = Issue::of_input("thousands_or_decimals", reason, hint).in_column(name).with_value(shown);
            self.issues.push(issue.pasted(&format!("thousands=\"{mark}\"")));
        }
    }

    /// Levels that a spreadsheet may have made dates of.
    pub(super) fn dates(&mut self) {
        let options = self.options;
        for name in &options.treatments {
            let Some(column) = self.column(name).filter(|_| !options.has_checked("dates_as_levels")) else { continue };
            let date = |cell: &&Cell| matches!(cell, Cell::Text(text) if looks_like_a_date(text));
            let Some(cell) = column.entries().iter().find(date) else { continue };
            let reason = format!("{:?} is a date; spreadsheets make dates of entries such as 1-2 or 3/4", cell.shown());
            let hint = "format the column as text and enter the levels again; if they are dates, say so with checked=[\"dates_as_levels\"]";
            let issue = Issue::of_input("dates_as_levels", reason, hint).in_column(name).with_value(cell.shown());
            self.issues.push(issue.graded(Severity::Question).pasted("checked=[\"dates_as_levels\"]"));
        }
    }
}
