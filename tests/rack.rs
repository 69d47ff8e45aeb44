//! The rack's ledger: movements are whole, kept, and never promise a board twice.

mod support;

use assert_cmd::Command;
use ripwright::document::Document;
use ripwright::intake::{job_of_tally, read_job, read_rack_of};
use ripwright::measure::Length;
use ripwright::plan::build_plan;
use ripwright::planning::{Checked, Request, plan_stack};
use ripwright::rack::{Ledger, RackError, what_came};
use ripwright::solve::{Options, solve};
use std::path::Path;
use support::Folder;

const RACK: &str = "board,species,quarter,grade,width,length,value,defects,place\n\
                    B1,oak,4/4,1C,6,6',2.50,10..14@0..2 1/2,shelf 3\n\
                    B2,oak,4/4,1C,6 3/8,8',0,,\n\
                    \"B3, long\",red oak,5/4,FAS,184mm,2.4m,1.25,,\n";

fn folder() -> Folder {
    Folder::new(&[
        ("orders.csv", "order,product,quantity\nA,box,1\n"),
        (
            "parts.csv",
            "product,part,pieces,length,width,thickness,species,grade\nbox,side,2,20,5,3/4,oak,1C\n",
        ),
        ("prices/yard.csv", "species,quarter,grade,width,length,price\noak,4/4,1C,6,8',5\n"),
        ("rack.csv", RACK),
    ])
}

/// plan.json of the job as it stands.
fn plan(folder: &Path) -> String {
    let job = read_job(folder).unwrap();
    let options = Options { gap_percent: 0.0, time: None, threads: 1, ..Options::default() };
    let plan = build_plan(&solve(&job, &options, &|_, _| ()).unwrap()).unwrap();
    Checked::new(&job, job.clone(), plan).unwrap().text().to_string()
}

fn free(folder: &Path) -> Vec<String> {
    read_rack_of(folder).unwrap().1.into_iter().map(|board| board.board).collect()
}

#[test]
fn what_is_imported_is_exported_exactly() {
    let folder = folder();
    let before = read_rack_of(folder.path()).unwrap().1;
    let moved = Ledger::import(folder.path()).unwrap();
    assert_eq!((moved.added, moved.taken), (3, 0));
    assert_eq!(read_rack_of(folder.path()).unwrap().1, before);
    assert_eq!(before[0].place, "shelf 3");
    // Once more there is nothing to move.
    let moved = Ledger::import(folder.path()).unwrap();
    assert_eq!((moved.added, moved.taken), (0, 0));
}

#[test]
fn an_undone_import_brings_the_old_sizes_back() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let before = read_rack_of(folder.path()).unwrap().1;
    // One board is measured again, one is used up, one is new.
    folder.write(
        "rack.csv",
        "board,species,quarter,grade,width,length,value,defects\n\
         B1,oak,4/4,SEL,5 1/2,5',2.00,\n\
         B2,oak,4/4,1C,6 3/8,8',0,\n\
         B4,oak,4/4,1C,4,4',0,\n",
    );
    let moved = Ledger::import(folder.path()).unwrap();
    assert_eq!((moved.added, moved.taken), (1, 1));
    let mut ledger = Ledger::open(folder.path()).unwrap();
    assert_eq!(ledger.history().unwrap()[1].boards, 3);
    ledger.undo().unwrap();
    assert_eq!(read_rack_of(folder.path()).unwrap().1, before);
    assert_eq!(ledger.history().unwrap().len(), 3);
}

#[test]
fn a_commit_uses_boards_and_brings_offcuts_and_an_undo_takes_it_back() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let shown = std::fs::read_to_string(folder.path().join("rack.csv")).unwrap();
    let text = plan(folder.path());
    let document: Document = serde_json::from_str(&text).unwrap();
    // The free board B2 is cheapest: two sides of 20 in leave an offcut of more than a foot.
    assert_eq!(document.boards[0].source, "rack:B2");
    let kept: Vec<_> = document.boards[0].offcuts.iter().filter(|offcut| offcut.keep).collect();
    let mut ledger = Ledger::open(folder.path()).unwrap();
    let moved = ledger.commit(&text).unwrap();
    assert_eq!((moved.added, moved.taken), (kept.len() as u64, 1));
    let rack = read_rack_of(folder.path()).unwrap().1;
    assert!(!rack.iter().any(|board| board.board == "B2"));
    for offcut in kept {
        let size = |length: ripwright::measure::Length| length.to_f64(ripwright::measure::Unit::Inch);
        assert!(
            rack.iter().any(|board| (size(board.length), size(board.width)) == (offcut.length, offcut.width))
        );
    }
    assert!(matches!(ledger.commit(&text), Err(RackError::Committed(2))));
    ledger.undo().unwrap();
    assert_eq!(std::fs::read_to_string(folder.path().join("rack.csv")).unwrap(), shown);
    // What was undone may be done again; the offcuts have the same names.
    assert_eq!(ledger.commit(&text).unwrap().added, moved.added);
    let kinds: Vec<String> = ledger.history().unwrap().into_iter().map(|one| one.kind).collect();
    assert_eq!(kinds, ["import", "commit", "undo", "commit"]);
    ledger.undo().unwrap();
    ledger.undo().unwrap();
    assert!(matches!(ledger.undo(), Err(RackError::NothingToUndo)));
    assert_eq!(free(folder.path()), Vec::<String>::new());
}

#[test]
fn a_promised_board_is_not_planned_with_and_not_promised_twice() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let text = plan(folder.path());
    let other = text.replace("\"currency\": \"USD\"", "\"currency\": \"CAD\"");
    let mut ledger = Ledger::open(folder.path()).unwrap();
    ledger.reserve(&text).unwrap();
    assert_eq!(free(folder.path()), ["B1", "B3, long"]);
    let Err(RackError::NotFree(faults)) = ledger.reserve(&other) else { panic!("promised twice") };
    assert_eq!(faults, ["the board B2 is promised to another plan"]);
    assert!(matches!(ledger.commit(&other), Err(RackError::NotFree(_))));
    assert!(matches!(ledger.release(&other), Err(RackError::Plan(_))));
    ledger.release(&text).unwrap();
    assert_eq!(free(folder.path()), ["B1", "B2", "B3, long"]);
    ledger.reserve(&text).unwrap();
    ledger.commit(&text).unwrap();
    assert!(!free(folder.path()).contains(&"B2".to_string()));
}

#[test]
fn of_many_that_want_one_board_at_once_one_gets_it() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let text = plan(folder.path());
    let won: usize = std::thread::scope(|scope| {
        let tries: Vec<_> = (0..8)
            .map(|number| {
                let text = text.replace("\"USD\"", &format!("\"C{number}\""));
                let path = folder.path();
                scope.spawn(move || match Ledger::open(path).unwrap().reserve(&text) {
                    Ok(_) => 1,
                    Err(RackError::NotFree(_)) => 0,
                    Err(error) => panic!("{error}"),
                })
            })
            .collect();
        tries.into_iter().map(|one| one.join().unwrap()).sum()
    });
    assert_eq!(won, 1);
}

#[test]
fn an_offcut_in_use_keeps_its_movement_from_being_undone() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let first = plan(folder.path());
    let mut ledger = Ledger::open(folder.path()).unwrap();
    ledger.commit(&first).unwrap();
    let offcut = free(folder.path()).into_iter().find(|name| name.contains("-1-1-")).unwrap();
    let second = first.replace("rack:B2", &format!("rack:{offcut}"));
    ledger.reserve(&second).unwrap();
    // The reservation is undone first, then the commit.
    ledger.undo().unwrap();
    ledger.reserve(&second).unwrap();
    ledger.release(&second).unwrap();
    ledger.undo().unwrap();
    assert!(!free(folder.path()).contains(&offcut), "undoing the release promises the board again");
}

#[test]
fn what_is_wrong_is_said_and_changes_nothing() {
    let folder = folder();
    assert!(matches!(Ledger::open(folder.path()), Err(RackError::NoLedger(_))));
    Ledger::import(folder.path()).unwrap();
    let mut ledger = Ledger::open(folder.path()).unwrap();
    assert!(matches!(ledger.commit("{"), Err(RackError::Plan(_))));
    let text = plan(folder.path()).replace("rack:B2", "rack:B9");
    assert!(matches!(ledger.commit(&text), Err(RackError::NotFree(_))));
    assert_eq!(ledger.history().unwrap().len(), 1);
    std::fs::write(folder.path().join("rack.csv"), "board\n1\n").unwrap();
    assert!(matches!(Ledger::import(folder.path()), Err(RackError::Job(_))));
}

#[test]
fn a_plan_that_holds_its_boards_is_still_sound() {
    let folder = folder();
    let ripwright = |words: &[&str]| {
        let mut command = assert_cmd::Command::new(env!("CARGO_BIN_EXE_ripwright"));
        command.current_dir(folder.path()).args(words).output().unwrap().status.code()
    };
    assert_eq!(ripwright(&["rack", "import", "."]), Some(0));
    assert_eq!(ripwright(&["plan", ".", "--out", "one", "--reserve", "--gap", "0"]), Some(0));
    assert_eq!(free(folder.path()), ["B1", "B3, long"]);
    assert_eq!(ripwright(&["check", "one/plan.json", "--job", "."]), Some(0));
    // The next plan does without it, and a plan of somebody who read the rack before is refused.
    assert_eq!(ripwright(&["plan", ".", "--out", "two", "--gap", "0"]), Some(0));
    let two = std::fs::read_to_string(folder.join("two/plan.json")).unwrap();
    assert!(!two.contains("rack:B2"));
    let stale = std::fs::read_to_string(folder.join("one/plan.json")).unwrap().replace("USD", "CAD");
    folder.write("stale.json", &stale);
    assert_eq!(ripwright(&["rack", "reserve", "stale.json", "--job", "."]), Some(2));
    assert_eq!(ripwright(&["rack", "commit", "one/plan.json", "--job", "."]), Some(0));
    assert_eq!(ripwright(&["check", "one/plan.json", "--job", "."]), Some(0));
    assert_eq!(ripwright(&["rack", "undo", "."]), Some(0));
    assert_eq!(ripwright(&["rack", "release", "one/plan.json", "--job", "."]), Some(0));
    assert_eq!(free(folder.path()), ["B1", "B2", "B3, long"]);
}

/// The boards of a yard that were cut are tallied, and what later plans draw from is what came.
#[test]
fn boards_that_came_and_were_cut_are_tallied_and_drawn_from() {
    let tally = "board,species,quarter,grade,width,length,value,defects\n\
                 T1,oak,4/4,1C,6,96,20,30..34@0..2;60..62@1..3\nT2,oak,4/4,1C,6 1/8,97,20,\nT3,ash,4/4,1C,6,96,1,\n";
    let orders = "order,product,quantity\n1,box,3\n";
    let parts = "product,part,pieces,length,width,thickness,species\nbox,side,2,40,2,3/4,oak\n";
    let prices = "species,quarter,grade,width,length,price\noak,4/4,1C,5..8,7'..9',5\n";
    let shop = "[wood]\ndefects = \"boards-seen.csv\"\n";
    let seen = "\u{feff}length;width;grade;quarter;species;dealer;defects\n95;7;1C;4/4;oak;north;\n";
    let folder = Folder::new(&[
        ("orders.csv", orders),
        ("parts.csv", parts),
        ("prices/north.csv", prices),
        ("shop.toml", shop),
        ("boards-seen.csv", seen),
        ("boards.csv", tally),
        ("rack.csv", "board,species,quarter,grade,width,length\n"),
    ]);
    Ledger::import(folder.path()).unwrap();
    let job = read_job(folder.path()).unwrap();
    assert!(job.warnings.iter().any(|warning| warning.to_string().contains("1 of 1 price lines")));
    let board =
        |length: i64| job.lines.raw[0].drawn.iter().any(|board| board.length == Length::inches(length));
    assert_eq!((job.lines.raw[0].seen.len(), job.lines.raw[0].drawn.len()), (1, 12));
    assert!(board(95));

    let at_yard = job_of_tally(&job, &folder.join("boards.csv"), None).unwrap();
    let checked = plan_stack(&at_yard, &Request::new(Options::default()), &|_| ()).unwrap();
    let mut ledger = Ledger::open(folder.path()).unwrap();
    let (_, came) = ledger.commit_with(checked.text(), &at_yard.rack.raw).unwrap();
    let names: Vec<&str> = came.iter().map(|board| board.board.as_str()).collect();
    assert_eq!(names, ["T1", "T2"]);
    // By hand: T1 has 8 and 4 sq in of defects, and two cuttings, 4 in x 5 ft and 6 in x 2 ft 10 in: 37 units, of
    // the 36 that 1C asks for with its extra cutting.
    let report = &what_came(&came)[0];
    assert_eq!((report.boards, report.below_grade), (2, 0));
    assert!((report.defects_percent - 12.0 / (6.0 * 96.0 + 6.125 * 97.0) * 100.0).abs() < 1e-9);
    let text = std::fs::read_to_string(folder.join("boards-seen.csv")).unwrap();
    let rows: Vec<&str> = text.lines().skip(1).collect();
    assert_eq!(rows[0], "95;7;1C;4/4;oak;north;");
    assert_eq!(rows[1..], ["96;6;1C;4/4;oak;;\"30..34@0..2;60..62@1..3\"", "97;6 1/8;1C;4/4;oak;;"]);
    let again = read_job(folder.path()).unwrap();
    assert_eq!(again.lines.raw[0].seen.len(), 3);
    let with_defects = again.lines.raw[0].drawn.iter().filter(|board| board.length == Length::inches(96));
    assert!(with_defects.clone().count() > 0 && with_defects.clone().all(|board| board.defects.len() == 2));
    // They are cut and gone: the same plan cannot be committed twice, and the tally stays as it is.
    assert!(ledger.commit_with(checked.text(), &at_yard.rack.raw).is_err());
    assert_eq!(std::fs::read_to_string(folder.join("boards-seen.csv")).unwrap(), text);
}

/// Boards that a shop has seen a dozen of and more stand for the line alone, evenly by their size.
#[test]
fn a_dozen_boards_seen_stand_for_the_line() {
    let rows: String = (0..24).map(|place| format!("oak,4/4,1C,6,{},\n", 84 + place)).collect();
    let seen =
        format!("species,quarter,grade,width,length,defects\n{rows}oak,4/4,FAS,6,90,\noak,4/4,1C,12,90,\n");
    let folder = Folder::new(&[
        ("orders.csv", "order,product,quantity\n1,box,3\n"),
        ("parts.csv", "product,part,pieces,length,width,thickness,species\nbox,side,2,40,5,3/4,oak\n"),
        (
            "prices/north.csv",
            "species,quarter,grade,width,length,price\noak,4/4,1C,5..8,7'..9',5\noak,4/4,1C,6,7',5\n",
        ),
        ("shop.toml", "[wood]\ndefects = \"boards-seen.csv\"\n"),
        ("boards-seen.csv", &seen),
    ]);
    let job = read_job(folder.path()).unwrap();
    assert!(job.warnings.is_empty(), "{:?}", job.warnings);
    let mut lengths: Vec<i64> =
        job.lines.raw[0].drawn.iter().map(|board| board.length.base() / Length::inches(1).base()).collect();
    lengths.sort_unstable();
    // The middles of twelve pairs, the upper one of each.
    assert_eq!(lengths, (0..12).map(|pair| 85 + 2 * pair).collect::<Vec<_>>());
    // Boards up to a foot longer are cut to the one size that a line sells: 84 to 96.
    assert_eq!(job.lines.raw[1].seen.len(), 13);
    assert!(job.lines.raw[1].drawn.iter().all(|board| board.length == Length::inches(84)));
}

#[test]
fn the_same_plan_in_other_words_is_not_cut_twice() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let text = plan(folder.path());
    Ledger::open(folder.path()).unwrap().commit(&text).unwrap();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let other = serde_json::to_string(&value).unwrap();
    assert_ne!(other, text);
    let again = Ledger::open(folder.path()).unwrap().commit(&other);
    assert!(matches!(again, Err(RackError::Committed(2))), "{again:?}");
}

#[test]
fn an_offcut_that_no_board_holds_does_not_come_onto_the_rack() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let text = plan(folder.path());
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    let kept = |board: &serde_json::Value| {
        board["offcuts"].as_array().and_then(|all| all.iter().position(|offcut| offcut["keep"] == true))
    };
    let boards = value["boards"].as_array().unwrap();
    let (place, offcut) = (0..boards.len()).find_map(|place| Some((place, kept(&boards[place])?))).unwrap();
    let mut ledger = Ledger::open(folder.path()).unwrap();
    let mut refused = |change: &dyn Fn(&mut serde_json::Value)| {
        let mut wrong = value.clone();
        change(&mut wrong["boards"][place]);
        let result = ledger.commit(&wrong.to_string());
        assert!(matches!(result, Err(RackError::Plan(_) | RackError::NotFree(_))), "{result:?}");
    };
    refused(&|board| board["offcuts"][offcut]["length"] = 999.0.into());
    refused(&|board| board["offcuts"][offcut]["x"] = (-1.0).into());
    refused(&|board| board["offcuts"][offcut]["y"] = 50.0.into());
    refused(&|board| board["length"] = 999.0.into());
    refused(&|board| {
        let piece = board["pieces"][0].clone();
        (board["offcuts"][offcut]["x"], board["offcuts"][offcut]["y"]) =
            (piece["x"].clone(), piece["y"].clone());
    });
    ledger.commit(&value.to_string()).unwrap();
}

#[test]
fn a_file_that_a_killed_movement_left_behind_is_not_planned_with() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let before = std::fs::read_to_string(folder.join("rack.csv")).unwrap();
    // What a kill leaves between the transaction and the file: a movement that the file does not tell of.
    let database = rusqlite::Connection::open(folder.join("rack.sqlite")).unwrap();
    database.execute("UPDATE boards SET state = 'gone' WHERE board = 'B1'", []).unwrap();
    database
        .execute("INSERT INTO movements (at, kind) VALUES ('2027-01-01T00:00:00Z', 'commit')", [])
        .unwrap();
    let job = folder.path().to_str().unwrap().to_string();
    let ripwright = |words: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ripwright"));
        command.args(words).arg(&job).assert()
    };
    for command in ["plan", "compare"] {
        let refused = ripwright(&[command]).code(2);
        assert!(String::from_utf8_lossy(&refused.get_output().stderr).contains("rack export"), "{command}");
    }
    // A night, which reads the job in its own way, planned with it all the same.
    for command in ["nightly", "split"] {
        let refused = ripwright(&[command, "--out", folder.join("out").to_str().unwrap()]).code(2);
        assert!(String::from_utf8_lossy(&refused.get_output().stderr).contains("rack export"), "{command}");
    }
    assert_eq!(std::fs::read_to_string(folder.join("rack.csv")).unwrap(), before);
    ripwright(&["rack", "export"]).code(0);
    assert!(!free(folder.path()).contains(&"B1".to_string()));
    ripwright(&["plan"]).code(0);
}

#[test]
fn a_rack_is_not_emptied_by_mistake() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    std::fs::remove_file(folder.join("rack.csv")).unwrap();
    assert!(matches!(Ledger::import(folder.path()), Err(RackError::WouldEmpty(_))));
    assert_eq!(Ledger::open(folder.path()).unwrap().free().unwrap().len(), 3);
    Ledger::import_whatever(folder.path()).unwrap();
    assert!(Ledger::open(folder.path()).unwrap().free().unwrap().is_empty());
    // An empty file in the ledger's place knows of no board.
    folder.write("rack.csv", RACK);
    std::fs::write(folder.join("rack.sqlite"), "").unwrap();
    let ledger = Ledger::open(folder.path()).unwrap();
    assert!(matches!(ledger.export(), Err(RackError::WouldEmpty(_))));
    assert_eq!(free(folder.path()).len(), 3);
}

#[test]
fn ledgers_of_other_versions_are_brought_up_to_date_or_left_alone() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let file = folder.join("rack.sqlite");
    // As the first version wrote it.
    let database = rusqlite::Connection::open(&file).unwrap();
    let without = |column: &str| {
        format!("ALTER TABLE boards DROP COLUMN {column}; ALTER TABLE descriptions DROP COLUMN {column};")
    };
    let without_sheets = without("sheet") + &without("place") + &without("trimmed");
    database.execute_batch(&format!("{without_sheets} DROP TABLE told; PRAGMA user_version = 0;")).unwrap();
    let ledger = Ledger::open(folder.path()).unwrap();
    assert_eq!(ledger.free().unwrap().len(), 3);
    ledger.export().unwrap();
    Ledger::tells_the_last_movement(folder.path()).unwrap();
    // As the second one did, before there were sheets. A connection does not see at once what another one changed.
    let database = rusqlite::Connection::open(&file).unwrap();
    database.execute_batch(&format!("{without_sheets} PRAGMA user_version = 1;")).unwrap();
    assert_eq!(Ledger::open(folder.path()).unwrap().free().unwrap().len(), 3);
    // As the third one did, before it was written down where boards lie.
    let database = rusqlite::Connection::open(&file).unwrap();
    let without_places = without("place") + &without("trimmed");
    database.execute_batch(&format!("{without_places} PRAGMA user_version = 2;")).unwrap();
    assert_eq!(Ledger::open(folder.path()).unwrap().free().unwrap().len(), 3);
    database.execute_batch("PRAGMA user_version = 99;").unwrap();
    assert!(matches!(Ledger::open(folder.path()), Err(RackError::Newer(_))));
}

#[test]
fn a_copy_of_the_ledger_is_a_ledger_and_lies_over_nothing() {
    let folder = folder();
    Ledger::import(folder.path()).unwrap();
    let ledger = Ledger::open(folder.path()).unwrap();
    let other = Folder::new(&[]);
    let copy = other.join("rack.sqlite");
    assert!(ledger.back_up(&copy).unwrap() > 0);
    assert!(matches!(ledger.back_up(&copy), Err(RackError::IsThere(_))));
    assert_eq!(Ledger::open(other.path()).unwrap().free().unwrap(), ledger.free().unwrap());
}
