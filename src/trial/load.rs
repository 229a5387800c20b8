//! Loading: names, cells, checks, units, design - in that order, each once.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

use crate::answer::Note;
use crate::control::Signal;
use crate::error::{DataError, Result};
use crate::error::{Issue, Severity};
use crate::layers::Earlier;
use crate::report::join;
use crate::trial::columns::Units;
use crate::trial::dates::today;
use crate::trial::design::describe;
use crate::trial::earlier;
use crate::trial::fingerprint::Fnv;
use crate::trial::frame::Frame;
use crate::trial::held::Trial;
use crate::trial::responses::Measured;
use crate::trial::roles::{BadRows, LoadOptions, Source};
use crate::trial::sheet::{self, Lines, Sheet, frame_of, sheet_of};
use crate::trial::table::{Rows, Table};
use crate::trial::units::build;
use crate::trial::unused::Unused;
use crate::trial::validate::{Checked, check, check_rows};
use crate::trial::{named, read, responses, suspects};
use crate::units::plausibility;

/// Reads delimited text and checks it.
///
/// # Errors
/// [`DataError`] with every problem found, unless `options.bad_rows` sets bad rows aside; problems of whole columns always stop.
///
/// ```
/// use rootling::trial::{LoadOptions, read_csv};
/// let text = b"strength,tray,rooted,stuck\n0,a,3,20\n2500,b,14,20\n";
/// let options = LoadOptions {
///     rooted: "rooted".into(), stuck: Some("stuck".into()), tray: Some("tray".into()),
///     treatments: vec!["strength".into()], ..LoadOptions::default()
/// };
/// let trial = read_csv(text, &options)?;
/// assert_eq!(trial.units().rooted, [3, 14]);
/// # Ok::<(), rootling::Error>(())
/// ```
pub fn read_csv(bytes: &[u8], options: &LoadOptions) -> Result<Trial> {
    let wanted: Vec<&str> = options.sheet_roles().into_iter().map(|(_, name)| name).collect();
    match read::read_text(bytes, &wanted, options.shapes() || options.header_row.is_some())? {
        read::Text::Plain(frame) => from_frame(frame, Source::File, options),
        read::Text::Sheet(lines) => from_cells(lines, Vec::new(), options),
    }
}

/// Checks the cells of a sheet: finds the row of names, shapes what the options say, and goes on as with a frame. `notes` tell
/// what whoever read the sheet found.
///
/// # Errors
/// As [`read_csv`].
pub fn from_cells(lines: Lines, notes: Vec<Note>, options: &LoadOptions) -> Result<Trial> {
    known(options)?;
    let mut notes = notes;
    let mut found = sheet::named(lines, options, &mut notes).map_err(|issues| DataError { issues })?;
    let ends = found.numbers.first().zip(found.numbers.last());
    if let Some((first, last)) = ends {
        rows_known(options, *first, *last)?;
    }
    load_sheet(&mut found, Source::File, notes, options)
}

/// Questions that are none, and responses that cannot be.
fn known(options: &LoadOptions) -> Result<()> {
    let issues = responses::misnamed(options);
    if !issues.is_empty() {
        return Err(DataError { issues }.into());
    }
    match named::unknown_question(&options.checked, &named::QUESTIONS) {
        Some(unknown) => Err(unknown.into()),
        None => Ok(()),
    }
}

/// Rows to be left out that the table does not have.
fn rows_known(options: &LoadOptions, first: u64, last: u64) -> Result<()> {
    match named::unknown_rows(&options.leave_out, first, last) {
        Some(issue) => Err(DataError { issues: vec![issue] }.into()),
        None => Ok(()),
    }
}

fn load_sheet(found: &mut Sheet, source: Source, notes: Vec<Note>, options: &LoadOptions) -> Result<Trial> {
    let options = sheet::shape(found, options, notes).map_err(|issues| DataError { issues })?;
    let frame = frame_of(found)?;
    checked(frame, source, &options)
}

/// Checks a frame of counts.
///
/// # Errors
/// As [`read_csv`].
pub fn from_frame(frame: Frame, source: Source, options: &LoadOptions) -> Result<Trial> {
    known(options)?;
    let first = source.first_row();
    rows_known(options, first, (first + frame.height() as u64).saturating_sub(1))?;
    if options.shapes() {
        let mut found = sheet_of(&frame, source.first_row());
        return load_sheet(&mut found, source, Vec::new(), options);
    }
    checked(frame, source, options)
}

/// Refuses options that name what is no column.
fn check_columns(frame: &Frame, options: &LoadOptions) -> Result<()> {
    let columns: Vec<String> = frame.names().into_iter().map(str::to_owned).collect();
    let issues = options.check_names(&columns);
    if issues.is_empty() { Ok(()) } else { Err(DataError { issues }.into()) }
}

fn checked(frame: Frame, source: Source, options: &LoadOptions) -> Result<Trial> {
    check_columns(&frame, options)?;
    let mut names: Vec<String> = options.roles().iter().map(|(_, name)| (*name).to_owned()).collect();
    names.dedup();
    let rows = Rows::read(&frame, &names, options.times.as_deref()).respelled(options);
    let height = rows.counted();
    let derived = suspects::derived_rows(&rows, options, source);
    let unused = Unused::of(&frame, options);
    let unused_place = unused.note(&rows, options);
    let mut table = rows.grouped();
    let mut checked = check(&table, &unused, options, source);
    if checked.issues.is_empty() && derived.is_empty() && options.leave_out.is_empty() || frame.height() == 0 {
        drop(rows);
    } else {
        // Something is wrong: look again row by row, so that every row number can be named.
        table = rows.each();
        checked = check_rows(&table, &unused, options, source, &derived);
    }
    let mut built = build(&table, &mut checked, options);
    checked.issues.extend(built.issues);
    let (fingerprint, mut design) = Signal::both(
        built.units.len(),
        || fingerprint(&built.units, built.dead.as_ref(), &built.measured),
        || describe(&built.units, &built.stock),
    );
    checked.issues.extend(earlier::wrong(&options.earlier, &fingerprint, options));
    if checked.good.is_empty() {
        checked.issues.extend(nothing_left(&checked.issues, options.bad_rows));
    }
    stop_if_needed(&checked.issues, options.bad_rows)?;
    design.lines.extend(built.anew);
    let controls = controls(&built.units, options);
    design.lines.extend(controls.iter().map(|(name, level)| format!("{name}: the control is {level}")));
    design.controls = controls;
    design.lines.extend(unused.line());
    let mut notes = design.notes.clone();
    notes.extend(options.shaped.iter().flat_map(|shaped| shaped.notes.clone()));
    let set_aside = much_set_aside(&checked, &table, options, source, height);
    notes.extend(checked.notes);
    notes.extend(unused_place);
    notes.extend(set_aside);
    notes.extend(strength_notes(&built.units, options));
    notes.extend(season_note(&built.units));
    built.units.earlier = Earlier::joined(&options.earlier);
    earlier::tell(&built.units, &mut design.lines, &mut notes);
    responses::tell(&built.measured, &built.units, options, &mut design.lines, &mut notes);
    Ok(Trial {
        frame,
        options: options.clone(),
        source,
        units: Arc::new(built.units),
        dead: built.dead,
        reached: None,
        measured: built.measured,
        rows: built.rows,
        design,
        issues: checked.issues,
        notes,
        fingerprint,
        prepared: OnceLock::new(),
    })
}

/// A word where a good part of the sheet does not enter: more than a fifth of its rows.
fn much_set_aside(
    checked: &Checked,
    table: &Table,
    options: &LoadOptions,
    source: Source,
    rows: usize,
) -> Option<Note> {
    let bad = |issue: &&Issue| issue.severity == Severity::Problem && !options.is_response(issue.column.as_deref());
    let lines: BTreeSet<u64> = checked.issues.iter().filter(bad).filter_map(|issue| issue.row).collect();
    let bad = match options.times {
        None => lines.len(),
        Some(_) => {
            let of = |(line, times): (usize, &u64)| lines.contains(&options.row_number(line, source)).then_some(*times);
            table.weights.iter().enumerate().filter_map(of).fold(0, |sum: u64, one| sum.saturating_add(one)) as usize
        }
    };
    (bad.saturating_mul(5) > rows).then(|| {
        let text = format!(
            "{bad} of {rows} rows were set aside since something is wrong with them; what is left may not speak for the trial. Look at .set_aside and correct the sheet."
        );
        Note::new("much_set_aside", text)
    })
}

/// The declared control levels; a strength's is 0 where none is declared and 0 was tried.
fn controls(units: &Units, options: &LoadOptions) -> BTreeMap<String, String> {
    let mut controls = options.control.clone();
    let strength = options.strength_treatment().and_then(|name| units.factor(name));
    if let Some(factor) = strength.filter(|factor| factor.levels.iter().any(|level| level == "0")) {
        controls.entry(factor.name.clone()).or_insert_with(|| "0".to_owned());
    }
    controls
}

fn stop_if_needed(issues: &[Issue], bad_rows: BadRows) -> Result<()> {
    let stops = issues.iter().any(|issue| stops(issue, bad_rows));
    if stops { Err(DataError { issues: issues.to_vec() }.into()) } else { Ok(()) }
}

fn stops(issue: &Issue, bad_rows: BadRows) -> bool {
    match bad_rows {
        BadRows::Stop => issue.severity != Severity::Information,
        BadRows::SetAside => is_of_the_whole(issue),
    }
}

/// True for a problem that no row set aside would mend.
fn is_of_the_whole(issue: &Issue) -> bool {
    issue.severity == Severity::Problem && (issue.row.is_none() || ALWAYS_STOP.contains(&issue.code.as_str()))
}

/// That no row is left, where rows alone are wrong and not each has its answer, or where nothing else stops.
fn nothing_left(issues: &[Issue], bad_rows: BadRows) -> Option<Issue> {
    if issues.iter().any(is_of_the_whole) {
        return None;
    }
    let mut wrong = issues.iter().filter(|issue| issue.severity == Severity::Problem).peekable();
    let (reason, hint) = match wrong.peek() {
        Some(_) => ("no row can be used", "correct the problems listed"),
        None => ("every row is blank, lost or left out", "give one row per tray or per cutting"),
    };
    let unanswered = wrong.any(|issue| issue.paste.is_none());
    let goes_on = !issues.iter().any(|issue| stops(issue, bad_rows));
    (unanswered || goes_on).then(|| Issue::of_input("no_usable_rows", reason, hint))
}

/// Row-numbered problems of a whole column: setting one row aside would not help.
const ALWAYS_STOP: [&str; 1] = ["bare_percent_column"];

fn strength_notes(units: &Units, options: &LoadOptions) -> Vec<Note> {
    let Some(strength) = &options.strength else { return Vec::new() };
    let column = options.strength_treatment().and_then(|name| units.factor(name));
    let values = column.and_then(|factor| factor.numbers.clone()).unwrap_or_default();
    let mut notes: Vec<Note> = values.into_iter().filter_map(|value| plausibility(value, strength)).collect();
    if strength.unit().is_molar() && strength.substance().molar_mass().is_none() {
        let (unit, substance) = (strength.unit(), strength.substance());
        let text = format!(
            "{unit} of {substance}: its molar mass is not known, so nothing says whether these strengths are usual, and none can be told in mg/L; give Strength(..., molar_mass=...) in g/mol, of the salt where it is one."
        );
        notes.push(Note::new("strength_without_molar_mass", text));
    }
    notes
}

/// Seasons that read as years and are none that a trial can be of: before 1950, or still to come.
fn season_note(units: &Units) -> Option<Note> {
    const FIRST: f64 = 1950.0;
    let season = units.season.as_ref()?;
    let next = f64::from(1971 + today() / 365);
    let is_year = |value: f64| value.fract() == 0.0 && (1000.0..10_000.0).contains(&value);
    let odd = |value: f64| is_year(value) && !(FIRST..=next).contains(&value);
    let told: Vec<String> = season.numbers.iter().flatten().filter(|value| odd(**value)).map(f64::to_string).collect();
    let (seasons, years) = if told.len() > 1 { ("Seasons", "are") } else { ("Season", "is") };
    let text = format!("{seasons} {} {years} before 1950 or still to come: check the year in the sheet.", join(&told));
    (!told.is_empty()).then(|| Note::new("unusual_season", text))
}

/// The fingerprint of the units in their fixed order; the order of rows does not matter.
fn fingerprint(units: &Units, dead: Option<&Vec<u64>>, measured: &[Measured]) -> String {
    let mut hash = Fnv::new();
    hash.take(units);
    if let Some(dead) = dead {
        hash.take(dead);
    }
    // A trial without responses keeps the fingerprint it had before there were any.
    for one in measured {
        hash.take(one);
    }
    hash.shown()
}
