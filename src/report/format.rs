//! Where a table is to be read.

use serde::{Deserialize, Serialize};

/// Where a table is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    /// Plain text in a terminal.
    Terminal,
    /// A table of Markdown.
    Markdown,
    /// A `tabular` of LaTeX.
    Latex,
    /// A table of a web page.
    Html,
}
