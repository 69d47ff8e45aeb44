//! `edging.csv`: edging as it is sold, by the roll. The file is optional.

use super::log::Log;
use super::source::{Source, optional};
use super::table::Columns;
use crate::job::{EdgingRoll, Shop};
use crate::measure::Length;
use crate::trade::Quarter;

pub const ROLLS: Columns =
    Columns { required: &["species", "sheet", "thickness", "length", "price"], optional: &[] };

/// Longest roll that is read.
const LONGEST_ROLL: Length = Length::inches(100_000);

/// Reads the rolls that can be bought.
pub fn read_rolls(source: &dyn Source, shop: &Shop, log: &mut Log) -> Vec<EdgingRoll> {
    let Some(table) = optional(source, "edging.csv", &ROLLS, log) else { return Vec::new() };
    let mut rolls = Vec::new();
    for row in table.rows() {
        let species = row.name("species", log);
        let sheet = row.length("sheet", shop.unit, Quarter::quarters(32).rough(), log);
        let thickness = row.length("thickness", shop.unit, Length::inches(4), log);
        let length = row.length("length", shop.unit, LONGEST_ROLL, log);
        let price = row.money("price", None, log);
        if let (Some(species), Some(sheet), Some(thickness), Some(length), Some(price)) =
            (species, sheet, thickness, length, price)
        {
            rolls.push(EdgingRoll { species, sheet, thickness, length, price });
        }
    }
    rolls
}
