//! Cuttings that died, where the trial records them: a third outcome beside rooted and alive without roots.

use crate::error::Issue;
use crate::trial::cell::{Cell, read_count};
use crate::trial::checker::Checker;

impl Checker<'_> {
    /// Reads the column of deaths: a count per tray, or yes and no with one row per cutting.
    pub(super) fn deaths(&mut self) {
        let Some(name) = self.options.dead.clone() else { return };
        let Some(column) = self.column(&name) else { return };
        let per_tray = self.options.stuck.is_some();
        let read = |cell: &Cell| if per_tray { read_count(cell) } else { yes_no(cell) };
        let counts: Vec<Result<u64, Issue>> = column.entries().iter().map(read).collect();
        for line in 0..self.table.len() {
            if !self.is_usable(line) {
                continue;
            }
            let weight = self.weight(Some(&line));
            let found = match column.code(line).and_then(|code| counts.get(code)) {
                Some(Ok(count)) => Ok(count.saturating_mul(weight)),
                Some(Err(issue)) => Err(issue.clone()),
                None => continue,
            };
            let (rooted, stuck) = self.counts.get(line).copied().unwrap_or_default();
            let shown = |count: u64| count / weight.max(1);
            match found.and_then(|dead| fits(dead, rooted, stuck, shown).map_or(Ok(dead), Err)) {
                Ok(dead) => {
                    if let Some(entry) = self.dead.get_mut(line) {
                        *entry = dead;
                    }
                }
                Err(issue) => self.set_aside(line, issue.in_column(&name)),
            }
        }
    }
}

fn yes_no(cell: &Cell) -> Result<u64, Issue> {
    cell.as_yes_no().map(u64::from).ok_or_else(|| {
        if cell.is_missing() {
            return Issue::of_input("missing_value", "no value", "enter whether the cutting died or remove the row");
        }
        let reason = format!("{:?} does not say whether the cutting died", cell.shown());
        Issue::of_input("not_yes_no", reason, "use 1 or 0, true or false, yes or no").with_value(cell.shown())
    })
}

/// More cuttings than were stuck.
fn fits(dead: u64, rooted: u64, stuck: u64, shown: impl Fn(u64) -> u64) -> Option<Issue> {
    (rooted.saturating_add(dead) > stuck).then(|| {
        let (dead, rooted, stuck) = (shown(dead), shown(rooted), shown(stuck));
        let reason = format!("{rooted} rooted and {dead} dead of {stuck} stuck");
        let hint = "a cutting is rooted, alive without roots or dead; count each once";
        Issue::of_input("rooted_and_dead_above_stuck", reason, hint).with_value(dead.to_string())
    })
}
