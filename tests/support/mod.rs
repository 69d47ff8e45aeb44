//! What the integration tests share: job folders in temporary places, and truth by enumeration.

#![allow(dead_code, reason = "each test binary uses its own share")]

use std::path::{Path, PathBuf};

use ripwright::check::check;
use ripwright::document::Document;
use ripwright::job::Job;
use ripwright::plan::{Plan, build_plan};
use ripwright::solve::{Options, solve};

pub mod brute;

/// A job folder that goes away with the test.
pub struct Folder {
    place: tempfile::TempDir,
}

impl Folder {
    /// A folder with the given files; a name may hold a slash. Bought boards are clear unless `shop.toml` says
    /// otherwise.
    pub fn new(files: &[(&str, &str)]) -> Folder {
        let folder = Folder { place: tempfile::tempdir().unwrap() };
        folder.write("shop.toml", "");
        for (name, content) in files {
            folder.write(name, content);
        }
        folder
    }

    /// Writes or replaces a file.
    pub fn write(&self, name: &str, content: &str) {
        let path = self.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        let clear = name == "shop.toml" && !content.contains("[wood]");
        let wood = if clear { "\n[wood]\ndefects = \"none\"\n" } else { "" };
        std::fs::write(path, format!("{content}{wood}")).unwrap();
    }

    pub fn path(&self) -> &Path {
        self.place.path()
    }

    pub fn join(&self, name: &str) -> PathBuf {
        self.path().join(name)
    }
}

/// The cheapest plan of a job, proven and checked.
pub fn proven(job: &Job) -> (Plan, Document) {
    let options = Options { gap_percent: 0.0, time: None, threads: 1, ..Options::default() };
    let plan = build_plan(&solve(job, &options, &|_, _| ()).unwrap()).unwrap();
    let document = plan.document(job);
    assert_eq!(check(&document, job), []);
    (plan, document)
}

/// Parts and prices of two products that are due in different weeks.
pub const NIGHT: [(&str, &str); 2] = [
    (
        "parts.csv",
        "product,part,pieces,length,width,thickness,species\n\
         stool,leg,4,17,1 1/2,1,oak\nshelf,board,1,30,5,3/4,oak\n",
    ),
    (
        "prices/yard.csv",
        "species,quarter,grade,width,length,price\noak,5/4,1C,8,8',5.00\noak,4/4,1C,6,8',4.00\n",
    ),
];

/// A small sound job: one product, one dealer, one board of the rack.
pub const SMALL: &[(&str, &str)] = &[
    ("orders.csv", "order,product,quantity\nA-1,step stool,3\n"),
    (
        "parts.csv",
        "product,part,pieces,length,width,thickness,species,grade,fit\n\
         step stool,tread,2,14,5 1/2,3/4,red oak,1C,stop\n\
         step stool,side,2,11 1/4,7,3/4,red oak,1C,creep\n\
         step stool,rail,1,12 1/2,2,3/4,red oak,2A,to-work\n",
    ),
    (
        "prices/yard.csv",
        "species,quarter,grade,width,length,price,per,available\n\
         red oak,4/4,1C,8,8',4.10,bf,\n\
         red oak,4/4,FAS,6,10',5.60,bf,4\n",
    ),
    ("rack.csv", "board,species,quarter,grade,width,length,value,defects\nR1,red oak,4/4,1C,8,72,0.25,\n"),
];

/// A data set beside the project; tests of them are ignored where there are none.
pub fn shared_data(set: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared/data").join(set);
    assert!(folder.is_dir(), "the open data set {set} is not in {}", folder.display());
    folder
}
