//! What a trial is asked of its responses.

use super::numbers::{CompareResponseOptions, MeansOptions, ResponseComparison, ResponseMeans};
use super::{means_told, told};
use crate::answer::Answer;
use crate::control::Control;
use crate::error::Result;
use crate::trial::Trial;

impl Trial {
    /// The mean of a response for every combination of levels of some columns, or of all treatments where none is named: of counts over
    /// all cuttings stuck (one that did not root has 0) with its two parts, how many rooted and how many each of these has; of
    /// lengths and masses over those that rooted. Trays are the units; where every combination has three or more levels of a recorded place,
    /// its trays count by place.
    ///
    /// # Errors
    /// [`ResponseError`](crate::error::ResponseError) for a response that is not declared, has no mean or no entry, and without trays;
    /// a choice error for an unknown column.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::responses::MeansOptions;
    /// use rootling::trial::Response;
    /// let csv = b"strength,tray,rooted,stuck,roots\n0,a,3,10,2\n0,b,5,10,3\n2500,c,8,10,4\n2500,d,6,10,5\n";
    /// let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// options.responses = vec![Response::count("roots").with_means_of("rooted")];
    /// let trial = read_csv(csv, &options)?;
    /// let found = trial.means(&["strength"], &MeansOptions { response: "roots".into(), ..MeansOptions::default() })?;
    /// assert_eq!(found.numbers.means[1].value, Some(62.0 / 20.0)); // 8 x 4 + 6 x 5 roots on 20 cuttings
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn means(&self, by: &[&str], options: &MeansOptions) -> Result<Answer<ResponseMeans>> {
        means_told::answer(self, by, options)
    }

    /// Two levels of a treatment compared in a response: the difference of means, second minus first, with limits by t on what the
    /// treatment was given to, the ratio beside, the two parts behind it, and trays dealt anew as a second opinion.
    ///
    /// # Errors
    /// As [`Trial::means`]; a choice error for an unknown level.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::responses::CompareResponseOptions;
    /// use rootling::trial::Response;
    /// # let csv = b"strength,tray,rooted,stuck,roots\n0,a,3,10,2\n0,b,5,10,3\n2500,c,8,10,4\n2500,d,6,10,5\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.responses = vec![Response::count("roots").with_means_of("rooted")];
    /// # let trial = read_csv(csv, &options)?;
    /// let options = CompareResponseOptions { response: "roots".into(), ..CompareResponseOptions::default() };
    /// let found = trial.compare_response("strength", ("0", "2500"), &options, &Control::new())?;
    /// approx::assert_relative_eq!(found.numbers.value, 62.0 / 20.0 - 21.0 / 20.0, max_relative = 1e-12);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn compare_response(
        &self,
        treatment: &str,
        levels: (&str, &str),
        options: &CompareResponseOptions,
        control: &Control,
    ) -> Result<Answer<ResponseComparison>> {
        told::answer(self, treatment, levels, options, control)
    }
}
