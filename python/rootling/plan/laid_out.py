"""A plan: where each tray stands, and the files made of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from rootling import _core, _figures
from rootling._results import Faces, Result, typed
from rootling.exceptions import ReportError
from rootling.plan.sheets import write_key, write_labels, write_record_sheet

if TYPE_CHECKING:
    from matplotlib.figure import Figure


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

    def plot(self, *, blind: bool = False) -> Figure:
        """The map of the benches.

        Parameters
        ----------
        blind : bool
            True for a map of codes alone, to be carried by whoever reads.
        """
        return self._drawn(lambda: _figures.layout.bench_map(self, blind=blind))

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
