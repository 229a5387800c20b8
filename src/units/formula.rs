//! Molar mass from a molecular formula.

/// Atoms of each element in one molecule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Formula {
    /// Hydrogen.
    pub h: u16,
    /// Carbon.
    pub c: u16,
    /// Nitrogen.
    pub n: u16,
    /// Oxygen.
    pub o: u16,
    /// Sodium.
    pub na: u16,
    /// Chlorine.
    pub cl: u16,
    /// Potassium.
    pub k: u16,
}

impl Formula {
    /// Molar mass in g/mol: the sum of atoms times abridged standard atomic weight.
    ///
    /// # References
    /// IUPAC Commission on Isotopic Abundances and Atomic Weights, abridged standard atomic weights (2021).
    ///
    /// ```
    /// use rootling::units::Formula;
    /// let ethanol = Formula { h: 6, c: 2, o: 1, ..Formula::default() };
    /// approx::assert_relative_eq!(ethanol.molar_mass(), 46.069, epsilon = 0.0, max_relative = 2.1e-11);
    /// ```
    #[must_use]
    pub fn molar_mass(self) -> f64 {
        let atoms = [
            (self.h, 1.008),
            (self.c, 12.011),
            (self.n, 14.007),
            (self.o, 15.999),
            (self.na, 22.990),
            (self.cl, 35.45),
            (self.k, 39.098),
        ];
        atoms.iter().map(|&(count, weight)| f64::from(count) * weight).sum()
    }
}
