//! Best strengths over seasons, in words: the decision, and the rest a fact a line.

use super::numbers::{BestOverSeasons, SeasonBest};
use crate::curves::about;
use crate::report::{confidence, degrees_of_freedom, fitted, join, number, p_value, percent};

/// "1700 to 2900".
fn between((low, high): (f64, f64)) -> String {
    format!("{} to {}", about(low), about(high))
}

/// What is said.
pub(super) struct Told<'a> {
    pub(super) found: &'a BestOverSeasons,
}

impl Told<'_> {
    /// "mg/L IBA", as far as it is known, with a space before it.
    fn unit(&self) -> String {
        let parts = [Some(self.found.unit.as_str()), self.found.substance.as_deref()];
        parts.into_iter().flatten().filter(|part| !part.is_empty()).map(|part| format!(" {part}")).collect()
    }

    /// What a new season may have, held to what was tested.
    fn ahead(&self) -> Option<String> {
        let (low, high) = self.found.new_low.zip(self.found.new_high)?;
        let (least, most) = self.found.tested;
        Some(match (low < least, high > most) {
            (true, true) => format!("anywhere from below {} to above {}", number(least), number(most)),
            (true, false) => format!("anywhere up to {}", about(high)),
            (false, true) => format!("at {} or more", about(low)),
            (false, false) => format!("between {} and {}", about(low), about(high)),
        })
    }

    /// True where limits of a new season lie within what was tested.
    fn settled(&self) -> bool {
        let (least, most) = self.found.tested;
        let ends = self.found.new_low.zip(self.found.new_high);
        // A season with one limit alone may not carry the claim.
        let share = 1.5 / self.found.n_seasons as f64;
        let leans = self.found.seasons.iter().any(|one| one.one_sided && one.weight > share);
        ends.is_some_and(|(low, high)| low >= least && high <= most) && !self.too_alike() && !leans
    }

    /// True where no spread between seasons, not even 0, fits to how closely they agree.
    pub(super) fn too_alike(&self) -> bool {
        self.found.spread_high.is_some_and(|high| high <= 0.0)
    }

    /// The decision.
    pub(super) fn sentence(&self) -> String {
        let found = self.found;
        let (best, unit) = (about(found.value), self.unit());
        let range = between((found.low, found.high));
        let part =
            if found.outcome.is_part() { format!(" for {}", found.outcome.words().the_take) } else { String::new() };
        if found.these_alone {
            if let ([one, two], true) = (found.seasons.as_slice(), found.changes.p <= 1.0 - found.confidence) {
                let told = |season: &SeasonBest| format!("{} in {}", about(season.value), season.season);
                return format!(
                    "The best strength{part} shifted between these 2 seasons:{unit} {} and {}.",
                    told(one),
                    told(two)
                );
            }
            let lead = format!("Over these 2 seasons {best}{unit} was best{part} ({range})");
            return fitted(&lead, &["; two seasons tell nothing of a new one".to_owned()]);
        }
        let count = found.n_seasons;
        let start = match (found.provisional, self.settled(), found.outcome.is_part()) {
            (_, _, true) => "Best".to_owned(),
            (true, _, _) => "Provisionally about".to_owned(),
            (false, true, _) => "Use about".to_owned(),
            (false, false, _) => "Leaning to about".to_owned(),
        };
        let lead = format!("{start}{part} {best}{unit}, the best strength over {count} seasons ({range})");
        fitted(&lead, &Vec::from_iter(self.ahead().map(|ahead| format!("; that of a new season lies {ahead}"))))
    }

    /// Everything else, a fact a line.
    pub(super) fn details(&self) -> Vec<String> {
        let found = self.found;
        let names: Vec<&str> = found.seasons.iter().map(|one| one.season.as_str()).collect();
        let how = if found.these_alone { ", each counted alike" } else { "" };
        let mut lines = vec![format!(
            "Best strength on average over {}{how}: {}{} ({} interval {} to {}, t on {}).",
            join(&names),
            number(found.value),
            self.unit(),
            confidence(found.confidence),
            number(found.low),
            number(found.high),
            degrees_of_freedom(found.df)
        )];
        let one = |season: &SeasonBest| {
            format!(
                "{}: best at {} ({}{}), where the take is {}; {} of the weight.",
                season.season,
                about(season.value),
                between((season.low, season.high)),
                if season.one_sided { ", one of them open" } else { "" },
                percent(season.take),
                percent(season.weight)
            )
        };
        lines.extend(found.seasons.iter().map(one));
        lines.extend(self.ahead().map(|ahead| {
            format!(
                "In a new season like these the best strength lies {ahead} ({} limits).",
                confidence(found.confidence)
            )
        }));
        lines.extend(self.shifts());
        lines.push(format!(
            "Whether the best strength shifts from season to season: {}; seasons are taken to differ whatever this says.",
            p_value(found.changes.p)
        ));
        lines.extend(self.without());
        lines.extend(found.left_out.iter().map(|one| {
            format!("Season {} does not enter (highest at {}): {}.", one.season, about(one.value), one.why)
        }));
        lines.push(match (found.these_alone, found.provisional) {
            (true, _) => "Next: try strengths on both sides of it in a third and a fourth season.".to_owned(),
            (_, true) => {
                "Next: another season with strengths on both sides of it; all of this is provisional.".to_owned()
            }
            _ => "Next: another season narrows these limits more than further trays in one.".to_owned(),
        });
        lines
    }

    /// How far best strengths shift.
    fn shifts(&self) -> Option<String> {
        let (usual, high) = self.found.usual.zip(self.found.spread_high)?;
        if self.too_alike() {
            return Some(
                "Seasons agree more closely than their own errors let expect, so how far the best strength shifts cannot be told."
                    .to_owned(),
            );
        }
        if self.found.spread.is_some_and(|spread| spread < 0.005) {
            return Some(format!(
                "No more than chance lies between the best strengths of these seasons; a shift of up to {} times either way in two of three seasons would fit them too.",
                number(high.exp())
            ));
        }
        Some(format!(
            "By the spread found two of three seasons have their true best between {} and {}; that spread is known poorly: shifts of up to {} times either way would fit these seasons too.",
            about(usual.0),
            about(usual.1),
            number(high.exp())
        ))
    }

    /// The averages that leave out one season.
    fn without(&self) -> Option<String> {
        let mut each: Vec<(&str, f64)> =
            self.found.seasons.iter().filter_map(|one| Some((one.season.as_str(), one.without?))).collect();
        each.sort_by(|a, b| a.1.total_cmp(&b.1));
        let ((lowest, low), (highest, high)) = (each.first()?, each.last()?);
        Some(format!(
            "With one season left out the average lies between {} (without {lowest}) and {} (without {highest}).",
            about(*low),
            about(*high)
        ))
    }
}
