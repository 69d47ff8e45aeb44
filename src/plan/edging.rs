//! What is glued on the edges of parts of sheets, to be bought by the length.

use std::collections::BTreeMap;

use crate::job::Job;
use crate::measure::{Length, Overflow};

/// Edging of one kind.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Edging {
    /// Species of the parts, as written.
    pub species: String,
    /// Thickness of the sheets, which it covers.
    pub sheet: Length,
    /// Its own thickness.
    pub thickness: Length,
    /// Edges.
    pub edges: u64,
    /// Length of all of them.
    pub length: Length,
}

/// All edging of the parts that are wanted, by species, sheet and thickness.
///
/// # Errors
/// If a sum is too large to be held exactly.
pub fn edging(job: &Job) -> Result<Vec<Edging>, Overflow> {
    let mut sums: BTreeMap<(&str, Length, Length), (u64, i64)> = BTreeMap::new();
    for part in job.parts.iter().filter(|part| part.required > 0) {
        let edges = part.sheet.as_ref().map(|sheet| sheet.edges).unwrap_or_default();
        for (thickness, length) in edges.lengths(part.length, part.width) {
            let sum = sums.entry((&part.species, part.thickness, thickness)).or_default();
            sum.0 += part.required;
            let all = i64::try_from(part.required).ok().and_then(|many| length.base().checked_mul(many));
            sum.1 = all.and_then(|all| sum.1.checked_add(all)).ok_or(Overflow)?;
        }
    }
    let edging = sums.into_iter().map(|((species, sheet, thickness), (edges, length))| Edging {
        species: species.to_string(),
        sheet,
        thickness,
        edges,
        length: Length::from_base(length),
    });
    Ok(edging.collect())
}
