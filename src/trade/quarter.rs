//! Thickness classes and what is left of them after dressing.

use std::collections::BTreeMap;
use std::fmt;

use crate::measure::{Length, Unit};

/// A thickness class: of lumber a rough thickness in quarters of an inch or in metric, of sheets the nominal one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Quarter {
    sheet: bool,
    rough: Length,
}

/// Thickest class that is read: 32/4 is eight inches.
const MAX_QUARTERS: i64 = 32;

impl Quarter {
    /// A class of so many quarters of an inch.
    pub const fn quarters(count: i64) -> Quarter {
        Quarter { sheet: false, rough: Length::inch_128ths(count * 32) }
    }

    /// The class of sheets of a nominal thickness; none where it is absurd.
    pub fn of_sheets(nominal: Length) -> Option<Quarter> {
        is_thickness(nominal).then_some(Quarter { sheet: true, rough: nominal })
    }

    /// Is it a class of sheets?
    pub fn is_sheet(self) -> bool {
        self.sheet
    }

    /// Reads `6/4`, or a metric rough thickness such as `27mm`; of sheets `3/4in sheet` or `18mm sheet`.
    pub fn parse(text: &str) -> Option<Quarter> {
        let text = text.trim();
        if let Some(nominal) = text.strip_suffix("sheet") {
            return Quarter::of_sheets(Length::parse(nominal.trim(), Unit::Inch).ok()?);
        }
        let rough = if let Some(count) = text.strip_suffix("/4") {
            let count = count.trim().parse().ok().filter(|count| (1..=MAX_QUARTERS).contains(count))?;
            Quarter::quarters(count).rough
        } else if text.ends_with("mm") || text.ends_with("cm") {
            Length::parse(text, Unit::Millimetre).ok()?
        } else {
            return None;
        };
        is_thickness(rough).then_some(Quarter { sheet: false, rough })
    }

    /// The rough thickness, or the nominal one of sheets.
    pub fn rough(self) -> Length {
        self.rough
    }

    /// The thickness a dealer charges for: stock under 1 in counts as 1 in (NHLA rules, from memory).
    pub fn tallied(self) -> Length {
        self.rough.max(Quarter::quarters(4).rough)
    }

    /// Whole quarters, if it is a class of whole quarters.
    pub fn whole_quarters(self) -> Option<i64> {
        let quarter = Length::inch_128ths(32).base();
        (self.rough.base() % quarter == 0).then_some(self.rough.base() / quarter)
    }
}

impl fmt::Display for Quarter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.sheet {
            return f.pad(&format!("{} sheet", self.rough.as_named()));
        }
        match self.whole_quarters() {
            Some(count) => f.pad(&format!("{count}/4")),
            None => f.pad(&format!("{}mm", self.rough.display(Unit::Millimetre))),
        }
    }
}

fn is_thickness(thickness: Length) -> bool {
    thickness > Length::ZERO && thickness <= Quarter::quarters(MAX_QUARTERS).rough
}

/// Dressed (S2S) thickness of each class, in 1/128 in: the grading standard's rough to S2S sizes, as published
/// tables of hardwood sizes give them. No rule fixes what planed stock really measures (common practice).
const DRESSED: [(i64, i64); 7] = [
    (4, 104), // 13/16
    (5, 136), // 1 1/16
    (6, 168), // 1 5/16
    (8, 224), // 1 3/4
    (10, 288),
    (12, 352),
    (16, 480),
];

/// The trade's dressed thickness. Classes that the published table does not name lose what their
/// neighbours in it lose: 3/16 in up to 6/4, 1/4 in above.
pub fn standard_dressed(class: Quarter) -> Length {
    let named = DRESSED.iter().find(|(quarters, _)| Quarter::quarters(*quarters) == class);
    match named {
        Some((_, dressed)) => Length::inch_128ths(*dressed),
        None if class <= Quarter::quarters(6) => class.rough().saturating_sub(Length::inch_128ths(24)),
        None => class.rough().saturating_sub(Length::inch_128ths(32)),
    }
}

/// Boards of 4/4 longer than this bow too much to be planned at 13/16: they are safely planned at 3/4 (common
/// practice). No table names a step for other classes.
const LONG_BOARD: Length = Length::inches(72);

/// The same where the length of what is dressed counts.
pub fn standard_dressed_of(class: Quarter, length: Length) -> Length {
    let four = Quarter::quarters(4);
    let long = class == four && length > LONG_BOARD;
    if long { Length::inch_128ths(96) } else { standard_dressed(class) }
}

/// What one class dresses to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dressed {
    /// Its thickness.
    pub thickness: Length,
    /// Lengths above which it dresses to less, and to what, by rising length.
    pub over: Vec<(Length, Length)>,
}

impl Dressed {
    /// The thickness that a piece of a length dresses to.
    pub fn of(&self, length: Length) -> Length {
        let reached = self.over.iter().rev().find(|(over, _)| length > *over);
        reached.map_or(self.thickness, |(_, thickness)| *thickness)
    }
}

/// What one shop gets out of the classes that it has entries for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DressedTable(BTreeMap<Quarter, Dressed>);

impl DressedTable {
    /// Sets what this shop gets out of a class.
    pub fn set(&mut self, class: Quarter, dressed: Dressed) {
        self.0.insert(class, dressed);
    }

    /// What it gets out of a class, where it says so.
    pub fn own(&self, class: Quarter) -> Option<&Dressed> {
        self.0.get(&class)
    }
}

/// The classes that the trade names, by rising thickness, and the thickest that is read.
pub fn trade_classes() -> impl Iterator<Item = Quarter> {
    let named = DRESSED.iter().map(|(quarters, _)| *quarters);
    named.chain([MAX_QUARTERS]).map(Quarter::quarters)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Found by fuzzing: a count whose thickness no number holds.
    #[test]
    fn an_absurd_class_is_no_class() {
        for text in ["8775555400554061/4", "-4/4", "0/4", "33/4", "/4", "1e3mm", "99999999999999999999mm"] {
            assert_eq!(Quarter::parse(text), None, "{text}");
        }
        assert_eq!(Quarter::parse("32/4"), Some(Quarter::quarters(32)));
    }

    /// Published tables of hardwood sizes, rough to S2S.
    #[test]
    fn dressed_thickness_follows_the_published_table() {
        for (class, dressed) in [
            ("4/4", "13/16"),
            ("5/4", "1 1/16"),
            ("6/4", "1 5/16"),
            ("8/4", "1 3/4"),
            ("10/4", "2 1/4"),
            ("12/4", "2 3/4"),
            ("16/4", "3 3/4"),
        ] {
            let class = Quarter::parse(class).unwrap();
            assert_eq!(standard_dressed(class), Length::parse(dressed, Unit::Inch).unwrap(), "{class}");
        }
    }

    #[test]
    fn classes_are_read_and_printed() {
        for text in ["3/4", "4/4", "16/4", "27mm"] {
            assert_eq!(Quarter::parse(text).unwrap().to_string(), text);
        }
        for text in ["3/4in sheet", "18mm sheet", "1/4in sheet", "6.5mm sheet", "5/8in sheet"] {
            let class = Quarter::parse(text).unwrap();
            assert!(class.is_sheet() && Some(class) != Quarter::parse("3/4"), "{text}");
            assert_eq!(class.to_string(), text);
        }
        assert_eq!(Quarter::parse("400in sheet"), None);
        assert_eq!(Quarter::parse("25.4mm"), Quarter::parse("4/4"));
        for text in ["", "0/4", "-4/4", "4/8", "400/4", "1", "four"] {
            assert_eq!(Quarter::parse(text), None, "{text}");
        }
        assert_eq!(Quarter::parse("3/4").unwrap().tallied(), Length::inches(1));
    }
}
