//! What a search of proper patterns is asked.

use crate::index::SizeIndex;
use crate::pattern::model::{Cutting, Limits, Piece, Rect, Values};

/// What is searched.
pub struct Proper<'a> {
    /// Pieces the board may hold, by index.
    pub pieces: &'a [(SizeIndex, Piece)],
    /// Copies of each piece that matter, by index.
    pub limits: &'a Limits,
    /// Value of each piece, by index.
    pub values: &'a Values,
    /// The board's usable rectangle.
    pub board: Rect,
    /// How boards are cut; a third stage is not searched.
    pub cutting: Cutting,
    /// Patterns worth less are of no use.
    pub threshold: i64,
    /// Steps that are left of the search, in each layout; it gives up at none.
    pub budget: &'a mut usize,
    /// Patterns to be listed; it gives up at more.
    pub most: usize,
    /// Asked now and then: is it time to give up?
    pub is_late: &'a (dyn Fn() -> bool + Sync),
}
