//! From the linear program to whole boards: dives, exchanges, and the exact end.

mod aim;
mod backtrack;
mod component;
mod dive;
mod exact;
mod exchange;
mod mip;

pub use aim::Aim;
pub use component::{Component, Planned};
pub use exact::{Charged, charged};
pub use mip::Backend;
