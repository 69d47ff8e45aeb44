//! The front door of the library: from a job and a request to a checked plan, and decisions that take more
//! than one plan.
//!
//! What lives here: gluing, fewer settings, the split of the time, and jobs made from a job (fewer dealers,
//! other prices, boards as measured) with what their plans say together. What never does: patterns and the
//! method, files, output formats, and anything printed. No figure leaves this room that was not checked.

mod appraise;
mod checked;
mod compare;
mod confidence;
mod error;
mod fewer;
mod front;
mod gluing;
mod matching;
mod scenarios;
mod stack;

pub use appraise::{Advice, Appraised, Appraiser};
pub use checked::{Checked, Unsound};
pub use compare::{Alternative, Comparison, Outcome, compare, ways};
pub use confidence::share_of_unseen_lots;
pub use error::PlanningError;
pub use fewer::with_fewer_settings;
pub use front::{Event, Request, plan, plan_here, plan_what_can_be};
pub use gluing::solve_every_way;
pub use scenarios::{AS_IT_IS, Difference, Ranked, Scenario, rank};
pub use stack::plan_stack;
