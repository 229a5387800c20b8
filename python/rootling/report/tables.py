"""The table of an answer as a journal prints it: one a question, heads that a person would write, footnotes below."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from rootling import _core
from rootling._figures import carried_by, unit_of
from rootling._results import display
from rootling._words import outcomes
from rootling.report.along import by_strength, with_shapes
from rootling.report.footnotes import interval_word, notes_of

if TYPE_CHECKING:
    from rootling._results import Result

__all__ = ["Table", "alike", "more_of", "table_of"]

# Columns whose one entry, where all rows share it, is told below the table and not in it.
CONSTANT = ("confidence", "statistic_is", "test", "counts", "df", "error_df", "other_effects")
# Ends of heads of two columns that are the limits of one thing.
ENDS = {"low": (", from", " from", "from", ", low", " low"), "high": (", to", " to", "to", ", high", " high")}
# What stands last, in this order: of how many.
LAST = ("n_carrying", "n_units", "stuck", "rooted", "n_cuttings")
# What the values of a kind are called, where they are takes.
CALLED = {"adjusted_rates": "{rate}, adjusted", "letters": "{rate}, adjusted", "predictions": "{rate} expected"}
SCALES = {"difference": "difference", "odds-ratio": "odds ratio", "ratio": "ratio"}
LEAST = 1e-9
# Answers whose counts stand behind what they say, and so to the right of it.
COUNTED = ("comparison", "take_rates", "adjusted_rates", "letters")
# Columns of words in which treatments are named.
NAMING = ("effect", "effects", "treatment", "comparison", "coefficient", "changes")


@dataclass(frozen=True)
class Table:
    """Columns as the core renders them, which of them are limits of one thing, and what is said below."""

    columns: list[dict[str, Any]]
    # By the place of a lower limit, the head of both; the upper one stands right of it.
    pairs: dict[int, str] = field(default_factory=dict)
    footnotes: tuple[str, ...] = ()
    # What it holds, where that is not the numbers of the answer.
    title: str = ""

    def cells(self, where: str) -> tuple[list[str], list[list[str]], list[bool]]:
        """Heads, rows and which columns hold numbers, safe where they stand: limits of one thing in one column."""
        shown = _core.report.cells({"columns": self.columns}, where)
        heads = [display.safe(self.pairs[at], where) if at in self.pairs else one for at, one in _kept(self, shown)]
        rows = [_joined(self, row) for row in shown["rows"]]
        return heads, rows, [shown["numeric"][at] for at, _ in _kept(self, shown)]


def _kept(table: Table, shown: dict[str, Any]) -> list[tuple[int, str]]:
    """Heads with their places, those of upper limits left out."""
    return [(at, head) for at, head in enumerate(shown["heads"]) if at - 1 not in table.pairs]


def _joined(table: Table, row: Sequence[str]) -> list[str]:
    return [
        _between(one, row[at + 1]) if at in table.pairs else one
        for at, one in enumerate(row)
        if at - 1 not in table.pairs
    ]


def _between(low: str, high: str) -> str:
    """Two limits in one entry, what they share said once.

    >>> _between("22.7 %", "35.5 %"), _between("5000", "no upper limit"), _between("", "")
    ('22.7 to 35.5 %', '5000, no upper limit', '')
    """
    if not low or not high:
        return low or high
    if "limit" in low or "limit" in high or "never" in high:
        return f"{low}, {high}"
    unit = next((one for one in (r" \%", " %", " points") if low.endswith(one) and high.endswith(one)), "")
    return f"{low.removesuffix(unit)} to {high}"


def table_of(result: Result, beside: Result | None = None) -> Table:
    """The table of a result; ``beside`` are letters of the same rates, or the rates of the same letters."""
    columns = [dict(one) for one in display.table_of(result)["columns"]]
    columns = [_spelled(one, result) for one in with_shapes(_with_others(result, beside, columns), result)]
    told = _tests(result)
    columns = [one for one in columns if not _told_below(one, columns, told)]
    for one in columns:
        _head(one, result, told)
    if result.kind in COUNTED:
        columns = [*(one for one in columns if one["name"] not in LAST), *_last(columns)]
    pairs = _pairs(columns, interval_word(result))
    return Table(columns, pairs, notes_of([result] if beside is None else [result, beside], columns, told))


def more_of(result: Result) -> list[Table]:
    """Further tables of an answer: of a curve its strengths, counted and by the curve."""
    columns = [dict(one) for one in by_strength(result)]
    for one in columns:
        _head(one, result, {})
    if not columns:
        return []
    words = outcomes.words_of(result)
    notes = notes_of([result], columns, {})
    notes += (f"By the curve: the {words['rate']} of the fitted curve at that strength.",)
    return [Table(columns, _pairs(columns, interval_word(result)), notes, "Counted and fitted at each strength")]


def _tests(result: Result) -> dict[str, str]:
    """Of two levels compared, by what each P value was found; too long for a column of a table."""
    if result.kind != "comparison":
        return {}
    of = {one["name"]: one["values"] for one in display.table_of(result)["columns"]}
    named = [f"{what}, {test}" for what, test in zip(of["what"], of.get("test", ()), strict=False) if test]
    return {"tests": "; ".join(named)} if named else {}


def _last(columns: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return sorted((one for one in columns if one["name"] in LAST), key=lambda one: LAST.index(one["name"]))


def alike(one: Result, other: Result) -> bool:
    """True for letters and adjusted rates of the same levels and the same values: one table holds both."""
    if {one.kind, other.kind} != {"letters", "adjusted_rates"}:
        return False
    first, second = one._record, other._record
    if any(first.get(name) != second.get(name) for name in ("by", "within", "confidence")):
        return False
    ours, theirs = first["rates"], second["rates"]
    return len(ours) == len(theirs) and all(_same_rate(mine, its) for mine, its in zip(ours, theirs, strict=True))


def _same_rate(one: dict[str, Any], other: dict[str, Any]) -> bool:
    named = all(one.get(name) == other.get(name) for name in ("by", "within", "rooted", "stuck"))
    return named and all(abs(one[name] - other[name]) <= LEAST for name in ("value", "low", "high"))


def _with_others(result: Result, beside: Result | None, columns: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Columns that the record holds and the table does not: standard errors of letters, counts of two levels."""
    record = result._record
    names = [one["name"] for one in columns]
    errors = _errors(result) if "se" not in names and "low" in names else []
    if any(one is not None for one in errors):
        own = {"name": "se", "kind": "number", "scale": "size", "values": errors}
        columns.insert(names.index("low"), own)
    if result.kind == "adjusted_rates" and beside is not None:
        letters = [one["letters"] for one in beside._record["rates"]]
        columns.insert(names.index("high") + 1, {"name": "letters", "kind": "text", "scale": "text", "values": letters})
    if result.kind == "comparison":
        columns += _counts(record, columns, outcomes.words_of(result))
        columns = [one for one in columns if one["name"] != "test"]
    return _of_bays(result, columns)


def _errors(result: Result) -> list[Any]:
    """The standard error of each line, where the record holds it: of rates, of two levels and their difference."""
    record = result._record
    if result.kind in ("letters", "take_rates"):
        return [one.get("se") for one in record["rates"]]
    if result.kind == "comparison" and isinstance(record.get("first"), dict) and isinstance(record.get("second"), dict):
        own = [record["first"].get("se"), record["second"].get("se"), record.get("se")]
        rows = len(next(one["values"] for one in display.table_of(result)["columns"] if one["name"] == "value"))
        return [*own, *[None] * rows][:rows]
    return []


def _of_bays(result: Result, columns: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """How many bays hold each level of a treatment that was given to them, beside the trays of that line."""
    names = [one["name"] for one in columns]
    if result.kind not in COUNTED or "n_units" not in names:
        return columns
    for given in carried_by(result):
        levels = next(
            (one for one in columns if one["name"] == given["treatment"] and one.get("scale") == "level"), None
        )
        bays = dict(map(tuple, given.get("levels") or ()))
        bay = str(given["unit"]).replace("_", " ").partition(" within ")[0]
        if levels is not None and bay != unit_of(result):
            head = f"{outcomes.plural(bay)}, n"
            values = [bays.get(level) for level in levels["values"]]
            columns.append({"name": "n_carrying", "kind": "whole", "scale": "count", "values": values, "head": head})
    return columns


def _counts(record: dict[str, Any], columns: list[dict[str, Any]], words: dict[str, str]) -> list[dict[str, Any]]:
    """The units and cuttings of the two levels compared, where their rates are its first rows."""
    levels = [one if isinstance(one, dict) else {} for one in (record.get("first"), record.get("second"))]
    values: list[Any] = next((one["values"] for one in columns if one["name"] == "value"), [])
    if [one.get("value") for one in levels] != values[:2] or None in values[:2]:
        return []
    rows = len(values)
    heads = {"n_units": None, "stuck": words["stuck_head"], "rooted": words["counted_head"]}
    made: list[dict[str, Any]] = []
    for name, head in heads.items():
        counts = [one.get(name) for one in levels]
        if all(isinstance(one, int) for one in counts):
            whole = {"name": name, "kind": "whole", "scale": "count", "values": [*counts, *[None] * (rows - 2)]}
            made.append(whole if head is None else {**whole, "head": head})
    return made


def _told_below(column: dict[str, Any], columns: list[dict[str, Any]], told: dict[str, str]) -> bool:
    """True for a column that says the same in every row, which is then told below the table."""
    name = column["name"]
    entries = [row[0] for row in _core.report.cells({"columns": [column]}, "terminal")["rows"]]
    said = [one for one in entries if one]
    if name not in CONSTANT or len(set(said)) > 1 or column is columns[0]:
        return False
    if name != "confidence" and len(entries) < len(("one", "another")):
        return False
    # Degrees of freedom of one line alone are easier read in that line.
    if name in ("df", "error_df") and len(said) < len(("one", "another")):
        return False
    told |= dict.fromkeys([name] if said else [], "".join(said[:1]))
    return True


def _head(column: dict[str, Any], result: Result, told: dict[str, str]) -> None:
    """What a person would write above a column."""
    substance = _substance(result)
    name, scale = column["name"], column.get("scale")
    trial: Any = result._context.get("trial")
    given = None if trial is None else trial._core.options["strength"]
    if given is not None and scale == "level" and name == (trial._core.options["strength_column"] or "strength"):
        column["head"] = ", ".join(str(given[one]) for one in ("substance", "unit") if given.get(one))
    elif given is not None and name == "comparison" and _of_strength(result, trial):
        column["head"] = f"comparison of {given.get('substance') or 'strengths'}, {given['unit']}"
        begin = f"{_plain_name(result._record['by'])} "
        column["values"] = [None if one is None else str(one).removeprefix(begin) for one in column["values"]]
    elif column.get("unit"):
        whose = substance if name in ("value", "strength") and not column.get("head") else ""
        column["head"] = f"{whose or _plain(column)}, {column.pop('unit')}"
    elif name == "n_units":
        column["head"] = f"{outcomes.plural(unit_of(result)) if not column.get('head') else column['head']}, n"
    elif (name == "stuck" and column.get("head") == "stuck") or (name == "n_cuttings" and not column.get("head")):
        column["head"] = "cuttings, n"
    elif name == "rooted" and column.get("head"):
        column["head"] = f"{column['head']}, n"
    elif name == "se":
        column["head"] = "SE"
    elif name == "statistic" and "statistic_is" in told:
        column["head"] = told.pop("statistic_is")
    elif name == "value" and not column.get("head"):
        column["head"] = _value(result, scale)


def _of_strength(result: Result, trial: Any) -> bool:
    by = result._record.get("by")
    return isinstance(by, str) and by == (trial._core.options["strength_column"] or "strength")


def _plain_name(name: str) -> str:
    return name.replace("_", " ")


def _spelled(column: dict[str, Any], result: Result) -> dict[str, Any]:
    """Treatments named in words as they are spoken: ``dark_days`` as dark days."""
    trial = result._context.get("trial")
    if trial is None or column["name"] not in NAMING or column["kind"] != "text":
        return column
    names = [one["name"] for one in trial._core.units["treatments"] if "_" in one["name"]]
    values = column["values"]
    for name in names:
        word = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")
        values = [None if one is None else word.sub(_plain_name(name), one) for one in values]
    return {**column, "values": values}


def _plain(column: dict[str, Any]) -> str:
    bare = {**column, "unit": None}
    return str(_core.report.cells({"columns": [bare]}, "terminal")["heads"][0])


def _value(result: Result, scale: Any) -> str:
    if scale == "rate":
        return CALLED.get(result.kind, "{rate}").format_map(outcomes.words_of(result))
    return SCALES.get(scale if isinstance(scale, str) else "", "value")


def _substance(result: Result) -> str:
    """What the strengths of a result are of, where it is known."""
    trial = result._context.get("trial")
    asked = result._record.get("input")
    given = asked.get("strength") if isinstance(asked, dict) else None
    if given is None and trial is not None:
        given = trial._core.options["strength"]
    return str(given.get("substance") or "") if isinstance(given, dict) else ""


def _pairs(columns: list[dict[str, Any]], interval: str) -> dict[int, str]:
    """By the place of a lower limit, the head of both limits, where the upper one is its neighbour."""
    found = {}
    for at, (low, high) in enumerate(pairwise(columns)):
        bases = [_base(one, side) for one, side in ((low, "low"), (high, "high"))]
        if None in bases or bases[0] != bases[1] or low["name"] != high["name"].removesuffix("high") + "low":
            continue
        base = str(bases[0])
        unit = low["head"].rpartition(", ")[2] if ", " in str(low.get("head")) and _has_unit(low) else ""
        named = interval if not base else base if low["name"] == "range_low" else f"{base}, {interval}"
        found[at] = f"{named}, {unit}" if unit else named
    return found


def _has_unit(column: dict[str, Any]) -> bool:
    return column.get("scale") in ("strength", "strength-or-never") or isinstance(column.get("scale"), list)


def _base(column: dict[str, Any], side: str) -> str | None:
    """Of what a column is a limit, by its head; none where it is no limit."""
    if column["name"] != side and not column["name"].endswith(f"_{side}"):
        return None
    head = _plain(column)
    if _has_unit(column) and column.get("head"):
        head = head.rpartition(", ")[0] or head
    ends = (end for end in ENDS[side] if head.endswith(end))
    return next((head.removesuffix(end) for end in ends), None)
