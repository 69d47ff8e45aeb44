//! Decisions about the buy: dealers compared, scenarios, the yard.

mod support;

use std::path::Path;
use std::time::Duration;

use ripwright::check::check;
use ripwright::document::Document;
use ripwright::intake::{job_of_tally, read_job, read_job_despite_bad_prices, read_scenarios};
use ripwright::job::Job;
use ripwright::measure::{Length, Money};
use ripwright::plan::{Plan, build_plan};
use ripwright::planning::{Outcome, Request, compare, plan_stack, rank};
use ripwright::report::{Decision, DecisionText, Report, TakeList};
use ripwright::solve::{Options, solve};
use support::Folder;

const ORDERS: (&str, &str) = ("orders.csv", "order,product,quantity\nA,box,4\n");
const PARTS: (&str, &str) = (
    "parts.csv",
    "product,part,pieces,length,width,thickness,species,grade\n\
     box,side,2,20,5,3/4,oak,1C\n\
     box,end,2,11,5,3/4,oak,1C\n\
     box,lid,1,20,7,1 1/2,oak,1C\n",
);
const NORTH: (&str, &str) = (
    "prices/north.csv",
    "species,quarter,grade,width,length,price\noak,4/4,1C,6,8',5.00\noak,8/4,1C,8,8',9.00\n",
);
const SOUTH: (&str, &str) =
    ("prices/south.csv", "species,quarter,grade,width,length,price\noak,4/4,1C,6,8',4.00\n");
const TERMS: (&str, &str) = ("suppliers.csv", "supplier,delivery\nnorth,10\nsouth,6\n");

fn options() -> Options {
    Options { gap_percent: 0.0, time: Some(Duration::from_secs(20)), threads: 2, ..Options::default() }
}

fn plan(job: &Job) -> Plan {
    let plan = build_plan(&solve(job, &options(), &|_, _| ()).unwrap()).unwrap();
    assert_eq!(check(&plan.document(job), job), []);
    plan
}

#[test]
fn each_dealer_alone_the_pair_and_what_is_missing() {
    let folder = Folder::new(&[ORDERS, PARTS, NORTH, SOUTH, TERMS]);
    let job = read_job(folder.path()).unwrap();
    let comparison = compare(&job, &Request::new(options()), &|| ()).unwrap();
    let names: Vec<String> = comparison.alternatives.iter().map(|one| one.names(&job).join("+")).collect();
    assert_eq!(names, ["north", "south", "north+south"]);
    // By hand: a lid is 7 wide, so only an 8/4 board takes it: 4 lids of 20 in a board of 94.
    let Outcome::Missing(missing) = &comparison.alternatives[1].outcome else { panic!("south has no 8/4") };
    assert_eq!(missing.len(), 1);
    assert_eq!(missing[0].part, "lid");
    for (place, alternative) in comparison.alternatives.iter().enumerate() {
        let Some(plan) = alternative.plan() else { continue };
        assert_eq!(check(&plan.document(&job), &job), [], "{place}");
        let foreign = |row: &&ripwright::plan::Buy| !alternative.names(&job).contains(&row.supplier.as_str());
        assert_eq!(plan.buy.iter().filter(foreign).count(), 0);
    }
    // 8 sides and 8 ends of 5 in on 6-in boards: 8 x 20 1/8 + 8 x 11 1/8 = 250 in 94 1/8 a board: 3
    // boards of 4 bf; one 8/4 board of 10.667 bf. North alone 60 + 96 + 10, split 48 + 96 + 16.
    let total = |place: usize| comparison.alternatives[place].plan().unwrap().cost.total;
    assert_eq!(total(0), Money::parse("166.00").unwrap());
    assert_eq!(total(2), Money::parse("160.00").unwrap());
    assert_eq!(comparison.best, Some(2));
}

#[test]
fn delivery_can_make_one_dealer_cheaper_than_the_split() {
    let dear = ("suppliers.csv", "supplier,delivery\nnorth,10\nsouth,12.01\n");
    let folder = Folder::new(&[ORDERS, PARTS, NORTH, SOUTH, dear]);
    let job = read_job(folder.path()).unwrap();
    let comparison = compare(&job, &Request::new(options()), &|| ()).unwrap();
    // The split saves 12.00 of lumber and costs 12.01 of delivery.
    assert_eq!(comparison.best, Some(0));
    assert_eq!(comparison.alternatives[2].plan().unwrap().cost.total, Money::parse("166.00").unwrap());
}

#[test]
fn a_bad_row_of_one_sheet_spoils_nothing_else_and_is_reported() {
    let bad = "species,quarter,grade,width,length,price\noak,4/4,1C,6,8',4.00\noak,4/4,1C,six,8',3.00\n";
    let folder = Folder::new(&[ORDERS, PARTS, NORTH, ("prices/south.csv", bad), TERMS]);
    assert!(read_job(folder.path()).is_err());
    let (job, left_out) = read_job_despite_bad_prices(folder.path()).unwrap();
    assert_eq!(left_out.len(), 1);
    let text = left_out[0].to_string();
    assert!(text.contains("prices/south.csv, row 3, column width") && text.contains("six"), "{text}");
    let comparison = compare(&job, &Request::new(options()), &|| ()).unwrap();
    let best = comparison.alternatives[comparison.best.unwrap()].plan().unwrap();
    assert_eq!(best.cost.total, Money::parse("160.00").unwrap());
}

#[test]
fn a_rack_that_is_enough_needs_no_dealer() {
    let rack = (
        "rack.csv",
        "board,species,quarter,grade,width,length,value\nR1,oak,8/4,FAS,9,8',5\nR2,oak,8/4,FAS,9,8',5\nR3,oak,8/4,FAS,9,8',5\nR4,oak,8/4,FAS,9,8',5\n",
    );
    let folder = Folder::new(&[ORDERS, PARTS, rack]);
    let job = read_job(folder.path()).unwrap();
    let comparison = compare(&job, &Request::new(options()), &|| ()).unwrap();
    assert_eq!(comparison.alternatives.len(), 1);
    let decision = Decision::of_dealers(&comparison, &job);
    let text = String::from_utf8(DecisionText(&decision).bytes().unwrap()).unwrap();
    assert!(text.contains("the rack alone") && text.contains("the rack is enough"));
}

#[test]
fn scenarios_change_what_they_say_and_are_ranked_by_cost() {
    let scenarios = "scenario,price_percent,dealer,species,quarter,kerf,demand_percent,closed,replaced_by,yield_loss_percent\n\
         dear north,+10,north,,,,,,,\n\
         no south,,,,,,,south,,\n\
         twice,,,,,,100,,,\n\
         cheap and closed,-50,north,,,,,,,\n\
         cheap and closed,,,,,,,south,,\n\
         half lost,,,,,,,,,50\n";
    let folder = Folder::new(&[ORDERS, PARTS, NORTH, SOUTH, TERMS, ("scenarios.csv", scenarios)]);
    let job = read_job(folder.path()).unwrap();
    let read = read_scenarios(&folder.join("scenarios.csv"), &job).unwrap();
    assert_eq!(read.len(), 5);
    let ranked = rank(&job, &read, &Request::new(options()), &|| ()).unwrap();
    let total = |name: &str| {
        let one = ranked.scenarios.iter().find(|one| one.name == name).unwrap();
        match &one.outcome {
            Outcome::Planned(plan) => plan.plan().cost.total,
            other => panic!("{name}: {other:?}"),
        }
    };
    // By hand, from the costs of the test above.
    assert_eq!(total("as it is"), Money::parse("160.00").unwrap());
    assert_eq!(total("dear north"), Money::parse("169.60").unwrap());
    assert_eq!(total("no south"), Money::parse("166.00").unwrap());
    assert_eq!(total("cheap and closed"), Money::parse("88.00").unwrap());
    assert_eq!(total("twice"), total("half lost"));
    let order: Vec<Money> = ranked.scenarios.iter().map(|one| total(&one.name)).collect();
    assert!(order.is_sorted());
}

#[test]
fn a_bad_scenario_is_said_with_its_row() {
    let rows = "scenario,price_percent,closed\na,dear,\nb,,west\nc,,\n";
    let folder = Folder::new(&[ORDERS, PARTS, NORTH, ("scenarios.csv", rows)]);
    let job = read_job(folder.path()).unwrap();
    let text = read_scenarios(&folder.join("scenarios.csv"), &job).unwrap_err().to_string();
    for part in
        ["row 2, column price_percent", "row 3, column closed: the dealer west", "row 4, column scenario"]
    {
        assert!(text.contains(part), "{text}");
    }
}

#[test]
fn at_the_yard_the_cheapest_boards_that_are_enough_are_taken() {
    let tally = "board,species,quarter,grade,width,length,value,defects\n\
         T1,oak,4/4,1C,6,96,30,\nT2,oak,4/4,1C,6,96,20,\nT3,oak,4/4,FAS,6,96,21,\n\
         T4,oak,4/4,1C,6,96,,\nT5,oak,8/4,1C,8,96,99,\nT6,oak,8/4,1C,8,96,50,30..34@0..2\n";
    let folder = Folder::new(&[ORDERS, PARTS, NORTH, SOUTH, TERMS, ("boards.csv", tally)]);
    let (job, _) = read_job_despite_bad_prices(folder.path()).unwrap();
    let at_yard = job_of_tally(&job, &folder.join("boards.csv"), Some("north")).unwrap();
    // T4 has no value: 4 bf at north's 5.00.
    assert_eq!(at_yard.rack.raw[3].value, Money::parse("20.00").unwrap());
    let plan = plan(&at_yard);
    assert!(plan.buy.is_empty());
    // Three 6-in boards are needed: 20 + 20 + 21. The lids fit the board with the defect: 1..30 holds one,
    // 34..95 three.
    assert_eq!(plan.cost.rack, Money::parse("111.00").unwrap());
    let unknown = job_of_tally(&job, &folder.join("boards.csv"), Some("west")).unwrap_err().to_string();
    assert!(unknown.contains("the dealer west"), "{unknown}");
    assert!(job_of_tally(&job, Path::new("/nowhere/boards.csv"), None).is_err());
}

#[test]
fn a_stack_that_is_not_enough_gives_what_it_can_and_the_rest_is_still_needed() {
    // Two boards give two legs of 40 each, a third one a leg, and none is wide enough for a seat.
    let parts = "product,part,pieces,length,width,thickness,species\n\
         stool,leg,3,40,2,3/4,oak\nstool,seat,1,14,12,3/4,oak\n";
    let tally = "board,species,quarter,grade,width,length,value\nT1,oak,4/4,1C,2 1/2,85,1\nT2,oak,4/4,1C,2 1/2,85,1\n\
         T3,oak,4/4,1C,2 1/2,45,1\nT4,ash,4/4,1C,6,96,1\n";
    let orders = "order,product,quantity\n1,stool,2\n";
    let clear = ("shop.toml", "[wood]\ndefects = \"none\"\n");
    let folder = Folder::new(&[
        ("orders.csv", orders),
        ("parts.csv", parts),
        clear,
        ("prices/north.csv", "species,quarter,grade,width,length,price\noak,4/4,1C,6,96,5\n"),
        ("boards.csv", tally),
    ]);
    let (job, _) = read_job_despite_bad_prices(folder.path()).unwrap();
    let at_yard = job_of_tally(&job, &folder.join("boards.csv"), None).unwrap();
    let checked = plan_stack(&at_yard, &Request::new(options()), &|_| ()).unwrap();
    let plan = checked.plan();
    let cut: Vec<(&str, u64, u64)> =
        plan.parts.iter().map(|part| (part.name.as_str(), part.required, part.cut)).collect();
    assert_eq!(cut, [("leg", 5, 5), ("seat", 0, 0)]);
    assert_eq!(plan.cost.rack, Money::parse("3.00").unwrap());
    let open: Vec<(&str, u64)> =
        checked.document().still_needed.iter().map(|one| (one.part.as_str(), one.parts)).collect();
    assert_eq!(open, [("leg", 1), ("seat", 2)]);
    // The least board of a leg: 2 and two edges of 1/4, 40 and two ends of 1.
    let leg = &checked.document().still_needed[0];
    assert_eq!((leg.least_width, leg.least_length, leg.quarter.as_deref()), (2.5, 42.0, Some("4/4")));
    let text = String::from_utf8(TakeList { checked: &checked, bought: false }.bytes().unwrap()).unwrap();
    assert!(text.contains("still needed"), "{text}");

    // The checker knows what the plan leaves open, and that no less may be.
    let sound = checked.document().clone();
    assert!(check(&sound, &at_yard).is_empty());
    for (change, why) in [
        (
            Box::new(|one: &mut Document| one.still_needed[0].parts = 7) as Box<dyn Fn(&mut Document)>,
            "more of",
        ),
        (Box::new(|one| one.still_needed.clear()), "are wanted"),
        (Box::new(|one| one.still_needed[1] = one.still_needed[0].clone()), "twice"),
        (Box::new(|one| one.still_needed[0].blanks = 3), "is sawn for"),
    ] {
        let mut changed = sound.clone();
        change(&mut changed);
        let faults: Vec<String> = check(&changed, &at_yard).iter().map(ToString::to_string).collect();
        assert!(faults.iter().any(|fault| fault.contains(why)), "{why}: {faults:?}");
    }
    let of_dealers = check(&sound, &job);
    assert!(of_dealers.iter().any(|fault| fault.to_string().contains("there are boards that give it")));
}

#[test]
fn a_bare_length_that_may_be_feet_is_asked_about_or_read_as_the_shop_says() {
    let tally = |length: &str| {
        format!("board,species,quarter,grade,width,length,value\nT1,oak,4/4,1C,6,{length},1\n")
    };
    let read = |shop: &str, length: &str| {
        let tally = tally(length);
        let folder =
            Folder::new(&[ORDERS, PARTS, NORTH, ("shop.toml", shop), ("boards.csv", tally.as_str())]);
        let (job, _) = read_job_despite_bad_prices(folder.path()).unwrap();
        let job = job_of_tally(&job, &folder.join("boards.csv"), None).map_err(|error| error.to_string())?;
        Ok::<_, String>(job.rack.raw[0].length)
    };
    let feet = "[yard]\nlengths = \"ft\"\n";
    assert!(read("", "8").unwrap_err().contains("8 in or 8 ft?"));
    assert_eq!(read("", "8 ft"), Ok(Length::inches(96)));
    assert_eq!(read("", "21"), Ok(Length::inches(21)));
    assert_eq!(read(feet, "8"), Ok(Length::inches(96)));
    assert_eq!(read(feet, "8 1/2"), Ok(Length::inches(102)));
    assert_eq!(read(feet, "96in"), Ok(Length::inches(96)));
    assert!(read(feet, "96").unwrap_err().contains("96 in or 96 ft?"));
    assert_eq!(read("[yard]\nlengths = \"in\"\n", "8"), Ok(Length::inches(8)));
    assert_eq!(read("unit = \"mm\"\n", "900"), Ok(Length::micrometres(900_000)));
}
