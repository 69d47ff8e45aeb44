//! The rack's ledger: boards and offcuts on hand, and every movement of them.
//!
//! One SQLite file in the job's folder. Each movement is one transaction, its history is kept, and no
//! board can be promised to two plans. After a movement `rack.csv` is written anew with the boards that
//! are free, so that whatever reads the rack sees what may be planned with. What never lives here:
//! planning.

mod error;
mod ledger;
mod log;
mod movement;
mod seen;
mod store;

pub use error::RackError;
pub use ledger::Ledger;
pub use log::RackMovement;
pub use seen::{Came, SEEN, what_came};
pub use store::{LEDGER, Moved};
