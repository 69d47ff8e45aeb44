//! Sheet goods: which way their grain runs, and what a nominal thickness really measures.

use crate::measure::Length;

/// Which way the grain of a sheet's face runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum SheetGrain {
    /// Along its length.
    #[default]
    Along,
    /// Across, along its width.
    Across,
    /// It has none.
    None,
}

impl SheetGrain {
    /// Every way.
    pub const ALL: [SheetGrain; 3] = [SheetGrain::Along, SheetGrain::Across, SheetGrain::None];

    /// As a price sheet writes it.
    pub fn name(self) -> &'static str {
        match self {
            SheetGrain::Along => "along",
            SheetGrain::Across => "across",
            SheetGrain::None => "none",
        }
    }

    /// Reads a way; capitals do not matter.
    pub fn parse(text: &str) -> Option<SheetGrain> {
        SheetGrain::ALL.into_iter().find(|grain| grain.name().eq_ignore_ascii_case(text.trim()))
    }
}

/// Which way a part wants the grain of its face.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum PartGrain {
    /// Along its length.
    #[default]
    Along,
    /// Along its width.
    Across,
    /// Either way.
    Any,
}

impl PartGrain {
    /// Every way.
    pub const ALL: [PartGrain; 3] = [PartGrain::Along, PartGrain::Across, PartGrain::Any];

    /// As `parts.csv` writes it.
    pub fn name(self) -> &'static str {
        match self {
            PartGrain::Along => "along",
            PartGrain::Across => "across",
            PartGrain::Any => "any",
        }
    }

    /// Reads a way; capitals do not matter.
    pub fn parse(text: &str) -> Option<PartGrain> {
        PartGrain::ALL.into_iter().find(|grain| grain.name().eq_ignore_ascii_case(text.trim()))
    }

    /// How a part lies on a sheet.
    pub fn on(self, sheet: SheetGrain) -> Turns {
        match (self, sheet) {
            (PartGrain::Any, _) | (_, SheetGrain::None) => Turns::Either,
            (PartGrain::Along, SheetGrain::Along) | (PartGrain::Across, SheetGrain::Across) => Turns::Never,
            (PartGrain::Along, SheetGrain::Across) | (PartGrain::Across, SheetGrain::Along) => Turns::Always,
        }
    }
}

/// How a part may lie on a board: its length along the board's, or turned by a quarter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Turns {
    /// Its length lies along the board's.
    #[default]
    Never,
    /// Its length lies across.
    Always,
    /// As one likes.
    Either,
}

impl Turns {
    /// May it lie with its length along the board's?
    pub fn allows_straight(self) -> bool {
        self != Turns::Always
    }

    /// May it lie across?
    pub fn allows_turned(self) -> bool {
        self != Turns::Never
    }

    /// May a part lie in every way in which it may lie there?
    pub fn covers(self, other: Turns) -> bool {
        self == other || self == Turns::Either
    }
}

/// What a sheet of a nominal thickness in inches really measures, where its price line does not say: 1/32 in less
/// from 3/8 in on, since it is sanded (common practice; "3/4" hardwood plywood is about 23/32). A metric thickness
/// and a thinner sheet are what they say.
pub fn usual_thickness(nominal: Length) -> Length {
    let is_in_eighths = nominal.base() % Length::inch_128ths(16).base() == 0;
    if is_in_eighths && nominal >= Length::inch_128ths(48) {
        nominal - Length::inch_128ths(4)
    } else {
        nominal
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Unit;

    #[test]
    fn a_sheet_is_thinner_than_it_is_called_in_inches_and_not_in_millimetres() {
        let length = |text: &str| Length::parse(text, Unit::Inch).unwrap();
        for (nominal, real) in
            [("3/4", "23/32"), ("1/2", "15/32"), ("1/4", "1/4"), ("18mm", "18mm"), ("19.05mm", "23/32")]
        {
            assert_eq!(usual_thickness(length(nominal)), length(real), "{nominal}");
        }
    }

    #[test]
    fn the_grain_of_the_part_follows_that_of_the_sheet() {
        assert_eq!(PartGrain::Along.on(SheetGrain::Along), Turns::Never);
        assert_eq!(PartGrain::Along.on(SheetGrain::Across), Turns::Always);
        assert_eq!(PartGrain::Across.on(SheetGrain::Along), Turns::Always);
        assert_eq!(PartGrain::Across.on(SheetGrain::Across), Turns::Never);
        for grain in PartGrain::ALL {
            assert_eq!(grain.on(SheetGrain::None), Turns::Either);
            assert_eq!(PartGrain::parse(grain.name()), Some(grain));
        }
        for grain in SheetGrain::ALL {
            assert_eq!(PartGrain::Any.on(grain), Turns::Either);
            assert_eq!(SheetGrain::parse(grain.name()), Some(grain));
        }
    }
}
