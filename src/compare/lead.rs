//! What a decision says first, as data: whether it is to use a level, what follows of itself, and the units that would settle it.

/// What a decision says first.
pub(super) struct Lead {
    /// True where it is to use the better level.
    advised: bool,
    what: String,
    /// What goes with it where nothing is said of other outcomes.
    pub(super) follows: String,
    /// The units that would settle it.
    pub(super) wanted: Option<String>,
}

impl Lead {
    pub(super) fn of(what: String) -> Self {
        Self { advised: false, what, follows: String::new(), wanted: None }
    }

    pub(super) fn advice(what: String) -> Self {
        Self { advised: true, ..Self::of(what) }
    }

    pub(super) fn followed(self, follows: impl Into<String>) -> Self {
        Self { follows: follows.into(), ..self }
    }

    pub(super) fn wanting(self, wanted: Option<String>) -> Self {
        Self { wanted, ..self }
    }

    /// Where it is to use a level, that is said as firmly as `use_it`.
    pub(super) fn said(&self, use_it: &str) -> String {
        if self.advised { format!("{use_it} {}", self.what) } else { self.what.clone() }
    }
}
