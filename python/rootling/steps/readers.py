"""What two readers of the same plants agree on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rootling import _core
from rootling._given import is_name, listed, shortened
from rootling._given.choices import Confidence, GradeWeights
from rootling.exceptions import CountError
from rootling.steps.given import tables_of_trays
from rootling.steps.results import Agreement


def agreement(
    table: Any,
    *,
    answers: Sequence[str] | None = None,
    weights: GradeWeights = "same",
    confidence: Confidence = 0.95,
) -> Agreement:
    """How far two readers of the same plants agree: in all, on each answer, and beyond chance (kappa).

    Parameters
    ----------
    table : list of rows, or list of tables
        Plants by the answer of the first reader (rows) and of the second (columns), for example
        ``[[both yes, first only], [second only, both no]]``; a list of such tables, one for each tray, where trays are
        known.
    answers : list of str, optional
        Names of the answers in the order of rows and columns; yes and no, or grades from 0, when left out.
    weights : {"same", "linear", "squared"}
        How much two different grades still agree, in kappa: not at all, less by each grade between them, less by its
        square.
    confidence : float
        Confidence level, a proportion.

    Returns
    -------
    Agreement
        ``value`` (share of plants with the same answer) with limits, ``by_chance``, ``kappa`` with ``kappa_se``,
        ``kappa_low`` and ``kappa_high``, and for each of ``answers`` the agreement on it (``agreed``; for two answers
        these are positive and negative agreement), how often each reader gives it, and the ``difference``, second minus
        first.

    Raises
    ------
    CountError
        When tables are not square or not of one size, names do not fit, or no plant was read.

    Notes
    -----
    With trays limits of kappa and of differences come from leaving out one tray after the other, with t on trays less
    one; without trays kappa has the large-sample standard error of Fleiss, Cohen and Everitt and plants count as
    independent. Where nearly all plants get one answer kappa is near 0 however well readers agree; a note then says so.

    References
    ----------
    Cohen 1960; Fleiss, Cohen & Everitt 1969, Psychol. Bull. 72:323-327; Feinstein & Cicchetti 1990,
    J. Clin. Epidemiol. 43:543-549.

    Examples
    --------
    >>> import rootling as rl
    >>> found = rl.steps.agreement([[106, 10, 4], [22, 28, 10], [2, 12, 6]])
    >>> round(found.kappa, 4), round(found.kappa_se, 4)
    (0.4286, 0.0537)
    """
    options = {
        "answers": _names(answers),
        "weights": weights,
        "confidence": confidence,
    }
    return Agreement(_core.steps.agreement(tables_of_trays(table), options))


def _names(answers: Any) -> list[str]:
    try:
        names = listed(answers)
    except TypeError:
        names = [""]
    if not all(is_name(name) for name in names):
        raise CountError(
            f'answers={shortened(answers)} is no list of names; write for example answers=["rooted", "not rooted"]'
        )
    return names
