//! Pricing of patterns, the hot spot of column generation, and the grading of boards.

use criterion::{Criterion, criterion_group, criterion_main};
use ripwright::internals::{Cutting, Family, Layout, Piece, Rect, SizeIndex, TiVec, TwoStage, ti_vec};
use ripwright::job::{Per, PriceLine, one_board};
use ripwright::measure::{Length, Money, Unit};
use ripwright::trade::grading::grade_of;
use ripwright::trade::{Grade, Quarter};

/// What is priced.
struct Recipe {
    pieces: Vec<(SizeIndex, Piece)>,
    values: TiVec<SizeIndex, i64>,
    boards: Vec<Rect>,
}

/// Pieces, values and boards by a fixed recipe: 1/16 in sizes of a furniture shop.
fn recipe(count: u32) -> Recipe {
    let mut random = fastrand::Rng::with_seed(u64::from(count));
    let sixteenths = |ticks: i64| Length::inch_128ths(ticks * 8);
    let mut pieces = Vec::new();
    let mut values: TiVec<SizeIndex, i64> = TiVec::new();
    for _ in 0..count {
        let (length, width) = (random.i64(80..960), random.i64(20..130));
        pieces.push((values.next_key(), Piece::new(sixteenths(length), sixteenths(width))));
        values.push(length * width * random.i64(900..1100));
    }
    let boards = (0..24).map(|_| Rect {
        length: sixteenths(random.i64(6..13) * 192 - 32),
        width: sixteenths(random.i64(80..190)),
    });
    let boards = boards.collect();
    Recipe { pieces, values, boards }
}

fn pricing(criterion: &mut Criterion) {
    let kerfs = (Length::inch_128ths(16), Length::inch_128ths(16));
    let cutting = Cutting { kerfs, stages: 2, family: Family::Any, largest_strip: None };
    for count in [60, 200, 400] {
        let Recipe { pieces, values, boards } = recipe(count);
        let limits = ti_vec![12; count as usize];
        let least = vec![0; boards.len()];
        for layout in Layout::ALL {
            let table = TwoStage::new(layout, &pieces, &boards, cutting);
            criterion.bench_function(&format!("{} {count} sizes x 24 boards", layout.name()), |bencher| {
                bencher.iter(|| table.price(&values, &limits, &least));
            });
        }
    }
}

/// Boards of a grade as they come, graded as at a yard.
fn grading(criterion: &mut Criterion) {
    const BOARDS: usize = 1_000;
    for grade in [Grade::Fas, Grade::C1, Grade::C2a] {
        let low = [Length::inches(96), Length::inches(6)];
        let price = (Money::cents(400), Per::BoardFoot);
        let mut line = PriceLine::new(0, "red oak", Quarter::quarters(4), grade, low, price);
        line.upper = Some((Length::inches(144), Length::inches(10)));
        let mut random = fastrand::Rng::with_seed(7);
        let boards: Vec<_> = (0..BOARDS).map(|_| one_board(&line, Unit::Inch, &mut random)).collect();
        criterion.bench_function(
            &format!("grading of {BOARDS} boards sold as {}", grade.name()),
            |bencher| {
                bencher.iter(|| {
                    let units =
                        boards.iter().map(|board| grade_of(board.length, board.width, &board.defects));
                    units.filter(|graded| graded.grade.is_some()).count()
                });
            },
        );
    }
}

criterion_group!(benches, pricing, grading);
criterion_main!(benches);
