//! A checked trial, and what it holds.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use crate::answer::Note;
use crate::error::{DataError, Issue, ResponseError, Result, Severity};
use crate::layers::Earlier;
use crate::trial::coded::Prepared;
use crate::trial::columns::Units;
use crate::trial::design::Design;
use crate::trial::earlier::for_later;
use crate::trial::frame::Frame;
use crate::trial::reached::Reached;
use crate::trial::responses::Measured;
use crate::trial::roles::{LoadOptions, Source};

/// A checked trial.
#[derive(Debug, Clone)]
pub struct Trial {
    pub(super) frame: Frame,
    pub(super) options: LoadOptions,
    pub(super) source: Source,
    pub(super) units: Arc<Units>,
    pub(super) dead: Option<Vec<u64>>,
    /// The grade whose share the counts are, where they are ([`Trial::reaching`]).
    pub(super) reached: Option<Reached>,
    pub(super) measured: Vec<Measured>,
    pub(super) rows: Vec<u32>,
    pub(super) design: Design,
    pub(super) issues: Vec<Issue>,
    pub(super) notes: Vec<Note>,
    pub(super) fingerprint: String,
    pub(super) prepared: OnceLock<Arc<Prepared>>,
}

impl Trial {
    /// The counts per unit.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert_eq!(trial.units().rooted, [3, 5, 14, 12]);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn units(&self) -> &Units {
        &self.units
    }

    /// Cuttings that died in each unit, where deaths are recorded.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,dead,stuck\n0,a,3,2,20\n0,b,5,1,20\n2500,c,14,3,20\n2500,d,12,4,20\n";
    /// # let mut options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # options.dead = Some("dead".to_owned());
    /// # let trial = read_csv(csv, &options)?;
    /// assert_eq!(trial.dead(), Some(&[2, 1, 3, 4][..]));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn dead(&self) -> Option<&[u64]> {
        self.dead.as_deref()
    }

    /// The responses that were declared, in their order.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert!(trial.responses().is_empty());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn responses(&self) -> &[Measured] {
        &self.measured
    }

    /// The response of that column.
    ///
    /// # Errors
    /// [`ResponseError::NotDeclared`] with those that were declared.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert!(trial.measured("roots").is_err());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn measured(&self, column: &str) -> Result<&Measured> {
        let found = self.measured.iter().find(|one| one.response.column == column);
        let known = || self.measured.iter().map(|one| one.response.column.clone()).collect();
        found.ok_or_else(|| ResponseError::NotDeclared { name: column.to_owned(), known: known() }.into())
    }

    /// The response that was named to lead; `None` for the take.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert_eq!(trial.primary(), None);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn primary(&self) -> Option<&str> {
        self.options.primary.as_deref().filter(|name| *name != "take")
    }

    /// The same, to be held beside the trial.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let units = std::sync::Arc::clone(trial.shared_units());
    /// drop(trial);
    /// assert_eq!(units.len(), 4);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn shared_units(&self) -> &Arc<Units> {
        &self.units
    }

    /// What models need of the units, worked out once; a trial does not change, so it holds for as long as the trial lives.
    pub(crate) fn prepared(&self) -> Arc<Prepared> {
        Arc::clone(self.prepared.get_or_init(|| Arc::new(Prepared::new(&self.units))))
    }

    /// The first row of a unit, counted as the user sees rows.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert_eq!(trial.row(0), Some(2)); // a file has its header in row 1
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn row(&self, unit: usize) -> Option<u64> {
        self.rows.get(unit).map(|row| self.options.row_number(*row as usize, self.source))
    }

    /// The control level of each treatment that has one: as declared, or 0 of a declared strength.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert!(trial.controls().is_empty()); // of no declared strength 0 is no control
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn controls(&self) -> &BTreeMap<String, String> {
        &self.design.controls
    }

    /// What the recorded columns say about the design.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert_eq!((trial.design().n_units, trial.design().n_combinations), (4, 2));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn design(&self) -> &Design {
        &self.design
    }

    /// Everything found while checking.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert!(trial.issues().iter().all(|issue| !issue.reason.is_empty()));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn issues(&self) -> &[Issue] {
        &self.issues
    }

    /// The rows that do not enter, each with its reason; of a problem in very many rows the first, and how many more there are.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert!(trial.set_aside().is_empty());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn set_aside(&self) -> Vec<&Issue> {
        let told = |issue: &&Issue| {
            issue.code == "more_rows"
                || issue.code == "unread_tray"
                || issue.row.is_some() && issue.severity != Severity::Question
        };
        let mut found: Vec<&Issue> = self.issues.iter().filter(told).collect();
        // Trays of a plan that stand on no row come after those that do.
        found.sort_by_key(|issue| issue.code == "unread_tray" && issue.row.is_none());
        found
    }

    /// The frame as it was given.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert_eq!(trial.frame().height(), 4);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn frame(&self) -> &Frame {
        &self.frame
    }

    /// The options it was loaded with.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert_eq!(trial.options().tray.as_deref(), Some("tray"));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn options(&self) -> &LoadOptions {
        &self.options
    }

    /// Where rows are counted from.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// use rootling::trial::Source;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert_eq!(trial.source(), Source::File);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn source(&self) -> Source {
        self.source
    }

    /// Named cautions about the design and the strengths.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert!(trial.notes().iter().all(|note| !note.text.is_empty()));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// What this trial shows of how trays and the units above them differ, as a record for `earlier` of a later trial.
    ///
    /// # Errors
    /// [`DataError`] where no trays are recorded, or where every tray was treated differently.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// let earlier = trial.for_later()?;
    /// assert_eq!(earlier.trials, [trial.fingerprint()]);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn for_later(&self) -> Result<Earlier> {
        for_later(&self.units, &self.fingerprint).map_err(|issue| DataError { issues: vec![issue] }.into())
    }

    /// A short hash of the counts and their design.
    ///
    /// ```
    /// use rootling::prelude::*;
    /// # let csv = b"strength,tray,rooted,stuck\n0,a,3,20\n0,b,5,20\n2500,c,14,20\n2500,d,12,20\n";
    /// # let options = LoadOptions::counts("rooted", "stuck").with_treatments(&["strength"]).with_tray("tray");
    /// # let trial = read_csv(csv, &options)?;
    /// assert_eq!(trial.fingerprint(), read_csv(csv, &options)?.fingerprint());
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn fingerprint(&self) -> &str {
        &self.fingerprint
    }
}
