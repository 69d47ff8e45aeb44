//! What the state of an order line means: the words of the contract.

use std::collections::BTreeMap;

/// Words of the shop's own for the state of an order, in lower case without spaces at their ends.
pub type Statuses = BTreeMap<String, Standing>;

/// What the state of an order line means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It is planned.
    Planned,
    /// It is done, held or cancelled: nothing is planned for it, and that is no fault.
    Left,
}

impl Standing {
    /// By the words of the contract, in lower case.
    pub fn of(word: &str) -> Option<Standing> {
        match word {
            "" | "open" => Some(Standing::Planned),
            "done" | "held" | "cancelled" | "closed" => Some(Standing::Left),
            _ => None,
        }
    }
}
