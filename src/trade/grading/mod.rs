//! How a hardwood board is graded: the clear cuttings that its poorer face gives.
//!
//! The rules are those of the NHLA, as published summaries give them (American Hardwood Export Council, summary
//! of grades, 2004; Wengert, "Hardwood grading"). A cutting is a rectangle without defects, along the board; it
//! counts in units of 12 square inches. The grade asks for a least board, a least size of each cutting, a
//! share of the surface in so few cuttings, and more of it if one more cutting is used. Grading a lot that is
//! sold is the inspector's work: what is found here is what a board with these defects is expected to make.

use super::clear::DefectKind;
use super::grade::Grade;
use crate::measure::Length;

/// A box of a board that not every piece may hold, from its left end and its lower edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Defect {
    /// Along the board, from its left end.
    pub x0: Length,
    /// End along the board.
    pub x1: Length,
    /// Across, from the lower edge.
    pub y0: Length,
    /// End across.
    pub y1: Length,
    /// What it does to the wood.
    pub kind: DefectKind,
}

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

/// A rectangle of a board, from its left end and its lower edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rectangle {
    /// Along the board, from its left end.
    pub x0: Length,
    /// End along the board.
    pub x1: Length,
    /// Across, from the lower edge.
    pub y0: Length,
    /// End across.
    pub y1: Length,
}

impl From<&Defect> for Rectangle {
    fn from(defect: &Defect) -> Rectangle {
        Rectangle { x0: defect.x0, x1: defect.x1, y0: defect.y0, y1: defect.y1 }
    }
}

/// A clear cutting where it lies on its board.
pub type ClearCutting = Rectangle;

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

/// Does a face make a grade?
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CuttingsMade {
    /// With these cuttings.
    With(Vec<ClearCutting>),
    /// Proven not to.
    No,
    /// Neither was shown within the steps of the search.
    Unknown,
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
    let mut made = CuttingsMade::No;
    for (cuttings, units) in ways.into_iter().filter(|(cuttings, _)| *cuttings > 0) {
        let needed = i128::from(measure * units) * UNIT;
        let search = CuttingSearch::new(length, width, defects, rule.cuttings);
        match search.find(cuttings as usize, needed) {
            CuttingsMade::With(found) => return CuttingsMade::With(found),
            CuttingsMade::Unknown => made = CuttingsMade::Unknown,
            CuttingsMade::No => {}
        }
    }
    made
}

fn area(one: &ClearCutting) -> i128 {
    i128::from((one.x1 - one.x0).base()) * i128::from((one.y1 - one.y0).base())
}

fn meet(one: &Rectangle, other: &Rectangle) -> bool {
    one.x0 < other.x1 && other.x0 < one.x1 && one.y0 < other.y1 && other.y0 < one.y1
}

/// Steps after which the search for a set of cuttings gives up.
const STEPS: usize = 20_000;

/// The search for cuttings on one face. A cutting that can grow without meeting a defect or another cutting
/// may as well grow. It stops at an edge of the board or of a defect, or at the least size away from such an
/// edge, so only cuttings with sides at those places are tried.
struct CuttingSearch<'a> {
    board: Rectangle,
    defects: Vec<Rectangle>,
    sizes: &'a [(Length, Length)],
}

impl<'a> CuttingSearch<'a> {
    fn new(
        length: Length,
        width: Length,
        defects: &[Defect],
        sizes: &'a [(Length, Length)],
    ) -> CuttingSearch<'a> {
        let board = Rectangle { x0: Length::ZERO, x1: length, y0: Length::ZERO, y1: width };
        CuttingSearch { board, defects: defects.iter().map(Rectangle::from).collect(), sizes }
    }

    fn allowed(&self, cutting: &ClearCutting) -> bool {
        let (long, wide) = (cutting.x1 - cutting.x0, cutting.y1 - cutting.y0);
        self.sizes.iter().any(|(width, length)| wide >= *width && long >= *length)
    }

    /// What no block reaches into between two places along the board, from the lower edge up. `gaps` is a list to fill.
    fn gaps<'b>(
        &self,
        blocks: impl Iterator<Item = &'b Rectangle>,
        (x0, x1): (Length, Length),
        gaps: &mut Vec<(Length, Length)>,
    ) {
        gaps.clear();
        let between = blocks.filter(|block| block.x0 < x1 && x0 < block.x1);
        gaps.extend(between.map(|block| (block.y0, block.y1)));
        gaps.sort_unstable();
        gaps.push((self.board.y1, self.board.y1));
        // Each block gives at most the gap below it, which takes its place.
        let mut from = self.board.y0;
        gaps.retain_mut(|block| {
            let (y0, y1) = *block;
            *block = (from, y0.min(self.board.y1));
            from = from.max(y1);
            block.0 < block.1
        });
    }

    /// Clear rectangles that cannot grow, around the defects and what is cut already.
    fn maximal(&self, taken: &[ClearCutting]) -> Vec<ClearCutting> {
        let blocks: Vec<&Rectangle> = self.defects.iter().chain(taken).collect();
        let mut found = Vec::new();
        let mut gaps = Vec::new();
        // Every pair of a left and a right side, with the gaps between them.
        let mut lefts: Vec<Length> = blocks.iter().map(|block| block.x1).chain([self.board.x0]).collect();
        let mut rights: Vec<Length> = blocks.iter().map(|block| block.x0).chain([self.board.x1]).collect();
        lefts.sort_unstable();
        lefts.dedup();
        rights.sort_unstable();
        rights.dedup();
        for x0 in &lefts {
            for x1 in rights.iter().filter(|x1| *x1 > x0) {
                self.gaps(blocks.iter().copied(), (*x0, *x1), &mut gaps);
                let clear = gaps.iter().map(|(y0, y1)| ClearCutting { x0: *x0, x1: *x1, y0: *y0, y1: *y1 });
                found.extend(clear.filter(|cutting| self.allowed(cutting)));
            }
        }
        found.sort_by_key(|cutting| (std::cmp::Reverse(area(cutting)), *cutting));
        found
    }

    /// The largest cutting again and again: seldom far from the best.
    fn largest_first(&self, most: usize) -> Vec<ClearCutting> {
        let mut taken = Vec::new();
        while taken.len() < most
            && let Some(next) = self.maximal(&taken).first()
        {
            taken.push(*next);
        }
        taken
    }

    fn find(&self, most: usize, needed: i128) -> CuttingsMade {
        let sum = |cuttings: &[ClearCutting]| cuttings.iter().map(area).sum::<i128>();
        // What is clear at all, defects that overlap counted twice: then the search decides.
        let whole = area(&self.board);
        let apart = self
            .defects
            .iter()
            .enumerate()
            .all(|(place, one)| self.defects[..place].iter().all(|other| !meet(one, other)));
        if apart && whole - sum(&self.defects) < needed {
            return CuttingsMade::No;
        }
        let first = self.largest_first(most);
        if sum(&first) >= needed {
            return CuttingsMade::With(first);
        }
        let maximal = self.maximal(&[]);
        let single = maximal.first().map_or(0, area);
        if single * (most as i128) < needed || covered(&maximal) < needed {
            return CuttingsMade::No;
        }
        // A cutting that with the largest ones beside it is too little is in no set that is enough.
        let candidates = self.candidates(needed - single * (most as i128 - 1));
        let mut walk =
            Walk { search: self, candidates: &candidates, needed, steps: STEPS, taken: Vec::new() };
        match walk.below(0, most, 0) {
            Some(true) => CuttingsMade::With(walk.taken),
            Some(false) => CuttingsMade::No,
            None => CuttingsMade::Unknown,
        }
    }

    /// Every clear rectangle of at least so much area with sides at an edge, or a least size away from one.
    fn candidates(&self, least_area: i128) -> Vec<ClearCutting> {
        let edges =
            |low: Length, high: Length, at: &dyn Fn(&Rectangle) -> [Length; 2], sizes: Vec<Length>| {
                let mut edges: Vec<Length> = self.defects.iter().flat_map(at).chain([low, high]).collect();
                let offset: Vec<Length> = edges
                    .iter()
                    .flat_map(|edge| sizes.iter().flat_map(move |size| [*edge + *size, *edge - *size]))
                    .collect();
                edges.extend(offset);
                edges.retain(|edge| (low..=high).contains(edge));
                edges.sort_unstable();
                edges.dedup();
                edges
            };
        let xs = edges(
            self.board.x0,
            self.board.x1,
            &|defect| [defect.x0, defect.x1],
            self.sizes.iter().map(|size| size.1).collect(),
        );
        let ys = edges(
            self.board.y0,
            self.board.y1,
            &|defect| [defect.y0, defect.y1],
            self.sizes.iter().map(|size| size.0).collect(),
        );
        let mut found: Vec<(i128, ClearCutting)> = Vec::new();
        let mut gaps = Vec::new();
        for (place, x0) in xs.iter().enumerate() {
            for x1 in &xs[place + 1..] {
                let long_enough = self.sizes.iter().filter(|(_, length)| *x1 - *x0 >= *length);
                let Some(least) = long_enough.map(|(width, _)| *width).min() else { continue };
                self.gaps(self.defects.iter(), (*x0, *x1), &mut gaps);
                for (from, to) in &gaps {
                    let start = ys.partition_point(|y| y < from);
                    let lower = ys[start..].iter().take_while(|y0| **y0 + least <= *to);
                    for (place, y0) in lower.enumerate() {
                        let upper = ys[start + place + 1..].iter().take_while(|y1| *y1 <= to);
                        for y1 in upper.filter(|y1| **y1 - *y0 >= least) {
                            let cutting = ClearCutting { x0: *x0, x1: *x1, y0: *y0, y1: *y1 };
                            let size = area(&cutting);
                            if size >= least_area {
                                found.push((size, cutting));
                            }
                        }
                    }
                }
            }
        }
        found.sort_unstable_by_key(|(size, cutting)| (std::cmp::Reverse(*size), *cutting));
        found.into_iter().map(|(_, cutting)| cutting).collect()
    }
}

/// The area that some rectangles cover together: no cuttings that lie in them have more.
fn covered(rectangles: &[Rectangle]) -> i128 {
    let mut sides: Vec<Length> = rectangles.iter().flat_map(|one| [one.x0, one.x1]).collect();
    sides.sort_unstable();
    sides.dedup();
    let mut sum = 0;
    let mut across: Vec<(Length, Length)> = Vec::new();
    for ends in sides.windows(2) {
        across.clear();
        let reach = |one: &&Rectangle| one.x0 <= ends[0] && ends[1] <= one.x1;
        across.extend(rectangles.iter().filter(reach).map(|one| (one.y0, one.y1)));
        across.sort_unstable();
        let (mut from, mut wide) = (Length::ZERO, 0);
        for (y0, y1) in &across {
            let low = from.max(*y0);
            if *y1 > low {
                wide += (*y1 - low).base();
            }
            from = from.max(*y1);
        }
        sum += i128::from((ends[1] - ends[0]).base()) * i128::from(wide);
    }
    sum
}

/// Branch and bound over sets of cuttings that do not meet, largest first.
struct Walk<'c> {
    search: &'c CuttingSearch<'c>,
    candidates: &'c [ClearCutting],
    needed: i128,
    steps: usize,
    taken: Vec<ClearCutting>,
}

impl Walk<'_> {
    /// True if found, false if there is none, `None` if the steps ran out.
    fn below(&mut self, from: usize, most: usize, sum: i128) -> Option<bool> {
        if sum >= self.needed {
            return Some(true);
        }
        if most == 0 {
            return Some(false);
        }
        if !self.taken.is_empty() && most > 1 {
            // What is clear around the cuttings taken, by its largest rectangle and by all of them. Of the last cutting the
            // candidates tell it sooner.
            let clear = self.search.maximal(&self.taken);
            let single = clear.first().map_or(0, area);
            let lacks = self.needed - sum;
            if single * (most as i128) < lacks || covered(&clear) < lacks {
                return Some(false);
            }
        }
        for place in from..self.candidates.len() {
            let candidate = self.candidates[place];
            let size = area(&candidate);
            // Those that follow are no larger.
            if sum + size * (most as i128) < self.needed {
                break;
            }
            self.steps = self.steps.checked_sub(1)?;
            if self.taken.iter().any(|other| meet(other, &candidate)) {
                continue;
            }
            self.taken.push(candidate);
            if self.below(place + 1, most - 1, sum + size)? {
                return Some(true);
            }
            self.taken.pop();
        }
        Some(false)
    }
}

#[cfg(test)]
mod tests;
