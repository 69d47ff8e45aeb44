//! Finishes, and the pieces of scrap that work after the saw needs (common practice).

use crate::measure::Length;

/// What a finish leaves on the wood.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Film {
    /// A film on the surface: varnish, lacquer, paint.
    Film,
    /// An oil in the surface. Rags with drying oil can ignite by themselves.
    Oil,
}

impl Film {
    /// Both.
    pub const ALL: [Film; 2] = [Film::Film, Film::Oil];

    /// As `finish.csv` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Film::Film => "film",
            Film::Oil => "oil",
        }
    }
}

/// The least piece, along and across the grain, on which stain and finish can be tried first.
pub const TEST_PIECE: (Length, Length) = (Length::inches(6), Length::inches(2));

/// The least piece, along and across the grain, that backs a hole as the bit comes through.
pub const BACKER: (Length, Length) = (Length::inches(4), Length::inch_128ths(192));

/// What to do with rags (common practice; safety).
pub const RAGS: &str = "Rags with drying oil heat themselves and can ignite: dry them flat, in one layer, on a \
non-burning surface outdoors, or keep them in water in a closed metal can. The label and the local fire code \
come first.";
