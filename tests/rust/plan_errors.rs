//! What cannot be planned, in its exact words.

use rootling::error::PlanError;

use crate::errors::check;

#[test]
fn plans() {
    let question = "difference";
    let cases = [
        (
            PlanError::Take { value: 1.2 },
            "an expected take of 1.2 is not between 0 and 1; give it as a proportion, for example 0.6 for 60 of 100",
        ),
        (
            PlanError::Correlation { value: 5.0 },
            "correlation=5 is not at least 0 and below 1; give it as a proportion, for example 0.05",
        ),
        (
            PlanError::Count { name: "trays", value: 0, low: 1, high: 2000 },
            "trays=0 is not a whole number from 1 to 2000; give another",
        ),
        (
            PlanError::Spread { name: "bay_spread", value: 9.0, high: 5.0 },
            "bay_spread=9 is not between 0 and 5; it is a standard deviation on the log odds, for example 0.5",
        ),
        (
            PlanError::Lost { value: 5.0 },
            "lost=5 is not between 0 and 0.9; it is the share of trays that are lost, for example 0.05",
        ),
        (
            PlanError::OneBay,
            "bays=1 puts each level into a single bay, so a difference may just as well be one between bays; plan at least 2 bays for each level, in one season or several",
        ),
        (
            PlanError::BaysAndBlocks,
            "bays= gives a level to whole bays and blocks= holds all levels in a block; name one of the two",
        ),
        (
            PlanError::Levels { question, needed: "2 levels".to_owned(), found: 1 },
            "question=\"difference\" needs 2 levels and takes= holds 1; give as many expected takes",
        ),
        (
            PlanError::Needs { question: "equivalent", name: "margin", example: "margin=0.10" },
            "question=\"equivalent\" needs margin=; add it, for example margin=0.10",
        ),
        (
            PlanError::Proportion { name: "power", value: 80.0, example: "0.8" },
            "power=80 is not between 0 and 1, both excluded; give it as a proportion, for example 0.8",
        ),
        (
            PlanError::NothingToSee,
            "the expected takes do not differ, so there is nothing to see; give those between which the trial is to decide, for example takes=(0.60, 0.75)",
        ),
        (
            PlanError::BeyondMargin { gap: 0.15, margin: 0.1 },
            "the expected takes lie 0.150 apart, which is not inside margin=0.1, so no number of trays would show it; expect takes that are nearer or choose a wider margin",
        ),
        (
            PlanError::Unmatched { name: "scores", found: 2, expected: 3 },
            "scores= holds 2 numbers for 3 levels; give one for each level",
        ),
        (
            PlanError::OnePlace,
            "scores= puts all levels at one place, so there is no line; give each level its strength or order",
        ),
        (PlanError::NotFilled { trays: 8, block: 3 }, "trays=8 do not fill blocks of 3; give a multiple of 3"),
        (PlanError::Draws { draws: 10 }, "draws=10 is not between 100 and 1000000; 10000 tell a power to half a point"),
        (
            PlanError::NoSmallest { question: "trend" },
            "a smallest difference is looked for between two levels; question=\"trend\" has none, ask power or trays_needed",
        ),
        (
            PlanError::NotCrossed { question: "effect" },
            "question=\"effect\" needs a table of two treatments; give takes= as a list of rows of one length, for example [[0.3, 0.5], [0.3, 0.75]]",
        ),
        (
            PlanError::Crossed { question },
            "question=\"difference\" is about one treatment; give takes= as one list, or ask question=\"interaction\"",
        ),
        (
            PlanError::CrossedInBays,
            "two crossed treatments cannot both be given to whole bays; leave bays= out, or plan the treatment of the bays alone",
        ),
        (
            PlanError::NoInteraction,
            "the expected takes add up on the log odds, so there is no interaction to see; give takes whose differences change, for example [[0.3, 0.5], [0.3, 0.75]]",
        ),
        (
            PlanError::Places { places: 3, least: 4 },
            "places=3 holds no trial of these levels; the smallest one has 4 trays",
        ),
        (PlanError::Empty { name: "trays" }, "trays= is empty; give at least one"),
        (
            PlanError::Cost { name: "cost_per_tray", value: -1.0 },
            "cost_per_tray=-1 is no cost; give a number of 0 or more, in any currency, and at least one above 0",
        ),
        (
            PlanError::NothingKnown,
            "the earlier trials tell nothing of how trays differ; give correlation= as a number or a list",
        ),
        (
            PlanError::LookTrays { looks: 3, trays: 8, least: 6 },
            "3 looks at 8 trays per level would have fewer than 2 trays each, or parts of trays; give a multiple of 3 from 6 on",
        ),
        (
            PlanError::LooksAt { question },
            "looks are planned for two levels in trays; question=\"difference\" cannot be looked at early, ask about a difference without bays or blocks",
        ),
        (
            PlanError::NotFree,
            "the chance at the end is worked out for one treatment given to trays that were dealt out freely; this trial counts cuttings, or has blocks, bays, seasons, plants or a second treatment",
        ),
        (
            PlanError::NothingToCome { trays: 4 },
            "trays=4 leaves nothing to come, or too little was read to tell how trays differ; give more trays per level than were read, and read at least two of one level",
        ),
        (
            PlanError::TooAlike { value: 0.95 },
            "correlation=0.95 is more than law=\"logit-normal\" is worked out for; take law=\"beta-binomial\", or a smaller one",
        ),
        (
            PlanError::NoEffect,
            "the rows of takes= are alike, so the first treatment has no effect to see; give a row for each of its levels, for example [[0.3, 0.4], [0.5, 0.6]]",
        ),
        (
            PlanError::CurveStrengths { found: 2 },
            "2 strengths are no curve to plan by, or they do not rise; give at least 4 with the take expected at each, for example {0: 0.1, 1000: 0.5, 3000: 0.6, 8000: 0.3}",
        ),
        (
            PlanError::Looks { looks: 1 },
            "looks=1 is not between 2 and 10; each look is a time at which the trial may end",
        ),
    ];
    check("src/error/plan.rs", &cases);
}
