//! How a treatment and its levels are said: a number with its unit and substance, a name with its treatment.

use serde::{Deserialize, Serialize};

use crate::answer::DeclaredStrength;

/// The words for the levels of one treatment.
///
/// ```
/// use rootling::report::Spoken;
/// let strength = Spoken { unit: Some("mg/L".into()), substance: Some("IBA".into()), ..Spoken::plain("strength") };
/// assert_eq!(strength.level("5000"), "5000 mg/L IBA");
/// assert_eq!(strength.short("2500"), "2500 mg/L");
/// assert_eq!(strength.level("control"), "control");
/// assert_eq!(Spoken::plain("rootstock").level("K12"), "rootstock K12");
/// assert_eq!(Spoken::plain("dark_days").level("20"), "dark days 20");
/// assert_eq!(Spoken::plain("method").level("soak"), "soak (method)");
/// assert_eq!(Spoken::plain("wounded").level("yes"), "wounded = yes");
/// assert_eq!(Spoken::plain("bench").level("bench 2"), "bench 2");
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Spoken {
    /// The user's column.
    pub treatment: String,
    /// Unit of its numbers.
    #[serde(default)]
    pub unit: Option<String>,
    /// Substance that the numbers measure.
    #[serde(default)]
    pub substance: Option<String>,
    /// How it is applied.
    #[serde(default)]
    pub method: Option<String>,
}

impl Spoken {
    /// A treatment of which only the column's name is known.
    #[must_use]
    pub fn plain(treatment: &str) -> Self {
        Self { treatment: treatment.to_owned(), ..Self::default() }
    }

    /// What its numbers were declared to be; none where they are no strengths of a substance.
    #[must_use]
    pub fn declared(&self) -> Option<DeclaredStrength> {
        let (substance, unit) = self.substance.clone().zip(self.unit.clone())?;
        Some(DeclaredStrength { column: self.treatment.clone(), substance, unit, method: self.method.clone() })
    }

    /// "mg/L IBA"; blank where levels are no strengths of a substance.
    #[must_use]
    pub fn unit_and_substance(&self) -> String {
        self.unit.as_ref().zip(self.substance.as_ref()).map_or_else(String::new, |(unit, of)| format!("{unit} {of}"))
    }

    /// The words of strengths as a record has them.
    #[must_use]
    pub fn of_declared(known: &DeclaredStrength) -> Self {
        let DeclaredStrength { column, substance, unit, method } = known.clone();
        Self { treatment: column, unit: Some(unit), substance: Some(substance), method }
    }

    /// The treatment's name for reading.
    #[must_use]
    pub fn name(&self) -> String {
        self.treatment.replace('_', " ")
    }

    /// True where the levels are strengths of a named substance.
    #[must_use]
    pub fn is_strength(&self) -> bool {
        self.substance.is_some()
    }

    /// A level in full: "5000 mg/L IBA", "rootstock K12"; a word before its treatment, "soak (method)", and yes or no as what they answer.
    #[must_use]
    pub fn level(&self, level: &str) -> String {
        match (&self.unit, &self.substance) {
            (Some(_), Some(substance)) if number(level) => format!("{} {substance}", self.short(level)),
            (Some(_), _) => self.short(level),
            (None, _) if ANSWERS.contains(&level.trim().to_lowercase().as_str()) => {
                format!("{} = {level}", self.name())
            }
            (None, _) if self.is_named_in(level) => level.to_owned(),
            (None, _) if word(level) => format!("{level} ({})", self.name()),
            (None, _) => format!("{} {level}", self.name()),
        }
    }

    /// The name of a group: a number or an answer with its treatment, "dark days 28"; a name as it is, "K12".
    ///
    /// ```
    /// use rootling::report::Spoken;
    /// assert_eq!(Spoken::plain("dark_days").group("28"), "dark days 28");
    /// assert_eq!(Spoken::plain("rootstock").group("K12"), "K12");
    /// ```
    #[must_use]
    pub fn group(&self, level: &str) -> String {
        let answers = ANSWERS.contains(&level.trim().to_lowercase().as_str());
        if number(level) || answers { self.level(level) } else { level.to_owned() }
    }

    /// "bench 2" of benches says what it is.
    fn is_named_in(&self, level: &str) -> bool {
        let (name, level) = (self.name().to_lowercase(), level.to_lowercase());
        level.strip_prefix(&name).is_some_and(|rest| rest.starts_with([' ', '_', '-']))
    }

    /// A level beside another that was said in full: "2500 mg/L", "K12".
    #[must_use]
    pub fn short(&self, level: &str) -> String {
        match &self.unit {
            Some(unit) if number(level) => format!("{level} {unit}"),
            _ => level.to_owned(),
        }
    }

    /// The head of a column or axis: "strength, mg/L IBA (quick dip)".
    #[must_use]
    pub fn head(&self) -> String {
        let unit = self.unit.as_ref().map(|unit| format!(", {unit}")).unwrap_or_default();
        let substance = self.substance.as_ref().map(|one| format!(" {one}")).unwrap_or_default();
        let method = self.method.as_ref().map(|one| format!(" ({one})")).unwrap_or_default();
        format!("{}{unit}{substance}{method}", self.name())
    }
}

/// First letter in upper case.
///
/// ```
/// assert_eq!(rootling::report::capital("trays decide"), "Trays decide");
/// ```
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Levels that answer whether something was done.
const ANSWERS: [&str; 6] = ["yes", "no", "true", "false", "with", "without"];

/// True for a level that is a word in small letters, as "soak" or "quick dip", not a code such as "K12" or "a".
fn word(level: &str) -> bool {
    let letters = level.chars().filter(|one| one.is_alphabetic()).count();
    letters > 2 && level.chars().all(|one| one.is_lowercase() || one == ' ' || one == '-')
}

fn number(level: &str) -> bool {
    level.trim().parse::<f64>().is_ok_and(f64::is_finite)
}

/// The verb that goes with the name of an effect: `dark_days` has several, `strength` and an interaction one.
///
/// ```
/// use rootling::report::verb_for;
/// assert_eq!(verb_for("dark_days", "matters", "matter"), "matter");
/// assert_eq!(verb_for("strength x dark_days", "matters", "matter"), "matters");
/// assert_eq!(verb_for("moss", "is", "are"), "is");
/// ```
#[must_use]
pub fn verb_for<'a>(name: &str, one: &'a str, several: &'a str) -> &'a str {
    let plural = name.ends_with('s') && !["ss", "us", "is"].iter().any(|end| name.ends_with(end));
    if plural && !name.contains(" x ") { several } else { one }
}
