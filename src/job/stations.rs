//! Where pieces are crosscut to a stop: the machines, and what their scales read. [`super::Saw::station`] is the one rule for
//! which of them holds a stop.

use crate::measure::Length;

/// The longest piece that the stop of each machine can be set to, where the shop has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Stations {
    /// The chop saw's.
    pub chop_saw: Option<Length>,
    /// The sled's, on the table saw.
    pub sled: Option<Length>,
}

impl Stations {
    /// Does the shop name any?
    pub fn are_named(&self) -> bool {
        self.chop_saw.is_some() || self.sled.is_some()
    }
}

/// What holds a stop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Station {
    /// The chop saw.
    ChopSaw,
    /// The sled on the table saw.
    Sled,
    /// The table saw's fence, with a block clamped to it.
    Fence,
    /// A stop of the shop's own, longer than the fence can be set to.
    LongStop,
}

impl Station {
    /// As `plan.json` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Station::ChopSaw => "chop-saw",
            Station::Sled => "sled",
            Station::Fence => "fence",
            Station::LongStop => "long-stop",
        }
    }

    /// Where a person goes with the board.
    pub fn words(self) -> &'static str {
        match self {
            Station::ChopSaw => "chop saw",
            Station::Sled => "sled",
            Station::Fence => "block at the fence",
            Station::LongStop => "long stop",
        }
    }

    /// What the station's scale reads for a piece of a length. At the fence the stand-off block is added.
    pub fn reading(self, block: Length, length: Length) -> Length {
        match self {
            Station::Fence => length + block,
            Station::ChopSaw | Station::Sled | Station::LongStop => length,
        }
    }
}
