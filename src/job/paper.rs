//! Paper that labels are printed on.

use crate::measure::{Length, Unit};

/// Paper that is printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 8 1/2 by 11 in (ANSI/ASME Y14.1, size A).
    Letter,
    /// 210 by 297 mm (ISO 216).
    A4,
}

impl Paper {
    /// Width and height.
    pub fn size(self) -> [Length; 2] {
        match self {
            Paper::Letter => [Length::inch_128ths(8 * 128 + 64), Length::inches(11)],
            Paper::A4 => [Length::millimetres(210), Length::millimetres(297)],
        }
    }
}

/// A sheet of labels: so many columns and rows of one size, in the middle of the paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LabelSheet {
    /// Paper.
    pub paper: Paper,
    /// Labels side by side.
    pub columns: u32,
    /// Labels one above the other.
    pub rows: u32,
    /// Width of one, with the gap to the next.
    pub width: Length,
    /// Height of one, with the gap to the next.
    pub height: Length,
}

impl LabelSheet {
    /// Two columns of five, the paper of the unit.
    pub fn of(unit: Unit) -> LabelSheet {
        let (paper, width, height) = match unit {
            Unit::Inch => (Paper::Letter, Length::inches(4), Length::inches(2)),
            Unit::Millimetre => (Paper::A4, Length::millimetres(99), Length::millimetres(57)),
        };
        LabelSheet { paper, columns: 2, rows: 5, width, height }
    }

    /// Do the labels lie on the paper?
    pub fn fits(&self) -> bool {
        let [width, height] = self.paper.size();
        self.width * i64::from(self.columns) <= width && self.height * i64::from(self.rows) <= height
    }
}
