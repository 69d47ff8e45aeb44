//! Wood screws and their holes.

use super::species_key;
use crate::measure::Length;

/// Shank diameter of a wood screw: 0.060 in and 0.013 in for each gauge number (ASME B18.6.1, from memory; a
/// published comparison of charts gives the same: 0.112, 0.138, 0.164, 0.190, 0.216, 0.242, 0.268 in for the even
/// gauges 4 to 16).
pub fn shank(gauge: u8) -> Length {
    thousandths(60 + 13 * i64::from(gauge))
}

/// Largest gauge that is read.
pub const MOST_GAUGE: u8 = 24;

/// Root diameters in thousandths of an inch by gauge (AWC NDS, standard wood screws, from memory).
const ROOTS: [(u8, i64); 11] = [
    (6, 113),
    (7, 122),
    (8, 131),
    (9, 142),
    (10, 152),
    (12, 171),
    (14, 196),
    (16, 209),
    (18, 232),
    (20, 255),
    (24, 298),
];

/// Root diameter of a wood screw. A gauge that the table does not have is taken at four fifths of its
/// shank, which the table keeps within 3 % of the shank.
pub fn root(gauge: u8) -> Length {
    match ROOTS.iter().find(|(listed, _)| *listed == gauge) {
        Some((_, root)) => thousandths(*root),
        None => Length::from_base(shank(gauge).base() * 4 / 5),
    }
}

/// Specific gravity at 12 % moisture content, in hundredths (USDA Forest Products Laboratory, Wood
/// Handbook, mechanical properties table), under the names the trade uses.
const GRAVITIES: [(&str, u16); 17] = [
    ("northern red oak", 63),
    ("red oak", 63),
    ("white oak", 68),
    ("sugar maple", 63),
    ("hard maple", 63),
    ("black cherry", 50),
    ("cherry", 50),
    ("black walnut", 55),
    ("walnut", 55),
    ("yellow-poplar", 42),
    ("yellow poplar", 42),
    ("poplar", 42),
    ("white ash", 60),
    ("ash", 60),
    ("beech", 64),
    ("american beech", 64),
    ("oak", 63),
];

/// Specific gravity of a species in hundredths, where it is listed.
pub fn gravity(species: &str) -> Option<u16> {
    let species = species_key(species);
    GRAVITIES.iter().find(|(name, _)| *name == species).map(|(_, gravity)| *gravity)
}

/// A lead hole for the thread of a screw.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LeadHole {
    /// Its diameter.
    pub diameter: Length,
    /// May it be left out away from the ends?
    pub optional: bool,
}

/// The lead hole of a screw loaded in withdrawal (AWC NDS, wood screws, from memory): about 90 % of the
/// root diameter above a specific gravity of 0.6, about 70 % above 0.5, and below that it may be left out
/// but for holes near ends. A species that is not listed is drilled as a dense one, so that it does not split.
pub fn lead_hole(gauge: u8, species: &str) -> LeadHole {
    let gravity = gravity(species).unwrap_or(u16::MAX);
    let percent = if gravity > 60 { 90 } else { 70 };
    LeadHole { diameter: Length::from_base(root(gauge).base() * percent / 100), optional: gravity <= 50 }
}

/// The bit for a diameter: to the next 1/64 in.
pub fn bit(diameter: Length) -> Length {
    let step = Length::inch_128ths(2).base();
    Length::from_base(((diameter.base() + step / 2) / step).max(1) * step)
}

fn thousandths(count: i64) -> Length {
    Length::from_base(Length::inches(1).base() * count / 1000)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Unit;

    fn inches(length: Length) -> f64 {
        length.to_f64(Unit::Inch)
    }

    /// A published comparison of charts: number 8 is 0.164 in, number 10 is 0.190 in.
    #[test]
    fn screws_have_the_standard_s_diameters() {
        assert!((inches(shank(8)) - 0.164).abs() < 1e-5);
        assert!((inches(shank(10)) - 0.190).abs() < 1e-5);
        assert!((inches(shank(0)) - 0.060).abs() < 1e-5);
    }

    #[test]
    fn what_the_table_of_roots_lacks_is_close_to_it() {
        for (gauge, root) in ROOTS {
            let (shank, root) = (inches(shank(gauge)), root as f64 / 1000.0);
            assert!((root / shank - 0.8).abs() < 0.03, "{gauge}: {}", root / shank);
        }
    }

    /// AWC NDS (from memory), with the specific gravities of the Wood Handbook.
    #[test]
    fn lead_holes_follow_the_species() {
        let of = |species| lead_hole(8, species);
        assert!((inches(of("White Oak").diameter) - 0.131 * 0.9).abs() < 1e-5);
        assert!((inches(of("black  walnut").diameter) - 0.131 * 0.7).abs() < 1e-5);
        assert!(!of("black walnut").optional);
        assert!(of("yellow-poplar").optional && of("cherry").optional);
        assert!(!of("white ash").optional, "0.60 is not above 0.6, but is above 0.5");
        assert!((inches(of("white ash").diameter) - 0.131 * 0.7).abs() < 1e-5);
        assert_eq!(of("a wood nobody lists"), of("white oak"));
    }

    #[test]
    fn bits_are_the_nearest_sixty_fourth() {
        assert_eq!(bit(thousandths(118)), Length::inch_128ths(16));
        assert_eq!(bit(thousandths(92)), Length::inch_128ths(12));
        assert_eq!(bit(Length::from_base(1)), Length::inch_128ths(2));
    }
}
