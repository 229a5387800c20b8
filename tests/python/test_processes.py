"""The package in other processes and threads. None of it may hang; each test runs under a limit of time."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

LIMIT = 60

SETUP = """
import asyncio, concurrent.futures, multiprocessing, os, signal, sys, threading
import rootling as rl

def trial(seed=1):
    return rl.load_trial(rl.demo.two_strengths(seed=seed), rooted="rooted", stuck="stuck", treatments=["strength"],
                         tray="tray", block="bench")

def answer(seed=1):
    one = trial(seed)
    model = one.model("strength")
    drawn = rl.compare.randomisation([k / 40 for k in range(30)], [k / 50 for k in range(30)], draws=20_000, seed=3)
    many = rl.rates.interval(list(range(500)), 900, method="mid-p").table()["value"].sum()
    return one.compare("strength", 2500, 5000).p, model.what_matters().table()["p"][0], drawn.p, many

def table():
    return rl.tables.freeman_halton([[5, 2, 9], [4, 8, 1], [3, 3, 7]]).p
"""

FORKED = """
here = answer(), table()
with multiprocessing.get_context("fork").Pool(2) as pool:
    there = pool.map(answer, [1, 1, 1, 1])
assert all(one == here[0] for one in there), (there, here)
print("alike")
"""

DEEP = """
here = answer()
def down(depth):
    assert answer() == here
    if depth == 0:
        return 0
    child = os.fork()
    if child == 0:
        os._exit(down(depth - 1))
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
sys.exit(down(10))
"""

OTHER = """
if __name__ == "__main__":
    here = answer()
    for way in ("spawn", "forkserver"):
        with concurrent.futures.ProcessPoolExecutor(2, mp_context=multiprocessing.get_context(way)) as pool:
            assert list(pool.map(answer, [1, 1])) == [here, here]
    print("alike")
"""

THREADS = """
here = answer()
with concurrent.futures.ThreadPoolExecutor(8) as pool:
    assert all(one == here for one in pool.map(answer, [1] * 16))

async def all_at_once():
    return await asyncio.gather(*(asyncio.to_thread(answer) for _ in range(8)))

assert all(one == here for one in asyncio.run(all_at_once()))
print("alike")
"""

FILES = """
with open(sys.argv[1], "w") as file:
    file.write("strength,tray,rooted,stuck\\n0,a,3,20\\n0,b,5,20\\n2500,c,9,20\\n2500,d,12,20\\n")
def load(_):
    one = rl.load_trial(sys.argv[1], rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray")
    return one.compare("strength", 0, 2500).p
here = load(0)
with multiprocessing.get_context("fork").Pool(2) as pool:
    assert list(pool.map(load, range(2))) == [here, here]
"""

TABLES = """
import xlsxwriter
from pathlib import Path
import polars as pl

FRAME = {"strength": [0, 0, 2500, 2500], "tray": list("abcd"), "rooted": [3, 5, 9, 12], "stuck": [20] * 4}
FOLDER = Path(sys.argv[1]).parent

def write():
    pl.DataFrame(FRAME).write_parquet(FOLDER / "trays.parquet")
    with xlsxwriter.Workbook(FOLDER / "trays.xlsx") as book:
        sheet = book.add_worksheet()
        for at, (name, values) in enumerate(FRAME.items()):
            sheet.write_column(0, at, [name, *values])

def load(ending):
    path = FOLDER / f"trays.{ending}"
    one = rl.load_trial(path, rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray")
    return one.compare("strength", 0, 2500).p

def told(ending):
    try:
        return load(ending)
    except rl.TrialDataError as error:
        return error.issues[0].code

def asked_lazily():
    try:
        rl.load_trial(pl.LazyFrame(FRAME), rooted="rooted", stuck="stuck", treatments=["strength"], tray="tray")
    except rl.TrialDataError as error:
        return error.issues[0].code
"""

FORKED_TABLES = """
write()
here = load("xlsx")
assert load("parquet") == here
with multiprocessing.get_context("fork").Pool(2) as pool:
    # The threads that read parquet are in the parent alone: a sentence, and no waiting for ever.
    assert pool.map(told, ["xlsx", "parquet"] * 2) == [here, "forked_process"] * 2
    lazy = pool.apply(asked_lazily)
assert lazy == "forked_process", lazy
"""

FRESH_FORKS = """
if "write" in sys.argv:
    write()
    sys.exit()
import subprocess
subprocess.run([sys.executable, __file__, sys.argv[1], "write"], check=True)
with multiprocessing.get_context("fork").Pool(2) as pool:
    there = pool.map(told, ["xlsx", "parquet"] * 2)
assert there == [load("parquet")] * 4, there
"""

OTHER_TABLES = """
if __name__ == "__main__":
    write()
    here = load("parquet")
    for way in ("spawn", "forkserver"):
        with concurrent.futures.ProcessPoolExecutor(2, mp_context=multiprocessing.get_context(way)) as pool:
            assert list(pool.map(load, ["parquet", "xlsx"])) == [here, here]
"""

THREADED_TABLES = """
write()
here = load("parquet")
with concurrent.futures.ThreadPoolExecutor(4) as pool:
    assert set(pool.map(load, ["parquet", "xlsx"] * 4)) == {here}

async def all_at_once():
    return await asyncio.gather(*(asyncio.to_thread(load, ending) for ending in ["parquet", "xlsx"] * 2))

assert set(asyncio.run(all_at_once())) == {here}
"""

STOPPED = """
answer()
child = os.fork()
if child == 0:
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.write(1, b"ready\\n")
    try:
        rl.compare.randomisation([k / 60 for k in range(60)], [k / 70 for k in range(60)], draws=10**9)
    except KeyboardInterrupt:
        os._exit(7)
    os._exit(1)
os.write(1, b"%d\\n" % child)
print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


def run(tmp_path, code: str) -> subprocess.CompletedProcess[str]:
    script = tmp_path / "job.py"
    script.write_text(SETUP + code, encoding="utf-8")
    command = [sys.executable, "-W", "ignore::DeprecationWarning", str(script), str(tmp_path / "trays.csv")]
    return subprocess.run(command, capture_output=True, text=True, timeout=LIMIT, check=False)


@pytest.mark.parametrize(
    "code", [FORKED, DEEP, FILES, OTHER, THREADS], ids=["fork", "forks of forks", "files", "spawn", "threads"]
)
def test_every_way_gives_the_same_answer(tmp_path, code: str) -> None:
    done = run(tmp_path, code)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(
    "code",
    [FORKED_TABLES, FRESH_FORKS, OTHER_TABLES, THREADED_TABLES],
    ids=["fork", "fork before the first table", "spawn", "threads"],
)
def test_parquet_and_xlsx_are_read_or_refused_everywhere(tmp_path, code: str) -> None:
    done = run(tmp_path, TABLES + code)
    assert done.returncode == 0, done.stdout + done.stderr


def test_a_forked_child_is_interrupted(tmp_path) -> None:
    script = tmp_path / "job.py"
    script.write_text(SETUP + STOPPED, encoding="utf-8")
    command = [sys.executable, "-W", "ignore::DeprecationWarning", str(script)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            lines = sorted([process.stdout.readline().strip(), process.stdout.readline().strip()])
            assert lines[1] == "ready"
            time.sleep(0.5)
            begun = time.monotonic()
            os.kill(int(lines[0]), signal.SIGINT)
            assert process.stdout.readline().strip() == "7"
            assert time.monotonic() - begun < 1.5
        finally:
            process.kill()
