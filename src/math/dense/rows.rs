//! Matrices of ndarray as nested rows in records: `[[1.0, 2.0], [3.0, 4.0]]`.

use ndarray::Array2;
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A matrix from its rows; none where they differ in length.
pub(crate) fn from_rows<T>(rows: Vec<Vec<T>>) -> Option<Array2<T>> {
    let shape = (rows.len(), rows.first().map_or(0, Vec::len));
    if rows.iter().any(|row| row.len() != shape.1) {
        return None;
    }
    Array2::from_shape_vec(shape, rows.into_iter().flatten().collect()).ok()
}

/// The first `size` rows and columns of a square matrix.
pub(crate) fn corner(rows: &[Vec<f64>], size: usize) -> Array2<f64> {
    let size = size.min(rows.len());
    let mut made = Array2::zeros((size, size));
    for (mut to, from) in made.rows_mut().into_iter().zip(rows) {
        to.iter_mut().zip(from).for_each(|(to, from)| *to = *from);
    }
    made
}

/// Row after row.
pub(crate) fn to_rows<T: Clone>(matrix: &Array2<T>) -> Vec<Vec<T>> {
    matrix.rows().into_iter().map(|row| row.to_vec()).collect()
}

/// Writes row after row.
pub(crate) fn serialize<S: Serializer, T: Serialize + Clone>(matrix: &Array2<T>, to: S) -> Result<S::Ok, S::Error> {
    to_rows(matrix).serialize(to)
}

/// Reads rows of equal length.
pub(crate) fn deserialize<'de, D: Deserializer<'de>, T: Deserialize<'de>>(from: D) -> Result<Array2<T>, D::Error> {
    from_rows(Vec::deserialize(from)?).ok_or_else(|| D::Error::custom("rows of a matrix differ in length"))
}

#[cfg(test)]
mod tests {
    use super::{corner, deserialize, from_rows, serialize, to_rows};
    use ndarray::{Array2, array};

    #[test]
    fn rows_come_back() {
        let matrix = array![[1.0, 2.0, 3.0], [4.0, 5.0, 6.0]];
        let mut text = Vec::new();
        serialize(&matrix, &mut serde_json::Serializer::new(&mut text)).unwrap();
        assert_eq!(text, b"[[1.0,2.0,3.0],[4.0,5.0,6.0]]");
        let back: Array2<f64> = deserialize(&mut serde_json::Deserializer::from_slice(&text)).unwrap();
        assert_eq!(back, matrix);
        assert_eq!(from_rows(to_rows(&matrix)), Some(matrix));
        assert!(from_rows(vec![vec![1.0], vec![]]).is_none());
        let uneven: Result<Array2<f64>, _> = deserialize(&mut serde_json::Deserializer::from_str("[[1.0], []]"));
        assert!(uneven.is_err());
    }

    #[test]
    fn a_corner_ends_with_the_matrix() {
        let rows = [vec![1.0, 2.0], vec![3.0, 4.0]];
        assert_eq!(corner(&rows, 1), array![[1.0]]);
        assert_eq!(corner(&rows, 3), array![[1.0, 2.0], [3.0, 4.0]]);
    }
}
