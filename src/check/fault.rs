//! What can be wrong with a plan.

use std::fmt;

/// One thing wrong with a plan.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct PlanFault {
    /// Where: a key of `plan.json`, or a board.
    pub place: String,
    /// What, as the end of a sentence that begins with the place.
    pub text: String,
}

impl PlanFault {
    /// A fault at a place.
    pub fn new(place: impl Into<String>, text: impl Into<String>) -> PlanFault {
        PlanFault { place: place.into(), text: text.into() }
    }
}

impl fmt::Display for PlanFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.place, self.text)
    }
}
