"""A plan of what goes where as numbers, written by tests/_numbers.py from the core."""

from __future__ import annotations

from rootling._results.numbers import Numbers
from rootling._results.typed import choices


class BlockEfficiency(Numbers):
    """How much incomplete blocks keep of what complete blocks would tell."""

    __slots__ = ()

    value: float
    bound: float
    fewest_together: int
    most_together: int


class DealtAnewFields:
    """A difference among those of other layouts of the same set."""

    __slots__ = ()

    treatment: str
    first: str
    second: str
    value: float
    p: float
    p_error: float
    smallest_p: float
    draws: int
    n_units: int
    n_unread: int
    counts: tuple[int, ...]
    reach: float


class DealtAnew(DealtAnewFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class LayoutFields:
    """A plan: where each tray stands and how that was drawn."""

    __slots__ = ()

    options: LayoutOptions
    trays: tuple[PlacedTray, ...]
    n_units: int
    n_combinations: int
    n_benches: int
    rows: int
    columns: int
    set: LayoutSet
    efficiency: BlockEfficiency | None
    confounded: tuple[PlannedConfounding, ...]
    fingerprint: str


class Layout(LayoutFields, Numbers):
    """The same, as numbers."""

    __slots__ = ()


class LayoutOptions(Numbers):
    """What a layout is asked for."""

    __slots__ = ()

    layout: choices.LayoutKind
    treatments: tuple[TreatmentLevels, ...]
    trays: int | None
    blocks: tuple[str, ...]
    whole_plot: tuple[str, ...]
    whole_plots: int | None
    per_block: int | None
    controls: tuple[str, ...]
    positions: tuple[int, int] | None
    stuck: int | None
    stock_plants: Sharing | None
    genotype: str | None
    readers: Sharing | None
    longest_run: int | None
    different_ends: bool
    seed: int


class LayoutSet(Numbers):
    """The layouts that this one was drawn from, each as likely as the others."""

    __slots__ = ()

    within: str
    layouts: float | None
    counted: choices.Counted
    without_restrictions: float | None
    smallest_p: float | None
    longest_run: int | None
    different_ends: bool
    neighbours_alike: tuple[float, float] | None
    any_two_alike: float | None


class PlacedTray(Numbers):
    """One tray in its place."""

    __slots__ = ()

    tray: str
    bench: str
    row: int
    column: int
    replicate: str | None
    block: str | None
    whole_plot: str | None
    strip: str | None
    levels: tuple[str, ...]
    stock_plant: str | None
    reader: str | None
    seal: str


class PlannedConfounding(Numbers):
    """What cannot be told apart, or only by fewer units, before anything is stuck."""

    __slots__ = ()

    treatment: str
    # numbers["with"]: str
    inseparable: bool
    reason: str


class Sharing(Numbers):
    """Stock plants or readers: spread over all trays, or given to the levels of a treatment."""

    __slots__ = ()

    names: tuple[str, ...]
    treatment: str | None
    by_level: tuple[TreatmentLevels, ...]


class TreatmentLevels(Numbers):
    """A treatment with its levels in the order given."""

    __slots__ = ()

    name: str
    levels: tuple[str, ...]
