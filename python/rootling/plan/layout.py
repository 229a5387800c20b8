"""Which tray gets what, and where it stands."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rootling import _core
from rootling._given import column_names, one_column
from rootling._given.choices import LayoutKind
from rootling.plan.given import apart, count_of, levels_of, names_of, positions_of, sharing_of
from rootling.plan.laid_out import Layout

__all__ = ["layout"]


def layout(
    layout: LayoutKind,
    treatments: Any,
    *,
    trays: int | None = None,
    blocks: Any = None,
    whole_plot: str | Sequence[str] = (),
    whole_plots: int | None = None,
    per_block: int | None = None,
    controls: Any = None,
    positions: Any = None,
    stuck: int | None = None,
    stock_plants: Any = None,
    genotype: str | None = None,
    readers: Any = None,
    longest_run: int | None = None,
    different_ends: bool = False,
    seed: int | None = None,
) -> Layout:
    """Lays a trial out: deals treatments to trays and trays to positions, and gives each tray a blind code.

    Parameters
    ----------
    layout : {"completely-randomised", "blocks", "latin-square", "split-plot", "strip-plot", ...}
        ``completely-randomised``: any tray anywhere. ``blocks``: every combination in every block. ``latin-square``:
        once in each row and each column, drawn among all squares of its order. ``split-plot``: the treatments of
        ``whole_plot`` by whole plots (rooms, bays), the others by trays within. ``strip-plot``: the treatments of
        ``whole_plot`` by rows, the others by columns across them. ``incomplete-blocks``: blocks of at most
        ``per_block`` trays in replicates that hold each level once, found by interchange. ``augmented``: new entries
        once, ``controls`` in every block.
    treatments : dict
        Names with their levels; several are crossed. ``{"strength": [2500, 5000], "rootstock": ["K12", "K17"]}``
    trays : int, optional
        Trays per combination in all (per control of ``augmented``); one per block, row or whole plot when left out.
    blocks : int or list of str, optional
        How many, or their names.
    whole_plot : str or list of str, optional
        Treatments given to whole plots, or to rows of strips.
    whole_plots : int, optional
        Whole plots per level, where there are no blocks. One of each cannot be tested, and the plan says so.
    per_block : int, optional
        Trays that a block has room for, where it cannot hold all.
    controls : list, optional
        Levels that stand in every block beside the new entries.
    positions : (int, int), optional
        Rows and columns of a bench; a block, a whole plot or a square has a bench of its own. Up to twelve in a row
        when left out.
    stuck : int, optional
        Cuttings per tray; open on the record sheet when left out.
    stock_plants : int, list of str or dict, optional
        Mother plants, spread over all combinations as evenly as can be. ``{"rootstock": {"K12": ["a", "b"], ...}}``
        where plants belong to the levels of a treatment.
    genotype : str, optional
        The treatment whose levels are kinds of plants; then plants are its units.
    readers : int, list of str or dict, optional
        Who reads; spread and written as plants are.
    longest_run : int, optional
        So many trays of one combination in a row of a bench at most.
    different_ends : bool
        True where no combination may stand at both ends of a row.
    seed : int, optional
        The same seed gives the same plan everywhere. Drawn, and kept in ``made_with``, when left out.

    Returns
    -------
    Layout
        The plan: ``trays`` (one per tray), ``set`` (the layouts it was drawn from), ``confounded``, ``fingerprint``.

    Raises
    ------
    ChoiceError
        For what cannot be laid out as asked, with what can: restrictions that leave too few layouts for a test, levels
        that differ only by case, spaces or how a number is written. One tray of each, one block or a square of two by
        two are laid out, and the plan says that they cannot be tested.

    References ---------- Fisher 1935; Yates 1935, 1936; Jacobson and Matthews 1996; John and Williams 1995; Federer
    1956; of restrictions Grundy and Healy 1950, Bailey 1987.

    Examples
    --------
    >>> import rootling as rl
    >>> plan = rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
    >>> plan.set.layouts
    64.0
    >>> sorted(plan.table()["strength"].to_list()) == ["2500"] * 6 + ["5000"] * 6
    True

    Restrictions that leave too little are refused, with what is possible:

    >>> try:
    ...     rl.plan.layout("completely-randomised", {"strength": [2500, 5000]}, trays=6, longest_run=1)
    ... except rl.RootlingError as error:
    ...     print(str(error).split(", too")[0], "...", str(error).split("; ")[-1])
    no treatment twice in a row (longest_run=1) leaves 2 layouts of 924 ... longest_run=2 leaves 208
    """
    asked: dict[str, Any] = {
        "layout": layout,
        "treatments": levels_of(treatments),
        "trays": count_of("trays", trays, 4),
        "blocks": names_of("blocks", blocks),
        "whole_plot": column_names("whole_plot", whole_plot),
        "whole_plots": count_of("whole_plots", whole_plots, 3),
        "per_block": count_of("per_block", per_block, 6),
        "controls": names_of("controls", [controls] if isinstance(controls, str) else controls),
        "positions": positions_of(positions),
        "stuck": count_of("stuck", stuck, 20),
        "stock_plants": sharing_of("stock_plants", stock_plants),
        "genotype": one_column("genotype", genotype),
        "readers": sharing_of("readers", readers),
        "longest_run": count_of("longest_run", longest_run, 2),
        "different_ends": different_ends,
        "seed": _drawn_seed() if seed is None else seed,
    }
    for one in asked["treatments"]:
        apart(one["name"], [*one["levels"], *asked["controls"]])
    apart("blocks", asked["blocks"])
    return Layout(_core.layout.layout(asked))


def _drawn_seed() -> int:
    import secrets

    return secrets.randbelow(2**32)
