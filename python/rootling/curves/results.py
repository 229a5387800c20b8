"""Strength curves and what is asked of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rootling import _core, _figures
from rootling._given import UNREAD
from rootling._results import Faces, Numbers, Result, typed
from rootling.curves import tables
from rootling.exceptions import ChoiceError

if TYPE_CHECKING:
    import polars as pl


class StrengthsFor(
    Result[typed.curves.StrengthsFor],
    typed.curves.StrengthsForFields,
    faces=Faces(
        figure=_figures.wanted.strengths_for,
        question="Which strength gives the wanted {rate}?",
        rows="rows",
    ),
):
    """The lowest strength with a wanted take, by curve and method. Made by ``StrengthCurve.strength_for``."""

    kind = "strengths_for"


class DamageThreshold(
    Result[typed.beside.DamageThreshold],
    typed.beside.DamageThresholdFields,
    faces=Faces(
        figure=_figures.curves.damage_threshold,
        question="Where do deaths begin to rise?",
        of_deaths=True,
        rows="curves",
    ),
):
    """Where deaths begin to rise with the strength. Made by ``trial.damage_threshold``.

    ``curves`` holds one entry per curve: ``threshold`` (value, low, high, located, by_form, no_room: too
    many died at the lowest strength for deaths to rise, from_first: no tested strength is shown to be safe),
    ``possible_rise`` (the largest that the strengths do not rule out), ``lowest`` and ``highest`` (deaths there with
    limits), ``test``, ``survivors`` (the strength curve of rooted among survivors).
    """

    kind = "damage_threshold"

    def levels(self) -> pl.DataFrame:
        """One row per curve and strength: the three outcomes as counts, deaths and rooted of survivors as rates.

        Deaths are proportions of the cuttings stuck, with limits that count trays; ``fitted`` is the curve of deaths.
        """
        return tables.deaths(self)


class CurveDifferences(
    Result[typed.curves.CurveDifferences],
    typed.curves.CurveDifferencesFields,
    faces=Faces(
        figure=_figures.wanted.curve_differences,
        question="Do the curves differ?",
    ),
):
    """Curves compared: one form, one place, and how far apart they lie. Made by ``StrengthCurve.differences``."""

    kind = "curve_differences"


class NextStrengths(
    Result[typed.beside.NextStrengths],
    typed.beside.NextStrengthsFields,
    faces=Faces(
        figure=_figures.wanted.next_strengths,
        question="Which strengths should be tried next?",
    ),
):
    """Which strengths to test next, with trays. Made by ``StrengthCurve.next_strengths``."""

    kind = "next_strengths"


class ResponseSurface(
    Result[typed.beside.ResponseSurface],
    typed.beside.ResponseSurfaceFields,
    faces=Faces(
        figure=_figures.surface.response_surface,
        question="How does the best strength shift?",
        rows="best",
    ),
):
    """The take over strength and darkness together. Made by ``trial.response_surface``.

    ``best`` holds the best strength at each tested darkness, ``tests`` whether it shifts with darkness, ``top`` the
    best combination with the places of ``grid`` that are not ruled out, ``withheld`` why nothing is claimed of
    darkness.
    """

    kind = "response_surface"


class StrengthCurve(
    Result[typed.curves.StrengthCurve],
    typed.curves.StrengthCurveFields,
    faces=Faces(
        figure=_figures.curves.strength_curve,
        question="Which strength is best, and which is enough?",
        rows="curves",
    ),
):
    """The strength curves of a trial. Made by ``trial.strength_curve``.

    Strengths are in the unit of the trial, takes and limits of takes are proportions.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength", "rootstock"], tray="tray", block="bench",
    ...                       strength=rl.Strength("IBA", unit="mg/L", method="quick dip"))
    >>> curve = trial.strength_curve(at={"rootstock": "K12"})
    >>> curve.best_strength.located
    'located'
    """

    kind = "strength_curve"
    _fit: Any

    def __init__(self, record: Mapping[str, Any], context: Mapping[str, Any] | None = None, fit: Any = None) -> None:
        super().__init__(record, context)
        object.__setattr__(self, "_fit", fit)

    @property
    def best_strength(self) -> Numbers:
        """The best strength of the one curve; with several curves, theirs by level.

        ``strength`` (value, low, high, open_low, open_high), ``located``, ``take``, ``take_low``,
        ``take_high``, ``range_low`` and ``range_high`` (not shown to be worse than the best by more than the margin),
        ``adequate`` (lowest strength with the wanted share of the best take), ``withheld`` (why the best is not stated,
        if it is not) and, where trials were drawn, ``bootstrap``.
        """
        found = {", ".join(curve.levels): curve.best for curve in self.curves}
        return next(iter(found.values())) if len(found) == 1 else Numbers(found)

    def shapes(self) -> pl.DataFrame:
        """One row per curve and shape: weight, its say in the averages, criterion, lack of fit, verdict.

        The hump comes with several ``d0``. Shapes left out have no weight; those that the strengths' own rates
        contradict (``lack_p`` below 0.01) have no say.
        """
        return tables.shapes(self)

    def parameters(self) -> pl.DataFrame:
        """One row per curve, shape and parameter, in plain names with units."""
        return tables.parameters(self)

    def levels(self) -> pl.DataFrame:
        """One row per curve and strength: counts, take with limits, the curve, and the fits without any curve."""
        return tables.levels(self)

    def _fitted(self) -> Any:
        """The fitted curves: those at hand, or for a record that was read back fitted once more."""
        if self._fit is None:
            record = self.to_dict()
            if not isinstance(record.get("input"), dict):
                raise ChoiceError(
                    "this is not the record of a strength curve: it has no input; take it again from to_dict()"
                )
            try:
                fit = _core.curves.restore(record["input"], self.made_with["data_fingerprint"])
            except ChoiceError as error:
                if UNREAD not in str(error):
                    raise
                what = "its trays or what was asked of them are not as to_dict() writes them; take it again from there"
                raise ChoiceError(f"this is not the record of a strength curve: {what}") from None
            object.__setattr__(self, "_fit", fit)
        return self._fit

    def strength_for(self, take: float) -> StrengthsFor:
        """The lowest strength with this take, with profile, delta and (where the line is straight) Fieller limits.

        Parameters
        ----------
        take : float
            The wanted take rate, a proportion between 0 and 1.

        Returns
        -------
        StrengthsFor
            One row per curve and method; ``or_never`` says that the take may never be reached, and an upper limit is
            infinite where it may be reached beyond what was tested.

        Raises
        ------
        CountError
            Unless ``0 < take < 1``.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "rootstock"], tray="tray", block="bench")
        >>> curve = trial.strength_curve(at={"rootstock": "K12"})
        >>> curve.strength_for(0.50).rows[0].method
        'profile'
        """
        return StrengthsFor(self._fitted().strengths_for(take), self._context)

    def differences(self) -> CurveDifferences:
        """Whether the curves have one form and one place, and how far each lies from the first.

        All curves are fitted with one shape: of those whose criteria (Akaike's) of curves apart add up to within 4 of
        the smallest sum, that of the smallest criterion of curves alike but for height. "same form" sets own parameters
        against one form at different places (parallel curves), "same curve" different places against one curve, "no
        difference" own parameters against one curve. For shapes along ``log d`` the distance is a relative potency.
        "same but for height" sets own parameters against one form, and so one best strength, at different heights;
        "same height" different heights against one. Where the curves' treatment was given to whole bays, bays judge the
        heights, and the first three are left out. ``bests`` holds the best strengths, whether they differ, and from
        where to where a strength suits all curves. Where no one distance describes the curves, ``takes`` and the table
        hold the rate of each curve's strengths as counted, with limits, and the figure draws them.

        Returns
        -------
        CurveDifferences

        Raises
        ------
        CurveError
            For a single curve.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "rootstock"], tray="tray", block="bench")
        >>> trial.strength_curve(within="rootstock").differences().tests[-1].method
        'same height'
        """
        return CurveDifferences(self._fitted().differences(), self._context)

    def next_strengths(
        self, *, trays: int | None = None, cuttings: int | None = None, strengths: int = 4
    ) -> NextStrengths:
        """Which strengths to test next, and with how many trays, to narrow the best strength or the whole curve.

        What this trial showed counts as known. Strengths are tested ones or round ones that can be mixed apart, at
        least four where ``strengths`` and ``trays`` allow, within the tested range; where the best may lie above it, up
        to half above the highest, with a caution. For the best strength a sixth of the trays stands where it may lie
        and a sixth above. A curve that no shape fits has no best strength to narrow. Where deaths are recorded
        strengths end at the lowest tested one at which these are known to have risen.

        Parameters
        ----------
        trays : int, optional
            Trays of each curve; as many as this trial had when left out.
        cuttings : int, optional
            Cuttings in each; as in this trial when left out.
        strengths : int
            Most strengths to use.

        Returns
        -------
        NextStrengths
            One row per curve, purpose and strength; ``why`` says what trays there are for. ``width_ratio`` is the
            width of the interval of the best strength after the next trial over its width now, under each shape as if
            it were known.

        Raises
        ------
        CountError
            For numbers out of range.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.strengths(seed=1), rooted="rooted", stuck="stuck",
        ...                       treatments=["strength", "rootstock"], tray="tray", block="bench")
        >>> curve = trial.strength_curve(at={"rootstock": "K12"})
        >>> planned = curve.next_strengths(trays=12)
        >>> sum(one.n_units for one in planned.curves[0].designs[0].strengths)
        12
        """
        options = {"trays": trays, "cuttings": cuttings, "strengths": strengths}
        return NextStrengths(self._fitted().next_strengths(options), self._context)
