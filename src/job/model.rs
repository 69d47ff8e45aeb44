//! The types of a valid job.

use std::collections::BTreeSet;

use jiff::civil::Date;
use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::One;

use super::Warning;
use crate::measure::{Area, Length, Money, Overflow, Unit, Volume};
use crate::trade::abrasives::Surface;
use crate::trade::finish::Film;
use crate::trade::{DressedTable, Grade, Quarter, Tally};

/// A valid job. Only [`read_job`](super::read_job) and tests make one.
#[derive(Debug, Clone)]
pub struct Job {
    /// The shop's settings.
    pub shop: Shop,
    /// Order lines, as read.
    pub orders: Vec<Order>,
    /// Parts of ordered products, with the demand of all orders added up.
    pub parts: Vec<Part>,
    /// Dealers, in the order of their names.
    pub suppliers: Vec<Supplier>,
    /// Every price line of every dealer.
    pub lines: Vec<PriceLine>,
    /// Boards and offcuts on hand.
    pub rack: Vec<RackBoard>,
    /// What is done to the pieces after the saw.
    pub work: WorkAfter,
    /// What was ignored while reading.
    pub warnings: Vec<Warning>,
}

impl Job {
    /// Classes on offer, of the dealers and of the rack.
    pub fn quarters(&self) -> BTreeSet<Quarter> {
        let sold = self.lines.iter().map(|line| line.quarter);
        sold.chain(self.rack.iter().map(|board| board.quarter)).collect()
    }
}

/// What is done to the pieces after the saw.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct WorkAfter {
    /// Holes, as read.
    pub holes: Vec<Hole>,
    /// Finishes, at most one a product.
    pub finishes: Vec<Finish>,
}

/// Holes alike in every piece of a part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hole {
    /// Product.
    pub product: String,
    /// Part.
    pub part: String,
    /// Holes in one piece.
    pub holes: u64,
    /// What they are for.
    pub kind: HoleKind,
    /// Depth; `None` goes through.
    pub depth: Option<Length>,
    /// Countersunk for a screw's head?
    pub countersink: bool,
}

/// What a hole is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HoleKind {
    /// For the thread of a screw of this gauge.
    Lead(u8),
    /// For the shank of a screw of this gauge to pass.
    Clearance(u8),
    /// Of this diameter.
    Plain(Length),
}

impl HoleKind {
    /// As `holes.csv` and `plan.json` write it.
    pub fn name(self) -> &'static str {
        match self {
            HoleKind::Lead(_) => "lead",
            HoleKind::Clearance(_) => "clearance",
            HoleKind::Plain(_) => "plain",
        }
    }

    /// Gauge of the screw, if it is for one.
    pub fn gauge(self) -> Option<u8> {
        match self {
            HoleKind::Lead(gauge) | HoleKind::Clearance(gauge) => Some(gauge),
            HoleKind::Plain(_) => None,
        }
    }
}

/// How a product is finished.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finish {
    /// Product.
    pub product: String,
    /// Film or oil.
    pub film: Film,
    /// How its surface comes to the sanding bench.
    pub surface: Surface,
    /// Coats.
    pub coats: u32,
    /// What the label says a measure covers: square feet a quart, or square metres a litre.
    pub coverage: Option<Money>,
}

/// One order line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Order {
    /// Order number or name.
    pub order: String,
    /// Product ordered.
    pub product: String,
    /// Products wanted, at least 1.
    pub quantity: u64,
    /// Date it is due.
    pub due: Option<Date>,
}

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

/// A part of an ordered product.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Product it belongs to.
    pub product: String,
    /// Its name within the product.
    pub part: String,
    /// Pieces wanted over all orders.
    pub required: u64,
    /// Finished length, along the grain.
    pub length: Length,
    /// Finished width.
    pub width: Length,
    /// Finished thickness.
    pub thickness: Length,
    /// Length it is cut at: finished plus allowances.
    pub cut_length: Length,
    /// Width it is cut at: finished plus allowances.
    pub cut_width: Length,
    /// Species as written.
    pub species: String,
    /// Lowest acceptable grade.
    pub grade: Grade,
    /// How it is brought to its length.
    pub fit: Fit,
    /// May be made from edge-glued strips.
    pub glue_up: bool,
    /// Set where the part is glued: pieces, width and thickness above are then those of what
    /// it is glued from.
    pub glued: Option<Glued>,
}

/// What a part is glued from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GluedKind {
    /// Strips, edge to edge.
    Panel,
    /// Layers, face to face.
    Lamination,
}

impl GluedKind {
    /// As `plan.json` writes it.
    pub fn name(self) -> &'static str {
        match self {
            GluedKind::Panel => "panel",
            GluedKind::Lamination => "lamination",
        }
    }
}

/// A part made of equal strips or layers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Glued {
    /// Strips or layers.
    pub kind: GluedKind,
    /// So many of them make one part.
    pub pieces: u32,
    /// Parts wanted.
    pub parts: u64,
    /// Finished width of the part.
    pub width: Length,
    /// Finished thickness of the part.
    pub thickness: Length,
    /// Were all numbers of strips or layers weighed, so that what is proven holds for every one?
    pub of_all_ways: bool,
}

impl Part {
    /// The part as it is wanted, before it was planned as strips or layers.
    pub fn whole(&self, milling: &Milling) -> Part {
        let mut whole = self.clone();
        if let Some(glued) = whole.glued.take() {
            (whole.required, whole.width, whole.thickness) = (glued.parts, glued.width, glued.thickness);
            whole.cut_width = whole.width + milling.width_allowance;
        }
        whole
    }

    /// Parts wanted, and the finished width and thickness of one, glued where it must be.
    pub fn finished(&self) -> (u64, Length, Length) {
        match &self.glued {
            Some(glued) => (glued.parts, glued.width, glued.thickness),
            None => (self.required, self.width, self.thickness),
        }
    }
}

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
}

impl Per {
    /// Every measure.
    pub const ALL: [Per; 4] = [Per::BoardFoot, Per::Piece, Per::Foot, Per::CubicMetre];

    /// As a price sheet writes it.
    pub fn name(self) -> &'static str {
        match self {
            Per::BoardFoot => "bf",
            Per::Piece => "piece",
            Per::Foot => "ft",
            Per::CubicMetre => "m3",
        }
    }
}

/// One line of a price sheet, at one size: a range counts at its lower end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PriceLine {
    /// Index into [`Job::suppliers`].
    pub supplier: usize,
    /// Line in the price sheet's file.
    pub row: u64,
    /// Species as written.
    pub species: String,
    /// Thickness class.
    pub quarter: Quarter,
    /// Grade sold.
    pub grade: Grade,
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
}

impl PriceLine {
    /// The dealer's tally of one board.
    pub fn tally(&self, supplier: &Supplier) -> Result<Volume, Overflow> {
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
        };
        Ok(measure * self.price.to_ratio())
    }

    /// The real volume of one board, by its rough class.
    pub fn volume(&self) -> Volume {
        Area::of(self.length, self.width).times(self.quarter.rough())
    }
}

/// A box of a board that must not be in a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Defect {
    /// Along the board, from its left end.
    pub x0: Length,
    /// End along the board.
    pub x1: Length,
    /// Across, from the lower edge.
    pub y0: Length,
    /// End across.
    pub y1: Length,
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
    /// Width.
    pub width: Length,
    /// Length.
    pub length: Length,
    /// What using it up costs the job.
    pub value: Money,
    /// Boxes to be cut around.
    pub defects: Vec<Defect>,
}

/// The shop's settings; see `shop.toml` in the README.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shop {
    /// Unit of bare numbers and of outputs.
    pub unit: Unit,
    /// Currency, named once.
    pub currency: String,
    /// The saw.
    pub saw: Saw,
    /// Milling and allowances.
    pub milling: Milling,
    /// Which offcuts are kept and what they are worth.
    pub offcuts: Offcuts,
    /// What time at the saw costs.
    pub labour: Labour,
    /// Limits that keep hands whole.
    pub safety: Safety,
    /// What may be glued, and how.
    pub glue: Glue,
    /// How thick pieces are resawn.
    pub resaw: Resaw,
}

/// How pieces are sawn through their thickness into thinner blanks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Resaw {
    /// Blanks that one piece is resawn into at most; 1 resaws nothing.
    pub blanks: u32,
    /// Wood a resaw cut turns to dust.
    pub kerf: Length,
    /// Planed off each sawn face.
    pub cleaning: Length,
}

/// What may be glued, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Glue {
    /// Panels of strips, for parts that may be.
    pub panels: bool,
    /// Thick parts of layers.
    pub laminate: bool,
    /// Least finished width of a strip.
    pub narrowest_strip: Length,
    /// Largest finished width of a strip: wider ones cup.
    pub widest_strip: Length,
    /// Taken off each edge that is jointed or cleaned.
    pub joint_allowance: Length,
    /// Is a part glued as well where that is cheaper, though a board gives it whole?
    pub where_cheaper: bool,
    /// Percent of the part's wood that each joint must save.
    pub joint_percent: Money,
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
    /// Longest setting of the crosscut stop.
    pub max_crosscut_length: Length,
    /// Block clamped to the fence when it serves as a crosscut stop.
    pub standoff_block: Length,
    /// 2 or 3 stages of cuts.
    pub stages: u8,
    /// What becomes of cuts that its fence or stop cannot be set to.
    pub beyond_reach: BeyondReach,
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

    /// Is a crosscut longer than the stop can be set to?
    pub fn crosscuts_beyond_reach(&self, length: Length) -> bool {
        length > self.max_crosscut_length
    }
}

/// What milling takes off and what is added to parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Milling {
    /// Off each end, with the kerf of the cut that makes it.
    pub end_trim: Length,
    /// Off each edge, with the kerf of the cut that makes it.
    pub edge_trim: Length,
    /// Added to every part's length.
    pub length_allowance: Length,
    /// Added to every part's width.
    pub width_allowance: Length,
    /// Added to a `creep` part's length.
    pub creep_allowance: Length,
    /// Added to a `to-work` part's length.
    pub to_work_allowance: Length,
    /// Dressed thickness of each class.
    pub dressed: DressedTable,
}

/// Which leftovers are kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offcuts {
    /// Least length, along the grain.
    pub keep_length: Length,
    /// Least width.
    pub keep_width: Length,
    /// Percent of its share of the board's price that a kept offcut is worth to this job.
    pub credit_percent: Money,
}

/// What setting up costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Labour {
    /// Money per hour.
    pub hourly_rate: Money,
    /// Minutes per distinct rip setting.
    pub rip_setup_minutes: Money,
    /// Minutes per distinct stop setting.
    pub stop_setup_minutes: Money,
}

/// Limits that keep hands whole.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Safety {
    /// A shorter piece is milled as part of a longer one.
    pub min_machined_length: Length,
    /// A narrower strip is not ripped between fence and blade.
    pub narrowest_rip: Length,
}

impl Shop {
    /// A board's size less the trims: what pieces may be cut from; `None` if nothing is left.
    pub fn usable(&self, length: Length, width: Length) -> Option<(Length, Length)> {
        let usable_length = length - self.milling.end_trim * 2;
        let usable_width = width - self.milling.edge_trim * 2;
        (usable_length > Length::ZERO && usable_width > Length::ZERO).then_some((usable_length, usable_width))
    }

    /// Blanks of a finished thickness that a piece of a class gives: 0 where it is too thin, more than 1
    /// where it is resawn. The outer faces are dressed first, so two blanks share what the class dresses to.
    pub fn blanks(&self, quarter: Quarter, thickness: Length) -> u32 {
        let dressed = self.milling.dressed.dressed(quarter);
        let lost = self.resaw.kerf + self.resaw.cleaning * 2;
        let fits = |blanks: &u32| {
            let (blanks, cuts) = (i64::from(*blanks), i64::from(*blanks) - 1);
            thickness * blanks + lost * cuts <= dressed
        };
        (1..=self.resaw.blanks).take_while(fits).last().unwrap_or(0)
    }

    /// Does a leftover of this size go back on the rack?
    pub fn keeps(&self, length: Length, width: Length) -> bool {
        length >= self.offcuts.keep_length && width >= self.offcuts.keep_width
    }
}
