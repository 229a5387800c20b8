//! Counts of grades by rows of a design; rows that are alike stand once.

use ahash::AHashMap;

use crate::error::{NumericError, Result};
use crate::math::design::{Entries, entries_of};

/// Rows of a design without an intercept, each with how many of each grade it holds; counts may be fractions.
#[derive(Debug, Clone, PartialEq)]
pub struct GradeRows {
    /// Columns.
    width: usize,
    /// Grades, from the lowest on.
    grades: usize,
    x: Vec<Entries>,
    /// Row after row, `grades` entries each.
    counts: Vec<f64>,
    offset: Vec<f64>,
}

impl GradeRows {
    /// Rows as they stand: `counts` holds `grades` numbers for each of them.
    ///
    /// # Errors
    /// [`NumericError::Lengths`] where rows and counts do not belong together; [`NumericError::NotANumber`] for a count below 0 or missing.
    ///
    /// ```
    /// use rootling::math::regression::GradeRows;
    /// // No effect; 3, 5 and 2 cuttings of grades 0, 1 and 2.
    /// let rows = GradeRows::new(0, 3, vec![vec![]], vec![3.0, 5.0, 2.0])?;
    /// assert_eq!(rows.total(), 10.0);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn new(width: usize, grades: usize, x: Vec<Entries>, counts: Vec<f64>) -> Result<Self> {
        if counts.len() != x.len() * grades || grades < 2 {
            let (expected, given) = (x.len() * grades.max(2), counts.len());
            return Err(NumericError::Lengths { what: "counts of grades", expected, given }.into());
        }
        if counts.iter().any(|n| !(n.is_finite() && *n >= 0.0)) || x.iter().flatten().any(|(_, x)| !x.is_finite()) {
            return Err(NumericError::NotANumber { what: "rows of grades" }.into());
        }
        let offset = vec![0.0; x.len()];
        Ok(Self { width, grades, x, counts, offset })
    }

    /// Single cuttings by their columns and grade (`0 .. grades - 1`), those alike in all columns summed.
    ///
    /// # Errors
    /// As [`GradeRows::new`]; a grade beyond the last is one that does not belong.
    ///
    /// ```
    /// use rootling::math::regression::GradeRows;
    /// let strong = vec![0.0, 0.0, 1.0, 1.0, 1.0];
    /// let rows = GradeRows::grouped(&[strong], &[0, 1, 1, 2, 2], 3)?;
    /// assert_eq!(rows.len(), 2);
    /// assert_eq!(rows.counts(1), [0.0, 1.0, 2.0]);
    /// # Ok::<(), rootling::Error>(())
    /// ```
    pub fn grouped(columns: &[Vec<f64>], grade: &[usize], grades: usize) -> Result<Self> {
        if hardly_alike(columns, grade.len()) {
            return Self::apart(columns, grade, grades);
        }
        let mut places: AHashMap<Vec<u64>, usize> = AHashMap::new();
        let (mut x, mut counts) = (Vec::new(), Vec::new());
        let mut key = Vec::with_capacity(columns.len());
        for (row, grade) in grade.iter().enumerate() {
            key.clear();
            for column in columns {
                let Some(value) = column.get(row) else {
                    let (what, expected, given) = ("rows of a column", column.len(), row + 1);
                    return Err(NumericError::Lengths { what, expected, given }.into());
                };
                // One 0, whatever its sign.
                key.push((value + 0.0).to_bits());
            }
            let place = if let Some(place) = places.get(&key) {
                *place
            } else {
                x.push(entries_of(&key.iter().map(|bits| f64::from_bits(*bits)).collect::<Vec<_>>()));
                counts.resize(x.len() * grades, 0.0);
                places.insert(key.clone(), x.len() - 1);
                x.len() - 1
            };
            match counts.get_mut(place * grades + grade).filter(|_| *grade < grades) {
                Some(count) => *count += 1.0,
                None => return Err(NumericError::NotANumber { what: "grades" }.into()),
            }
        }
        Self::new(columns.len(), grades, x, counts)
    }

    /// Single cuttings, each a row of its own.
    fn apart(columns: &[Vec<f64>], grade: &[usize], grades: usize) -> Result<Self> {
        if let Some(short) = columns.iter().find(|column| column.len() < grade.len()) {
            let (what, expected, given) = ("rows of a column", short.len(), short.len() + 1);
            return Err(NumericError::Lengths { what, expected, given }.into());
        }
        let mut counts = vec![0.0; grade.len() * grades];
        for (line, grade) in counts.chunks_exact_mut(grades.max(1)).zip(grade) {
            let Some(slot) = line.get_mut(*grade) else {
                return Err(NumericError::NotANumber { what: "grades" }.into());
            };
            *slot = 1.0;
        }
        let entries = |row: usize| {
            let values = columns.iter().enumerate().filter_map(|(at, column)| Some((at, *column.get(row)?)));
            values.filter(|(_, x)| *x != 0.0).collect::<Entries>()
        };
        Self::new(columns.len(), grades, (0..grade.len()).map(entries).collect(), counts)
    }

    /// The same rows with a part of their predictor that is known.
    #[must_use]
    pub fn with_offset(mut self, offset: Vec<f64>) -> Self {
        self.offset = offset;
        self.offset.resize(self.x.len(), 0.0);
        self
    }

    /// The same rows under other columns.
    #[must_use]
    pub fn with_columns(&self, width: usize, x: Vec<Entries>) -> Self {
        Self { width, x, ..self.clone() }
    }

    /// The same rows and columns with other counts, row after row.
    ///
    /// # Errors
    /// As [`GradeRows::new`].
    pub fn with_counts(&self, counts: Vec<f64>) -> Result<Self> {
        Ok(Self::new(self.width, self.grades, self.x.clone(), counts)?.with_offset(self.offset.clone()))
    }

    /// Rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.x.len()
    }

    /// True without rows.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.x.is_empty()
    }

    /// Columns.
    #[must_use]
    pub fn width(&self) -> usize {
        self.width
    }

    /// Grades.
    #[must_use]
    pub fn grades(&self) -> usize {
        self.grades
    }

    /// Counts of a row by grade; none where there is no such row.
    #[must_use]
    pub fn counts(&self, row: usize) -> &[f64] {
        self.counts.get(row * self.grades..(row + 1) * self.grades).unwrap_or(&[])
    }

    /// All rows: entries, offset, counts.
    pub fn iter(&self) -> impl Iterator<Item = (&Entries, f64, &[f64])> {
        let counts = self.counts.chunks_exact(self.grades);
        self.x.iter().zip(&self.offset).zip(counts).map(|((x, offset), counts)| (x, *offset, counts))
    }

    /// Cuttings of each grade.
    #[must_use]
    pub fn by_grade(&self) -> Vec<f64> {
        let mut sum = vec![0.0; self.grades];
        for (_, _, counts) in self.iter() {
            sum.iter_mut().zip(counts).for_each(|(sum, n)| *sum += n);
        }
        sum
    }

    /// All cuttings.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.counts.iter().sum()
    }

    /// One column, written out.
    #[must_use]
    pub fn column(&self, at: usize) -> Vec<f64> {
        let entry = |x: &Entries| x.iter().find(|(column, _)| *column == at).map_or(0.0, |(_, value)| *value);
        self.x.iter().map(entry).collect()
    }

    /// Grades that nobody holds are joined with the next one below (the lowest with the next above), so that every cut divides cuttings. With the
    /// rows comes which grades stand for what: for each grade left, the first of those that it was.
    ///
    /// ```
    /// use rootling::math::regression::GradeRows;
    /// let rows = GradeRows::new(0, 5, vec![vec![]], vec![0.0, 4.0, 0.0, 6.0, 0.0])?;
    /// let (held, lowest) = rows.held();
    /// assert_eq!((held.grades(), lowest), (2, vec![1, 3]));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    #[must_use]
    pub fn held(&self) -> (Self, Vec<usize>) {
        let lowest: Vec<usize> =
            self.by_grade().iter().enumerate().filter(|(_, n)| **n > 0.0).map(|(grade, _)| grade).collect();
        let pick = |counts: &[f64]| lowest.iter().filter_map(|at| counts.get(*at).copied()).collect::<Vec<f64>>();
        let counts = self.iter().flat_map(|(_, _, counts)| pick(counts)).collect();
        (Self { grades: lowest.len(), counts, ..self.clone() }, lowest)
    }
}

/// Rows by which it is seen whether rows are alike at all.
const TRIED: usize = 1000;

/// True where hardly two of the first rows are alike, as with a column of measurements: putting rows together would save nothing.
fn hardly_alike(columns: &[Vec<f64>], rows: usize) -> bool {
    let key = |row: usize| -> Vec<u64> {
        columns.iter().filter_map(|column| column.get(row)).map(|value| (value + 0.0).to_bits()).collect()
    };
    if rows < 2 * TRIED {
        return false;
    }
    let mut tried: Vec<Vec<u64>> = (0..TRIED).map(key).collect();
    tried.sort_unstable();
    tried.dedup();
    10 * tried.len() > 9 * TRIED
}
