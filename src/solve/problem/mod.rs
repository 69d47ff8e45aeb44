//! The job as the method sees it: sizes, shapes and stock, what boards cost, and what is still wanted.

mod bill;
mod column;
mod cost;
mod grouping;
mod instance;
mod market;
mod purchase;
mod task;

pub use bill::money_ticks;
pub use column::{Column, Counts, Cut, Listed, merged, worth};
pub use cost::{
    can_be_had, cost, least_sum_of_rows, most_gained, next_below, paid_in_cents, reaches_sides, step,
    whole_boards,
};
pub use grouping::{blanks_of, blocks_of};
pub use instance::{Blanks, Instance, Shape, Size, Supply, blanks_in};
pub use market::{Market, Side, Terms, needs_decision};
pub use purchase::{BuyRow, Purchase};
pub use task::{Offer, Task, after_resawing, before_resawing};
