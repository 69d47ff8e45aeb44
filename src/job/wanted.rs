//! What is wanted: orders, the parts of products, and the work on them after the saw.

use jiff::civil::Date;

use super::blank::Blank;
use super::fit::Fit;
use super::sheet::SheetPart;
use crate::measure::{Length, Money};
use crate::trade::abrasives::Surface;
use crate::trade::drilling::Screw;
use crate::trade::finish::{Faces, Film};
use crate::trade::{Clear, Grade};

/// One order line.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Order {
    /// Order number or name.
    pub order: String,
    /// Product ordered.
    pub product: String,
    /// Products still wanted, at least 1.
    pub quantity: u64,
    /// Date it is due.
    pub due: Option<Date>,
    /// From 1, which is served first, to 9.
    pub priority: u8,
    /// Who ordered it, if the book says so.
    pub customer: String,
    /// What the shop wants to remember of it.
    pub note: String,
    /// Line in the file it was read from; 0 for one made in memory.
    pub row: u64,
}

impl Order {
    /// The priority of an order that says none.
    pub const USUAL_PRIORITY: u8 = 5;

    /// So many of a product, due at once.
    pub fn new(order: &str, product: &str, quantity: u64) -> Order {
        Order {
            order: order.to_string(),
            product: product.to_string(),
            quantity,
            due: None,
            priority: Order::USUAL_PRIORITY,
            customer: String::new(),
            note: String::new(),
            row: 0,
        }
    }

    /// Orders are served by priority, then by date; those without a date come last.
    pub fn turn(&self) -> (u8, bool, Option<Date>) {
        (self.priority, self.due.is_none(), self.due)
    }
}

/// A part as a product's list describes it, before anybody has ordered the product.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ProductPart {
    /// Product it belongs to.
    pub product: String,
    /// Its name within the product.
    pub part: String,
    /// Pieces in one product, at least 1.
    pub pieces: u64,
    /// Finished length, along the grain.
    pub length: Length,
    /// Finished width.
    pub width: Length,
    /// Finished thickness.
    pub thickness: Length,
    /// Species as written.
    pub species: String,
    /// Lowest acceptable grade.
    pub grade: Grade,
    /// Set where it is cut from a sheet; else it is of lumber.
    pub sheet: Option<SheetPart>,
    /// How it is brought to its length.
    pub fit: Fit,
    /// May be made from edge-glued strips.
    pub glue_up: bool,
    /// How clear it must be.
    pub clear: Clear,
    /// Where it is held in a frame, the room that it has across its width.
    pub captured: Option<Length>,
    /// Name of the set that it is matched with in its product; empty for none.
    pub matched: String,
    /// Line in the file it was read from; 0 for one made in memory.
    pub row: u64,
}

impl ProductPart {
    /// A clear part, from boards of any grade, that is cut to the stop in one piece. Sizes are finished length (along the
    /// grain), width and thickness.
    pub fn new(product: &str, part: &str, pieces: u64, sizes: [Length; 3], species: &str) -> ProductPart {
        let [length, width, thickness] = sizes;
        ProductPart {
            product: product.to_string(),
            part: part.to_string(),
            pieces,
            length,
            width,
            thickness,
            species: species.to_string(),
            grade: Grade::C3a,
            sheet: None,
            fit: Fit::Stop,
            glue_up: false,
            clear: Clear::Yes,
            captured: None,
            matched: String::new(),
            row: 0,
        }
    }
}

/// A part of an ordered product, as it is wanted when it is finished, and what is sawn for it.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Part {
    /// Product it belongs to.
    pub product: String,
    /// Its name within the product.
    pub part: String,
    /// Finished parts wanted over all orders.
    pub required: u64,
    /// Finished length, along the grain.
    pub length: Length,
    /// Finished width.
    pub width: Length,
    /// Finished thickness.
    pub thickness: Length,
    /// Species as written.
    pub species: String,
    /// Lowest acceptable grade.
    pub grade: Grade,
    /// Set where it is cut from a sheet; else it is of lumber.
    pub sheet: Option<SheetPart>,
    /// How it is brought to its length.
    pub fit: Fit,
    /// May be made from edge-glued strips.
    pub glue_up: bool,
    /// How clear it must be.
    pub clear: Clear,
    /// Where it is held in a frame, the room that it has across its width.
    pub captured: Option<Length>,
    /// Name of the set that it is matched with in its product; empty for none.
    pub matched: String,
    /// What is sawn for it.
    pub blank: Blank,
}

impl Part {
    /// Blanks wanted over all orders: strips or layers where the part is glued, else the parts.
    pub fn blanks_wanted(&self) -> u64 {
        self.required.saturating_mul(u64::from(self.blank.make.pieces()))
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
    /// Where the screw's head is sunk and covered: the plug.
    pub plug: Option<Plug>,
}

/// A wooden plug over the head of a screw, in a counterbore of its size.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Plug {
    /// Of the plug, and so of the bit.
    pub diameter: Length,
    /// How deep the head lies.
    pub depth: Length,
}

/// What a hole is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HoleKind {
    /// For the thread of a screw.
    Lead(Screw),
    /// For the shank of a screw to pass.
    Clearance(Screw),
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

    /// The screw, if it is for one.
    pub fn screw(self) -> Option<Screw> {
        match self {
            HoleKind::Lead(screw) | HoleKind::Clearance(screw) => Some(screw),
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
    /// Which faces are finished.
    pub faces: Faces,
    /// What the label says a measure covers: square feet a quart, or square metres a litre.
    pub coverage: Option<Money>,
}
