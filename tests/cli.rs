//! The program as its users meet it: exit codes, error texts, files.

mod support;

use assert_cmd::Command;
use support::{Folder, SMALL};

fn ripwright() -> Command {
    Command::new(env!("CARGO_BIN_EXE_ripwright"))
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Runs `plan` on a folder and gives (exit code, standard error).
fn plan(folder: &Folder, more: &[&str]) -> (i32, String) {
    let output = ripwright()
        .arg("plan")
        .arg(folder.path())
        .arg("--out")
        .arg(folder.join("out"))
        .args(more)
        .output()
        .unwrap();
    (output.status.code().unwrap(), text(&output.stderr))
}

/// The demo with boards taken as clear, which is planned in a moment.
fn clear_demo() -> Folder {
    let folder = Folder::new(&[]);
    for (name, content) in
        ripwright::demo::files(ripwright::demo::Demo::Furniture, ripwright::measure::Unit::Inch)
    {
        folder.write(name, content);
    }
    folder
}

#[test]
fn a_plan_is_written_whole_and_checks() {
    let folder = Folder::new(SMALL);
    assert_eq!(plan(&folder, &[]), (0, String::new()));
    for name in ["plan.json", "buy.csv", "cuts.csv", "setups.csv", "sheets.html"] {
        assert!(folder.join("out").join(name).is_file(), "{name}");
    }
    let check = |quiet: &[&str]| {
        ripwright()
            .arg("check")
            .arg(folder.join("out/plan.json"))
            .arg("--job")
            .arg(folder.path())
            .args(quiet)
            .output()
            .unwrap()
    };
    let output = check(&[]);
    assert_eq!(output.status.code(), Some(0));
    assert!(text(&output.stdout).starts_with("sound:"), "{}", text(&output.stdout));
    assert_eq!(check(&["--quiet"]).stdout, b"");
    let json = std::fs::read_to_string(folder.join("out/plan.json")).unwrap();
    std::fs::write(folder.join("out/plan.json"), json.replacen("\"copies\": 1", "\"copies\": 2", 1)).unwrap();
    let output = check(&[]);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stdout).starts_with("not sound:"));
    std::fs::write(folder.join("out/plan.json"), "{").unwrap();
    assert_eq!(check(&[]).status.code(), Some(2));
}

#[test]
fn the_same_input_gives_the_same_bytes_whatever_the_threads() {
    let folder = clear_demo();
    let run = |threads: &str| {
        let output = ripwright()
            .args(["plan", "--out", "-", "--gap", "3", "--threads", threads])
            .arg(folder.path())
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(0));
        output.stdout
    };
    let one = run("1");
    assert!(one == run("2"), "two threads give another plan than one");
    assert!(one == run("1"), "two runs differ");
}

#[test]
fn every_fault_of_every_file_is_told() {
    let folder = Folder::new(SMALL);
    folder.write("orders.csv", "order,product,quantity,due\nA,step stool,0,soon\nB,chest,2,\n");
    folder.write(
        "prices/yard.csv",
        "species;quarter;grade;width;length;price;wholesale\r\nred oak;4/4;1C;8;900';4.10;x\r\nred oak;4/4;prime;8;8';-4;\r\nred oak;5/5;FAS;9..5;NaN;4.123456;\r\n",
    );
    let (code, error) = plan(&folder, &[]);
    assert_eq!(code, 2);
    for sentence in [
        "orders.csv, row 2, column quantity: \"0\": expected a whole number from 1",
        "orders.csv, row 2, column due: \"soon\": expected a date",
        "orders.csv, row 3, column product: the product chest is ordered but not described",
        "prices/yard.csv, row 2, column length: \"900'\": it is longer than",
        "prices/yard.csv, row 3, column grade: \"prime\": expected FAS",
        "prices/yard.csv, row 3, column price: \"-4\": it is negative",
        "prices/yard.csv, row 4, column quarter: \"5/5\": expected a class",
        "prices/yard.csv, row 4, column width: \"9..5\": its upper end is below its lower end",
        "prices/yard.csv, row 4, column length: \"NaN\"",
        "prices/yard.csv, row 4, column price: \"4.123456\": it has more than 4 decimal places",
        "prices/yard.csv: the column wholesale is not known and is ignored",
    ] {
        assert!(error.contains(sentence), "missing: {sentence}\n{error}");
    }
}

#[test]
fn a_byte_order_mark_crlf_quotes_and_semicolons_are_read() {
    let folder = Folder::new(SMALL);
    folder.write("orders.csv", "\u{feff}quantity;\"product\";order\r\n3;\"step stool\";\"A-1\"\r\n\r\n");
    assert_eq!(plan(&folder, &[]).0, 0);
}

#[test]
fn a_file_that_is_not_text_is_told() {
    let folder = Folder::new(SMALL);
    std::fs::write(folder.join("orders.csv"), b"order,product,quantity\nA,step \x00\xff,3\n").unwrap();
    let (code, error) = plan(&folder, &[]);
    assert_eq!(code, 2);
    assert!(error.contains("orders.csv, row 2: is not a readable table: the text is not UTF-8"), "{error}");
}

#[test]
fn missing_files_and_columns_are_told() {
    let folder = Folder::new(SMALL);
    std::fs::remove_file(folder.join("parts.csv")).unwrap();
    folder.write("orders.csv", "order,quantity\nA,3\n");
    let (code, error) = plan(&folder, &[]);
    assert_eq!(code, 2);
    assert!(error.contains("parts.csv: cannot be read"), "{error}");
    assert!(error.contains("orders.csv, row 1: the column product is missing"), "{error}");
    let output = ripwright().args(["plan", "/nowhere/at/all", "--out", "-"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
}

#[test]
fn a_job_larger_than_one_plan_can_be_is_told_at_once() {
    let parts: String = (0..20_001).map(|part| format!("P,p{part},1,20,3,3/4,oak\n")).collect();
    let folder = Folder::new(&[
        ("orders.csv", "order,product,quantity\n1,P,1\n"),
        ("parts.csv", &format!("product,part,pieces,length,width,thickness,species\n{parts}")),
        ("prices/yard.csv", "species,quarter,grade,width,length,price\noak,4/4,1C,6,8',5\n"),
    ]);
    let (code, said) = plan(&folder, &[]);
    assert_eq!(code, 2);
    assert!(said.contains("20001 different parts") && said.contains("order fewer products"), "{said}");
    // A file of a gigabyte, without writing one.
    std::fs::File::create(folder.join("rack.csv")).unwrap().set_len(1 << 30).unwrap();
    let (code, said) = plan(&folder, &[]);
    assert_eq!(code, 2);
    assert!(said.contains("rack.csv") && said.contains("is it the right file"), "{said}");
}

#[test]
fn parts_that_nobody_can_yield_exit_3_with_the_reason() {
    let cases = [
        ("step stool,tread,2,14,5 1/2,3/4,zebrawood,1C", "nobody sells zebrawood"),
        ("step stool,tread,2,14,5 1/2,1 1/2,red oak,1C", "too thick"),
        ("step stool,tread,2,119,5 1/2,3/4,red oak,1C", "too long"),
        ("step stool,tread,2,14,9,3/4,red oak,1C", "too wide"),
    ];
    for (row, reason) in cases {
        let folder = Folder::new(SMALL);
        folder.write(
            "parts.csv",
            &format!("product,part,pieces,length,width,thickness,species,grade\n{row}\n"),
        );
        let (code, error) = plan(&folder, &[]);
        assert_eq!(code, 3, "{error}");
        assert!(error.contains("step stool / tread") && error.contains(reason), "{error}");
    }
    let folder = Folder::new(SMALL);
    folder.write("prices/yard.csv", "species,quarter,grade,width,length,price\nred oak,4/4,2A,8,8',4.10\n");
    folder.write("rack.csv", "board,species,quarter,grade,width,length\n");
    let (code, error) = plan(&folder, &[]);
    assert_eq!(code, 3);
    assert!(error.contains("no red oak thick enough is of grade 1C or better"), "{error}");
}

#[test]
fn boards_that_run_out_exit_3() {
    let folder = Folder::new(SMALL);
    folder.write(
        "prices/yard.csv",
        "species,quarter,grade,width,length,price,available\nred oak,4/4,1C,8,2',4.10,1\n",
    );
    let (code, error) = plan(&folder, &[]);
    assert_eq!(code, 3, "{error}");
    assert!(error.contains("step stool /"), "{error}");
}

#[test]
fn bad_options_exit_2() {
    let folder = Folder::new(SMALL);
    for option in
        [["--gap", "-1"], ["--gap", "x"], ["--time", "0"], ["--threads", "-2"], ["--solver", "abacus"]]
    {
        assert_eq!(plan(&folder, &option).0, 2, "{option:?}");
    }
    #[cfg(not(feature = "highs"))]
    {
        let (code, error) = plan(&folder, &["--solver", "highs"]);
        assert_eq!(code, 2);
        assert!(error.contains("--features highs"), "{error}");
    }
}

#[test]
fn an_output_folder_that_cannot_be_made_exits_1() {
    let folder = Folder::new(SMALL);
    folder.write("out", "a file stands where the folder should be");
    let (code, error) = plan(&folder, &[]);
    assert_eq!(code, 1);
    assert!(error.contains("cannot be written"), "{error}");
}

#[test]
fn standard_output_takes_each_format() {
    let folder = Folder::new(SMALL);
    let run = |format: &[&str]| {
        let output =
            ripwright().arg("plan").arg(folder.path()).args(["--out", "-"]).args(format).output().unwrap();
        assert_eq!(output.status.code(), Some(0));
        text(&output.stdout)
    };
    assert!(run(&[]).starts_with("{\n  \"format\": \"ripwright-plan/1\""));
    assert!(run(&["--format", "text"]).starts_with("Buy:"));
    assert!(run(&["--format", "csv"]).starts_with("supplier,species,quarter"));
}

#[test]
fn a_stop_before_the_gap_exits_4_with_a_complete_plan() {
    let folder = clear_demo();
    let out = folder.join("out");
    let output = ripwright()
        .args(["plan", "--gap", "0", "--time", "0.05", "--out"])
        .arg(&out)
        .arg(folder.path())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(4), "{}", text(&output.stderr));
    ripwright().arg("check").arg(out.join("plan.json")).arg("--job").arg(folder.path()).assert().success();
}

/// The whole page of text on a small job, word for word.
#[test]
fn the_summary_reads_as_it_should() {
    let folder = Folder::new(SMALL);
    let output =
        ripwright().arg("plan").arg(folder.path()).args(["--out", "-", "--format", "text"]).output().unwrap();
    insta::assert_snapshot!(text(&output.stdout));
}

#[test]
fn both_demos_are_sound_jobs() {
    for unit in ["in", "mm"] {
        let folder = Folder::new(&[]);
        ripwright().arg("demo").arg(folder.join("demo")).args(["--unit", unit]).assert().success();
        let job = ripwright::intake::read_job(&folder.join("demo")).unwrap();
        assert_eq!(job.warnings, []);
        assert!(job.lines.iter().all(|line| !line.drawn.is_empty()), "the demo's boards are drawn");
        // What the issue of the demo asks for.
        let products: std::collections::BTreeSet<_> = job.parts.iter().map(|part| &part.product).collect();
        let species: std::collections::BTreeSet<_> = job.lines.iter().map(|line| &line.species).collect();
        let classes: std::collections::BTreeSet<_> = job.lines.iter().map(|line| line.quarter).collect();
        assert!(products.len() >= 8 && job.parts.len() >= 60 && species.len() >= 4 && classes.len() >= 4);
        assert!(job.suppliers.len() >= 3 && job.rack.len() >= 25 && job.orders.len() >= 40);
        let scenarios = ripwright::intake::read_scenarios(&folder.join("demo/scenarios.csv"), &job).unwrap();
        assert!(scenarios.len() >= 5);
    }
}

#[test]
fn a_real_plan_is_what_the_published_schema_says() {
    let schema = ripwright().args(["reference", "schema"]).assert().success();
    let schema: serde_json::Value = serde_json::from_slice(&schema.get_output().stdout).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let folder = Folder::new(SMALL);
    let plan = ripwright().arg("plan").arg(folder.path()).args(["--out", "-"]).assert();
    let mut plan: serde_json::Value = serde_json::from_slice(&plan.get_output().stdout).unwrap();
    let faults: Vec<String> = validator.iter_errors(&plan).map(|error| error.to_string()).collect();
    assert!(faults.is_empty(), "{faults:?}");
    plan["boards"][0]["copies"] = "two".into();
    assert!(!validator.is_valid(&plan));
}

#[test]
fn completions_and_manual_pages_name_every_command() {
    let folder = Folder::new(&[]);
    Command::cargo_bin("ripwright")
        .unwrap()
        .args(["reference", "manual"])
        .arg(folder.path())
        .assert()
        .success();
    let bash = Command::cargo_bin("ripwright")
        .unwrap()
        .args(["reference", "completions", "bash"])
        .assert()
        .success();
    let bash = String::from_utf8_lossy(&bash.get_output().stdout).into_owned();
    for command in ["plan", "compare", "scenarios", "yard", "nightly", "check", "demo"] {
        let page = std::fs::read_to_string(folder.join(&format!("ripwright-{command}.1"))).unwrap();
        assert!(page.contains(".SH SYNOPSIS") || page.contains("SYNOPSIS"), "{command}");
        assert!(bash.contains(command));
    }
}

/// `plan` leaves out the rows that cannot be read, names them on the sheets, and still says that the input is bad. Asked
/// to be strict, it plans nothing.
#[test]
fn rows_that_cannot_be_read_are_left_out_and_the_rest_is_planned() {
    let folder = Folder::new(&[]);
    folder.write("shop.toml", "[wood]\ndefects = \"none\"\n");
    folder.write("orders.csv", "order,product,quantity\n1,box,2\n2,box,some\n");
    let header = "product,part,pieces,length,width,thickness,species\n";
    folder.write("parts.csv", &format!("{header}box,side,2,20,3,3/4,oak\nbox,end,2,1O,3,3/4,oak\n"));
    let header = "species,quarter,grade,width,length,price\n";
    folder.write("prices/yard.csv", &format!("{header}oak,4/4,FAS,6,8ft,8.00\noak,4/4,FAS,8,8ft,cheap\n"));
    let (code, _) = plan(&folder, &["--quiet", "--strict"]);
    assert_eq!(code, 2);
    assert!(!folder.join("out").exists());
    let (code, told) = plan(&folder, &["--quiet"]);
    assert_eq!(code, 2);
    let rows = ["orders.csv, row 3", "parts.csv, row 3", "prices/yard.csv, row 3"];
    assert!(rows.iter().all(|row| told.contains(row)), "{told}");
    let document = std::fs::read_to_string(folder.join("out/plan.json")).unwrap();
    let document: serde_json::Value = serde_json::from_str(&document).unwrap();
    assert_eq!(document["parts"].as_array().unwrap().len(), 1);
    assert_eq!(document["parts"][0]["required"], 4);
    let sheets = std::fs::read_to_string(folder.join("out/sheets.html")).unwrap();
    assert!(sheets.contains("these rows cannot be read") && sheets.contains("parts.csv, row 3"));
    let check = |more: &[&str]| {
        let mut command = ripwright();
        command.arg("check").arg(folder.join("out/plan.json")).arg("--job").arg(folder.path()).args(more);
        command.output().unwrap().status.code()
    };
    assert_eq!(check(&[]), Some(0));
    // Where no order can be read there is nothing to plan.
    folder.write("orders.csv", "order,product,quantity\n2,box,some\n");
    let none =
        ripwright().arg("plan").arg(folder.path()).arg("--out").arg(folder.join("none")).output().unwrap();
    assert_eq!(none.status.code(), Some(2));
    assert!(!folder.join("none").exists());
    // A row that went bad after the plan was made is a fault of the plan.
    let box_three = "order,product,quantity\n1,box,2\n2,box,some\n3,box,more\n";
    folder.write("orders.csv", box_three);
    assert_eq!(check(&[]), Some(1));
}

/// However long the machine takes and however many threads it has: the same turns give the same plan, which says how many
/// they were.
#[test]
fn work_that_is_counted_gives_the_same_plan_on_any_machine() {
    let folder = clear_demo();
    let orders = std::fs::read_to_string(folder.join("orders.csv")).unwrap();
    folder.write("orders.csv", &orders.lines().take(5).collect::<Vec<_>>().join("\n"));
    let planned = |work: &str, threads: &str| {
        let more = ["--gap", "0", "--work", work, "--threads", threads, "--setup-tolerance", "0", "--quiet"];
        assert_eq!(plan(&folder, &more).0, 4);
        std::fs::read(folder.join("out/plan.json")).unwrap()
    };
    let one = planned("1", "1");
    assert_eq!(planned("1", "2"), one);
    let total = |plan: &[u8]| -> (u64, f64) {
        let plan: serde_json::Value = serde_json::from_slice(plan).unwrap();
        (plan["turns"].as_u64().unwrap(), plan["cost"]["total"].as_str().unwrap().parse().unwrap())
    };
    let (none, one, three) = (total(&planned("0", "0")), total(&one), total(&planned("3", "0")));
    assert_eq!((none.0, one.0, three.0), (0, 1, 3));
    assert!(none.1 >= one.1 && one.1 >= three.1, "{none:?} {one:?} {three:?}");
}
