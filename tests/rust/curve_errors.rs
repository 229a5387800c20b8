//! Every error of strength curves with its exact words.

use rootling::error::CurveError;

use crate::errors::check;

#[test]
fn curves() {
    let text = |words: &str| words.to_owned();
    let cases = [
        (
            CurveError::NotNumbers { column: text("strength"), level: text("high") },
            "level \"high\" of \"strength\" is not a number; a strength curve needs strengths as numbers in one unit",
        ),
        (
            CurveError::Negative { column: text("strength"), value: -5.0 },
            "column \"strength\" holds strength -5, which is below 0; correct it (a trial loaded with strength= names the row)",
        ),
        (
            CurveError::OneStrength { place: text("K12"), strength: 2500.0 },
            "K12 holds the single strength 2500; a curve needs at least two strengths",
        ),
        (
            CurveError::NoTrays { place: text(" of K12") },
            "no tray is left for the curve of K12; correct at= or within=",
        ),
        (
            CurveError::OtherTreatment {
                column: text("dark_days"),
                level: text("0"),
                offered: "name it in within= for a curve each, in common= for one curve of all, or ",
            },
            "\"dark_days\" differs between trays too; name it in within= for a curve each, in common= for one curve of all, or keep one level with at={\"dark_days\": \"0\"}",
        ),
        (
            CurveError::MixedUnits { column: text("unit"), first: text("mg/L"), second: text("mM") },
            "column \"unit\" says that strengths are in mg/L and in mM; convert them to one unit, they cannot share one axis",
        ),
        (
            CurveError::AlongItself { option: "within", column: text("strength") },
            "within=\"strength\" is the strength that a curve runs along; name another treatment, or leave within= out",
        ),
        (CurveError::NoDeaths, "no column of deaths was named; load the trial with dead= to ask where damage begins"),
        (CurveError::DeathsOfUnits { deaths: 3, units: 4 }, "3 counts of deaths for 4 units; give one for each unit"),
        (
            CurveError::TooFewForSurface { strengths: 2, darkness: 3 },
            "2 strengths and 3 levels of darkness are too few for a surface; it needs three strengths and two levels of darkness",
        ),
        (
            CurveError::LawWithoutTrays { trays: "random" },
            "trays=\"random\" describes how trays differ and none are recorded; load the trial with tray=, or use trays=\"auto\"",
        ),
        (
            CurveError::LawNotShown { trays: "dispersion", place: text("K12"), why: text("no strength has two trays") },
            "trays=\"dispersion\" cannot be fitted to K12: no strength has two trays; use trays=\"auto\"",
        ),
        (
            CurveError::LawOfQuestion { trays: "random", question: "response_surface" },
            "response_surface does not offer trays=\"random\"; use trays=\"auto\", or ask strength_curve",
        ),
        (
            CurveError::ShapeOut { shape: "rising", why: text("4 parameters and 3 strengths") },
            "shape \"rising\" cannot be fitted here: 4 parameters and 3 strengths; choose a shape with fewer parameters, or \"auto\"",
        ),
        (
            CurveError::Shift { value: -1.0 },
            "zero_scale -1 is not a strength above 0; give d0 of log(1 + d/d0) in the unit of the strengths",
        ),
        (CurveError::OneCurve, "there is one curve only; name a column in within= to compare the curves of its levels"),
        (
            CurveError::NoCommonShape { curves: 3 },
            "no shape can be fitted to all 3 curves; some have too few strengths, or all or none of their cuttings rooted",
        ),
    ];
    check("src/error/curve.rs", &cases);
}
