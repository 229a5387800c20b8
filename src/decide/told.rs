//! A choice in money, in words: the decision, and the rest a fact a line.

use super::numbers::{BreakEven, ChoiceAt, LevelChoice, LevelGain, NextTrialWorth, TurnsOn};
use crate::report::numbers::{money, money_step};
use crate::report::{Spoken, confidence, fitted, join, number, percent, points, whole};

/// What is said, and about what.
pub(super) struct Told<'a> {
    pub(super) found: &'a LevelChoice,
    pub(super) said: &'a Spoken,
}

/// Chance of being best from which a level is to be used.
const SURE: f64 = 0.95;

impl Told<'_> {
    fn best(&self) -> Option<&LevelGain> {
        self.found.levels.iter().find(|level| level.level == self.found.best)
    }

    /// True where even the best is not expected to pay.
    pub(super) fn loses(&self) -> bool {
        self.best().is_some_and(|best| best.value < 0.0)
    }

    /// Money, as fine as the limits of the lead let it be.
    fn sum(&self, x: f64) -> String {
        money(x, money_step(self.found.high - self.found.low))
    }

    /// What knowing more is worth, to two digits of its own.
    fn worth(x: f64) -> String {
        money(x, 10.0 * money_step(x))
    }

    /// A sum with the name of the money.
    fn named(&self, x: f64) -> String {
        self.with_money(self.sum(x))
    }

    fn with_money(&self, sum: String) -> String {
        self.found.money.as_ref().map_or_else(|| sum.clone(), |money| format!("{sum} {money}"))
    }

    /// "820 EUR more a season than 2500 mg/L (-100 to 1,700)".
    fn lead(&self) -> String {
        let found = self.found;
        let limits = format!("({} to {})", self.sum(found.low), self.sum(found.high));
        format!("{} more a season than {} {limits}", self.named(found.value), self.said.short(&found.runner_up))
    }

    /// "best in 91 of 100".
    fn chance(&self) -> String {
        let chance = 100.0 * self.found.chance_best;
        match chance {
            _ if chance > 99.0 => "best in over 99 of 100".to_owned(),
            _ => format!("best in {chance:.0} of 100"),
        }
    }

    /// True where the lead is no more than what draws wander by.
    fn tied(&self) -> bool {
        self.found.value < 2.0 * self.found.lead_error()
    }

    /// The decision.
    pub(super) fn sentence(&self) -> String {
        let found = self.found;
        let best = self.said.level(&found.best);
        let chance = format!(", {}", self.chance());
        if self.tied() && !self.loses() {
            let other = self.said.short(&found.runner_up);
            let limits = format!("{} to {}", self.sum(found.low), self.sum(found.high));
            return fitted(
                &format!("No difference in money shown between {best} and {other}: take what is easier"),
                &[format!("; {limits} a season either way remain possible")],
            );
        }
        if found.unit == "cutting" || found.withheld.is_some() {
            let why = if found.withheld.is_some() { "levels not told apart" } else { "limits too narrow" };
            let start = format!("Only a hint, {why}: {best} brings {}", self.lead());
            return fitted(&start, &[chance]);
        }
        if self.loses() {
            let loss = self.best().map_or(0.0, |level| -level.value);
            let start = format!("No level pays: {best} loses least, {} a season", self.named(loss));
            let than = format!(", {} less than {}", self.sum(found.value), self.said.short(&found.runner_up));
            return fitted(&start, &[than, chance]);
        }
        if let Some(next) = found.next_trial.as_ref().filter(|next| next.pays) {
            let start = format!(
                "Try again first: a trial worth {} costs {}; if no season can wait, use {best}: {}",
                Self::worth(next.value),
                money(next.cost, 1.0),
                self.lead()
            );
            return fitted(&start, &[chance]);
        }
        let verb = if found.chance_best >= SURE { "Use" } else { "Leaning to" };
        let tails: Vec<String> = std::iter::once(chance).chain(found.next_trial.as_ref().map(Self::wait)).collect();
        fitted(&format!("{verb} {best}: {}", self.lead()), &tails)
    }

    /// Whether to wait for the next trial.
    fn wait(next: &NextTrialWorth) -> String {
        if next.seasons_left == 0 {
            return "; another trial would come too late".to_owned();
        }
        format!("; another trial, worth {}, costs {}: do not wait", Self::worth(next.value), money(next.cost, 1.0))
    }

    /// Everything else, a fact a line.
    pub(super) fn details(&self) -> Vec<String> {
        let mut lines = vec![self.gain()];
        lines.extend(self.others());
        lines.push(self.trees());
        lines.extend(self.takes());
        lines.extend(self.nearer());
        lines.extend(self.wanders());
        lines.push(self.perfect());
        lines.extend(self.found.next_trial.as_ref().map(|next| self.next(next)));
        lines.extend(self.found.break_even.iter().map(|one| self.turns(one)));
        lines.extend(self.half_and_double());
        lines.push(self.holds());
        lines
    }

    fn gain(&self) -> String {
        let found = self.found;
        let over = match found.seasons {
            1 => String::new(),
            more => format!(" of the mean over {more} seasons"),
        };
        let Some(best) = self.best() else { return String::new() };
        format!(
            "{} is expected to bring {} a season ({} interval {} to {}{over}); in {} of draws of what is not known no other level brings more.",
            capital_of(&self.said.level(&found.best)),
            self.named(best.value),
            confidence(found.confidence),
            self.sum(best.low),
            self.sum(best.high),
            percent(found.chance_best)
        )
    }

    /// The other levels, where there are more than two.
    fn others(&self) -> Option<String> {
        let others = self.found.levels.iter().filter(|one| one.level != self.found.best);
        let told: Vec<String> = others
            .map(|one| {
                format!(
                    "{} {} behind, best in {}",
                    self.said.short(&one.level),
                    self.sum(one.behind),
                    percent(one.chance_best)
                )
            })
            .collect();
        (told.len() > 1).then(|| format!("The others: {}.", join(&told)))
    }

    fn trees(&self) -> String {
        let found = self.found;
        let trees = self.best().map_or(0.0, |best| best.trees);
        format!(
            "That is {} saleable trees of {} cuttings a season, and the choice is to hold {}.",
            money(trees, money_step(trees)),
            money(found.cuttings_a_season, 1.0),
            whole(found.seasons, "season", "seasons")
        )
    }

    /// The difference of takes, as it is compared.
    fn takes(&self) -> Option<String> {
        let found = self.found.compared.as_ref()?;
        Some(format!(
            "Compared by takes, {} minus {}: {} points ({} interval {} to {}).",
            self.said.short(&self.found.best),
            self.said.short(&self.found.runner_up),
            points(found.value),
            confidence(self.found.confidence),
            points(found.low),
            points(found.high)
        ))
    }

    /// That takes to be expected lie nearer to one half than those seen.
    fn nearer(&self) -> Option<String> {
        let far = |one: &LevelGain| (one.take_expected - one.take).abs();
        let most = self.found.levels.iter().max_by(|one, other| far(one).total_cmp(&far(other)))?;
        let text = || {
            format!(
                "Expected takes lie nearer to 50 of 100 than those seen, since what is not known is not alike on both sides of an extreme: {} at {}, where {} were seen.",
                percent(most.take_expected),
                self.said.short(&most.level),
                percent(most.take)
            )
        };
        (far(most) >= 0.01).then(text)
    }

    fn perfect(&self) -> String {
        let found = self.found;
        let over = whole(found.seasons, "season", "seasons");
        if found.perfect_knowledge <= 0.0 {
            return format!(
                "Knowing all takes would not change the choice, so no trial is worth anything over {over}."
            );
        }
        format!(
            "No trial is worth more than {} over {over}: so much is choosing now expected to lose against knowing all long-run takes.",
            self.with_money(Self::worth(found.perfect_knowledge))
        )
    }

    /// By how much draws let the lead wander, where the reader might take it for settled.
    fn wanders(&self) -> Option<String> {
        let error = self.found.lead_error();
        let near = self.found.value < 20.0 * error;
        near.then(|| format!("The lead is known to {} by the draws; more draws tell it closer.", self.sum(2.0 * error)))
    }

    fn next(&self, next: &NextTrialWorth) -> String {
        let design = format!(
            "{} of {} a level",
            whole(next.trays, "tray", "trays"),
            whole(next.cuttings, "cutting", "cuttings")
        );
        if next.seasons_left == 0 {
            return format!(
                "A trial of {design} runs in the one season that the choice is to hold, so its result comes too late to be worth anything."
            );
        }
        let verdict = match (next.pays, next.value > next.cost) {
            (true, _) => "worth its cost",
            (false, true) => "about as much as it costs",
            (false, false) => "less than it costs",
        };
        format!(
            "A trial of {design} runs in the first season, while the present choice is used, so that waiting costs nothing; for {} it is worth {} (error of the draws {}) and costs {}: {verdict}. It changes the choice in {} of draws.",
            match next.seasons_left {
                1 => "the season after".to_owned(),
                more => format!("the {more} seasons after"),
            },
            self.with_money(Self::worth(next.value)),
            Self::worth(next.value_error),
            self.with_money(money(next.cost, 1.0)),
            percent(next.chance_other)
        )
    }

    fn turns(&self, one: &BreakEven) -> String {
        let instead =
            format!("{} would be chosen in place of {}", self.said.short(&one.instead), self.said.short(&one.chosen));
        match &one.level {
            None => {
                let side = if one.above { "above" } else { "below" };
                format!("At a price {side} {}, {instead}.", self.with_money(number(one.at)))
            }
            Some(level) => format!(
                "Were a cutting at {} to cost {} than {}, {instead}.",
                self.said.short(level),
                if one.above { "more" } else { "less" },
                self.with_money(number(one.at))
            ),
        }
    }

    /// The choice at half and at double.
    fn half_and_double(&self) -> Option<String> {
        // What lies within the error of the draws is no change of the choice.
        let wanders = 2.0 * self.found.lead_error();
        let told: Vec<&ChoiceAt> =
            self.found.sensitivity.iter().filter(|one| !one.changes || one.value > wanders).collect();
        let mut kept = Vec::new();
        for what in TurnsOn::ALL {
            let at: Vec<String> = told
                .iter()
                .filter(|one| one.what == what && !one.changes)
                .map(|one| self.amount(what, one.at))
                .collect();
            if !at.is_empty() {
                kept.push(format!("{} of {}", Self::turned(what), at.join(" or ")));
            }
        }
        let changed: Vec<String> = told
            .iter()
            .filter(|one| one.changes)
            .map(|one| {
                format!(
                    "{} at {} of {}",
                    self.said.short(&one.best),
                    Self::turned(one.what),
                    self.amount(one.what, one.at)
                )
            })
            .collect();
        let kept = (!kept.is_empty()).then(|| format!("the choice stays the same at {}", join(&kept)));
        let changed = (!changed.is_empty()).then(|| format!("it would be {}", join(&changed)));
        let parts: Vec<String> = kept.into_iter().chain(changed).collect();
        (!parts.is_empty()).then(|| format!("{}.", capital_of(&parts.join("; "))))
    }

    fn turned(what: TurnsOn) -> &'static str {
        match what {
            TurnsOn::Price => "a price",
            TurnsOn::SeasonSd => "a spread between seasons",
            TurnsOn::Cost => "a cost",
        }
    }

    /// A price or a cost with its money; a spread has none.
    fn amount(&self, what: TurnsOn, at: f64) -> String {
        if what == TurnsOn::SeasonSd { number(at) } else { self.with_money(number(at)) }
    }

    fn holds(&self) -> String {
        match self.found.season_sd {
            Some(sd) if sd > 0.0 => format!(
                "Seasons move each level by a standard deviation of {} on the log odds (about {} points at a take of one half); it is in all of these numbers.",
                number(sd),
                points(0.25 * sd)
            ),
            _ => "All of it holds for seasons like that of the trial.".to_owned(),
        }
    }
}

fn capital_of(text: &str) -> String {
    crate::report::capital(text)
}
