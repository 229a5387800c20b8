"""Loading a trial: what the user names, checked and handed to the core."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from rootling import _core, _frames
from rootling._frames import listed, spelled
from rootling._types import BadRows
from rootling.exceptions import RootlingWarning, TrialDataError
from rootling.trial import Trial
from rootling.units import Strength

if TYPE_CHECKING:
    import polars as pl

__all__ = ["load_trial"]


def load_trial(
    data: Any,
    *,
    rooted: str,
    stuck: str | None = None,
    dead: str | None = None,
    treatments: str | Sequence[str],
    tray: str | None = None,
    block: str | None = None,
    whole_plot: str | None = None,
    season: str | None = None,
    stock_plant: str | None = None,
    covariates: str | Sequence[str] = (),
    strength: Strength | None = None,
    control: Mapping[str, Any] | None = None,
    level_order: Mapping[str, Sequence[Any]] | None = None,
    bad_rows: BadRows = "stop",
    distinct_levels: bool = False,
    earlier: Trial | Mapping[str, Any] | Sequence[Trial | Mapping[str, Any]] = (),
) -> Trial:
    """Loads and checks the counts of a rooting trial.

    Parameters
    ----------
    data
        A path (csv, parquet, xlsx), a polars or pandas frame, any Arrow-stream object, or a dictionary of columns.
    rooted : str
        Column of cuttings rooted per tray; or, without ``stuck``, of 0/1, true/false, yes/no with one row per cutting.
    stuck : str, optional
        Column of cuttings set per tray.
    dead : str, optional
        Column of cuttings that died, counted as ``rooted`` is; rooted and dead together cannot exceed the
        number stuck. Then :meth:`Trial.damage_threshold` says at which strength deaths begin to rise.
    treatments : str or list of str
        Columns of what was tried.
    tray, block, whole_plot, season, stock_plant : str, optional
        Columns of the design. The tray is the experimental unit: without it no answer knows how trays differ.
    covariates : list of str
        Numeric columns.
    strength : Strength, optional
        What the strength column means.
    control : dict, optional
        The control level of treatments, for example ``{"strength": 0}``: models set the others against it. The control
        of a declared strength is 0 where it was tried.
    level_order : dict, optional
        Levels in an order of their own, per column, for example ``{"light": ["dark", "dim", "bright"]}``. Numbers stand
        in their order and other levels in that of the alphabet otherwise.
    bad_rows : {"stop", "set_aside"}
        Stop on rows that cannot be used, or go on without them and list them in ``trial.set_aside``.
    distinct_levels : bool
        Say True once you have checked that levels such as "K12" and "k12 " really are different.
    earlier : list of Trial or dict, optional
        Earlier trials of the same place, or what their :meth:`Trial.for_later` gave (a record that json can keep).
        How their trays, bays, blocks, seasons and plants differed then has a say in the error of this trial, with
        degrees of freedom of its own: most where this trial has few units, as with two bays per level. Nothing is
        tested first. The mean squares of this trial are averaged with what the earlier ones lead to expect; their
        weight follows from how much spreads differ between them, is never their summed degrees of freedom, and stays
        small with fewer than three of them. Units are matched by column name. ``trial.design.lines`` says how many
        degrees of freedom came from earlier trials, and a note says when this trial differs from them, which changes
        nothing. Counts of earlier trials do not enter any rate. Models whose trays enter by a law, by a dispersion or
        robustly, strength curves and :meth:`Trial.tray_correlation` take no notice of them. When not to use: for
        trials of another place or of another way of working, since nothing checks that they are alike (Smyth 2004;
        Lonnstedt and Speed 2002).

    Returns
    -------
    Trial

    Raises
    ------
    TrialDataError
        With every problem found, in ``issues``: also where an earlier trial has no trays, is this trial itself, or
        calls its units otherwise.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.design.n_units
    12
    >>> named = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray", "block": "bench"}
    >>> now = rl.load_trial(rl.demo.two_strengths(seed=2), **named, earlier=[trial])
    >>> any("1 earlier trial" in line for line in now.design.lines)
    True
    """
    options: dict[str, Any] = {
        "rooted": rooted,
        "stuck": stuck,
        "dead": dead,
        "treatments": listed(treatments),
        "tray": tray,
        "block": block,
        "whole_plot": whole_plot,
        "season": season,
        "stock_plant": stock_plant,
        "covariates": listed(covariates),
        "strength": None if strength is None else strength.to_dict(),
        "strength_column": None if strength is None else strength.column,
        "control": {name: spelled(level) for name, level in (control or {}).items()},
        "level_order": {
            name: [spelled(level) for level in listed(levels)] for name, levels in (level_order or {}).items()
        },
        "bad_rows": bad_rows,
        "distinct_levels": distinct_levels,
        "earlier": _for_later(earlier),
    }
    named = [
        rooted,
        stuck,
        dead,
        *options["treatments"],
        tray,
        block,
        whole_plot,
        season,
        stock_plant,
        *options["covariates"],
    ]
    given = _frames.read(data, [name for name in named if name is not None])
    if given.text is not None:
        return Trial(_core.trial.read_csv(given.text, options))
    return Trial(_core.trial.from_stream(given.frame, given.source, options))


def _for_later(earlier: Any) -> list[dict[str, Any]]:
    each: list[Any] = [earlier] if isinstance(earlier, Trial | Mapping) else list(listed(earlier))
    for one in each:
        if not isinstance(one, Trial) and not (isinstance(one, Mapping) and {"trials", "known"} <= one.keys()):
            reason = f"{type(one).__name__!r} in earlier= is neither a trial nor the record of one"
            hint = "give earlier=[trial], or what trial.for_later() gave"
            raise TrialDataError.of_input("not_an_earlier_trial", reason, hint)
    return [one.for_later() if isinstance(one, Trial) else dict(one) for one in each]


def again(frame: pl.DataFrame, source: str, options: dict[str, Any]) -> Trial:
    """A trial that was pickled: the same columns, checked with the same options; its cautions were given before."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RootlingWarning)
        return Trial(_core.trial.from_stream(frame, source, options))
