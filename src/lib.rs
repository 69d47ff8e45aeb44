//! ripwright plans the buying and cutting of rough hardwood for small shops.
//!
//! The modules form one chain: `cli -> (nightly, rack) -> report -> buying -> plan -> solve -> pattern -> job -> trade -> measure`;
//! each uses only those to its right. See DEVELOPERS.md for the map.
//!
//! What the program does is callable:
//!
//! ```
//! use ripwright::job::read_job;
//! use ripwright::plan::{build_plan, check::check, document::Document};
//! use ripwright::solve::{Options, solve};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let folder = tempfile::tempdir()?;
//! std::fs::create_dir(folder.path().join("prices"))?;
//! for (name, content) in [
//!     ("orders.csv", "order,product,quantity\nA-1,stool,2\n"),
//!     ("parts.csv", "product,part,pieces,length,width,thickness,species\nstool,tread,2,14,5 1/2,3/4,ash\n"),
//!     ("prices/yard.csv", "species,quarter,grade,width,length,price\nash,4/4,1C,6,8',4.20\n"),
//! ] {
//!     std::fs::write(folder.path().join(name), content)?;
//! }
//! let job = read_job(folder.path())?;
//! let options = Options { gap_percent: 0.0, ..Options::default() };
//! let solution = solve(&job, &options, &|_, _| ())?;
//! let plan = build_plan(&job, &solution, options.gap_percent)?;
//! // Four treads of 14 in lie in one board of 8 ft: 4 board feet at 4.20.
//! assert_eq!(plan.cost.total.to_string(), "16.80");
//! assert!(check(&Document::new(&plan, &job), &job).is_empty());
//! # Ok(())
//! # }
//! ```

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
