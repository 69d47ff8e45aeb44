//! Boards that nobody has seen yet, drawn as their price line describes them.
//!
//! A line says a grade and a size, or a range of sizes. A dozen boards stand for it: widths and lengths spread
//! evenly over the range (or by the weights of `mix`), and defects such that the board makes its grade and not
//! the next better one. Every line's draws have a seed made of what it says, so lines alike share them, and two
//! plans that differ in their decisions see the same wood.
//!
//! Mean shares of defects are those measured on red oak (Wiedenbeck, Gatchell and Walker, Forest Products
//! Journal 45(3), 1995, 45-50). How many defects a board has, and how large each is, has no source: small knots
//! and wane at an edge, as a person would measure them (from memory).

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use fastrand::Rng;
use rayon::prelude::*;

use super::model::Job;
use super::stock::{DrawnBoard, PriceLine, RackBoard};
use crate::measure::{Area, Length, Unit};
use crate::trade::grading::{CuttingsMade, makes, on_the_poorer_face};
use crate::trade::{Defect, DefectKind, Grade, same_species};

/// Boards that stand for a line.
pub const DRAWS: usize = 12;

/// Draws of one board's defects after which the last one that makes the grade is taken, or else none.
const TRIES: usize = 60;

/// What draws depend on.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Described {
    grade: Grade,
    low: (Length, Length),
    high: (Length, Length),
    mix: Vec<u32>,
}

impl Described {
    fn of(line: &PriceLine) -> Described {
        let low = (line.length, line.width);
        Described { grade: line.grade, low, high: line.upper.unwrap_or(low), mix: line.mix.clone() }
    }

    /// The same for the same description, whatever the machine or the order of the lines.
    fn seed(&self) -> u64 {
        let sizes = [self.low.0, self.low.1, self.high.0, self.high.1].map(Length::base);
        let words =
            sizes.into_iter().chain([self.grade as i64]).chain(self.mix.iter().map(|one| i64::from(*one)));
        // FNV-1a over the words (Fowler, Noll and Vo).
        words.fold(0xcbf2_9ce4_8422_2325, |hash, word| (hash ^ word as u64).wrapping_mul(0x0100_0000_01b3))
    }
}

impl PriceLine {
    /// The seed of its draws: the same for lines that describe the same boards.
    pub fn seed(&self) -> u64 {
        Described::of(self).seed()
    }
}

/// How boards of a line are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Drawing {
    /// The dozen that stands for the line.
    Dozen,
    /// So many as they may come, with a seed beside the line's own.
    AsTheyCome(u64, usize),
}

impl Drawing {
    fn of(self, line: &PriceLine, unit: Unit) -> Vec<DrawnBoard> {
        match self {
            Drawing::Dozen => draws(line, unit, DRAWS, &mut Rng::with_seed(line.seed())),
            Drawing::AsTheyCome(seed, many) => {
                let mut random = Rng::with_seed(seed ^ line.seed());
                (0..many).map(|_| one_board(line, unit, &mut random)).collect()
            }
        }
    }
}

/// What was drawn by description, for jobs that are read again and again, and for dealers and scenarios that buy of the
/// same lines.
static DRAWN: Mutex<BTreeMap<(Unit, Drawing, Described), Vec<DrawnBoard>>> = Mutex::new(BTreeMap::new());

/// Boards that are remembered: some megabytes.
const MOST_BOARDS: usize = 50_000;

/// The draws of some lines, by what they say.
fn remembered<'l>(
    lines: impl Iterator<Item = &'l PriceLine>,
    unit: Unit,
    drawing: Drawing,
) -> BTreeMap<Described, Vec<DrawnBoard>> {
    let described: BTreeMap<Described, &PriceLine> = lines.map(|line| (Described::of(line), line)).collect();
    let mut known: BTreeMap<Described, Vec<DrawnBoard>> = BTreeMap::new();
    let mut unknown: Vec<(Described, &PriceLine)> = Vec::new();
    {
        let drawn = DRAWN.lock().unwrap_or_else(PoisonError::into_inner);
        for (described, line) in described {
            let key = (unit, drawing, described);
            match drawn.get(&key) {
                Some(boards) => drop(known.insert(key.2, boards.clone())),
                None => unknown.push((key.2, line)),
            }
        }
    }
    let fresh: Vec<(Described, Vec<DrawnBoard>)> =
        unknown.into_par_iter().map(|(described, line)| (described, drawing.of(line, unit))).collect();
    let mut drawn = DRAWN.lock().unwrap_or_else(PoisonError::into_inner);
    let boards = drawn.values().chain(fresh.iter().map(|(_, boards)| boards)).map(Vec::len);
    if boards.sum::<usize>() > MOST_BOARDS {
        drawn.clear();
    }
    for (described, boards) in fresh {
        drawn.insert((unit, drawing, described.clone()), boards.clone());
        known.insert(described, boards);
    }
    known
}

/// Lets a dozen drawn boards stand for every line: of those that the shop has seen, evenly by their size, and where
/// it has seen fewer, the rest by the rules of the grade.
pub fn draw_boards(job: &mut Job, seen: &[RackBoard]) {
    // Sheets are as they are sold.
    let lumber = job.lines.iter().filter(|line| !line.quarter.is_sheet());
    let known = remembered(lumber, job.shop.unit, Drawing::Dozen);
    for line in job.lines.iter_mut().filter(|line| !line.quarter.is_sheet()) {
        line.seen = such_as(line, seen).into();
        line.drawn.clone_from(&known[&Described::of(line)]);
        let many = line.seen.len().min(DRAWS);
        for (place, board) in line.drawn.iter_mut().zip(spread(&line.seen, many)) {
            place.clone_from(board);
        }
    }
}

/// A seen board stands for a line of one size where it is so much larger at most.
const LARGER: (Length, Length) = (Length::inches(12), Length::inches(1));

/// The seen boards that a line might bring, no larger than it sells them.
fn such_as(line: &PriceLine, seen: &[RackBoard]) -> Vec<DrawnBoard> {
    let (length, width) = line.upper.unwrap_or((line.length + LARGER.0, line.width + LARGER.1));
    let such = seen.iter().filter(|board| {
        same_species(&board.species, &line.species)
            && (board.quarter, board.grade) == (line.quarter, line.grade)
            && (line.length..=length).contains(&board.length)
            && (line.width..=width).contains(&board.width)
    });
    let as_sold = |board: &RackBoard| {
        let (length, width) = match line.upper {
            Some(_) => (board.length, board.width),
            None => (line.length, line.width),
        };
        let inside = board.defects.iter().filter(|defect| defect.x0 < length && defect.y0 < width);
        let cut = |defect: &Defect| Defect { x1: defect.x1.min(length), y1: defect.y1.min(width), ..*defect };
        let mut defects: Vec<Defect> = inside.map(cut).collect();
        defects.sort_unstable();
        DrawnBoard { length, width, defects }
    };
    let mut boards: Vec<DrawnBoard> = such.map(as_sold).collect();
    boards.sort_by_key(|board| (Area::of(board.length, board.width).base(), board.clone()));
    boards
}

/// So many of some boards that are sorted by size, evenly over their sizes; every first few are spread as well.
fn spread(boards: &[DrawnBoard], many: usize) -> impl Iterator<Item = &DrawnBoard> {
    // Steps of five go around twelve places; around any other number they need not, so one goes by one there.
    let step = if many == DRAWS { 5 } else { 1 };
    (0..many).map(move |number| {
        let place = number * step % many;
        &boards[(2 * place + 1) * boards.len() / (2 * many)]
    })
}

/// So many boards of a line, spread evenly over its range; every first few of them are spread as well.
pub fn draws(line: &PriceLine, unit: Unit, many: usize, random: &mut Rng) -> Vec<DrawnBoard> {
    // Multiples of these shares are spread evenly in the unit square, and so are the first few (Roberts 2018, the
    // generalised golden ratio).
    let shares = [0.754_877_666_246_693, 0.569_840_290_998_053];
    let start = [random.f64(), random.f64()];
    let boards = (0..many).map(|number| {
        let at = |axis: usize| (start[axis] + shares[axis] * number as f64).fract();
        let (length, width) = size(line, unit, at(0), weighted(&line.mix, at(1)));
        DrawnBoard { length, width, defects: defects(line.grade, length, width, unit, random) }
    });
    boards.collect()
}

/// So many boards of each line as they may come. Lines alike bring the same boards, whatever else is bought.
pub fn fresh_boards(lines: &[&PriceLine], unit: Unit, seed: u64, many: usize) -> Vec<Vec<DrawnBoard>> {
    let drawing = Drawing::AsTheyCome(seed, many);
    let by_grade = lines.iter().copied().filter(|line| line.seen.is_empty());
    let known = remembered(by_grade, unit, drawing);
    // Boards that the shop has seen are no part of a description.
    let boards = |line: &&PriceLine| match known.get(&Described::of(line)) {
        Some(boards) if line.seen.is_empty() => boards.clone(),
        _ => drawing.of(line, unit),
    };
    lines.iter().map(boards).collect()
}

/// One board of a line, whatever others came.
pub fn one_board(line: &PriceLine, unit: Unit, random: &mut Rng) -> DrawnBoard {
    // Of a dozen boards as many are of those seen as in the line's draws.
    if !line.seen.is_empty() && random.usize(..DRAWS) < line.seen.len() {
        return line.seen[random.usize(..line.seen.len())].clone();
    }
    let (length, width) = size(line, unit, random.f64(), weighted(&line.mix, random.f64()));
    DrawnBoard { length, width, defects: defects(line.grade, length, width, unit, random) }
}

/// The size at some shares of a line's ranges, measured as at a yard.
fn size(line: &PriceLine, unit: Unit, along: f64, across: f64) -> (Length, Length) {
    let Some((length, width)) = line.upper else { return (line.length, line.width) };
    let (fine, coarse) = steps(unit);
    let between = |low: Length, high: Length, share: f64| {
        Length::from_base(low.base() + ((high.base() - low.base()) as f64 * share) as i64)
    };
    let down = |size: Length, step: Length, low: Length| {
        Length::from_base(size.base() / step.base() * step.base()).max(low)
    };
    (
        down(between(line.length, length, along), coarse, line.length),
        down(between(line.width, width, across), fine, line.width),
    )
}

/// How finely widths and lengths are measured at a yard.
fn steps(unit: Unit) -> (Length, Length) {
    match unit {
        Unit::Inch => (Length::inch_128ths(32), Length::inches(1)),
        Unit::Millimetre => (Length::micrometres(5_000), Length::micrometres(20_000)),
    }
}

/// The share of the range where a share of the boards lies below, by the weights of equal parts of the range.
fn weighted(weights: &[u32], share: f64) -> f64 {
    let total: u32 = weights.iter().sum();
    let mut left = share * f64::from(total);
    for (part, weight) in weights.iter().enumerate() {
        let weight = f64::from(*weight);
        if left < weight {
            return (part as f64 + left / weight) / weights.len() as f64;
        }
        left -= weight;
    }
    share
}

/// Mean share of a board's face that is defects, of red oak by the paper named above; F1F is taken as SEL, and 3A
/// half as much again as 2A, for want of a figure.
pub fn defect_share(grade: Grade) -> f64 {
    match grade {
        Grade::Fas => 0.012,
        Grade::F1f | Grade::Sel => 0.023,
        Grade::C1 => 0.068,
        Grade::C2a => 0.098,
        Grade::C3a => 0.147,
        Grade::BothFaces | Grade::OneFace => 0.0,
    }
}

/// How many defects there are on a board of ten square feet, for want of a source.
fn usual_defects(grade: Grade) -> f64 {
    match grade {
        Grade::Fas => 1.5,
        Grade::F1f | Grade::Sel => 2.5,
        Grade::C1 => 5.0,
        Grade::C2a => 7.0,
        Grade::C3a => 9.0,
        Grade::BothFaces | Grade::OneFace => 0.0,
    }
}

/// The next better grade that the rules tell apart on one face.
fn next_better(grade: Grade) -> Option<Grade> {
    match grade {
        Grade::Fas | Grade::BothFaces | Grade::OneFace => None,
        Grade::F1f | Grade::Sel | Grade::C1 => Some(Grade::Fas),
        Grade::C2a => Some(Grade::C1),
        Grade::C3a => Some(Grade::C2a),
    }
}

/// Defects with which a board makes its grade and not the next better one: drawn, graded, and drawn again. A board
/// that is too small for its grade by the rules is drawn all the same, with its grade's share of defects.
fn defects(grade: Grade, length: Length, width: Length, unit: Unit, random: &mut Rng) -> Vec<Defect> {
    let judged = on_the_poorer_face(grade);
    let can_be = makes(judged, length, width, &[]) != CuttingsMade::No;
    let mut serves = None;
    for _ in 0..TRIES {
        let drawn = scattered(grade, length, width, unit, random);
        if !can_be {
            return drawn;
        }
        if !matches!(makes(judged, length, width, &drawn), CuttingsMade::With(_)) {
            continue;
        }
        let too_good = next_better(grade)
            .is_some_and(|better| matches!(makes(better, length, width, &drawn), CuttingsMade::With(_)));
        if !too_good {
            return drawn;
        }
        serves = Some(drawn);
    }
    serves.unwrap_or_default()
}

/// Defects of a grade's mean share in all, at random places.
fn scattered(grade: Grade, length: Length, width: Length, unit: Unit, random: &mut Rng) -> Vec<Defect> {
    let inch = Length::inches(1).base() as f64;
    let (long, wide) = (length.base() as f64 / inch, width.base() as f64 / inch);
    let area = long * wide;
    let mean = usual_defects(grade) * (area / 1440.0).sqrt();
    let many = poisson(mean, random).max(usize::from(grade != Grade::Fas));
    // Each is one share of what the board has in all; the shares are those of random times.
    let all = area * defect_share(grade) * (0.5 + random.f64());
    let weights: Vec<f64> = (0..many).map(|_| 0.3 - random.f64().max(1e-9).ln()).collect();
    let sum: f64 = weights.iter().sum();
    let (fine, coarse) = steps(unit);
    let snapped = |from: f64, to: f64, step: Length, most: Length| {
        let step = step.base();
        let low = ((from * inch) as i64).div_euclid(step) * step;
        let high = num_integer::div_ceil((to * inch) as i64, step) * step;
        let high = high.max(low + step).min(most.base());
        (Length::from_base(low.min(high - 1).max(0)), Length::from_base(high))
    };
    let boxes = weights.into_iter().map(|weight| {
        let size = all * weight / sum;
        // A fifth is wane along an edge; the others are twice as long as they are wide.
        let wane = random.f64() < WANE_SHARE;
        let ratio = if wane { 24.0 } else { 2.0 };
        let across = (size / ratio).sqrt().clamp(0.25, wide / 2.0);
        let along = (size / across).clamp(0.5, long / 2.0);
        let x = random.f64() * (long - along);
        let y = match (wane, random.bool()) {
            (true, true) => 0.0,
            (true, false) => wide - across,
            (false, _) => random.f64() * (wide - across),
        };
        let (x0, x1) = snapped(x, x + along, coarse, length);
        let (y0, y1) = snapped(y, y + across, fine, width);
        Defect { x0, x1, y0, y1, kind: kind_of([x0, x1, y0, y1], width) }
    });
    let mut defects: Vec<Defect> = boxes.collect();
    defects.sort_unstable();
    defects
}

/// Share of the area of defects that is sound wood (Wiedenbeck, Gatchell and Walker 1995: "approximately 89
/// percent of the total defect area in these boards consisted of unsound defects").
const SOUND_SHARE: f64 = 0.11;

/// Share of the defects that are drawn as wane along an edge.
const WANE_SHARE: f64 = 0.2;

/// Is a defect sound? Wane never is. It is drawn apart from where the defect lies, and shows on both faces: what the
/// better face hides has no source.
fn kind_of(ends: [Length; 4], width: Length) -> DefectKind {
    let [.., y0, y1] = ends;
    let seed =
        ends.iter().fold(0u64, |seed, end| seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ end.base() as u64);
    let at_an_edge = y0 == Length::ZERO || y1 == width;
    if !at_an_edge && Rng::with_seed(seed).f64() < SOUND_SHARE / (1.0 - WANE_SHARE) {
        DefectKind::Sound
    } else {
        DefectKind::Unsound
    }
}

/// A Poisson variate by Knuth's product of uniforms (The Art of Computer Programming 2, 3.4.1).
fn poisson(mean: f64, random: &mut Rng) -> usize {
    let least = (-mean).exp();
    let mut product = random.f64();
    let mut count = 0;
    while product > least {
        product *= random.f64();
        count += 1;
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Per;
    use crate::measure::Money;
    use crate::trade::Quarter;
    use crate::trade::grading::surface_measure;

    fn line(grade: Grade, widths: (i64, i64), feet: (i64, i64)) -> PriceLine {
        let sizes = [Length::inches(12 * feet.0), Length::inches(widths.0)];
        let mut line = PriceLine::new(
            0,
            "red oak",
            Quarter::quarters(4),
            grade,
            sizes,
            (Money::cents(400), Per::BoardFoot),
        );
        line.upper = Some((Length::inches(12 * feet.1), Length::inches(widths.1)));
        line
    }

    /// Surface measure, share of defects, share of boards that make the grade, share that make the next one, and the
    /// share of sound defects of the board.
    fn facts(grade: Grade, widths: (i64, i64), feet: (i64, i64)) -> [f64; 5] {
        let mut random = Rng::with_seed(7);
        let (line, many) = (line(grade, widths, feet), 600);
        let mut sums = [0.0; 5];
        for _ in 0..many {
            let board = one_board(&line, Unit::Inch, &mut random);
            let area = board.length.base() as f64 * board.width.base() as f64;
            let of = |defect: &Defect| {
                (defect.x1 - defect.x0).base() as f64 * (defect.y1 - defect.y0).base() as f64 / area
            };
            let judged = on_the_poorer_face(grade);
            let is = |grade| {
                matches!(makes(grade, board.length, board.width, &board.defects), CuttingsMade::With(_))
            };
            sums[0] += surface_measure(board.length, board.width) as f64;
            sums[1] += board.defects.iter().map(of).sum::<f64>();
            sums[2] += f64::from(u8::from(is(judged)));
            sums[3] += f64::from(u8::from(next_better(grade).is_some_and(is)));
            let sound = board.defects.iter().filter(|defect| defect.kind == DefectKind::Sound);
            sums[4] += sound.map(of).sum::<f64>();
        }
        sums.map(|sum| sum / f64::from(many))
    }

    #[test]
    fn drawn_boards_make_their_grade_and_hold_about_the_published_share_of_defects() {
        let mut defects = (0.0, 0.0);
        for (grade, widths, feet) in [
            (Grade::Fas, (6, 12), (8, 16)),
            (Grade::Sel, (4, 11), (6, 16)),
            (Grade::C1, (4, 10), (6, 16)),
            (Grade::C2a, (4, 10), (6, 16)),
        ] {
            let [measure, share, made, better, sound] = facts(grade, widths, feet);
            assert!(made > 0.97, "{grade}: {made}, of surface measure {measure:.1}");
            assert!(better < 0.1, "{grade}: {better}");
            let published = defect_share(grade);
            assert!((share / published - 1.0).abs() < 0.5, "{grade}: {share} for {published}");
            defects = (defects.0 + share, defects.1 + sound);
        }
        let sound = defects.1 / defects.0;
        assert!((sound - SOUND_SHARE).abs() < 0.04, "{sound} of the defects are sound");
    }

    #[test]
    fn lines_alike_share_their_draws() {
        let line = line(Grade::C1, (5, 9), (7, 10));
        let draw = || draws(&line, Unit::Inch, DRAWS, &mut Rng::with_seed(Described::of(&line).seed()));
        assert_eq!(draw(), draw());
    }

    #[test]
    fn weights_of_equal_parts_bend_the_range() {
        assert!((weighted(&[], 0.3) - 0.3).abs() < 1e-12);
        assert!((weighted(&[1, 3], 0.25) - 0.5).abs() < 1e-12);
        assert!((weighted(&[0, 1], 0.5) - 0.75).abs() < 1e-12);
    }
}
