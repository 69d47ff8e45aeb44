//! What may go wrong at night: a full disk, a folder that must not be written, a clock that jumps, a price
//! sheet that is gone. Nothing is lost, the message says what is wrong, and the next run succeeds.
#![cfg(target_os = "linux")]

mod support;

use std::path::Path;
use std::process::{Command, Output};

use support::{Folder, NIGHT};

const PARTS: (&str, &str) = NIGHT[0];
const PRICES: (&str, &str) = NIGHT[1];
const ORDERS: &str = "order,product,quantity,due\nA,stool,2,2027-01-06\nC,shelf,3,2027-03-02\n";

fn folder() -> Folder {
    Folder::new(&[PARTS, PRICES, ("orders.csv", ORDERS)])
}

/// `before` is what the shell does before it becomes the program.
fn in_shell(before: &str, arguments: &[&str], folder: &Path) -> Output {
    let program = env!("CARGO_BIN_EXE_ripwright");
    let words: Vec<String> = arguments.iter().map(|word| format!("'{word}'")).collect();
    let script = format!("{before} exec {program} {}", words.join(" "));
    let mut shell = Command::new("sh");
    shell.arg("-c").arg(script).current_dir(folder);
    // Where a trace is asked for, the standard library has no memory to make it of when memory runs out, and waits for
    // itself for ever: the README says so.
    shell.env_remove("RUST_BACKTRACE").output().unwrap()
}

const NIGHTLY: [&str; 10] =
    ["nightly", ".", "--out", "out", "--until", "2027-12-31", "--gap", "0", "--time", "20"];

/// Every file that a reader of the last night sees.
fn latest(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files = Vec::new();
    for batch in ["batch-01", "batch-02"] {
        for file in ["plan.json", "buy.csv", "cuts.csv", "setups.csv", "sheets.html"] {
            let name = format!("out/latest/{batch}/{file}");
            files.push((name.clone(), std::fs::read(folder.join(&name)).unwrap()));
        }
    }
    files
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A limit on the size of files stands for a full disk: a write beyond it fails in the same way.
#[test]
fn a_full_disk_leaves_last_night_as_it_was() {
    let folder = folder();
    assert_eq!(in_shell("", &NIGHTLY, folder.path()).status.code(), Some(0));
    let before = latest(folder.path());
    folder.write("orders.csv", &ORDERS.replace("A,stool,2", "A,stool,5"));
    let full = in_shell("trap '' XFSZ; ulimit -f 4;", &NIGHTLY, folder.path());
    assert_eq!(full.status.code(), Some(1), "{}", said(&full));
    assert!(said(&full).contains("out/"), "{}", said(&full));
    assert!(latest(folder.path()) == before, "a reader sees another night");
    let next = in_shell("", &NIGHTLY, folder.path());
    assert_eq!(next.status.code(), Some(0), "{}", said(&next));
    assert!(latest(folder.path()) != before, "the next run planned nothing new");
    let left = std::fs::read_dir(folder.join("out/runs")).unwrap();
    let torn = left.filter(|entry| entry.as_ref().unwrap().file_name().to_string_lossy().starts_with('.'));
    assert_eq!(torn.count(), 0);
}

#[test]
fn a_plan_that_cannot_be_written_leaves_the_old_one() {
    let folder = folder();
    let plan = ["plan", ".", "--out", "plan", "--gap", "0", "--quiet"];
    assert_eq!(in_shell("", &plan, folder.path()).status.code(), Some(0));
    let old = std::fs::read(folder.join("plan/plan.json")).unwrap();
    folder.write("orders.csv", &ORDERS.replace("A,stool,2", "A,stool,5"));
    let full = in_shell("trap '' XFSZ; ulimit -f 1;", &plan, folder.path());
    assert_eq!(full.status.code(), Some(1), "{}", said(&full));
    assert!(said(&full).contains("plan"), "{}", said(&full));
    assert_eq!(std::fs::read(folder.join("plan/plan.json")).unwrap(), old);
    // Standard output on a full device: an error, no panic.
    let full = Command::new(env!("CARGO_BIN_EXE_ripwright"))
        .args(["plan", ".", "--out", "-", "--gap", "0", "--quiet"])
        .current_dir(folder.path())
        .stdout(std::fs::File::options().write(true).open("/dev/full").unwrap())
        .output()
        .unwrap();
    assert_eq!(full.status.code(), Some(1), "{}", said(&full));
    assert!(!said(&full).contains("panicked"), "{}", said(&full));
}

#[test]
fn a_movement_that_finds_no_room_is_not_made() {
    let folder = folder();
    let header = "board,species,quarter,grade,width,length\n";
    folder.write("rack.csv", &format!("{header}B1,oak,4/4,1C,6,40\n"));
    let import = ["rack", "import", "."];
    assert_eq!(in_shell("", &import, folder.path()).status.code(), Some(0));
    let many: String = (0..2000).map(|board| format!("N{board},oak,4/4,1C,6,40\n")).collect();
    let rack = format!("{header}B1,oak,4/4,1C,6,40\n{many}");
    folder.write("rack.csv", &rack);
    let full = in_shell("trap '' XFSZ; ulimit -f 60;", &import, folder.path());
    assert_eq!(full.status.code(), Some(1), "{}", said(&full));
    let history = in_shell("", &["rack", "history", "."], folder.path());
    assert_eq!(String::from_utf8_lossy(&history.stdout).matches("import").count(), 1);
    let next = in_shell("", &import, folder.path());
    assert_eq!(next.status.code(), Some(0), "{}", said(&next));
}

/// Nobody may write to everything as root: the run goes under another user, where the system lets it.
#[test]
fn a_folder_that_must_not_be_written_is_named() {
    let folder = folder();
    assert_eq!(in_shell("", &NIGHTLY, folder.path()).status.code(), Some(0));
    let before = latest(folder.path());
    let as_other = "setpriv --reuid=65534 --regid=65534 --clear-groups";
    let open = format!("chmod a+rx . && chmod -R a+rX . && {as_other} test -r parts.csv");
    let opened = Command::new("sh").arg("-c").arg(open).current_dir(folder.path()).status().unwrap();
    let program = Path::new(env!("CARGO_BIN_EXE_ripwright"));
    let reach = format!("{as_other} test -x {}", program.display());
    let reached = Command::new("sh").arg("-c").arg(reach).status().unwrap();
    if !opened.success() || !reached.success() {
        println!("skipped: no other user can be taken on here, or none may run the program");
        return;
    }
    let words = NIGHTLY.join(" ");
    let script = format!("{as_other} {} {words}", program.display());
    let refused = Command::new("sh").arg("-c").arg(script).current_dir(folder.path()).output().unwrap();
    assert_eq!(refused.status.code(), Some(1), "{}", said(&refused));
    assert!(said(&refused).contains("out") && said(&refused).contains("ermission"), "{}", said(&refused));
    assert!(latest(folder.path()) == before);
    assert_eq!(in_shell("", &NIGHTLY, folder.path()).status.code(), Some(0));
}

#[test]
fn files_from_another_century_do_no_harm() {
    let folder = folder();
    assert_eq!(in_shell("", &NIGHTLY, folder.path()).status.code(), Some(0));
    let before = latest(folder.path());
    for date in ["1971-01-01", "2199-01-01"] {
        let touched = Command::new("sh")
            .arg("-c")
            .arg(format!("find . -exec touch -h -d {date} {{}} +"))
            .current_dir(folder.path())
            .status();
        assert!(touched.unwrap().success());
        let again = in_shell("", &NIGHTLY, folder.path());
        assert_eq!(again.status.code(), Some(0), "{date}: {}", said(&again));
        assert!(latest(folder.path()) == before, "{date}");
        folder.write("orders.csv", &ORDERS.replace("A,stool,2", "A,stool,5"));
        let changed = in_shell("", &NIGHTLY, folder.path());
        assert_eq!(changed.status.code(), Some(0), "{date}: {}", said(&changed));
        assert!(latest(folder.path()) != before, "{date}");
        folder.write("orders.csv", ORDERS);
    }
}

#[test]
fn a_price_sheet_that_is_gone_is_told_and_back_it_is_used_again() {
    let folder = folder();
    assert_eq!(in_shell("", &NIGHTLY, folder.path()).status.code(), Some(0));
    let before = latest(folder.path());
    std::fs::remove_file(folder.join("prices/yard.csv")).unwrap();
    let gone = in_shell("", &NIGHTLY, folder.path());
    assert!([Some(2), Some(3)].contains(&gone.status.code()), "{}", said(&gone));
    assert!(!said(&gone).contains("panicked") && !said(&gone).is_empty(), "{}", said(&gone));
    folder.write(PRICES.0, PRICES.1);
    assert_eq!(in_shell("", &NIGHTLY, folder.path()).status.code(), Some(0));
    assert!(latest(folder.path()) == before);
}

#[test]
fn files_of_two_plans_are_told_apart() {
    let folder = folder();
    let run = |arguments: &[&str]| in_shell("", arguments, folder.path());
    let check = || run(&["check", "plan/plan.json", "--job", "."]);
    assert!(run(&["plan", ".", "--gap", "0"]).status.success());
    assert!(check().status.success());
    // What a kill leaves between two files: a buy list of another plan.
    let buy = folder.join("plan/buy.csv");
    let before = std::fs::read_to_string(&buy).unwrap();
    std::fs::write(&buy, before.replace("5.00", "6.00")).unwrap();
    let told = check();
    assert_eq!(told.status.code(), Some(1));
    let text = String::from_utf8_lossy(&told.stderr).into_owned() + &String::from_utf8_lossy(&told.stdout);
    assert!(text.contains("buy.csv") && text.contains("plan again"), "{text}");
    std::fs::write(&buy, before).unwrap();
    assert!(check().status.success());
}

/// An option at its extreme is either used or refused by its name and what it takes.
#[test]
fn options_at_their_extremes_are_used_or_refused_by_name() {
    let folder = folder();
    let extremes: [(&str, &[&str], &[&str]); 7] = [
        ("--threads", &["0", "1024"], &["-1", "1025", "18446744073709551616", "two", ""]),
        ("--time", &["1e-300", "1000000"], &["0", "-1", "1e308", "NaN", "inf", ""]),
        ("--work", &["0", "18446744073709551615"], &["-1", "1.5", "18446744073709551616"]),
        ("--gap", &["0", "100"], &["-1", "100.1", "NaN", "1e308"]),
        ("--seed", &["0", "18446744073709551615"], &["-1", "18446744073709551616"]),
        ("--confidence", &["0", "100"], &["-1", "101", "NaN"]),
        ("--setup-tolerance", &["0", "100"], &["-1", "1e308"]),
    ];
    let at_least = in_shell("", &["nightly", ".", "--at-least", "-1"], folder.path());
    assert!(said(&at_least).contains("--at-least"), "{}", said(&at_least));
    for (option, used, refused) in extremes {
        for value in used {
            let output = in_shell("", &["plan", ".", "--out", "planned", option, value], folder.path());
            let code = output.status.code();
            assert!([Some(0), Some(4)].contains(&code), "{option} {value}: {code:?} {}", said(&output));
        }
        for value in refused {
            let output = in_shell("", &["plan", ".", "--out", "planned", option, value], folder.path());
            assert_eq!(output.status.code(), Some(2), "{option} {value}");
            assert!(said(&output).contains(option), "{option} {value}: {}", said(&output));
        }
    }
}

/// Streams that nobody reads, files that cannot be opened, and a process that may have hardly any memory.
#[test]
fn a_process_that_lacks_something_ends_with_a_code() {
    let folder = folder();
    let plan = ["plan", ".", "--out", "planned"];
    for streams in ["exec >&-;", "exec >&- 2>&-;", "exec <&- >&- 2>&-;"] {
        let output = in_shell(streams, &plan, folder.path());
        assert_eq!(output.status.code(), Some(0), "{streams}");
    }
    let output = in_shell("ulimit -n 5;", &["nightly", ".", "--out", "night"], folder.path());
    assert!(said(&output).contains("Too many open files"), "{}", said(&output));
    assert!([Some(1), Some(2)].contains(&output.status.code()));
    // However little there is, and wherever it runs out, the process does not end by a signal.
    // Below what Rust itself needs before it comes to the program, nothing of the program is tried.
    let limited = |kibibytes: usize, arguments: &[&str]| {
        in_shell(&format!("ulimit -v {kibibytes};"), arguments, folder.path())
    };
    let begins = |kibibytes: &usize| limited(*kibibytes, &["--version"]).status.success();
    let least = (16_000..60_000).step_by(1_000).find(begins).unwrap();
    for kibibytes in (least..least + 36_000).step_by(6_000) {
        let output = limited(kibibytes, &plan);
        assert!(output.status.code().is_some(), "{kibibytes}: {:?} {}", output.status, said(&output));
        let is_told = output.status.success() || !said(&output).is_empty();
        assert!(is_told, "{kibibytes}: {:?}", output.status);
    }
}

/// Places that are no folders, links that lead nowhere or round in circles, and names that are too long.
#[test]
fn a_place_that_cannot_be_written_is_named_and_nothing_is_left() {
    let folder = folder();
    let link = |to: &str, from: &str| std::os::unix::fs::symlink(to, folder.join(from)).unwrap();
    link("nowhere", "dangling");
    link("round", "round");
    link("real", "linked");
    folder.write("file", "");
    let long = "a".repeat(300);
    for place in ["dangling", "round", "file", "/dev/null", long.as_str()] {
        let output = in_shell("", &["plan", ".", "--out", place], folder.path());
        assert_eq!(output.status.code(), Some(1), "{place}");
        assert!(said(&output).contains(place), "{place}: {}", said(&output));
    }
    // A path of 4,000 bytes is no longer than a path may be.
    let deep = vec!["a".repeat(199); 20].join("/");
    std::fs::create_dir(folder.join("real")).unwrap();
    for place in [deep.as_str(), "linked"] {
        let output = in_shell("", &["plan", ".", "--out", place], folder.path());
        assert_eq!(output.status.code(), Some(0), "{place}: {}", said(&output));
    }
    assert!(folder.join("linked").is_symlink());
    assert!(folder.join("real/plan.json").is_file());
    let left = std::fs::read_dir(folder.path()).unwrap().map(|entry| entry.unwrap().file_name());
    let left: Vec<_> = left.filter(|name| name.to_string_lossy().contains(".ripwright")).collect();
    assert!(left.is_empty(), "{left:?}");
}

/// Eight plans written to one place at once: in the end there is one, whole.
#[test]
fn of_many_writers_of_one_folder_one_leaves_a_whole_plan() {
    let folder = folder();
    std::thread::scope(|scope| {
        for seed in 0..8 {
            let path = folder.path();
            scope.spawn(move || {
                let seed = seed.to_string();
                let output = in_shell("", &["plan", ".", "--out", "planned", "--seed", &seed], path);
                assert_eq!(output.status.code(), Some(0), "{}", said(&output));
            });
        }
    });
    let checked = in_shell("", &["check", "planned/plan.json", "--job", "."], folder.path());
    assert!(checked.status.success(), "{}", said(&checked));
}

/// Twenty processes cut one plan at once: its boards leave the rack once.
#[test]
fn of_twenty_processes_one_commits_a_plan() {
    let folder = folder();
    folder.write(
        "rack.csv",
        "board,species,quarter,grade,width,length,value,defects\nR1,oak,4/4,FAS,12,144,0,\n",
    );
    let run = |arguments: &[&str]| in_shell("", arguments, folder.path());
    assert!(run(&["rack", "import", "."]).status.success());
    let planned = run(&["plan", ".", "--out", "planned", "--gap", "0"]);
    assert!(planned.status.success(), "{}", said(&planned));
    let codes: Vec<Option<i32>> = std::thread::scope(|scope| {
        let commit = || run(&["rack", "commit", "planned/plan.json", "--job", "."]).status.code();
        let tries: Vec<_> = (0..20).map(|_| scope.spawn(commit)).collect();
        tries.into_iter().map(|one| one.join().unwrap()).collect()
    });
    assert_eq!(codes.iter().filter(|code| **code == Some(0)).count(), 1, "{codes:?}");
    assert!(codes.iter().all(|code| code.is_some()), "{codes:?}");
    let history = run(&["rack", "history", "."]);
    let history = String::from_utf8_lossy(&history.stdout).into_owned();
    assert_eq!(history.matches("commit").count(), 1, "{history}");
}
