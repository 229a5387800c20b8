//! Which coefficients of a regression are free, which are held at 0 and which one follows from the others.

/// Coefficients `b` as a function of the free ones: `b` there is free, one may be tied to the free ones, the rest is 0.
#[derive(Debug, Clone, PartialEq)]
pub struct Restriction {
    width: usize,
    free: Vec<usize>,
    tied: Option<Tied>,
}

/// `b[at] = constant + shares . free`.
#[derive(Debug, Clone, PartialEq)]
struct Tied {
    at: usize,
    shares: Vec<f64>,
    constant: f64,
}

impl Restriction {
    /// Nothing is held.
    #[must_use]
    pub fn none(width: usize) -> Self {
        Self { width, free: (0..width).collect(), tied: None }
    }

    /// The coefficients at `held` are 0.
    #[must_use]
    pub fn held(width: usize, held: &[usize]) -> Self {
        Self { width, free: (0..width).filter(|j| !held.contains(j)).collect(), tied: None }
    }

    /// `direction . b = value`. The coefficient with the largest share follows from the others.
    #[must_use]
    pub fn along(direction: &[f64], value: f64) -> Self {
        let larger = |a: (usize, f64), b: (usize, f64)| if b.1.abs() > a.1.abs() { b } else { a };
        let (at, largest) = direction.iter().copied().enumerate().fold((0, 0.0), larger);
        let free: Vec<usize> = (0..direction.len()).filter(|j| *j != at).collect();
        let shares = free.iter().filter_map(|j| direction.get(*j)).map(|a| -a / largest).collect();
        Self { width: direction.len(), free, tied: Some(Tied { at, shares, constant: value / largest }) }
    }

    /// True when nothing is held.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.tied.is_none() && self.free.len() == self.width
    }

    /// The free ones of all coefficients.
    #[must_use]
    pub fn coordinates(&self, all: &[f64]) -> Vec<f64> {
        self.free.iter().map(|j| all.get(*j).copied().unwrap_or(0.0)).collect()
    }

    /// All coefficients.
    #[must_use]
    pub fn apply(&self, free: &[f64]) -> Vec<f64> {
        let mut all = self.direction(free);
        if let Some(tied) = &self.tied
            && let Some(entry) = all.get_mut(tied.at)
        {
            *entry += tied.constant;
        }
        all
    }

    /// The change of all coefficients with a change of the free ones.
    #[must_use]
    pub fn direction(&self, free: &[f64]) -> Vec<f64> {
        let mut all = vec![0.0; self.width];
        for (j, value) in self.free.iter().zip(free) {
            if let Some(entry) = all.get_mut(*j) {
                *entry = *value;
            }
        }
        if let Some(Tied { at, shares, .. }) = &self.tied
            && let Some(entry) = all.get_mut(*at)
        {
            *entry = shares.iter().zip(free).map(|(share, value)| share * value).sum();
        }
        all
    }

    /// The gradient by the free coefficients from that by all.
    #[must_use]
    pub fn gradient(&self, all: &[f64]) -> Vec<f64> {
        let mut free = self.coordinates(all);
        if let Some(Tied { at, shares, .. }) = &self.tied {
            let slope = all.get(*at).copied().unwrap_or(0.0);
            free.iter_mut().zip(shares).for_each(|(g, share)| *g += share * slope);
        }
        free
    }

    /// The matrix of second derivatives by the free coefficients from that by all.
    #[must_use]
    pub fn matrix(&self, all: &[Vec<f64>]) -> Vec<Vec<f64>> {
        if self.is_none() {
            return all.to_vec();
        }
        self.columns(all.iter().map(|row| self.gradient(row)).collect())
    }

    /// The columns of the free coefficients from those of all.
    #[must_use]
    pub fn columns(&self, all: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
        let mut columns: Vec<Vec<f64>> = self.free.iter().filter_map(|j| all.get(*j).cloned()).collect();
        if let Some(Tied { at, shares, .. }) = &self.tied
            && let Some(tied) = all.get(*at)
        {
            for (column, share) in columns.iter_mut().zip(shares) {
                column.iter_mut().zip(tied).for_each(|(x, t)| *x += share * t);
            }
        }
        columns
    }

    /// The tied coefficient and its change per unit of the value it was tied with, if there is one.
    #[must_use]
    pub fn tied_at(&self) -> Option<usize> {
        self.tied.as_ref().map(|tied| tied.at)
    }
}
