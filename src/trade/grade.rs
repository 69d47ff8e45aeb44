//! Hardwood grades and their order.

use std::fmt;

/// A hardwood grade, best first, by the NHLA rules as published summaries give them (American Hardwood Export
/// Council, summary of grades, 2004; Wengert, "Hardwood grading"). The grades of sheets follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Grade {
    /// Firsts and seconds.
    Fas,
    /// FAS one face.
    F1f,
    /// Selects.
    Sel,
    /// Number 1 common.
    C1,
    /// Number 2A common.
    C2a,
    /// Number 3A common.
    C3a,
    /// A sheet with two good faces.
    BothFaces,
    /// A sheet with one good face.
    OneFace,
}

impl Grade {
    /// Every grade of sheets, the better first.
    pub const OF_SHEETS: [Grade; 2] = [Grade::BothFaces, Grade::OneFace];

    /// Every grade of lumber, best first.
    pub const ALL: [Grade; 6] = [Grade::Fas, Grade::F1f, Grade::Sel, Grade::C1, Grade::C2a, Grade::C3a];

    /// As a price sheet writes it.
    pub fn name(self) -> &'static str {
        match self {
            Grade::Fas => "FAS",
            Grade::F1f => "F1F",
            Grade::Sel => "SEL",
            Grade::C1 => "1C",
            Grade::C2a => "2A",
            Grade::C3a => "3A",
            Grade::BothFaces => "both",
            Grade::OneFace => "one",
        }
    }

    /// Reads a grade; capitals do not matter.
    pub fn parse(text: &str) -> Option<Grade> {
        Grade::ALL
            .into_iter()
            .chain(Grade::OF_SHEETS)
            .find(|grade| grade.name().eq_ignore_ascii_case(text.trim()))
    }

    /// Is it a grade of sheets?
    pub fn is_of_sheets(self) -> bool {
        Grade::OF_SHEETS.contains(&self)
    }

    /// A better grade may stand in for a lower one, never the reverse; nor a sheet for lumber.
    pub fn serves(self, lowest: Grade) -> bool {
        self <= lowest && self.is_of_sheets() == lowest.is_of_sheets()
    }
}

impl fmt::Display for Grade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn better_grades_stand_in_for_lower_ones_only() {
        for (rank, better) in Grade::ALL.into_iter().enumerate() {
            for (lower_rank, lower) in Grade::ALL.into_iter().enumerate() {
                assert_eq!(better.serves(lower), rank <= lower_rank);
            }
            assert_eq!(Grade::parse(&better.name().to_lowercase()), Some(better));
        }
        assert_eq!(Grade::parse("prime"), None);
        let [both, one] = Grade::OF_SHEETS;
        assert!(both.serves(one) && !one.serves(both) && !Grade::Fas.serves(one) && !one.serves(Grade::C3a));
        assert_eq!(["both", "ONE"].map(Grade::parse), [Some(both), Some(one)]);
    }
}
