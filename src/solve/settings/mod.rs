//! Fewer settings of the saws: boards cut alike, layouts cut anew, layouts sawn along with others.

mod alike;
mod along;
mod fewer;

pub use alike::{different, more_alike};
pub use along::sawn_along;
pub use fewer::fewer_settings;
