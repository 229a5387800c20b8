//! The decision of a comparison in at most thirty words, and the rest, a fact a line.

use super::carried::Carried;
use super::changing::{self, Changing};
use super::how_sure;
use super::lead::Lead;
use super::numbers::{CompareOptions, Comparison, counted};
use super::of_places::{self, is_place};
use super::opinion::{self, Opinion, confirmed, confirming, opinion};
use super::two_levels::NOTHING_TO_JUDGE;
use super::wanted::units_for;
use crate::rates::TakeRate;
use crate::report::{Spoken, capital, fitted, join, numbers, plural, whole};
use crate::trial::{Outcome, Units, counted_as, time_tail};

/// Limits nearer to 0 than this are 0 to a reader of whole trees.
const ROUNDS_TO_NONE: f64 = 0.005;

/// What is said, and about what.
pub(super) struct Decision<'a> {
    found: &'a Comparison,
    said: &'a Spoken,
    /// The difference that matters, a proportion.
    nearly: f64,
    /// The two levels, the one with the higher take first.
    better: &'a TakeRate,
    worse: &'a TakeRate,
    /// Difference and limits, seen from the better one.
    gain: f64,
    limits: Option<(f64, f64)>,
    at: String,
    outcome: Outcome,
    /// What the difference is shown to change with.
    changing: Vec<&'a Changing>,
    /// What one of the units counted is called, and several.
    basis: (String, String),
}

impl<'a> Decision<'a> {
    pub(super) fn of(found: &'a Comparison, said: &'a Spoken, options: &CompareOptions, units: &Units) -> Self {
        let up = found.value >= 0.0;
        let limits = found.low.zip(found.high);
        let turned = |(low, high): (f64, f64)| if up { (low, high) } else { (-high, -low) };
        let at: Vec<&str> = options.at.values().map(String::as_str).collect();
        Self {
            found,
            said,
            nearly: options.nearly,
            better: if up { &found.second } else { &found.first },
            worse: if up { &found.first } else { &found.second },
            gain: found.value.abs(),
            limits: limits.map(turned),
            at: if at.is_empty() { String::new() } else { format!(" ({})", at.join(", ")) },
            outcome: options.outcome,
            changing: changing::shown(&found.changing),
            basis: counted_as(units, &found.unit),
        }
    }

    fn better(&self) -> String {
        self.said.level(&self.better.levels.concat())
    }

    fn worse(&self) -> String {
        self.said.short(&self.worse.levels.concat())
    }

    /// Trees per 100: whole ones where the interval is wider than they are fine.
    fn trees(&self, x: f64) -> String {
        let fine = self.limits.is_some_and(|(low, high)| high - low < 0.02);
        if fine { numbers::points_out(x) } else { format!("{:.0}", (100.0 * x).round() + 0.0) }
    }

    /// "12 fewer and 30 more" or "3 and 30 more", the limits seen from the better level.
    fn between(&self, low: f64, high: f64) -> String {
        match (low < 0.0, high < 0.0) {
            (true, false) => format!("{} fewer and {} more", self.trees(-low), self.trees(high)),
            _ => format!("{} and {} more", self.trees(low), self.trees(high)),
        }
    }

    /// The whole decision; what carries it where that is a part of the units only, and how many would settle it, as far as there is room.
    pub(super) fn sentence(&self) -> String {
        let lead = self.lead();
        let carried = self.limits.and(self.found.carried.as_ref()).and_then(|one| one.tail(&self.found.unit));
        let apart = self.opposed().is_none().then(|| changing::within_each(&self.changing)).flatten();
        let tails = carried.into_iter().chain(lead.wanted.clone()).map(|tail| format!("; {tail}"));
        let tails: Vec<String> = apart.into_iter().chain(tails).collect();
        fitted(&format!("{}{}", lead.said("Use"), lead.follows), &tails)
    }

    /// The lead alone, for a sentence that goes on with other outcomes; where these speak `against` the better level it is not yet to be used.
    pub(super) fn beside(&self, against: bool) -> String {
        self.lead().said(if against { "Leaning to" } else { "Use" })
    }

    /// What to do, and the units that would settle it.
    fn lead(&self) -> Lead {
        let Some((low, high)) = self.limits else { return self.withheld() };
        let (better, worse, at) = (self.better(), self.worse(), &self.at);
        let (gain, per) = (self.trees(self.gain), self.outcome.of_hundred());
        let range = format!("({} to {})", self.trees(low), self.trees(high));
        if !counted(self.found) {
            let what = if gain == "0" { format!("as many {per} as") } else { format!("{gain} more {per} than") };
            let range = format!("{} to {}, too narrow", self.trees(low), self.trees(high));
            return Lead::of(format!("Without trays only a hint{at}: {better}, {what} {worse} ({range})"));
        }
        if let Some(alike) = self.alike() {
            return alike;
        }
        let shown = self.found.p.is_some_and(|p| p < 1.0 - self.found.confidence);
        if let Some(margin) = self.found.margin.filter(|margin| low > -margin && high < *margin) {
            let alike = format!(
                "{}: {better} and {worse} differ by less than {} {per} (between {})",
                self.start("Either will do"),
                self.trees(margin),
                self.between(low, high)
            );
            return Lead::of(alike);
        }
        if let Some(apart) = self.opposed() {
            return Lead::of(apart).followed(changing::WITHIN_EACH);
        }
        if self.too_small() {
            return self.little(low, high);
        }
        let over = self.over();
        let at = &format!("{at}{over}");
        let than = format!("{gain} more {per} than {worse} {range}");
        if shown && self.is_time() && low >= ROUNDS_TO_NONE {
            let told = format!("{}{at}: {than}", capital(&better));
            let tail = time_tail(&told, None);
            return Lead::of(told).followed(tail);
        }
        // What is an average of unlike differences is nothing to use everywhere.
        match (shown, self.confirmed() && over.is_empty()) {
            (true, _) if low < ROUNDS_TO_NONE => {
                Lead::of(format!("Borderline{at}: {better} may give {than}")).wanting(self.narrowed())
            }
            // What is best in one part of the take need not be what to use.
            (true, true) if self.outcome.is_part() => Lead::of(format!("{}: {better} gives {than}", self.start(""))),
            (true, true) => Lead::advice(format!("{better}{at}: {than}")),
            (true, false) if self.outcome.is_part() => {
                Lead::of(format!("{}: leaning to {better}{over}, {than}", self.start(""))).wanting(self.narrowed())
            }
            (true, false) => Lead::of(format!("Leaning to {better}{at}: {than}")).wanting(self.narrowed()),
            (false, _) => self.open(low, high),
        }
    }

    /// " on average over rootstock" where the difference changes with it.
    fn over(&self) -> String {
        if self.changing.is_empty() {
            return String::new();
        }
        format!(" on average over {}", changing::names(&self.changing))
    }

    /// What is said where the difference has opposite directions at levels of another treatment, and a difference there matters.
    fn opposed(&self) -> Option<String> {
        let matters = |one: &&&Changing| {
            let mut shown = one.differences.iter().filter(|one| one.direction() != 0);
            shown.any(|one| one.value.abs() >= self.nearly)
        };
        let known: Vec<&Changing> = self.changing.iter().filter(matters).copied().collect();
        changing::opposed(&known, self.said).map(|text| format!("{}: {text}", self.start("No single answer")))
    }

    /// How a decision begins: with `word`, or, where a part of the take is asked about, with that alone, since it decides nothing alone.
    fn start(&self, word: &str) -> String {
        let start =
            if self.outcome.is_part() { capital(self.outcome.words().the_take) + " alone" } else { word.to_owned() };
        format!("{start}{}", self.at)
    }

    /// What is said where nothing was counted at either level, or everything.
    fn alike(&self) -> Option<Lead> {
        let (first, second) = (&self.found.first, &self.found.second);
        let counted = self.outcome.counted();
        let (better, worse) = (self.better(), self.worse());
        let possible = format!("; up to {} per 100 between them remain possible", self.trees(self.limits?.1));
        let lead = match (first.rooted + second.rooted, first.rooted + second.rooted == first.stuck + second.stuck) {
            (0, _) => {
                format!("{}: nothing {} at {better} or {worse}", self.start("Neither"), self.outcome.words().rooted)
            }
            (_, true) => format!("{}: all {counted} at {better} and at {worse}", self.start("Either will do")),
            _ => return None,
        };
        Some(Lead::of(lead).followed(possible))
    }

    fn has(&self) -> (&'static str, &'static str) {
        match self.outcome {
            Outcome::Take => ("roots", "per 100"),
            Outcome::Survival => ("keeps alive", "per 100"),
            Outcome::RootedOfSurvivors => ("roots", "per 100 survivors"),
            Outcome::GradeReached => ("has", "cuttings of the grade or better per 100"),
        }
    }

    /// True where the whole interval is smaller than the difference that matters, shown or not.
    fn too_small(&self) -> bool {
        self.limits.is_some_and(|(low, high)| low > -self.nearly && high < self.nearly)
    }

    fn what(&self, low: f64, high: f64) -> String {
        let (has, of) = self.has();
        format!("{} {has} between {} {of} than {}", self.better(), self.between(low, high), self.worse())
    }

    fn little(&self, low: f64, high: f64) -> Lead {
        let start = self.start(if self.is_time() { "No change shown" } else { "No reason to change" });
        Lead::of(format!("{start}: {}, less than would matter", self.what(low, high)))
    }

    /// Nothing is shown.
    fn open(&self, low: f64, high: f64) -> Lead {
        let (what, at) = (self.what(low, high), &self.at);
        if low > -ROUNDS_TO_NONE {
            return Lead::of(format!("Borderline{at}: {what}")).wanting(self.narrowed());
        }
        match self.narrowed() {
            Some(wanted) => {
                Lead::of(format!("Too few {} to tell{at}: {what}", plural(&self.found.unit))).wanting(Some(wanted))
            }
            None if self.is_time() => Lead::of(format!("Not settled{at}: {what}")),
            None => Lead::of(format!("Not settled{at}: {what}")).followed("; repeat the trial before changing"),
        }
    }

    /// "18 trays each narrow that to 10 either way".
    fn narrowed(&self) -> Option<String> {
        let wanted = self.units_wanted()?;
        Some(format!(
            "{wanted} {} each narrow that to {} either way",
            plural(&self.found.unit),
            self.trees(self.nearly)
        ))
    }

    /// True where the levels follow one another in time: nobody can choose one.
    fn is_time(&self) -> bool {
        self.found.follows_time.is_some()
    }

    fn withheld(&self) -> Lead {
        if is_place(self.found) {
            let verdict = of_places::verdict(&self.found.factor, &format!("{}: {}", self.at, self.side_by_side()));
            return Lead::of(verdict.trim_end_matches('.').to_owned());
        }
        let few = self.found.first.n_units.min(self.found.second.n_units) < 2 && counted(self.found);
        let next = match self.only_where() {
            Some(at) => format!("; {at} would"),
            None if few => format!("; repeat with several {} of each", plural(&self.found.unit)),
            None => String::new(),
        };
        let lead = format!("No verdict{}: {}, but this layout allows no test", self.at, self.side_by_side());
        Lead::of(lead).followed(next)
    }

    /// "47 of 100 rooted at bay B2 and 39 at B1".
    fn side_by_side(&self) -> String {
        format!(
            "{:.0} of 100 {} at {} and {:.0} at {}",
            100.0 * self.better.value,
            self.outcome.counted(),
            self.better(),
            100.0 * self.worse.value,
            self.worse()
        )
    }

    /// The `at=` with which the one place that holds both levels is asked about.
    fn only_where(&self) -> Option<String> {
        self.found.carried.as_ref().filter(|_| counted(self.found)).and_then(Carried::at_alone)
    }

    /// True unless the randomisation test could reach the level and does not.
    fn confirmed(&self) -> bool {
        confirmed(self.found)
    }

    /// Units of each level that bring the interval's half-width to the difference that matters, at the spread seen.
    fn units_wanted(&self) -> Option<String> {
        let (low, high) = self.limits?;
        let have = self.found.first.n_units.min(self.found.second.n_units) as f64;
        units_for(0.5 * (high - low), self.nearly, (self.found.confidence, self.found.df?), have)
    }

    /// Everything else, a fact a line.
    pub(super) fn details(&self) -> Vec<String> {
        let found = self.found;
        let one = |rate: &TakeRate| {
            let limits = found.low.map_or_else(String::new, |_| {
                format!(
                    ", {}",
                    numbers::interval(numbers::points(rate.low), numbers::points(rate.high), found.confidence)
                )
            });
            let basis = if counted(found) {
                let (unit, units) = &self.basis;
                format!("; {}", whole(rate.n_units, unit, units))
            } else {
                String::new()
            };
            format!(
                "{}: {} of 100 {} ({} of {} {}{limits}{basis}).",
                capital(&self.said.level(&rate.levels.concat())),
                numbers::points(rate.value),
                self.outcome.counted(),
                rate.rooted,
                rate.stuck,
                self.outcome.words().cuttings
            )
        };
        let carried = self.limits.and(found.carried.as_ref()).and_then(|carried| carried.line(&found.unit));
        let mut lines: Vec<String> = self.how_sure().into_iter().collect();
        lines.extend(changing::details(&self.changing, self.said, self.outcome.of_hundred()));
        lines.extend(carried.into_iter().chain([one(&found.second), one(&found.first)]));
        lines.extend(self.difference());
        lines.extend(self.taken_out());
        lines.extend(self.second_opinion());
        let why = found.withheld.clone().or_else(|| found.low.is_none().then(|| NOTHING_TO_JUDGE.to_owned()));
        if let Some(why) = if is_place(found) { Some(of_places::why(&found.factor)) } else { why } {
            lines.push(format!("No test is given: {why}."));
        }
        if let (Some(margin), Some((low, high))) = (found.margin, self.limits) {
            let inside = low > -margin && high < margin;
            let margin = numbers::points(margin);
            lines.push(if inside {
                format!("Equivalent within {margin} per 100: the whole interval lies inside that margin.")
            } else {
                format!("Equivalence within {margin} per 100 is not shown.")
            });
        }
        lines.extend(self.next_step());
        lines
    }

    fn how_sure(&self) -> Option<String> {
        // Of differences in opposite directions an average says nothing.
        let (low, high) = self.limits.filter(|_| self.opposed().is_none())?;
        how_sure::line(self.found, &self.between(low, high), self.outcome.of_hundred())
    }

    fn difference(&self) -> Option<String> {
        let (low, high) = self.limits?;
        let found = self.found;
        let within = if found.within.is_empty() { String::new() } else { format!(", within {}", join(&found.within)) };
        let p = found.p.map(|p| format!(", {}", numbers::p_value(p))).unwrap_or_default();
        let away = low > 0.0 || high < 0.0;
        let left = if away {
            format!(
                "a difference as small as {} or as large as {} per 100 cannot be ruled out",
                numbers::points(low.abs().min(high.abs())),
                numbers::points(low.abs().max(high.abs()))
            )
        } else {
            format!(
                "a gain of up to {} or a loss of up to {} per 100 cannot be ruled out",
                numbers::points_out(high),
                numbers::points_out(-low)
            )
        };
        let narrow = if counted(found) {
            ""
        } else {
            " Cuttings count as if each stood alone: the interval is too narrow and the P value too small."
        };
        let agree = !counted(found) && found.p.is_some_and(|p| (p < 1.0 - found.confidence) != away);
        let agree = if agree { " Interval and exact test do not agree, so the evidence is borderline." } else { "" };
        let plain = found.second.value - found.first.value;
        let pooled = if !found.within.is_empty() && (plain - found.value).abs() >= 0.0005 {
            format!(
                " It is the mean of the differences within {}, weighted, and so not the {} that the two rates are apart.",
                join(&found.within),
                numbers::points(plain.abs())
            )
        } else {
            String::new()
        };
        let (gain, per) = (numbers::points(self.gain), self.outcome.of_hundred());
        let (better, worse) = (self.better(), self.worse());
        let told = if gain == "0.0" {
            format!("As many {per} with {better} as with {worse}")
        } else {
            format!("{gain} more {per} with {better} than with {worse}")
        };
        Some(format!(
            "{told} ({}{p}{within}); {left}.{pooled}{narrow}{agree}",
            numbers::interval(numbers::points(low), numbers::points(high), found.confidence)
        ))
    }

    /// Why the difference is not that of the two rates.
    fn taken_out(&self) -> Option<String> {
        let found = self.found;
        let raw = self.better.value - self.worse.value;
        let beside = join(&found.adjusted_for);
        (!found.adjusted_for.is_empty()).then(|| {
            format!(
                "The difference is that between trays alike in {beside}; as counted {} lies {} per 100 {} than {}.",
                self.better(),
                numbers::points(raw.abs()),
                if raw < 0.0 { "lower" } else { "higher" },
                self.worse()
            )
        })
    }

    /// What the randomisation test says, where it does not say the same.
    fn second_opinion(&self) -> Option<String> {
        let found = self.found;
        let alpha = 1.0 - found.confidence;
        let (dealt, p) = (confirming(found)?, found.p?);
        let said = opinion(found);
        let (shown, units) = (numbers::p_value(dealt.p), plural(&found.unit));
        let start = opinion::begins(&found.unit);
        match (p < alpha, dealt.p <= alpha) {
            (true, false) if said == Opinion::OutOfReach => {
                let values = (Some(dealt.p), dealt.smallest_p);
                Some(opinion::out_of_reach(&found.unit, "it", values, ""))
            }
            (true, false) => Some(format!(
                "{start} assumes less, needs more {units} and does not confirm it ({shown}): take it as evidence, not as settled."
            )),
            (false, true) => Some(format!("{start} would have shown a difference ({shown}), so the matter is open.")),
            (true, true) => Some(format!("{start} agrees ({shown}).")),
            (false, false) => Some(format!("{start} shows none either ({shown}).")),
        }
    }

    /// What to do next.
    fn next_step(&self) -> Option<String> {
        if !counted(self.found) {
            return Some("Next: record tray numbers and load them with tray=; then trays are counted.".to_owned());
        }
        let Some((low, _)) = self.limits else {
            return self.only_where().map(|at| format!("Next: ask with {at}, which compares them there alone."));
        };
        // What to ask next stands with the levels that differ.
        if !self.changing.is_empty() {
            return None;
        }
        if self.found.follows_time.is_some() {
            return Some(
                "Next: look for what else changed meanwhile; levels that are dealt out within each time would tell."
                    .to_owned(),
            );
        }
        let shown = self.found.p.is_some_and(|p| p < 1.0 - self.found.confidence);
        if shown && self.too_small() {
            return Some(format!(
                "Next: keep what you do now. A difference is shown, yet all of its interval lies below the {} {} said to matter; where \
                 less matters, give a smaller nearly=.",
                numbers::points(self.nearly),
                self.outcome.of_hundred()
            ));
        }
        let wanted = self.units_wanted().map(|n| {
            format!(
                "{n} {} {} would narrow the {} interval to {} per 100 either way",
                plural(&self.found.unit),
                if self.said.is_strength() {
                    "of each strength".to_owned()
                } else {
                    format!("at each level of {}", self.said.name())
                },
                numbers::confidence(self.found.confidence),
                self.trees(self.nearly)
            )
        });
        let settled = wanted.is_none() || shown && low >= ROUNDS_TO_NONE && self.confirmed();
        if self.outcome.is_part() && settled {
            let what = self.outcome.words().the_take;
            return Some(format!("Next: read it beside the take before choosing a level; {what} alone chooses none."));
        }
        match (shown && low >= ROUNDS_TO_NONE, wanted) {
            (true, _) if self.confirmed() => {
                Some(format!("Next: try {} on a small batch before all of it.", self.better()))
            }
            (_, Some(wanted)) => Some(format!("Next: repeat the comparison; {wanted}.")),
            (false, None) if !self.too_small() => {
                Some("Next: keep what you do now, and repeat the trial before changing.".to_owned())
            }
            (false, None) => {
                Some("Next: keep what you do now; repeat only if a smaller difference would matter.".to_owned())
            }
            (true, None) => Some("Next: repeat the comparison in another season before changing.".to_owned()),
        }
    }
}
