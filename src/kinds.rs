//! What the numbers of each kind of result are, as JSON Schema made from the types that hold them; compiled in tests alone.
//!
//! `tests/_numbers.py` writes `tests/kinds.json` by this test, and from it the types of numbers in Python.

use std::path::Path;

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, SchemaGenerator};
use serde_json::{Map, Value};

use crate::{
    answer, checks, compare, counts, curves, decide, effects, estimate, layout, model_tests, models, plan, prediction,
    rates, responses, seasons, steps, tables, watch,
};

/// Room, kind and the name of its type.
fn kind<T: JsonSchema>(made: &mut SchemaGenerator, [room, kind]: [&str; 2]) -> Value {
    made.subschema_for::<T>();
    [room, kind, &T::schema_name()].into_iter().collect()
}

/// Every kind by the room of its class in Python. Beside those of results: a model, a design, and how any of them was made.
fn all(made: &mut SchemaGenerator) -> Vec<Value> {
    let mut found = vec![
        kind::<rates::TakeRates>(made, ["rates", "take_rates"]),
        kind::<rates::TrayCorrelation>(made, ["rates", "tray_correlation"]),
        kind::<rates::TargetTest>(made, ["rates", "target_test"]),
        kind::<compare::Comparison>(made, ["compare", "comparison"]),
        kind::<compare::AllComparisons>(made, ["compare", "all_comparisons"]),
        kind::<compare::RandomisedDifference>(made, ["compare", "randomisation"]),
        kind::<estimate::TestResult>(made, ["compare", "equality_test"]),
        kind::<compare::Equivalence>(made, ["compare", "equivalence"]),
        kind::<tables::Association>(made, ["tables", "association"]),
        kind::<tables::TrialTrend>(made, ["tables", "trend"]),
        kind::<counts::UnconditionalTest>(made, ["tables", "unconditional_test"]),
        kind::<counts::Paired>(made, ["tables", "paired"]),
        kind::<counts::ChiSquare>(made, ["tables", "chi_square"]),
        kind::<counts::FisherExact>(made, ["tables", "fisher"]),
        kind::<counts::FreemanHalton>(made, ["tables", "freeman_halton"]),
        kind::<counts::ThreeWay>(made, ["tables", "three_way"]),
        kind::<counts::Trend>(made, ["tables", "plain_trend"]),
        kind::<counts::LinearByLinear>(made, ["tables", "linear_by_linear"]),
        kind::<counts::Stratified>(made, ["tables", "stratified"]),
        kind::<models::Model>(made, ["model", "model"]),
        kind::<effects::WhatMatters>(made, ["asked", "what_matters"]),
        kind::<effects::OddsRatios>(made, ["asked", "odds_ratios"]),
        kind::<effects::Coefficients>(made, ["asked", "coefficients"]),
        kind::<effects::AdjustedRates>(made, ["asked", "adjusted_rates"]),
        kind::<effects::Contrasts>(made, ["asked", "contrasts"]),
        kind::<effects::Letters>(made, ["asked", "letters"]),
        kind::<prediction::Predictions>(made, ["asked", "predictions"]),
        kind::<model_tests::ModelComparison>(made, ["asked", "model_comparison"]),
        kind::<model_tests::BootstrapTest>(made, ["asked", "bootstrap_test"]),
        kind::<checks::Checks>(made, ["asked", "checks"]),
        kind::<curves::StrengthCurve>(made, ["curves", "strength_curve"]),
        kind::<curves::StrengthsFor>(made, ["curves", "strengths_for"]),
        kind::<curves::CurveDifferences>(made, ["curves", "curve_differences"]),
        kind::<curves::NextStrengths>(made, ["beside", "next_strengths"]),
        kind::<curves::DamageThreshold>(made, ["beside", "damage_threshold"]),
        kind::<curves::ResponseSurface>(made, ["beside", "response_surface"]),
        kind::<plan::Planned>(made, ["plan", "power"]),
        kind::<plan::Planned>(made, ["plan", "precision"]),
        kind::<plan::Planned>(made, ["plan", "trays_needed"]),
        kind::<plan::Smallest>(made, ["plan", "smallest_difference"]),
        kind::<plan::Looks>(made, ["plan", "looks"]),
        kind::<plan::CurvePlan>(made, ["plan", "best_strength_plan"]),
        kind::<plan::EndChances>(made, ["plan", "chance_at_end"]),
        kind::<watch::BaselineNumbers>(made, ["watch", "baseline"]),
        kind::<watch::SignalNumbers>(made, ["watch", "signals"]),
        kind::<watch::BatchNumbers>(made, ["watch", "batch_chart"]),
        kind::<watch::MixChange>(made, ["watch", "mix_change"]),
        kind::<watch::AgainstTarget>(made, ["watch", "target_watched"]),
        kind::<steps::TimeCourse>(made, ["steps", "time_course"]),
        kind::<steps::TimesCompared>(made, ["steps", "times_compared"]),
        kind::<layout::Layout>(made, ["layout", "layout"]),
        kind::<layout::DealtAnew>(made, ["layout", "dealt_anew"]),
        kind::<watch::PlaceNumbers>(made, ["watch", "places_watched"]),
        kind::<crate::trial::Design>(made, ["trial", "design"]),
        kind::<answer::MadeWith>(made, ["shared", "made_with"]),
    ];
    found.extend(of_steps(made));
    found.extend(of_seasons(made));
    found
}

/// The kinds of several seasons, of what is chosen, and of responses beside the take.
fn of_seasons(made: &mut SchemaGenerator) -> Vec<Value> {
    vec![
        kind::<seasons::Pooled>(made, ["seasons", "pooled"]),
        kind::<seasons::BestOverSeasons>(made, ["seasons", "best_over_seasons"]),
        kind::<decide::LevelChoice>(made, ["decide", "level_choice"]),
        kind::<counts::FittedCounts>(made, ["responses", "count_law"]),
        kind::<responses::ResponseMeans>(made, ["responses", "response_means"]),
        kind::<responses::ResponseComparison>(made, ["responses", "response_comparison"]),
        kind::<responses::grade::Grades>(made, ["responses", "grades"]),
        kind::<responses::MeanEffects>(made, ["means", "mean_effects"]),
        kind::<responses::AdjustedMeans>(made, ["means", "adjusted_means"]),
        kind::<responses::MeanContrasts>(made, ["means", "mean_contrasts"]),
        kind::<responses::MeanLetters>(made, ["means", "mean_letters"]),
        kind::<responses::MeanChecks>(made, ["means", "mean_checks"]),
        kind::<responses::MeanPredictions>(made, ["means", "mean_predictions"]),
    ]
}

/// The kinds of the chain of steps.
fn of_steps(made: &mut SchemaGenerator) -> Vec<Value> {
    vec![
        kind::<steps::YieldChange>(made, ["steps", "yield_change"]),
        kind::<steps::StepYields>(made, ["steps", "step_yields"]),
        kind::<steps::YieldComparison>(made, ["steps", "yield_comparison"]),
        kind::<steps::YieldsByLevel>(made, ["steps", "yields_by_level"]),
        kind::<steps::StartNumbers>(made, ["steps", "start_numbers"]),
        kind::<steps::Agreement>(made, ["steps", "agreement"]),
        kind::<steps::EarlySign>(made, ["steps", "early_sign"]),
    ]
}

/// Drops what only readers of a schema look at, save the lines that say what a type is; `names` tells that the names of a map are fields.
fn bare(value: &mut Value, names: bool) {
    match value {
        Value::Object(parts) => {
            if !names {
                for told in ["description", "default", "format", "minimum", "title"] {
                    parts.remove(told);
                }
            }
            parts.iter_mut().for_each(|(name, part)| bare(part, !names && name == "properties"));
        }
        Value::Array(parts) => parts.iter_mut().for_each(|part| bare(part, false)),
        _ => {}
    }
}

/// The kinds, and every type by its name, a line each.
fn told() -> String {
    let mut made = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let kinds = all(&mut made);
    let line = |(name, mut schema): (String, Value)| {
        let what = schema.get("description").and_then(Value::as_str);
        let what = what.and_then(|text| text.split("\n\n").next()).map(Value::from);
        bare(&mut schema, false);
        if let (Some(what), Some(parts)) = (what, schema.as_object_mut()) {
            parts.insert("description".to_owned(), what);
        }
        format!("{}: {schema}", Value::from(name))
    };
    let types: Map<String, Value> = made.take_definitions(true);
    let types: Vec<String> = types.into_iter().map(line).collect();
    let kinds: Vec<String> = kinds.iter().map(Value::to_string).collect();
    format!("{{\"kinds\": [\n{}\n],\n\"types\": {{\n{}\n}}}}\n", kinds.join(",\n"), types.join(",\n"))
}

#[test]
fn the_types_of_records_are_those_written_down() -> std::io::Result<()> {
    let place = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/kinds.json");
    let told = told();
    if std::env::var_os("ROOTLING_WRITE").is_some() {
        std::fs::write(&place, &told)?;
    }
    let written = std::fs::read_to_string(place)?;
    let other = written.lines().zip(told.lines()).find(|(written, told)| written != told);
    assert!(written == told, "run python tests/_numbers.py, which writes the types anew; first difference: {other:?}");
    Ok(())
}
