//! What the best patterns of a shape are worth.

use crate::index::ShapeIndex;
use crate::pattern::Pattern;

/// The best patterns of one shape at some values.
#[derive(Debug, Clone)]
pub struct ShapePrice {
    /// Index of the shape.
    pub shape: ShapeIndex,
    /// No pattern within the limits is worth more.
    pub bound: i64,
    /// Patterns worth having with their values; the best one first.
    pub patterns: Vec<(Pattern, i64)>,
}
