//! Layers of matrices of ndarray as nested rows in records: `[[[1.0, 2.0]], [[3.0, 4.0]]]`.

use ndarray::{Array3, Axis};
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::rows::to_rows;

/// Writes layer after layer.
pub(crate) fn serialize<S: Serializer, T: Serialize + Clone>(layers: &Array3<T>, to: S) -> Result<S::Ok, S::Error> {
    layers.axis_iter(Axis(0)).map(|layer| to_rows(&layer.to_owned())).collect::<Vec<_>>().serialize(to)
}

/// Reads layers of equal shape.
pub(crate) fn deserialize<'de, D: Deserializer<'de>, T: Deserialize<'de>>(from: D) -> Result<Array3<T>, D::Error> {
    let layers: Vec<Vec<Vec<T>>> = Vec::deserialize(from)?;
    let first = layers.first();
    let shape = (layers.len(), first.map_or(0, Vec::len), first.and_then(|rows| rows.first()).map_or(0, Vec::len));
    let even = layers.iter().all(|rows| rows.len() == shape.1 && rows.iter().all(|row| row.len() == shape.2));
    let entries = layers.into_iter().flatten().flatten().collect();
    let made = if even { Array3::from_shape_vec(shape, entries).ok() } else { None };
    made.ok_or_else(|| D::Error::custom("layers differ in shape"))
}

#[cfg(test)]
mod tests {
    use super::{deserialize, serialize};
    use ndarray::{Array3, array};

    #[test]
    fn layers_come_back() {
        let layers = array![[[1.0, 2.0], [3.0, 4.0]], [[5.0, 6.0], [7.0, 8.0]]];
        let mut text = Vec::new();
        serialize(&layers, &mut serde_json::Serializer::new(&mut text)).unwrap();
        assert_eq!(text, b"[[[1.0,2.0],[3.0,4.0]],[[5.0,6.0],[7.0,8.0]]]");
        let back: Array3<f64> = deserialize(&mut serde_json::Deserializer::from_slice(&text)).unwrap();
        assert_eq!(back, layers);
        for uneven in ["[[[1.0]], []]", "[[[1.0], [2.0, 3.0]]]"] {
            let read: Result<Array3<f64>, _> = deserialize(&mut serde_json::Deserializer::from_str(uneven));
            assert!(read.is_err(), "{uneven}");
        }
    }
}
