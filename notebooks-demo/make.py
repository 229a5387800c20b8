"""Runs the notebooks, writes the report and the figures. Started by run.py with the Python of .venv."""

from __future__ import annotations

import os
import tempfile
import warnings
from pathlib import Path
from typing import Any

import gallery
import nbformat
import rootling as rl
from nbclient import NotebookClient

FOLDER = Path(__file__).resolve().parent
OUTPUT = FOLDER.parent / ".demo-output"
NOTEBOOKS = (
    "from_a_messy_sheet",
    "two_strengths",
    "strength_and_rootstock",
    "split_plot_to_manuscript",
    "choosing_in_money",
    "plum_cuttings",
    "published_examples",
    "watching_the_crop",
    "planning_a_trial",
    "graft_to_tree",
    "where_the_data_lies",
)


def execute(name: str) -> tuple[Path, Any]:
    """Runs one notebook from top to bottom; the copy with its outputs goes to the output folder."""
    notebook = nbformat.read(FOLDER / f"{name}.ipynb", as_version=4)
    where = {"metadata": {"path": str(FOLDER)}}
    client = NotebookClient(notebook, timeout=600, kernel_name="python3", resources=where)
    client.extra_arguments = ["--IPKernelApp.log_level=ERROR"]
    client.execute()
    target = OUTPUT / f"{name}.ipynb"
    nbformat.write(notebook, target)
    return target, notebook


def report() -> list[Path]:
    """The manager's trial as one page, and its figures as files."""
    trial = rl.load_trial(
        rl.demo.two_strengths(seed=2),
        rooted="rooted",
        stuck="stuck",
        treatments=["strength"],
        tray="tray",
        block="bench",
        strength=rl.Strength("IBA", unit="mg/L", method="quick dip"),
    )
    results = {
        "take_rates": trial.take_rates(by="strength"),
        "comparison": trial.compare("strength", 2500, 5000),
    }
    title = "Two strengths for K12: an invented trial of the invented nursery Bramblescar"
    written = [rl.report.write([trial, *results.values()], OUTPUT / "report.html", title=title, overwrite=True)]
    for name, result in results.items():
        figure = result.plot()
        for ending in ("png", "svg"):
            target = OUTPUT / f"{name}.{ending}"
            figure.savefig(target, dpi=200)
            written.append(target)
    return written


def main() -> None:
    """Makes everything and says where it is."""
    OUTPUT.mkdir(exist_ok=True)
    with warnings.catch_warnings(), tempfile.TemporaryDirectory() as own:
        # The kernel is this Python, and settings of the person who runs the demo do not reach it.
        os.environ.update(JUPYTER_PREFER_ENV_PATH="1", JUPYTER_RUNTIME_DIR=own, IPYTHONDIR=own)
        # Nobody waits for a notebook that is run here.
        os.environ["TQDM_DISABLE"] = "1"
        # Small trials warn; the report itself carries these cautions.
        warnings.simplefilter("ignore", rl.exceptions.FewTraysWarning)
        executed = [execute(name) for name in NOTEBOOKS]
        shown = [entry for _, notebook in executed for entry in gallery.from_notebook(notebook)]
        written = [*(path for path, _ in executed), *report()]
        written.append(gallery.write([*shown, *gallery.from_examples()], OUTPUT))
    print(f"The report is {(OUTPUT / 'report.html').relative_to(FOLDER.parent)}. All that was written:")
    for path in written:
        print(f"  {path.relative_to(FOLDER.parent)}")


if __name__ == "__main__":
    main()
