//! How a part is brought to its length.

/// How a part is brought to its length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Fit {
    /// Cut to the stop.
    Stop,
    /// Cut oversize and sneaked up to the line.
    Creep,
    /// Left long and marked from the work itself.
    ToWork,
}

impl Fit {
    /// As `parts.csv` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Fit::Stop => "stop",
            Fit::Creep => "creep",
            Fit::ToWork => "to-work",
        }
    }
}
