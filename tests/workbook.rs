//! Jobs in workbooks, plans as workbooks, and jobs that are begun.
#![cfg(feature = "workbooks")]

mod support;

use std::collections::BTreeMap;
use std::path::Path;

use calamine::{Data, Reader, open_workbook_auto_from_rs};
use ripwright::begin::{NewError, new_job, new_job_asking, new_job_from};
use ripwright::intake::{Change, read_job, read_job_as_it_is, read_scenarios};
use ripwright::job::JobError;
use ripwright::measure::Unit;
use ripwright::planning::{Checked, Request, plan};
use ripwright::report::{PlanWorkbook, Report};
use ripwright::solve::Options;
use rust_xlsxwriter::{ExcelDateTime, Format, Formula, Workbook};
use support::{Folder, SMALL, proven};

/// Writes tables as sheets, every cell as a number where it is one.
fn write(path: &Path, sheets: &[(&str, &str)]) {
    let mut book = Workbook::new();
    for (name, table) in sheets {
        let sheet = book.add_worksheet();
        sheet.set_name(*name).unwrap();
        for (row, line) in table.lines().enumerate() {
            for (column, cell) in line.split(',').enumerate() {
                let (row, column) = (row as u32, column as u16);
                if cell.is_empty() {
                    continue;
                }
                match cell.parse::<f64>() {
                    Ok(number) => sheet.write_number(row, column, number).unwrap(),
                    Err(_) => sheet.write_string(row, column, cell).unwrap(),
                };
            }
        }
    }
    book.save(path).unwrap();
}

#[test]
fn a_workbook_reads_like_the_same_tables_in_files() {
    let plain = read_job(Folder::new(SMALL).path()).unwrap();
    let sheet = |file: &str| match file.strip_suffix(".csv").unwrap() {
        "prices/yard" => "Prices yard".to_string(),
        name => name.to_string(),
    };
    let names: Vec<(String, &str)> = SMALL.iter().map(|(name, text)| (sheet(name), *text)).collect();
    let mut sheets: Vec<(&str, &str)> = names.iter().map(|(name, text)| (name.as_str(), *text)).collect();
    sheets.push(("shop", "unit,in\nwood.defects,none\nsaw.stages,2\n"));
    sheets.push(("Notes", "call the yard,on Monday\n"));
    let folder = Folder::new(&[]);
    std::fs::remove_file(folder.join("shop.toml")).unwrap();
    let path = folder.join("job.xlsx");
    write(&path, &sheets);
    for place in [&path, &folder.path().to_path_buf()] {
        let job = read_job(place).unwrap();
        assert_eq!((&job.parts, &job.lines, &job.rack), (&plain.parts, &plain.lines, &plain.rack));
        assert_eq!(job.shop, plain.shop);
    }
    // The program writes the plan beside the workbook.
    let program = env!("CARGO_BIN_EXE_ripwright");
    assert!(std::process::Command::new(program).arg("plan").arg(&path).output().unwrap().status.success());
    assert!(folder.join("plan/plan.xlsx").is_file());
    // A file goes before a sheet of its name.
    folder.write("orders.csv", "order,product,quantity\nB,step stool,1\n");
    assert_eq!(read_job(folder.path()).unwrap().orders[0].order, "B");
    // One workbook a job.
    write(&folder.join("other.xlsx"), &sheets);
    let two = read_job(folder.path()).unwrap_err().to_string();
    assert!(two.contains("job.xlsx") && two.contains("other.xlsx"), "{two}");
}

#[test]
fn a_fault_of_a_sheet_has_its_row_and_its_column_s_letter() {
    let folder = Folder::new(SMALL);
    std::fs::remove_file(folder.join("orders.csv")).unwrap();
    std::fs::remove_file(folder.join("parts.csv")).unwrap();
    let mut book = Workbook::new();
    let day = Format::new().set_num_format("d-mmm");
    let sheet = book.add_worksheet().set_name("orders").unwrap();
    for (column, head) in ["order", "product", "quantity", "due"].iter().enumerate() {
        sheet.write_string(2, column as u16 + 1, *head).unwrap();
    }
    sheet.write_number(4, 1, 1042).unwrap().write_string(4, 2, "step stool").unwrap();
    sheet.write_formula(4, 3, Formula::new("=1+2").set_result("3")).unwrap();
    sheet.write_with_format(4, 4, ExcelDateTime::from_ymd(2027, 3, 31).unwrap(), &day).unwrap();
    let sheet = book.add_worksheet().set_name("parts").unwrap();
    for (column, head) in
        ["product", "part", "pieces", "length", "width", "thickness", "species"].iter().enumerate()
    {
        sheet.write_string(0, column as u16, *head).unwrap();
    }
    for (column, text) in ["step stool", "tread", "2", "14", "5 1/2", "", "red oak"].iter().enumerate() {
        sheet.write_string(1, column as u16, *text).unwrap();
    }
    sheet.write_with_format(1, 5, ExcelDateTime::from_ymd(2026, 3, 4).unwrap(), &day).unwrap();
    book.save(folder.join("list.xlsx")).unwrap();
    let Err(JobError::Faults { faults, .. }) = read_job(folder.path()) else { panic!("it is read") };
    let told: Vec<String> = faults.iter().map(ToString::to_string).collect();
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(told[0].starts_with("parts (sheet of list.xlsx), row 2, column thickness (F)"), "{told:?}");
    assert!(told[0].contains("did you mean 3/4?"), "{told:?}");
    folder.write(
        "parts.csv",
        "product,part,pieces,length,width,thickness,species\nstep stool,tread,2,14,5 1/2,3/4,red oak\n",
    );
    let job = read_job(folder.path()).unwrap();
    let order = &job.orders[0];
    assert_eq!((order.order.as_str(), order.quantity), ("1042", 3));
    assert_eq!((order.due.unwrap().to_string().as_str(), order.row), ("2027-03-31", 5));
}

#[test]
fn a_plan_is_a_workbook_as_well() {
    let job = read_job(Folder::new(SMALL).path()).unwrap();
    let checked = Checked::new(&job, job.clone(), proven(&job).0).unwrap();
    let bytes = PlanWorkbook(&checked).bytes().unwrap();
    assert!(bytes == PlanWorkbook(&checked).bytes().unwrap());
    let mut book = open_workbook_auto_from_rs(std::io::Cursor::new(bytes)).unwrap();
    assert_eq!(book.sheet_names(), ["Buy", "Cut list", "Boards", "Settings", "Wood"]);
    let mut column = |sheet: &str, head: &str| -> Vec<Data> {
        let range = book.worksheet_range(sheet).unwrap();
        let place = range.rows().next().unwrap().iter().position(|cell| *cell == head).unwrap();
        range.rows().skip(1).map(|row| row[place].clone()).collect()
    };
    let sum = |cells: &[Data]| {
        cells.iter().map(|cell| if let Data::Float(n) = cell { *n } else { 0.0 }).sum::<f64>()
    };
    let document = checked.document();
    assert_eq!(format!("{:.2}", sum(&column("Buy", "Cost (USD)"))), document.cost.lumber);
    let cut: u64 = document.parts.iter().map(|part| part.cut).sum();
    assert_eq!(sum(&column("Cut list", "Pieces cut")), cut as f64);
    assert_eq!(column("Settings", "At").len(), document.setups.len());
    assert_eq!(column("Wood", "Part of the wood").last(), Some(&Data::String("All boards".to_string())));
}

/// What `new` writes is planned as it stands, in both units, also with every example put beside it.
#[test]
fn a_new_job_is_one() {
    for unit in [Unit::Inch, Unit::Millimetre] {
        let folder = Folder::new(&[]);
        for (name, content) in new_job(unit) {
            let path = folder.join(&name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, content).unwrap();
        }
        let job = read_job(folder.path()).unwrap();
        assert_eq!((job.warnings.len(), job.parts.len(), job.shop.unit), (0, 5, unit));
        for example in std::fs::read_dir(folder.join("examples")).unwrap() {
            let example = example.unwrap().path();
            std::fs::copy(&example, folder.path().join(example.file_name().unwrap())).unwrap();
        }
        let with_all = read_job(folder.path()).unwrap();
        // The roll of the example is for sheets, of which these products have none.
        assert_eq!(with_all.warnings.len(), 1, "{:?}", with_all.warnings);
        assert_eq!((with_all.rack.len(), with_all.work.holes.len(), with_all.work.finishes.len()), (1, 1, 1));
        assert_eq!(with_all.rolls.len(), 1);
        // A column added in the middle shifted what stood behind it in the example.
        let scenarios = read_scenarios(&folder.join("scenarios.csv"), &with_all).unwrap();
        assert!(matches!(scenarios[0].changes[..], [Change::Kerf(_)]));
        assert!(matches!(scenarios[1].changes[..], [Change::Closed(_)]));
        assert!(!with_all.suppliers.raw[0].breaks.is_empty());
        let time = Some(std::time::Duration::from_secs(2));
        let options = Options { time, ..Options::default() };
        assert!(plan(&with_all, &Request::new(options), &|_| ()).unwrap().document().still_needed.is_empty());
    }
}

#[test]
fn a_list_with_headings_of_its_own_is_taken_over() {
    let folder = Folder::new(&[]);
    folder.write(
        "hall bench.csv",
        "Cut list for the bench\n\nName;Qty;Len (in);W;Thk;Wood;Note\nleg;4;16 3/4;2,25;1 1/2;red oak;\nrail;2;41;3;3/4;red oak;x\n",
    );
    let file = folder.join("hall bench.csv");
    let (files, taken) = new_job_from(&file, Unit::Inch, &BTreeMap::new()).unwrap();
    assert_eq!(taken.rows, 2);
    assert_eq!(taken.filled, [("product".to_string(), "hall bench".to_string())]);
    assert!(taken.from.contains(&("length".to_string(), "Len (in)".to_string())), "{taken:?}");
    assert_eq!(taken.left, ["Note"]);
    let place = Folder::new(&[]);
    for (name, content) in files {
        std::fs::create_dir_all(place.join(&name).parent().unwrap()).unwrap();
        std::fs::write(place.join(&name), content).unwrap();
    }
    let job = read_job_as_it_is(place.path()).unwrap();
    assert_eq!(job.parts.iter().map(|part| part.required).collect::<Vec<_>>(), [4, 2]);
    // The same list as a sheet, without the thickness.
    let book = folder.join("list.xlsx");
    write(&book, &[("Sheet1", "Name,Qty,Len,W,Stuff\nleg,4,16.75,2.25,red oak\n")]);
    match new_job_from(&book, Unit::Inch, &BTreeMap::new()) {
        Err(NewError::Missing { missing, .. }) => assert_eq!(missing, ["thickness", "species"]),
        other => panic!("{other:?}"),
    }
    // A person who is asked answers with the same for all rows, or with a heading's number.
    let mut asked = Vec::new();
    let (files, _) = new_job_asking(&book, Unit::Inch, &BTreeMap::new(), &mut |column, headings| {
        asked.push(column.to_string());
        assert_eq!(headings.last().map(String::as_str), Some("Stuff"));
        Some(if column == "species" { "5" } else { "=1 1/2" }.to_string())
    })
    .unwrap();
    assert_eq!(asked, ["thickness", "species"]);
    let parts = files.iter().find(|(name, _)| name == "parts.csv").unwrap();
    assert!(String::from_utf8_lossy(&parts.1).contains("list,leg,4,16.75,2.25,1 1/2,red oak"));
    assert!(new_job_asking(&book, Unit::Inch, &BTreeMap::new(), &mut |_, _| None).is_err());
    let named = [("thickness", "=1 1/2"), ("species", "stuff"), ("product", "=bench")];
    let named: BTreeMap<String, String> =
        named.iter().map(|(column, heading)| (column.to_string(), heading.to_string())).collect();
    let (files, _) = new_job_from(&book, Unit::Inch, &named).unwrap();
    let parts = files.iter().find(|(name, _)| name == "parts.csv").unwrap();
    assert!(String::from_utf8_lossy(&parts.1).contains("bench,leg,4,16.75,2.25,1 1/2,red oak"));
}
