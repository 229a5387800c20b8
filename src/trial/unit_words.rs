//! What the units are called where they are not trays: the cuttings of a mother plant, where no trays were recorded.

use super::columns::Units;
use crate::answer::{Answer, Note};
use crate::report::{capital, numbers, plural};

/// The name of one unit and of several.
pub(crate) struct UnitWords {
    one: String,
    many: String,
}

impl UnitWords {
    /// None where units are trays, or no units were recorded.
    pub(crate) fn of(units: &Units) -> Option<Self> {
        let plants = units.stock_plant.as_ref().filter(|_| units.plants_are_units())?;
        let (one, many) = (numbers::unit_name(&plants.name), plural(&plants.name));
        // Cuttings of one plant that differ in treatment, place or covariates are several units.
        if plants.levels.len() < units.len() {
            return Some(Self { one: format!("{one} batch"), many: format!("{one} batches") });
        }
        Some(Self { one, many })
    }

    /// A text about trays in the name of these units. Options (`trays="auto"`), names of methods (tray-rates) and of rates (typical-tray)
    /// stay as they are.
    pub(crate) fn said(&self, text: &str) -> String {
        let (mut out, mut rest) = (String::new(), text);
        while let Some((at, long)) = next_tray(rest) {
            let (before, word, after) = (rest.get(..at), rest.get(at..at + long), rest.get(at + long..));
            let (Some(before), Some(word), Some(after)) = (before, word, after) else { break };
            out.push_str(before);
            let joined = out.ends_with(|c: char| c.is_alphanumeric() || "_-\"".contains(c));
            let goes_on = after.starts_with(|c: char| c.is_alphanumeric() || "_-=\"".contains(c));
            let own = if word.ends_with('s') { &self.many } else { &self.one };
            if joined || goes_on {
                out.push_str(word);
            } else if word.starts_with('T') {
                out.push_str(&capital(own));
            } else {
                out.push_str(own);
            }
            rest = after;
        }
        out.push_str(rest);
        out
    }
}

/// Where "tray" or "trays" stands next, and how long it is.
fn next_tray(text: &str) -> Option<(usize, usize)> {
    let at = text.find("tray").into_iter().chain(text.find("Tray")).min()?;
    let long = if text.get(at + 4..).is_some_and(|rest| rest.starts_with('s')) { 5 } else { 4 };
    Some((at, long))
}

/// Notes in the name of the units.
pub(crate) fn notes_of_units(units: &Units, mut notes: Vec<Note>) -> Vec<Note> {
    if let Some(words) = UnitWords::of(units) {
        notes.iter_mut().for_each(|note| note.text = words.said(&note.text));
    }
    notes
}

/// A text in the name of the units.
pub(crate) fn text_of_units(units: &Units, text: String) -> String {
    match UnitWords::of(units) {
        Some(words) => words.said(&text),
        None => text,
    }
}

/// A text that speaks of trays where one verb counts other units: those of a column (`bay`, `stock_plant`), by its name.
pub(crate) fn text_of_unit(unit: &str, text: &str) -> String {
    if matches!(unit, "tray" | "cutting" | "") {
        return text.to_owned();
    }
    UnitWords { one: numbers::unit_name(unit), many: plural(unit) }.said(text)
}

/// What one unit is called: "tray", or "mother plant" where these are the units.
pub(crate) fn unit_called(units: &Units) -> String {
    UnitWords::of(units).map_or_else(|| "tray".to_owned(), |words| words.one)
}

/// Heads a column that counts units by the name of one; none where they are trays.
pub(crate) fn called_head(called: &str) -> String {
    if called.is_empty() { String::new() } else { plural(called) }
}

/// Heads a column that counts units by what these are called: "bays"; "trays" where cuttings stand alone.
pub(crate) fn units_head(unit: &str) -> String {
    if matches!(unit, "" | "cutting") { plural("tray") } else { plural(unit) }
}

/// An answer that speaks of trays in the name of the units.
pub(crate) fn answer_of_units<T>(units: &Units, answer: Answer<T>) -> Answer<T> {
    renamed(UnitWords::of(units), answer)
}

/// The same where only the name of one unit is known: "mother plant"; empty where units are trays.
pub(crate) fn answer_of_unit<T>(unit: &str, answer: Answer<T>) -> Answer<T> {
    let words = (!unit.is_empty()).then(|| UnitWords { one: unit.to_owned(), many: plural(unit) });
    renamed(words, answer)
}

fn renamed<T>(words: Option<UnitWords>, mut answer: Answer<T>) -> Answer<T> {
    if let Some(words) = words {
        let texts = [&mut answer.sentence, &mut answer.methods];
        let notes = answer.notes.iter_mut().map(|note| &mut note.text);
        texts.into_iter().chain(&mut answer.details).chain(notes).for_each(|text| *text = words.said(text));
    }
    answer
}

/// What one unit counted is called, and several: "bay" and "bays", and "bay of a season" where a bay counts anew in each season.
pub(crate) fn counted_as(units: &Units, unit: &str) -> (String, String) {
    let (one, many) = (numbers::unit_name(unit), plural(unit));
    let seasons = units.season.as_ref().filter(|season| unit.ends_with(&format!(" within {}", season.name)));
    let Some(season) = seasons.map(|season| season.name.replace('_', " ")) else { return (one, many) };
    let article = if season.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    (format!("{one} of {article} {season}"), format!("{many} of {article} {season}"))
}

#[cfg(test)]
mod tests {
    use super::{UnitWords, counted_as, text_of_unit};
    use crate::trial::{Factor, UnitKind, Units};

    #[test]
    fn trays_are_named_and_options_stay() {
        let words = UnitWords { one: "mother plant".into(), many: "mother plants".into() };
        let said = words.said(
            "Trays of one tray: the trays' F by tray-rates, typical-tray; trays=\"auto\" is the default. 14 trays.",
        );
        let want = "Mother plants of one mother plant: the mother plants' F by tray-rates, typical-tray; trays=\"auto\" is the default. 14 \
                    mother plants.";
        assert_eq!(said, want);
        assert_eq!(words.said("stray portrays nothing"), "stray portrays nothing");
    }

    #[test]
    fn bays_that_count_anew_in_each_season_say_so() {
        let factor = |name: &str| Factor { name: name.into(), levels: vec!["1".into()], numbers: None, codes: vec![0] };
        let units = Units {
            kind: UnitKind::Tray,
            rooted: vec![1],
            stuck: vec![2],
            treatments: Vec::new(),
            tray: None,
            block: None,
            whole_plot: None,
            season: Some(factor("season")),
            earlier: None,
            stock_plant: None,
            covariates: Vec::new(),
        };
        assert_eq!(counted_as(&units, "bay within season").1, "bays of a season");
        assert_eq!(counted_as(&units, "bay within dark_days").1, "bays");
        assert_eq!(counted_as(&units, "tray").0, "tray");
    }

    #[test]
    fn what_one_verb_counts_is_named_by_its_column() {
        assert_eq!(text_of_unit("bay within dark_days", "t on trays"), "t on bays");
        assert_eq!(text_of_unit("tray", "t on trays"), "t on trays");
        assert_eq!(text_of_unit("cutting", "F of tray rates"), "F of tray rates");
    }
}
