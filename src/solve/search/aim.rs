//! How hard a search tries.
use super::mip::Backend;

/// How hard to try.
#[derive(Debug, Clone, Copy)]
pub struct Aim {
    /// Relative gap at which the search stops.
    pub gap: f64,
    /// Seed of the exchange.
    pub seed: u64,
    /// What solves the small integer programs.
    pub backend: Backend,
}
