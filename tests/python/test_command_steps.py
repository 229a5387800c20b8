"""A chain on the command line: each question is answered as in Python, mistakes are one sentence, codes are kept."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import rootling as rl
from rootling.command import main
from rootling.command.stepping import QUESTIONS

CHAIN = ["grafted", "taken", "out_of_dark", "rooted", "second_graft", "saleable"]
COLUMNS = ["--batch", "batch", "--season", "season", "--rootstock", "rootstock", "--steps", *CHAIN]


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def table() -> str:
    rl.demo.graft_to_tree(seed=1).write_csv("batches.csv")
    return "batches.csv"


@pytest.fixture
def steps(table: str) -> rl.steps.Steps:
    return rl.steps.load(table, batch="batch", season="season", rootstock="rootstock", steps=CHAIN)


def shown(capsys: pytest.CaptureFixture[str]) -> str:
    return " ".join(capsys.readouterr().out.split())


def test_each_question_is_answered_as_in_python(
    table: str, steps: rl.steps.Steps, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = {
        ("yields", "--draws", "199", "--costs", "grafted=1.9", "second_graft=0.8"): steps.yields(
            draws=199, costs={"grafted": 1.9, "second_graft": 0.8}
        ),
        ("yields", "--whose", "current-rates"): steps.yields("current-rates"),
        ("to-start", "--number", "200", "--season-sd", "0.25", "--costs", "1.9"): steps.to_start(
            200, season_sd=0.25, costs=1.9
        ),
        ("sure-of", "--number", "400", "--assurance", "0.9"): steps.sure_of(400, assurance=0.9),
        ("compare", "--column", "season", "2024", "2025"): steps.compare("season", 2024, 2025),
        ("compare", "--column", "rootstock"): steps.compare_all("rootstock"),
    }
    assert {one[0] for one in asked} == set(QUESTIONS)
    for (verb, *words), result in asked.items():
        assert main(["steps", verb, table, *words, *COLUMNS]) == 0
        said = shown(capsys)
        assert said.startswith(result.sentence)
        assert result.details[0] in said
        # Batches that are too young are no losses, and the record says so.
        assert main(["steps", verb, table, *words, *COLUMNS, "--json"]) == 0
        assert rl.Result.from_json(capsys.readouterr().out) == result


def test_a_report_is_written_and_never_replaced_unasked(table: str, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["steps", "yields", table, *COLUMNS, "-o", "steps.md", "--title", "Our chain"]
    assert main(words) == 0
    assert "The report is 'steps.md'." in capsys.readouterr().err
    before = Path("steps.md").read_text(encoding="utf-8")
    assert "# Our chain" in before
    assert main(words) == 2
    assert "there is 'steps.md' already" in capsys.readouterr().err
    assert main([*words, "--replace"]) == 0


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ([], 2, "rootling steps asks for a question (yields, to-start, sure-of, compare)"),
        (["yeilds"], 2, "did you mean yields?"),
        (["yields", "batches.csv"], 2, "--steps is missing"),
        (["to-start", "batches.csv", *COLUMNS], 2, "--number is missing"),
        (["to-start", "batches.csv", *COLUMNS, "--number", "many"], 2, "'many' is no whole number"),
        (["compare", "batches.csv", *COLUMNS, "--column", "season", "2024"], 2, "names 1 level; name two"),
        (["compare", "batches.csv", *COLUMNS, "--column", "bench"], 2, "bench"),
        (["yields", "batches.csv", *COLUMNS, "--costs", "dear"], 2, "--costs dear is no number"),
        (["yields", "batches.csv", *COLUMNS, "--costs", "1", "2"], 2, "a number for each step"),
        (["yields", "absent.csv", *COLUMNS], 2, "absent.csv"),
        (["yields", "batches.csv", "--steps", "rooted", "grafted"], 1, "rootling steps yields batches.csv --steps"),
    ],
)
def test_mistakes_are_told_in_words(
    words: list[str], code: int, said: str, table: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["steps", *words]) == code
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err
    assert "Traceback" not in told.err
    assert "rl." not in told.err
    assert len(json.dumps(told.err)) < 1500


@pytest.mark.parametrize("verb", ["", *QUESTIONS])
def test_help_reads_well(verb: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["steps", *([verb] if verb else []), "--help"]) == 0
    told = capsys.readouterr().out
    assert told.startswith(f"Write: rootling steps {verb}".rstrip())
    assert "None" not in told
    assert max(map(len, told.split("\n"))) <= 110


def test_a_record_is_asked_again(table: str, steps: rl.steps.Steps, capsys: pytest.CaptureFixture[str]) -> None:
    Path("yields.json").write_text(steps.yields(costs=1.9).to_json(), encoding="utf-8")
    assert main(["steps", "verify", table, "--record", "yields.json", *COLUMNS]) == 0
    assert "come out as they were recorded" in shown(capsys)
    edited = json.loads(Path("yields.json").read_text(encoding="utf-8"))
    edited["sentence"] = "Rooted costs nothing."
    Path("yields.json").write_text(json.dumps(edited), encoding="utf-8")
    assert main(["steps", "verify", table, "--record", "yields.json", *COLUMNS]) == 1
    assert "its sentence reads otherwise" in shown(capsys)
    assert (
        main(["verify", "yields.json", table, "--rooted", "rooted", "--stuck", "grafted", "--treatment", "season"]) != 0
    )
    assert "rootling steps verify FILE --record RECORD" in " ".join(capsys.readouterr().err.split())


def test_a_count_that_rises_is_told_by_its_column(capsys: pytest.CaptureFixture[str]) -> None:
    Path("rising.csv").write_text("batch,grafted,taken,rooted\nb1,50,40,30\nb2,50,40,99\n", encoding="utf-8")
    words = ["--batch", "batch", "--steps", "grafted", "taken", "rooted"]
    assert main(["steps", "yields", "rising.csv", *words]) != 0
    told = " ".join(capsys.readouterr().err.split())
    assert 'column "rooted": 99 at "rooted"' in told
    assert "--rooted-means" not in told
