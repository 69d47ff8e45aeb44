//! ripwright plans the buying and cutting of rough hardwood for small shops.
//!
//! The rooms of the house, each using only those to its right:
//! `cli -> (nightly, rack) -> report -> planning -> plan -> solve -> pattern -> job -> trade -> measure`,
//! with `intake -> job`, `check -> document -> job` and `plan -> document`. See DEVELOPERS.md for the map.

#![warn(clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr)]

pub mod check;
pub mod cli;
pub mod demo;
pub mod document;
pub mod intake;
pub mod job;
pub mod measure;
pub mod nightly;
pub mod pattern;
pub mod plan;
pub mod planning;
pub mod rack;
pub mod report;
pub mod solve;
pub mod trade;
