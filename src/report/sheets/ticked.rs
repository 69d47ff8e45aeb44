//! A table of the sheets: its heads stand beside what makes its rows.

use serde::Serialize;

use crate::report::table::Align;

/// A table, most often one whose rows are ticked off.
#[derive(Serialize)]
pub struct Table {
    heads: Vec<Head>,
    rows: Vec<Vec<String>>,
}

#[derive(Serialize)]
struct Head {
    name: &'static str,
    /// Are its cells aligned to the right?
    is_number: bool,
}

impl Table {
    /// A row has a cell for every head.
    pub fn new<const CELLS: usize>(
        heads: [(&'static str, Align); CELLS],
        rows: impl IntoIterator<Item = [String; CELLS]>,
    ) -> Table {
        let head = |(name, align): (&'static str, Align)| Head { name, is_number: align == Align::Right };
        Table {
            heads: heads.into_iter().map(head).collect(),
            rows: rows.into_iter().map(Vec::from).collect(),
        }
    }
}
