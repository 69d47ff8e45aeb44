//! The saws: what their blades take, how far they reach, and what holds a stop.

use super::stations::{Station, Stations};
use crate::measure::{Length, Money};

/// What sheets are cut with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SheetSawKind {
    /// A table saw: the sheet is led along its fence.
    #[default]
    TableSaw,
    /// A saw that is led along a track, which is laid on a mark: nothing limits a setting.
    TrackSaw,
    /// A saw that runs along the wall or a beam: the sheet stands against a stop.
    PanelSaw,
}

impl SheetSawKind {
    /// Every kind.
    pub const ALL: [SheetSawKind; 3] =
        [SheetSawKind::TableSaw, SheetSawKind::TrackSaw, SheetSawKind::PanelSaw];

    /// As `shop.toml` writes it.
    pub fn name(self) -> &'static str {
        match self {
            SheetSawKind::TableSaw => "table-saw",
            SheetSawKind::TrackSaw => "track-saw",
            SheetSawKind::PanelSaw => "panel-saw",
        }
    }

    /// What is set to a size.
    pub fn is_set_by(self) -> &'static str {
        match self {
            SheetSawKind::TableSaw => "fence",
            SheetSawKind::TrackSaw => "track",
            SheetSawKind::PanelSaw => "stop",
        }
    }
}

/// The saw that sheets are cut with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetSaw {
    /// What it is.
    pub kind: SheetSawKind,
    /// Its kerf, along and across.
    pub kerf: Length,
    /// Taken off each edge of a sheet, with the kerf of the cut that does it.
    pub trim: Length,
    /// 2 or 3 stages of cuts.
    pub stages: u8,
    /// Widest setting of its fence or stop; a track has none.
    pub longest_rip: Length,
    /// Sheets that are laid on each other and cut at once.
    pub stack: u32,
    /// Is no piece trimmed once its strip is cut up? A third stage frees pieces of their size as it is.
    pub exact: bool,
    /// The heaviest strip that is lifted to be cut up, in pounds or, in a shop of millimetres, in kilograms; zero is no limit.
    pub max_strip_weight: Money,
    /// What sheets weigh, in pounds a cubic foot or kilograms a cubic metre.
    pub density: Money,
}

impl SheetSaw {
    /// Must a piece be as wide as its strip, or as long as its section?
    pub fn is_exact(&self) -> bool {
        self.exact && self.stages == 2
    }

    /// Can it be set to a size?
    pub fn reaches(&self, setting: Length) -> bool {
        self.kind == SheetSawKind::TrackSaw || setting <= self.longest_rip
    }

    /// How often so many sheets that are cut alike go through the saw.
    pub fn passes(&self, sheets: u32) -> u32 {
        sheets.div_ceil(self.stack.max(1))
    }
}

/// How stock of a class is cut: what its trims take off, the kerfs and the stages.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sawing {
    /// Off each end, with the kerf of the cut that makes it.
    pub end_trim: Length,
    /// Off each edge, with the kerf of the cut that makes it.
    pub edge_trim: Length,
    /// Kerf of cuts along the board.
    pub rip_kerf: Length,
    /// Kerf of cuts across it.
    pub crosscut_kerf: Length,
    /// 2 or 3 stages of cuts.
    pub stages: u8,
}

impl Sawing {
    /// A board's length and width less the trims; `None` if nothing is left.
    pub fn usable(&self, length: Length, width: Length) -> Option<(Length, Length)> {
        let usable_length = length - self.end_trim * 2;
        let usable_width = width - self.edge_trim * 2;
        (usable_length > Length::ZERO && usable_width > Length::ZERO).then_some((usable_length, usable_width))
    }
}

/// The saw's kerfs and reach.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Saw {
    /// Wood a rip turns to dust.
    pub rip_kerf: Length,
    /// Wood a crosscut turns to dust.
    pub crosscut_kerf: Length,
    /// Widest setting of the rip fence.
    pub max_rip_width: Length,
    /// Longest setting of the crosscut stop, where no station is named.
    pub max_crosscut_length: Length,
    /// Block clamped to the fence when it serves as a crosscut stop.
    pub standoff_block: Length,
    /// 2 or 3 stages of cuts.
    pub stages: u8,
    /// What becomes of cuts that its fence or stop cannot be set to.
    pub beyond_reach: BeyondReach,
    /// What holds the stop of a crosscut.
    pub stations: Stations,
}

/// What becomes of cuts that the saw cannot be set to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BeyondReach {
    /// They are marked, to be made with another tool.
    OtherTool,
    /// Parts that need them are refused.
    Refuse,
}

impl Saw {
    /// Is a rip wider than the fence can be set to?
    pub fn rips_beyond_reach(&self, width: Length) -> bool {
        width > self.max_rip_width
    }

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
    use crate::job::{Facing, Shop};

    #[test]
    fn a_stop_goes_to_the_machine_that_can_hold_it() {
        let inches = Length::inches;
        let mut saw = Shop::default().saw;
        let at = |saw: &Saw, length: i64| {
            let station = saw.station(inches(length))?;
            Some((station, station.reading(saw.standoff_block, inches(length))))
        };
        // A fence of 24 with a block of 1 holds 23; nothing says what holds the longer ones.
        assert_eq!(at(&saw, 23), Some((Station::Fence, inches(24))));
        assert_eq!(at(&saw, 24), Some((Station::LongStop, inches(24))));
        assert_eq!((at(&saw, 97), saw.longest_crosscut()), (None, inches(96)));
        saw.stations = Stations { sled: Some(inches(12)), ..Stations::default() };
        assert_eq!(at(&saw, 12), Some((Station::Sled, inches(12))));
        assert_eq!(at(&saw, 13), Some((Station::Fence, inches(14))));
        assert_eq!((at(&saw, 24), saw.longest_crosscut()), (None, inches(23)));
        saw.stations.chop_saw = Some(inches(60));
        assert_eq!(at(&saw, 12), Some((Station::ChopSaw, inches(12))));
        assert_eq!((at(&saw, 61), saw.longest_crosscut()), (None, inches(60)));
    }

    #[test]
    fn a_face_that_the_jointer_does_not_take_goes_through_the_planer() {
        let inches = Length::inches;
        let mut stations = Stations::default();
        assert_eq!(stations.face(inches(30)), Facing::Jointer);
        stations.jointer = Some(inches(8));
        assert_eq!([8, 9].map(|width| stations.face(inches(width))), [Facing::Jointer, Facing::PlanerSled]);
        stations.planer = Some(inches(13));
        assert_eq!([13, 14].map(|width| stations.face(inches(width))), [Facing::PlanerSled, Facing::ByHand]);
    }
}
