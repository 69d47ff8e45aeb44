//! Screws and their holes.

use crate::measure::{Length, Unit};

/// A wood screw, as its box names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Screw {
    /// By the number of its gauge.
    Gauge(u8),
    /// By its diameter, as metric screws are.
    Diameter(Length),
}

/// Largest gauge that is read.
pub const MOST_GAUGE: u8 = 24;

/// Root diameters in thousandths of an inch by gauge (a published comparison of charts).
const ROOTS: [(u8, i64); 7] = [(4, 75), (6, 94), (8, 112), (10, 130), (12, 148), (14, 165), (16, 184)];

impl Screw {
    /// Shank diameter: 0.060 in and 0.013 in for each gauge number (ASME B18.6.1, from memory; a published
    /// comparison of charts gives the same: 0.112, 0.138, 0.164, 0.190, 0.216, 0.242, 0.268 in for the even gauges
    /// 4 to 16); a metric screw is named by it.
    pub fn shank(self) -> Length {
        match self {
            Screw::Gauge(gauge) => thousandths(60 + 13 * i64::from(gauge)),
            Screw::Diameter(diameter) => diameter,
        }
    }

    /// Diameter of its flat head, at most: twice the shank (ASME B18.6.1 and ISO 7046, from memory: number 8 has 0.332
    /// in, 5 mm has 10 mm).
    pub fn head(self) -> Length {
        self.shank() * 2
    }

    /// The number of its gauge, if it has one.
    pub fn gauge(self) -> Option<u8> {
        if let Screw::Gauge(gauge) = self { Some(gauge) } else { None }
    }

    /// The diameter that it is named by, if it is.
    pub fn diameter(self) -> Option<Length> {
        if let Screw::Diameter(diameter) = self { Some(diameter) } else { None }
    }

    /// Root diameter. What the table does not have lies on the line through its neighbours by shank, and beyond its
    /// ends on the line of its last two.
    pub fn root(self) -> Length {
        let shank = self.shank().base();
        let known = ROOTS.map(|(gauge, root)| (Screw::Gauge(gauge).shank().base(), thousandths(root).base()));
        let after = known.iter().position(|(listed, _)| *listed >= shank).unwrap_or(known.len());
        let place = after.clamp(1, known.len() - 1);
        let ((low, from), (high, to)) = (known[place - 1], known[place]);
        let root = from as i128 + i128::from(to - from) * i128::from(shank - low) / i128::from(high - low);
        // A thin wire's line goes below nothing: two thirds of the shank is what the table has.
        Length::from_base((root as i64).clamp(shank / 3, shank))
    }
}

/// How deep a screw's head is sunk under a plug, where nothing else is asked for: as thick a plug holds, and leaves the
/// screw wood to pull on (common practice).
pub fn plug_depth(unit: Unit) -> Length {
    match unit {
        Unit::Inch => Length::inch_128ths(32),
        Unit::Millimetre => Length::micrometres(6_000),
    }
}

/// Wood lighter than this, in hundredths of specific gravity, takes a screw like a softwood.
const SOFT_BELOW: u16 = 50;

/// The lead hole of a screw in furniture, in a wood of so many hundredths of specific gravity: the root itself in
/// hard wood, about three quarters of it in soft wood (charts of shops, as a published comparison gives them). It is
/// always drilled: hardwood splits, and not only near an end.
pub fn lead_hole(screw: Screw, gravity: u16) -> Length {
    let root = screw.root();
    if gravity < SOFT_BELOW { Length::from_base(root.base() * 3 / 4) } else { root }
}

/// The bit of a lead hole that is sold: the nearest 1/64 in, or the nearest 0.1 mm.
pub fn lead_bit(diameter: Length, unit: Unit) -> Length {
    let step = match unit {
        Unit::Inch => Length::inch_128ths(2),
        Unit::Millimetre => Length::micrometres(100),
    };
    step * ((diameter.base() + step.base() / 2) / step.base()).max(1)
}

/// The bit of a clearance hole that is sold: the next 1/64 in or half a millimetre that is no smaller, since a
/// shank that sticks would split the piece.
pub fn clearance_bit(diameter: Length, unit: Unit) -> Length {
    let step = match unit {
        Unit::Inch => Length::inch_128ths(2),
        Unit::Millimetre => Length::micrometres(500),
    };
    step * ((diameter.base() + step.base() - 1) / step.base()).max(1)
}

fn thousandths(count: i64) -> Length {
    Length::from_base(Length::inches(1).base() * count / 1000)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(length: Length) -> f64 {
        length.to_f64(Unit::Inch)
    }

    /// A published comparison of charts: shank, clearance bit and root by gauge.
    #[test]
    fn screws_have_the_sizes_of_the_charts() {
        for (gauge, shank, clearance, root) in [
            (4, 0.112, 7, 0.075),
            (6, 0.138, 9, 0.094),
            (8, 0.164, 11, 0.112),
            (10, 0.190, 12, 0.130),
            (12, 0.216, 14, 0.148),
            (14, 0.242, 16, 0.165),
            (16, 0.268, 17, 0.184),
        ] {
            let screw = Screw::Gauge(gauge);
            assert!((inches(screw.shank()) - shank).abs() < 1e-5, "{gauge}");
            assert!((inches(screw.root()) - root).abs() < 1e-5, "{gauge}");
            let bit = clearance_bit(screw.shank(), Unit::Inch);
            // The charts take a bit that is up to 0.003 in below the shank: here none is.
            assert!((0..=1).contains(&(bit.base() / Length::inch_128ths(2).base() - clearance)), "{gauge}");
            assert!(bit >= screw.shank());
        }
    }

    /// A published comparison of charts, hardwood: number 6 3/32, number 8 7/64, number 10 1/8, number 12 9/64.
    #[test]
    fn lead_bits_in_hardwood_are_those_of_the_charts() {
        for (gauge, sixty_fourths) in [(6, 6), (8, 7), (10, 8), (12, 9)] {
            let bit = lead_bit(lead_hole(Screw::Gauge(gauge), 63), Unit::Inch);
            assert_eq!(bit, Length::inch_128ths(2 * sixty_fourths), "{gauge}");
        }
        // Soft wood: three quarters of 0.112 in is 0.084, by the nearest 1/64 a 5/64.
        assert_eq!(lead_bit(lead_hole(Screw::Gauge(8), 42), Unit::Inch), Length::inch_128ths(10));
    }

    #[test]
    fn a_smaller_screw_never_gets_a_larger_bit_and_no_bit_is_wider_than_the_shank() {
        for unit in [Unit::Inch, Unit::Millimetre] {
            for gravity in [42, 63] {
                let metric = (4..=30).map(|half| Screw::Diameter(Length::micrometres(half * 500)));
                let gauges = (0..=MOST_GAUGE).map(Screw::Gauge);
                for screws in [gauges.collect::<Vec<_>>(), metric.collect()] {
                    let bits = screws.iter().map(|screw| lead_bit(lead_hole(*screw, gravity), unit));
                    assert!(bits.clone().collect::<Vec<_>>().is_sorted(), "{unit:?} {gravity}");
                    assert!(bits.zip(&screws).all(|(bit, screw)| bit < screw.shank()), "{unit:?}");
                }
            }
        }
    }

    /// 4.5 mm lies between number 8 (4.166 mm, root 2.845) and number 10 (4.826, 3.302): 3.076, a bit of 3.1 mm.
    #[test]
    fn a_metric_screw_lies_between_its_neighbours_and_gets_bits_that_are_sold() {
        let screw = Screw::Diameter(Length::micrometres(4_500));
        let bit = lead_bit(lead_hole(screw, 63), Unit::Millimetre);
        assert_eq!(bit, Length::micrometres(3_100));
        assert_eq!(clearance_bit(screw.shank(), Unit::Millimetre), Length::micrometres(4_500));
        let number_eight = Screw::Gauge(8).shank();
        assert_eq!(clearance_bit(number_eight, Unit::Millimetre), Length::micrometres(4_500));
    }
}
