//! A trial that cannot be planned as asked.

/// What can be wrong with the plan of a trial.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// A take that is no rate.
    #[error(
        "an expected take of {value} is not between 0 and 1; give it as a proportion, for example 0.6 for 60 of 100"
    )]
    Take {
        /// Value given.
        value: f64,
    },
    /// A correlation that is none.
    #[error("correlation={value} is not at least 0 and below 1; give it as a proportion, for example 0.05")]
    Correlation {
        /// Value given.
        value: f64,
    },
    /// A whole number outside its range.
    #[error("{name}={value} is not a whole number from {low} to {high}; give another")]
    Count {
        /// The option.
        name: &'static str,
        /// Value given.
        value: u64,
        /// Least.
        low: u64,
        /// Most.
        high: u64,
    },
    /// A spread of places that is none.
    #[error("{name}={value} is not between 0 and {high}; it is a standard deviation on the log odds, for example 0.5")]
    Spread {
        /// The option.
        name: &'static str,
        /// Value given.
        value: f64,
        /// Most.
        high: f64,
    },
    /// Too many trays lost.
    #[error("lost={value} is not between 0 and 0.9; it is the share of trays that are lost, for example 0.05")]
    Lost {
        /// Value given.
        value: f64,
    },
    /// Darkness in a single bay.
    #[error(
        "bays=1 puts each level into a single bay, so a difference may just as well be one between bays; plan at least 2 bays for each level, in one season or several"
    )]
    OneBay,
    /// Bays of one level each, within blocks of all levels.
    #[error("bays= gives a level to whole bays and blocks= holds all levels in a block; name one of the two")]
    BaysAndBlocks,
    /// Levels that a question cannot be asked of.
    #[error("question=\"{question}\" needs {needed} and takes= holds {found}; give as many expected takes")]
    Levels {
        /// The question.
        question: &'static str,
        /// Levels that it needs, in words.
        needed: String,
        /// Levels given.
        found: usize,
    },
    /// A question that needs a number that was not given.
    #[error("question=\"{question}\" needs {name}=; add it, for example {example}")]
    Needs {
        /// The question.
        question: &'static str,
        /// The option.
        name: &'static str,
        /// How it may look.
        example: &'static str,
    },
    /// A proportion outside its range.
    #[error("{name}={value} is not between 0 and 1, both excluded; give it as a proportion, for example {example}")]
    Proportion {
        /// The option.
        name: &'static str,
        /// Value given.
        value: f64,
        /// How it may look.
        example: &'static str,
    },
    /// Nothing is expected to differ.
    #[error(
        "the expected takes do not differ, so there is nothing to see; give those between which the trial is to decide, for example takes=(0.60, 0.75)"
    )]
    NothingToSee,
    /// What is expected already breaks the margin.
    #[error(
        "the expected takes lie {gap:.3} apart, which is not inside margin={margin}, so no number of trays would show it; expect takes that are nearer or choose a wider margin"
    )]
    BeyondMargin {
        /// The expected difference.
        gap: f64,
        /// The margin.
        margin: f64,
    },
    /// Lists that are not of one length.
    #[error("{name}= holds {found} numbers for {expected} levels; give one for each level")]
    Unmatched {
        /// The option.
        name: &'static str,
        /// Numbers found.
        found: usize,
        /// Numbers expected.
        expected: usize,
    },
    /// Scores that do not differ.
    #[error("scores= puts all levels at one place, so there is no line; give each level its strength or order")]
    OnePlace,
    /// Trays that do not fill blocks.
    #[error("trays={trays} do not fill blocks of {block}; give a multiple of {block}")]
    NotFilled {
        /// Trays of a level.
        trays: u64,
        /// Trays of a level in a block.
        block: u64,
    },
    /// Draws that say too little, or take too long.
    #[error("draws={draws} is not between 100 and 1000000; 10000 tell a power to half a point")]
    Draws {
        /// Draws given.
        draws: u64,
    },
    /// A question for which no smallest difference is looked for.
    #[error(
        "a smallest difference is looked for between two levels; question=\"{question}\" has none, ask power or trays_needed"
    )]
    NoSmallest {
        /// The question.
        question: &'static str,
    },
    /// Takes that are no table of two treatments.
    #[error(
        "question=\"{question}\" needs a table of two treatments; give takes= as a list of rows of one length, for example [[0.3, 0.5], [0.3, 0.75]]"
    )]
    NotCrossed {
        /// The question.
        question: &'static str,
    },
    /// A table of two treatments for a question about one.
    #[error("question=\"{question}\" is about one treatment; give takes= as one list, or ask question=\"interaction\"")]
    Crossed {
        /// The question.
        question: &'static str,
    },
    /// Two treatments, of which bays would carry both.
    #[error(
        "two crossed treatments cannot both be given to whole bays; leave bays= out, or plan the treatment of the bays alone"
    )]
    CrossedInBays,
    /// Takes without an interaction.
    #[error(
        "the expected takes add up on the log odds, so there is no interaction to see; give takes whose differences change, for example [[0.3, 0.5], [0.3, 0.75]]"
    )]
    NoInteraction,
    /// Nothing in a list.
    #[error("{name}= is empty; give at least one")]
    Empty {
        /// The option.
        name: &'static str,
    },
    /// A price that is none.
    #[error("{name}={value} is no cost; give a number of 0 or more, in any currency, and at least one above 0")]
    Cost {
        /// The option.
        name: &'static str,
        /// Value given.
        value: f64,
    },
    /// Fewer places than the smallest trial needs.
    #[error("places={places} holds no trial of these levels; the smallest one has {least} trays")]
    Places {
        /// Places given.
        places: u64,
        /// Trays of the smallest trial.
        least: u64,
    },
    /// Earlier trials that tell nothing of trays.
    #[error("the earlier trials tell nothing of how trays differ; give correlation= as a number or a list")]
    NothingKnown,
    /// Trays that looks cannot share.
    #[error(
        "{looks} looks at {trays} trays per level would have fewer than 2 trays each, or parts of trays; give a multiple of {looks} from {least} on"
    )]
    LookTrays {
        /// Looks given.
        looks: u64,
        /// Trays given.
        trays: u64,
        /// The least that would do.
        least: u64,
    },
    /// Looks at another question than a difference.
    #[error(
        "looks are planned for two levels in trays; question=\"{question}\" cannot be looked at early, ask about a difference without bays or blocks"
    )]
    LooksAt {
        /// The question.
        question: &'static str,
    },
    /// A trial under way whose trays were not dealt out freely.
    #[error(
        "the chance at the end is worked out for one treatment given to trays that were dealt out freely; this trial counts cuttings, or has blocks, bays, seasons, plants or a second treatment"
    )]
    NotFree,
    /// A trial under way that has nothing left to come, or too little so far.
    #[error(
        "trays={trays} leaves nothing to come, or too little was read to tell how trays differ; give more trays per level than were read, and read at least two of one level"
    )]
    NothingToCome {
        /// Trays given.
        trays: u64,
    },
    /// Strengths that make no curve.
    #[error(
        "{found} strengths are no curve to plan by, or they do not rise; give at least 4 with the take expected at each, for example {{0: 0.1, 1000: 0.5, 3000: 0.6, 8000: 0.3}}"
    )]
    CurveStrengths {
        /// Strengths given.
        found: usize,
    },
    /// A correlation that normal log odds do not reach.
    #[error(
        "correlation={value} is more than law=\"logit-normal\" is worked out for; take law=\"beta-binomial\", or a smaller one"
    )]
    TooAlike {
        /// Value given.
        value: f64,
    },
    /// Levels of the first treatment that do not differ.
    #[error(
        "the rows of takes= are alike, so the first treatment has no effect to see; give a row for each of its levels, for example [[0.3, 0.4], [0.5, 0.6]]"
    )]
    NoEffect,
    /// A number of looks that cannot be.
    #[error("looks={looks} is not between 2 and 10; each look is a time at which the trial may end")]
    Looks {
        /// Looks given.
        looks: u64,
    },
}
