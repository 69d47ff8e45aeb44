//! What a plan leaves once it is cut: its kept offcuts as boards of the rack, each with a name of its own.

use super::{BoardEntry, Document};
use crate::job::{RackBoard, Sheet};
use crate::measure::{Length, Money, Unit};
use crate::trade::{Grade, Quarter, SheetGrain};

/// Digits of a plan's hash that name it to people.
pub const SHORT_KEY: usize = 8;

/// What a board is made of, beside its class.
#[derive(Debug, Clone)]
pub struct Wood {
    /// Species as written.
    pub species: String,
    /// Grade.
    pub grade: Grade,
    /// What sheets have beyond that.
    pub sheet: Sheet,
}

impl Wood {
    /// What a board on hand is made of.
    pub fn of(board: &RackBoard) -> Wood {
        Wood { species: board.species.clone(), grade: board.grade, sheet: board.sheet.clone() }
    }
}

impl Document {
    /// Names of the boards on hand that it cuts.
    pub fn takes(&self) -> impl Iterator<Item = &str> {
        self.boards.iter().filter_map(|board| board.source.strip_prefix("rack:"))
    }

    /// What the boards of a row of the buy are made of.
    ///
    /// # Errors
    /// What of the row is not valid.
    pub fn wood_bought(&self, row: usize, unit: Unit) -> Result<Wood, &'static str> {
        let row = self.buy.get(row).ok_or("source")?;
        let grain = row.grain.as_deref().map(|grain| SheetGrain::parse(grain).ok_or("grain"));
        let sheet = Sheet {
            core: row.core.clone(),
            grain: grain.transpose()?.unwrap_or_default(),
            real: row.real.and_then(|real| Length::from_f64(real, unit)),
        };
        let grade = Grade::parse(&row.grade).ok_or("grade")?;
        Ok(Wood { species: row.species.clone(), grade, sheet })
    }
}

impl BoardEntry {
    /// The kept offcuts of all its copies, without a value, named after the plan, the board, the copy and the offcut.
    /// `key` is the hash of the plan.
    ///
    /// # Errors
    /// What of the board is not valid.
    pub fn leftovers(
        &self,
        wood: &Wood,
        key: &str,
        unit: Unit,
    ) -> Result<impl Iterator<Item = RackBoard>, &'static str> {
        let plain = |id: &str| id.len() <= 20 && id.chars().all(|one| one.is_ascii_alphanumeric());
        if !plain(&self.id) {
            return Err("name");
        }
        let quarter = Quarter::parse(&self.quarter).ok_or("class")?;
        let length = |value: f64| Length::from_f64(value, unit).filter(|length| *length > Length::ZERO);
        let kept = self.offcuts.iter().filter(|offcut| offcut.keep);
        let kept: Vec<RackBoard> = kept
            .enumerate()
            .map(|(number, offcut)| {
                Ok(RackBoard {
                    board: (number + 1).to_string(),
                    species: wood.species.clone(),
                    quarter,
                    grade: wood.grade,
                    sheet: wood.sheet.clone(),
                    width: length(offcut.width).ok_or("offcut")?,
                    length: length(offcut.length).ok_or("offcut")?,
                    value: Money::ZERO,
                    defects: Vec::new(),
                    place: String::new(),
                    trimmed: true,
                })
            })
            .collect::<Result<_, &'static str>>()?;
        let of_copies = format!("{}-{}", &key[..SHORT_KEY.min(key.len())], self.id);
        Ok((1..=self.copies).flat_map(move |copy| {
            let named: Vec<RackBoard> = kept
                .iter()
                .map(|offcut| RackBoard {
                    board: format!("{of_copies}-{copy}-{}", offcut.board),
                    ..offcut.clone()
                })
                .collect();
            named
        }))
    }
}
