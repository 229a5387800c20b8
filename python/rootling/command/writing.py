"""What can be written: the commands with their options and their help."""

from __future__ import annotations

from typing import Any

from rootling.command import asking, deciding, planning, showing, stepping
from rootling.command.mistakes import CODES
from rootling.command.parser import Parser, named, number, pair, whole
from rootling.command.roles import add_roles

__all__ = ["parser_of_all"]

ABOUT = """Statistics for rooting trials: tray counts in, checked and calibrated answers out.

  rootling check trays.xlsx --block bench
  rootling answer trays.xlsx --block bench --treatment strength 2500 5000
  rootling report trays.xlsx --block bench --treatment strength -o report.html
  rootling decide trays.xlsx --block bench --treatment strength --price "3 EUR" --per-cutting 0.40 \\
    --cuttings-a-season 20000"""

JSON = "the record, in place of the text"


def parser_of_all() -> Parser:
    """The reader of every command."""
    parser = Parser(
        prog="rootling",
        usage="rootling COMMAND ...",
        description=ABOUT,
        epilog=f"{CODES}\n\nrootling COMMAND --help tells of a command.",
    )
    parser.add_argument("--version", action="store_true", help="the version of rootling")
    commands = parser.add_subparsers(title="Commands", metavar="COMMAND", dest="command", prog="rootling")
    _check(commands)
    _answer(commands)
    _report(commands)
    _decide(commands)
    _verify(commands)
    _plan(commands)
    _steps(commands)
    _demo(commands)
    return parser


def _command(commands: Any, name: str, told: str, usage: str, more: str = "") -> Parser:
    made: Parser = commands.add_parser(
        name, help=told, usage=usage, description=f"{told[0].upper()}{told[1:]}.{more}", epilog=CODES
    )
    made.set_defaults(parser=made)
    return made


def _check(commands: Any) -> None:
    parser = _command(
        commands,
        "check",
        "read a table of tray counts, say what it holds and all that is wrong with it",
        "rootling check FILE [options]",
    )
    parser.set_defaults(run=asking.check)
    add_roles(parser)
    asked = parser.add_argument_group("What was tried")
    asked.add_argument(
        "--treatment", nargs="+", metavar=("COLUMN", "LEVEL"), help="a treatment, as `rootling answer` is given it"
    )
    parser.add_argument("--json", action="store_true", help=JSON)


ANSWERS = """

  --treatment strength 2500 5000        do these two differ? (second minus first)
  --treatment strength                  do its levels differ, each from each?
  --treatment strength --against 0      which differ from this one?
  --treatment strength --within stock   does rooting go with it, stock by stock?
  --treatments strength stock           which of these matter?"""


def _question(parser: Parser) -> None:
    asked = parser.add_argument_group("What is asked")
    asked.add_argument(
        "--treatment", nargs="+", metavar=("COLUMN", "LEVEL"), help="the treatment; with two levels, these alone"
    )
    asked.add_argument(
        "--at", type=pair, nargs="+", action="extend", metavar="COLUMN=LEVEL", help="stay within levels of others"
    )
    asked.add_argument("--within", metavar="COLUMN", help="keep the levels of this column apart")
    asked.add_argument("--against", metavar="LEVEL", help="the level that all others are set against")
    asked.add_argument("--margin", type=number, metavar="SHARE", help="a difference that would not matter: 0.05")
    asked.add_argument("--nearly", type=number, metavar="SHARE", help="the difference that matters; 0.10 if not said")
    asked.add_argument("--outcome", metavar="WHAT", help="take, survival or rooted-of-survivors; two need --dead")
    how = parser.add_argument_group("How it is answered")
    how.add_argument("--confidence", type=number, metavar="SHARE", help="of intervals; 0.95 if not said")
    how.add_argument("--together", metavar="WAY", help="how several P values are judged together; holm if not said")
    how.add_argument("--trays", metavar="WAY", help="ignore counts cuttings as independent, and the answer is marked")
    how.add_argument("--seed", type=whole, metavar="NUMBER", help="of whatever is drawn; 1 if not said")


def _answer(commands: Any) -> None:
    parser = _command(
        commands,
        "answer",
        "answer one question: a sentence, what stands behind it, cautions",
        "rootling answer FILE [--treatment COLUMN [LEVEL LEVEL]] [options]",
        ANSWERS,
    )
    parser.set_defaults(run=asking.answer)
    _question(parser)
    add_roles(parser)
    parser.add_argument("--json", action="store_true", help=JSON)


REPORTS = """ It asks as
`rootling answer` does. The ending of its name says what it becomes: .html is a page for a browser,
to print or to send, .docx a Word document, .md and .tex are texts with figures in a folder beside."""


def _report(commands: Any) -> None:
    parser = _command(
        commands,
        "report",
        "write a report with the answer, figures, cautions, methods and record",
        "rootling report FILE -o REPORT [--treatment COLUMN [LEVEL LEVEL]] [options]",
        REPORTS,
    )
    parser.set_defaults(run=asking.report)
    page = parser.add_argument_group("The report")
    page.add_argument("-o", "--output", metavar="REPORT", required=True, help="its file: report.html, report.docx")
    page.add_argument("--title", metavar="TEXT", help="its heading")
    page.add_argument(
        "--replace",
        action="store_true",
        help="put it in the place of an earlier report; a document or text that was edited, and any other file, stays",
    )
    _question(parser)
    add_roles(parser)


CHOICES = """

  rootling decide trays.csv --treatment strength --price "3 EUR" --per-cutting 0.40 \\
    --of-level 5000=0.02 --cuttings-a-season 20000 --seasons 3

Amounts are numbers, or text with the money: 3, "3 EUR". Nothing is converted."""


def _decide(commands: Any) -> None:
    parser = _command(
        commands,
        "decide",
        "weigh the levels of a treatment in money: which to use, and whether to try once more",
        "rootling decide FILE --treatment COLUMN --price AMOUNT --cuttings-a-season NUMBER [options]",
        CHOICES,
    )
    parser.set_defaults(run=deciding.decide)
    deciding.add_options(parser)
    add_roles(parser)
    parser.add_argument("--json", action="store_true", help=JSON)


def _verify(commands: Any) -> None:
    parser = _command(
        commands,
        "verify",
        "ask the question of a record again, and say whether the same comes out",
        "rootling verify RECORD FILE [options]",
        " A record is\nwhat --json gives. That of a plan, plan.json, needs no FILE.",
    )
    parser.set_defaults(run=asking.verify)
    parser.add_argument("record", metavar="RECORD", help="the file of the record")
    asked = parser.add_argument_group("What was tried")
    asked.add_argument(
        "--treatment", nargs="+", metavar=("COLUMN", "LEVEL"), help="a treatment, as `rootling answer` was given it"
    )
    asked.add_argument("--seed", type=whole, metavar="NUMBER", help="another seed for what was drawn")
    add_roles(parser, needed=False)
    parser.add_argument("--json", action="store_true", help="the verdict as JSON, in place of the text")


def _plan(commands: Any) -> None:
    parser = _command(
        commands,
        "plan",
        "plan a trial: how many trays, what they show, what goes where",
        "rootling plan QUESTION ...",
        "\n\n  rootling plan trays-needed --takes 2500=0.60 5000=0.75 --cuttings 20\n"
        "  rootling plan layout blocks --treatment strength 2500 5000 --blocks 6 -o spring",
    )
    questions = parser.add_subparsers(title="Questions", metavar="QUESTION", dest="verb", prog="rootling plan")
    _drawn(questions, "trays-needed", "how many trays show a difference as often as asked", "--takes TAKE TAKE")
    _drawn(questions, "power", "how often so many trays show a difference", "--takes TAKE TAKE --trays NUMBER")
    _drawn(questions, "precision", "how near so many trays come to a difference", "--takes TAKE TAKE --trays NUMBER")
    _drawn(questions, "smallest-difference", "which difference so many trays show", "--take TAKE --trays NUMBER")
    _layout(questions)


OPTIONS: dict[str, dict[str, Any]] = {
    "takes": {"nargs": "+", "type": named, "metavar": "TAKE", "required": True, "help": "takes expected: 0.60 0.75"},
    "take": {"type": number, "metavar": "TAKE", "required": True, "help": "take expected: 0.60"},
    "trays": {"nargs": "+", "type": whole, "metavar": "NUMBER", "required": True, "help": "trays of each level"},
    "power": {"type": number, "metavar": "SHARE", "help": "how often it is to be shown; 0.8 if not said"},
    "question": {
        "metavar": "WHAT",
        "help": "difference, not-worse, equivalent, against-control, all-pairs, trend or target",
    },
    "margin": {"type": number, "metavar": "SHARE", "help": "a difference that would not matter"},
    "target": {"type": number, "metavar": "TAKE", "help": "a rate to be met"},
    "together": {"metavar": "WAY", "help": "how several P values are judged together"},
    "trays_per_bay": {"type": whole, "metavar": "NUMBER", "help": "where whole bays get a level: how many bays?"},
    "bays": {"type": whole, "metavar": "NUMBER", "help": "bays of each level, where whole bays get a level"},
    "cuttings": {"nargs": "+", "type": whole, "metavar": "NUMBER", "help": "cuttings of each tray; 20 if not said"},
    "correlation": {
        "nargs": "+",
        "type": number,
        "metavar": "SHARE",
        "help": "how alike cuttings of a tray are; 0.01, 0.05 and 0.15 if not said",
    },
    "blocks": {"type": whole, "metavar": "NUMBER", "help": "trays of each level in a block"},
    "lost": {"type": number, "metavar": "SHARE", "help": "share of trays that get lost"},
    "law": {"metavar": "NAME", "help": "how trays differ: beta-binomial or logit-normal"},
    "confidence": {"type": number, "metavar": "SHARE", "help": "of intervals and tests; 0.95 if not said"},
    "draws": {"type": whole, "metavar": "NUMBER", "help": "trials drawn of each design; 10000 if not said"},
    "seed": {"type": whole, "metavar": "NUMBER", "help": "of the draws; 1 if not said"},
}


def _drawn(questions: Any, verb: str, told: str, needed: str) -> None:
    parser = _command(
        questions,
        verb,
        told,
        f"rootling plan {verb} {needed} [options]",
        " Trials are drawn, and judged as\nreal counts will be.",
    )
    parser.set_defaults(run=planning.asked_of_draws)
    own = parser.add_argument_group("What is planned")
    for name in (*planning.QUESTIONS[verb][1], *planning.OF_ALL):
        own.add_argument(f"--{name.replace('_', '-')}", **OPTIONS[name])
    parser.add_argument("--json", action="store_true", help=JSON)


def _layout(questions: Any) -> None:
    parser = _command(
        questions,
        "layout",
        "deal treatments to trays and trays to places, and write the sheets",
        "rootling plan layout LAYOUT --treatment NAME LEVEL LEVEL ... [-o FOLDER] [options]",
    )
    parser.set_defaults(run=planning.laid_out)
    parser.add_argument(
        "layout",
        metavar="LAYOUT",
        help="completely-randomised, blocks, latin-square, split-plot, strip-plot, incomplete-blocks or augmented",
    )
    own = parser.add_argument_group("What is laid out")
    own.add_argument(
        "--treatment",
        nargs="+",
        action="append",
        required=True,
        metavar=("NAME", "LEVEL"),
        help="a treatment and its levels; given again for each further one, and all are crossed",
    )
    for name, told in {
        "trays": "trays of each combination in all",
        "whole_plots": "whole plots of each level, where there are no blocks",
        "per_block": "trays that a block has room for",
        "stuck": "cuttings of each tray; open on the sheet if not said",
        "longest_run": "so many trays of one combination in a row at most",
        "seed": "the same seed gives the same plan; drawn and told if not said",
    }.items():
        own.add_argument(f"--{name.replace('_', '-')}", type=whole, metavar="NUMBER", help=told)
    own.add_argument("--blocks", nargs="+", metavar="NAME", help="how many blocks, or their names")
    own.add_argument("--whole-plot", nargs="+", metavar="NAME", help="treatments given to whole plots, or to strips")
    own.add_argument("--controls", nargs="+", metavar="LEVEL", help="levels that stand in every block")
    own.add_argument("--positions", nargs=2, type=whole, metavar=("ROWS", "COLUMNS"), help="places of a bench")
    own.add_argument("--stock-plants", nargs="+", metavar="NAME", help="how many mother plants, or their names")
    own.add_argument("--readers", nargs="+", metavar="NAME", help="how many readers, or their names")
    own.add_argument("--different-ends", action="store_true", default=None, help="no combination at both ends of a row")
    written = parser.add_argument_group("What is written")
    written.add_argument(
        "-o",
        "--output",
        metavar="FOLDER",
        help="record sheet, labels, map of codes, key and plan go here; files that are there are never replaced",
    )
    parser.add_argument("--json", action="store_true", help=JSON)


def _steps(commands: Any) -> None:
    parser = _command(
        commands,
        "steps",
        "follow plants from graft to tree: where they are lost, how many to start",
        "rootling steps QUESTION FILE --steps COLUMN COLUMN ...",
        "\n\n  rootling steps yields batches.csv --batch batch --steps grafted taken rooted saleable\n"
        "  rootling steps to-start batches.csv --number 200 --steps grafted taken rooted saleable",
    )
    questions = parser.add_subparsers(title="Questions", metavar="QUESTION", dest="verb", prog="rootling steps")
    for verb, (told, needed, own, _) in stepping.QUESTIONS.items():
        asked = _command(
            questions, verb, told, f"rootling steps {verb} FILE --steps COLUMN COLUMN ...{needed} [options]"
        )
        asked.set_defaults(run=stepping.answered, line=stepping.line)
        stepping.add_options(asked, own)
        stepping.add_written(asked)
        asked.add_argument("--json", action="store_true", help=JSON)
    again = _command(
        questions,
        "verify",
        "the question of a record asked again, and whether the same comes out",
        "rootling steps verify FILE --record RECORD --steps COLUMN COLUMN ... [options]",
    )
    again.set_defaults(run=stepping.verified, line=stepping.line)
    stepping.add_options(again, ("record", "seed"))
    again.add_argument("--json", action="store_true", help="the verdict as JSON, in place of the text")


def _demo(commands: Any) -> None:
    parser = _command(
        commands,
        "demo",
        "write an invented trial and its report, to look at and to try things out",
        "rootling demo [-o FOLDER] [--replace]",
    )
    parser.set_defaults(run=showing.demo)
    parser.add_argument(
        "-o", "--output", metavar="FOLDER", default="rootling-demo", help="where to; rootling-demo if not said"
    )
    parser.add_argument("--replace", action="store_true", help="in the place of an earlier demo")
