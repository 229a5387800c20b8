//! What cannot be laid out, in its exact words.

use rootling::error::LayoutError;

use crate::errors::check;

#[test]
fn layouts() {
    let rule = || "no treatment twice in a row (longest_run=1)".to_owned();
    let cases = [
        (
            LayoutError::NothingToCompare,
            "treatments names nothing to compare; write treatments={\"strength\": [2500, 5000]} with two levels or more",
        ),
        (
            LayoutError::LevelTwice { treatment: "strength".to_owned(), level: "2500".to_owned() },
            "level \"2500\" of \"strength\" stands twice; name each level once",
        ),
        (
            LayoutError::NameOfTheSheets { name: "tray".to_owned() },
            "\"tray\" is a column of the sheets themselves; give the treatment another name",
        ),
        (
            LayoutError::Outside { option: "trays", value: 0, least: 1, most: 5000, hint: "plan some".to_owned() },
            "trays=0 is not a number from 1 to 5000; plan some",
        ),
        (
            LayoutError::Needs { layout: "blocks", option: "blocks", hint: "write blocks=4".to_owned() },
            "layout=\"blocks\" needs blocks=; write blocks=4",
        ),
        (
            LayoutError::NoUse { layout: "blocks", option: "per_block", hint: "leave it out".to_owned() },
            "layout=\"blocks\" has no per_block=; leave it out",
        ),
        (
            LayoutError::Uneven { trays: 5, parts: 2, what: "blocks", option: "trays", fitting: 6 },
            "5 trays per combination cannot be shared evenly by 2 blocks; write trays=6",
        ),
        (
            LayoutError::NoRoom { trays: 14, rows: 3, columns: 4, fitting: 5 },
            "14 trays have no room on 3 x 4 = 12 positions; write positions=(3, 5), or take fewer",
        ),
        (
            LayoutError::NotSquare { combinations: 5, rows: 4, columns: 5 },
            "a Latin square of 5 combinations has 5 rows and 5 columns, and positions=(4, 5) is another shape; leave positions= out, or write layout=\"blocks\"",
        ),
        (
            LayoutError::NoTreatment {
                option: "whole_plot",
                name: "dark".to_owned(),
                known: vec!["dark_days".to_owned()],
            },
            "whole_plot= names \"dark\", which is none of the treatments dark_days; name one of them",
        ),
        (
            LayoutError::NothingWithin { named: vec!["dark_days".to_owned()] },
            "whole_plot= takes dark_days, so trays within a whole plot do not differ; leave a treatment to the trays, or write layout=\"blocks\" with whole plots as trays",
        ),
        (
            LayoutError::OtherLevels {
                option: "readers",
                treatment: "strength".to_owned(),
                given: vec!["0".to_owned()],
                known: vec!["0".to_owned(), "2500".to_owned()],
            },
            "readers= of \"strength\" names levels 0 and the treatment has 0, 2500; give each level its own",
        ),
        (
            LayoutError::Impossible { rule: rule(), of: "7".to_owned(), hint: "longest_run=2 leaves 5".to_owned() },
            "no treatment twice in a row (longest_run=1) is met by none of the 7 layouts; longest_run=2 leaves 5",
        ),
        (
            LayoutError::SetTooSmall {
                rule: rule(),
                left: "2".to_owned(),
                of: "924".to_owned(),
                smallest: "1".to_owned(),
                hint: "longest_run=2 leaves 208".to_owned(),
            },
            "no treatment twice in a row (longest_run=1) leaves 2 layouts of 924, too few for a test: the smallest P would be 1; longest_run=2 leaves 208",
        ),
        (
            LayoutError::TooRare { rule: rule(), one_in: "200,000".to_owned(), hint: "loosen it".to_owned() },
            "no treatment twice in a row (longest_run=1) is met by only 1 layout in 200,000, too rare to be drawn; loosen it",
        ),
        (
            LayoutError::NotConnected { replicates: 2, per_block: 2, levels: 30 },
            "2 replicates in blocks of 2 do not connect all 30 levels, so some differences could not be estimated; write trays=3 or larger blocks",
        ),
        (LayoutError::ControlIsEntry { level: "K12".to_owned() }, "\"K12\" is a control and a new entry; name it once"),
        (
            LayoutError::NoPlan { what: "the entries of tray H482A were changed".to_owned() },
            "this record is no plan any more (the entries of tray H482A were changed); take the file as it was written, or make the plan again",
        ),
    ];
    check("src/error/layout.rs", &cases);
}
