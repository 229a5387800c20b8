//! Issues of responses, declared or entered, in their exact words; `issues` asks for all of them.

use rootling::trial::{LoadOptions, Response, ResponseUnit, Wide};

use crate::issues::{Case, asked};

/// One row per cutting, with these responses.
fn cuttings(responses: Vec<Response>) -> LoadOptions {
    asked(|one| (one.stuck, one.responses) = (None, responses))
}

/// Cuttings of three trays, of which the second row is given.
fn with_cutting(row: &str) -> Vec<u8> {
    format!("strength,tray,rooted,y,n\n0,a,1,2,1\n{row}\n0,b,1,3,1\n2500,c,1,4,1\n2500,c,0,0,1\n").into_bytes()
}

/// Means of trays, of which the second is given.
fn with_tray(row: &str) -> Vec<u8> {
    format!("strength,tray,rooted,stuck,y,n\n0,a,3,20,2.5,3\n{row}\n2500,c,12,20,4.5,12\n").into_bytes()
}

fn count() -> Response {
    Response::count("y")
}

fn of_entries() -> Vec<Case> {
    let count = || cuttings(vec![count()]);
    let length = || cuttings(vec![Response::in_unit("y", ResponseUnit::Centimetre)]);
    vec![
        (
            "unmeasured",
            with_cutting("0,a,1,,1"),
            count(),
            "row 3, column \"y\": no value, though the cutting rooted; enter it; where some were left out on purpose, checked=[\"unmeasured\"] says so, and they keep their place in the take",
        ),
        (
            "zero_of_rooted",
            with_cutting("0,a,1,0,1"),
            count(),
            "row 3, column \"y\": 0 where the cutting rooted; a rooted cutting has at least one root; correct this entry or the one that says it rooted, and leave what was not measured blank",
        ),
        (
            "measured_unrooted",
            with_cutting("0,a,0,4,1"),
            count(),
            "row 3, column \"y\": 4 where the cutting did not root; only rooted cuttings are measured; correct this entry or the one that says it did not root",
        ),
        (
            "negative_response",
            with_cutting("0,a,1,-2,1"),
            count(),
            "row 3, column \"y\": -2 is negative; a count is 0 or more; correct the entry",
        ),
        (
            "fractional_response",
            with_cutting("0,a,1,2.5,1"),
            count(),
            "row 3, column \"y\": 2.5 is not a whole number; a count of one cutting is whole; correct the entry",
        ),
        (
            "response_too_large",
            with_cutting("0,a,1,2000000,1"),
            count(),
            "row 3, column \"y\": 2000000 is above 1000000, more than any cutting has; correct the entry, or declare a larger unit",
        ),
        (
            "not_a_number",
            with_cutting("0,a,1,many,1"),
            count(),
            "row 3, column \"y\": \"many\" is not a number; enter the number alone and keep remarks in another column",
        ),
        (
            "other_unit",
            with_cutting("0,a,1,30 mm,1"),
            length(),
            "row 3, column \"y\": \"30 mm\" is in mm, and the column is declared in cm; write 3, since all entries of a column are in one unit",
        ),
        (
            "other_unit",
            with_cutting("0,a,1,3 g,1"),
            count(),
            "row 3, column \"y\": \"3 g\" is in g, and the column is declared without a unit; write all entries of a column in the unit that is declared",
        ),
        (
            "ambiguous_number",
            with_cutting("0,a,1,\"2,500\",1"),
            length(),
            "row 3, column \"y\": \"2,500\" can be read as a thousand or as a decimal; write it without the comma, or say which it is with thousands=\",\" or decimal=\",\"",
        ),
        (
            "grade_off_scale",
            with_cutting("0,a,1,7,1"),
            cuttings(vec![Response::grade("y", 0, 5)]),
            "row 3, column \"y\": 7 is no grade of the scale 0 to 5; correct the entry, or declare the scale that was used",
        ),
    ]
}

fn of_means() -> Vec<Case> {
    let means = || asked(|one| one.responses = vec![count().with_means_of("n")]);
    vec![
        (
            "more_measured_than_rooted",
            with_tray("0,b,5,20,2.5,6"),
            means(),
            "row 3, column \"y\": a mean of 6 cuttings, where 5 rooted; only rooted cuttings are measured; correct one of the two",
        ),
        (
            "missing_mean",
            with_tray("0,b,5,20,,5"),
            means(),
            "row 3, column \"y\": no mean, where \"n\" says 5 cuttings; enter the mean, or 0 cuttings where none was measured",
        ),
        (
            "mean_of_none",
            with_tray("0,b,5,20,2.5,0"),
            means(),
            "row 3, column \"y\": a mean of 2.5, where \"n\" says 0 cuttings; enter how many cuttings it is of, or leave it blank",
        ),
        (
            "mean_below_one",
            with_tray("0,b,5,20,0.4,5"),
            means(),
            "row 3, column \"y\": a mean of 0.4, where each rooted cutting has 1 or more; means are over rooted cuttings; divide the total by how many rooted, not by how many were stuck",
        ),
    ]
}

fn of_declarations() -> Vec<Case> {
    let bare = |unit| Response { unit, ..Response::in_unit("y", ResponseUnit::Centimetre) };
    let told = |code, options, words| (code, with_cutting("0,a,1,2,1"), options, words);
    vec![
        told(
            "response_without_unit",
            cuttings(vec![bare(None)]),
            "column \"y\": a length is in mm, cm or m; write responses={\"y\": rl.responses.length(\"cm\")} with its unit",
        ),
        told(
            "grade_without_scale",
            cuttings(vec![Response::grade("y", 5, 0)]),
            "column \"y\": a scale of grades runs from 0 or more upwards, 20 grades at most; write responses={\"y\": rl.responses.grade(0, 5)} with its lowest and highest",
        ),
        told(
            "means_of_cuttings",
            cuttings(vec![count().with_means_of("n")]),
            "column \"y\": each row is a cutting, so no entry is a mean; leave means_of= out, or name the number stuck with stuck=",
        ),
        (
            "means_without_number",
            with_tray("0,b,5,20,2.5,5"),
            asked(|one| one.responses = vec![count()]),
            "column \"y\": each row is a tray, so an entry is a mean of cuttings; say which column holds how many cuttings each mean is of, means_of=\"rooted\" where all that rooted were measured, or give one row per cutting",
        ),
        (
            "mean_of_grades",
            with_tray("0,b,5,20,2.5,5"),
            asked(|one| one.responses = vec![Response::grade("y", 0, 5)]),
            "column \"y\": grades have an order and no mean; give one row per cutting, or rows of trays and grades with times=",
        ),
        told(
            "responses_in_wide",
            asked(|one| {
                one.responses = vec![count().with_means_of("n")];
                let (treatment, columns, levels, stuck) = ("strength".to_owned(), Vec::new(), Vec::new(), Vec::new());
                one.wide = Some(Wide { treatment, columns, levels, stuck });
            }),
            "column \"y\": a sheet with one column per level has no place for responses; give one row per tray or per cutting",
        ),
        told(
            "unknown_primary",
            {
                let mut options = cuttings(vec![count()]);
                options.primary = Some("rots".into());
                options
            },
            "primary= names \"rots\", which is no response that was declared; it can be take, y",
        ),
    ]
}

pub(crate) fn of_responses() -> Vec<Case> {
    [of_entries(), of_means(), of_declarations()].concat()
}
