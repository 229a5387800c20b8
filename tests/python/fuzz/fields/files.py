"""Files that are damaged or are none, and reports to places that cannot hold them."""

from __future__ import annotations

import io
import os
import random
import zipfile
from pathlib import Path
from typing import Any

import polars as pl
import rootling as rl

from fuzz import draw
from fuzz.fields import csv_bytes, place, trials, verbs
from fuzz.oracle import Oracle

_report: list[Any] = []


def sound(rng: random.Random, frame: pl.DataFrame, suffix: str) -> bytes:
    """The bytes of a file as it should be."""
    held = io.BytesIO()
    if suffix == ".parquet":
        frame.write_parquet(held, compression=rng.choice(["zstd", "snappy", "uncompressed", "gzip"]))
    elif suffix in (".xlsx", ".xlsm"):
        frame.write_excel(held)
    else:
        frame.write_csv(held)
    return held.getvalue()


def in_zip(rng: random.Random, data: bytes) -> bytes:
    """A workbook whose parts are changed and packed again, so that the damage is not caught by a check sum."""
    held = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as new:
        parts = old.namelist()
        changed = rng.choice([part for part in parts if "sheet1" in part] + parts)
        for part in parts:
            text = old.read(part)
            if part == changed:
                text = _part(rng, text)
            if text is not None:
                new.writestr(part, text)
    return held.getvalue()


def _part(rng: random.Random, text: bytes) -> bytes | None:
    makers = [
        lambda: None,
        lambda: b"",
        lambda: csv_bytes.spoiled(rng, text),
        lambda: text.replace(
            b'r="A2"', rng.choice([b'r="A900"', b'r="XFD2"', b'r="A0"', b'r="AAAA1"', b'r="2A"', b""])
        ),
        lambda: text.replace(b'r="2"', rng.choice([b'r="0"', b'r="-1"', b'r="99999"', b'r="x"'])),
        lambda: text.replace(b"<v>", b"<v>" + rng.choice([b"-", b"1e400", b"99999999999999999999", b"x", b"&lt;"])),
        lambda: text.replace(b't="s"', rng.choice([b't="e"', b't="b"', b't="str"', b't="x"', b't="d"'])),
        lambda: text.replace(b"<sheetData>", b"<sheetData><sheetData>" * 3),
        lambda: b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bbb">]>' + text.split(b"?>", 1)[-1],
    ]
    return rng.choice(makers)()


def damaged(look: Oracle) -> None:
    rng = look.rng
    design = trials.make(rng)
    suffix = rng.choice([".parquet", ".parquet", ".xlsx", ".xlsx", ".xlsm", ".csv"])
    data = sound(rng, design.frame, suffix)
    data = in_zip(rng, data) if suffix in (".xlsx", ".xlsm") and rng.random() < 0.7 else flipped(rng, data)
    path = (
        place.folder()
        / f"trial{suffix if rng.random() < 0.9 else rng.choice(['.parquet', '.xlsx', '.csv', '.txt', '.ods'])}"
    )
    path.write_bytes(data)
    roles = dict(design.roles)
    if rng.random() < 0.3:
        roles["bad_rows"] = "set-aside"
    if rng.random() < 0.2:
        roles[rng.choice(["sheet", "header_row", "encoding"])] = draw.silly(rng)
    trial = look.call(rl.load_trial, path, **roles)
    if trial is not None:
        name, given, options = verbs.question(look, design)
        look.call(getattr(trial, name), *given, **options)


def flipped(rng: random.Random, data: bytes) -> bytes:
    made = bytearray(data)
    where = rng.choice([0, max(0, len(made) - 400)])
    for _ in range(rng.choice([0, 1, 1, 2, 8])):
        if made:
            made[min(len(made) - 1, rng.randrange(where, len(made) + 1))] = rng.randrange(256)
    cut = rng.random()
    return bytes(made[: rng.randrange(len(made) + 1)] if cut < 0.1 else made + b"\x00" * 9 if cut < 0.15 else made)


def odd_path(rng: random.Random, suffix: str) -> Any:
    """A path that leads nowhere, somewhere odd, or is none."""
    folder = place.folder()
    (folder / f"folder{suffix}").mkdir(exist_ok=True)
    loop, dead, pipe = folder / f"loop{suffix}", folder / f"dead{suffix}", folder / f"pipe{suffix}"
    for link, to in ((loop, loop.name), (dead, "nowhere")):
        if not link.is_symlink():
            link.symlink_to(to)
    makers = [
        lambda: folder / f"folder{suffix}",
        lambda: loop,
        lambda: dead,
        lambda: folder / "missing" / f"trial{suffix}",
        lambda: folder / f"{'n' * rng.choice([200, 255, 300, 5000])}{suffix}",
        lambda: f"{folder}/a\x00b{suffix}",
        lambda: folder / f"{draw.name(rng, 0.9).replace('/', '')}{suffix}",
        lambda: f"/dev/null/x{suffix}",
        lambda: "/dev/full" if suffix == ".html" else "/dev/null",
        lambda: "",
        lambda: ".",
        lambda: "/",
        lambda: f"~{suffix}",
        lambda: os.fsencode(str(folder / f"trial{suffix}")),
        lambda: draw.silly(rng),
        lambda: _pipe(pipe) if suffix != ".html" else folder,
    ]
    return rng.choice(makers)()


def _pipe(path: Path) -> Path:
    if not path.exists():
        os.mkfifo(path)
    return path


def odd_paths(look: Oracle) -> None:
    design = trials.make(look.rng)
    look.call(rl.load_trial, odd_path(look.rng, look.rng.choice([".csv", ".parquet", ".xlsx", ""])), **design.roles)


def reports(look: Oracle) -> None:
    """A report is written whole, or what stood there stays."""
    rng = look.rng
    if not _report:
        roles = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray", "block": "bench"}
        _report.append(rl.tables.chi_square([[8, 2], [1, 5]]))
        _report.append(rl.load_trial(rl.demo.two_strengths(seed=1), **roles).model("strength").checks())
    title = draw.name(rng, 0.8) if rng.random() < 0.8 else draw.silly(rng)
    what = rng.choice([_report[0], _report[0], [_report[0]], [], draw.silly(rng)])
    if rng.random() < 0.5:
        path: Any = place.folder() / "report.html"
        path.write_text("as it was", encoding="utf-8")
        found = look.call(rl.report.write, what, path, title=title)
        text = path.read_text(encoding="utf-8")
        if not (
            text.startswith("<!doctype html>") and text.rstrip().endswith("</html>") if found else text == "as it was"
        ):
            look.fail("file", "a report is not whole", text[:300])
        if "<script>alert" in text:
            look.fail("injection", "report", title)
    else:
        look.call(rl.report.write, what, odd_path(rng, ".html"), title=title)
    if left := [p.name for p in place.folder().iterdir() if p.name.endswith(".part")]:
        look.fail("file", "a part of a report is left", str(left))


def run(look: Oracle) -> None:
    place.clear()
    os.chdir(place.folder())  # Some names of files are relative.
    look.rng.choices([damaged, odd_paths, reports], [5, 2, 1])[0](look)
