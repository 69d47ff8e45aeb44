//! One board at a time at the yard: what it is worth, by figures that a person can reckon.

mod support;

use std::time::Duration;

use ripwright::intake::read_job;
use ripwright::job::{Job, RackBoard};
use ripwright::measure::{Length, Money, Unit};
use ripwright::planning::{Advice, Appraised, Appraiser};
use ripwright::solve::Options;
use ripwright::trade::{Grade, Quarter};
use support::Folder;

const SHOP: (&str, &str) = ("shop.toml", "[milling]\nend_trim = \"0\"\nedge_trim = \"0\"\n");
const ORDERS: (&str, &str) = ("orders.csv", "order,product,quantity\nA,slat,30\n");
const PARTS: (&str, &str) =
    ("parts.csv", "product,part,pieces,length,width,thickness,species,grade\nslat,slat,1,30,2,3/4,oak,1C\n");
/// Three slats along and two across, 4 board feet, 18.00 a board: a slat costs 3.00.
const PRICES: (&str, &str) =
    ("prices/yard.csv", "species,quarter,grade,width,length,price\noak,4/4,1C,6,96,4.50\n");

fn job(prices: (&str, &str)) -> Job {
    read_job(Folder::new(&[SHOP, ORDERS, PARTS, prices]).path()).unwrap()
}

fn options() -> Options {
    Options { time: Some(Duration::from_secs(10)), threads: 1, ..Options::default() }
}

/// A board of 64 in by 4 1/4: two slats along and two across.
fn board(asked: &str) -> RackBoard {
    let inches = |text: &str| Length::parse(text, Unit::Inch).unwrap();
    RackBoard {
        sheet: ripwright::job::Sheet::default(),
        place: String::new(),
        trimmed: false,
        board: "1".to_string(),
        species: "Oak".to_string(),
        quarter: Quarter::quarters(4),
        grade: Grade::C1,
        width: inches("4 1/4"),
        length: inches("64"),
        value: Money::parse(asked).unwrap(),
        defects: Vec::new(),
    }
}

#[test]
fn a_board_is_worth_what_its_pieces_cost_at_the_sheets() {
    let appraiser = Appraiser::new(&job(PRICES), &options()).unwrap();
    let of = |asked: &str| appraiser.appraise(&board(asked)).unwrap();
    let Appraised { worth, blanks, .. } = of("10.00");
    assert_eq!((worth.to_string(), blanks), ("12.00".to_string(), vec![(0.into(), 4)]));
    // Within 5 percent of what is asked other boards decide.
    let advice = ["10.00", "11.50", "12.60", "12.70"].map(|asked| of(asked).advice);
    assert_eq!(advice, [Advice::Take, Advice::Maybe, Advice::Maybe, Advice::Leave]);
}

#[test]
fn a_defect_and_a_wrong_board_are_worth_less() {
    let appraiser = Appraiser::new(&job(PRICES), &options()).unwrap();
    // A split as wide as the kerf, where the rip goes, costs nothing; the last board keeps 24 in of its length.
    let Job { rack, .. } = read_job(
        Folder::new(&[
            SHOP,
            ORDERS,
            PARTS,
            PRICES,
            (
                "rack.csv",
                "board,species,quarter,grade,width,length,value,defects\n\
                 1,oak,4/4,1C,4 1/4,64,10,0..30@2..2 1/8\n2,ash,4/4,1C,4 1/4,64,10,\n3,oak,4/4,3A,4 1/4,64,10,\n\
                 4,oak,4/4,1C,4 1/4,64,10,0..40@0..4 1/4\n",
            ),
        ])
        .path(),
    )
    .unwrap();
    let worth = |place: usize| appraiser.appraise(&rack.raw[place]).unwrap();
    assert_eq!(worth(0).worth.to_string(), "12.00");
    assert_eq!((worth(1).worth, worth(1).advice), (Money::ZERO, Advice::Leave));
    assert_eq!((worth(2).worth, worth(2).advice), (Money::ZERO, Advice::Leave));
    assert_eq!((worth(3).worth, worth(3).advice), (Money::ZERO, Advice::Leave));
}

#[test]
fn once_enough_is_taken_no_board_is_worth_anything() {
    let mut enough = job(PRICES);
    let taken = |name: usize| RackBoard { board: format!("t{name}"), value: Money::ZERO, ..board("0") };
    // 7 boards of 4 slats leave 2 of 30 wanted; an eighth leaves none.
    enough.rack = (0..7).map(taken).collect();
    let of = |job: &Job| Appraiser::new(job, &options()).unwrap().appraise(&board("5.00")).unwrap();
    assert_ne!(of(&enough).worth, Money::ZERO);
    enough.rack.push(taken(7));
    assert_eq!((of(&enough).worth, of(&enough).advice), (Money::ZERO, Advice::Leave));
}

#[test]
fn what_no_dealer_sells_is_worth_a_dear_board() {
    let ash = ("prices/yard.csv", "species,quarter,grade,width,length,price\nash,4/4,1C,6,96,4.50\n");
    let folder = Folder::new(&[SHOP, ORDERS, PARTS, ash]);
    let job = ripwright::intake::read_job_as_it_is(folder.path()).unwrap();
    let appraised = Appraiser::new(&job, &options()).unwrap().appraise(&board("30.00")).unwrap();
    assert_eq!(appraised.advice, Advice::Take);
}
