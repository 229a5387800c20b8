"""Sixty sheets as nurseries keep them, made from counts that are known, by one seed.

Each is a `Made`: the cells as they stand in the spreadsheet, how it is saved, how a hurried user would load it, and the
truth: the counts of every tray by its levels. A sheet loads right, or stops with a line that loads it right.
"""

from __future__ import annotations

import datetime
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import xlsxwriter

Row = list[Any]
Trays = list[dict[str, Any]]


@dataclass
class Made:
    """One sheet, and what is true of it."""

    name: str
    rows: list[Row]
    ask: dict[str, Any]
    truth: Trays
    stops: bool = False
    says: str | None = None
    form: str = "xlsx"
    separator: str = ";"
    first_line: str | None = None
    encoding: str = "utf-8"
    others: dict[str, list[Row]] = field(default_factory=dict)
    merges: list[tuple[int, int, int, int]] = field(default_factory=list)
    first: str = "Trial"

    def save(self, folder: Path) -> Path:
        """Writes the sheet as its users have it."""
        path = folder / f"{self.name.replace(' ', '_').replace('/', '-')}.{self.form}"
        if self.form == "xlsx":
            self._save_workbook(path)
        else:
            lines = [] if self.first_line is None else [self.first_line]
            lines += [self.separator.join("" if cell is None else str(cell) for cell in row) for row in self.rows]
            path.write_bytes(("\r\n".join(lines) + "\r\n").encode(self.encoding))
        return path

    def _save_workbook(self, path: Path) -> None:
        book = xlsxwriter.Workbook(path)
        dates = book.add_format({"num_format": "yyyy-mm-dd"})
        percent = book.add_format({"num_format": "0 %"})
        for name, rows in {self.first: self.rows, **self.others}.items():
            sheet = book.add_worksheet(name)
            for at, row in enumerate(rows):
                for column, cell in enumerate(row):
                    if isinstance(cell, datetime.date):
                        sheet.write_datetime(at, column, datetime.datetime(cell.year, cell.month, cell.day), dates)
                    elif isinstance(cell, Share):
                        sheet.write_number(at, column, cell.value, percent)
                    elif cell is not None:
                        sheet.write(at, column, cell)
        for top, left, bottom, right in self.merges:
            book.worksheets()[0].merge_range(top, left, bottom, right, self.rows[top][left])
        book.close()


@dataclass
class Share:
    """A number that the spreadsheet shows as a percentage."""

    value: float


def trays(random_: random.Random, levels: dict[str, list[Any]], each: int = 4, stuck: int | None = 20) -> Trays:
    """Counts of `each` trays at every combination of levels, numbered through."""
    combinations: list[dict[str, Any]] = [{}]
    for name, values in levels.items():
        combinations = [{**one, name: value} for one in combinations for value in values]
    found: Trays = []
    for place, one in enumerate(combinations):
        for bench in range(each):
            size = stuck or random_.randint(18, 30)
            take = 0.25 + 0.5 * place / max(1, len(combinations) - 1)
            rooted = sum(random_.random() < take for _ in range(size))
            # Odd counts somewhere, so that no sheet of counts looks like one of percentages.
            found.append({**one, "bench": f"B{bench + 1}", "tray": len(found) + 1, "rooted": rooted, "stuck": size})
    if stuck is not None:
        found[0]["rooted"] |= 1
        found[-1]["rooted"] = min(size, found[-1]["rooted"] | 1)
    return found


def table(found: Trays, names: list[str], **spelled: Callable[[Any], Any]) -> list[Row]:
    """A header and a row per tray."""
    spell = [spelled.get(name, lambda value: value) for name in names]
    return [list(names), *([as_(tray[name]) for name, as_ in zip(names, spell, strict=True)] for tray in found)]


NAMES = ["strength", "bench", "tray", "rooted", "stuck"]
ASK: dict[str, Any] = {
    "rooted": "rooted",
    "stuck": "stuck",
    "treatments": ["strength"],
    "tray": "tray",
    "block": "bench",
}


def _asked(**changes: Any) -> dict[str, Any]:
    asked = {**ASK, **changes}
    return {name: value for name, value in asked.items() if value is not None}


def above_and_below(random_: random.Random) -> list[Made]:
    """Titles, blank lines, remarks and totals around the table."""
    made = []
    for name, above in {
        "title": [["Rooting trial Bramblescar, walnut, invented"]],
        "title and blank": [["Rooting trial Bramblescar"], []],
        "title date person": [["Rooting trial"], ["begun", datetime.date(2026, 3, 1)], ["counted by", "anyone"], []],
        "blank lines": [[], [], []],
        "remark with a number": [["20 cuttings per tray", 2026], []],
    }.items():
        found = trays(random_, {"strength": [0, 1000, 3000]})
        says = None if name == "blank lines" else "header_row"
        made.append(Made(name, [*above, *table(found, NAMES)], _asked(), found, says=says))
    for name, row in {
        "total": ["Total", None, None, "sum", "sum"],
        "summe": ["Summe", None, None, "sum", "sum"],
        "average": ["Mean", None, None, "mean", "mean"],
        "mittel": ["Mittelwert", None, None, "mean", "mean"],
        "sum without a word": [3000, "B5", 99, "sum", "sum"],
    }.items():
        found = trays(random_, {"strength": [0, 1000, 3000]})
        rows = table(found, NAMES)
        rooted, stuck = (sum(tray[what] for tray in found) for what in ("rooted", "stuck"))
        sums = {"rooted": rooted, "stuck": stuck} if "sum" in row else {"rooted": 7, "stuck": 20}
        rows.append([*row[:3], sums["rooted"], sums["stuck"]])
        made.append(Made(name, rows, _asked(), found, stops=True))
    made.append(_subtotals(random_))
    found = trays(random_, {"strength": [0, 1000]})
    made.append(
        Made(
            "blank rows", [*table(found, NAMES)[:5], [], *table(found, NAMES)[5:], [], []], _asked(), found, stops=False
        )
    )
    found = trays(random_, {"strength": [0, 1000]})
    rows = table(found, NAMES)
    rows += [[] for _ in range(400)] + [[None, None, None, None, None, " "]]
    made.append(Made("a stray blank far below", rows, _asked(), found))
    found = trays(random_, {"strength": [0, 1000]})
    rows = [[None, *row] for row in table(found, NAMES)]
    made.append(Made("table begins at column b", [[], *rows], _asked(), found))
    found = trays(random_, {"strength": [0, 1000]})
    rows = [[f" {name} " for name in NAMES], *table(found, NAMES)[1:]]
    made.append(Made("spaces around names", rows, _asked(), found))
    return made


def _subtotals(random_: random.Random) -> Made:
    found = trays(random_, {"strength": [0, 1000, 3000]}, stuck=None)
    rows: list[Row] = [list(NAMES)]
    for strength in (0, 1000, 3000):
        part = [tray for tray in found if tray["strength"] == strength]
        rows += table(part, NAMES)[1:]
        rows.append([f"Sum {strength}", None, None, sum(t["rooted"] for t in part), sum(t["stuck"] for t in part)])
    rows.append(["Grand total", None, None, sum(t["rooted"] for t in found), sum(t["stuck"] for t in found)])
    return Made("subtotals", rows, _asked(), found, stops=True)


def percentages(random_: random.Random) -> list[Made]:
    """Percentages where counts belong."""
    made = []
    whole = {
        "percent": "percent",
        "rate": "rate",
        "named rooted": "rooted",
        "sign": "rooted %",
        "rooting rate": "rooting rate",
    }
    for name, column in whole.items():
        found = trays(random_, {"strength": [0, 1000, 3000]})
        rows = table(
            [{**tray, column: 100 * tray["rooted"] // 20} for tray in found],
            ["strength", "bench", "tray", column, "stuck"],
        )
        made.append(Made(f"whole percent {name}", rows, _asked(rooted=column), found, stops=True))
    found = trays(random_, {"strength": [0, 1000, 3000]}, stuck=None)
    with_decimals = [{**tray, "take": round(100 * tray["rooted"] / tray["stuck"], 1)} for tray in found]
    rows = table(with_decimals, ["strength", "bench", "tray", "take", "stuck"])
    made.append(Made("percent with decimals", rows, _asked(rooted="take"), found, stops=True))
    made.append(
        Made("percent with decimals set aside", rows, _asked(rooted="take", bad_rows="set-aside"), found, stops=True)
    )
    rows = table(
        [{**tray, "take": f"{tray['take']} %".replace(".", ",")} for tray in with_decimals],
        ["strength", "bench", "tray", "take", "stuck"],
    )
    made.append(Made("percent signs and commas", rows, _asked(rooted="take"), found, stops=True, form="csv"))
    found = trays(random_, {"strength": [0, 1000, 3000]})
    shares = [{**tray, "take": Share(tray["rooted"] / 20)} for tray in found]
    rows = table(shares, ["strength", "bench", "tray", "take"])
    asked = _asked(rooted=None, rooted_percent="take", stuck=20)
    made.append(Made("shares shown as percent", rows, asked, found, says="counts_from_percent"))
    found = trays(random_, {"strength": [0, 1000, 3000]}, stuck=25)
    rows = table([{**tray, "rooted": 4 * tray["rooted"]} for tray in found], NAMES)
    made.append(Made("percent of 25 in rooted", rows, _asked(), found, stops=True))
    found = trays(random_, {"strength": [0, 1000, 3000]}, stuck=100)
    rows = table(found, ["strength", "bench", "tray", "rooted"])
    made.append(Made("one hundred stuck", rows, _asked(stuck=100), found))
    return made


def wide_sheets(random_: random.Random) -> list[Made]:
    """One column per strength."""
    made = []
    for name, heads, strength in (
        ("wide", [0, 1000, 3000], None),
        ("wide in text", ["0", "1000", "3000"], None),
        (
            "wide with units",
            ["0 mg/L", "1000 mg/L", "3000 mg/L"],
            {"substance": "IBA", "unit": "mg/L", "method": "quick dip"},
        ),
        ("wide with a title", [0, 1000, 3000], None),
        ("wide with gaps", [0, 1000, 3000], None),
        ("wide percent", [0, 1000, 3000], None),
        ("wide percent unsaid", [0, 1000, 3000], None),
    ):
        found = trays(random_, {"strength": [0, 1000, 3000]}, each=5)
        if name == "wide with gaps":
            found.pop()
        cell = {(tray["strength"], tray["bench"]): tray["rooted"] for tray in found}
        factor = 5 if "percent" in name else 1
        body = [
            [
                f"B{bench}",
                *(None if (count := cell.get((s, f"B{bench}"))) is None else factor * count for s in (0, 1000, 3000)),
            ]
            for bench in range(1, 6)
        ]
        rows: list[Row] = [["bench", *heads], *body]
        if name == "wide with a title":
            rows = [["Cuttings rooted by mg/L IBA"], [], *rows]
        asked: dict[str, Any] = {
            "wide": {"strength": [str(head) for head in heads]},
            "stuck": 20,
            "tray": "each-row",
            "block": "bench",
        }
        if strength is not None:
            asked["strength"] = strength
        if name == "wide percent":
            asked["rooted_percent"] = True
        made.append(Made(name, rows, asked, found, stops=name == "wide percent unsaid", says="wide_sheet"))
    return made


def tray_names(random_: random.Random) -> list[Made]:
    """Numbers that start afresh, trays without numbers, trays that were lost."""
    made = []
    for name, levels in (
        ("restart in each strength", {"strength": [0, 1000, 3000]}),
        ("restart in each combination", {"strength": [0, 1000], "rootstock": ["K12", "K17"]}),
    ):
        found = trays(random_, levels)
        again = [{**tray, "tray": at % 4 + 1} for at, tray in enumerate(found)]
        rows = table(again, [*levels, "tray", "rooted", "stuck"])
        made.append(Made(name, rows, _asked(block=None, treatments=list(levels)), found, stops=True))
    found = trays(random_, {"strength": [0, 1000, 3000]})
    rows = table([{**tray, "tray": ["0", "1000", "3000"].index(str(tray["strength"])) + 1} for tray in found], NAMES)
    made.append(Made("restart on each bench", rows, _asked(), found))
    made.append(Made("restart on each bench, bench unsaid", rows, _asked(block=None), found, stops=True))
    found = trays(random_, {"strength": [0, 1000, 3000]})
    rows = table(found, ["strength", "bench", "rooted", "stuck"])
    made.append(Made("no tray numbers", rows, _asked(tray="each-row"), found))
    found = trays(random_, {"strength": [0, 1000, 3000]})
    rows = table(found, ["strength", "bench", "tray", "rooted"])
    made.append(Made("twenty in every tray", rows, _asked(stuck=20), found))
    for name, gone in (("lost blank", (None, None)), ("lost zero", (0, 0))):
        found = trays(random_, {"strength": [0, 1000, 3000]})
        rows = table([{**tray, "remarks": None} for tray in found], [*NAMES, "remarks"])
        rows.append([3000, "B5", 13, *gone, "knocked over"])
        made.append(Made(name, rows, _asked(lost="remarks"), found))
        made.append(Made(f"{name}, reason unsaid", rows, _asked(), found, stops=True))
    found = trays(random_, {"strength": [0, 1000]})
    rows = table(found, NAMES)
    made.append(Made("a row twice", [*rows, rows[-1]], _asked(), found, stops=True))
    return made


def marks(random_: random.Random) -> list[Made]:
    """Merged cells, ditto marks, decimal commas, thousands, dates, crosses."""
    made = []
    found = trays(random_, {"strength": [0, 1000, 3000]})
    first = {tray["strength"]: tray["tray"] for tray in reversed(found)}
    only_first = [
        {**tray, "strength": tray["strength"] if first[tray["strength"]] == tray["tray"] else None} for tray in found
    ]
    merges = [(1 + 4 * place, 0, 4 + 4 * place, 0) for place in range(3)]
    made.append(Made("merged cells", table(only_first, NAMES), _asked(), found, stops=True, merges=merges))
    made.append(
        Made("merged cells filled", table(only_first, NAMES), _asked(fill_down="strength"), found, says="filled_down")
    )
    for name, mark in (("ditto", '"'), ("ditto word", "ditto"), ("two apostrophes", "''")):
        dittoed = [{**tray, "strength": '"' if tray["strength"] is None else tray["strength"]} for tray in only_first]
        dittoed = [{**tray, "strength": mark if tray["strength"] == '"' else tray["strength"]} for tray in dittoed]
        made.append(Made(name, table(dittoed, NAMES), _asked(), found, stops=True, form="csv"))
    dotted = {0: "0", 500: "500", 1000: "1.000", 2500: "2.500"}
    for name, mark in (("thousands dots", "."), ("thousands commas", ","), ("thousands spaces", " ")):
        found = trays(random_, {"strength": list(dotted)})
        rows = table(found, NAMES, strength=lambda value, mark=mark: dotted[value].replace(".", mark))
        made.append(Made(name, rows, _asked(), found, stops=mark != " ", form="csv"))
    for name, form in (("decimal commas", "csv"), ("decimal commas in a workbook", "xlsx")):
        found = trays(random_, {"strength": [0, 0.5, 1.5]})
        made.append(
            Made(
                name,
                table(found, NAMES, strength=lambda value: str(value).replace(".", ",")),
                _asked(),
                found,
                form=form,
            )
        )
    days = {"1-2": datetime.date(2026, 2, 1), "3-4": datetime.date(2026, 4, 3)}
    found = trays(random_, {"buds": list(days)})
    dated = [{**tray, "buds": f"{days[tray['buds']]} 00:00:00"} for tray in found]
    rows = table(found, ["buds", *NAMES[1:]], buds=lambda value: days[value])
    made.append(Made("dates as levels", rows, _asked(treatments=["buds"]), dated, stops=True))
    for name, yes, no in (("ja nein", "ja", "nein"), ("y n", "y", "n"), ("crosses", "x", None)):
        found = trays(random_, {"strength": [0, 1000]})
        cuttings = [
            [tray["strength"], tray["bench"], tray["tray"], yes if cutting < tray["rooted"] else no]
            for tray in found
            for cutting in range(tray["stuck"])
        ]
        rows = [["strength", "bench", "tray", "rooted"], *cuttings]
        made.append(Made(name, rows, _asked(stuck=None), found, says="crosses" if no is None else None))
    found = trays(random_, {"strength": [0, 1000]})
    made.append(
        Made(
            "units in the cells",
            table(found, NAMES, strength=lambda value: f"{value} mg/L"),
            _asked(strength={"substance": "IBA", "unit": "mg/L", "method": "quick dip"}),
            found,
        )
    )
    return made


def files(random_: random.Random) -> list[Made]:
    """Several sheets, separators declared, other letters, marks within entries."""
    made = []
    plans: dict[str, dict[str, list[Row]]] = {
        "a sheet of notes beside": {"Notes": [["watered daily"], ["counted twice"]]},
        "an empty sheet beside": {"Sheet2": []},
        "two years": {},
    }
    for name, others in plans.items():
        found = trays(random_, {"strength": [0, 1000]})
        if name == "two years":
            others = {"2025": table(trays(random_, {"strength": [0, 1000]}), NAMES)}
        says = "sheet" if name == "a sheet of notes beside" else None
        made.append(
            Made(name, table(found, NAMES), _asked(), found, stops=name == "two years", says=says, others=others)
        )
    found = trays(random_, {"strength": [0, 1000]})
    made.append(Made("separator declared", table(found, NAMES), _asked(), found, form="csv", first_line="sep=;"))
    made.append(Made("blank lines in a csv", [[], [], *table(found, NAMES)], _asked(), found, form="csv"))
    made.append(
        Made(
            "title in a csv",
            [["Trial, Bramblescar"], [], *table(found, NAMES)],
            _asked(),
            found,
            form="csv",
            says="header_row",
        )
    )
    rows = table([{**tray, "pot": '5" pot'} for tray in found], [*NAMES, "pot"])
    made.append(Made("inches", rows, _asked(), found, form="csv", separator=","))
    rows = table(
        [{**tray, "remarks": '"' if tray["tray"] in (3, 7) else "good"} for tray in found], [*NAMES, "remarks"]
    )
    made.append(Made("ditto in the remarks", rows, _asked(), found, form="csv", separator=","))
    rows = table([{**tray, "bench": f"Süd {tray['bench']}"} for tray in found], NAMES)
    made.append(Made("other letters", rows, _asked(), found, stops=True, form="csv", encoding="cp1252"))
    made.append(Made("two bytes a letter", rows, _asked(), found, stops=True, form="csv", encoding="utf-16"))
    rows = [["Strength", *NAMES[1:]], *table(found, NAMES)[1:]]
    made.append(Made("another capital", rows, _asked(), found, stops=True))
    return made


def all_made(seed: int = 1) -> list[Made]:
    """Every sheet."""
    random_ = random.Random(seed)
    kinds = (above_and_below, percentages, wide_sheets, tray_names, marks, files)
    return [made for kind in kinds for made in kind(random_)]
