//! What a plan buys, what it costs, and how sure it is to be enough.

use crate::index::{LineIndex, RackIndex};
use crate::job::{Per, Sheet};
use crate::measure::{Area, Length, Money, Volume};
use crate::trade::{Grade, Quarter};

/// How sure a buy is to be enough: the share of fresh lots that gave every part.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Confidence {
    /// Percent asked for.
    pub asked: f64,
    /// Percent of the lots.
    pub enough: f64,
    /// Its 95 percent interval.
    pub interval: (f64, f64),
    /// Fresh lots it was tried on.
    pub lots: u64,
    /// Percent with one spare board fewer; none where there is none to spare.
    pub one_fewer: Option<f64>,
    /// Board feet of drawn boards, and the percent of fresh lots of so many that gave every part.
    pub curve: Vec<(Volume, f64)>,
    /// Boards that are bought beyond those of the sample's plan.
    pub spares: Vec<Spare>,
    /// What those cost.
    pub cost: Money,
}

/// Spare boards of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub struct Spare {
    /// Index of the job's price line.
    pub line: LineIndex,
    /// Boards.
    pub boards: u64,
}

/// What a plan costs.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Cost {
    /// Rows of the buy.
    pub lumber: Money,
    /// Deliveries.
    pub delivery: Money,
    /// Value of rack boards used up.
    pub rack: Money,
    /// Labour of the settings.
    pub setup: Money,
    /// What kept offcuts are worth to this job.
    pub offcut_credit: Money,
    /// Rolls of edging.
    pub edging: Money,
    /// The sum, less the credit.
    pub total: Money,
    /// No plan for the job can cost less.
    pub lower_bound: Money,
    /// (total - bound) / total, in percent.
    pub gap_percent: f64,
}

/// A price line bought.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Buy {
    /// Index of the job's price line.
    pub line: LineIndex,
    /// Dealer.
    pub supplier: String,
    /// Species as on the price sheet.
    pub species: String,
    /// Thickness class.
    pub quarter: Quarter,
    /// Grade.
    pub grade: Grade,
    /// What it has beyond that, if it is of sheets; their real thickness is told.
    pub sheet: Option<Sheet>,
    /// Width of a board.
    pub width: Length,
    /// Length of a board.
    pub length: Length,
    /// Upper ends of length and width, where the line sells random sizes and the boards are drawn.
    pub upper: Option<(Length, Length)>,
    /// Boards.
    pub boards: u64,
    /// The dealer's tally of them all.
    pub board_feet: Volume,
    /// Price per measure.
    pub price: Money,
    /// The measure.
    pub per: Per,
    /// Percent off the dealer's whole order.
    pub percent_off: Money,
    /// Cost of the row.
    pub cost: Money,
}

/// Where a board comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum BoardSource {
    /// Index into [`super::Plan::buy`].
    Buy(usize),
    /// A board of the rack: its index in the job, and its name.
    Rack(RackIndex, String),
}

impl Buy {
    /// The area of all its boards in square feet: for printing only.
    pub fn square_feet(&self) -> f64 {
        Area::of(self.length, self.width).square_feet_f64() * self.boards as f64
    }

    /// Widths and lengths of its boards, from and to; the same where it sells one size.
    pub fn ranges(&self) -> [(Length, Length); 2] {
        let (length, width) = self.upper.unwrap_or((self.length, self.width));
        [(self.width, width), (self.length, length)]
    }
}

/// How much is bought: boards of lumber with their board feet, and sheets with their square feet.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
#[non_exhaustive]
pub struct Bought {
    /// Boards of lumber.
    pub boards: u64,
    /// The dealers' tally of them.
    pub board_feet: Volume,
    /// Sheets.
    pub sheets: u64,
    /// Their area.
    pub square_feet: f64,
}

impl Bought {
    /// What some rows come to.
    pub fn of<'r>(rows: impl IntoIterator<Item = &'r Buy>) -> Bought {
        let mut bought = Bought::default();
        for row in rows {
            if row.sheet.is_some() {
                bought.sheets += row.boards;
                bought.square_feet += row.square_feet();
            } else {
                bought.boards += row.boards;
                bought.board_feet += row.board_feet;
            }
        }
        bought
    }
}

impl BoardSource {
    /// As `plan.json` writes it.
    pub fn label(&self) -> String {
        match self {
            BoardSource::Buy(row) => format!("buy:{row}"),
            BoardSource::Rack(_, name) => format!("rack:{name}"),
        }
    }
}
