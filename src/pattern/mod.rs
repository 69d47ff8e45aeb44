//! Rip-first and crosscut-first patterns of one board, and their pricing.
//!
//! What lives here: which sets of pieces one board can give, and the most valuable set at given
//! values. What never does: prices, dealers, the number of boards, or anything printed.
//!
//! Both layouts are one problem with the axes exchanged. The *main* axis is the one the first cuts
//! divide: across the board for rip-first (strips), along it for crosscut-first (sections). The *run*
//! is the other one. A kerf is paid between two pieces and none after the last, so every extent is
//! taken as extent + kerf and every capacity as capacity + kerf (Gilmore and Gomory, Operations
//! Research 13(1), 1965, section on the two-stage problem, with the trim folded in).

mod around;
mod between;
mod budget;
mod defects;
mod knapsack;
mod model;
mod proper;
mod two_stage;

pub use around::AroundDefects;
pub use between::{BetweenDefects, Blemished};
pub use defects::ListTask;

pub use model::{
    Block, Cell, Counts, Cutting, Family, Laid, Layout, Limits, Pattern, Piece, Rect, Strip, Values,
};
pub use proper::{
    FoundPatterns, MostValuable, Proper, StepLength, most_valuable, move_charges, patterns_worth,
    wanted_patterns_worth,
};
pub use two_stage::{Priced, TwoStage};
