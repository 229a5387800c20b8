//! Take rates of trays, stratum by stratum, with the arm or the treatment of each tray.

/// One stratum: tray rates, and which trays are in the second arm.
#[derive(Debug, Clone, PartialEq)]
pub struct Stratum {
    /// Take rate per tray.
    pub rates: Vec<f64>,
    /// True for trays of the second arm.
    pub second: Vec<bool>,
}

/// One stratum: tray rates and the treatment of each tray, numbered from 0.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct TreatmentStratum {
    /// Take rate per tray.
    pub rates: Vec<f64>,
    /// Treatment per tray.
    pub treatments: Vec<usize>,
}
