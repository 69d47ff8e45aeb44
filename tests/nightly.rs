//! The unattended run: rejects, weeks, reuse, the lock, and what a reader sees.

mod support;

use assert_cmd::Command;
use support::{Folder, NIGHT};

const PARTS: (&str, &str) = NIGHT[0];
const PRICES: (&str, &str) = NIGHT[1];
const BOOK: &str = "order,product,quantity,due,status\n\
    A,stool,2,2027-01-06,open\n\
    B,stool,1,2027-01-08,\n\
    C,shelf,3,2027-03-02,open\n\
    D,shelf,9,2027-01-07,done\n\
    E,shelf,9,2028-01-07,open\n";

fn nightly(folder: &Folder, more: &[&str]) -> assert_cmd::assert::Assert {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ripwright"));
    command.arg("nightly").arg(folder.path()).arg("--out").arg(folder.join("out"));
    command.args(["--until", "2027-12-31", "--gap", "0", "--time", "20", "--format", "json"]).args(more);
    command.assert()
}

fn line(assert: &assert_cmd::assert::Assert) -> serde_json::Value {
    serde_json::from_slice(&assert.get_output().stdout).unwrap()
}

#[test]
fn weeks_are_planned_apart_and_the_same_book_gives_the_same_run_again() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    let first = line(&nightly(&folder, &[]).code(0));
    assert_eq!(first["rows"], 5);
    assert_eq!(first["planned_rows"], 3);
    assert_eq!(first["batches"], 2);
    assert_eq!(first["reused"], 0);
    // By hand: 12 legs of 17 lie 5 to a strip of 94 and 4 strips of 1 1/2 to a board 7 1/2 wide: one board
    // of 6.667 bf. 3 shelves of 30 lie in one board of 4 bf.
    assert_eq!(first["cost"], "49.33");
    let plan = std::fs::read(folder.join("out/latest/batch-01/plan.json")).unwrap();
    let document: serde_json::Value = serde_json::from_slice(&plan).unwrap();
    assert_eq!(document["parts"][0]["required"], 12);
    let second = line(&nightly(&folder, &[]).code(0));
    assert_eq!(second["reused"], 2);
    assert_eq!(second["run"], first["run"]);
    assert_eq!(std::fs::read(folder.join("out/latest/batch-01/plan.json")).unwrap(), plan);
    // A changed order plans its own week again and no other.
    folder.write("orders.csv", &BOOK.replace("C,shelf,3", "C,shelf,4"));
    let third = line(&nightly(&folder, &[]).code(0));
    assert_eq!(third["reused"], 1);
    assert_ne!(third["run"], first["run"]);
}

#[test]
fn bad_rows_are_set_aside_with_their_reason_and_the_good_ones_planned() {
    let bad = "F,stool,two,2027-01-06,open\nG,table,1,2027-01-06,open\nH,stool,1,soon,open\n\
               I,stool,1,2027-01-06,perhaps\nJ,stool\n\"=K\",stool,0,,\n";
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", &format!("{BOOK}{bad}"))]);
    let night = line(&nightly(&folder, &[]).code(2));
    assert_eq!(night["planned_rows"], 3);
    assert_eq!(night["rejected_rows"], 6);
    let rejects = std::fs::read_to_string(folder.join("out/latest/rejects.csv")).unwrap();
    for part in
        ["7,F,quantity,two", "8,G,product,table", "9,H,due,soon", "10,I,status,perhaps", "12,'=K,quantity,0"]
    {
        assert!(rejects.contains(part), "{part}: {rejects}");
    }
    assert!(rejects.contains("the row has 2 cells where the header has 5"));
    // A strict run publishes nothing; what was published stays.
    let published = std::fs::read_link(folder.join("out/latest")).unwrap();
    let strict = nightly(&folder, &["--strict"]).code(2);
    let error = String::from_utf8_lossy(&strict.get_output().stderr).into_owned();
    assert!(error.contains("row 7, quantity"), "{error}");
    assert_eq!(std::fs::read_link(folder.join("out/latest")).unwrap(), published);
}

#[test]
fn weeks_are_cut_together_where_that_saves_lumber() {
    // Each week needs a third of a board; three weeks within the four allowed share one.
    let book =
        "order,product,quantity,due\nA,shelf,1,2027-01-06\nB,shelf,1,2027-01-13\nC,shelf,1,2027-01-20\n";
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", book)]);
    let night = line(&nightly(&folder, &[]).code(0));
    assert_eq!(night["batches"], 1);
    assert_eq!(night["cost"], "16.00");
    let summary = std::fs::read_to_string(folder.join("out/latest/summary.txt")).unwrap();
    assert!(
        summary.contains("the weeks of 2027-01-11, 2027-01-18 are cut with it; that saves 32.00"),
        "{summary}"
    );
    let apart = line(&nightly(&folder, &["--early", "0"]).code(0));
    assert_eq!(apart["batches"], 3);
    assert_eq!(apart["cost"], "48.00");
}

#[test]
fn a_second_run_waits_its_turn_and_a_broken_job_leaves_the_last_run_alone() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    nightly(&folder, &[]).code(0);
    let published = std::fs::read_link(folder.join("out/latest")).unwrap();
    let lock = std::fs::File::options().write(true).open(folder.join("out/.lock")).unwrap();
    lock.lock().unwrap();
    let busy = nightly(&folder, &[]).code(1);
    assert!(String::from_utf8_lossy(&busy.get_output().stderr).contains("another run"));
    lock.unlock().unwrap();
    // The price sheet has gone.
    std::fs::remove_file(folder.join("prices/yard.csv")).unwrap();
    nightly(&folder, &[]).code(2);
    assert_eq!(std::fs::read_link(folder.join("out/latest")).unwrap(), published);
    // What a killed run left half-written is cleared away.
    folder.write("prices/yard.csv", PRICES.1);
    std::fs::create_dir_all(folder.join("out/runs/.ripwright-torn/batch-01")).unwrap();
    nightly(&folder, &[]).code(0);
    assert!(!folder.join("out/runs/.ripwright-torn").exists());
}

#[test]
fn a_week_that_cannot_be_met_does_not_stop_the_others() {
    let parts = format!("{}vault,door,1,30,5,7,oak\n", PARTS.1);
    let book = format!("{BOOK}F,vault,1,2027-05-05,open\n");
    let folder = Folder::new(&[("parts.csv", &parts), PRICES, ("orders.csv", &book)]);
    let night = line(&nightly(&folder, &[]).code(3));
    assert_eq!(night["cost"], "49.33");
    let summary = std::fs::read_to_string(folder.join("out/latest/summary.txt")).unwrap();
    assert!(summary.contains("batch-03 has no plan") && summary.contains("too thick"), "{summary}");
}

#[test]
fn units_planned_apart_and_joined_are_the_plans_of_one_machine() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    let night = line(&nightly(&folder, &["--early", "0"]).code(0));
    let ripwright = |arguments: &[&std::ffi::OsStr]| {
        Command::new(env!("CARGO_BIN_EXE_ripwright")).args(arguments).assert()
    };
    let units = folder.join("units");
    let job = folder.path().as_os_str();
    let until = ["--until".as_ref(), "2027-12-31".as_ref()];
    let split =
        ripwright(&[&["split".as_ref(), job, "--out".as_ref(), units.as_os_str()][..], &until].concat())
            .success();
    let listed = String::from_utf8_lossy(&split.get_output().stdout).into_owned();
    assert_eq!(listed.lines().count(), 2);
    // Before all units are planned nothing is joined.
    ripwright(&["join".as_ref(), units.as_os_str()]).failure();
    for unit in listed.lines() {
        ripwright(&["solve".as_ref(), unit.as_ref(), "--gap".as_ref(), "0".as_ref()]).success();
    }
    let joined = ripwright(&["join".as_ref(), units.as_os_str()]).success();
    let joined: serde_json::Value = serde_json::from_slice(&joined.get_output().stdout).unwrap();
    assert_eq!(joined["total"], night["cost"]);
    for (batch, unit) in [("batch-01", "unit-001"), ("batch-02", "unit-002")] {
        for file in ["plan.json", "buy.csv", "cuts.csv", "setups.csv", "sheets.html"] {
            let here = std::fs::read(folder.join(&format!("out/latest/{batch}/{file}"))).unwrap();
            let there = std::fs::read(units.join("results").join(unit).join(file)).unwrap();
            assert!(here == there, "{batch}/{file}");
        }
    }
    // A folder that an earlier split left behind is no unit of this one.
    std::fs::create_dir_all(units.join("unit-003")).unwrap();
    let again = ripwright(&["join".as_ref(), units.as_os_str()]).success();
    assert_eq!(String::from_utf8_lossy(&again.get_output().stdout), format!("{joined:#}\n"));
    let refused = |what: &str| {
        let refused = ripwright(&["join".as_ref(), units.as_os_str()]).failure();
        let text = String::from_utf8_lossy(&refused.get_output().stderr).into_owned();
        assert!(text.contains("do not pass the check") && text.contains("unit-002"), "{what}: {text}");
    };
    // An altered result, and one of a unit that was split anew since.
    let result = units.join("results/unit-002/plan.json");
    let whole = std::fs::read_to_string(&result).unwrap();
    let mut altered: serde_json::Value = serde_json::from_str(&whole).unwrap();
    altered["cost"]["total"] = "-5.00".into();
    altered["boards"] = serde_json::json!([]);
    std::fs::write(&result, altered.to_string()).unwrap();
    refused("altered");
    std::fs::write(&result, whole).unwrap();
    let orders = std::fs::read_to_string(units.join("unit-002/orders.csv")).unwrap();
    std::fs::write(units.join("unit-002/orders.csv"), orders.replace(",3,", ",4,")).unwrap();
    refused("of another book");
}

#[test]
fn split_names_what_it_leaves_out_as_a_night_does() {
    let sheet = format!("{}oak,4/4,1C,six,8',3.00\n", PRICES.1);
    let book = format!("{BOOK}F,stool,two,2027-01-06,open\n");
    let folder = Folder::new(&[PARTS, ("prices/yard.csv", &sheet), ("orders.csv", &book)]);
    nightly(&folder, &[]).code(2);
    let units = folder.join("units");
    Command::new(env!("CARGO_BIN_EXE_ripwright"))
        .arg("split")
        .arg(folder.path())
        .arg("--out")
        .arg(&units)
        .args(["--until", "2027-12-31"])
        .assert()
        .success();
    let night = std::fs::read_to_string(folder.join("out/latest/rejects.csv")).unwrap();
    assert!(night.contains("prices/yard.csv") && night.contains("orders,7,F,quantity,two"), "{night}");
    assert_eq!(std::fs::read_to_string(units.join("rejects.csv")).unwrap(), night);
}

/// The example unit, as it stands but for its paths.
#[test]
fn the_example_unit_s_command_runs() {
    let unit = std::fs::read_to_string("scripts/ripwright-nightly.service").unwrap();
    let line = unit.lines().find_map(|line| line.strip_prefix("ExecStart=")).unwrap();
    let success = unit.lines().find_map(|line| line.strip_prefix("SuccessExitStatus=")).unwrap();
    let folder = Folder::new(&[PARTS, PRICES]);
    folder.write("orders.csv", &BOOK.replace("E,shelf", "E,no such thing"));
    let path = |word: &str| match word {
        "/srv/shop/job" => folder.path().to_path_buf(),
        "/srv/shop/orders.csv" => folder.join("orders.csv"),
        "/srv/shop/runs" => folder.join("runs"),
        other => other.into(),
    };
    let mut words = line.split_whitespace();
    assert!(words.next().unwrap().ends_with("/ripwright"));
    let output = Command::new(env!("CARGO_BIN_EXE_ripwright")).args(words.map(path)).output().unwrap();
    // One row names no product: it is rejected, and the rest is planned. A night that publishes nothing ends with 2.
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(success.split_whitespace().all(|allowed| allowed != "2"));
    assert!(folder.join("runs/latest/rejects.csv").exists());
    assert!(folder.join("runs/latest/batch-01/sheets.html").exists());
}

/// Files of a run were links into what is kept: an edit came back as "reused" on every later night.
#[test]
fn what_a_person_changes_in_a_run_is_not_published_again() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    nightly(&folder, &[]).code(0);
    let shown = folder.join("out/latest/batch-01/buy.csv");
    let whole = std::fs::read(&shown).unwrap();
    std::fs::write(&shown, "supplier\nsomebody else\n").unwrap();
    assert_eq!(line(&nightly(&folder, &[]).code(0))["reused"], 2);
    assert_eq!(std::fs::read(&shown).unwrap(), whole);
    // What was kept and is not as it was written is planned anew.
    let planned = std::fs::read_dir(folder.join("out/planned")).unwrap().next().unwrap().unwrap().path();
    std::fs::write(planned.join("cuts.csv"), "board\n").unwrap();
    assert_eq!(line(&nightly(&folder, &[]).code(0))["reused"], 1);
    for batch in ["batch-01", "batch-02"] {
        assert!(std::fs::read(folder.join("out/latest").join(batch).join("cuts.csv")).unwrap().len() > 20);
    }
}

/// A run that was killed between two renames left `latest` leading nowhere, and the next one took both copies away.
#[test]
fn a_run_that_was_put_aside_comes_back() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    nightly(&folder, &[]).code(0);
    let run = std::fs::canonicalize(folder.join("out/latest")).unwrap();
    let name = run.file_name().unwrap().to_str().unwrap();
    std::fs::rename(&run, folder.join("out/runs").join(format!(".ripwright-aside-{name}"))).unwrap();
    assert!(!folder.join("out/latest/batch-01").exists());
    // The next run fails before it plans anything: the old one is back all the same.
    std::fs::remove_file(folder.join("parts.csv")).unwrap();
    nightly(&folder, &[]).code(2);
    assert!(folder.join("out/latest/batch-01/plan.json").exists());
}

/// Two weeks of one shelf each: together they are cut from one board, for half the money.
const NEIGHBOURS: &str = "order,product,quantity,due\nA,shelf,1,2027-01-06\nB,shelf,1,2027-01-13\n";

/// A shop that puts no offcut back on the rack.
const NOTHING_KEPT: (&str, &str) = ("shop.toml", "[offcuts]\nkeep_length = \"120\"\n");

#[test]
fn what_was_decided_about_weeks_stays_until_somebody_asks_for_better() {
    let folder = Folder::new(&[PARTS, PRICES, NOTHING_KEPT, ("orders.csv", NEIGHBOURS)]);
    let first = line(&nightly(&folder, &[]).code(0));
    assert_eq!((&first["batches"], &first["cost"]), (&1.into(), &"16.00".into()));
    let whole = std::fs::read(folder.join("out/latest/summary.csv")).unwrap();
    nightly(&folder, &[]).code(0);
    assert_eq!(std::fs::read(folder.join("out/latest/summary.csv")).unwrap(), whole);
    // As on a night whose time ran out before it tried to join them.
    let planned = std::fs::read_dir(folder.join("out/planned")).unwrap().flatten();
    let decided: Vec<_> =
        planned.map(|entry| entry.path().join(".decided")).filter(|file| file.exists()).collect();
    assert_eq!(decided.len(), 1);
    std::fs::write(&decided[0], "apart\n").unwrap();
    for _ in 0..2 {
        let apart = line(&nightly(&folder, &[]).code(0));
        assert_eq!((&apart["batches"], &apart["cost"]), (&2.into(), &"32.00".into()));
    }
    let better = nightly(&folder, &["--improve"]).code(0);
    assert_eq!(line(&better)["batches"], 1);
    let changes = std::fs::read(folder.join("out/latest/changes.json")).unwrap();
    let changes: serde_json::Value = serde_json::from_slice(&changes).unwrap();
    let first = &changes["batches"][0];
    assert_eq!((&first["before"]["total"], &first["after"]["total"]), (&"16.00".into(), &"16.00".into()));
    assert_eq!(first["after"]["last_week"], "2027-01-11");
    assert_eq!(changes["batches"][1]["after"], serde_json::Value::Null);
    assert_eq!(line(&nightly(&folder, &[]).code(0))["batches"], 1);
}

/// A night by counted work is the same on a machine of any speed, however many threads it has.
#[test]
fn a_night_by_counted_work_is_the_same_with_any_number_of_threads() {
    let runs = ["1", "2"].map(|threads| {
        let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
        let mut command = Command::new(env!("CARGO_BIN_EXE_ripwright"));
        command.arg("nightly").arg(folder.path()).arg("--out").arg(folder.join("out"));
        command.args(["--until", "2027-12-31", "--gap", "0", "--work", "1", "--threads", threads]);
        let code = command.assert().get_output().status.code();
        let plan =
            |batch: &str| std::fs::read(folder.join("out/latest").join(batch).join("plan.json")).unwrap();
        let summary = std::fs::read(folder.join("out/latest/summary.csv")).unwrap();
        (code, plan("batch-01"), plan("batch-02"), summary)
    });
    assert!(runs[0] == runs[1]);
}

#[test]
fn what_changes_is_told_line_by_line_and_board_by_board() {
    let folder = Folder::new(&[PARTS, PRICES, NOTHING_KEPT, ("orders.csv", NEIGHBOURS)]);
    nightly(&folder, &["--early", "0"]).code(0);
    folder.write("orders.csv", &NEIGHBOURS.replace("B,shelf,1", "B,shelf,5"));
    let mut command = Command::new(env!("CARGO_BIN_EXE_ripwright"));
    command.arg("nightly").arg(folder.path()).arg("--out").arg(folder.join("out"));
    let told = command.args(["--until", "2027-12-31", "--gap", "0", "--early", "0"]).assert().code(0);
    let changes = std::fs::read(folder.join("out/latest/changes.json")).unwrap();
    let changes: serde_json::Value = serde_json::from_slice(&changes).unwrap();
    assert_eq!(changes["batches"].as_array().unwrap().len(), 1, "{changes}");
    let week = &changes["batches"][0];
    assert_eq!(week["first_week"], "2027-01-11");
    // By hand: three shelves lie in one board of 16.00, so one shelf took one and five take two.
    let bought = &week["buy"][0];
    assert_eq!((&bought["boards_before"], &bought["boards_now"]), (&1.into(), &2.into()), "{week}");
    assert_eq!(bought["cost_more"], "16.00");
    let copies = |boards: &str| -> u64 {
        let boards = week[boards].as_array().unwrap();
        boards.iter().map(|board| board["copies"].as_u64().unwrap()).sum()
    };
    assert_eq!(week["boards_as_before"].as_u64().unwrap() + copies("boards_new"), 2, "{week}");
    assert_eq!(week["boards_as_before"].as_u64().unwrap() + copies("boards_gone"), 1, "{week}");
    let text = String::from_utf8_lossy(&told.get_output().stdout);
    assert!(text.contains("1 before, 2 now, 16.00 USD more"), "{text}");
    // The same again changes nothing.
    nightly(&folder, &["--early", "0"]).code(0);
    let changes = std::fs::read_to_string(folder.join("out/latest/changes.json")).unwrap();
    assert!(changes.contains("\"batches\": []"), "{changes}");
}

#[test]
fn a_plan_that_time_stopped_is_tried_again_where_that_is_asked_for() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    nightly(&folder, &[]).code(0);
    // Of a plan that was stopped nothing is proven.
    let kept = std::fs::read_dir(folder.join("out/planned")).unwrap().flatten().map(|entry| entry.path());
    let kept = kept.into_iter().find(|folder| folder.join("plan.json").exists()).unwrap();
    let plan = std::fs::read_to_string(kept.join("plan.json")).unwrap();
    let mut stopped: serde_json::Value = serde_json::from_str(&plan).unwrap();
    let total: f64 = stopped["cost"]["total"].as_str().unwrap().parse().unwrap();
    stopped["status"] = "stopped".into();
    stopped["cost"]["lower_bound"] = "1.00".into();
    stopped["cost"]["gap_percent"] = ((total - 1.0) / total * 100.0).into();
    let text = serde_json::to_string_pretty(&stopped).unwrap() + "\n";
    let whole = std::fs::read_to_string(kept.join(".whole")).unwrap();
    let (before, after) =
        (ripwright::intake::digest(plan.as_bytes()), ripwright::intake::digest(text.as_bytes()));
    assert!(whole.contains(&before));
    std::fs::write(kept.join("plan.json"), text).unwrap();
    std::fs::write(kept.join(".whole"), whole.replace(&before, &after)).unwrap();
    for _ in 0..2 {
        assert_eq!(line(&nightly(&folder, &[]).code(4))["reused"], 2);
    }
    assert_eq!(line(&nightly(&folder, &["--improve"]).code(0))["reused"], 1);
    assert_eq!(line(&nightly(&folder, &[]).code(0))["reused"], 2);
}

#[test]
fn a_night_that_publishes_nothing_says_so_in_its_line_and_leaves_the_last_run() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    let first = line(&nightly(&folder, &[]).code(0));
    assert_eq!(first["published"], true);
    let failed = |code: i32, more: &[&str], why: &str| {
        let line = line(&nightly(&folder, more).code(code));
        assert_eq!((&line["ended"], &line["published"]), (&"failed".into(), &false.into()), "{line}");
        assert!(line["error"].as_str().unwrap().contains(why), "{line}");
        let run = std::fs::read(folder.join("out/latest/run.json")).unwrap();
        let run: serde_json::Value = serde_json::from_slice(&run).unwrap();
        assert_eq!(run["run"], first["run"]);
    };
    let header = BOOK.lines().next().unwrap();
    folder.write("orders.csv", &format!("{header}\n"));
    failed(2, &[], "0 rows of the order book can be planned");
    folder.write("orders.csv", &format!("{header}\nA,stool,1,2027-01-06,open\n"));
    failed(2, &["--largest-drop", "50"], "the last run had 3");
    failed(2, &["--at-least", "2"], "1 row of the order book can be planned");
    folder.write("orders.csv", BOOK);
    std::fs::remove_file(folder.join("parts.csv")).unwrap();
    failed(2, &[], "parts.csv");
    folder.write("parts.csv", PARTS.1);
    std::fs::remove_file(folder.join("orders.csv")).unwrap();
    failed(2, &[], "orders.csv");
    folder.write("orders.csv", &format!("{BOOK}F,stool,two,2027-01-06,open\n"));
    assert_eq!(line(&nightly(&folder, &["--allow-rejects"]).code(0))["rejected_rows"], 1);
    // An empty run is published where somebody says that the book may be empty.
    folder.write("orders.csv", &format!("{header}\n"));
    assert_eq!(line(&nightly(&folder, &["--at-least", "0"]).code(0))["batches"], 0);
}

#[test]
fn a_row_that_stands_twice_is_told_by_the_night_as_by_a_plan() {
    let book = format!("{BOOK}A,stool,2,2027-01-06,open\n");
    let first = BOOK.lines().find(|line| line.starts_with("A,")).unwrap();
    assert!(book.lines().filter(|line| line.starts_with("A,")).count() > 1, "{first}");
    let folder =
        Folder::new(&[PARTS, PRICES, ("orders.csv", &book.replace("A,stool,2,2027-01-06,open", first))]);
    assert_eq!(line(&nightly(&folder, &[]).code(0))["repeated_rows"], 1);
    let text = std::fs::read_to_string(folder.join("out/latest/summary.txt")).unwrap();
    assert!(text.contains("rows 2 and 7 are the same line of an order: both are planned"), "{text}");
}

fn status(folder: &Folder, more: &[&str]) -> assert_cmd::assert::Assert {
    nightly(folder, &[&["--status"], more].concat())
}

/// A scheduler's second question: are the nights well?
#[test]
fn the_nights_tell_how_they_are_doing() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    let none = line(&status(&folder, &[]).code(1));
    assert_eq!((none["healthy"].as_bool(), none["run"].as_str()), (Some(false), None));
    let first = line(&nightly(&folder, &[]).code(0));
    let well = line(&status(&folder, &[]).code(0));
    assert_eq!(well["run"], first["run"]);
    assert_eq!((well["held_rows"].as_u64(), well["later_rows"].as_u64()), (Some(1), Some(1)));
    assert!(well["age_hours"].as_f64().unwrap() < 1.0 && well["bytes"].as_u64().unwrap() > 0);
    // A run that is too old needs somebody, and so does a last attempt that published nothing.
    status(&folder, &["--within", "0"]).code(1);
    folder.write("orders.csv", "order,product\n");
    nightly(&folder, &[]).code(2);
    let failed = line(&status(&folder, &[]).code(1));
    assert_eq!((failed["ended"].as_str(), failed["run"].as_str()), (Some("failed"), first["run"].as_str()));
    assert!(failed["error"].as_str().unwrap().contains("quantity"), "{failed}");
    folder.write("orders.csv", BOOK);
    nightly(&folder, &[]).code(0);
    let mut command = Command::new(env!("CARGO_BIN_EXE_ripwright"));
    command.arg("nightly").arg(folder.path()).arg("--out").arg(folder.join("out")).arg("--status");
    let text = command.assert().code(0);
    let text = String::from_utf8(text.get_output().stdout.clone()).unwrap();
    assert!(text.starts_with("Last run: ") && text.ends_with("All is well.\n"), "{text}");
}

#[test]
fn so_many_older_runs_are_kept_as_asked_for() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    for quantity in 3..8 {
        folder.write("orders.csv", &BOOK.replace("C,shelf,3", &format!("C,shelf,{quantity}")));
        nightly(&folder, &["--keep-runs", "2"]).code(0);
    }
    let status = line(&status(&folder, &[]).code(0));
    assert_eq!(status["runs_kept"], 3, "the latest and two older ones");
}

/// An order book as books are: its own words for states, pieces that are made already, and what was due before today.
#[test]
fn a_book_has_its_own_words_and_orders_that_are_partly_made() {
    let book = "order,product,quantity,due,status,done,priority,customer,note\n\
        A,stool,2,2027-01-06,In Work,,,,\n\
        B,stool,9,2027-01-07,shipped,,,,\n\
        C,shelf,5,2027-03-02,,2,1,The mill,leave a label\n\
        D,shelf,4,2027-03-02,,4,,,\n\
        E,shelf,4,2027-03-02,,5,,,\n\
        F,shelf,4,2020-03-02,,,0,,\n\
        G,shelf,1,2020-03-02,,,,,\n";
    let words = "[statuses]\n\"in work\" = \"open\"\nshipped = \"done\"\n";
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", book), ("shop.toml", words)]);
    let night = line(&nightly(&folder, &["--allow-rejects"]).code(0));
    // B is left by its word and D since all of it is made; E has more made than ordered, F no such priority.
    assert_eq!(
        (&night["planned_rows"], &night["held_rows"], &night["rejected_rows"]),
        (&3.into(), &2.into(), &2.into())
    );
    assert_eq!(night["overdue_rows"], 1);
    let rejects = std::fs::read_to_string(folder.join("out/latest/rejects.csv")).unwrap();
    assert!(rejects.contains("done") && rejects.contains("priority"), "{rejects}");
    // The week of March is planned for the three shelves that are left of C.
    let plan = std::fs::read(folder.join("out/latest/batch-03/plan.json")).unwrap();
    let document: serde_json::Value = serde_json::from_slice(&plan).unwrap();
    assert_eq!(document["parts"][0]["required"], 3);
}

#[test]
fn a_word_for_a_state_may_not_change_what_the_contract_says() {
    let shop = ("shop.toml", "[statuses]\nheld = \"open\"\nshipped = \"gone\"\n");
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK), shop]);
    let said = nightly(&folder, &[]).code(2).get_output().stderr.clone();
    let said = String::from_utf8(said).unwrap();
    assert!(said.contains("statuses.held") && said.contains("its own meaning"), "{said}");
    assert!(said.contains("statuses.shipped"), "{said}");
}

#[test]
fn each_stage_is_told_as_a_line_of_json() {
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", BOOK)]);
    let stages = |folder: &Folder| -> Vec<serde_json::Value> {
        let told = nightly(folder, &["--log", "json"]).code(0).get_output().stderr.clone();
        String::from_utf8(told).unwrap().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
    };
    let first = stages(&folder);
    let mut names: Vec<&str> = first.iter().map(|line| line["stage"].as_str().unwrap()).collect();
    // Two weeks are planned between the reading and the joining.
    assert_eq!((names.remove(1), names.remove(1)), ("week", "week"));
    assert_eq!(names, ["read", "joined", "published"]);
    assert!(first.iter().all(|line| line["seconds"].as_f64().is_some_and(|seconds| seconds >= 0.0)));
    assert_eq!((&first[0]["rows"], &first[0]["weeks"]), (&5.into(), &2.into()));
    let again = stages(&folder);
    let reused: Vec<bool> = again[1..3].iter().map(|line| line["reused"].as_bool().unwrap()).collect();
    assert_eq!(reused, [true, true]);
}

/// A night bought as many drawn boards as its plan cuts and not one more, so that most lots were too small.
#[test]
fn a_night_buys_the_spare_boards_of_drawn_lumber() {
    let shop = ("shop.toml", "[wood]\ndefects = \"by-grade\"\n");
    let prices = ("prices/yard.csv", "species,quarter,grade,width,length,price\noak,4/4,1C,5..9,7'..10',4\n");
    let parts =
        ("parts.csv", "product,part,pieces,length,width,thickness,species\nshelf,slat,6,30,2,3/4,oak\n");
    let book = ("orders.csv", "order,product,quantity,due\nA,shelf,5,2027-01-06\n");
    let folder = Folder::new(&[shop, prices, parts, book]);
    let document = |more: &[&str]| -> serde_json::Value {
        nightly(&folder, more).code(0);
        let plan = std::fs::read(folder.join("out/latest/batch-01/plan.json")).unwrap();
        serde_json::from_slice(&plan).unwrap()
    };
    let sure = document(&[]);
    assert_eq!(sure["confidence"]["asked_percent"], 90.0);
    assert!(sure["confidence"]["enough_percent"].as_f64().unwrap() >= 90.0, "{}", sure["confidence"]);
    let bare = document(&["--confidence", "0"]);
    assert!(bare["confidence"].is_null());
    let boards = |plan: &serde_json::Value| plan["buy"][0]["boards"].as_u64().unwrap();
    assert!(boards(&sure) > boards(&bare), "{} and {}", boards(&sure), boards(&bare));
}

#[test]
fn a_released_week_stays_as_it_is_until_its_orders_are_done() {
    let rack = (
        "rack.csv",
        "board,species,quarter,grade,width,length,value\nR1,oak,4/4,1C,6,40,0\nR2,oak,4/4,1C,6,40,0\n",
    );
    let book = "order,product,quantity,due,status\nC,shelf,1,2027-03-02,open\nD,shelf,1,2027-03-16,open\n";
    let folder = Folder::new(&[PARTS, PRICES, rack, ("orders.csv", book)]);
    let apart = ["--early", "0"];
    assert_eq!(line(&nightly(&folder, &apart).code(0))["batches"], 2);
    let plan_of = |batch: &str| std::fs::read(folder.join(&format!("out/latest/{batch}/plan.json"))).unwrap();
    let first = plan_of("batch-01");
    // A week is named by any of its days; one that no run has is named with those that it has.
    let wrong = nightly(&folder, &["--release", "2027-05-01"]).code(2);
    let error = String::from_utf8_lossy(&wrong.get_output().stderr).into_owned();
    assert!(error.contains("it has 2027-03-01, 2027-03-15"), "{error}");
    let told = nightly(&folder, &["--release", "2027-03-04"]).code(0);
    let told = String::from_utf8_lossy(&told.get_output().stdout).into_owned();
    assert!(told.contains("2027-03-01, 1 products") && told.contains("a board of the rack"), "{told}");
    nightly(&folder, &["--release", "2027-03-01"]).code(2);
    // Dearer boards, one more shelf of the same order and a new order of the same week: the released plan stays to the
    // byte, and the rest is a batch of its own that has the other rack board.
    folder.write("prices/yard.csv", &PRICES.1.replace("4.00", "9.00"));
    let more = "order,product,quantity,due,status\nC,shelf,2,2027-03-02,open\nD,shelf,1,2027-03-16,open\n\
                E,shelf,1,2027-03-03,open\n";
    folder.write("orders.csv", more);
    let night = line(&nightly(&folder, &apart).code(0));
    assert_eq!((&night["batches"], &night["released"]), (&3.into(), &1.into()));
    assert_eq!(plan_of("batch-01"), first);
    let second: serde_json::Value = serde_json::from_slice(&plan_of("batch-02")).unwrap();
    assert_eq!(second["parts"][0]["required"], 2);
    let sources: Vec<&str> =
        second["boards"].as_array().unwrap().iter().map(|board| board["source"].as_str().unwrap()).collect();
    let promised: serde_json::Value = serde_json::from_slice(&first).unwrap();
    let promised = promised["boards"][0]["source"].as_str().unwrap();
    assert!(promised.starts_with("rack:") && !sources.contains(&promised), "{promised} in {sources:?}");
    let summary = std::fs::read_to_string(folder.join("out/latest/summary.txt")).unwrap();
    assert!(summary.contains("optimal, released"), "{summary}");
    // Cut and gone from the rack: it stays until its order is done.
    folder.write("rack.csv", "board,species,quarter,grade,width,length,value\n");
    nightly(&folder, &apart).code(0);
    assert_eq!(plan_of("batch-01"), first);
    folder.write("orders.csv", &more.replace("C,shelf,2,2027-03-02,open", "C,shelf,2,2027-03-02,done"));
    let night = line(&nightly(&folder, &apart).code(0));
    assert_eq!((&night["batches"], &night["released"]), (&2.into(), &0.into()));
    assert_ne!(plan_of("batch-01"), first);
}

#[test]
fn a_released_week_can_be_recalled_and_is_not_believed_when_its_files_were_changed() {
    let book = "order,product,quantity\nC,shelf,1\n";
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", book)]);
    nightly(&folder, &[]).code(0);
    nightly(&folder, &["--recall", "undated"]).code(2);
    nightly(&folder, &["--release", "undated"]).code(0);
    assert_eq!(line(&nightly(&folder, &[]).code(0))["released"], 1);
    assert_eq!(line(&nightly(&folder, &["--status"]).code(0))["released"][0], "undated");
    let kept = std::fs::read_dir(folder.join("out/planned")).unwrap().next().unwrap().unwrap().path();
    std::fs::write(kept.join("cuts.csv"), "changed").unwrap();
    let night = line(&nightly(&folder, &[]).code(3));
    assert_eq!(night["ended"], "unplanned");
    nightly(&folder, &["--recall", "undated"]).code(0);
    let night = line(&nightly(&folder, &[]).code(0));
    assert_eq!((&night["released"], &night["reused"]), (&0.into(), &0.into()));
}

#[test]
fn a_week_that_the_saws_cannot_do_is_cut_early_as_far_as_it_may() {
    let book = "order,product,quantity,due\nA,shelf,1,2027-03-02\nB,shelf,40,2027-03-09\n";
    let shop =
        |hours: &str| format!("[labour]\ncut_minutes = \"3\"\n[stations]\ntable_saw_hours = \"{hours}\"\n");
    let folder = Folder::new(&[PARTS, PRICES, ("shop.toml", &shop("0")), ("orders.csv", book)]);
    let apart = ["--early", "0", "--confidence", "0"];
    nightly(&folder, &apart).code(0);
    let hours = |batch: usize| -> f64 {
        let summary = std::fs::read_to_string(folder.join("out/latest/summary.csv")).unwrap();
        summary.lines().nth(batch).unwrap().rsplit(',').next().unwrap().parse().unwrap()
    };
    let (first, second) = (hours(1), hours(2));
    // The plan's own cuts and settings give the hours: 3 minutes a cut, 2 a rip setting and 3 a stop.
    let plan = std::fs::read(folder.join("out/latest/batch-02/plan.json")).unwrap();
    let plan: serde_json::Value = serde_json::from_slice(&plan).unwrap();
    let boards = plan["boards"].as_array().unwrap().iter();
    let cuts: u64 = boards
        .map(|board| board["copies"].as_u64().unwrap() * board["cuts"].as_array().unwrap().len() as u64)
        .sum();
    let made = plan["settings_order"].as_array().unwrap();
    let settings: u64 = made.iter().map(|made| if made["kind"] == "stop" { 3 } else { 2 }).sum();
    assert!((second - (3 * cuts + settings) as f64 / 60.0).abs() < 0.01, "{second} {cuts} {settings}");
    // Half of the second week fits: the rest is cut a week early, and both fit.
    let most = (first + second) * 0.6;
    folder.write("shop.toml", &shop(&format!("{most:.2}")));
    nightly(&folder, &["--early", "1", "--confidence", "0"]).code(0);
    assert!(hours(1) <= most && hours(2) <= most, "{} {} of {most}", hours(1), hours(2));
    let told = std::fs::read_to_string(folder.join("out/latest/summary.txt")).unwrap();
    assert!(told.contains("of the week of 2027-03-08 are cut in the week of 2027-03-01"), "{told}");
    let page = std::fs::read_to_string(folder.join("out/latest/calendar.html")).unwrap();
    assert!(page.contains("table saw") && page.contains("are cut in the week of 2027-03-01"));
    // Nothing may be cut early: it is named.
    nightly(&folder, &apart).code(0);
    let told = std::fs::read_to_string(folder.join("out/latest/summary.txt")).unwrap();
    assert!(told.contains("batch-02 does not fit: the table saw needs"), "{told}");
}

#[test]
fn a_released_week_keeps_its_hours_of_the_saws() {
    let shop =
        |hours: &str| format!("[labour]\ncut_minutes = \"3\"\n[stations]\ntable_saw_hours = \"{hours}\"\n");
    let one = "order,product,quantity,due\nA,shelf,20,2027-03-09\n";
    let folder = Folder::new(&[PARTS, PRICES, ("shop.toml", &shop("0")), ("orders.csv", one)]);
    let apart = ["--early", "1", "--confidence", "0"];
    nightly(&folder, &apart).code(0);
    nightly(&folder, &["--release", "2027-03-08"]).code(0);
    let summary = || std::fs::read_to_string(folder.join("out/latest/summary.csv")).unwrap();
    let first: f64 = summary().lines().nth(1).unwrap().rsplit(',').next().unwrap().parse().unwrap();
    // What is ordered since would fit into a week by itself, and does not beside what is released of it.
    let most = first * 1.2;
    folder.write("shop.toml", &shop(&format!("{most:.2}")));
    folder.write("orders.csv", &format!("{one}B,shelf,20,2027-03-09\nC,shelf,1,2027-03-02\n"));
    nightly(&folder, &["--early", "0", "--confidence", "0"]).code(0);
    let told = || std::fs::read_to_string(folder.join("out/latest/summary.txt")).unwrap();
    let named = format!("hours of {most:.1} a week, {first:.1} of which are released already");
    assert!(told().contains(&named), "{}", told());
    // It may be cut a week early: then it is.
    nightly(&folder, &apart).code(0);
    assert!(told().contains("of the week of 2027-03-08 are cut in the week of 2027-03-01"), "{}", told());
    assert!(!told().contains("does not fit"), "{}", told());
}

fn latest(folder: &Folder, file: &str) -> String {
    std::fs::read_to_string(folder.join("out/latest").join(file)).unwrap()
}

#[test]
fn a_week_takes_what_the_weeks_before_it_leave() {
    // By hand: a board of 96 has 94 between its trims. The first week takes 30 and a kerf and leaves 63 7/8, which nothing is
    // trimmed off: the second week takes 30 and a kerf of it and leaves 33 3/4, and the third takes 30 of that.
    let book =
        "order,product,quantity,due\nA,shelf,1,2027-01-06\nB,shelf,1,2027-02-10\nC,shelf,1,2027-03-17\n";
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", book)]);
    let night = line(&nightly(&folder, &[]).code(0));
    assert_eq!(
        (&night["batches"], &night["cost"], &night["leftovers"]),
        (&3.into(), &"16.00".into(), &2.into())
    );
    let table = latest(&folder, "leftovers.csv");
    let rows: Vec<&str> = table.lines().skip(1).collect();
    assert!(rows[0].contains(",batch-01,batch-02,oak,4/4,1C,5,63 7/8"), "{table}");
    assert!(rows[1].contains(",batch-02,batch-03,oak,4/4,1C,5,33 3/4"), "{table}");
    let summary = latest(&folder, "summary.txt");
    assert!(
        summary.contains("batch-02: it takes a board that batch-01 leaves; that saves 16.00 USD"),
        "{summary}"
    );
    // The name is the one that the rack's ledger gives it once the first week is cut.
    let plan = std::fs::read(folder.join("out/latest/batch-01/plan.json")).unwrap();
    let name = format!("{}-1-1-1", &ripwright::intake::digest(&plan)[..8]);
    let second: serde_json::Value = serde_json::from_str(&latest(&folder, "batch-02/plan.json")).unwrap();
    assert_eq!(second["boards"][0]["source"], format!("rack:{name}"));
    assert_eq!(second["boards"][0]["trimmed"], true);
    // The same again, to the byte, and by itself where no week is to lean on another.
    let before = std::fs::read_link(folder.join("out/latest")).unwrap();
    let again = line(&nightly(&folder, &[]).code(0));
    assert_eq!((&again["reused"], &again["cost"]), (&3.into(), &"16.00".into()));
    assert_eq!(std::fs::read_link(folder.join("out/latest")).unwrap(), before);
    let apart = line(&nightly(&folder, &["--early", "0"]).code(0));
    assert_eq!((&apart["cost"], &apart["leftovers"]), (&"48.00".into(), &0.into()));
    // A plan that takes what another week leaves is not released before that one, nor is that one recalled before it.
    nightly(&folder, &[]).code(0);
    let refused = nightly(&folder, &["--release", "2027-02-10"]).code(2);
    let error = String::from_utf8_lossy(&refused.get_output().stderr).into_owned();
    assert!(error.contains("release the week of 2027-01-04 first"), "{error}");
    nightly(&folder, &["--release", "2027-01-06"]).code(0);
    nightly(&folder, &["--release", "2027-02-10"]).code(0);
    nightly(&folder, &["--recall", "2027-01-06"]).code(2);
    let held = line(&nightly(&folder, &[]).code(0));
    assert_eq!((&held["released"], &held["reused"], &held["cost"]), (&2.into(), &3.into(), &"16.00".into()));
    assert_eq!(latest(&folder, "leftovers.csv"), table);
}

#[test]
fn a_week_is_planned_anew_where_what_it_took_is_gone() {
    let book = "order,product,quantity,due\nA,shelf,1,2027-01-06\nB,shelf,1,2027-02-10\n";
    let folder = Folder::new(&[PARTS, PRICES, ("orders.csv", book)]);
    assert_eq!(line(&nightly(&folder, &[]).code(0))["leftovers"], 1);
    // Three shelves of 30 take the whole board.
    folder.write("orders.csv", &book.replace("A,shelf,1", "A,shelf,3"));
    let night = line(&nightly(&folder, &[]).code(0));
    assert_eq!((&night["leftovers"], &night["cost"]), (&0.into(), &"32.00".into()));
    // Once the first week is cut, what it left is on the rack under its name, and the second week stays as it was.
    folder.write("orders.csv", book);
    let plan_of =
        |batch: &str| std::fs::read(folder.join("out/latest").join(batch).join("plan.json")).unwrap();
    nightly(&folder, &["--improve"]).code(0);
    let (first, second) = (plan_of("batch-01"), plan_of("batch-02"));
    let name = format!("{}-1-1-1", &ripwright::intake::digest(&first)[..8]);
    folder.write(
        "rack.csv",
        &format!("board,species,quarter,grade,width,length,trimmed\n{name},oak,4/4,1C,5,63 7/8,yes\n"),
    );
    folder.write("orders.csv", "order,product,quantity,due\nB,shelf,1,2027-02-10\n");
    let night = line(&nightly(&folder, &[]).code(0));
    assert_eq!((&night["reused"], &night["cost"]), (&1.into(), &"0.00".into()));
    assert_eq!(plan_of("batch-01"), second);
}

#[test]
fn boards_of_a_released_week_are_promised_in_the_ledger() {
    let rack = ("rack.csv", "board,species,quarter,grade,width,length\nR1,oak,4/4,1C,6,40\n");
    let book = "order,product,quantity,due\nC,shelf,1,2027-03-02\n";
    let folder = Folder::new(&[PARTS, PRICES, rack, ("orders.csv", book)]);
    ripwright::rack::Ledger::import(folder.path()).unwrap();
    nightly(&folder, &[]).code(0);
    let free = || ripwright::rack::Ledger::open(folder.path()).unwrap().free().unwrap().len();
    nightly(&folder, &["--release", "2027-03-02"]).code(0);
    assert_eq!(free(), 0);
    // Another job cannot take it, and the night goes on with it.
    assert!(!std::fs::read_to_string(folder.join("rack.csv")).unwrap().contains("R1"));
    assert_eq!(line(&nightly(&folder, &[]).code(0))["cost"], "0.00");
    nightly(&folder, &["--recall", "2027-03-02"]).code(0);
    assert_eq!(free(), 1);
    // Promised to another plan, it cannot be released.
    nightly(&folder, &[]).code(0);
    let plan = latest(&folder, "batch-01/plan.json");
    let other = plan.replacen("\"optimal\"", "\"within-gap\"", 1);
    ripwright::rack::Ledger::open(folder.path()).unwrap().reserve(&other).unwrap();
    let refused = nightly(&folder, &["--release", "2027-03-02"]).code(2);
    let error = String::from_utf8_lossy(&refused.get_output().stderr).into_owned();
    assert!(error.contains("promised to another plan"), "{error}");
    assert_eq!(line(&nightly(&folder, &["--status"]))["released"].as_array().unwrap().len(), 0);
}

/// A week of more parts than one plan takes had no plan.
#[test]
fn a_week_of_too_many_parts_is_planned_in_several() {
    let products = 20_001;
    let mut parts = "product,part,pieces,length,width,thickness,species\n".to_string();
    let mut book = "order,product,quantity,due\n".to_string();
    for product in 0..products {
        parts.push_str(&format!("p{product},board,1,30,5,3/4,oak\n"));
        book.push_str(&format!("o{product},p{product},1,2027-01-06\n"));
    }
    let folder = Folder::new(&[("parts.csv", &parts), PRICES, ("orders.csv", &book)]);
    let night = line(&nightly(&folder, &[]).code(0));
    assert_eq!((&night["batches"], &night["planned_rows"]), (&2.into(), &products.into()));
    // By hand: three to a board of 16.00. The first half leaves a third of a board, which the second one takes.
    assert_eq!(night["cost"], "106672.00");
}
