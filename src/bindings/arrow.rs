//! Frames cross from and to Python through the open Arrow stream interface.
//!
//! The one file of the crate with `unsafe`: the interface hands over C structures behind a pointer, so taking one means
//! trusting its producer to fulfil the interface, as polars, pandas, pyarrow and others do.
#![allow(unsafe_code)]

use std::ptr::NonNull;

use polars::prelude::{CompatLevel, DataFrame, PolarsError, PolarsResult, Series};
use polars_arrow::array::{Array, StructArray};
use polars_arrow::datatypes::{ArrowDataType, Field};
use polars_arrow::ffi::{ArrowArrayStream, ArrowArrayStreamReader, export_iterator};
use pyo3::prelude::*;
use pyo3::types::{PyCapsule, PyCapsuleMethods};

use super::errors::TrialDataError;

const NAME: &std::ffi::CStr = c"arrow_array_stream";

fn refused(reason: &str) -> PyErr {
    TrialDataError::new_err(format!(
        "the Arrow stream cannot be read ({reason}); give a polars frame or a csv file instead"
    ))
}

/// The frame behind any object with `__arrow_c_stream__`. A frame of polars comes column by column: as a whole it would
/// first copy itself into one piece.
pub(super) fn frame_from(table: &Bound<'_, PyAny>) -> PyResult<DataFrame> {
    if !table.hasattr("get_columns")? {
        return tables(stream_of(table)?).map_err(|error| refused(&error.to_string()));
    }
    let mut columns = Vec::new();
    for given in table.call_method0("get_columns")?.try_iter()? {
        let given = given?;
        let name: String = given.getattr("name")?.extract()?;
        let found = pieces(stream_of(&given)?).and_then(|(field, chunks)| column(&field, chunks));
        columns.push(found.map_err(|error| refused(&error.to_string()))?.with_name(name.as_str().into()).into());
    }
    DataFrame::new_infer_height(columns).map_err(|error| refused(&error.to_string()))
}

fn stream_of(table: &Bound<'_, PyAny>) -> PyResult<Box<ArrowArrayStream>> {
    let capsule = table.call_method0("__arrow_c_stream__")?;
    let capsule = capsule.cast::<PyCapsule>().map_err(|_| refused("it gave no capsule"))?;
    let pointer: NonNull<ArrowArrayStream> = capsule.pointer_checked(Some(NAME))?.cast();
    // SAFETY: the capsule's name says what the pointer points to; the structure is moved out and an empty one, whose
    // release is null, put in its place, so that the capsule's own destructor has nothing left to release.
    let stream = unsafe { std::mem::replace(&mut *pointer.as_ptr(), ArrowArrayStream::empty()) };
    Ok(Box::new(stream))
}

/// What a stream holds, piece by piece.
fn pieces(stream: Box<ArrowArrayStream>) -> PolarsResult<(Field, Vec<Box<dyn Array>>)> {
    // SAFETY: the producer promises a valid stream by the capsule's name.
    let mut reader = unsafe { ArrowArrayStreamReader::try_new(stream)? };
    let mut pieces = Vec::new();
    // SAFETY: as above.
    while let Some(piece) = unsafe { reader.next() } {
        pieces.push(piece?);
    }
    Ok((reader.field().clone(), pieces))
}

fn tables(stream: Box<ArrowArrayStream>) -> PolarsResult<DataFrame> {
    let (field, batches) = pieces(stream)?;
    let ArrowDataType::Struct(fields) = field.dtype().clone() else {
        return Err(PolarsError::SchemaMismatch("it is not a stream of tables".into()));
    };
    let mut chunks: Vec<Vec<Box<dyn Array>>> = vec![Vec::new(); fields.len()];
    for batch in batches {
        let Some(table) = batch.as_any().downcast_ref::<StructArray>() else {
            return Err(PolarsError::SchemaMismatch("it is not a stream of tables".into()));
        };
        for (column, values) in chunks.iter_mut().zip(table.values()) {
            column.push(values.clone());
        }
    }
    let columns = fields
        .iter()
        .zip(chunks)
        .map(|(field, chunks)| Ok(column(field, chunks)?.into()))
        .collect::<PolarsResult<Vec<_>>>()?;
    DataFrame::new_infer_height(columns)
}

fn column(field: &Field, chunks: Vec<Box<dyn Array>>) -> PolarsResult<Series> {
    if chunks.is_empty() {
        let empty = polars_arrow::array::new_empty_array(field.dtype.clone());
        return Series::try_from((field, vec![empty]));
    }
    Series::try_from((field, chunks))
}

/// The frame as a capsule that any Arrow reader takes.
pub(super) fn capsule_of<'py>(py: Python<'py>, frame: &DataFrame) -> PyResult<Bound<'py, PyCapsule>> {
    let mut frame = frame.clone();
    frame.rechunk_mut();
    let level = CompatLevel::newest();
    let fields: Vec<Field> = frame.columns().iter().map(|column| column.field().to_arrow(level)).collect();
    let dtype = ArrowDataType::Struct(fields);
    let height = frame.height();
    let values = frame.rechunk_into_arrow(level);
    let table: PolarsResult<Box<dyn Array>> =
        StructArray::try_new(dtype.clone(), height, values, None).map(|table| Box::new(table) as _);
    let stream = export_iterator(Box::new(std::iter::once(table)), Field::new("".into(), dtype, false));
    PyCapsule::new_with_value(py, stream, NAME)
}
