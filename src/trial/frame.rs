//! A table as it was given: named columns of Arrow arrays, in as many pieces as they came in. Nothing is copied on the way in.

use std::sync::Arc;

use arrow_array::builder::StringViewBuilder;
use arrow_array::{Array, ArrayRef, BooleanArray, Float64Array, Int64Array};
use arrow_schema::DataType;

use crate::error::Issue;
use crate::error::{DataError, Result, shown};

/// One column of a [`Frame`].
#[derive(Debug, Clone)]
pub struct Column {
    name: String,
    pieces: Vec<ArrayRef>,
}

/// What can stand in a column, whatever the width in which it is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Whole,
    Number,
    Flag,
    Text,
    Nothing,
}

impl Column {
    /// A column of Arrow arrays, one after another.
    ///
    /// # Errors
    /// [`DataError`] when the arrays hold anything but whole numbers, numbers, true/false or text.
    pub fn new(name: &str, pieces: Vec<ArrayRef>) -> Result<Self> {
        for piece in &pieces {
            if kind_of(piece.data_type()).is_none() {
                let reason = format!("entries of type {} cannot be read", piece.data_type());
                let hint = "turn the column into numbers, text or true/false first";
                return stop(Issue::of_input("unreadable_column", reason, hint).in_column(name));
            }
        }
        Ok(Self { name: name.to_owned(), pieces })
    }

    fn of(name: &str, piece: impl Array + 'static) -> Self {
        Self { name: name.to_owned(), pieces: vec![Arc::new(piece)] }
    }

    /// A column of whole numbers.
    #[must_use]
    pub fn whole(name: &str, values: impl IntoIterator<Item = Option<i64>>) -> Self {
        Self::of(name, values.into_iter().collect::<Int64Array>())
    }

    /// A column of numbers.
    #[must_use]
    pub fn numbers(name: &str, values: impl IntoIterator<Item = Option<f64>>) -> Self {
        Self::of(name, values.into_iter().collect::<Float64Array>())
    }

    /// A column of true and false.
    #[must_use]
    pub fn flags(name: &str, values: impl IntoIterator<Item = Option<bool>>) -> Self {
        Self::of(name, values.into_iter().collect::<BooleanArray>())
    }

    /// A column of text.
    #[must_use]
    pub fn texts<T: AsRef<str>>(name: &str, values: impl IntoIterator<Item = Option<T>>) -> Self {
        let mut texts = StringViewBuilder::new();
        values.into_iter().for_each(|value| texts.append_option(value));
        Self::of(name, texts.finish())
    }

    /// Its name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Number of entries.
    #[must_use]
    pub fn len(&self) -> usize {
        self.pieces.iter().map(arrow_array::Array::len).sum()
    }

    /// True when there is no entry.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The arrays, one after another.
    #[must_use]
    pub fn pieces(&self) -> &[ArrayRef] {
        &self.pieces
    }

    /// What stands in it: text where any piece is text, and so on down to nothing at all.
    pub(super) fn kind(&self) -> Kind {
        let kinds = || self.pieces.iter().filter_map(|piece| kind_of(piece.data_type()));
        [Kind::Text, Kind::Flag, Kind::Number, Kind::Whole]
            .into_iter()
            .find(|kind| kinds().any(|other| other == *kind))
            .unwrap_or(Kind::Nothing)
    }
}

fn kind_of(dtype: &DataType) -> Option<Kind> {
    match dtype {
        dtype if dtype.is_integer() => Some(Kind::Whole),
        DataType::Float32 | DataType::Float64 => Some(Kind::Number),
        DataType::Boolean => Some(Kind::Flag),
        DataType::Utf8 | DataType::LargeUtf8 | DataType::Utf8View => Some(Kind::Text),
        DataType::Null => Some(Kind::Nothing),
        _ => None,
    }
}

/// A table: columns of one length, each with a name of its own.
///
/// ```
/// use rootling::trial::{Column, Frame};
/// let strength = Column::whole("strength", [Some(0), Some(2500)]);
/// let tray = Column::texts("tray", [Some("a"), Some("b")]);
/// let frame = Frame::new(vec![strength, tray])?;
/// assert_eq!((frame.height(), frame.names()), (2, vec!["strength", "tray"]));
/// # Ok::<(), rootling::Error>(())
/// ```
#[derive(Debug, Clone, Default)]
pub struct Frame {
    columns: Vec<Column>,
    height: usize,
}

impl Frame {
    /// A table of columns.
    ///
    /// # Errors
    /// [`DataError`] when two columns share a name or differ in length, or a name has a NUL, which no other table can carry.
    pub fn new(columns: Vec<Column>) -> Result<Self> {
        let height = columns.first().map_or(0, Column::len);
        let mut seen = std::collections::HashSet::with_capacity(columns.len());
        for column in &columns {
            if column.len() != height {
                let reason = format!("columns differ in length: {height} and {}", column.len());
                let issue = Issue::of_input("unequal_columns", reason, "give each row every column");
                return stop(issue.in_column(column.name()));
            }
            if column.name().contains('\0') {
                let reason =
                    format!("the column name {:?} has a sign without a meaning (NUL)", shown::name(column.name()));
                return stop(Issue::of_input("unreadable_header", reason, "rename the column"));
            }
            if !seen.insert(column.name()) {
                let reason = format!("the column name {:?} appears more than once", column.name());
                return stop(Issue::of_input("duplicate_header", reason, "give each column its own name"));
            }
        }
        Ok(Self { columns, height })
    }

    /// Number of rows.
    #[must_use]
    pub fn height(&self) -> usize {
        self.height
    }

    /// The columns in their order.
    #[must_use]
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// Names of the columns in their order.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        self.columns.iter().map(Column::name).collect()
    }

    /// The column of that name.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<&Column> {
        self.columns.iter().find(|column| column.name == name)
    }
}

fn stop<T>(issue: Issue) -> Result<T> {
    Err(DataError { issues: vec![issue] }.into())
}
