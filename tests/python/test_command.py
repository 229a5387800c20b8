"""The command line: what is asked is answered, mistakes are one sentence, codes are kept, and no output breaks it."""

from __future__ import annotations

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
from pathlib import Path

import polars as pl
import pytest
import rootling as rl
from rootling._results import Result
from rootling.command import main
from rootling.command.mistakes import CommandError, code_of
from rootling.command.spoken import spoken

README = Path(__file__).resolve().parents[2] / "README.md"
PLACES = ["--block", "bench"]
ASKED = [*PLACES, "--treatment", "strength", "2500", "5000"]
COMMANDS = [
    *(
        [],
        ["check"],
        ["answer"],
        ["report"],
        ["decide"],
        ["verify"],
        ["demo"],
        ["plan"],
        ["plan", "trays-needed"],
        ["plan", "power"],
    ),
    *(["plan", "precision"], ["plan", "smallest-difference"], ["plan", "layout"], ["steps"], ["steps", "yields"]),
]


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def table() -> str:
    rl.demo.two_strengths(seed=1).write_csv("trays.csv")
    return "trays.csv"


def run(*words: str, **more: str) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "rootling", *words]
    return subprocess.run(command, capture_output=True, env={**os.environ, **more}, check=False, timeout=120)


# Answers


def test_an_answer_is_the_sentence_first(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    strength = ["--substance", "IBA", "--unit", "mg/L", "--method", "quick dip"]
    assert main(["answer", table, *ASKED, *strength]) == 0
    shown = capsys.readouterr()
    trial = rl.load_trial(
        table,
        rooted="rooted",
        stuck="stuck",
        treatments=["strength"],
        tray="tray",
        block="bench",
        strength=rl.Strength("IBA", unit="mg/L", method="quick dip"),
    )
    found = trial.compare("strength", 2500, 5000)
    assert " ".join(shown.out.split("\n\n")[0].split()) == found.sentence
    told = " ".join(shown.out.split())
    assert all(" ".join(line.split()) in told for line in found.details)
    assert all(note.text in told for note in found.notes)
    assert "<" not in shown.out
    assert "**" not in shown.out


def test_the_record_is_that_of_the_question(table: str, trial: rl.Trial, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["answer", table, *ASKED, "--json"]) == 0
    assert rl.Result.from_json(capsys.readouterr().out) == trial.compare("strength", 2500, 5000)


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        (["--treatment", "strength"], "all_comparisons"),
        (["--treatment", "strength", "--against", "0", "--together", "bonferroni"], "all_comparisons"),
        (["--treatment", "strength", "--within", "rootstock"], "association"),
        (["--treatment", "strength", "0", "2500", "--at", "rootstock=K12", "--margin", "0.1"], "comparison"),
        (["--treatments", "strength", "rootstock", "dark_days"], "what_matters"),
        (["--treatment", "dark_days", "--confidence", "0.9"], "comparison"),
        (["--treatment", "dark_days", "--trays", "ignore", "--seed", "3", "--nearly", "0.05"], "comparison"),
    ],
)
def test_questions(words: list[str], kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    rl.demo.factorial(seed=1).write_csv("trays.csv")
    assert main(["answer", "trays.csv", *PLACES, *words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["kind"] == kind


def test_a_check_says_what_is_there(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", table]) == 0
    shown = capsys.readouterr()
    assert shown.out.startswith("The experimental unit is the tray: 12 trays")
    assert "as in --block bench" in " ".join(shown.out.split())
    assert shown.err == (
        "Taken from the names of the columns: --rooted rooted --stuck stuck --tray tray --treatments strength\n"
        "Columns of the table not used: bench, rootstock\n"
    )
    assert main(["check", table, "--json", *PLACES]) == 0
    assert json.loads(capsys.readouterr().out)["set_aside"] == []


def test_only_the_very_name_of_a_role_is_taken(capsys: pytest.CaptureFixture[str]) -> None:
    rl.demo.two_strengths(seed=1).rename({"rooted": "Rooted", "tray": "trays"}).write_csv("trays.csv")
    assert main(["answer", "trays.csv"]) == 2
    shown = capsys.readouterr().err
    assert "--stuck stuck --treatments strength\n" in shown
    assert "rooted names no column; write --rooted rooted with the column" in shown


@pytest.mark.parametrize("form", ["semicolons", "tabs", "titles", "xlsx", "parquet"])
def test_names_are_found_in_every_form(form: str, frame: pl.DataFrame, capsys: pytest.CaptureFixture[str]) -> None:
    name = f"trays.{form if form in ('xlsx', 'parquet') else 'csv'}"
    if form == "xlsx":
        frame.write_excel(name)
    elif form == "parquet":
        frame.write_parquet(name)
    else:
        text = frame.write_csv(separator={"semicolons": ";", "tabs": "\t"}.get(form, ","))
        Path(name).write_text(("Spring, K12\n\n" if form == "titles" else "") + text, encoding="utf-8")
    assert main(["answer", name, *PLACES]) == 0
    assert capsys.readouterr().out.startswith("Leaning to strength 5000: 28 more trees per 100")


def test_rows_set_aside_are_listed(frame: pl.DataFrame, capsys: pytest.CaptureFixture[str]) -> None:
    frame.with_columns(rooted=pl.when(pl.col("tray") == "T03").then(99).otherwise("rooted")).write_csv("trays.csv")
    assert main(["answer", "trays.csv", *ASKED]) == 1
    shown = capsys.readouterr()
    assert shown.out == ""
    line = shown.err.splitlines()[-1].strip()
    assert "Once that is put right" in shown.err or "Once you agree" in shown.err
    assert line.startswith("rootling answer trays.csv --treatment strength 2500 5000")
    assert main(["answer", "trays.csv", *ASKED, "--bad-rows", "set-aside"]) == 0
    out = capsys.readouterr().out
    assert 'set aside: row 4, column "rooted": 99 rooted of 20 stuck' in out
    assert ".set_aside" not in out
    assert main(["check", "trays.csv", "--json"]) == 1
    assert [one["row"] for one in json.loads(capsys.readouterr().out)["problems"]] == [4]


def test_the_line_that_goes_on_can_be_typed(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["answer", table, "--treatment", "strenght", "2500", "5000", "--margin", "0.1"]) == 2
    line = capsys.readouterr().err.splitlines()[-1]
    assert main(shlex.split(line)[1:]) == 0


def test_a_wide_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    rows = {"bench": ["A", "B", "C", "D"], "0": [3, 4, 2, 3], "1000": [9, 11, 12, 10]}
    pl.DataFrame(rows).write_csv("wide.csv")
    words = ["--wide", "strength", "0", "1000", "--stuck", "20", "--tray", "each-row", *PLACES]
    assert main(["answer", "wide.csv", *words]) == 0
    assert "1000" in capsys.readouterr().out.split("\n\n")[0]


def test_several_treatments_are_asked_about_together_where_the_trays_allow(capsys: pytest.CaptureFixture[str]) -> None:
    whole = rl.demo.factorial(seed=1)
    whole.write_csv("trays.csv")
    words = ["answer", "trays.csv", *PLACES, "--treatments", "strength", "rootstock"]
    assert main([*words, "--json"]) == 0
    told = Result.from_json(capsys.readouterr().out)
    assert "strength x rootstock" in told.table()["effect"].to_list()
    assert main(words) == 0
    assert "- Fitted with interactions, whether one effect depends on another: strength x rootstock." in (
        " ".join(capsys.readouterr().out.split())
    )
    # A combination with a single tray is too few for it.
    rows = whole.to_dicts()
    thin = (rows[0]["strength"], rows[0]["rootstock"])
    kept = [one for at, one in enumerate(rows) if at == 0 or (one["strength"], one["rootstock"]) != thin]
    type(whole)(kept).write_csv("trays.csv")
    assert main(["report", "trays.csv", *PLACES, "--treatments", "strength", "rootstock", "-o", "r.md"]) == 0
    assert "No interaction of treatments was fitted: each effect is taken" in Path("r.md").read_text(encoding="utf-8")


def test_what_no_column_holds_is_told_by_options(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    told = ["--rooted-means", "one root", "--set-date", "2026-03-02", "--reading-date", "2026-04-13"]
    told += ["--randomisation", "by lot, seed 1", "--losses", "none", "--planned-trays", "8"]
    assert main(["report", table, *PLACES, *told, "-o", "r.md"]) == 0
    page = Path("r.md").read_text(encoding="utf-8")
    for line in ("Rooted means: one root.", "Read on: 2026-04-13.", "Lost: none.", "Planned: 8 units."):
        assert line in page.replace("\\", "")
    assert "8 units were planned and 12 enter" in page
    capsys.readouterr()
    assert main(["check", table, "--planned-trays", "0"]) == 2
    assert capsys.readouterr().err.endswith("--planned-trays 0 is no number of trays; write --planned-trays 12\n")


def test_a_row_of_names_is_spoken_of_as_it_is_typed(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("late.csv").write_text(f"K12 in spring\n\n{Path(table).read_text(encoding='utf-8')}", encoding="utf-8")
    for more in ([], ["--json"]):
        main(["check", "late.csv", *PLACES, *more])
        shown = capsys.readouterr()
        assert "header_row=" not in shown.out + shown.err
        assert "--header-row" in shown.out + shown.err


# Pages and plans


def test_a_report_replaces_only_a_report_and_only_when_told(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["report", table, *PLACES, "-o", "the page.html"]
    assert main(words) == 0
    first = Path("the page.html").read_bytes()
    assert capsys.readouterr().err.endswith("The report is 'the page.html'.\n")
    assert main(words) == 2
    assert "left as it is; name another, or add --replace" in capsys.readouterr().err
    assert Path("the page.html").read_bytes() == first
    assert main([*words, "--replace", "--title", "K12 in spring"]) == 0
    assert "K12 in spring" in Path("the page.html").read_text(encoding="utf-8")
    capsys.readouterr()
    Path("other.html").write_text("mine", encoding="utf-8")
    assert main(["report", table, "-o", "other.html", "--replace"]) == 2
    shown = capsys.readouterr().err
    assert shown.endswith("is no report of rootling, so it is left as it is; name another\n")
    assert Path("other.html").read_text(encoding="utf-8") == "mine"


def test_a_plan_goes_out_and_comes_back(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["plan", "layout", "blocks", "--treatment", "strength", "2500", "5000", "--blocks", "6", "--stuck", "20"]
    assert main([*words, "--seed", "1", "-o", "spring"]) == 0
    shown = capsys.readouterr()
    assert shown.out.startswith("12 trays in 6 blocks")
    assert "spring/record_sheet.xlsx" in shown.err.replace("\\", "/")
    plan = rl.Result.from_json(Path("spring/plan.json").read_text(encoding="utf-8"))
    assert plan == rl.plan.layout("blocks", {"strength": [2500, 5000]}, blocks=6, stuck=20, seed=1)
    assert main([*words, "-o", "spring"]) == 2
    assert "never replaced" in capsys.readouterr().err
    rows = {"tray": [tray.tray for tray in plan.trays], "rooted": [7 + at % 5 for at in range(12)], "stuck": [20] * 12}
    pl.DataFrame(rows).write_csv("counts.csv")
    assert main(["answer", "counts.csv", "--plan", "spring/plan.json", "--treatment", "strength", "2500", "5000"]) == 0
    shown = capsys.readouterr()
    assert "per 100" in shown.out
    assert "Taken" not in shown.err
    assert main([*words]) == 0
    seed = re.search(r"--seed (\d+) gives this plan again", capsys.readouterr().err)
    assert seed is not None


@pytest.mark.parametrize(
    "words",
    [
        ["trays-needed", "--takes", "2500=0.5", "5000=0.8"],
        ["power", "--takes", "0.5", "0.8", "--trays", "6", "8", "--question", "difference"],
        ["precision", "--takes", "0.5", "0.8", "--trays", "8"],
        ["smallest-difference", "--take", "0.6", "--trays", "8"],
    ],
)
def test_plans_by_drawing(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    more = ["--correlation", "0.05", "--draws", "500", "--cuttings", "20"]
    assert main(["plan", *words, *more]) == 0
    assert capsys.readouterr().out.rstrip()
    assert main(["plan", *words, *more, "--json"]) == 0
    assert rl.Result.from_json(capsys.readouterr().out).sentence


def test_the_demo_writes_and_replaces_only_when_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo"]) == 0
    lines = [line.strip() for line in capsys.readouterr().out.splitlines()]
    assert main(["demo"]) == 2
    assert main(["demo", "--replace"]) == 0
    typed = [line for line in lines if line.startswith("rootling ")]
    assert [main(shlex.split(line)[1:]) for line in typed] == [0, 0]


def test_the_readme_shows_what_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    shown = re.search(r"```text\n(\$ rootling.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert shown is not None
    for part in shown[1].split("$ rootling ")[1:]:
        line, _, wanted = part.partition("\n")
        assert main(shlex.split(line)) == 0
        assert capsys.readouterr().out.startswith(wanted.removesuffix("...\n"))


def test_a_record_is_asked_again(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["answer", table, *ASKED, "--json"]) == 0
    record = capsys.readouterr().out
    Path("kept.json").write_text(record, encoding="utf-8")
    assert main(["verify", "kept.json", table, *ASKED]) == 0
    assert "come out as they were recorded" in capsys.readouterr().out
    Path("kept.json").write_text(record.replace('"confidence": 0.95,\n "method"', '"confidence": 0.9,\n "method"'))
    assert main(["verify", "kept.json", table, *ASKED, "--json"]) == 1
    assert [one["what"] for one in json.loads(capsys.readouterr().out)["differences"]] == ["confidence"]
    rl.demo.two_strengths(seed=2).write_csv("later.csv")
    assert main(["verify", "kept.json", "later.csv", *ASKED]) == 1
    assert capsys.readouterr().out.startswith("The data have changed: ")
    assert main(["plan", "layout", "blocks", "--treatment", "a", "1", "2", "--blocks", "6", "-o", "spring"]) == 0
    assert main(["verify", "spring/plan.json"]) == 0
    assert main(["verify", "nowhere.json", table]) == 2
    assert main(["verify", "kept.json"]) == 2
    assert capsys.readouterr().err.endswith("and nothing was given; name the table after the record\n")


# Mistakes

MISTAKES = {
    "nothing": (
        [],
        "rootling asks for a command (check, answer, report, decide, verify, plan, steps, demo); "
        "rootling --help tells of them",
    ),
    "no question": (["plan"], "rootling plan asks for a question"),
    "another command": (["checks"], "there is no command 'checks'; did you mean check? They are check, answer"),
    "no file": (["answer"], "FILE is missing; FILE stands before the options"),
    "file last": (
        ["answer", "--treatment", "strength", "trays.csv"],
        "FILE is missing; FILE stands before the options",
    ),
    "a file that is not there": (["check", "none.csv"], "the file 'none.csv' does not exist; check the path"),
    "another option": (
        ["answer", "trays.csv", "--tretment", "x"],
        "does not know '--tretment'; did you mean --treatment?",
    ),
    "a word too many": (
        ["demo", "now"],
        "rootling demo does not know 'now'; names with spaces stand in quotation marks",
    ),
    "no word": (["answer", "trays.csv", "--confidence"], "--confidence needs one more word after it"),
    "no words": (["answer", "trays.csv", "--tray"], "--tray needs at least one more word after it"),
    "no number": (["answer", "trays.csv", "--confidence", "high"], "--confidence: 'high' is no number"),
    "no whole number": (["answer", "trays.csv", "--seed", "1.5"], "--seed: '1.5' is no whole number"),
    "percent": (["answer", "trays.csv", "--confidence", "95"], "confidence 95 is not between 0 and 1"),
    "no such way": (["answer", "trays.csv", "--trays", "all"], 'use of trays "all" is not known'),
    "one level": (["answer", "trays.csv", "--treatment", "strength", "0"], "write --treatment strength --against 0"),
    "three levels": (["answer", "trays.csv", "--treatment", "strength", "0", "1", "2"], "takes two levels"),
    "no such level": (["answer", "trays.csv", "--treatment", "strength", "0", "5000"], '"0" is not known'),
    "no pair": (["answer", "trays.csv", "--at", "K12"], "'K12' does not say which level of which column"),
    "no part": (["answer", "trays.csv", "--together", "holm"], "--together has no part in a question of two levels"),
    "no substance": (["answer", "trays.csv", "--unit", "mg/L"], "add the substance, such as --substance IBA"),
    "no deaths": (["answer", "trays.csv", "--outcome", "survival"], "name their column with --dead"),
    "no column": (["answer", "trays.csv", "--block", "bed"], 'there is no column "bed"'),
    "no page": (["report", "trays.csv"], "-o/--output is missing"),
    "no web page": (["report", "trays.csv", "-o", "x.pdf"], "a report is no .pdf file; name it 'x.html' or 'x.docx'"),
    "no folder": (["report", "trays.csv", "-o", "no/x.html"], "there is no folder 'no'"),
    "takes of a hundred": (["plan", "trays-needed", "--takes", "60", "75"], "write 0.6 for 60 of 100 cuttings"),
    "some levels": (["plan", "trays-needed", "--takes", "a=0.6", "0.7"], "names the level of some takes only"),
    "a level twice": (["plan", "trays-needed", "--takes", "a=0.6", "a=0.7"], "names a level twice"),
    "no layout": (["plan", "layout", "block", "--treatment", "a", "1", "2"], 'did you mean "blocks"?'),
    "no levels": (["plan", "layout", "blocks", "--treatment", "a"], "--treatment a names no levels"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_one_sentence(name: str, table: str, capsys: pytest.CaptureFixture[str]) -> None:
    words, wanted = MISTAKES[name]
    assert main(words) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    told = shown.err.splitlines()
    assert wanted in " ".join(told)
    if name != "no column":
        said = [
            line for line in told if not line.startswith(("Taken from", "Columns of the table not used", "1 problem"))
        ]
        assert len(said) == 1
    assert "Traceback" not in shown.err
    assert not re.search(r"\b(usage|error|argument)\b", shown.err)


def test_the_data_decide_between_one_and_two() -> None:
    assert code_of(CommandError("what?")) == 2
    assert code_of(rl.exceptions.ChoiceError("which?")) == 2
    assert code_of(rl.exceptions.ReportError("where?")) == 2
    assert code_of(rl.exceptions.ModelError("no fit")) == 1
    assert code_of(rl.TrialDataError("1 problem", [{"code": "none_stuck"}])) == 1
    assert code_of(rl.TrialDataError("1 problem", [{"code": "no_file"}])) == 2
    assert code_of(rl.TrialDataError("2 problems", [{"code": "unknown_column"}, {"code": "none_stuck"}])) == 1


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ('say so with tray=["bench", "tray"]', "say so with --tray bench tray"),
        ("leave stuck= out", "leave --stuck out"),
        ('write control={"strength": 0}', "write --control strength=0"),
        ('write level_order={"light": ["dark", "dim bright"]}', "write --level-order light dark 'dim bright'"),
        ('write strength=rl.Strength("IBA", unit="mg/L")', "write --substance IBA --unit mg/L"),
        ("write trial.compare('strength', 0, 2500)", "write --treatment strength 0 2500"),
        ("stuck=20 fits", "--stuck 20 fits"),
        ('name it as in tray="-1"', "name it as in --tray=-1"),
        ("asked of a trial; write rl.verify(record, trial)", "asked of a trial; name the table after the record"),
        ('unstuck="a" and stuck="a" "b"', 'unstuck="a" and --stuck a "b"'),
        ("stuck=[1, 2", "--stuck[1, 2"),
    ],
)
def test_options_are_spoken_as_they_are_typed(text: str, wanted: str) -> None:
    assert spoken(text, ["tray", "stuck", "control", "level_order", "strength"]) == wanted


# Help


@pytest.mark.parametrize("words", COMMANDS)
def test_every_help_says_the_codes_and_fits(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*words, "--help"]) == 0
    shown = capsys.readouterr().out
    assert shown.startswith("Write: rootling ")
    for code in ("0    answered", "1    the data have problems", "2    the command was not", "130  stopped by Ctrl-C"):
        assert code in shown
    assert max(map(len, shown.splitlines())) <= 100
    assert not re.search(r"positional|optional arguments|usage:|\bNone\b|==", shown)


def test_the_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"rootling {rl.__version__}\n"


# Processes


def test_every_locale_can_show_it(frame: pl.DataFrame) -> None:
    odd = pl.when(pl.col("strength") == 2500).then(pl.lit("K\u00fchl\u4e2d")).otherwise(pl.lit("warm"))
    frame.with_columns(light=odd).write_csv("\u00e4 table.csv")
    words = ["answer", "\u00e4 table.csv", *PLACES, "--treatment", "light"]
    plain = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0", "LC_ALL": "C", "PYTHONCOERCECLOCALE": "0"}
    shown = run(*words, **plain)
    assert shown.returncode == 0, shown.stderr
    assert shown.stdout.isascii()
    assert b"K\\xfchl\\u4e2d" in shown.stdout
    record = run(*words, "--json", **plain)
    again = run(*words, "--json", PYTHONIOENCODING="utf-8")
    assert record.stdout.isascii()
    assert json.loads(record.stdout) == json.loads(again.stdout.decode("utf-8"))


def test_signs_that_hide_are_shown(frame: pl.DataFrame, capsys: pytest.CaptureFixture[str]) -> None:
    odd = pl.when(pl.col("strength") == 2500).then(pl.lit("a\x1b[31m")).otherwise(pl.lit("b"))
    frame.with_columns(light=odd).write_csv("trays.csv")
    assert main(["answer", "trays.csv", *PLACES, "--treatment", "light"]) == 0
    assert main(["answer", "trays.csv", "--\x1b[31m"]) == 2
    assert main(["answer", "\x1b[31m.csv"]) == 2
    shown = capsys.readouterr()
    assert "\x1b" not in shown.out + shown.err


def test_a_reader_that_has_seen_enough(table: str) -> None:
    layout = f"layout blocks --treatment strength {' '.join(map(str, range(1, 60)))} --blocks 60"
    line = f"{shlex.quote(sys.executable)} -m rootling plan {layout} --seed 1 | head -n 1"
    found = subprocess.run(["bash", "-o", "pipefail", "-c", line], capture_output=True, check=False, timeout=120)
    assert (found.returncode, found.stderr) == (0, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_is_told(table: str) -> None:
    with open("/dev/full", "wb") as full:
        command = [sys.executable, "-m", "rootling", "answer", table, *ASKED]
        found = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, check=False, timeout=120)
    assert found.returncode == 2
    assert found.stderr.decode().splitlines()[-1].startswith("the output could not be written (")


@pytest.mark.skipif(os.name == "nt", reason="signals of another kind")
def test_ctrl_c_stops_it() -> None:
    words = ["plan", "trays-needed", "--takes", "0.60", "0.62", "--draws", "1000000"]
    process = subprocess.Popen([sys.executable, "-m", "rootling", *words], stdout=-1, stderr=-1)
    time.sleep(3)
    assert process.poll() is None
    process.send_signal(signal.SIGINT)
    out, err = process.communicate(timeout=20)
    assert (process.returncode, out, err) == (130, b"", b"Stopped from the keyboard.\n")


@pytest.mark.skipif(os.name == "nt", reason="no such terminal")
@pytest.mark.parametrize("columns", [36, 140])
def test_a_narrow_terminal(columns: int, table: str) -> None:
    import pty

    main_end, end = pty.openpty()
    command = [sys.executable, "-m", "rootling", "answer", table, *ASKED]
    process = subprocess.Popen(command, stdin=end, stdout=end, stderr=end, env={**os.environ, "COLUMNS": str(columns)})
    os.close(end)
    shown = b""
    try:
        while part := os.read(main_end, 65536):
            shown += part
    except OSError:
        # What is at the other end is gone.
        pass
    os.close(main_end)
    assert process.wait(timeout=60) == 0
    lines = shown.decode().splitlines()
    assert max(map(len, lines)) <= columns
    assert ("value: +28.3 points" in lines) == (columns == 36)
