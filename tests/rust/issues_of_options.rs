//! Issues of what options say of the data, in their exact words; `issues` asks for all of them.

use crate::issues::{Case, asked, with_row};

pub(crate) fn of_options() -> Vec<Case> {
    let named = |levels: &[&str]| levels.iter().map(|one| (*one).to_owned()).collect();
    let order = |levels: &[&str]| asked(|one| drop(one.level_order.insert("strength".into(), named(levels))));
    let told = |code, options, words| (code, with_row("2500,b,4,20"), options, words);
    vec![
        told(
            "unknown_row",
            asked(|one| one.leave_out = vec![9]),
            "leave_out= names row 9, which is not in the table; its rows are 2 to 4, as a spreadsheet numbers them; correct the number",
        ),
        told(
            "counts_filled_down",
            asked(|one| one.fill_down = vec!["rooted".into()]),
            "column \"rooted\": fill_down= names a column of counts, and the count of one tray is not that of the tray above it; leave it out of fill_down=; the count of a tray that is not read yet stays empty",
        ),
        told(
            "level_with_two_places",
            order(&["0", "2500", "0"]),
            "column \"strength\": level \"0\" stands twice in level_order=; give each level one place",
        ),
        (
            "times_of_counts",
            b"strength,tray,rooted,stuck,n\n0,a,3,20,1\n2500,b,12,20,1\n".to_vec(),
            asked(|one| one.times = Some("n".into())),
            "column \"n\": times= says how many cuttings a row stands for, and with a number stuck each row is a tray; leave out times=, or leave out the number stuck",
        ),
        (
            "stands_for_none",
            b"strength,rooted,n\n0,yes,3\n0,no,0\n2500,yes,9\n".to_vec(),
            asked(|one| {
                (one.stuck, one.tray, one.times) = (None, None, Some("n".into()));
            }),
            "row 3, column \"n\": the row stands for 0 cuttings; correct the number or remove the row",
        ),
        told(
            "absent_levels",
            order(&["0", "2500", "9000"]),
            "column \"strength\": level \"9000\" of level_order= does not occur; the levels are 0, 2500; leave it out, or say with checked=[\"absent_levels\"] that it was not tried",
        ),
    ]
}
