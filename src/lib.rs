//! ripwright plans the buying and cutting of rough hardwood for small shops.
//!
//! The modules form one chain: `cli -> (nightly, rack) -> report -> buying -> plan -> solve -> pattern -> job -> trade -> measure`;
//! each uses only those to its right. See DEVELOPERS.md for the map.

#![warn(clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr)]

pub mod buying;
pub mod cli;
pub mod demo;
pub mod job;
pub mod measure;
pub mod nightly;
pub mod pattern;
pub mod plan;
pub mod rack;
pub mod report;
pub mod solve;
pub mod trade;
