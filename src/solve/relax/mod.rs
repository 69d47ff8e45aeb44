//! The linear program over patterns: its columns, their pricing, and the bound that it proves.

mod bound;
mod generate;
mod master;
mod pool;
mod prices;
mod pricing;
mod proper;
mod simplex;

pub use bound::{Duals, scaled};
pub use generate::{Generated, generate, generate_from};
pub use master::{Master, MasterSolution};
pub use pool::{Pool, PoolPattern};
pub use prices::ShapePrice;
pub use pricing::Pricer;
pub use proper::generate_proper;
pub use simplex::{Basis, ColumnSimplex};
