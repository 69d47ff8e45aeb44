//! How a hardwood board is graded: the clear cuttings that its poorer face gives.
//!
//! The rules are those of the NHLA, as published summaries give them (American Hardwood Export Council, summary
//! of grades, 2004; Wengert, "Hardwood grading"). A cutting is a rectangle without defects, along the board; it
//! counts in units of 12 square inches. The grade asks for a least board, a least size of each cutting, a
//! share of the surface in so few cuttings, and more of it if one more cutting is used. Grading a lot that is
//! sold is the inspector's work: what is found here is what a board with these defects is expected to make.

mod cuttings;
mod face;
mod prices;

pub use self::cuttings::CuttingsMade;
pub use self::face::{ClearCutting, Defect, Rectangle};

use self::cuttings::CuttingSearch;
use self::face::area;
use super::grade::Grade;
use crate::measure::Length;

/// What a grade asks of the face that it is judged on.
#[derive(Debug, Clone, Copy)]
pub struct Rule {
    /// Least width and length of the board.
    pub board: (Length, Length),
    /// Least width and length of a cutting: one of these.
    pub cuttings: &'static [(Length, Length)],
    /// Units of each foot of surface measure, of the 12 that it has.
    pub units: i64,
    /// How many cuttings a board of some surface measure may be cut into.
    pub most: fn(i64) -> i64,
    /// One cutting more is allowed at these surface measures, if it then gives so many units a foot.
    pub extra: Option<(i64, i64, i64)>,
}

const fn size(width: i64, feet: i64) -> (Length, Length) {
    (Length::inches(width), Length::inches(12 * feet))
}

/// Kiln-dried boards may be so much narrower than the grade's least width.
const SHRUNK: Length = Length::inch_128ths(64);

/// The rule for the face that a grade is judged on. For SEL and F1F the better face is judged as FAS and the
/// poorer one as 1C. What is given here is the rule of the poorer face, with the least board of the grade
/// itself.
pub fn rule(grade: Grade) -> Rule {
    const FAS: &[(Length, Length)] = &[size(4, 5), size(3, 7)];
    const COMMON: &[(Length, Length)] = &[size(4, 2), size(3, 3)];
    const SMALL: &[(Length, Length)] = &[size(3, 2)];
    let common = Rule {
        board: size(3, 4),
        cuttings: COMMON,
        units: 8,
        most: |measure| ((measure + 1) / 3).min(5),
        extra: Some((3, 10, 9)),
    };
    match grade {
        Grade::Fas => Rule {
            board: size(6, 8),
            cuttings: FAS,
            units: 10,
            most: |measure| (measure / 4).min(4),
            extra: Some((6, 15, 11)),
        },
        Grade::F1f => Rule { board: size(6, 8), ..common },
        Grade::Sel => Rule { board: size(4, 6), ..common },
        Grade::C1 => common,
        Grade::C2a => Rule {
            board: size(3, 4),
            cuttings: SMALL,
            units: 6,
            most: |measure| (measure / 2).min(7),
            extra: Some((2, 7, 8)),
        },
        // No rule of lumber grades sheets, and nobody asks for it.
        Grade::C3a | Grade::BothFaces | Grade::OneFace => Rule {
            board: size(3, 4),
            cuttings: SMALL,
            units: 4,
            // Any number: more than a board of any size gives.
            most: |_| 64,
            extra: None,
        },
    }
}

/// Surface measure in square feet: width in inches by whole feet of length over 12, to the nearest whole foot.
pub fn surface_measure(length: Length, width: Length) -> i64 {
    let inch = Length::inches(1).base();
    let twelfths = width.base() * length.whole_feet();
    (2 * twelfths + 12 * inch).div_euclid(24 * inch)
}

/// What a board makes, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Graded {
    /// The best grade that it makes; none if it makes no grade of the rules.
    pub grade: Option<Grade>,
    /// Surface measure.
    pub measure: i64,
    /// The cuttings that make it.
    pub cuttings: Vec<ClearCutting>,
    /// Is every better grade ruled out? If not, the grade is one that the board makes at least.
    pub exact: bool,
}

impl Graded {
    /// Whole units of 12 square inches in the cuttings.
    pub fn units(&self) -> i64 {
        (self.cuttings.iter().map(area).sum::<i128>() / UNIT) as i64
    }
}

/// Square base units of 12 square inches.
const UNIT: i128 = 12 * (Length::inches(1).base() as i128) * (Length::inches(1).base() as i128);

/// Grades whose rules differ on one face, best first. SEL stands for F1F as well: they differ in the least board.
const JUDGED: [Grade; 4] = [Grade::Fas, Grade::C1, Grade::C2a, Grade::C3a];

/// The best grade that a face with these defects makes. FAS one face and Selects are told from both faces.
/// Here only the poorer one is given, so a board that is not FAS is 1C at best.
pub fn grade_of(length: Length, width: Length, defects: &[Defect]) -> Graded {
    let measure = surface_measure(length, width);
    let mut exact = true;
    for grade in JUDGED {
        match makes(grade, length, width, defects) {
            CuttingsMade::With(cuttings) => return Graded { grade: Some(grade), measure, cuttings, exact },
            CuttingsMade::No => {}
            CuttingsMade::Unknown => exact = false,
        }
    }
    Graded { grade: None, measure, cuttings: Vec::new(), exact }
}

/// The grade that is judged on the poorer face where so much is sold: of FAS one face and Selects that is 1C.
pub fn on_the_poorer_face(sold: Grade) -> Grade {
    match sold {
        Grade::F1f | Grade::Sel => Grade::C1,
        other => other,
    }
}

/// What a board makes as measured, if that is proven to be less than it is sold as.
pub fn below_what_is_sold(sold: Grade, length: Length, width: Length, defects: &[Defect]) -> Option<Graded> {
    let graded = grade_of(length, width, defects);
    let less = graded.grade.is_none_or(|grade| grade > on_the_poorer_face(sold));
    (less && graded.exact).then_some(graded)
}

/// Does a face with these defects make a grade?
pub fn makes(grade: Grade, length: Length, width: Length, defects: &[Defect]) -> CuttingsMade {
    let rule = rule(grade);
    if width + SHRUNK < rule.board.0 || length < rule.board.1 {
        return CuttingsMade::No;
    }
    let measure = surface_measure(length, width);
    let most = (rule.most)(measure);
    let mut ways = vec![(most, rule.units)];
    if let Some((from, to, units)) = rule.extra
        && (from..=to).contains(&measure)
    {
        ways.push((most + 1, units));
    }
    let search = CuttingSearch::new(length, width, defects, rule.cuttings);
    let mut made = CuttingsMade::No;
    for (cuttings, units) in ways.into_iter().filter(|(cuttings, _)| *cuttings > 0) {
        let needed = i128::from(measure * units) * UNIT;
        match search.find(cuttings as usize, needed) {
            CuttingsMade::With(found) => return CuttingsMade::With(found),
            CuttingsMade::Unknown => made = CuttingsMade::Unknown,
            CuttingsMade::No => {}
        }
    }
    made
}

#[cfg(test)]
mod tests;
