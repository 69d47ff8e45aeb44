//! What is on hand and on offer: dealers, price lines, boards of the rack.

use std::borrow::Cow;
use std::sync::Arc;

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::One;

use super::sheet::Sheet;
use crate::index::SupplierIndex;
use crate::measure::{Area, Length, Money, Overflow, Volume};
use crate::trade::{Defect, Grade, Quarter, Tally, usual_thickness};

/// A dealer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Supplier {
    /// The price sheet's name.
    pub name: String,
    /// Charged once if anything is bought there.
    pub delivery: Money,
    /// Least order, judged after the discount and before delivery.
    pub minimum_order: Money,
    /// How boards are counted.
    pub tally: Tally,
    /// Quantity breaks, by rising board feet.
    pub breaks: Vec<Break>,
}

impl Supplier {
    /// A dealer without delivery charge, minimum order or breaks, who counts boards exactly.
    pub fn new(name: &str) -> Supplier {
        Supplier {
            name: name.to_string(),
            delivery: Money::ZERO,
            minimum_order: Money::ZERO,
            tally: Tally::default(),
            breaks: Vec::new(),
        }
    }
}

/// A quantity break on a dealer's whole order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Break {
    /// Board feet from which it applies, as an exact volume.
    pub from: Volume,
    /// Percent off the whole order.
    pub percent_off: Money,
}

/// What a price is per.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Per {
    /// Per board foot of the dealer's tally.
    BoardFoot,
    /// Per board.
    Piece,
    /// Per running foot.
    Foot,
    /// Per cubic metre of the real size.
    CubicMetre,
    /// Per square foot: of sheets only.
    SquareFoot,
    /// Per square metre: of sheets only.
    SquareMetre,
}

impl Per {
    /// Every measure.
    pub const ALL: [Per; 6] =
        [Per::BoardFoot, Per::Piece, Per::Foot, Per::CubicMetre, Per::SquareFoot, Per::SquareMetre];

    /// Are stocks of a class sold by it? Sheets are sold by the piece or by their area, lumber never by area.
    pub fn is_for(self, quarter: Quarter) -> bool {
        match self {
            Per::Piece => true,
            Per::SquareFoot | Per::SquareMetre => quarter.is_sheet(),
            Per::BoardFoot | Per::Foot | Per::CubicMetre => !quarter.is_sheet(),
        }
    }

    /// As a price sheet writes it.
    pub fn name(self) -> &'static str {
        match self {
            Per::BoardFoot => "bf",
            Per::Piece => "piece",
            Per::Foot => "ft",
            Per::CubicMetre => "m3",
            Per::SquareFoot => "ft2",
            Per::SquareMetre => "m2",
        }
    }
}

/// A board as a line may bring it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct DrawnBoard {
    /// Along the grain.
    pub length: Length,
    /// Across the grain.
    pub width: Length,
    /// Boxes to be cut around.
    pub defects: Vec<Defect>,
}

/// One line of a price sheet, at one size: a range counts at its lower end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PriceLine {
    /// Index into the suppliers of the job.
    pub supplier: SupplierIndex,
    /// Line in the price sheet's file.
    pub row: u64,
    /// Species as written.
    pub species: String,
    /// Thickness class.
    pub quarter: Quarter,
    /// Grade sold.
    pub grade: Grade,
    /// What sheets have beyond that; of lumber it says nothing.
    pub sheet: Sheet,
    /// Width, or the lower end of the range.
    pub width: Length,
    /// Length, or the lower end of the range.
    pub length: Length,
    /// Upper ends, where the line is of random widths or lengths.
    pub upper: Option<(Length, Length)>,
    /// Weights of equal parts of the range of widths; none are uniform.
    pub mix: Vec<u32>,
    /// Price per measure.
    pub price: Money,
    /// The measure.
    pub per: Per,
    /// Boards that can be had; `None` is no limit.
    pub available: Option<u64>,
    /// Boards that stand for those to come; each is as likely as the others. Empty where every board is clear
    /// and of the line's size.
    pub drawn: Vec<DrawnBoard>,
    /// Boards such as it sells that the shop has seen: those to come are drawn from them.
    pub seen: Arc<[DrawnBoard]>,
}

/// How many of the first `boards` of a sequence that goes around `draws` drawn boards are its `place`th.
pub fn share_of(boards: u64, place: usize, draws: usize) -> u64 {
    (boards + draws as u64 - 1 - place as u64) / draws as u64
}

impl PriceLine {
    /// A line of boards of one size, as many as are wanted. `sizes` are length and width, `price` the price
    /// and its measure.
    pub fn new(
        supplier: usize,
        species: &str,
        quarter: Quarter,
        grade: Grade,
        sizes: [Length; 2],
        price: (Money, Per),
    ) -> PriceLine {
        PriceLine {
            supplier: supplier.into(),
            row: 0,
            species: species.to_string(),
            quarter,
            grade,
            sheet: Sheet::default(),
            width: sizes[1],
            length: sizes[0],
            upper: None,
            mix: Vec::new(),
            price: price.0,
            per: price.1,
            available: None,
            drawn: Vec::new(),
            seen: Arc::default(),
        }
    }
}

/// A board as whoever needs wood sees it, of a dealer or of the rack.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Offered<'j> {
    /// Species as written.
    pub species: &'j str,
    /// Thickness class.
    pub quarter: Quarter,
    /// Grade.
    pub grade: Grade,
    /// What sheets have beyond that.
    pub sheet: &'j Sheet,
    /// Rough length.
    pub length: Length,
    /// Rough width.
    pub width: Length,
    /// Are its ends and edges sawn already, so that nothing is trimmed off?
    pub trimmed: bool,
}

impl Offered<'_> {
    /// What a sheet really measures in thickness.
    pub fn real_thickness(&self) -> Length {
        self.sheet.real.unwrap_or_else(|| usual_thickness(self.quarter.rough()))
    }
}

impl PriceLine {
    /// One of its boards.
    pub fn offered(&self) -> Offered<'_> {
        let PriceLine { quarter, grade, length, width, .. } = *self;
        Offered { species: &self.species, quarter, grade, sheet: &self.sheet, length, width, trimmed: false }
    }

    /// The boards that it may bring: the drawn ones, or those of its size.
    pub fn all_offered(&self) -> Vec<Offered<'_>> {
        let line = self.offered();
        if self.drawn.is_empty() {
            return vec![line];
        }
        let drawn = self.drawn.iter();
        drawn.map(|board| Offered { length: board.length, width: board.width, ..line }).collect()
    }

    /// The line as if it sold one of its drawn boards only.
    pub fn of_drawn(&self, board: usize) -> PriceLine {
        let DrawnBoard { length, width, .. } = self.drawn[board];
        PriceLine { length, width, upper: None, mix: Vec::new(), drawn: Vec::new(), ..self.clone() }
    }

    /// So many boards, as lines that sell one size each and how many of each there are.
    fn one_by_one(&self, boards: u64) -> Vec<(Cow<'_, PriceLine>, u64)> {
        if self.drawn.is_empty() {
            return vec![(Cow::Borrowed(self), boards)];
        }
        let draws = self.drawn.len();
        let board = |place: usize| (Cow::Owned(self.of_drawn(place)), share_of(boards, place, draws));
        (0..draws).map(board).collect()
    }

    /// The dealer's tally of so many boards.
    ///
    /// # Errors
    /// If it is too large to be held exactly.
    pub fn tally_of(&self, supplier: &Supplier, boards: u64) -> Result<Volume, Overflow> {
        let each = self.one_by_one(boards).into_iter();
        each.map(|(line, many)| line.tally(supplier)?.checked_times(i128::from(many))).sum()
    }

    /// The exact price of so many boards before any break.
    ///
    /// # Errors
    /// If a tally is too large to be held exactly.
    pub fn price_of(&self, supplier: &Supplier, boards: u64) -> Result<BigRational, Overflow> {
        let times = |many: u64| BigRational::from_integer(BigInt::from(many));
        let each = self.one_by_one(boards).into_iter();
        each.map(|(line, many)| Ok(line.price_of_board(supplier)? * times(many))).sum()
    }

    /// The dealer's tally of one board; sheets are not counted in board feet.
    pub fn tally(&self, supplier: &Supplier) -> Result<Volume, Overflow> {
        if self.quarter.is_sheet() {
            return Ok(Volume::ZERO);
        }
        supplier.tally.of_board(self.length, self.width, self.quarter)
    }

    /// The exact price of one board before any break.
    ///
    /// # Errors
    /// If the tally is too large to be held exactly.
    pub fn price_of_board(&self, supplier: &Supplier) -> Result<BigRational, Overflow> {
        let measure = match self.per {
            Per::BoardFoot => self.tally(supplier)?.board_feet(),
            Per::Piece => BigRational::one(),
            Per::Foot => {
                BigRational::new(BigInt::from(self.length.base()), BigInt::from(Length::inches(12).base()))
            }
            Per::CubicMetre => self.volume().cubic_metres(),
            Per::SquareFoot => Area::of(self.length, self.width).square_feet(),
            Per::SquareMetre => Area::of(self.length, self.width).square_metres(),
        };
        Ok(measure * self.price.to_ratio())
    }

    /// The real volume of one board, by its rough class.
    pub fn volume(&self) -> Volume {
        Area::of(self.length, self.width).times(self.quarter.rough())
    }
}

/// A board or offcut on hand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RackBoard {
    /// Its name, unique on the rack.
    pub board: String,
    /// Species as written.
    pub species: String,
    /// Thickness class.
    pub quarter: Quarter,
    /// Grade.
    pub grade: Grade,
    /// What sheets have beyond that.
    pub sheet: Sheet,
    /// Width.
    pub width: Length,
    /// Length.
    pub length: Length,
    /// What using it up costs the job.
    pub value: Money,
    /// Boxes to be cut around.
    pub defects: Vec<Defect>,
    /// Where it lies in the shop, in its own words; empty where nobody wrote it down.
    pub place: String,
    /// Are its ends and edges sawn already, so that nothing is trimmed off? An offcut of a plan is.
    pub trimmed: bool,
}

impl RackBoard {
    /// The board as an offer.
    pub fn offered(&self) -> Offered<'_> {
        let RackBoard { quarter, grade, length, width, trimmed, .. } = *self;
        Offered { species: &self.species, quarter, grade, sheet: &self.sheet, length, width, trimmed }
    }
}
