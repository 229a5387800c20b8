"""Trials whose columns and levels have names to trip over, through answers, figures and a report."""

from __future__ import annotations

import rootling as rl

from fuzz import draw
from fuzz.fields import place, trials, verbs
from fuzz.oracle import Oracle


def renamed(look: Oracle) -> trials.Design:
    """A sound trial with names from the hostile end."""
    rng = look.rng
    design = trials.make(rng)
    columns = dict(design.columns)
    levels = {}
    for name in ("rootstock", "strength", "bench", "tray"):
        if rng.random() < 0.5:
            kept = sorted(set(columns[name]), key=str)
            levels[name] = dict(zip(kept, draw.distinct_names(rng, len(kept), 0.8), strict=True))
            columns[name] = [levels[name][value] for value in columns[name]]
    old = list(columns)
    new = draw.distinct_names(rng, len(old), 0.7)
    names = {before: after if rng.random() < 0.4 else before for before, after in zip(old, new, strict=True)}
    if len(set(names.values())) < len(names):
        names = {before: before for before in old}
    roles = {}
    for role, said in design.roles.items():
        roles[role] = [names[one] for one in said] if isinstance(said, list) else names[said]
    columns = {names[name]: values for name, values in columns.items()}
    return trials.Design(columns, roles, [names[name] for name in design.treatments])


def run(look: Oracle) -> None:
    rng = look.rng
    design = renamed(look)
    if rng.random() < 0.7:
        design.roles["distinct_levels"] = True
    if rng.random() < 0.1:
        design.roles["checked"] = ["percent_as_counts"]
    trial = look.call(rl.load_trial, design.columns, **design.roles)
    if trial is None:
        return
    look.plots = 0.08
    name, given, options = verbs.question(look, design)
    found = look.call(getattr(trial, name), *given, **options)
    if found is not None and name == "model":
        verbs.after(look, found, design)
    if found is not None and rng.random() < 0.03:
        place.clear()
        path = place.folder() / "report.html"
        if look.call(rl.report.write, [trial, found], path, title=draw.name(rng, 0.9)) is not None:
            text = path.read_text(encoding="utf-8")
            if "<script>alert" in text:
                look.fail("injection", "report")
            look.text("report", text.split("<body", 1)[-1].split("data:image", 1)[0])
