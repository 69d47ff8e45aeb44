//! Thick pieces that are resawn into thinner blanks.

mod support;

use ripwright::check::check;
use ripwright::document::Document;
use ripwright::intake::read_job;
use ripwright::job::{Job, JobError};
use support::{Folder, proven};

/// Boards that give one piece each: 4/4 for 7.00, 8/4 for 10.00.
const PRICES: (&str, &str) = (
    "prices/yard.csv",
    "species,quarter,grade,width,length,price,per\noak,4/4,1C,5 3/4,33,7,piece\noak,8/4,1C,5 3/4,33,10,piece\n",
);

fn read(pieces: u32, thickness: &str, shop: &str) -> Result<Job, JobError> {
    let orders = format!("order,product,quantity\nA,box,{pieces}\n");
    let parts = format!(
        "product,part,pieces,length,width,thickness,species,grade\nbox,side,1,30,5,{thickness},oak,1C\n"
    );
    read_job(
        Folder::new(&[("orders.csv", &orders), ("parts.csv", &parts), PRICES, ("shop.toml", shop)]).path(),
    )
}

fn planned(job: &Job) -> Document {
    proven(job).1
}

/// By hand: 8/4 dresses to 1 3/4 in (NHLA rules, from memory). Two blanks of 3/4 in, a kerf of 1/16 in and
/// 1/32 in off each sawn face are 1 5/8 in; three would be 2 1/2 in.
#[test]
fn boards_are_resawn_where_that_is_cheaper_and_the_shop_says_so() {
    let two = "[resaw]\nblanks = 2\n";
    for (pieces, shop, total, blanks) in [
        (4, "", "28.00", vec![]),
        (4, two, "20.00", vec![2, 2]),
        (4, "[resaw]\nblanks = 3\n", "20.00", vec![2, 2]),
        // A shop that says how it resaws has a bandsaw.
        (4, "[resaw]\ncleaning = \"1/32\"\n", "20.00", vec![2, 2]),
        // Two thick boards and a thin one, or three thick ones: 27.00 or 30.00.
        (5, two, "27.00", vec![2, 2]),
        // A single piece is cut from the cheaper board.
        (1, two, "7.00", vec![]),
        // A kerf that leaves too little for the second blank.
        (4, "[resaw]\nblanks = 2\nkerf = \"1/4\"\n", "28.00", vec![]),
    ] {
        let document = planned(&read(pieces, "3/4", shop).unwrap());
        assert_eq!(document.cost.total, total, "{pieces} {shop}");
        assert_eq!(document.cost.lower_bound, total, "{pieces} {shop}");
        assert_eq!(document.parts[0].cut, u64::from(pieces));
        let resawn = document.boards.iter().flat_map(|board| {
            let many = board.pieces.iter().map(|piece| piece.blanks).filter(|blanks| *blanks > 1);
            std::iter::repeat_n(many, board.copies as usize).flatten()
        });
        assert_eq!(resawn.collect::<Vec<u32>>(), blanks, "{pieces} {shop}");
    }
}

#[test]
fn blanks_that_a_board_does_not_give_are_caught() {
    let job = read(4, "3/4", "[resaw]\nblanks = 2\n").unwrap();
    let document = planned(&job);
    for blanks in [0, 3, u32::MAX] {
        let mut changed = document.clone();
        changed.boards[0].pieces[0].blanks = blanks;
        let texts: Vec<String> = check(&changed, &job).iter().map(ToString::to_string).collect();
        assert!(texts.iter().any(|text| text.contains("cannot be resawn")), "{texts:#?}");
    }
    // A shop that resaws nothing cannot follow the plan.
    let plain = read(4, "3/4", "").unwrap();
    assert!(check(&document, &plain).iter().any(|fault| fault.to_string().contains("cannot be resawn")));
}

#[test]
fn a_number_of_blanks_that_makes_no_sense_is_named() {
    for text in ["0", "9", "2.5", "\"two\""] {
        let Err(JobError::Faults { faults, .. }) = read(4, "3/4", &format!("[resaw]\nblanks = {text}\n"))
        else {
            panic!("{text} was read")
        };
        assert_eq!(faults[0].column.as_deref(), Some("resaw.blanks"));
    }
}

/// Common practice: 4/4 over about 6 ft is safely planned at 3/4. A shop may say otherwise, in steps.
#[test]
fn a_long_piece_of_a_class_dresses_to_less() {
    let parts = "product,part,pieces,length,width,thickness,species\nbed,rail,1,78,4,13/16,oak\n";
    let orders = "order,product,quantity\n1,bed,1\n";
    let prices = "species,quarter,grade,width,length,price\noak,4/4,FAS,6,8',5\noak,5/4,FAS,6,8',9\n";
    let class_of = |shop: &str| {
        let files =
            [("orders.csv", orders), ("parts.csv", parts), ("prices/yard.csv", prices), ("shop.toml", shop)];
        let job = read_job(Folder::new(&files).path()).map_err(|error| error.to_string())?;
        Ok::<_, String>(proven(&job).1.buy[0].quarter.clone())
    };
    assert_eq!(class_of("[wood]\ndefects = \"by-grade\"\n"), Ok("5/4".to_string()));
    assert_eq!(class_of("[wood]\ndefects = \"none\"\n"), Ok("4/4".to_string()));
    let steps = |text: &str| format!("[wood]\ndefects = \"none\"\n[milling.dressed]\n\"4/4\" = {text}\n");
    assert_eq!(class_of(&steps("[\"13/16\", \"25/32 over 60\", \"3/4 over 80\"]")), Ok("5/4".to_string()));
    assert_eq!(class_of(&steps("[\"13/16\", \"25/32 over 80\"]")), Ok("4/4".to_string()));
    let short = read_job(
        Folder::new(&[
            ("orders.csv", orders),
            ("parts.csv", parts),
            ("prices/yard.csv", "species,quarter,grade,width,length,price\noak,4/4,FAS,6,8',5\n"),
            ("shop.toml", "[wood]\ndefects = \"by-grade\"\n"),
        ])
        .path(),
    );
    let why = short.unwrap_err().to_string();
    assert!(why.contains("no class of oak dresses to 13/16 at a length of 78"), "{why}");
    for wrong in ["[]", "[\"13/16\", \"7/8 over 60\"]", "[\"13/16\", \"3/4\"]"] {
        assert!(class_of(&steps(wrong)).unwrap_err().contains("milling.dressed.4/4"), "{wrong}");
    }
}
