//! Doors to the rooms inside, for the benches and for the tests of published values.
//!
//! Nothing here is promised: a caller of the library uses [`crate::planning`].

pub use crate::index::{LineIndex, SizeIndex, TiVec, ti_vec};
pub use crate::pattern::{
    Cell, Cutting, Family, Laid, Layout, Pattern, Piece, Proper, Rect, Strip, TwoStage, patterns_worth,
};
pub use crate::solve::incumbent::CutBoards;
pub use crate::solve::listed::{ListedProgram, listed_program};
pub use crate::solve::problem::{Instance, Purchase, Supply};
pub use crate::solve::settings::{different, fewer_settings, more_alike};
