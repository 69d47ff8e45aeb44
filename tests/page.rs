//! The local page over its own line: who may ask, what is stored, what is refused. What a person sees of it is
//! tried in a browser by scripts/page.py.

mod support;

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use support::Folder;

const PARTS: &str = "product,part,pieces,length,width,thickness,species\nslat,slat,1,30,2,3/4,oak\n";

fn folder() -> Folder {
    Folder::new(&[
        ("shop.toml", "[milling]\nend_trim = \"0\"\nedge_trim = \"0\"\n"),
        ("orders.csv", "order,product,quantity\nA,slat,30\n"),
        ("parts.csv", PARTS),
        ("prices/yard.csv", "species,quarter,grade,width,length,price\noak,4/4,1C,6,96,4.50\n"),
    ])
}

/// A program that serves a job, and goes away with the test.
struct Page {
    program: Child,
    /// Where it listens.
    host: String,
    /// What every path begins with.
    before: String,
}

/// An answer: its status, its head and its body.
struct Answer {
    status: u16,
    head: String,
    body: String,
}

impl Answer {
    fn json(&self) -> Value {
        assert_eq!(self.status, 200, "{}", self.body);
        serde_json::from_str(&self.body).unwrap()
    }
}

impl Page {
    fn of(folder: &Folder, listen: &str) -> Page {
        let mut program = Command::new(env!("CARGO_BIN_EXE_ripwright"))
            .args(["serve", folder.path().to_str().unwrap(), "--listen", listen])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(program.stdout.take().unwrap()).lines();
        let address = lines.map_while(Result::ok).find_map(|line| {
            let word = line.split(' ').find_map(|word| word.strip_prefix("http://"))?;
            Some(word.to_string())
        });
        let (host, before) = address.as_deref().and_then(|text| text.split_once('/')).unwrap();
        Page { program, host: host.to_string(), before: format!("/{before}") }
    }

    fn new(folder: &Folder) -> Page {
        Page::of(folder, "127.0.0.1:0")
    }

    fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
        let mut line = TcpStream::connect(&self.host).unwrap();
        line.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let host = match headers.iter().any(|(name, _)| *name == "Host") {
            true => String::new(),
            false => format!("Host: {}\r\n", self.host),
        };
        let headers: String = headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
        let (before, length) = (&self.before, body.len());
        let head = format!(
            "{method} {before}{path} HTTP/1.1\r\n{host}{headers}Content-Length: {length}\r\nConnection: close\r\n\r\n"
        );
        // Who refuses a body may close the line before he has it all.
        let _ = line.write_all(head.as_bytes()).and_then(|()| line.write_all(body));
        let mut answer = Vec::new();
        let _ = line.read_to_end(&mut answer);
        let text = String::from_utf8_lossy(&answer).into_owned();
        let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
        let status = head.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or(0);
        Answer { status, head: head.to_string(), body: body.to_string() }
    }

    fn get(&self, path: &str) -> Answer {
        self.ask("GET", path, &[], b"")
    }

    fn post(&self, path: &str, body: &Value) -> Answer {
        let json = [("Content-Type", "application/json")];
        self.ask("POST", path, &json, body.to_string().as_bytes())
    }

    /// Waits until nothing is planned any more.
    fn ended(&self) -> Value {
        let end = Instant::now() + Duration::from_secs(60);
        loop {
            let state = self.get("run").json();
            if state["running"] == false {
                return state;
            }
            assert!(Instant::now() < end, "{state}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

fn slat() -> Value {
    json!(["slat", "slat", "1", "30", "2", "3/4", "oak"])
}

fn cell(text: &str) -> Value {
    json!({ "table": "parts.csv", "line": 2, "seen": slat(), "column": 4, "text": text })
}

#[test]
fn every_page_opens_with_the_headers_that_keep_others_out() {
    let folder = folder();
    let page = Page::new(&folder);
    let paths =
        ["", "plan", "compare", "scenarios", "rack", "yard", "settings", "table?name=parts.csv", "page.js"];
    for path in paths {
        let answer = page.get(path);
        assert_eq!(answer.status, 200, "{path}: {}", answer.body);
        for wanted in ["default-src 'none'", "nosniff", "no-referrer", "frame-ancestors 'none'", "no-store"] {
            assert!(answer.head.contains(wanted), "{path} has no {wanted}: {}", answer.head);
        }
        assert!(!answer.head.to_lowercase().contains("set-cookie"), "{path}");
        let outside = ["https://", "http://", "src=\"//"];
        assert!(outside.iter().all(|one| !answer.body.contains(one) || path == "page.js"), "{path}");
    }
}

#[test]
fn a_name_that_somebody_points_here_and_another_origin_are_refused() {
    let folder = folder();
    let page = Page::new(&folder);
    assert_eq!(page.ask("GET", "", &[("Host", "shop.example:4404")], b"").status, 403);
    let json = ("Content-Type", "application/json");
    let body = cell("3").to_string();
    let other = page.ask("POST", "table/cell", &[json, ("Origin", "http://other.example")], body.as_bytes());
    assert_eq!(other.status, 403);
    // A form of another page can send no JSON.
    let form = ("Content-Type", "text/plain");
    assert_eq!(page.ask("POST", "table/cell", &[form], body.as_bytes()).status, 415);
    assert_eq!(std::fs::read_to_string(folder.join("parts.csv")).unwrap(), PARTS);
}

#[test]
fn beyond_this_machine_only_the_key_opens_the_page() {
    let folder = folder();
    let mut page = Page::of(&folder, "0.0.0.0:0");
    assert!(page.before.len() > 30, "{}", page.before);
    assert_eq!(page.get("").status, 200);
    assert_eq!(page.ask("GET", "", &[("Host", "shop.example")], b"").status, 200);
    let key = std::mem::replace(&mut page.before, "/".to_string());
    assert_eq!((page.get("").status, page.get("plan").status), (404, 404));
    page.before = format!("{}0/", &key[..key.len() - 2]);
    assert!([200, 404].contains(&page.get("").status));
    page.before = "/00000000000000000000000000000000/".to_string();
    assert_eq!(page.get("").status, 404);
}

#[test]
fn no_name_leads_out_of_the_job() {
    let folder = folder();
    folder.write("secret.csv", "a\n1\n");
    let page = Page::new(&folder);
    for name in [
        "../parts.csv",
        "secret.csv",
        "prices/../parts.csv",
        "/etc/passwd",
        "prices/%2e%2e/parts.csv",
        "shop.toml",
    ] {
        assert_eq!(page.get(&format!("table?name={name}")).status, 404, "{name}");
        assert_eq!(page.get(&format!("file?name={name}")).status, 404, "{name}");
        let mut change = cell("3");
        change["table"] = json!(name);
        assert_eq!(page.post("table/cell", &change).status, 404, "{name}");
        assert_ne!(page.post("table/begin", &json!({ "table": name })).status, 200, "{name}");
    }
    assert_ne!(page.post("table/begin", &json!({ "table": "prices/../x.csv" })).status, 200);
    assert!(!folder.join("x.csv").exists());
    assert_eq!(page.post("table/begin", &json!({ "table": "prices/New Dealer.csv" })).status, 200);
    assert!(folder.join("prices/New Dealer.csv").exists());
}

#[test]
fn a_cell_goes_through_the_reader_and_comes_back_by_undo() {
    let folder = folder();
    let page = Page::new(&folder);
    let told = page.post("table/cell", &cell("wide")).json();
    assert_eq!(told["faults"][0]["column"], "width");
    assert_eq!(told["faults"][0]["line"], 2);
    // The page says it as the command does.
    let text = page.get("table?name=parts.csv").body;
    assert!(text.contains("aria-invalid") && text.contains("expected a length"), "{text}");
    assert_eq!(
        std::fs::read_to_string(folder.join("parts.csv")).unwrap(),
        PARTS.replace("30,2,", "30,wide,")
    );
    // Whoever saw the row as it was before overwrites nothing.
    let late = page.post("table/cell", &cell("3"));
    assert_eq!(late.status, 409);
    assert!(late.body.contains("wide"), "{}", late.body);
    assert_eq!(page.post("table/undo", &json!({ "table": "parts.csv" })).json()["undo"], 0);
    assert_eq!(std::fs::read_to_string(folder.join("parts.csv")).unwrap(), PARTS);
    // What a spreadsheet stored in between is not undone.
    page.post("table/cell", &cell("3")).json();
    folder.write("parts.csv", &PARTS.replace("slat,slat", "slat,thin slat"));
    assert_eq!(page.post("table/undo", &json!({ "table": "parts.csv" })).status, 409);
    assert!(std::fs::read_to_string(folder.join("parts.csv")).unwrap().contains("thin slat"));
}

#[test]
fn rows_and_settings_are_changed_and_kept_whole() {
    let folder = folder();
    let page = Page::new(&folder);
    let row = json!({ "table": "parts.csv", "cells": ["slat", "end", "2", "4", "2", "3/4", "oak"] });
    assert_eq!(page.post("table/row", &row).json()["all"], 0);
    assert!(std::fs::read_to_string(folder.join("parts.csv")).unwrap().ends_with("slat,end,2,4,2,3/4,oak\n"));
    let gone =
        json!({ "table": "parts.csv", "line": 3, "seen": ["slat", "end", "2", "4", "2", "3/4", "oak"] });
    assert_eq!(page.post("table/remove", &gone).json()["undo"], 2);
    assert_eq!(std::fs::read_to_string(folder.join("parts.csv")).unwrap(), PARTS);
    assert_eq!(page.post("table/row", &json!({ "table": "parts.csv", "cells": ["", " "] })).status, 422);
    // A column that the file may have, and no other.
    let column = |name: &str| json!({ "table": "parts.csv", "column": name });
    assert!(page.get("table?name=parts.csv").body.contains("data-add-column=\"match\""));
    assert_eq!(page.post("table/column", &column("match")).json()["all"], 0);
    let wider = std::fs::read_to_string(folder.join("parts.csv")).unwrap();
    assert!(
        wider.lines().next().unwrap().ends_with(",match") && wider.lines().nth(1).unwrap().ends_with(',')
    );
    assert!(!page.get("table?name=parts.csv").body.contains("data-add-column=\"match\""));
    assert_eq!(page.post("table/column", &column("match")).status, 422);
    assert_eq!(page.post("table/column", &column("colour")).status, 404);
    assert_eq!(page.post("table/undo", &json!({ "table": "parts.csv" })).status, 200);
    assert_eq!(std::fs::read_to_string(folder.join("parts.csv")).unwrap(), PARTS);
    let text = page.get("settings").body;
    let version = text.split("data-version=\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap();
    let wrong = page.post("settings", &json!({ "text": "unit = \"ell\"\n", "version": version })).json();
    assert!(wrong["faults"][0].as_str().unwrap().contains("unit"), "{wrong}");
    let late = page.post("settings", &json!({ "text": "", "version": version }));
    assert_eq!(late.status, 409);
    page.post("table/undo", &json!({ "table": "shop.toml" })).json();
    assert!(std::fs::read_to_string(folder.join("shop.toml")).unwrap().contains("end_trim"));
}

#[test]
fn a_plan_is_made_shown_and_stopped() {
    let folder = folder();
    let page = Page::new(&folder);
    let asked = json!({ "kind": "plan", "time": 20, "gap": 0 });
    page.post("run", &asked).json();
    assert_eq!(page.ended()["failed"], Value::Null);
    // 30 slats, six a board of 4 board feet at 4.50.
    let text = page.get("plan").body;
    assert!(text.contains("90.00 USD") && text.contains("Proven"), "{text}");
    assert!(!text.contains("plan again"));
    assert!(page.get("file?name=sheets.html").body.contains("</html>"));
    // The job changes, and the page says so.
    page.post("table/cell", &cell("3")).json();
    assert!(page.get("plan").body.contains("plan again"));
    for wrong in
        [json!({ "kind": "plan", "time": 0, "gap": 0 }), json!({ "kind": "plan", "time": 1, "gap": 101 })]
    {
        assert_eq!(page.post("run", &wrong).status, 422);
    }
    page.post("run", &json!({ "kind": "compare", "time": 20, "gap": 1 })).json();
    assert_eq!(page.post("run", &asked).status, 409);
    page.post("run/stop", &json!({})).json();
    assert_eq!(page.ended()["failed"], Value::Null);
    assert!(page.get("compare").body.contains("Bought from"));
    page.post("run", &json!({ "kind": "scenarios", "time": 20, "gap": 1 })).json();
    assert!(page.ended()["failed"].as_str().unwrap().contains("scenarios.csv"));
}

fn board(id: &str, name: &str, width: &str, decided: &str) -> Value {
    json!({ "id": id, "cells": [name, "oak", "4/4", "1C", width, "64in", "10", ""], "decided": decided })
}

#[test]
fn a_board_sent_twice_is_one_and_a_tally_comes_of_those_taken() {
    let folder = folder();
    let page = Page::new(&folder);
    page.get("yard");
    let valued = |state: &Value| state["needed"].as_array().is_some_and(|needed| !needed.is_empty());
    let settled = || {
        let end = Instant::now() + Duration::from_secs(60);
        loop {
            let state = page.get("yard/list").json();
            if valued(&state) && state["busy"] == false {
                return state;
            }
            assert!(Instant::now() < end, "{state}");
            std::thread::sleep(Duration::from_millis(50));
        }
    };
    settled();
    // Two slats along and two across at 3.00 each, as tests/yard.rs reckons them.
    let told = page.post("yard/board", &board("a1", "1", "4 1/4", "open")).json();
    assert_eq!((&told["advice"], &told["worth"]), (&json!("take"), &json!("12.00")));
    assert_eq!(told["pieces"], "4 slat");
    // What the sheet asks is kept: 64 x 4 1/4 of 4/4 are 1.889 board feet, at 4.50.
    let mut of_sheet = board("d4", "9", "4 1/4", "open");
    of_sheet["cells"][6] = json!("");
    of_sheet["dealer"] = json!("yard");
    assert_eq!(page.post("yard/board", &of_sheet).json()["cells"][6], "8.50");
    of_sheet["decided"] = json!("undone");
    page.post("yard/board", &of_sheet).json();
    for _ in 0..2 {
        page.post("yard/board", &board("a1", "1", "4 1/4", "taken")).json();
    }
    assert_eq!(page.post("yard/board", &board("b2", "1", "4 1/4", "taken")).status, 409);
    page.post("yard/board", &board("b2", "2", "4 1/4", "left")).json();
    let wrong = page.post("yard/board", &board("c3", "3", "wide", "open"));
    assert_eq!(wrong.status, 422);
    assert!(wrong.body.starts_with("width: "), "{}", wrong.body);
    let state = settled();
    assert_eq!((&state["taken"], &state["cost"]), (&json!(1), &json!("10.00")));
    let part = state["needed"][0]["parts"][0].as_str().unwrap();
    assert!(part.starts_with("26 slat of slat"), "{state}");
    assert_eq!(std::fs::read_to_string(folder.join("yard/measured.csv")).unwrap().lines().count(), 4);
    page.post("yard/finish", &json!({})).json();
    assert_eq!(page.ended()["failed"], Value::Null);
    let tally = std::fs::read_to_string(folder.join("yard/bought.csv")).unwrap();
    assert_eq!(tally.lines().nth(1), Some("1,oak,4/4,1C,4 1/4,64in,10.00,"));
    assert!(folder.join("yard/sheets.html").exists());
    // Another server finds the stack as it was left.
    drop(page);
    let page = Page::new(&folder);
    page.get("yard");
    assert_eq!(page.get("yard/list").json()["taken"], 1);
}

#[test]
fn a_hundred_at_once_and_a_huge_upload_leave_it_standing() {
    let folder = folder();
    let page = Page::new(&folder);
    let huge = vec![b' '; 50 << 20];
    let json = [("Content-Type", "application/json")];
    let refused = page.ask("POST", "table/cell", &json, &huge).status;
    // Where the line is closed before the answer is read there is none.
    assert!([413, 0].contains(&refused), "{refused}");
    std::thread::scope(|scope| {
        let asked: Vec<_> =
            (0..100).map(|_| scope.spawn(|| page.get("table?name=parts.csv").status)).collect();
        assert!(asked.into_iter().all(|one| one.join().unwrap() == 200));
    });
    assert_eq!(page.post("table/cell", &json!({ "table": 7 })).status, 422);
    assert_eq!(page.ask("POST", "table/cell", &json, b"{").status, 400);
    assert_eq!(page.get("").status, 200);
    assert_eq!(std::fs::read_to_string(folder.join("parts.csv")).unwrap(), PARTS);
}

#[test]
fn an_address_that_is_taken_is_told() {
    let folder = folder();
    let page = Page::new(&folder);
    let other = Command::new(env!("CARGO_BIN_EXE_ripwright"))
        .args(["serve", folder.path().to_str().unwrap(), "--listen", &page.host])
        .output()
        .unwrap();
    assert_eq!(other.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&other.stderr).contains("cannot be listened on"));
}

/// A workbook of the same job, with a note beside it whose formula and format must stay.
#[cfg(feature = "workbooks")]
fn write_workbook(folder: &Folder) {
    use rust_xlsxwriter::{Format, Formula, Workbook};
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    sheet.set_name("Parts").unwrap();
    for (row, line) in PARTS.lines().enumerate() {
        for (column, cell) in line.split(',').enumerate() {
            let (row, column) = (row as u32, column as u16);
            match cell.parse::<f64>() {
                Ok(number) => {
                    let bold = Format::new().set_bold();
                    sheet.write_number_with_format(row, column, number, &bold).unwrap()
                }
                Err(_) => sheet.write_string(row, column, cell).unwrap(),
            };
        }
    }
    sheet.write_formula(2, 2, Formula::new("1+1").set_result("2")).unwrap();
    for (column, cell) in [(0, "slat"), (1, "cap"), (3, "20"), (4, "2"), (5, "3/4"), (6, "oak")] {
        sheet.write_string(2, column, cell).unwrap();
    }
    let notes = book.add_worksheet();
    notes.set_name("Notes").unwrap();
    notes.write_formula(0, 0, Formula::new("Parts!D2*2").set_result("60")).unwrap();
    book.save(folder.join("job.xlsx")).unwrap();
    std::fs::remove_file(folder.join("parts.csv")).unwrap();
}

#[cfg(feature = "workbooks")]
#[test]
fn a_sheet_of_a_workbook_is_changed_in_place() {
    use calamine::{Data, Reader, open_workbook_auto};
    let folder = folder();
    write_workbook(&folder);
    let original = std::fs::read(folder.join("job.xlsx")).unwrap();
    let page = Page::new(&folder);
    assert!(!page.get("table?name=parts.csv").body.contains("readonly"));
    let rows = || {
        let mut book = open_workbook_auto(folder.join("job.xlsx")).unwrap();
        let notes = book.worksheet_formula("Notes").unwrap();
        assert_eq!(notes.get((0, 0)).map(String::as_str), Some("Parts!D2*2"));
        book.worksheet_range("Parts").unwrap()
    };
    let told = page.post("table/cell", &cell("wide")).json();
    assert_eq!(told["faults"][0]["line"], 2);
    assert_eq!(rows().get((1, 4)), Some(&Data::String("wide".to_string())));
    let seen = json!(["slat", "slat", "1", "30", "wide", "3/4", "oak"]);
    let number = json!({ "table": "parts.csv", "line": 2, "seen": seen, "column": 4, "text": "2.5" });
    assert_eq!(page.post("table/cell", &number).json()["all"], 0);
    assert_eq!(rows().get((1, 4)), Some(&Data::Float(2.5)));
    // A row more, one that is taken out, a column more.
    let row = json!({ "table": "parts.csv", "cells": ["slat", "end & top", "2", "4", "2", "3/4", "oak"] });
    assert_eq!(page.post("table/row", &row).json()["all"], 0);
    assert_eq!(rows().get((3, 1)), Some(&Data::String("end & top".to_string())));
    let first = json!(["slat", "slat", "1", "30", "2.5", "3/4", "oak"]);
    let gone = json!({ "table": "parts.csv", "line": 2, "seen": first });
    assert_eq!(page.post("table/remove", &gone).json()["all"], 0);
    assert_eq!(rows().get((1, 0)), Some(&Data::Empty));
    let column = json!({ "table": "parts.csv", "column": "match" });
    assert_eq!(page.post("table/column", &column).json()["undo"], 5);
    assert_eq!(rows().get((0, 7)), Some(&Data::String("match".to_string())));
    // A formula is the workbook's own.
    let cap = json!(["slat", "cap", "2", "20", "2", "3/4", "oak", ""]);
    let formula = json!({ "table": "parts.csv", "line": 3, "seen": cap, "column": 2, "text": "3" });
    let refused = page.post("table/cell", &formula);
    assert!(refused.status >= 400 && refused.body.contains("formula"), "{}", refused.body);
    // A spreadsheet that has it open would overwrite what is changed here.
    folder.write(".~lock.job.xlsx#", "");
    assert_eq!(page.post("table/cell", &number).status, 409);
    std::fs::remove_file(folder.join(".~lock.job.xlsx#")).unwrap();
    for left in (0..5).rev() {
        assert_eq!(page.post("table/undo", &json!({ "table": "parts.csv" })).json()["undo"], left);
    }
    assert_eq!(std::fs::read(folder.join("job.xlsx")).unwrap(), original);
}
