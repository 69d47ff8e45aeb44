//! The work after the saw: holes, sanding, finishing, and the scrap set aside for it.

mod support;

use ripwright::check::check;
use ripwright::document::Document;
use ripwright::intake::read_job;
use ripwright::job::{Job, JobError, Station};
use ripwright::plan::SetupKind;
use ripwright::planning::Checked;
use ripwright::report::{Detail, LabelEach, Labels, Report, Sheets, Summary};
use support::{Folder, SMALL, proven};

const ORDERS: (&str, &str) = ("orders.csv", "order,product,quantity\nA,box,3\n");
const PARTS: (&str, &str) = (
    "parts.csv",
    "product,part,pieces,length,width,thickness,species,grade\n\
     box,side,2,24,6,3/4,white oak,1C\n\
     box,end,2,12,6,3/4,black walnut,1C\n\
     crate,slat,2,12,6,3/4,black walnut,1C\n",
);
const PRICES: (&str, &str) = (
    "prices/yard.csv",
    "species,quarter,grade,width,length,price\nwhite oak,4/4,1C,9,8',5\nblack walnut,4/4,1C,9,8',8\n",
);
const HOLES: &str = "product,part,holes,kind,gauge,diameter,depth,countersink\n\
                     box,side,4,clearance,8,,,yes\n\
                     box,end,4,lead,8,,1,\n\
                     box,side,1,plain,,3/8,1/4,no\n\
                     crate,slat,2,,6,,,\n";
const FINISH: &str = "product,finish,surface,coats,coverage\nbox,oil,rough,3,100\n";

fn folder(holes: &str, finish: &str) -> Folder {
    Folder::new(&[ORDERS, PARTS, PRICES, ("holes.csv", holes), ("finish.csv", finish)])
}

/// The sheets with signs that a page must not hold as they are read.
fn sheets(checked: &Checked) -> String {
    let page = String::from_utf8(Sheets(checked, None).bytes().unwrap()).unwrap();
    page.replace("&quot;", "\"").replace("&#34;", "\"").replace("&#x2f;", "/")
}

/// A published comparison of charts: number 8 is 0.164 in, its root 0.112 in, which is a 7/64 bit in hardwood, and its
/// clearance bit is 11/64.
#[test]
fn holes_are_grouped_by_bit_and_follow_the_wood() {
    let job = read_job(folder(HOLES, FINISH).path()).unwrap();
    let (_, document) = proven(&job);
    let drilling: Vec<_> = document
        .work
        .drilling
        .iter()
        .map(|hole| (hole.part.as_str(), hole.bit, hole.pieces, hole.holes, hole.depth, hole.countersink))
        .collect();
    // A crate is not ordered, so its slats are not drilled.
    let expected = [
        ("end", Some(7.0 / 64.0), 6, 4, Some(1.0), false),
        ("side", Some(11.0 / 64.0), 6, 4, None, true),
        ("side", Some(3.0 / 8.0), 6, 1, Some(0.25), false),
    ];
    assert_eq!(drilling, expected);
}

/// Reckoned by hand: a side has 2 (24 x 6 + 24 x 3/4 + 6 x 3/4) = 333 sq in, an end 2 (72 + 9 + 4.5) = 171;
/// six of each are 21 sq ft, and three coats at 100 sq ft a quart take 0.63 quart. Without the hidden faces of 144 and
/// 72 sq in they are 12 sq ft, 0.36 quart, and the show faces alone 9 sq ft, 0.27 quart.
#[test]
fn finish_is_reckoned_from_the_faces_that_are_finished() {
    for (faces, area, quantity, bought) in [
        ("all", 21.0, 0.7, "0.7 qt: 1 x pint, 1 x half pint"),
        ("", 12.0, 0.4, "0.4 qt: 1 x pint"),
        ("top", 9.0, 0.3, "0.3 qt: 1 x pint"),
    ] {
        let finish =
            format!("product,finish,surface,coats,coverage,finish_faces\nbox,oil,rough,3,100,{faces}\n");
        let job = read_job(folder(HOLES, &finish).path()).unwrap();
        let (plan, document) = proven(&job);
        let finishing = &document.work.finishing[0];
        assert_eq!(finishing.grits, [100, 150, 220]);
        assert_eq!((finishing.area, finishing.quantity), (area, Some(quantity)), "{faces}");
        let page = Checked::new(&job, job.clone(), plan).unwrap();
        let page = String::from_utf8(Sheets(&page, None).bytes().unwrap()).unwrap();
        assert!(page.contains(bought), "{faces}");
    }
}

#[test]
fn scrap_is_set_aside_for_every_species_and_every_through_hole() {
    let job = read_job(folder(HOLES, FINISH).path()).unwrap();
    let (_, document) = proven(&job);
    let purposes: Vec<_> = document
        .work
        .reserved
        .iter()
        .map(|reserved| &reserved.purpose)
        .chain(&document.work.lacking)
        .map(|purpose| (purpose.purpose.as_str(), purpose.species.as_deref(), purpose.part.as_deref()))
        .collect();
    for wanted in [
        ("test-piece", Some("white oak"), None),
        ("test-piece", Some("black walnut"), None),
        ("backer", None, Some("side")),
    ] {
        assert!(purposes.contains(&wanted), "{wanted:?} of {purposes:?}");
    }
    assert_eq!(purposes.len(), 3);
    assert!(!document.work.reserved.is_empty());
}

#[test]
fn a_leftover_that_is_not_there_or_does_not_serve_is_caught() {
    let job = read_job(folder(HOLES, FINISH).path()).unwrap();
    let (_, document) = proven(&job);
    let refused = |word: &str, change: &dyn Fn(&mut Document)| {
        let mut changed = document.clone();
        change(&mut changed);
        let texts: Vec<String> = check(&changed, &job).iter().map(ToString::to_string).collect();
        assert!(texts.iter().any(|text| text.contains(word)), "no fault says \"{word}\": {texts:#?}");
    };
    refused("is no leftover", &|document| document.work.reserved[0].x += 1.0);
    refused("not in the plan", &|document| document.work.reserved[0].board = "999".to_string());
    refused("is not of beech", &|document| {
        let test = document.work.reserved.iter_mut().find(|one| one.purpose.species.is_some()).unwrap();
        test.purpose.species = Some("beech".to_string());
    });
    refused("more often", &|document| {
        let copies = document.boards.iter().map(|board| board.copies).max().unwrap();
        let again = document.work.reserved[0].clone();
        document.work.reserved.extend((0..copies).map(|_| again.clone()));
    });
    refused("no purpose", &|document| document.work.reserved[0].purpose.purpose = "kindling".to_string());
}

/// A wood that no table lists gets no bit until the shop says how dense it is; a metric screw is named by its
/// diameter: 4.5 mm has a root of 3.076 mm by the charts' line, and three quarters of that in soft wood.
#[test]
fn an_unlisted_wood_asks_for_its_specific_gravity() {
    let parts = "product,part,pieces,length,width,thickness,species\nbox,end,2,300,150,19,sapele\n";
    let prices = "species,quarter,grade,width,length,price\nsapele,27mm,1C,230,2400,8\n";
    let holes = "product,part,holes,kind,gauge,screw\nbox,end,4,lead,8,\nbox,end,2,lead,,4.5\n";
    let bits = |shop: &str| {
        let files = [ORDERS, ("parts.csv", parts), ("prices/yard.csv", prices)];
        let folder = Folder::new(&files);
        folder.write("holes.csv", holes);
        folder.write("shop.toml", shop);
        let job = read_job(folder.path()).unwrap();
        let checked = Checked::new(&job, job.clone(), proven(&job).0).unwrap();
        let page = String::from_utf8(Sheets(&checked, None).bytes().unwrap()).unwrap();
        let drilling = checked.document().work.drilling.iter();
        (drilling.map(|hole| (hole.bit, hole.gauge, hole.screw)).collect::<Vec<_>>(), page)
    };
    let (unknown, page) = bits("unit = \"mm\"\n");
    assert!(unknown.iter().all(|(bit, ..)| bit.is_none()));
    assert!(page.contains("specific gravity not known"));
    let hard = bits("unit = \"mm\"\n[wood.gravity]\nSapele = 0.62\n").0;
    assert_eq!(hard, [(Some(2.8), Some(8), None), (Some(3.1), None, Some(4.5))]);
    let soft = bits("unit = \"mm\"\n[wood.gravity]\nsapele = \"0.42\"\n").0;
    assert_eq!(soft, [(Some(2.1), Some(8), None), (Some(2.3), None, Some(4.5))]);
}

/// Wood Handbook, equation 13-2 and table 13-5, by hand: a flat-sawn red oak panel 14 in wide swells from 8 to 10 %
/// by 14 x 0.00369 x 2 = 0.1033 in, 7 of 64, and shrinks as much to 6 %; quarter-sawn by 0.0442, 3 of 64.
#[test]
fn wide_parts_and_those_in_frames_are_told_how_much_they_move() {
    let parts = "product,part,pieces,length,width,thickness,species,captured\n\
                 door,panel,1,24,14,3/4,red oak,1/16\ndoor,stile,2,30,2,3/4,red oak,\n\
                 door,slat,1,24,4,3/4,red oak,1/8\ndoor,back,1,24,13,3/4,sapele,\n";
    let prices = "species,quarter,grade,width,length,price\nred oak,4/4,1C,16,8',5\nsapele,4/4,1C,16,8',5\n";
    let orders = "order,product,quantity\nA,door,1\n";
    let folder = Folder::new(&[("orders.csv", orders), ("parts.csv", parts), ("prices/yard.csv", prices)]);
    let job = read_job(folder.path()).unwrap();
    let (plan, document) = proven(&job);
    let moved: Vec<_> = document
        .work
        .movement
        .iter()
        .map(|one| (one.part.as_str(), one.flat_sawn.map(|moves| moves.swells), one.room, one.is_tight))
        .collect();
    let expected = [
        ("panel", Some(7.0 / 64.0), Some(1.0 / 16.0), true),
        ("slat", Some(2.0 / 64.0), Some(1.0 / 8.0), false),
        ("back", None, None, false),
    ];
    assert_eq!(moved, expected);
    let panel = &document.work.movement[0];
    assert_eq!(panel.flat_sawn.unwrap().shrinks, 7.0 / 64.0);
    assert_eq!(panel.quarter_sawn.unwrap().swells, 3.0 / 64.0);
    let checked = Checked::new(&job, job.clone(), plan).unwrap();
    let summary = String::from_utf8(Summary(&checked, Detail::default()).bytes().unwrap()).unwrap();
    assert!(summary.contains("Too tight: panel of door has 1/16 of room in its frame and may swell by 7/64"));
    let page = String::from_utf8(Sheets(&checked, None).bytes().unwrap()).unwrap();
    assert!(page.contains("no coefficient of sapele is known"));
    for change in [
        (|one: &mut Document| one.work.movement[0].is_tight = false) as fn(&mut Document),
        |one| one.work.movement[0].flat_sawn.as_mut().unwrap().swells = 0.0,
        |one| drop(one.work.movement.remove(0)),
    ] {
        let mut changed = document.clone();
        change(&mut changed);
        let faults: Vec<String> = check(&changed, &job).iter().map(ToString::to_string).collect();
        assert!(faults.iter().any(|fault| fault.contains("movement of door / panel")), "{faults:?}");
    }
}

#[test]
fn every_fault_of_both_files_is_named() {
    let holes = "product,part,holes,kind,gauge,diameter,depth\n\
                 box,lid,4,lead,8,,\n\
                 box,side,0,lead,8,,\n\
                 box,side,2,lead,25,,\n\
                 box,side,2,plain,,,\n\
                 box,side,2,dowel,8,,\n";
    let finish = "product,finish,coverage\nbox,wax,\ncrate,oil,0\nbarrel,oil,\nbox,oil,\nbox,film,\n";
    let Err(JobError::Faults { faults, .. }) = read_job(folder(holes, finish).path()) else {
        panic!("the job was read")
    };
    let places: Vec<_> =
        faults.iter().map(|fault| (fault.file.as_str(), fault.row, fault.column.as_deref())).collect();
    let expected = [
        ("holes.csv", Some(2), Some("part")),
        ("holes.csv", Some(3), Some("holes")),
        ("holes.csv", Some(4), Some("gauge")),
        ("holes.csv", Some(5), Some("diameter")),
        ("holes.csv", Some(6), Some("kind")),
        ("finish.csv", Some(2), Some("finish")),
        ("finish.csv", Some(3), Some("coverage")),
        ("finish.csv", Some(4), Some("product")),
        ("finish.csv", Some(6), Some("product")),
    ];
    assert_eq!(places, expected);
}

#[test]
fn the_sheets_show_cautions_where_the_work_can_hurt() {
    let job = read_job(folder(HOLES, FINISH).path()).unwrap();
    let page_of = |job: &Job| {
        let checked = Checked::new(job, job.clone(), proven(job).0).unwrap();
        String::from_utf8(Sheets(&checked, None).bytes().unwrap()).unwrap()
    };
    let page = page_of(&job);
    for wanted in
        ["put a backer under every hole", "Rags with drying oil", "100, 150, 220", "Clamp the piece"]
    {
        assert!(page.contains(wanted), "{wanted}");
    }
    let mut dry = job;
    dry.work = Default::default();
    let page = page_of(&dry);
    assert!(!page.contains("Rags with drying oil"));
}

/// A number 8 screw's head is 0.328 in wide (twice its shank of 0.164): a plug of 3/8 covers it, one of 5/16 does not.
/// Six sides with four screws each take 24 plugs.
#[test]
fn a_screw_under_a_plug_is_counterbored_first_and_its_plugs_are_counted() {
    let with_plug = |plug: &str| {
        let holes =
            format!("product,part,holes,kind,gauge,countersink,plug\nbox,side,4,clearance,8,no,{plug}\n");
        read_job(folder(&holes, FINISH).path())
    };
    let job = with_plug("3/8").unwrap();
    let (plan, document) = proven(&job);
    let [drilling] = &document.work.drilling[..] else { panic!("{:?}", document.work.drilling) };
    assert_eq!(
        (drilling.bit, drilling.plug, drilling.plug_depth),
        (Some(11.0 / 64.0), Some(0.375), Some(0.25))
    );
    let checked = Checked::new(&job, job.clone(), plan).unwrap();
    let page = sheets(&checked);
    let at = |words: &str| page.find(words).unwrap_or_else(|| panic!("{words}"));
    assert!(at("counterbore for a plug") < at("clearance, number 8"));
    let plugs = &page[at("<h3>Plugs</h3>")..];
    for cell in ["3/8\"", "1/4\"", "white oak", "24"] {
        assert!(plugs.contains(&format!(">{cell}</td>")), "{cell}: {plugs}");
    }
    for (plug, why) in [("5/16", "up to 21/64 wide"), ("0", "above 0")] {
        let told = with_plug(plug).unwrap_err().to_string();
        assert!(told.contains("column plug") && told.contains(why), "{told}");
    }
}

/// By hand: with 1/16 to trim and to joint, a side of 24 x 6 is sawn at 24 1/16 x 6 1/16 and then brought to 6 by the
/// fence and to 24 by the stop, at which the fence reads 25 with its block of 1.
#[test]
fn pieces_sawn_a_little_large_are_brought_to_their_size_at_a_setting_that_is_told() {
    let folder = folder(HOLES, FINISH);
    folder.write(
        "shop.toml",
        "[milling]\nlength_allowance = \"1/16\"\nwidth_allowance = \"1/16\"\n[saw]\nmax_rip_width = \"30\"\n",
    );
    let job = read_job(folder.path()).unwrap();
    let checked = Checked::new(&job, job.clone(), proven(&job).0).unwrap();
    let page = sheets(&checked);
    assert!(page.contains("box / side, 24 1/16\" x 6 1/16\""), "{page}");
    assert!(page.contains("then final size 24\" x 6\""), "{page}");
    let row = |cells: [&str; 4]| {
        let [at, size, reads, parts] = cells;
        format!(
            "<td>{at}</td><td class=\"number\">{size}</td><td class=\"number\">{reads}</td><td>{parts}</td>"
        )
    };
    for cells in [
        ["rip fence", "6\"", "6\"", "box / side: 6, box / end: 6"],
        ["block at the fence", "24\"", "25\"", "box / side: 6"],
        ["block at the fence", "12\"", "13\"", "box / end: 6"],
    ] {
        assert!(page.contains(&row(cells)), "{cells:?}");
    }
    // Sawn to its size, a piece is done with.
    let exact = read_job(Folder::new(&[ORDERS, PARTS, PRICES]).path()).unwrap();
    let checked = Checked::new(&exact, exact.clone(), proven(&exact).0).unwrap();
    assert!(!sheets(&checked).contains("inal size"));
}

/// The lines of the flow of a job's only board: numbers of the cuts, what is done, what it frees.
fn flow(parts: &str, length: &str) -> Vec<String> {
    let folder = Folder::new(&[("orders.csv", "order,product,quantity\nA,box,1\n")]);
    folder.write("parts.csv", &format!("product,part,pieces,length,width,thickness,species\n{parts}"));
    let price = format!("species,quarter,grade,width,length,price,per\noak,4/4,1C,5,{length},10,piece\n");
    folder.write("prices/yard.csv", &price);
    folder.write("shop.toml", "[wood]\ndefects = \"none\"\n[stations]\nchop_saw = \"60\"\njointer = \"4\"\n");
    let job = read_job(folder.path()).unwrap();
    let (plan, _) = proven(&job);
    assert_eq!(plan.boards.iter().map(|board| board.copies).sum::<u32>(), 1);
    let page = sheets(&Checked::new(&job, job.clone(), plan).unwrap());
    let steps = page.split("<table class=\"steps\">").nth(1).unwrap().split("</table>").next().unwrap();
    without_tags(steps).lines().map(str::trim).filter(|line| !line.is_empty()).map(str::to_string).collect()
}

/// A piece of a page without its tags; a row is a line.
fn without_tags(html: &str) -> String {
    let mut text = String::new();
    for part in html.replace("</td><td>", " | ").replace('\n', "").replace("</tr>", "\n").split('<') {
        text.push_str(part.split_once('>').map_or(part, |(_, after)| after));
    }
    text
}

/// Three boards by hand, 5 in wide: trims leave 4 1/2, and a kerf is 1/8.
#[test]
fn the_flows_of_three_boards_are_those_worked_by_hand() {
    // 48 usable: two strips of 2 3/16, one of 23 15/16 twice, one of 30 and 17 7/8. Only ripping first gives that.
    let strips = flow(
        "box,a,2,23 15/16,2 3/16,3/4,oak\nbox,b,1,30,2 3/16,3/4,oak\nbox,c,1,17 7/8,2 3/16,3/4,oak\n",
        "50",
    );
    let milled = "| wider than the jointer: flatten a face on a sled through the planer, plane to 3/4\", joint an edge";
    let before = [
        "1 to 2 | crosscut 1\" off each end, the checked end first",
        milled,
        "3 to 4 | rip 1/4\" off each edge",
    ];
    assert_eq!(strips[..3], before);
    assert_eq!(
        strips[3..],
        [
            "5 | rip, fence at 2 3/16\": a, b; the rest is 2 c",
            "6 | crosscut at the chop saw, stop at 30\": a; the rest is b",
            "7 | crosscut at the chop saw, stop at 23 15/16\": c; the rest is c",
        ]
    );
    // Sections of 30 and 17 7/8, one ripped twice to 2 3/16, the other four times to 1. Only crosscuts first give that.
    let sections = flow("box,a,2,30,2 3/16,3/4,oak\nbox,b,4,17 7/8,1,3/4,oak\n", "50");
    assert_eq!(sections[..3], before);
    assert_eq!(
        sections[3..],
        [
            "5 | crosscut at the chop saw, stop at 30\": 2 a; the rest is 4 b",
            "6 | rip, fence at 2 3/16\": a; the rest is a",
            "7 to 10 | rip, fence at 1\": 4 b",
        ]
    );
    // One strip of full width, 20 long twice; one of its cells is ripped to 3 last.
    let trimmed = flow("box,a,1,20,4 1/2,3/4,oak\nbox,b,1,20,3,3/4,oak\n", "43");
    assert_eq!(trimmed[..3], before);
    assert_eq!(
        trimmed[3..],
        ["5 to 6 | crosscut at the chop saw, stop at 20\": a, b", "7 | rip, fence at 3\": b",]
    );
}

/// Once every stop was told a reading of the fence, also those that no fence reaches.
#[test]
fn a_reading_is_told_only_where_the_machine_can_be_set_to_it() {
    let settings = |stations: &str| {
        let folder = Folder::new(SMALL);
        folder.write("shop.toml", &format!("[saw]\nmax_rip_width = \"13\"\n{stations}"));
        let (plan, document) = proven(&read_job(folder.path()).unwrap());
        let setups = plan.setups.iter().filter(|setup| setup.kind == SetupKind::Stop);
        let mut told: Vec<String> = setups
            .map(|setup| {
                let reads = setup.reading.map_or("-".to_string(), |at| at.display(plan.unit).to_string());
                let station = setup.station.map_or("none", Station::name);
                format!("{} {station} {reads}", setup.setting.display(plan.unit))
            })
            .collect();
        told.sort();
        assert_eq!(document.setups.len(), plan.setups.len());
        told
    };
    // The fence holds 12 with its block of 1; treads are 14 long, sides 11 5/16.
    assert_eq!(settings(""), ["11 5/16 fence 12 5/16", "14 long-stop 14"]);
    assert_eq!(settings("[stations]\nsled = \"11\"\n"), ["11 5/16 fence 12 5/16", "14 none -"]);
    assert_eq!(
        settings("[stations]\nsled = \"12\"\nchop_saw = \"40\"\n"),
        ["11 5/16 chop-saw 11 5/16", "14 chop-saw 14"]
    );
}

/// Labels for every part of every order, in the order in which they are due.
#[test]
fn labels_count_the_parts_of_each_order() {
    let folder = Folder::new(SMALL);
    folder.write(
        "orders.csv",
        "order,product,quantity,due\nLATE,step stool,2,2026-10-02\nSOON,step stool,1,2026-10-01\n",
    );
    folder.write(
        "shop.toml",
        "name = \"Alder & Sons\"\n[labels]\ncolumns = 3\nrows = 4\nwidth = \"2.5\"\nheight = \"2\"\n",
    );
    let job = read_job(folder.path()).unwrap();
    let checked = Checked::new(&job, job.clone(), proven(&job).0).unwrap();
    let page = |each: LabelEach| String::from_utf8(Labels(&checked, each).bytes().unwrap()).unwrap();
    let told = |page: &str| -> Vec<String> {
        let labels = page.split("<div class=\"label\">").skip(1);
        labels.map(|label| label.split("<div>").nth(1).unwrap().replace("<br>", "; ")).collect()
    };
    let pieces = told(&page(LabelEach::Piece));
    // A stool has 2 treads, 2 sides and 1 rail.
    assert_eq!(pieces.len(), 15);
    assert!(
        pieces[0].starts_with("SOON; <strong>tread</strong> <span class=\"of\">1 of 2</span>"),
        "{}",
        pieces[0]
    );
    assert!(
        pieces[5].starts_with("LATE; <strong>tread</strong> <span class=\"of\">1 of 4</span>"),
        "{}",
        pieces[5]
    );
    assert!(pieces[14].contains("2 of 2") && pieces[14].contains("mark it from the work"), "{}", pieces[14]);
    assert_eq!(told(&page(LabelEach::Order)).len(), 6);
    let piles = page(LabelEach::Pile);
    assert!(told(&piles)[0].contains("6 pieces"), "{piles}");
    assert!(piles.contains("repeat(3, 2.5in)") && piles.contains("size: 8.5in 11in"), "{piles}");
    // Twelve labels on a sheet.
    assert_eq!(page(LabelEach::Piece).matches("class=\"sheet\"").count(), 2);
    let day = Some("2026-09-14".parse().unwrap());
    let cover = String::from_utf8(Sheets(&checked, day).bytes().unwrap()).unwrap();
    assert!(cover.contains("Alder &amp; Sons. Plan") && cover.contains("of 2026-09-14"));
}

/// The cover lists orders in the order they are served, with who ordered them and what to remember.
#[test]
fn a_cover_tells_whose_orders_it_serves_and_which_come_first() {
    let folder = Folder::new(SMALL);
    folder.write(
        "orders.csv",
        "order,product,quantity,due,done,priority,customer,note\n\
         SOON,step stool,1,2026-10-01,,,,\n\
         RUSH,step stool,3,2026-10-09,1,1,Mill & Co,collects it himself\n",
    );
    let job = read_job(folder.path()).unwrap();
    let checked = Checked::new(&job, job.clone(), proven(&job).0).unwrap();
    // Two of the three are left to make.
    assert_eq!(checked.document().parts[0].required, 6);
    let cover = String::from_utf8(Sheets(&checked, None).bytes().unwrap()).unwrap();
    let place = |text: &str| cover.find(text).unwrap_or_else(|| panic!("{text}"));
    let rush = place("RUSH for Mill &amp; Co: first, 2 of step stool, due");
    assert!(rush < place("SOON: 1 of step stool") && cover.contains("(collects it himself)"));
}

#[test]
fn labels_that_do_not_lie_on_the_paper_are_refused() {
    let folder = Folder::new(SMALL);
    folder.write("shop.toml", "[labels]\ncolumns = 3\n");
    let told = read_job(folder.path()).unwrap_err().to_string();
    assert!(told.contains("3 x 5 of 4 x 2") && told.contains("lie on the paper"), "{told}");
}

/// Found by editing plans: each of these passed the check.
#[test]
fn wrong_holes_and_finishes_are_caught() {
    let job = read_job(folder(HOLES, FINISH).path()).unwrap();
    let (_, sound) = proven(&job);
    type Edit = fn(&mut Document);
    let edits: [(&str, Edit); 9] = [
        ("drilling", |plan| plan.work.drilling.clear()),
        ("drilling", |plan| plan.work.drilling[0].bit = Some(0.25)),
        ("drilling", |plan| plan.work.drilling[0].pieces += 1),
        ("drilling", |plan| plan.work.drilling[1].countersink = false),
        ("does not ask for", |plan| {
            let again = plan.work.drilling[0].clone();
            plan.work.drilling.push(again);
        }),
        ("finishing", |plan| plan.work.finishing.clear()),
        ("finishing of box", |plan| plan.work.finishing[0].area += 1.0),
        ("finishing of box", |plan| plan.work.finishing[0].grits[0] = 80),
        ("finishing of box", |plan| plan.work.finishing[0].quantity = Some(9.0)),
    ];
    for (words, edit) in edits {
        let mut wrong = sound.clone();
        edit(&mut wrong);
        let faults: Vec<String> = check(&wrong, &job).iter().map(ToString::to_string).collect();
        assert!(faults.iter().any(|fault| fault.contains(words)), "{words}: {faults:?}");
    }
}
