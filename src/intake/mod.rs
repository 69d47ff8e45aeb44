//! Files to job: the reading of a job folder, of an order book, and of what goes with them.
//!
//! What lives here: one reader a file, with every fault of every file. What never does: rules of the trade,
//! which are in `job` and `trade`.

mod book;
mod cells;
mod edit;
mod foreign;
mod hash;
mod keys;
mod log;
mod names;
#[cfg(feature = "workbooks")]
mod ods;
mod orders;
#[cfg(feature = "workbooks")]
mod packed;
mod parts;
mod place;
mod prices;
mod rack;
mod read;
mod records;
mod reference;
mod rolls;
mod row;
mod scenarios;
mod sheet;
mod shop;
mod source;
mod table;
mod tally;
mod work;
#[cfg(feature = "workbooks")]
mod workbook;
#[cfg(feature = "workbooks")]
mod xlsx;

pub use book::{Base, Book, BookRow, Reject, SpokenFor, monday, read_base, read_book};
pub use edit::{CellTexts, Edit, EditError, Editable, EditableRow, version};
pub use foreign::{Foreign, read_foreign};
pub use hash::{digest, hex};
pub use place::{Place, folder_of, workbook_with};
pub use read::{
    read_job, read_job_as_it_is, read_job_despite_bad_prices, read_job_despite_bad_rows, read_rack_of,
};
pub use records::header_of;
pub use reference::{FILES, FileReference, PARTS, SETTINGS, SettingReference, shop_toml};
pub use scenarios::{Change, ScenarioRows, read_scenarios};
pub use sheet::letters;
pub use source::Source;
pub use tally::{board_at_yard, job_of_tally};
