"""The questions that a trial was asked, asked again as their records say."""

from __future__ import annotations

from typing import Any, get_args

from rootling._again.options import Asked, averaged_as, levels_of, options_of, pattern_of, seed_of, stayed_within
from rootling._given import choices
from rootling._results import Result
from rootling.models import MeanModel
from rootling.trial import Trial

__all__ = ["ASKED"]


def _counted(options: Any) -> dict[str, Any]:
    """What was counted: an outcome, or the share that reaches a grade."""
    if "at_least" not in options:
        return {"outcome": options.get("outcome", "take")}
    return {
        "response": options["response"],
        "at_least": int(options["at_least"]),
        "grades_of": options.get("grades_of", "stuck"),
    }


def _shared(record: Result) -> dict[str, Any]:
    options = options_of(record)
    found: dict[str, Any] = _counted(options)
    if "trays" in options:
        found["trays"] = options["trays"]
    if "confidence" in options:
        found["confidence"] = float(options["confidence"])
    return found


def _method(record: Result, known: Any) -> str | None:
    """The interval that was asked for; where trays are counted the record names the way that was taken."""
    return record.method if record.method in get_args(known) else None


def _take_rates(trial: Trial, record: Result, seed: int | None) -> Asked:
    rates = record.numbers["rates"]
    by = [column["name"] for column in record.to_dict()["table"]["columns"][: len(rates[0].levels)]]
    method = _method(record, choices.IntervalMethod)
    return Asked(trial.take_rates(by=by, method=method, **_shared(record)))


def _comparison(trial: Trial, record: Result, seed: int | None) -> Asked:
    found = trial.compare(
        record.factor,
        record.first.levels[0],
        record.second.levels[0],
        at=stayed_within(record, levels_of(trial)),
        margin=record.margin,
        method=_method(record, choices.DifferenceMethod),
        seed=seed_of(record, seed),
        **_shared(record),
    )
    return Asked(found)


def _all_comparisons(trial: Trial, record: Result, seed: int | None) -> Asked:
    found = trial.compare_all(
        record.factor,
        against=record.against,
        together=record.together,
        at=stayed_within(record, levels_of(trial)),
        seed=seed_of(record, seed),
        **{**_shared(record), **_counted({"outcome": record.outcome, **options_of(record)})},
    )
    return Asked(found)


def _response_means(trial: Trial, record: Result, seed: int | None) -> Asked:
    column = record.response.column
    return Asked(trial.means(list(record.by), response=column, mean_of=record.mean_of, confidence=record.confidence))


def _response_comparison(trial: Trial, record: Result, seed: int | None) -> Asked:
    found = trial.compare(
        record.factor,
        record.first.levels[0],
        record.second.levels[0],
        at=stayed_within(record, levels_of(trial)),
        confidence=record.confidence,
        seed=seed_of(record, seed),
        response=record.response.column,
        mean_of=record.mean_of,
    )
    return Asked(found)


def _association(trial: Trial, record: Result, seed: int | None) -> Asked:
    options = options_of(record)
    # Where trays are not counted the record names the test that led, which is none to choose.
    counted = record.unit != "cutting"
    found = trial.association(
        record.factor,
        within=options["within"] or None,
        method=options["method"] if counted else None,  # type: ignore[arg-type]
        seed=seed_of(record, seed),
        **_shared(record),
    )
    return Asked(found)


def _trend(trial: Trial, record: Result, seed: int | None) -> Asked:
    scores = {one.level: one.score for one in record.levels}
    return Asked(trial.trend(record.factor, scores=scores, seed=seed_of(record, seed), **_shared(record)))


def _tray_correlation(trial: Trial, record: Result, seed: int | None) -> Asked:
    return Asked(trial.tray_correlation(method=record.method, confidence=record.confidence))


def _curve_options(given: Any) -> dict[str, Any]:
    """The options of a strength curve, which its record holds one by one."""
    found = dict(given)
    found["strength"] = found.pop("column")
    found["at"] = dict(found["at"])
    return {name: list(one) or None if name in ("within", "common") else one for name, one in found.items()}


def _strength_curve(trial: Trial, record: Result, seed: int | None) -> Asked:
    options = _curve_options(record.input.options)
    return Asked(trial.strength_curve(**{**options, "seed": options["seed"] if seed is None else seed}))


def _damage_threshold(trial: Trial, record: Result, seed: int | None) -> Asked:
    options = _curve_options(record.input.options)
    names = ("within", "strength", "at", "link", "confidence", "zero_scale", "trays")
    return Asked(trial.damage_threshold(rise=record.rise, **{name: options[name] for name in names}))


def _response_surface(trial: Trial, record: Result, seed: int | None) -> Asked:
    options = _curve_options(record.input.options.curve)
    names = ("strength", "at", "confidence", "zero_scale", "trays")
    return Asked(trial.response_surface(record.input.options.darkness, **{name: options[name] for name in names}))


SPEC = (
    *("effects", "interactions", "link", "trays", "random", "correlation_by", "robust_by", "penalised", "reference"),
    *("numeric", "polynomials", "offset", "weights", "confidence", "outcome"),
)


def _model(trial: Trial, record: Any, seed: int | None) -> Asked:
    spec = record.to_dict()["spec"]
    given = {name: spec[name] for name in SPEC if name in spec}
    reached = spec.get("reached")
    if reached:
        del given["outcome"]
        given.update({name: reached[name] for name in ("response", "at_least")}, grades_of=reached["of"])
    return Asked(trial.model(**given))


def _grades(trial: Trial, record: Result, seed: int | None) -> Asked:
    options = options_of(record)
    found = trial.grades(
        record.factor,
        response=record.response,
        at_least=record.at_least,
        grades_of=record.of,
        against=options["against"] or None,
        confidence=record.confidence,
        nearly=float(options["nearly"]),
        seed=seed_of(record, seed),
    )
    return Asked(found)


def _mean_model(trial: Trial, record: Result) -> MeanModel:
    spec = record.model
    model: MeanModel = trial.model(
        list(spec.effects),
        interactions=[list(one) for one in spec.interactions],
        confidence=spec.confidence,
        response=spec.response,
        mean_of=spec.mean_of,
    )
    return model


def _mean_effects(trial: Trial, record: Result, seed: int | None) -> Asked:
    return Asked(_mean_model(trial, record).what_matters())


def _mean_checks(trial: Trial, record: Result, seed: int | None) -> Asked:
    return Asked(_mean_model(trial, record).checks())


def _mean_predictions(trial: Trial, record: Result, seed: int | None) -> Asked:
    names = record.model.effects
    rows = {name: [one.levels[at] for one in record.rows] for at, name in enumerate(names)}
    return Asked(_mean_model(trial, record).predict(rows))


def _adjusted_means(trial: Trial, record: Result, seed: int | None) -> Asked:
    def ask(average: Any) -> Result:
        return _mean_model(trial, record).adjusted_means(
            record.by,
            within=record.within,
            at=stayed_within(record, levels_of(trial)),
            average=average,
            confidence=record.confidence,
        )

    return Asked(averaged_as(record, ask))


def _mean_contrasts(trial: Trial, record: Result, seed: int | None) -> Asked:
    pattern = pattern_of(record)

    def ask(average: Any) -> Result:
        return _mean_model(trial, record).contrasts(
            record.by,
            against=record.against,
            pattern=pattern,
            within=record.within,
            together=record.together,
            margin=record.margin,
            at=stayed_within(record, levels_of(trial)),
            average=average,
            confidence=record.confidence,
            seed=seed_of(record, seed),
        )

    return Asked(averaged_as(record, ask))


def _mean_letters(trial: Trial, record: Result, seed: int | None) -> Asked:
    options = options_of(record)

    def ask(average: Any) -> Result:
        return _mean_model(trial, record).letters(
            record.by,
            within=record.within,
            order=options["order"],  # type: ignore[arg-type]
            together=record.together,
            at=stayed_within(record, levels_of(trial)),
            average=average,
            confidence=record.confidence,
            seed=seed_of(record, seed),
        )

    return Asked(averaged_as(record, ask))


ASKED = {
    "model": _model,
    "take_rates": _take_rates,
    "comparison": _comparison,
    "all_comparisons": _all_comparisons,
    "association": _association,
    "trend": _trend,
    "tray_correlation": _tray_correlation,
    "response_means": _response_means,
    "response_comparison": _response_comparison,
    "strength_curve": _strength_curve,
    "damage_threshold": _damage_threshold,
    "response_surface": _response_surface,
    "grades": _grades,
    "mean_effects": _mean_effects,
    "mean_checks": _mean_checks,
    "mean_predictions": _mean_predictions,
    "adjusted_means": _adjusted_means,
    "mean_contrasts": _mean_contrasts,
    "mean_letters": _mean_letters,
}
