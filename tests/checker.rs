//! The checker against hand-made wrong plans: each kind of fault is caught, and named.

mod support;

use ripwright::check::check;
use ripwright::document::{Document, OffcutEntry};
use ripwright::intake::read_job;
use ripwright::job::Job;
use ripwright::plan::build_plan;
use ripwright::solve::{Options, solve};
use support::{Folder, SMALL};

fn sound() -> (Job, Document) {
    let folder = Folder::new(SMALL);
    let job = read_job(folder.path()).unwrap();
    let options = Options { gap_percent: 0.0, time: None, threads: 1, ..Options::default() };
    let solution = solve(&job, &options, &|_, _| ()).unwrap();
    let plan = build_plan(&solution).unwrap();
    let document = plan.document(&job);
    assert_eq!(check(&document, &job), []);
    (job, document)
}

/// Applies a change to a sound plan and wants a fault that says `word`.
fn refused(word: &str, change: impl Fn(&mut Document)) {
    let (job, mut document) = sound();
    let before = document.clone();
    change(&mut document);
    assert_ne!(before, document, "the change did nothing");
    let faults = check(&document, &job);
    let texts: Vec<String> = faults.iter().map(ToString::to_string).collect();
    assert!(texts.iter().any(|text| text.contains(word)), "no fault says \"{word}\": {texts:#?}");
}

/// The first board with at least two pieces.
fn board(document: &mut Document) -> &mut ripwright::document::BoardEntry {
    document.boards.iter_mut().find(|board| board.pieces.len() > 1).unwrap()
}

#[test]
fn deleting_any_one_piece_is_caught() {
    let (job, document) = sound();
    for board in 0..document.boards.len() {
        for piece in 0..document.boards[board].pieces.len() {
            let mut changed = document.clone();
            changed.boards[board].pieces.remove(piece);
            assert_ne!(check(&changed, &job), [], "board {board} piece {piece}");
        }
    }
}

#[test]
fn moving_any_piece_by_a_64th_is_caught() {
    let (job, document) = sound();
    let sixty_fourth = 1.0 / 64.0;
    for board in 0..document.boards.len() {
        for piece in 0..document.boards[board].pieces.len() {
            for (dx, dy) in
                [(sixty_fourth, 0.0), (-sixty_fourth, 0.0), (0.0, sixty_fourth), (0.0, -sixty_fourth)]
            {
                let mut changed = document.clone();
                changed.boards[board].pieces[piece].x += dx;
                changed.boards[board].pieces[piece].y += dy;
                assert_ne!(check(&changed, &job), [], "board {board} piece {piece} by {dx}, {dy}");
            }
        }
    }
}

#[test]
fn a_missing_kerf_is_named() {
    refused("no kerf between", |document| {
        let board = board(document);
        let first = board.pieces[0].clone();
        board.pieces[1].x = first.x;
        board.pieces[1].y = first.y;
    });
}

#[test]
fn a_piece_in_the_trim_is_named() {
    refused("outside its usable rectangle", |document| board(document).pieces[0].x = 0.5);
}

#[test]
fn a_piece_of_another_size_is_named() {
    refused("at another size", |document| board(document).pieces[0].length -= 1.0);
}

#[test]
fn a_part_that_nobody_wants_is_named() {
    refused("does not want", |document| board(document).pieces[0].part = "shelf".to_string());
}

#[test]
fn a_missing_cut_is_named() {
    refused("not what its cuts leave", |document| {
        board(document).cuts.pop();
    });
}

#[test]
fn a_thin_kerf_is_named() {
    refused("does not take one kerf", |document| {
        let cut = board(document).cuts.iter_mut().find(|cut| cut.kind == "rip").unwrap();
        cut.y1 -= 1.0 / 32.0;
    });
}

#[test]
fn a_cut_that_stops_in_the_wood_is_named() {
    refused("side to side", |document| {
        let cut = board(document).cuts.iter_mut().find(|cut| cut.kind == "rip").unwrap();
        cut.x1 -= 1.0;
    });
}

#[test]
fn cuts_out_of_order_are_named() {
    refused("is due", |document| board(document).cuts[0].step = 9);
}

#[test]
fn an_offcut_that_is_not_there_is_named() {
    refused("not what its cuts leave", |document| {
        board(document).offcuts.push(OffcutEntry { x: 1.0, y: 0.25, length: 20.0, width: 3.0, keep: true });
    });
}

#[test]
fn an_offcut_wrongly_kept_is_named() {
    refused("least sizes", |document| {
        let offcut = document.boards.iter_mut().flat_map(|board| &mut board.offcuts).next().unwrap();
        offcut.keep = !offcut.keep;
    });
}

#[test]
fn a_wrong_layout_is_named() {
    refused("stages", |document| {
        // The rows of a board with several strips and cells do not read the other way around.
        for board in &mut document.boards {
            let other = if board.layout == "rip-first" { "crosscut-first" } else { "rip-first" };
            board.layout = other.to_string();
        }
    });
}

#[test]
fn another_price_is_named() {
    refused("is not a line of any price sheet", |document| document.buy[0].price = "4.11".to_string());
}

#[test]
fn another_row_cost_is_named() {
    refused("costs", |document| document.buy[0].cost = "1.00".to_string());
}

#[test]
fn more_boards_than_are_cut_are_named() {
    refused("are cut", |document| document.buy[0].boards += 1);
}

#[test]
fn more_boards_than_are_to_be_had_are_named() {
    refused("more boards than are to be had", |document| {
        let row = document.buy[0].clone();
        document.buy.push(ripwright::document::BuyEntry {
            width: 6.0,
            length: 120.0,
            grade: "FAS".to_string(),
            price: "5.60".to_string(),
            boards: 5,
            ..row
        });
    });
}

#[test]
fn wrong_board_feet_are_named() {
    refused("board feet", |document| document.buy[0].board_feet += 0.01);
}

#[test]
fn a_board_of_another_size_is_named() {
    refused("size that its source sells", |document| board(document).width += 0.5);
}

#[test]
fn a_board_from_nowhere_is_named() {
    refused("not to be had", |document| board(document).source = "rack:R9".to_string());
}

#[test]
fn a_rack_board_used_twice_is_named() {
    refused("more than once", |document| {
        for board in &mut document.boards {
            board.source = "rack:R1".to_string();
        }
        let copy = document.boards[0].clone();
        document.boards.push(copy);
    });
}

#[test]
fn wrong_sums_are_named() {
    refused("cost.total", |document| document.cost.total = "0.01".to_string());
    refused("cost.lumber", |document| document.cost.lumber = "0.01".to_string());
    refused("above the total", |document| document.cost.lower_bound = "100000.00".to_string());
    refused("gap_percent", |document| document.cost.gap_percent = 50.0);
    refused("status", |document| document.status = "stopped".to_string());
}

#[test]
fn a_wrong_ledger_is_named() {
    refused("waste.parts_bf", |document| document.waste.parts_bf += 0.5);
    refused("do not add up to the stock", |document| document.waste.scrap_bf += 0.5);
}

#[test]
fn wrong_counts_of_parts_are_named() {
    refused("does not count", |document| document.parts[0].cut += 1);
    refused("each wanted part once", |document| {
        let part = document.parts[0].clone();
        document.parts.push(part);
    });
}

#[test]
fn wrong_setups_are_named() {
    refused("fence reading", |document| {
        document.setups.iter_mut().find(|setup| setup.kind == "stop").unwrap().fence_reading -= 1.0;
    });
    for station in [None, Some("sled"), Some("long-stop")] {
        refused("at a machine that cannot hold it", |document| {
            document.setups.iter_mut().find(|setup| setup.kind == "stop").unwrap().station =
                station.map(str::to_string);
        });
    }
    refused("is needed and not listed", |document| {
        document.setups.remove(0);
    });
    refused("does not stand for the cuts", |document| document.setups[0].cuts += 1);
}

#[test]
fn a_piece_over_a_defect_is_named() {
    let (_, document) = sound();
    let folder = Folder::new(SMALL);
    // The same plan, after somebody found a knot in the middle of the rack's board.
    folder.write(
        "rack.csv",
        "board,species,quarter,grade,width,length,value,defects\nR1,red oak,4/4,1C,8,72,0.25,4..8@1..4\n",
    );
    let job = read_job(folder.path()).unwrap();
    assert!(document.boards.iter().any(|board| board.source == "rack:R1"), "the plan uses the rack");
    let faults = check(&document, &job);
    assert!(faults.iter().any(|fault| fault.text.contains("over a defect")), "{faults:?}");
}

#[test]
fn a_plan_for_another_job_is_refused_without_a_panic() {
    let (_, document) = sound();
    let folder = Folder::new(SMALL);
    folder.write("shop.toml", "unit = \"mm\"\n");
    folder.write(
        "parts.csv",
        "product,part,pieces,length,width,thickness,species\nstep stool,tread,2,140,55,15,red oak\n",
    );
    folder
        .write("prices/yard.csv", "species,quarter,grade,width,length,price\nred oak,27mm,1C,200,2400,900\n");
    let job = read_job(folder.path()).unwrap();
    assert_ne!(check(&document, &job), []);
}

#[test]
fn an_order_of_the_settings_that_leaves_boards_out_is_caught() {
    refused("settings_order", |document| drop(document.settings_order.pop()));
    refused("settings_order", |document| document.settings_order[0].setting += 1.0);
    refused("settings_made", |document| document.settings_made += 1);
}

/// Found by editing plans: each of these passed.
#[test]
fn settings_that_no_saw_can_follow_are_caught() {
    refused("settings_order", |document| document.settings_order.clear());
    refused("before the wood for them is freed", |document| document.settings_order.reverse());
    refused("of no kind that a saw has", |document| document.setups[0].kind = "sander".to_string());
    refused("reach of the saw", |document| document.setups[0].beyond_reach = true);
    refused("too narrow for the fence", |document| document.setups[0].narrow = true);
    refused("before which cut", |document| {
        document.boards.iter_mut().for_each(|board| board.mill_joined.clear());
    });
}

#[test]
fn boards_that_cannot_be_sawn_along_are_caught() {
    refused("settings_by_layout", |document| document.settings_by_layout = 0);
    refused("cannot be sawn along", |document| document.boards[0].along_with = Some("nowhere".to_string()));
    refused("cannot be sawn along", |document| {
        document.boards[0].along_with = Some(document.boards[0].id.clone())
    });
}

/// By hand: of the 48 in between the ends of a board, one holds the long rail and a short one, and the other
/// two short ones. Both are ripped to 3 in and have the stop at 20 in; the first has it at 25 in as well.
#[test]
fn boards_are_sawn_along_with_those_that_need_more() {
    let folder = Folder::new(&[
        ("orders.csv", "order,product,quantity\nA,box,1\n"),
        (
            "parts.csv",
            "product,part,pieces,length,width,thickness,species\nbox,long,1,25,3,3/4,oak\nbox,short,3,20,3,3/4,oak\n",
        ),
        ("prices/yard.csv", "species,quarter,grade,width,length,price,per\noak,4/4,1C,4,50,9,piece\n"),
    ]);
    let job = read_job(folder.path()).unwrap();
    let (plan, document) = support::proven(&job);
    let along: Vec<Option<&str>> = document.boards.iter().map(|board| board.along_with.as_deref()).collect();
    let leader =
        document.boards.iter().find(|board| board.pieces.iter().any(|piece| piece.part == "long")).unwrap();
    assert_eq!(along.iter().flatten().collect::<Vec<_>>(), [&leader.id], "{along:?}");
    // A rip and two stops; the other board needs none of its own.
    assert_eq!((plan.settings_by_layout.0, plan.settings_by_board), (3, 5));
}

/// What `../shared/formats.md` asks of `plan.json`, and nothing more, is a whole plan.
#[test]
fn a_plan_of_nothing_but_the_contract_passes() {
    let contract: &[(&str, &[&str])] = &[
        ("", &["format", "unit", "currency", "status", "cost", "buy", "boards", "parts", "waste", "setups"]),
        (
            "cost",
            &["lumber", "delivery", "rack", "setup", "offcut_credit", "total", "lower_bound", "gap_percent"],
        ),
        (
            "buy",
            &[
                "supplier",
                "species",
                "quarter",
                "grade",
                "width",
                "length",
                "boards",
                "board_feet",
                "price",
                "per",
                "percent_off",
                "cost",
            ],
        ),
        (
            "boards",
            &["id", "source", "copies", "layout", "length", "width", "quarter", "pieces", "offcuts", "cuts"],
        ),
        ("pieces", &["product", "part", "x", "y", "length", "width"]),
        ("offcuts", &["x", "y", "length", "width", "keep"]),
        ("cuts", &["step", "kind", "x0", "y0", "x1", "y1"]),
        ("parts", &["product", "part", "required", "cut"]),
        ("waste", &["stock_bf", "parts_bf", "kerf_bf", "trim_bf", "kept_offcuts_bf", "scrap_bf"]),
        ("setups", &["kind", "setting", "fence_reading", "cuts", "boards"]),
    ];
    fn strip(value: &mut serde_json::Value, name: &str, contract: &[(&str, &[&str])]) {
        match value {
            serde_json::Value::Object(map) => {
                let (_, fields) = contract.iter().find(|(of, _)| *of == name).unwrap();
                map.retain(|field, _| fields.contains(&field.as_str()));
                map.iter_mut().for_each(|(field, value)| strip(value, field, contract));
            }
            serde_json::Value::Array(list) => list.iter_mut().for_each(|item| strip(item, name, contract)),
            _ => {}
        }
    }
    let (job, document) = sound();
    let mut value = serde_json::to_value(&document).unwrap();
    strip(&mut value, "", contract);
    let bare: Document = serde_json::from_value(value).unwrap();
    assert!(bare.is_bare() && !document.is_bare());
    assert_eq!(check(&bare, &job), []);
}
