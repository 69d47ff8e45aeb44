//! Files as people and spreadsheets write them, and jobs of which a part cannot be had.

mod support;

use ripwright::check::check;
use ripwright::intake::{read_job, read_job_as_it_is};
use ripwright::job::{Job, JobError};
use ripwright::measure::{Length, Unit};
use ripwright::planning::{PlanningError, Request, plan_what_can_be};
use ripwright::report::{Detail, Report, Summary};
use ripwright::solve::Options;
use ripwright::trade::Grade;
use support::{Folder, SMALL};

fn told(job: &Job) -> String {
    job.warnings.iter().map(|warning| format!("{warning}\n")).collect()
}

fn faults(folder: &Folder) -> Vec<String> {
    match read_job(folder.path()) {
        Err(JobError::Faults { faults, .. }) => faults.iter().map(ToString::to_string).collect(),
        other => panic!("{other:?}"),
    }
}

/// One sheet with everything at once reads like the plain one, and says what it took for what.
#[test]
fn a_sheet_as_people_write_it_is_read_and_told_about() {
    let folder = Folder::new(SMALL);
    let plain = read_job(folder.path()).unwrap();
    folder.write("orders.csv", "Order,Product,Quantity,Due\nA-1,Step  Stool,3.0,3/31/2027\n");
    folder.write(
        "parts.csv",
        "product,part,pieces,length,width,thickness,species,grade,fit\n\
         step stool,tread,2,14,5½,¾\u{201d},red oak,No. 1 Common,Stop\n\
         step stool,side,2 pcs,11 ¼ in.,7,3/4,red oak,1C,creep\n\
         step stool,rail,1,12 1/2,2,3/4,red oak,#2A,To Work\n",
    );
    folder.write(
        "prices/yard.csv",
        "species,quarter,grade,width,length,price,per,available\n\
         red oak,4 / 4,#1 Common,8,8 ft,$4.10,bd ft,\nred oak,4/4,FAS,6,10’,\"5,60\",bf,4\n",
    );
    let job = read_job(folder.path()).unwrap();
    assert_eq!(job.parts, plain.parts);
    assert_eq!(job.lines, plain.lines);
    assert_eq!(job.orders[0].product, "step stool");
    assert_eq!(job.orders[0].due.unwrap().to_string(), "2027-03-31");
    let told = told(&job);
    for one in [
        "orders.csv: row 2, column product: \"Step  Stool\" is read as step stool",
        "orders.csv: row 2, column due: \"3/31/2027\" is read as 2027-03-31",
        "parts.csv: row 2, column grade: \"No. 1 Common\" is read as 1C and 1 more cell",
        "parts.csv: row 2, column thickness",
        "prices/yard.csv: row 2, column price: \"$4.10\" is read as 4.10 and 1 more cell",
        "prices/yard.csv: row 2, column per: \"bd ft\" is read as bf",
    ] {
        assert!(told.contains(one), "{one}:\n{told}");
    }
}

#[test]
fn files_of_older_spreadsheets_are_decoded() {
    let folder = Folder::new(SMALL);
    let parts = "product;part;pieces;length;width;thickness;species\nstep stool;Füße;2;11,25;7,5;¾;rød eg\n";
    let read = |bytes: &[u8]| {
        std::fs::write(folder.join("parts.csv"), bytes).unwrap();
        read_job_as_it_is(folder.path()).unwrap()
    };
    let utf8 = read(parts.as_bytes());
    assert_eq!(utf8.parts.raw[0].length, Length::parse("11.25", Unit::Inch).unwrap());
    let little: Vec<u8> =
        "\u{feff}".encode_utf16().chain(parts.encode_utf16()).flat_map(u16::to_le_bytes).collect();
    let big: Vec<u8> =
        "\u{feff}".encode_utf16().chain(parts.encode_utf16()).flat_map(u16::to_be_bytes).collect();
    let latin: Vec<u8> = parts.chars().map(|letter| u8::try_from(letter as u32).unwrap()).collect();
    for bytes in [&little, &big, &latin] {
        assert_eq!(read(bytes).parts, utf8.parts);
    }
    assert!(told(&read(&latin)).contains("row 2 is no UTF-8 text; it is read as Windows-1252"));
    // What is no text in any of these is refused.
    std::fs::write(folder.join("parts.csv"), [0xff, 0xfe, 0x41]).unwrap();
    assert!(faults(&folder)[0].contains("UTF-16, and it is none"));
    std::fs::write(folder.join("parts.csv"), b"product,part\n\x81\x00,1\n").unwrap();
    assert!(!faults(&folder).is_empty());
}

/// A row that cannot be read is one fault, whatever else refers to it.
#[test]
fn one_bad_row_is_one_fault() {
    let folder = Folder::new(SMALL);
    folder.write(
        "parts.csv",
        "product,part,pieces,length,width,thickness,species\nstep stool,tread,two,14,5,3/4,red oak\n",
    );
    folder.write("holes.csv", "product,part,holes,diameter\nstep stool,tread,2,1/4\n");
    let found = faults(&folder);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].contains("parts.csv, row 2, column pieces"), "{found:?}");
}

#[test]
fn a_line_that_stands_there_twice_is_told() {
    let folder = Folder::new(SMALL);
    folder.write("orders.csv", "order,product,quantity\nA,step stool,1\nA,step stool,2\nA,step stool,1\n");
    let job = read_job(folder.path()).unwrap();
    assert_eq!(job.orders.len(), 3);
    assert_eq!(told(&job), "orders.csv: rows 2 and 4 are the same line of an order: both are planned\n");
}

#[test]
fn a_slip_and_a_date_get_a_hint() {
    let folder = Folder::new(SMALL);
    folder.write("orders.csv", "order,product,quantity,due\nA,stepp stool,1,3/4/2027\n");
    folder.write(
        "parts.csv",
        "product,part,pieces,length,width,thickness,species\nstep stool,tread,2,14,5,4-Mar,red oak\n\
         step stool,side,2,14,5,3/4,red oak\n",
    );
    let found = faults(&folder).join("\n");
    for hint in [
        "did you mean step stool?",
        "2027-03-04 or 2027-04-03?",
        "did you mean 3/4? format the column as text",
    ] {
        assert!(found.contains(hint), "{hint}:\n{found}");
    }
}

#[test]
fn a_dealers_own_grades_are_read_by_the_shops_table() {
    let folder = Folder::new(SMALL);
    folder.write("shop.toml", "[grades]\nA = \"FAS\"\n\"natur B\" = \"No. 1 Common\"\n");
    folder.write(
        "prices/yard.csv",
        "species,quarter,grade,width,length,price\nred oak,4/4,a,8,8',4\nred oak,4/4,Natur  B,8,8',3\n",
    );
    let job = read_job(folder.path()).unwrap();
    let grades: Vec<Grade> = job.lines.iter().map(|line| line.grade).collect();
    assert_eq!(grades, [Grade::Fas, Grade::C1]);
    folder.write("shop.toml", "[grades]\nA = \"best\"\n");
    assert!(faults(&folder)[0].contains("grades.A"));
}

/// What no board gives is left out, with the reason, and the rest is planned, checked and told on one screen.
#[test]
fn the_rest_is_planned_where_a_part_cannot_be_had() {
    let folder = Folder::new(SMALL);
    folder.write(
        "parts.csv",
        "product,part,pieces,length,width,thickness,species,grade,fit\n\
         step stool,tread,2,14,5 1/2,3/4,red oak,1C,stop\nstep stool,boom,1,300,5,3/4,red oak,,\n\
         step stool,inlay,1,4,1,3/4,ebony,,\n",
    );
    assert!(matches!(read_job(folder.path()), Err(JobError::Unobtainable(missing)) if missing.len() == 2));
    let job = read_job_as_it_is(folder.path()).unwrap();
    let options = Options { gap_percent: 0.0, ..Options::default() };
    let checked = plan_what_can_be(&job, &Request::new(options.clone()), &|_| ()).unwrap();
    let open: Vec<&str> = checked.document().still_needed.iter().map(|one| one.part.as_str()).collect();
    assert_eq!(open, ["boom", "inlay"]);
    let screen = String::from_utf8(Summary(&checked, Detail::default()).bytes().unwrap()).unwrap();
    assert!(screen.lines().count() <= 23, "{screen}");
    assert!(
        screen.contains("step stool / boom: too long") && screen.contains("nobody sells ebony"),
        "{screen}"
    );
    // The check lets a plan leave out nothing that a board gives.
    let mut document = checked.document().clone();
    document.still_needed[1].part = "tread".to_string();
    let found: Vec<String> = check(&document, &job).iter().map(ToString::to_string).collect();
    assert!(found.iter().any(|fault| fault.contains("there are boards that give it")), "{found:?}");
    let mut document = checked.document().clone();
    document.still_needed[0].parts = 1;
    let found: Vec<String> = check(&document, &job).iter().map(ToString::to_string).collect();
    assert!(found.iter().any(|fault| fault.contains("there are boards that give it")), "{found:?}");
    // Where nothing can be had there is no plan.
    folder.write(
        "parts.csv",
        "product,part,pieces,length,width,thickness,species\nstep stool,inlay,1,4,1,3/4,ebony\n",
    );
    let none = plan_what_can_be(&read_job_as_it_is(folder.path()).unwrap(), &Request::new(options), &|_| ());
    assert!(matches!(none, Err(PlanningError::Job(JobError::Unobtainable(_)))));
}

/// Where no part can be read at all, that is the one fault: the orders are as right as they were.
#[test]
fn a_file_that_cannot_be_read_leads_to_no_further_faults() {
    let folder = Folder::new(SMALL);
    folder.write("parts.csv", "product,part\n");
    let faults = faults(&folder);
    assert!(faults.iter().all(|fault| fault.starts_with("parts.csv")), "{faults:?}");
}
