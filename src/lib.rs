//! ripwright plans the buying and cutting of rough hardwood for small shops.
//!
//! The rooms of the house, each using only those to its right:
//! `cli -> page -> (nightly, rack) -> report -> planning -> plan -> solve -> pattern -> job -> trade -> measure`,
//! with `intake -> job`, `check -> document -> job` and `plan -> document`. See DEVELOPERS.md for the map.
//!
//! A job is read from files by [`intake`], or made in memory. [`planning::plan`] gives a plan that has passed
//! the independent [`check`]:
//!
//! ```
//! use ripwright::job::{Draft, Job, Order, Per, PriceLine, ProductPart, Supplier};
//! use ripwright::measure::{Length, Money};
//! use ripwright::planning::{Request, plan};
//! use ripwright::solve::Options;
//! use ripwright::trade::{Grade, Quarter};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let tread = [Length::inches(14), Length::inch_128ths(704), Length::inch_128ths(96)];
//! let job = Job::try_new(Draft {
//!     orders: vec![Order::new("A-1", "stool", 2)],
//!     parts: vec![ProductPart::new("stool", "tread", 2, tread, "ash")],
//!     suppliers: vec![Supplier::new("yard")],
//!     lines: vec![PriceLine::new(
//!         0,
//!         "ash",
//!         Quarter::quarters(4),
//!         Grade::C1,
//!         [Length::inches(96), Length::inches(6)],
//!         (Money::parse("4.20")?, Per::BoardFoot),
//!     )],
//!     ..Draft::default()
//! })?;
//! let request = Request::new(Options { gap_percent: 0.0, ..Options::default() });
//! let checked = plan(&job, &request, &|_| ())?;
//! // Four treads of 14 in lie in one board of 8 ft: 4 board feet at 4.20.
//! assert_eq!(checked.plan().cost.total.to_string(), "16.80");
//! # Ok(())
//! # }
//! ```

#![warn(clippy::unwrap_used, clippy::print_stdout, clippy::print_stderr)]

pub mod begin;
pub mod check;
#[cfg(feature = "cli")]
pub mod cli;
pub mod demo;
pub mod document;
pub mod index;
pub mod intake;
#[doc(hidden)]
pub mod internals;
pub mod job;
pub mod measure;
pub mod nightly;
#[cfg(feature = "page")]
pub mod page;
mod pattern;
pub mod plan;
pub mod planning;
#[cfg(feature = "ledger")]
pub mod rack;
pub mod report;
pub mod solve;
pub mod trade;
