"""A plan: where each tray stands, and the files made of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from rootling import _core, _figures
from rootling._given import shortened, spelled
from rootling._given.choices import Progress
from rootling._results import Faces, Result, typed
from rootling.exceptions import ChoiceError, ReportError
from rootling.plan.sheets import write_key, write_labels, write_record_sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from rootling._given.choices import FigureWidth


# What the record of a plan holds beside the faces of every result.
NUMBERS = (
    *("options", "trays", "n_units", "n_combinations", "n_benches", "rows", "columns"),
    *("set", "efficiency", "confounded", "fingerprint"),
)


def numbers_of(record: dict[str, Any]) -> dict[str, Any]:
    """The numbers of a plan out of its record."""
    return {name: record[name] for name in NUMBERS}


class DealtAnew(
    Result[typed.layout.DealtAnew],
    typed.layout.DealtAnewFields,
    faces=Faces(
        figure=_figures.layout.dealt_anew,
        question="Does the difference hold up among other layouts of the plan?",
    ),
):
    """A difference among those of other layouts of the same set."""

    kind = "dealt_anew"


class Layout(
    Result[typed.layout.Layout],
    typed.layout.LayoutFields,
    faces=Faces(
        figure=_figures.layout.bench_map,
        question="What goes where?",
        rows="trays",
    ),
):
    """Where each tray stands and what it gets; made by :func:`rootling.plan.layout`, kept by ``to_json``."""

    kind = "layout"

    def plot(self, *, blind: bool = False, width: FigureWidth | None = None) -> Figure:
        """The map of the benches.

        Parameters
        ----------
        blind : bool
            True for a map of codes alone, to be carried by whoever reads.
        width : {"85 mm", "180 mm"}, optional
            Set for one column or for two of a journal; as it reads best on a screen when left out.
        """
        return self._drawn(lambda: _figures.layout.bench_map(self, blind=blind), width)

    def _check(self) -> None:
        """Refuses a plan that is not as it was made."""
        _core.layout.check(numbers_of(self.to_dict()))

    def again(self, seed: int) -> Layout:
        """Another layout of the same set, by another seed: what a test that deals the trays out anew compares with.

        Examples
        --------
        >>> import rootling as rl
        >>> plan = rl.plan.layout("latin-square", {"strength": [0, 1000, 3000, 9000]}, seed=1)
        >>> plan.again(seed=2).set == plan.set
        True
        """
        return Layout(_core.layout.layout({**self.to_dict()["options"], "seed": seed}))

    def dealt_anew(
        self,
        trial: Any,
        treatment: str,
        first: Any,
        second: Any,
        *,
        draws: int = 999,
        seed: int = 1,
        progress: Progress | None = None,
    ) -> DealtAnew:
        """Asks whether a difference holds up when trays are dealt out anew within the very set of this plan.

        Every layout of the set is as likely as the others, so the P value is valid whatever benches, rows and columns
        do, also under restrictions and in Latin squares and strips, of which the usual analysis knows only a part.

        Parameters
        ----------
        trial : Trial
            Loaded with ``plan=``.
        treatment : str
            The treatment.
        first, second
            Its two levels; the difference is second minus first.
        draws : int
            Other layouts drawn.
        seed : int
            Seed of these.
        progress : callable, optional
            Called with layouts drawn and to be drawn.

        Returns
        -------
        DealtAnew
            ``value`` (difference of mean tray rates), ``p`` with its Monte Carlo ``p_error``, ``smallest_p``.

        Raises
        ------
        ChoiceError
            For a trial of other trays, a treatment or a level that the plan does not have.

        Notes
        -----
        It says nothing of how large the difference may be: the interval of :meth:`rootling.Trial.compare` does.

        References
        ----------
        Fisher 1935; Bailey 1987.

        Examples
        --------
        >>> import rootling as rl
        >>> plan = rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
        >>> rows = {"tray": [], "rooted": [], "stuck": []}
        >>> for at, tray in enumerate(plan.trays):
        ...     rows["tray"].append(tray.tray)
        ...     rows["rooted"].append(7 + at % 3 + 5 * (tray.levels == ("5000",)))
        ...     rows["stuck"].append(20)
        >>> trial = rl.load_trial(rows, plan=plan)
        >>> plan.dealt_anew(trial, "strength", 2500, 5000).p < 0.06
        True
        """
        if not hasattr(trial, "tray_counts"):
            raise ChoiceError(f"trial={shortened(trial)} is no trial; give what rl.load_trial(sheet, plan=plan) made")
        if spelled(first) == spelled(second):
            raise ChoiceError(
                f"{shortened(first)} is named twice and a level does not differ from itself; name two levels of "
                f"{shortened(treatment)}"
            )
        counts = trial.tray_counts()
        if "tray" not in counts.columns:
            raise ChoiceError("this trial has no column of trays; load its record sheet with plan=plan")
        rates = dict(zip(counts["tray"].to_list(), (counts["rooted"] / counts["stuck"]).to_list(), strict=True))
        own = {tray.tray for tray in self.trays}
        if strange := [str(tray) for tray in rates if tray not in own]:
            more = f" and {len(strange) - 3} more" if len(strange) > 3 else ""
            raise ChoiceError(
                f"this is plan {self.fingerprint}, and the trial holds trays that it does not have "
                f"({shortened(', '.join(strange[:3]))}{more}); ask the plan that the trial was loaded with"
            )
        options = {"treatment": treatment, "levels": (spelled(first), spelled(second)), "draws": draws, "seed": seed}
        return DealtAnew(_core.layout.dealt_anew(numbers_of(self.to_dict()), rates, options, progress))

    def record_sheet(self, path: Any) -> Path:
        """Writes the sheet to be filled in (xlsx or csv): codes, places, room for counts, no treatment.

        A blank count is a tray not read yet, never 0. The workbook looks at what is typed: whole numbers, rooted and
        dead together no more than stuck. A file that exists is left as it is, since it may hold counts.
        """
        return write_record_sheet(self._numbers, path)

    def key(self, path: Any) -> Path:
        """Writes what each code stands for (csv or xlsx), to be kept from whoever reads; each line has its seal."""
        return write_key(self._numbers, path)

    def labels(self, path: Any) -> Path:
        """Writes the labels of the trays: a page to print (html), with codes for eye and camera, or a csv."""
        return write_labels(self._numbers, path)

    def write(self, folder: Any) -> list[Path]:
        """Writes all of it into a folder: what is carried (record sheet, labels, map of codes), and key and plan.

        Parameters
        ----------
        folder : str or path
            A folder that exists.

        Returns
        -------
        list of pathlib.Path

        Examples
        --------
        >>> import tempfile
        >>> import rootling as rl
        >>> plan = rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     [file.name for file in plan.write(folder)]
        ['record_sheet.xlsx', 'labels.html', 'labels.csv', 'bench_map.pdf', 'key.csv', 'plan.json']
        """
        place = Path(folder)
        if not place.is_dir():
            raise ReportError(f"there is no folder {str(folder)!r}; create it first, or name another")
        made = [self.record_sheet(place / "record_sheet.xlsx")]
        made += [self.labels(place / "labels.html"), self.labels(place / "labels.csv")]
        self.plot(blind=True).savefig(place / "bench_map.pdf")
        made += [place / "bench_map.pdf", self.key(place / "key.csv")]
        (place / "plan.json").write_text(self.to_json(indent=1), encoding="utf-8")
        return [*made, place / "plan.json"]
