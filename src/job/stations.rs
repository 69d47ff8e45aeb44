//! Where pieces are crosscut to a stop: the machines, and what their scales read. [`super::Saw::station`] is the one rule for
//! which of them holds a stop.

use crate::measure::Length;

/// How far each machine reaches, where the shop names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Stations {
    /// The longest piece that the chop saw's stop can be set to.
    pub chop_saw: Option<Length>,
    /// The same of the sled on the table saw.
    pub sled: Option<Length>,
    /// The widest board that the jointer takes.
    pub jointer: Option<Length>,
    /// The widest board that the planer takes.
    pub planer: Option<Length>,
}

impl Stations {
    /// Does the shop name any that holds a stop?
    pub fn are_named(&self) -> bool {
        self.chop_saw.is_some() || self.sled.is_some()
    }

    /// How the first face of a rough board of a width is made flat.
    pub fn face(&self, width: Length) -> Facing {
        let takes = |widest: Option<Length>| widest.is_none_or(|widest| width <= widest);
        match (takes(self.jointer), takes(self.planer)) {
            (true, true) => Facing::Jointer,
            (false, true) => Facing::PlanerSled,
            (_, false) => Facing::ByHand,
        }
    }
}

/// How a first face is made flat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Facing {
    /// On the jointer.
    Jointer,
    /// It is wider than the jointer: it lies on a sled that goes through the planer.
    PlanerSled,
    /// It is wider than the planer as well.
    ByHand,
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
