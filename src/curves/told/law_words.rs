//! What a law of the trays and blocks taken out say in words.

use super::figures::{OneCurve, StrengthCurve};
use crate::answer::Note;
use crate::curves::input::{CurveBays, CurveInput, CurveTrays};
use crate::report::{agree, capital, degrees_of_freedom, plural, references};

/// Below this many degrees of freedom between trays a likelihood of trays is rough.
const FEW: f64 = 15.0;

/// The law of the trays, for the methods paragraph; none for effective counts by the design effect.
pub(crate) fn methods(found: &StrengthCurve) -> Option<String> {
    let input = &found.input;
    let unit = &input.unit_of;
    let units = plural(unit);
    let judged: Vec<String> =
        found.curves.iter().filter_map(|curve| curve.df.map(|df| judged_by(curve, df, found.curves.len()))).collect();
    let judged = format!("Likelihood ratios were judged by F and their roots by t on {}.", judged.join(", "));
    match input.options.trays {
        CurveTrays::Dispersion => Some(format!(
            "The experimental unit was the {unit}: counts were divided by one dispersion for all trays, Pearson's around rates of their own for all strengths, not below 1 (Wedderburn 1974), and judged by t and F on {}.",
            degrees_of_freedom(found.df.unwrap_or_default())
        )),
        CurveTrays::BetaBinomial => Some(format!(
            "The rates of {units} of one strength followed a beta distribution with one correlation for each curve (Skellam 1948), estimated with the curve by maximum likelihood. {judged}"
        )),
        CurveTrays::Random => Some(format!(
            "The {units} had normal effects on the log odds with one standard deviation for each curve, estimated with the curve by maximum likelihood and integrated out by adaptive Gauss-Hermite quadrature (Pinheiro and Chao 2006): shapes are those of a typical {unit}, rates are averages over all. {judged}"
        )),
        CurveTrays::Auto | CurveTrays::Ignore => None,
    }
}

fn judged_by(curve: &OneCurve, df: f64, curves: usize) -> String {
    let of = if curves > 1 { format!(" ({})", curve.name) } else { String::new() };
    format!("{}{of}", degrees_of_freedom(df))
}

/// " What the levels of bench add was taken out ..."
pub(crate) fn blocks(input: &CurveInput) -> String {
    input.blocks.as_ref().map_or_else(String::new, |blocks| {
        format!(
            " What the levels of {} add was taken out of each curve by shifts of the log odds that add up to 0; rates are averages over these levels, each counted once.",
            blocks.column
        )
    })
}

/// " Rates hold over levels of bay ...", where bays carry the level or places are taken out.
pub(crate) fn over_places(input: &CurveInput) -> String {
    let bays = input.bays.as_ref().filter(|bays| bays.judge_levels());
    let given = bays.map(|bays| {
        let was = agree(&bays.given, "was", "were");
        format!(" {} {was} given to whole levels of {}.", capital(&bays.given), bays.column)
    });
    let over = input.places.as_ref().map(|places| (&places.column, places.df));
    let Some((column, df)) = over.or_else(|| bays.map(|bays| (&bays.column, bays.df))) else {
        return String::new();
    };
    format!(
        "{} Rates hold over further levels of {column}, with the variance between them by analysis of variance (at least {}); with the error of trays it was judged by t on the degrees of freedom of their sum (Satterthwaite 1946). The best strength and what strengths differ by are judged within them.",
        given.unwrap_or_default(),
        degrees_of_freedom(df)
    )
}

/// Whether takes hold over places.
pub(crate) fn holds_over_places(input: &CurveInput) -> bool {
    input.places.is_some() || input.bays.as_ref().is_some_and(CurveBays::judge_levels)
}

/// The law in one short sentence.
pub(super) fn short(input: &CurveInput) -> &'static str {
    match (input.counted, input.options.trays) {
        (false, _) => "Cuttings were treated as independent.",
        (true, CurveTrays::BetaBinomial) => "Trays followed a beta-binomial law.",
        (true, CurveTrays::Random) => "Trays had random effects on the log odds; rates are those over all trays.",
        (true, CurveTrays::Dispersion) => "Trays were counted by one dispersion.",
        (true, _) => "Trays were counted by their design effect.",
    }
}

/// Which rate a curve is, where that can be asked.
pub(super) fn which_rate(input: &CurveInput) -> Option<Note> {
    (input.options.trays == CurveTrays::Random).then(|| {
        Note::new(
            "all_trays_rate",
            "Rates, their limits and the drawn curve are those over all trays. The parameters of the shapes are those of a typical tray (random effect 0), whose rate lies further from one half. The best strength is the same for both.",
        )
    })
}

/// What distances between curves are under random effects.
pub(super) fn distances(input: &CurveInput) -> Option<Note> {
    (input.options.trays == CurveTrays::Random).then(|| {
        Note::new(
            "typical_tray",
            "Distances between curves are those of typical trays (random effects 0). Each curve keeps a standard deviation between trays of its own.",
        )
    })
}

/// Cautions of a law.
pub(crate) fn notes(found: &StrengthCurve) -> Vec<Note> {
    let (input, mut notes) = (&found.input, Vec::new());
    notes.extend(which_rate(input));
    let law = input.options.trays;
    if law == CurveTrays::Dispersion {
        notes.push(Note::new(
            "one_dispersion",
            "One dispersion counts for all trays, whatever their size, and is not shared out by the cuttings in them. trays=\"auto\" uses a correlation, so that larger trays are discounted more; in trays of one size the two nearly agree.",
        ));
    }
    if !law.is_law() {
        return notes;
    }
    if let Some(blocks) = &input.blocks {
        notes.push(Note::new(
            "law_with_blocks",
            format!(
                "Limits are too narrow where a law of the trays is fitted and {} is taken out as well: in simulated trials limits of 95 % held the best strength in about 90 %. The default, trays=\"auto\", held it in 94 %.",
                blocks.column
            ),
        ));
    }
    let few: Vec<&OneCurve> = found.curves.iter().filter(|curve| curve.df.is_some_and(|df| df < FEW)).collect();
    if let Some(curve) = few.first() {
        notes.push(Note::new(
            "few_trays_for_likelihood",
            format!(
                "The spread between trays rests on {}. Limits by this likelihood are approximate with so few trays; the default, trays=\"auto\", has been checked by simulation for them.",
                degrees_of_freedom(curve.df.unwrap_or_default())
            ),
        ));
    }
    let even = |curve: &&OneCurve| {
        let lead = curve.shapes.first();
        !curve.all_alike && lead.and_then(|shape| shape.parameters.last()).is_some_and(|spread| spread.value <= 0.0)
    };
    for curve in found.curves.iter().filter(even) {
        let place = if found.curves.len() > 1 { format!("{}: ", curve.name) } else { String::new() };
        notes.push(Note::new(
            "no_spread_seen",
            format!(
                "{place}Nothing beyond chance is seen between trays around the likeliest shape; limits keep the degrees of freedom of the trays."
            ),
        ));
    }
    notes
}

/// The sources of the law.
pub(crate) fn cited(input: &CurveInput) -> Vec<&'static str> {
    match input.options.trays {
        CurveTrays::BetaBinomial => vec![references::SKELLAM_1948, references::DONNER_KLAR_2000],
        CurveTrays::Random => vec![references::PINHEIRO_CHAO_2006, references::DONNER_KLAR_2000],
        CurveTrays::Dispersion => vec![references::WEDDERBURN_1974, references::DONNER_KLAR_2000],
        CurveTrays::Auto | CurveTrays::Ignore => vec![references::DONNER_KLAR_2000],
    }
}
