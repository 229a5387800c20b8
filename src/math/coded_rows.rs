//! Rows of a design whose entries are all 1: per row only the columns it enters, packed for sums that are made many times.

/// Columns that the rows enter, the same number for each; a row that enters none in a block has the place after the last column.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CodedRows {
    width: usize,
    blocks: usize,
    places: Vec<u32>,
}

impl CodedRows {
    /// Packs the columns that `column` gives for each row and block.
    pub(super) fn new(
        rows: usize,
        width: usize,
        blocks: usize,
        column: impl Fn(usize, usize) -> Option<usize>,
    ) -> Self {
        let cells = (0..rows).flat_map(|row| (0..blocks).map(move |block| (row, block)));
        let places = cells.map(|(row, block)| column(row, block).unwrap_or(width) as u32).collect();
        Self { width, blocks, places }
    }

    /// The columns each row enters, row by row.
    pub(super) fn rows(&self) -> impl Iterator<Item = &[u32]> {
        self.places.chunks_exact(self.blocks.max(1))
    }
}

/// Sums of `w x x'` and `u x` over coded rows.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct CodedSums {
    stride: usize,
    products: Vec<f64>,
    scores: Vec<f64>,
}

impl CodedSums {
    /// Zero.
    pub(super) fn new(rows: &CodedRows) -> Self {
        let stride = rows.width + 1;
        Self { stride, products: vec![0.0; stride * stride], scores: vec![0.0; stride] }
    }

    /// Adds a row with weight `w` and score `u`.
    #[inline]
    pub(super) fn add(&mut self, row: &[u32], w: f64, u: f64) {
        for (at, place) in row.iter().enumerate() {
            let place = *place as usize;
            if let Some(score) = self.scores.get_mut(place) {
                *score += u;
            }
            let start = place * self.stride;
            let Some(line) = self.products.get_mut(start..start + self.stride) else { continue };
            for second in row.iter().take(at + 1) {
                if let Some(sum) = line.get_mut(*second as usize) {
                    *sum += w;
                }
            }
        }
    }

    /// The sum of two columns; the order in which their blocks stand does not matter.
    pub(super) fn product(&self, i: usize, j: usize) -> f64 {
        let at = |i: usize, j: usize| self.products.get(i * self.stride + j).copied().unwrap_or(0.0);
        if i == j { at(i, i) } else { at(i, j) + at(j, i) }
    }

    /// The sums of scores, one per column.
    pub(super) fn scores(&self) -> &[f64] {
        self.scores.get(..self.stride - 1).unwrap_or_default()
    }
}
