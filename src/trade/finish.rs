//! Finishes, and the pieces of scrap that work after the saw needs (common practice).

use crate::measure::{Area, Length, Unit};

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

/// Which faces of a piece are finished.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Faces {
    /// Both faces and all edges.
    All,
    /// The face that shows, and all edges.
    #[default]
    Show,
    /// The face that shows alone.
    Top,
}

impl Faces {
    /// Every choice.
    pub const ALL: [Faces; 3] = [Faces::All, Faces::Show, Faces::Top];

    /// As `finish.csv` writes it.
    pub fn name(self) -> &'static str {
        match self {
            Faces::All => "all",
            Faces::Show => "show",
            Faces::Top => "top",
        }
    }

    /// What is finished of a piece of a finished length, width and thickness.
    pub fn area(self, length: Length, width: Length, thickness: Length) -> Area {
        let face = Area::of(length, width);
        let (side, end) = (Area::of(length, thickness), Area::of(width, thickness));
        let edges = [side, side, end, end];
        match self {
            Faces::All => [face, face].into_iter().chain(edges).sum(),
            Faces::Show => [face].into_iter().chain(edges).sum(),
            Faces::Top => face,
        }
    }
}

/// Tins that finish is sold in, in quarts or litres, the largest first (common practice): gallon, quart, pint and half
/// pint; 2.5, 1, 0.5 and 0.25 litres.
pub fn tin_sizes(unit: Unit) -> [(f64, &'static str); 4] {
    match unit {
        Unit::Inch => [(4.0, "gallon"), (1.0, "quart"), (0.5, "pint"), (0.25, "half pint")],
        Unit::Millimetre => [(2.5, "2.5 l"), (1.0, "1 l"), (0.5, "0.5 l"), (0.25, "0.25 l")],
    }
}

/// The tins that hold so many quarts or litres, by the place of their size; a size is never bought so often that the
/// next larger tin holds as much.
pub fn tins(quantity: f64, unit: Unit) -> [u64; 4] {
    let sizes = tin_sizes(unit).map(|(size, _)| size);
    let smallest = sizes[sizes.len() - 1];
    // Whole numbers of the smallest tin: a little less than nothing more is nothing.
    let mut left = (quantity / smallest - 1e-6).ceil().max(0.0) as u64;
    let each = sizes.map(|size| (size / smallest).round() as u64);
    each.map(|each| {
        let tins = left / each;
        left -= tins * each;
        tins
    })
}

/// The least piece, along and across the grain, on which stain and finish can be tried first.
pub const TEST_PIECE: (Length, Length) = (Length::inches(6), Length::inches(2));

/// The least piece, along and across the grain, that backs a hole as the bit comes through.
pub const BACKER: (Length, Length) = (Length::inches(4), Length::inch_128ths(192));

/// What to do with rags (common practice; safety).
pub const RAGS: &str = "Rags with drying oil heat themselves and can ignite: dry them flat, in one layer, on a \
non-burning surface outdoors, or keep them in water in a closed metal can. The label and the local fire code \
come first.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tins_hold_what_is_needed_and_no_smallest_tin_more() {
        assert_eq!(tins(0.63, Unit::Inch), [0, 0, 1, 1]);
        assert_eq!(tins(0.75, Unit::Inch), [0, 0, 1, 1]);
        assert_eq!(tins(0.76, Unit::Inch), [0, 1, 0, 0]);
        assert_eq!(tins(5.3, Unit::Inch), [1, 1, 1, 0]);
        assert_eq!(tins(2.6, Unit::Millimetre), [1, 0, 0, 1]);
        assert_eq!(tins(0.0, Unit::Inch), [0, 0, 0, 0]);
    }

    #[test]
    fn faces_are_those_that_are_finished() {
        let size = [24, 6, 1].map(Length::inches);
        let of = |faces: Faces| faces.area(size[0], size[1], size[2]).base();
        let square = Area::of(Length::inches(1), Length::inches(1)).base();
        assert_eq!(of(Faces::Top), 144 * square);
        assert_eq!(of(Faces::Show), (144 + 60) * square);
        assert_eq!(of(Faces::All), (288 + 60) * square);
    }
}
