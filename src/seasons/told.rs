//! Seasons pooled, in words: the decision, and the rest a fact a line.

use super::numbers::{Pooled, SeasonDifference, WithoutSeason};
use crate::report::numbers::points_out;
use crate::report::{Spoken, confidence, degrees_of_freedom, fitted, join, p_value, points};

/// What is said, and about what.
pub(super) struct Told<'a> {
    pub(super) found: &'a Pooled,
    pub(super) said: &'a Spoken,
}

impl Told<'_> {
    /// True where the second level brings more.
    fn up(&self) -> bool {
        self.found.value >= 0.0
    }

    fn better(&self) -> String {
        self.said.level(if self.up() { &self.found.second } else { &self.found.first })
    }

    fn worse(&self) -> String {
        self.said.short(if self.up() { &self.found.first } else { &self.found.second })
    }

    /// Limits seen from the level that brings more.
    fn turned(&self, (low, high): (f64, f64)) -> (f64, f64) {
        if self.up() { (low, high) } else { (-high, -low) }
    }

    /// Trees per 100: whole ones where limits are wider than they are fine.
    fn trees(&self, x: f64) -> String {
        let fine = self.found.high - self.found.low < 0.02;
        if fine { points_out(x) } else { format!("{:.0}", (100.0 * x).round() + 0.0) }
    }

    /// "between 2 fewer and 25 more", "between 4 and 19 more".
    fn between(&self, (low, high): (f64, f64)) -> String {
        let (less, more) = (self.trees(low.abs()), self.trees(high));
        match (low < 0.0, high < 0.0) {
            (true, true) => format!("between {} and {} fewer", self.trees(-high), less),
            (true, false) => format!("between {less} fewer and {more} more"),
            _ => format!("between {less} and {more} more"),
        }
    }

    /// "2 fewer to 25 more", "4 to 19 more".
    fn span(&self, (low, high): (f64, f64)) -> String {
        let between = self.between((low, high));
        between.strip_prefix("between ").unwrap_or(&between).replace(" and ", " to ")
    }

    /// The decision.
    pub(super) fn sentence(&self) -> String {
        let limits = self.turned((self.found.low, self.found.high));
        if self.found.these_alone {
            return fitted(&self.of_these(limits), &["; two seasons tell nothing of a new one".to_owned()]);
        }
        let new = self.found.new_low.zip(self.found.new_high).map(|new| self.turned(new));
        let tail = if self.alike_enough(limits) {
            // Where nothing is to be changed room is short, and what a new season may bring comes first.
            let ahead = new.filter(|_| !too_alike(self.found)).map(|new| format!("; a new season {}", self.span(new)));
            vec![ahead.unwrap_or_else(|| ", less than matters".to_owned())]
        } else {
            Vec::from_iter(new.map(|new| format!("; in a new season {}", self.between(new))))
        };
        fitted(&self.lead(limits, new), &tail)
    }

    /// What two seasons showed, in the past.
    fn of_these(&self, (low, high): (f64, f64)) -> String {
        let (better, worse, per) = (self.better(), self.worse(), self.found.outcome.of_hundred());
        if low > 0.0 {
            let (gain, low, high) = (self.trees(self.found.value.abs()), self.trees(low), self.trees(high));
            return format!("Over these 2 seasons {better} brought {gain} more {per} than {worse} ({low} to {high})");
        }
        if let ([one, two], true) = (self.found.seasons.as_slice(), self.found.changes.p <= 1.0 - self.found.confidence)
        {
            let told = |season: &SeasonDifference| {
                let value = if self.up() { season.value } else { -season.value };
                let side = if value < 0.0 { "fewer" } else { "more" };
                format!("{} {side} in {}", self.trees(value.abs()), season.season)
            };
            return format!(
                "These 2 seasons contradict each other: {better} brought {}, {} {per} than {worse}",
                told(one),
                told(two)
            );
        }
        let between = self.between((low, high));
        format!("Not settled over these 2 seasons: {better} brought {between} {per} than {worse}")
    }

    /// True where the average can be no difference that matters.
    fn alike_enough(&self, (low, high): (f64, f64)) -> bool {
        !self.found.these_alone && low > -self.found.nearly && high < self.found.nearly
    }

    /// What to do over seasons.
    fn lead(&self, (low, high): (f64, f64), new: Option<(f64, f64)>) -> String {
        let (better, worse, per) = (self.better(), self.worse(), self.found.outcome.of_hundred());
        let (count, between) = (self.found.n_seasons, self.between((low, high)));
        if self.alike_enough((low, high)) {
            let span = self.span((low, high));
            return format!("No reason to change: over {count} seasons {better} brings {span} {per} than {worse}");
        }
        if low <= 0.0 {
            let start = if self.found.provisional { "Too few seasons to tell" } else { "Not settled" };
            return format!("{start}: over {count} seasons {better} brings {between} {per} than {worse}");
        }
        let gain = self.trees(self.found.value.abs());
        let range = format!("({} to {})", self.trees(low), self.trees(high));
        if self.found.outcome.is_part() {
            let title = self.found.outcome.words().title;
            return format!(
                "{title} alone, over {count} seasons: {better} gives {gain} more {per} than {worse} {range}"
            );
        }
        let sure = new.is_some_and(|(low, _)| low > 0.0) && !too_alike(self.found);
        let verb = match (self.found.provisional, sure) {
            (true, _) => "Provisionally",
            (false, true) => "Use",
            (false, false) => "Leaning to",
        };
        format!("{verb} {better}: over {count} seasons {gain} more {per} than {worse} {range}")
    }

    /// Everything else, a fact a line.
    pub(super) fn details(&self) -> Vec<String> {
        let mut lines = vec![self.average()];
        lines.extend(self.new_season());
        lines.extend(self.spread());
        lines.push(self.changes());
        lines.extend(self.without());
        lines.extend(self.apart());
        lines.extend(
            self.found.left_out.iter().map(|one| {
                format!("Season {} does not enter ({} points): {}.", one.season, points(one.value), one.why)
            }),
        );
        lines.push(self.next());
        lines
    }

    fn average(&self) -> String {
        let found = self.found;
        let seasons: Vec<&str> = found.seasons.iter().map(|one| one.season.as_str()).collect();
        let how = if found.these_alone { ", each counted alike" } else { "" };
        format!(
            "Average difference over {}{how}, {} minus {}: {} points ({} interval {} to {}, t on {}).",
            join(&seasons),
            self.said.short(&found.second),
            self.said.short(&found.first),
            points(found.value),
            confidence(found.confidence),
            points(found.low),
            points(found.high),
            degrees_of_freedom(found.df)
        )
    }

    fn new_season(&self) -> Option<String> {
        let (low, high) = self.found.new_low.zip(self.found.new_high)?;
        Some(format!(
            "In a new season like these the true difference lies between {} and {} points ({} limits).",
            points(low),
            points(high),
            confidence(self.found.confidence)
        ))
    }

    fn spread(&self) -> Option<String> {
        if too_alike(self.found) {
            return Some(
                "Seasons agree more closely than their own errors let expect, so how far they differ cannot be told."
                    .to_owned(),
            );
        }
        let (low, high) = self.found.spread_low.zip(self.found.spread_high)?;
        if self.found.spread.is_some_and(|spread| spread < 0.0005) {
            return Some(format!(
                "No more than chance lies between these seasons; true differences that vary about their average by a standard deviation of up to {} points would fit them too.",
                points(high)
            ));
        }
        Some(format!(
            "True differences of seasons vary about their average by a standard deviation of {} points ({} to {}).",
            points(self.found.spread?),
            points(low),
            points(high)
        ))
    }

    fn changes(&self) -> String {
        format!(
            "Whether the difference changes from season to season: {}; seasons are taken to differ whatever this says.",
            p_value(self.found.changes.p)
        )
    }

    /// The averages that leave out one season, the lowest and the highest, and whether one alone carries the claim.
    fn without(&self) -> Option<String> {
        let mut each: Vec<_> =
            self.found.seasons.iter().filter_map(|one| one.without.as_ref().map(|left| (one, left))).collect();
        each.sort_by(|a, b| a.1.value.total_cmp(&b.1.value));
        let ((lowest, low), (highest, high)) = (each.first()?, each.last()?);
        let shown = |low: f64, high: f64| low > 0.0 || high < 0.0;
        let carries = |(_, left): &&(&SeasonDifference, &WithoutSeason)| {
            shown(left.low, left.high) != shown(self.found.low, self.found.high)
        };
        let carried: Vec<&str> = each.iter().filter(carries).map(|(season, _)| season.season.as_str()).collect();
        let turns = match (carried.is_empty(), shown(self.found.low, self.found.high)) {
            // With so few, what is left is another question: of two seasons alone, or with hardly a degree of freedom.
            _ if self.found.provisional => String::new(),
            (true, _) => "; whether a difference is shown hangs on none of them".to_owned(),
            (false, true) => format!("; without {} no difference would be shown", carried.join(" or without ")),
            (false, false) => format!("; without {} a difference would be shown", carried.join(" or without ")),
        };
        Some(format!(
            "With one season left out the average lies between {} (without {}) and {} points (without {}){turns}.",
            points(low.value),
            lowest.season,
            points(high.value),
            highest.season
        ))
    }

    /// Seasons that lie apart from the others.
    fn apart(&self) -> Option<String> {
        let apart = apart(self.found);
        let tell = |one: &&SeasonDifference| {
            let others = one.without.as_ref().map(|left| points(left.value)).unwrap_or_default();
            let p = one.p_adjusted.map(p_value).unwrap_or_default();
            format!("{} ({} points, the others on average {others}; {p})", one.season, points(one.value))
        };
        let told: Vec<String> = apart.iter().map(tell).collect();
        if !told.is_empty() {
            return Some(format!(
                "Apart from the others: {}, adjusted for {} seasons; look for what was different.",
                told.join(", "),
                self.found.n_seasons
            ));
        }
        let least = self.found.seasons.iter().filter_map(|one| one.p_adjusted).min_by(f64::total_cmp)?;
        Some(format!(
            "No season stands apart from the others ({}, adjusted for {} seasons).",
            p_value(least),
            self.found.n_seasons
        ))
    }

    /// The season that weighs more than its share though its own error is hardly known.
    pub(super) fn heavy(&self) -> Option<&SeasonDifference> {
        let share = 1.0 / self.found.n_seasons as f64;
        let heavy = |one: &&SeasonDifference| one.df < HARDLY && one.weight > 1.25 * share;
        let all = self.found.seasons.iter().filter(|_| !self.found.these_alone);
        all.filter(heavy).max_by(|a, b| a.weight.total_cmp(&b.weight))
    }

    fn next(&self) -> String {
        let needed = self.found.seasons_needed.map(|needed| {
            format!(
                " With {needed} seasons, these among them, the average would be known to {} points either way, if they go on to differ as these do.",
                points(self.found.nearly)
            )
        });
        format!("{}{}", self.next_alone(), needed.unwrap_or_default())
    }

    fn next_alone(&self) -> String {
        match (self.found.these_alone, self.found.provisional) {
            (true, _) => "Next: repeat the comparison in a third and a fourth season; then a new one can be spoken of."
                .to_owned(),
            (_, true) => format!(
                "Next: repeat the comparison in another season; with {} all of this is provisional.",
                self.found.n_seasons
            ),
            _ => "Next: another season narrows these limits more than further trays in one.".to_owned(),
        }
    }

    /// The average beside the limits of all seasons, for a head: "5000 mg/L minus 2500 mg/L".
    pub(super) fn pair(&self) -> String {
        format!("{} minus {}", self.said.short(&self.found.second), self.said.short(&self.found.first))
    }
}

/// Degrees of freedom below which an error is hardly known.
const HARDLY: f64 = 4.0;

/// True where no spread between seasons, not even 0, fits to how closely they agree.
pub(super) fn too_alike(found: &Pooled) -> bool {
    found.spread_high.is_some_and(|high| high <= 0.0)
}

/// Seasons whose adjusted P value is small.
pub(super) fn apart(found: &Pooled) -> Vec<&SeasonDifference> {
    let shown = |one: &&SeasonDifference| one.p_adjusted.is_some_and(|p| p <= 1.0 - found.confidence);
    found.seasons.iter().filter(shown).collect()
}
