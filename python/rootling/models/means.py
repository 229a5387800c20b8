"""A model of means: what several treatments do to roots, lengths or masses, and the questions that it can be asked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._given import spelled
from rootling._given.choices import AverageOver, Confidence, ContrastPattern, LetterOrder, MeanAdjustment
from rootling._pages import in_notebook
from rootling.models.given import averaged, held, levels_of_rows, not_a_name, weighted
from rootling.models.mean_results import (
    AdjustedMeans,
    MeanChecks,
    MeanContrasts,
    MeanEffects,
    MeanLetters,
    MeanPredictions,
)

if TYPE_CHECKING:
    from rootling.trial import Trial


class MeanModel:
    """A model of the means of a response. Made by ``trial.model(..., response=...)``.

    Trays are the units; what was given to bays (plants, blocks) as a whole is judged by these. Means, differences and
    their limits are in the unit of the response, over all cuttings stuck or over those that rooted.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.roots(seed=1), rooted="rooted", treatments=["strength", "rootstock"],
    ...                       tray="tray", block="bench", responses={"roots": rl.responses.count()}, primary="roots")
    >>> model = trial.model(["strength", "rootstock"], response="roots")
    >>> [one.effect for one in model.what_matters().effects]
    ['strength', 'rootstock']
    """

    __slots__ = ("_spec", "_trial")
    _trial: Trial
    _spec: dict[str, Any]

    def __init__(self, trial: Trial, spec: Mapping[str, Any]) -> None:
        object.__setattr__(self, "_trial", trial)
        object.__setattr__(self, "_spec", dict(spec))

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError("a model cannot be changed; make another")

    def _shown_with(self) -> dict[str, Any]:
        return {"trial": self._trial}

    @property
    def effects(self) -> tuple[str, ...]:
        """The treatments of the model."""
        return tuple(self._spec["effects"])

    @property
    def sentence(self) -> str:
        """Which treatments matter, in plain words."""
        return self.what_matters().sentence

    def what_matters(self) -> MeanEffects:
        """Whether the response depends on each treatment: one test per effect, with both parts beside it.

        Returns
        -------
        MeanEffects
            ``effects``, each with ``p``, ``largest_difference`` and ``not_ruled_out`` in the unit of the response;
            of means over all cuttings also ``take_p`` (does it change how many root) and, for counts,
            ``of_rooted_p`` (does it change how many roots each of these has).

        Notes
        -----
        The sum of squares of an effect's contrasts over the sum of their variances, against F with both degrees of
        freedom matched by moments (Brunner, Dette and Munk 1997). ``tests/calibration/means.md`` shows what it holds.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.roots(seed=1), rooted="rooted", treatments=["strength", "rootstock"],
        ...                       tray="tray", block="bench", responses={"roots": rl.responses.count()})
        >>> found = trial.model("strength", response="roots").what_matters()
        >>> found.effects[0].p < 0.05
        True
        """
        return MeanEffects(_core.responses.mean_effects(self._trial._core, self._spec), self._shown_with())

    def adjusted_means(
        self,
        treatment: str,
        *,
        within: str | None = None,
        at: Mapping[str, Any] | None = None,
        average: AverageOver = "alike",
        confidence: Confidence = 0.95,
    ) -> AdjustedMeans:
        """Means per level of a treatment, averaged over the other treatments.

        Parameters
        ----------
        treatment : str
            The treatment.
        within : str, optional
            A second treatment whose levels are kept apart.
        at : dict, optional
            Treatments held at a level, for example ``{"rootstock": "K12"}``.
        average : {"alike", "as-stuck"} or dict
            How the other treatments are averaged over: their levels alike, by their cuttings stuck, or by shares
            such as ``{"rootstock": {"K12": 0.6, "K17": 0.4}}``.
        confidence : float
            Confidence level, a proportion.

        Notes
        -----
        Limits have a variance in proportion to the mean, so none is below 0. Of three or more recorded blocks or
        seasons they hold over further ones, else for those at hand; a note says which.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.roots(seed=1), rooted="rooted", treatments=["strength", "rootstock"],
        ...                       tray="tray", block="bench", responses={"roots": rl.responses.count()})
        >>> found = trial.model(["strength", "rootstock"], response="roots").adjusted_means("strength")
        >>> [one.by for one in found.means]
        ['0', '2500', '5000']
        """
        options = {
            "within": within,
            "at": held(at),
            "average": averaged(average),
            "confidence": confidence,
        }
        found = _core.responses.adjusted_means(self._trial._core, self._spec, treatment, options)
        return AdjustedMeans(found, self._shown_with())

    def contrasts(
        self,
        treatment: str,
        *,
        against: Any = None,
        pattern: ContrastPattern = "all-pairs",
        within: str | None = None,
        together: MeanAdjustment = "joint",
        margin: float | None = None,
        at: Mapping[str, Any] | None = None,
        average: AverageOver = "alike",
        confidence: Confidence = 0.95,
        seed: int = 1,
    ) -> MeanContrasts:
        """Levels of a treatment set against each other, with intervals that hold together.

        Parameters
        ----------
        treatment : str
            The treatment.
        against : level, optional
            The level that all others are set against; ``"control"`` for the trial's control.
        pattern : {"all-pairs", "control", "steps", "trend"} or dict
            As in :meth:`Model.contrasts`.
        within : str, optional
            A second treatment: the contrasts are formed within each of its levels. All of them are one family.
        together : str
            ``"joint"`` judges all at once; ``"holm"``, ``"bonferroni"`` and the other adjustments of a list go by
            single P values; ``"none"`` is said.
        margin : float, optional
            Differences whose interval lies within it are shown to be none that matters, in the unit of the response.
        at, average
            As in :meth:`adjusted_means`.
        confidence : float
            Confidence level of all intervals together.
        seed : int
            Seed of the quasi-random points of the joint distribution.

        Notes
        -----
        As variances of the levels differ, each contrast has degrees of freedom of its own. Together they are judged by
        the joint normal law of the scores that their t values come to (Konietschke, Hothorn and Brunner 2012).
        ``ratio`` is the one mean over the other with Fieller's limits.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.roots(seed=1), rooted="rooted", treatments=["strength", "rootstock"],
        ...                       tray="tray", block="bench", responses={"roots": rl.responses.count()})
        >>> found = trial.model(["strength", "rootstock"], response="roots").contrasts("strength", against=0)
        >>> [one.comparison for one in found.contrasts]
        ['strength 2500 against 0', 'strength 5000 against 0']
        """
        options = {
            "against": None if against is None else spelled(against),
            "pattern": weighted(pattern),
            "within": within,
            "together": str(together),
            "margin": margin,
            "at": held(at),
            "average": averaged(average),
            "confidence": confidence,
            "seed": seed,
        }
        found = _core.responses.mean_contrasts(self._trial._core, self._spec, treatment, options)
        return MeanContrasts(found, self._shown_with())

    def letters(
        self,
        treatment: str,
        *,
        within: str | None = None,
        order: LetterOrder = "descending",
        together: MeanAdjustment = "joint",
        at: Mapping[str, Any] | None = None,
        average: AverageOver = "alike",
        confidence: Confidence = 0.95,
        seed: int = 1,
    ) -> MeanLetters:
        """Adjusted means with letters: two levels share a letter if and only if they are not shown to differ.

        A shared letter is no proof of equality.

        Parameters
        ----------
        treatment : str
            The treatment.
        within : str, optional
            A second treatment within whose levels letters are given.
        order : {"descending", "ascending"}
            Whether ``a`` goes to the highest or to the lowest mean.
        together, at, average, seed
            As in :meth:`contrasts`, of all pairs.
        confidence : float
            Confidence level of each interval, and of all comparisons together.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.roots(seed=1), rooted="rooted", treatments=["strength", "rootstock"],
        ...                       tray="tray", block="bench", responses={"roots": rl.responses.count()})
        >>> found = trial.model(["strength", "rootstock"], response="roots").letters("strength")
        >>> len(found.means)
        3
        """
        options = {
            "within": within,
            "order": order,
            "together": str(together),
            "at": held(at),
            "average": averaged(average),
            "confidence": confidence,
            "seed": seed,
        }
        found = _core.responses.mean_letters(self._trial._core, self._spec, treatment, options)
        return MeanLetters(found, self._shown_with())

    def predict(self, frame: Any) -> MeanPredictions:
        """The mean that the model expects of rows of levels, with limits.

        Parameters
        ----------
        frame
            The rows: a path, a frame, or a dictionary of columns, with a column for each treatment of the model.

        Raises
        ------
        ChoiceError
            For a missing column, or a level that the model does not know.

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.roots(seed=1), rooted="rooted", treatments=["strength", "rootstock"],
        ...                       tray="tray", block="bench", responses={"roots": rl.responses.count()})
        >>> model = trial.model(["strength", "rootstock"], response="roots")
        >>> len(model.predict({"strength": [0, 2500], "rootstock": ["K12", "K17"]}).rows)
        2
        """
        not_a_name(frame, self.effects)
        asked = levels_of_rows(frame, self.effects)
        return MeanPredictions(_core.responses.predict_means(self._trial._core, self._spec, asked), self._shown_with())

    def checks(self) -> MeanChecks:
        """What the model leaves over: every tray beside what is expected of it, and the tests without each tray.

        Returns
        -------
        MeanChecks
            ``units`` with their residuals in standard deviations, ``growth`` (the power by which the variance grows
            with the mean; the limits expect 1.5) and ``without`` (each effect's P value with a tray left out).

        Examples
        --------
        >>> import rootling as rl
        >>> trial = rl.load_trial(rl.demo.roots(seed=1), rooted="rooted", treatments=["strength", "rootstock"],
        ...                       tray="tray", block="bench", responses={"roots": rl.responses.count()})
        >>> trial.model(["strength", "rootstock"], response="roots").checks().kind
        'mean_checks'
        """
        return MeanChecks(_core.responses.mean_checks(self._trial._core, self._spec), self._shown_with())

    def __repr__(self) -> str:
        return repr(self.what_matters())

    def _repr_html_(self) -> str:
        found = self.what_matters()
        return in_notebook("said", said=found.sentence, lines=[note.text for note in found.notes])
