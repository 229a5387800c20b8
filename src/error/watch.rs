//! A crop that cannot be watched as asked.

/// What can be wrong with a question to a watched crop.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WatchError {
    /// A drop that the usual rate does not allow.
    #[error(
        "drop={drop} is not between 0 and the usual rate of {usual:.3}; give it as a proportion, for example 0.05 for 5 trees per 100"
    )]
    DropTooLarge {
        /// The drop given.
        drop: f64,
        /// The usual rate.
        usual: f64,
    },
    /// A drop that no crop is large enough to show.
    #[error(
        "drop={drop:?} is below 0.001, a tree in 1000, which no crop is large enough to show; give for example 0.05 for 5 trees per 100"
    )]
    DropTooSmall {
        /// The drop given.
        drop: f64,
    },
    /// A drop of most that live.
    #[error(
        "drop={drop} is more than three quarters of the usual rate of {usual:.3}, which is seen without a chart; give a smaller one, for example 0.05 for 5 trees per 100"
    )]
    DropOfMost {
        /// The drop given.
        drop: f64,
        /// The usual rate.
        usual: f64,
    },
    /// A promise that cannot be kept.
    #[error("weeks_between={weeks} is not a number of weeks from 2 to 5200; 104 is one signal by chance in two years")]
    WeeksBetween {
        /// Weeks given.
        weeks: f64,
    },
    /// Too few batches for a baseline.
    #[error(
        "a baseline needs at least {needed} batches over at least {weeks} weeks, and there are {batches} over {found}; take in earlier batches"
    )]
    TooFewBatches {
        /// Batches found.
        batches: usize,
        /// Batches needed.
        needed: usize,
        /// Weeks found.
        found: usize,
        /// Weeks needed.
        weeks: usize,
    },
    /// A stretch of time without readings.
    #[error("no batch was read {side} {day} on that counts; give another day")]
    NothingRead {
        /// "before" or "from".
        side: &'static str,
        /// The day.
        day: String,
    },
    /// Two stretches that share no kind of batch.
    #[error("the two stretches have no kind of batch in common, so nothing is like; name fewer columns or another day")]
    NothingAlike,
    /// A chance that cannot be one.
    #[error(
        "one_in={value} is not a number of batches of 10 or more; 500 means that one batch in 500 may lie below by chance"
    )]
    OneIn {
        /// Value given.
        value: f64,
    },
    /// A weight in an average that cannot be one.
    #[error("weight={value} is not above 0 and at most 1; 0.1 gives each batch a tenth of the average")]
    Weight {
        /// Value given.
        value: f64,
    },
    /// A record that is no baseline any more.
    #[error("the {what} of this baseline are not such as a baseline can have; make it again from its crop")]
    UnsoundBaseline {
        /// What is wrong.
        what: &'static str,
    },
    /// Draws that say too little, or take too long.
    #[error("draws={draws} is not between 19 and 1000000; 999 tell a P value of 0.001")]
    Draws {
        /// Draws given.
        draws: u64,
    },
    /// A baseline of another crop.
    #[error(
        "the baseline knows the columns {baseline} and this crop {crop}; make a baseline of this crop, or load both alike"
    )]
    OtherColumns {
        /// Columns of the baseline.
        baseline: String,
        /// Columns of the crop.
        crop: String,
    },
    /// A baseline of batches that were judged younger or older.
    #[error(
        "the baseline judges batches {baseline} days after setting and this crop {crop}; load both with one reading_age="
    )]
    OtherAge {
        /// Days of the baseline.
        baseline: i32,
        /// Days of the crop.
        crop: i32,
    },
}
