//! Exact lengths, board feet and money.
//!
//! What lives here: the three quantities every other module speaks in, how they are read and how
//! they are printed. What never does: anything that knows about boards, dealers or cuts.

mod length;
mod money;
mod volume;

pub use length::{Length, LengthError, Unit};
pub use money::{Money, MoneyError};
pub use volume::{Area, Volume};

/// A quantity that overflowed its exact representation. It is an error, never a wrap.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the sum is larger than ripwright can hold exactly")]
pub struct Overflow;
