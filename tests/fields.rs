//! Every field of `plan.json`: what the check does when it changes. What it lets pass is listed, with the reason.

mod support;

use std::collections::{BTreeMap, BTreeSet};

use ripwright::check::check;
use ripwright::document::Document;
use ripwright::intake::read_job_as_it_is;
use ripwright::job::Job;
use ripwright::planning::{Request, plan_what_can_be};
use ripwright::solve::Options;
use serde_json::{Value, json};
use support::{Folder, SMALL};

/// Fields that may say anything, and why.
const FREE: &[(&str, &str)] = &[
    ("boards[].defects", DRAWN_ONLY),
    ("boards[].defects[].x0", DRAWN_ONLY),
    ("boards[].defects[].x1", DRAWN_ONLY),
    ("boards[].defects[].y0", DRAWN_ONLY),
    ("boards[].defects[].y1", DRAWN_ONLY),
    ("confidence.asked_percent", LOTS),
    ("confidence.curve", LOTS),
    ("confidence.curve[].board_feet", LOTS),
    ("confidence.curve[].enough_percent", LOTS),
    ("confidence.enough_percent", LOTS),
    ("confidence.high_percent", LOTS),
    ("confidence.lots", LOTS),
    ("confidence.low_percent", LOTS),
    ("confidence.spare_cost", LOTS),
    ("still_needed[].reason", WORDS),
    ("still_needed[].reason missing", WORDS),
    ("boards[].defects missing", DRAWN_ONLY),
    ("confidence missing", LOTS),
    ("confidence.curve missing", LOTS),
    ("buy[].grain missing", ADDED),
    ("buy[].length_to missing", ADDED),
    ("buy[].real missing", ADDED),
    ("buy[].square_feet missing", ADDED),
    ("buy[].width_to missing", ADDED),
    ("waste.finished_bf missing", ADDED),
    ("work.finishing[].finish_faces missing", ADDED),
];

const DRAWN_ONLY: &str =
    "a drawn board stands for boards to come: it may have any defects that its pieces stay clear of";
const LOTS: &str = "what fresh lots gave when they were opened: the check draws no boards";
const WORDS: &str = "words for a person";
const ADDED: &str =
    "an addition to the contract: a plan may leave it out, and must be right where it says it";

/// Places of one field that are changed: the first ones, and others of the same plan are like them.
const PLACES: usize = 6;

/// A path into a plan: names, and numbers of a list's items.
type Path = Vec<Step>;

#[derive(Debug, Clone, PartialEq)]
enum Step {
    Key(String),
    Item(usize),
    /// The field before it is taken out.
    Missing,
}

fn shown(path: &[Step]) -> String {
    let mut text = String::new();
    for step in path {
        match step {
            Step::Key(key) if text.is_empty() => text += key,
            Step::Key(key) => text += &format!(".{key}"),
            Step::Item(_) => text += "[]",
            Step::Missing => text += " missing",
        }
    }
    text
}

fn walk(value: &Value, path: &mut Path, out: &mut Vec<Path>) {
    let mut children: Vec<(Step, &Value)> = Vec::new();
    match value {
        Value::Object(map) => children.extend(map.iter().map(|(key, value)| (Step::Key(key.clone()), value))),
        Value::Array(list) => {
            out.push(path.clone());
            children.extend(list.iter().enumerate().map(|(item, value)| (Step::Item(item), value)));
        }
        _ => out.push(path.clone()),
    }
    if let Value::Object(map) = value {
        // A field may also go missing.
        let missing = map.keys().map(|key| [&path[..], &[Step::Key(key.clone()), Step::Missing]].concat());
        out.extend(missing);
    }
    for (step, child) in children {
        path.push(step);
        walk(child, path, out);
        path.pop();
    }
}

fn at<'v>(value: &'v mut Value, path: &[Step]) -> &'v mut Value {
    path.iter().fold(value, |value, step| match step {
        Step::Key(key) => &mut value[key.as_str()],
        Step::Item(item) => &mut value[*item],
        Step::Missing => value,
    })
}

/// The plan with one change.
fn changed(whole: &Value, path: &[Step], change: Value) -> Value {
    let mut other = whole.clone();
    match path {
        [parent @ .., Step::Key(key), Step::Missing] => {
            at(&mut other, parent).as_object_mut().unwrap().remove(key);
        }
        path => *at(&mut other, path) = change,
    }
    other
}

/// What a field may be changed to: each is another meaning.
fn changes(value: &Value) -> Vec<Value> {
    match value {
        Value::Bool(yes) => vec![json!(!yes)],
        Value::Number(number) if number.is_f64() => {
            let number = number.as_f64().unwrap();
            vec![json!(number + 1.0 / 64.0), json!(number - 1.0), json!(number * 2.0 + 1.0)]
        }
        Value::Number(number) => vec![json!(number.as_i64().unwrap() + 1), json!(0)],
        Value::String(text) => {
            let money = text.parse::<f64>().map(|amount| json!(format!("{:.2}", amount + 0.01)));
            vec![json!(format!("{text}x")), money.unwrap_or(json!(""))]
        }
        Value::Array(list) if list.is_empty() => Vec::new(),
        Value::Array(list) => {
            let without: Vec<Value> = list[1..].to_vec();
            let twice: Vec<Value> = list.iter().chain(&list[..1]).cloned().collect();
            vec![json!(without), json!(twice)]
        }
        Value::Null | Value::Object(_) => Vec::new(),
    }
}

/// The fields of a plan, and those of which some change passes the check.
fn judged(job: &Job, document: &Document) -> (BTreeSet<String>, BTreeMap<String, String>) {
    assert_eq!(check(document, job), []);
    let whole = serde_json::to_value(document).unwrap();
    let mut paths = Vec::new();
    walk(&whole, &mut Vec::new(), &mut paths);
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut passed = BTreeMap::new();
    for path in paths {
        let name = shown(&path);
        let places = seen.entry(name.clone()).or_insert(0);
        *places += 1;
        if *places > PLACES {
            continue;
        }
        let before = at(&mut whole.clone(), &path).clone();
        let missing = path.last() == Some(&Step::Missing);
        for change in if missing { vec![Value::Null] } else { changes(&before) } {
            let other = changed(&whole, &path, change.clone());
            // What cannot be read is refused.
            let Ok(read) = serde_json::from_value::<Document>(other) else { continue };
            if read != *document && check(&read, job).is_empty() {
                passed.insert(name.clone(), format!("{before} -> {change}"));
            }
        }
    }
    (seen.into_keys().collect(), passed)
}

fn plan_of(files: &[(&str, &str)]) -> (Job, Document) {
    let folder = Folder::new(files);
    let job = read_job_as_it_is(folder.path()).unwrap();
    let options = Options { gap_percent: 30.0, threads: 1, ..Options::default() };
    let request = Request::new(options).weighing_gluing().with_confidence(80.0);
    let checked = plan_what_can_be(&job, &request, &|_| ()).unwrap();
    (job, checked.document().clone())
}

const LUMBER: &[(&str, &str)] = &[
    ("orders.csv", "order,product,quantity\nA,bench,2\n"),
    (
        "parts.csv",
        "product,part,pieces,length,width,thickness,species,grade,fit,glue_up,captured\n\
         bench,top,1,40,11,3/4,oak,1C,stop,yes,\n\
         bench,leg,4,16,1 1/2,1 1/2,oak,1C,creep,no,\n\
         bench,panel,1,14,5,3/4,oak,1C,stop,no,1/16\n\
         bench,rail,2,36,2,3/4,oak,1C,to-work,no,\n\
         bench,beam,1,150,3,3/4,oak,1C,stop,no,\n\
         bench,peg,6,5,1,3/4,oak,1C,stop,no,\n",
    ),
    (
        "holes.csv",
        "product,part,holes,kind,gauge,diameter,depth,countersink,plug,plug_depth\n\
         bench,rail,2,lead,8,,1,yes,3/8,5/16\nbench,panel,2,plain,,1/4,,no,,\n",
    ),
    ("finish.csv", "product,finish,surface\nbench,oil,rough\n"),
    (
        "prices/yard.csv",
        "species,quarter,grade,width,length,price\noak,4/4,1C,6,96,4.00\noak,8/4,1C,6,60,6.00\n",
    ),
    ("suppliers.csv", "supplier,delivery,minimum_order,tally\nyard,12.00,20.00,exact\n"),
    ("breaks.csv", "supplier,from_bf,percent_off\nyard,10,5\n"),
    (
        "rack.csv",
        "board,species,quarter,grade,width,length,value,defects\nR1,oak,4/4,FAS,5,50,2.00,10..12@1..2\n",
    ),
    ("shop.toml", "[labour]\nhourly_rate = \"30\"\n[offcuts]\ncredit_percent = \"10\"\n"),
];

const DRAWN: &[(&str, &str)] = &[
    ("orders.csv", "order,product,quantity\nA,box,2\n"),
    (
        "parts.csv",
        "product,part,pieces,length,width,thickness,species\n\
         box,side,2,14,4,3/4,walnut\nbox,end,2,8,4,3/4,walnut\n",
    ),
    ("prices/yard.csv", "species,quarter,grade,width,length,price\nwalnut,4/4,1C,5..8,6'..8',7.50\n"),
    ("shop.toml", "[wood]\ndefects = \"by-grade\"\n"),
];

const SHEETS: &[(&str, &str)] = &[
    ("orders.csv", "order,product,quantity\nA,cabinet,2\n"),
    (
        "parts.csv",
        "product,part,pieces,length,width,thickness,species,material,grain,edges\n\
         cabinet,side,2,700,400,18,birch,sheet,along,1;0;0;0\n\
         cabinet,shelf,2,500,390,18,birch,sheet,any,\n",
    ),
    (
        "prices/yard.csv",
        "species,quarter,grade,width,length,price,per,material,grain\n\
         birch,18mm,both,1220,2440,60,piece,sheet,along\n",
    ),
    ("shop.toml", "unit = \"mm\"\n"),
];

const RESAWN: &[(&str, &str)] = &[
    ("orders.csv", "order,product,quantity\nA,tray,2\n"),
    ("parts.csv", "product,part,pieces,length,width,thickness,species\ntray,slat,6,20,3,1/4,ash\n"),
    ("prices/yard.csv", "species,quarter,grade,width,length,price\nash,4/4,FAS,7,60,5.00\n"),
    ("rack.csv", "board,species,quarter,grade,width,length,value,trimmed\nR1,ash,4/4,FAS,7,60,1.00,yes\n"),
    ("shop.toml", "[resaw]\nblanks = 3\n"),
];

#[test]
fn every_field_is_judged_or_said_to_be_free() {
    let mut seen = BTreeSet::new();
    let mut passed = BTreeMap::new();
    for files in [SMALL, LUMBER, DRAWN, SHEETS, RESAWN] {
        let (job, document) = plan_of(files);
        let (own, free) = judged(&job, &document);
        seen.extend(own);
        passed.extend(free);
    }
    println!("{} fields", seen.len());
    let known: BTreeSet<&str> = FREE.iter().map(|(field, _)| *field).collect();
    let more: Vec<_> = passed.iter().filter(|(field, _)| !known.contains(field.as_str())).collect();
    assert!(more.is_empty(), "changes that the check does not see: {more:#?}");
    let fewer: Vec<_> = known.iter().filter(|field| !passed.contains_key(**field)).collect();
    assert!(fewer.is_empty(), "said to be free, and judged: {fewer:?}");
    let guide = include_str!("../DEVELOPERS.md");
    for (field, why) in FREE {
        let row = guide.lines().find(|line| line.starts_with('|') && line.contains(&format!("`{field}`")));
        assert!(row.is_some_and(|row| row.contains(why)), "DEVELOPERS.md does not tell why {field} is free");
    }
}
