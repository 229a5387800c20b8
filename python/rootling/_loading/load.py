"""Loading a trial: what the user names, checked and handed to the core."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from rootling import _core, _frames
from rootling._frames import Progress
from rootling._given import check_known, checked_progress
from rootling._given.choices import BadRows
from rootling._loading.about import about_of, told_of
from rootling._loading.arguments import options_of, wanted_of
from rootling._loading.going_on import with_line
from rootling._loading.of_engine import of_engine, told_by_engine
from rootling._loading.planned import blind, of_plan
from rootling.exceptions import ChoiceError, TrialDataError
from rootling.responses import Response
from rootling.trial import Trial, earlier_records
from rootling.units import Strength


def load_trial(
    data: Any,
    *,
    rooted: str | None = None,
    stuck: str | int | None = None,
    dead: str | None = None,
    times: str | None = None,
    treatments: str | Sequence[str] | None = None,
    tray: str | Sequence[str] | None = None,
    block: str | Sequence[str] | None = None,
    whole_plot: str | Sequence[str] | None = None,
    season: str | None = None,
    stock_plant: str | Sequence[str] | None = None,
    covariates: str | Sequence[str] = (),
    responses: Mapping[str, Response] | None = None,
    primary: str | None = None,
    strength: Strength | None = None,
    control: Mapping[str, Any] | None = None,
    level_order: Mapping[str, Sequence[Any]] | None = None,
    rooted_percent: str | bool | None = None,
    wide: Mapping[str, Any] | None = None,
    fill_down: str | Sequence[str] = (),
    lost: str | None = None,
    leave_out: int | Sequence[int] = (),
    sheet: str | None = None,
    header_row: int | None = None,
    thousands: str | None = None,
    decimal: str | None = None,
    encoding: str | None = None,
    checked: str | Sequence[str] = (),
    bad_rows: BadRows = "stop",
    distinct_levels: bool = False,
    earlier: Trial | Mapping[str, Any] | Sequence[Trial | Mapping[str, Any]] = (),
    plan: Any = None,
    about: Mapping[str, str | int | date] | None = None,
    set_aside_to: Any = None,
    progress: Progress | None = None,
    **unknown: Any,
) -> Trial:
    """Loads and checks the counts of a rooting trial.

    Parameters
    ----------
    data
        A path (csv, parquet, xlsx), a polars or pandas frame, any Arrow-stream object, or a dictionary of columns. Also
        a table that an engine holds: a lazy frame of polars (``pl.scan_parquet("rows/*.parquet")``) and, with
        ``pip install "rootling[engines]"``, a DuckDB relation, a Dask or Spark dataframe, an Ibis table. With one row
        per cutting the engine counts the rows that are alike and lines of counts come over, so that a table may be
        larger than memory; rows that hold the counts of a tray come over as they are, those columns alone that are
        named. The trial is the same whatever held its rows, and so is its fingerprint.
    rooted : str
        Column of cuttings rooted per tray; or, without ``stuck``, of 0/1, true/false, yes/no with one row per cutting.
    stuck : str or int, optional
        Column of cuttings set per tray, or the number that every tray had (``stuck=20``).
    dead : str, optional
        Column of cuttings that died, counted as ``rooted`` is; rooted and dead together cannot exceed the
        number stuck. Then :meth:`Trial.damage_threshold` says at which strength deaths begin to rise.
    times : str, optional
        Column of how many cuttings a row stands for, where cuttings that are alike were counted before.
    treatments : str or list of str
        Columns of what was tried.
    tray, block, whole_plot, season, stock_plant : str, optional
        Columns of the design. The tray is the experimental unit: without it no answer knows how trays differ, unless
        ``stock_plant`` is named and no treatment changes within a plant: then the cuttings of a plant are one unit.
        ``tray="each-row"`` says that every row is a tray; ``tray=["strength", "tray"]`` that tray numbers start afresh
        in each strength. Labels of blocks, whole plots and stock plants can start afresh too:
        ``whole_plot=["dark_days", "bay"]`` says that bays are numbered anew in each darkness,
        ``stock_plant=["rootstock", "plant"]`` plants in each rootstock. Loading asks where labels look as if they did:
        whole plots of which no treatment is a property, rooms and bays under several lengths of darkness, batches
        under several seasons or weeks, plants of several kinds, places that hold one level each once the season or
        place around them is known. Benches and other blocks that hold all levels are ordinary and not asked about.
    covariates : list of str
        Numeric columns.
    responses : dict, optional
        What else was measured on cuttings, by column: ``{"roots": rl.responses.count(), "longest":
        rl.responses.length("cm"), "grade": rl.responses.grade(0, 5)}``. One row per cutting; or, for counts, lengths
        and masses, tray means with the column of how many cuttings they are of
        (``rl.responses.count(means_of="rooted")``), which lose how cuttings of a tray differ. Counts, lengths and
        masses are of rooted cuttings: 0 or blank where a cutting did not root. An entry that cannot be is listed with
        all the rest; with ``bad_rows="set-aside"`` its cutting keeps its place in the take, unless the entry
        contradicts that it rooted.
    primary : str, optional
        The response that was chosen beforehand to lead, ``"take"`` when left out; the others are said to be secondary.
    strength : Strength, optional
        What the strength column means.
    control : dict, optional
        The control level of treatments, for example ``{"strength": 0}``: models set the others against it. The control
        of a declared strength is 0 where it was tried.
    level_order : dict, optional
        Levels in an order of their own, per column, for example ``{"light": ["dark", "dim", "bright"]}``. Numbers stand
        in their order and other levels in that of the alphabet otherwise.
    rooted_percent : str, optional
        Column of percentages (or shares, all between 0 and 1) in place of ``rooted``. With the number stuck they become
        counts; each has to be a whole number of cuttings to its rounding. True beside ``wide``.
    wide : dict, optional
        The columns of a sheet with one column per level, which hold cuttings rooted:
        ``{"strength": ["0", "1000", "3000"]}``, or ``{"strength": {0: "water", 1000: "low"}}`` where the names are not
        the levels. Each cell is a tray; an empty one is none. With the cuttings stuck in a column of their own beside
        each: ``{"strength": {0: ("0 rooted", "0 stuck"), 1000: ("1000 rooted", "1000 stuck")}}``.
    fill_down : list of str
        Columns whose blank cells and ditto marks take the entry above, as merged cells need it.
    lost : str, optional
        Column that says why a tray was lost. Rows with such a reason and nothing counted are set aside.
    leave_out : list of int
        Numbers of rows that are no trays, such as sums; as the messages and the spreadsheet number them.
    sheet : str, optional
        Sheet of a workbook; the one with the named columns when left out.
    header_row : int, optional
        Row of the column names, where it is not found by the names themselves.
    thousands, decimal : {".", ",", " ", "'"}, optional
        Marks within numbers, where they can be read two ways.
    encoding : str, optional
        How the letters of a text file are written, where that is not UTF-8, for example ``"cp1252"``.
    checked : list of str
        Codes of questions that you have looked into and whose answer is that all is right, for example
        ``["percent_as_counts"]``.
    bad_rows : {"stop", "set-aside"}
        Stop on rows that cannot be used, or go on without them and list them in ``trial.set_aside``.
    distinct_levels : bool
        Say True once you have checked that levels such as "K12" and "k12 " really are different.
    earlier : list of Trial or dict, optional
        Earlier trials of the same place, or what their :meth:`Trial.for_later` gave (a record that json can keep).
        How their trays, bays, blocks, seasons and plants differed then has a say in the error of this trial, with
        degrees of freedom of its own: most where this trial has few units, as with two bays per level. Nothing is
        tested first. The mean squares of this trial are averaged with what the earlier ones lead to expect; their
        weight follows from how much spreads differ between them, is never their summed degrees of freedom, and stays
        small with fewer than three of them. Units are matched by column name. ``trial.design.lines`` says how many
        degrees of freedom came from earlier trials, and a note says when this trial differs from them, which changes
        nothing. Counts of earlier trials do not enter any rate. Used by ``take_rates``, ``compare``, ``compare_all``,
        ``association``, ``trend`` and models with ``trays="auto"``, whose answers say so. Not by strength curves,
        response surfaces, damage thresholds and :meth:`Trial.tray_correlation`, nor by models whose trays enter by a
        law, by a dispersion or robustly. When not to use: for trials of another place or of another way of working,
        since nothing checks that they are alike (Smyth 2004; Lönnstedt and Speed 2002).

    plan : Layout, dict or str, optional
        The plan of :func:`rootling.plan.layout` whose record sheet this is, its record, or a file of plan or key.
        Treatments, tray, block, whole plot and stock plant come from it, joined by the codes of the trays; columns of
        the record sheet (``rooted``, ``stuck``, ``dead``, ``lost``) need not be named. A blank count is a tray not
        read yet and is set aside, as is a tray that the sheet leaves out. A code may be typed, or scanned from the
        label with the letters of its plan. Rows of another plan, codes whose check letter does not fit, and codes that
        stand beside another place (bench, row, column, block) than the plan gives them are refused; where a count was
        sorted away from its code, nothing shows it. A record sheet loaded without its plan stays blind: it has no
        treatments, and a warning says so. So does one where a strip plot has treatments whose strips are no units.

    about : dict, optional
        What a write-up must tell and no column of counts holds; kept in ``trial.about``, shown in reports, and what is
        missing named by :func:`rootling.report.lacking`. ``rooted``: what counts as rooted. ``set_date``,
        ``reading_date``: a day each, or the column that holds the days; levels that were read at different ages are
        warned of. ``randomisation``: how treatments were dealt to trays, with the seed. ``losses``: what was lost, and
        why. ``planned_units``: how many trays were planned; fewer and more are warned of. A plan given with ``plan=``
        tells how it dealt trays out and how many it has. No answer changes by any of it.
    set_aside_to : path, optional
        Of a table that an engine holds: a file of parquet (or csv, by polars) into which the engine writes the rows
        that ``bad_rows="set-aside"`` leaves out, as they are. A file that is there is never replaced.
    progress : callable, optional
        Called with how much is done and how much there is, where an engine holds the table: tasks of Dask on a cluster,
        parts of loading elsewhere (rows, columns of many values, rows that are alike, checks).

    Returns
    -------
    Trial

    Raises
    ------
    TrialDataError
        With every problem found, in ``issues``, and the call that would answer them, in ``paste`` and at the end of the
        message; also where an earlier trial has no trays, is this trial itself, or calls its units otherwise. Of rows
        that an engine counted each problem is told once, with the first rows and how many more there are: by their
        numbers where rows have any, by what stands in them where they have none. Also where an engine cannot answer:
        a disk that is full, workers that were lost, columns of which nearly every row has a value of its own.
    ChoiceError
        When an argument is not what it can be.

    Examples
    --------
    >>> import rootling as rl
    >>> trial = rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck",
    ...                       treatments=["strength"], tray="tray", block="bench")
    >>> trial.design.n_units
    12
    >>> named = {"rooted": "rooted", "stuck": "stuck", "treatments": ["strength"], "tray": "tray", "block": "bench"}
    >>> now = rl.load_trial(rl.demo.two_strengths(seed=2), **named, earlier=[trial])
    >>> any("1 earlier trial" in line for line in now.design.lines)
    True

    Bays numbered anew in each darkness are four bays, not two:

    >>> rows = {"dark_days": [0] * 4 + [21] * 4, "bay": [1, 1, 2, 2] * 2, "tray": list(range(8)),
    ...         "rooted": [3, 4, 6, 5, 9, 8, 7, 9], "stuck": [20] * 8}
    >>> named = {"rooted": "rooted", "stuck": "stuck", "treatments": "dark_days", "tray": "tray"}
    >>> bays = rl.load_trial(rows, **named, whole_plot=["dark_days", "bay"])
    >>> [line for line in bays.design.lines if line.startswith("whole plot")]
    ['whole plot bay within dark_days: 4 levels; each holds one level of dark_days']

    What was told of the trial stays with it:

    >>> told = {"rooted": "one root of 1 mm or more", "set_date": "2026-03-02", "reading_date": "2026-04-13"}
    >>> rl.load_trial(rl.demo.two_strengths(seed=1), rooted="rooted", stuck="stuck", treatments="strength",
    ...               tray="tray", block="bench", about=told).about.lines[0]
    'Rooted means: one root of 1 mm or more.'

    One row per cutting, counted by the engine that holds the rows:

    >>> import polars as pl
    >>> cuttings = pl.DataFrame({"strength": [0, 2500] * 80, "tray": [k % 8 for k in range(160)],
    ...                          "rooted": [k % 5 < 2 + k % 2 for k in range(160)]}).lazy()
    >>> trial = rl.load_trial(cuttings, rooted="rooted", treatments="strength", tray="tray")
    >>> trial.design.n_units, trial.tray_counts()["stuck"].sum()
    (8, 160)

    Roots counted on each cutting beside whether it rooted:

    >>> rows = {"strength": [0] * 8 + [2500] * 8, "tray": list("aabbccddeeffgghh"), "rooted": [1, 0] * 4 + [1] * 8,
    ...         "roots": [2, None, 3, 0, 1, 0, 4, 0, 7, 5, 4, 6, 5, 5, 3, 8]}
    >>> trial = rl.load_trial(rows, rooted="rooted", treatments="strength", tray="tray", primary="roots",
    ...                       responses={"roots": rl.responses.count()})
    >>> trial.design.lines[-1]
    'the primary response is roots, named beforehand; secondary: take'

    A sheet with one column per strength, twenty cuttings in each tray:

    >>> sheet = {"bench": ["A", "B", "C", "D"], "0": [3, 4, 2, 3], "1000": [9, 11, 12, 10]}
    >>> trial = rl.load_trial(sheet, wide={"strength": ["0", "1000"]}, stuck=20, tray="each-row", block="bench")
    >>> trial.design.n_units
    8
    """
    given = {name: value for name, value in locals().items() if name not in ("data", "unknown", "plan", "progress")}
    check_known(unknown, [*given, "plan", "progress"], "load_trial")
    checked_progress(progress)
    given["about"] = told_of(about, None)
    given, data = of_plan(data, plan, given)
    said = {name: value for name, value in given.items() if not _is_default(value)}
    if plan is not None:
        given["about"] = told_of(about, plan)
    try:
        return _load(data, given, progress, said)
    except TrialDataError as error:
        if plan is not None or told_by_engine(data, given):
            # What the plan says is in no line to paste; of rows that were counted it is there already.
            raise
        raise blind(data, given) or with_line(error, data, given, said, _load) from None


def _is_default(value: Any) -> bool:
    return value is None or value is False or (isinstance(value, (str, tuple)) and value in ((), "stop"))


def _load(
    data: Any, given: Mapping[str, Any], progress: Progress | None = None, said: Mapping[str, Any] | None = None
) -> Trial:
    options = options_of(given) | {"earlier": earlier_records(given["earlier"])}
    engine = _frames.engine_of(data, progress)
    if engine is not None:
        core = of_engine(engine, options, given, said or {})._core
        return Trial(core, about_of(given["about"], core))
    if given["set_aside_to"] is not None:
        raise ChoiceError("set_aside_to= is for tables that an engine holds; trial.set_aside lists the rows of others")
    wanted = wanted_of(options)
    found = data
    if not isinstance(data, _frames.Input):
        how = (given["sheet"], given["header_row"], given["encoding"])
        told = (given["about"] or {}).values()
        found = _frames.read(data, wanted, *how, days=list(told))
    if found.cells is not None:
        core = _core.trial.read_cells(found.cells, found.notes or [], options)
    elif found.text is not None:
        core = _core.trial.read_csv(found.text, options)
    else:
        core = _core.trial.from_stream(found.frame, found.source, {**options, "columns": found.names or []})
    return Trial(core, about_of(given["about"], core))
