//! From the linear program to whole boards: dives, exchanges, and the exact end.

mod aim;
mod backtrack;
mod complete;
mod component;
mod cuts;
mod dive;
mod engine;
mod exact;
mod exact_end;
mod exchange;
mod listing;
mod majorant;
mod mip;
mod program;
mod sequential;
mod tree;

pub use aim::Aim;
pub use component::{Component, Opening, Planned};
pub use exact::gap_below;
pub use listing::{Reach, list};
pub use mip::Backend;
pub use program::{Charged, charged};
