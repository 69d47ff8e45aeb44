//! Where pieces are crosscut to a stop: the one rule for which machine holds it, and what its scale reads.

use super::shop::Saw;
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

    /// What its scale reads for a piece of a length.
    pub fn reading(self, saw: &Saw, length: Length) -> Length {
        match self {
            Station::Fence => length + saw.standoff_block,
            Station::ChopSaw | Station::Sled | Station::LongStop => length,
        }
    }
}

impl Saw {
    /// What holds the stop for pieces of a length: the first that reaches so far; `None` if nothing does.
    pub fn station(&self, length: Length) -> Option<Station> {
        let reaches = |stop: Option<Length>| stop.is_some_and(|longest| length <= longest);
        let by_fence = length + self.standoff_block <= self.max_rip_width;
        if reaches(self.stations.chop_saw) {
            Some(Station::ChopSaw)
        } else if reaches(self.stations.sled) {
            Some(Station::Sled)
        } else if self.stations.are_named() {
            by_fence.then_some(Station::Fence)
        } else if length > self.max_crosscut_length {
            None
        } else if by_fence {
            Some(Station::Fence)
        } else {
            Some(Station::LongStop)
        }
    }

    /// Is a crosscut longer than any stop can be set to?
    pub fn crosscuts_beyond_reach(&self, length: Length) -> bool {
        self.station(length).is_none()
    }

    /// The longest piece that a stop can be set to.
    pub fn longest_crosscut(&self) -> Length {
        let fence = self.max_rip_width.saturating_sub(self.standoff_block);
        let named = [self.stations.chop_saw, self.stations.sled].into_iter().flatten().max();
        named.map_or(self.max_crosscut_length, |longest| longest.max(fence))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Shop;

    #[test]
    fn a_stop_goes_to_the_machine_that_can_hold_it() {
        let inches = Length::inches;
        let mut saw = Shop::default().saw;
        let at = |saw: &Saw, length: i64| {
            let station = saw.station(inches(length))?;
            Some((station, station.reading(saw, inches(length))))
        };
        // A fence of 24 with a block of 1 holds 23; nothing says what holds the longer ones.
        assert_eq!(at(&saw, 23), Some((Station::Fence, inches(24))));
        assert_eq!(at(&saw, 24), Some((Station::LongStop, inches(24))));
        assert_eq!((at(&saw, 97), saw.longest_crosscut()), (None, inches(96)));
        saw.stations = Stations { chop_saw: None, sled: Some(inches(12)) };
        assert_eq!(at(&saw, 12), Some((Station::Sled, inches(12))));
        assert_eq!(at(&saw, 13), Some((Station::Fence, inches(14))));
        assert_eq!((at(&saw, 24), saw.longest_crosscut()), (None, inches(23)));
        saw.stations.chop_saw = Some(inches(60));
        assert_eq!(at(&saw, 12), Some((Station::ChopSaw, inches(12))));
        assert_eq!((at(&saw, 61), saw.longest_crosscut()), (None, inches(60)));
    }
}
