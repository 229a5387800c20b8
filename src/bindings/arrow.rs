//! Frames cross from and to Python through the open Arrow stream interface.
//!
//! The one file of the crate with `unsafe`: the interface hands over C structures behind a pointer, so taking one means
//! trusting its producer to fulfil the interface, as polars, pandas, pyarrow and others do.
#![allow(unsafe_code)]

use std::ptr::NonNull;
use std::sync::Arc;

use arrow_array::ffi_stream::{ArrowArrayStreamReader, FFI_ArrowArrayStream};
use arrow_array::{ArrayRef, RecordBatch, RecordBatchIterator, RecordBatchReader};
use arrow_schema::{ArrowError, DataType, Field, Schema};
use pyo3::prelude::*;
use pyo3::types::{PyCapsule, PyCapsuleMethods};

use super::errors::TrialDataError;
use crate::trial::{Column, Frame};

const NAME: &std::ffi::CStr = c"arrow_array_stream";

fn refused(reason: &str) -> PyErr {
    TrialDataError::new_err(format!(
        "the Arrow stream cannot be read ({reason}); give a polars frame or a csv file instead"
    ))
}

/// The frame behind any object with `__arrow_c_stream__`. A frame of polars comes column by column: as a whole it would
/// first copy itself into one piece.
pub(super) fn frame_from(table: &Bound<'_, PyAny>) -> PyResult<Frame> {
    let mut columns = Vec::new();
    if table.hasattr("get_columns")? {
        for given in table.call_method0("get_columns")?.try_iter()? {
            columns.extend(columns_of(&given?.call_method0("to_frame")?)?);
        }
    } else {
        columns = columns_of(table)?;
    }
    Ok(Frame::new(columns)?)
}

fn columns_of(table: &Bound<'_, PyAny>) -> PyResult<Vec<Column>> {
    let capsule = table.call_method0("__arrow_c_stream__")?;
    let capsule = capsule.cast::<PyCapsule>().map_err(|_| refused("it gave no capsule"))?;
    let pointer: NonNull<FFI_ArrowArrayStream> = capsule.pointer_checked(Some(NAME))?.cast();
    let broken = |error: ArrowError| refused(&error.to_string());
    // SAFETY: the capsule's name says what the pointer points to; the stream is moved out and an empty one, whose release is
    // null, put in its place, so that the capsule's own destructor has nothing left to release.
    let stream = unsafe { ArrowArrayStreamReader::from_raw(pointer.as_ptr()) }.map_err(broken)?;
    let schema = stream.schema();
    let mut pieces: Vec<Vec<ArrayRef>> = vec![Vec::new(); schema.fields().len()];
    for batch in stream {
        for (column, values) in pieces.iter_mut().zip(batch.map_err(broken)?.columns()) {
            column.push(Arc::clone(values));
        }
    }
    let named = schema.fields().iter().zip(pieces);
    Ok(named.map(|(field, pieces)| Column::new(field.name(), pieces)).collect::<Result<_, _>>()?)
}

/// The frame as a capsule that any Arrow reader takes: a batch wherever a column begins a new piece.
pub(super) fn capsule_of<'py>(py: Python<'py>, frame: &Frame) -> PyResult<Bound<'py, PyCapsule>> {
    let dtype = |column: &Column| column.pieces().first().map_or(DataType::Null, |piece| piece.data_type().clone());
    let fields = frame.columns().iter().map(|column| Field::new(column.name(), dtype(column), true));
    let schema = Arc::new(Schema::new(fields.collect::<Vec<_>>()));
    let batch = |(start, end): (usize, usize)| {
        let columns = frame.columns().iter().map(|column| slice(column, start, end)).collect();
        RecordBatch::try_new(Arc::clone(&schema), columns)
    };
    let batches: Vec<_> = stretches(frame).into_iter().map(batch).collect();
    let stream = FFI_ArrowArrayStream::new(Box::new(RecordBatchIterator::new(batches, Arc::clone(&schema))));
    PyCapsule::new_with_value(py, stream, NAME)
}

/// The stretches of rows in which no column begins a new piece.
fn stretches(frame: &Frame) -> Vec<(usize, usize)> {
    let mut cuts = vec![0, frame.height()];
    for column in frame.columns() {
        let mut end = 0;
        cuts.extend(column.pieces().iter().map(|piece| {
            end += piece.len();
            end
        }));
    }
    cuts.sort_unstable();
    cuts.dedup();
    cuts.iter().copied().zip(cuts.iter().copied().skip(1)).collect()
}

/// The rows of a column, which lie in one piece.
fn slice(column: &Column, start: usize, end: usize) -> ArrayRef {
    let mut before = 0;
    for piece in column.pieces() {
        if start < before + piece.len() {
            return piece.slice(start - before, end - start);
        }
        before += piece.len();
    }
    arrow_array::new_empty_array(&DataType::Null)
}
