"""What an early sign of rooting tells, and what culling on it saves and loses."""

from __future__ import annotations

from typing import Any

from rootling import _core
from rootling._given import is_name, shortened
from rootling._given.choices import Confidence, Kept
from rootling.exceptions import CountError
from rootling.steps.given import pairs_of_trays, tables_of_trays
from rootling.steps.results import EarlySign


def early_sign(
    table: Any,
    *,
    unread: Any = None,
    kept: Kept = "chosen",
    sign: str = "sign",
    cost: float | None = None,
    worth: float | None = None,
    confidence: Confidence = 0.95,
) -> EarlySign:
    """What an early sign (tint, swelling, callus) tells of rooting, and what culling plants without it saves and loses.

    Parameters
    ----------
    table : list of 2 rows of 2, or list of tables
        Plants read to the end: ``[[with the sign and rooted, with it and not], [without it and rooted, without it and
        not]]``; a list of such tables, one for each tray, where trays are known.
    unread : (int, int) or list of them, optional
        Plants with and without the sign that were taken away before anybody could see whether they root, for each
        table.
    kept : {"chosen", "irrespective"}
        How plants that were read were chosen among those of their side of the sign: by how they looked (or nobody
        knows), or irrespective of outlook, as by lot. Only in the second case can the unread be taken to be like those
        read; in the first bounds are given.
    sign : str
        What the sign is called.
    cost : float, optional
        What each plant that is kept costs until it is read.
    worth : float, optional
        What each rooted tree is worth. With ``cost`` the answer says whether culling pays.
    confidence : float
        Confidence level, a proportion.

    Returns
    -------
    EarlySign
        ``measures``: sensitivity, specificity, shares that rooted with the sign and failed without it, likelihood
        ratios, each with ``value``, ``low``, ``high`` and ``as_read``; ``points`` (``"to-rooting"``,
        ``"against-rooting"``, ``"not-shown"``, ``"nowhere"``) with ``more_rooted``, the share rooted with the sign less
        that without it, and its limits; ``freed`` and ``lost`` (with limits), shares of all plants; ``saved``,
        ``forgone`` and ``gained`` (with limits), money for each plant of all.

    Raises
    ------
    CountError
        When no plant was read, or none of a side from which plants were taken and ``kept`` says irrespective.

    Notes
    -----
    The sentence first asks which way the sign points: one of which plants root less says so, and one that is not shown
    to tell anything is nothing to cull on, whatever culling would save. "Cull" and "do not cull" are said where the
    limits of what is gained lie on one side of 0.

    Rates have Wilson limits (on effective plants and t where trays are known) and likelihood ratios Koopman's. What is
    corrected for culled plants has limits from leaving out one tray after the other, or large-sample limits without
    trays.

    References
    ----------
    Altman & Bland 1994, BMJ 308:1552; Begg & Greenes 1983, Biometrics 39:207-215; Zou & Donner 2008, Stat. Med.
    27:1693-1702.

    Examples
    --------
    >>> import rootling as rl
    >>> culled = rl.steps.early_sign([[96, 24], [2, 18]], unread=(0, 60), kept="irrespective", sign="tint")
    >>> [(round(one.value, 3), round(one.as_read, 3)) for one in culled.measures[:2]]
    [(0.923, 0.98), (0.75, 0.429)]
    >>> rl.steps.early_sign([[10, 90], [80, 20]], sign="black tip").points
    'against-rooting'
    """
    if not is_name(sign):
        raise CountError(f'sign={shortened(sign)} is no name of a sign; write sign="tint"')
    tables = tables_of_trays(table)
    if not tables or any(len(one) != 2 or any(len(row) != 2 for row in one) for one in tables):
        raise CountError(
            "a table of a sign has two rows (with the sign, without it) of two (rooted, not rooted); write for example "
            "[[96, 24], [8, 72]]"
        )
    pairs = [[0, 0]] * len(tables) if unread is None else pairs_of_trays("unread", unread, len(tables))
    trays = [[*first, *second, *left] for (first, second), left in zip(tables, pairs, strict=True)]
    return EarlySign(
        _core.steps.early_sign(
            trays, {"sign": sign, "kept": kept, "cost": cost, "worth": worth, "confidence": confidence}
        )
    )
