//! The grading rule on worked boards, on its limits, and against every set of cuttings.

use super::*;
use crate::trade::DefectKind;

fn inches(count: i64) -> Length {
    Length::inches(count)
}

#[test]
fn surface_measure_is_that_of_the_published_board() {
    // 6 7/16 in by 10 ft 9 in: surface measure 5 (the worked board of the published guide).
    assert_eq!(surface_measure(Length::inch_128ths(129 * 128), Length::inch_128ths(6 * 128 + 56)), 5);
    // An exact half goes up: 6 in by 9 ft is 4 1/2.
    assert_eq!(surface_measure(inches(108), inches(6)), 5);
}

#[test]
fn a_clear_board_makes_the_best_grade_that_its_size_allows() {
    let made = |width, feet: i64| grade_of(inches(12 * feet), width, &[]).grade;
    assert_eq!(made(inches(6), 8), Some(Grade::Fas));
    // Kiln-dried boards may be half an inch narrower.
    assert_eq!(made(Length::inch_128ths(704), 8), Some(Grade::Fas));
    assert_eq!(made(Length::inch_128ths(703), 8), Some(Grade::C1));
    assert_eq!(made(inches(6), 7), Some(Grade::C1));
    assert_eq!(made(inches(3), 4), Some(Grade::C3a), "surface measure 1 allows 1C and 2A no cutting");
    assert_eq!(made(inches(2), 8), None);
    assert_eq!(made(inches(6), 3), None);
}

#[test]
fn a_board_sold_above_what_it_makes_is_told() {
    let cut_off =
        [Defect { x0: inches(0), x1: inches(40), y0: inches(0), y1: inches(8), kind: DefectKind::Unsound }];
    let told = |sold| below_what_is_sold(sold, inches(144), inches(8), &cut_off);
    // 104 in by 8 in are 69 units of 96: enough for 1C (64), not for FAS (80).
    let graded = told(Grade::Fas).unwrap();
    assert_eq!((graded.grade, graded.units(), graded.cuttings.len()), (Some(Grade::C1), 69, 1));
    assert_eq!(told(Grade::Sel), None);
    assert_eq!(told(Grade::C2a), None);
}

#[test]
fn every_limit_of_the_table_is_kept() {
    // 8 in x 12 ft: surface measure 8, so FAS needs 80 of 96 units in two cuttings.
    let cut_off = |x0: i64, x1: i64| Defect {
        x0: inches(x0),
        x1: inches(x1),
        y0: inches(0),
        y1: inches(8),
        kind: DefectKind::Sound,
    };
    let grade = |defects: &[Defect]| grade_of(inches(144), inches(8), defects);
    // 24 in lost at one end leaves 120 x 8 = 80 units.
    assert_eq!(grade(&[cut_off(0, 24)]).grade, Some(Grade::Fas));
    assert_eq!(grade(&[cut_off(0, 24)]).units(), 80);
    assert_eq!(grade(&[cut_off(0, 25)]).grade, Some(Grade::C1));
    // Cuttings of 59 in are too short for FAS, however much they are: 4 in x 5 ft is the least.
    let short = grade(&[cut_off(59, 61), cut_off(120, 144)]);
    assert_eq!(short.grade, Some(Grade::C1));
    // 1C needs 64 units in (8 + 1) / 3 = 3 cuttings.
    assert_eq!(grade(&[cut_off(0, 48)]).grade, Some(Grade::C1));
    assert_eq!(grade(&[cut_off(0, 49)]).grade, Some(Grade::C2a));
    // 2A needs 48 units in 4 cuttings, 3A 32.
    assert_eq!(grade(&[cut_off(0, 72)]).grade, Some(Grade::C2a));
    assert_eq!(grade(&[cut_off(0, 73)]).grade, Some(Grade::C3a));
    assert_eq!(grade(&[cut_off(0, 96)]).grade, Some(Grade::C3a));
    assert_eq!(grade(&[cut_off(0, 97)]).grade, None);
    // Four cuttings of 30 in, each clear, are too many for 1C with 80 units, which allows 3, or 4 with 72.
    let stripes: Vec<Defect> = (0..4).map(|n| cut_off(30 + n * 36, 36 + n * 36)).collect();
    assert_eq!(grade(&stripes).grade, Some(Grade::C1), "the extra cutting: 80 units are 9 a foot");
    assert_eq!(grade(&stripes).cuttings.len(), 4);
}
