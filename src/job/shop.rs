//! The shop's settings: saw, milling, gluing, and what is kept.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_traits::ToPrimitive;

use super::paper::LabelSheet;
use super::saw::{BeyondReach, Saw, Sawing, SheetSaw, SheetSawKind};
use super::standing::Statuses;
use super::stations::Stations;
use super::stock::Offered;
use crate::measure::{Area, Length, Money, Unit};
use crate::trade::{
    DressedTable, Grade, Quarter, species_key, standard_dressed, standard_dressed_of, wood_facts,
};

/// The shop's settings; see `shop.toml` in the README.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shop {
    /// Unit of bare numbers and of outputs.
    pub unit: Unit,
    /// What it is called on printed pages; may be empty.
    pub name: String,
    /// Currency, named once.
    pub currency: String,
    /// The saw.
    pub saw: Saw,
    /// The saw that sheets are cut with.
    pub sheet_saw: SheetSaw,
    /// What covers the edges of parts of sheets.
    pub edging: EdgingRules,
    /// Milling and allowances.
    pub milling: Milling,
    /// Which offcuts are kept and what they are worth.
    pub offcuts: Offcuts,
    /// What time at the saw costs.
    pub labour: Labour,
    /// Limits that keep hands whole.
    pub safety: Safety,
    /// What may be glued, and how.
    pub glue: Glue,
    /// What may be paid for matched pieces.
    pub matching: Matching,
    /// How thick pieces are resawn.
    pub resaw: Resaw,
    /// How bought boards come.
    pub wood: Wood,
    /// How a yard is tallied.
    pub at_yard: AtYard,
    /// The sheets that labels are printed on.
    pub labels: LabelSheet,
    /// Grades by the names that its dealers use, in small letters.
    pub grades: BTreeMap<String, Grade>,
    /// Words of the shop's own for the state of an order.
    pub statuses: Statuses,
}

/// How boards are tallied at the yard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AtYard {
    /// What a bare number means as the length of a board.
    pub lengths: BareLength,
}

/// What a bare number means as the length of a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BareLength {
    /// The shop's unit; where that is the inch, a number so small that it may be feet is asked about.
    Asked,
    /// The shop's unit, whatever it is.
    ShopUnit,
    /// Feet.
    Feet,
}

impl BareLength {
    /// A bare number of so many inches or fewer may be meant in feet: boards are sold 4 to 16 ft long (common
    /// practice).
    pub const MAY_BE_FEET: i64 = 20;
    /// Feet above which a bare number is meant in inches.
    pub const MOST_FEET: i64 = 24;
}

/// How bought boards come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wood {
    /// What is assumed of their defects.
    pub defects: WoodDefects,
    /// The file of the boards that the shop has seen, if they stand for those to come.
    pub seen: Option<String>,
    /// Specific gravity of species that the trade's table lacks, in hundredths, by [`species_key`].
    pub gravities: BTreeMap<String, u16>,
    /// A part wider than this is told how much it moves.
    pub movement_over: Length,
    /// Moisture content of the wood in the shop, in percent.
    pub moisture_now: Money,
    /// The driest it will be where it is used.
    pub moisture_low: Money,
    /// The wettest it will be there.
    pub moisture_high: Money,
}

impl Wood {
    /// Specific gravity of a species in hundredths, where it is known.
    pub fn gravity(&self, species: &str) -> Option<u16> {
        let own = self.gravities.get(&species_key(species)).copied();
        own.or_else(|| wood_facts(species)?.gravity)
    }
}

/// What is assumed of the defects of bought boards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WoodDefects {
    /// Those with which a board makes its grade; sizes are drawn from the line's range.
    ByGrade,
    /// There are none, and a range counts at its lower end.
    None,
}

/// How pieces are sawn through their thickness into thinner blanks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Resaw {
    /// Blanks that one piece is resawn into at most; 1 resaws nothing.
    pub blanks: u32,
    /// Wood a resaw cut turns to dust.
    pub kerf: Length,
    /// Planed off each sawn face.
    pub cleaning: Length,
}

/// What may be paid for sets of pieces that come whole from one board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Matching {
    /// Percent of the plan's cost, for the sets that parts are matched in.
    pub percent: Money,
    /// The same for the strips of each panel.
    pub panel_percent: Money,
}

/// What may be glued, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Glue {
    /// Panels of strips, for parts that may be.
    pub panels: bool,
    /// Thick parts of layers.
    pub laminate: bool,
    /// Least finished width of a strip.
    pub narrowest_strip: Length,
    /// Largest finished width of a strip: wider ones cup.
    pub widest_strip: Length,
    /// Taken off each edge that is jointed or cleaned.
    pub joint_allowance: Length,
    /// Is a part glued as well where that is cheaper, though a board gives it whole?
    pub where_cheaper: bool,
    /// Percent of the part's wood that each joint must save.
    pub joint_percent: Money,
}

/// What milling takes off and what is added to parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Milling {
    /// Off each end, with the kerf of the cut that makes it.
    pub end_trim: Length,
    /// Off each edge, with the kerf of the cut that makes it.
    pub edge_trim: Length,
    /// Added to every part's length.
    pub length_allowance: Length,
    /// Added to every part's width.
    pub width_allowance: Length,
    /// Added to a `creep` part's length.
    pub creep_allowance: Length,
    /// Added to a `to-work` part's length.
    pub to_work_allowance: Length,
    /// Dressed thickness of the classes that the shop has entries for: [`Shop::dressed`] is the rule.
    pub dressed: DressedTable,
}

/// Which leftovers are kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offcuts {
    /// Least length, along the grain.
    pub keep_length: Length,
    /// Least width.
    pub keep_width: Length,
    /// Least length and width of what is left of a sheet.
    pub keep_sheet: Length,
    /// Percent of its share of the board's price that a kept offcut is worth to this job.
    pub credit_percent: Money,
}

/// What setting up costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Labour {
    /// Money per hour.
    pub hourly_rate: Money,
    /// Minutes per distinct rip setting.
    pub rip_setup_minutes: Money,
    /// Minutes per distinct stop setting.
    pub stop_setup_minutes: Money,
    /// Minutes of a cut with the handling of its wood; it is no part of the cost.
    pub cut_minutes: Money,
    /// Hours a week that each saw can be worked at, where the shop says so.
    pub hours: SawHours,
}

/// Hours a week at each saw; none where the shop does not say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SawHours {
    /// Rips, and crosscuts at the fence, with the sled or at a long stop.
    pub table_saw: Option<Money>,
    /// Crosscuts to its stop.
    pub chop_saw: Option<Money>,
    /// The saw that sheets are cut with.
    pub sheet_saw: Option<Money>,
}

/// Limits that keep hands whole.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Safety {
    /// A shorter piece is milled as part of a longer one.
    pub min_machined_length: Length,
    /// A narrower strip is not ripped between fence and blade.
    pub narrowest_rip: Length,
}

/// How edges of parts of sheets are covered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EdgingRules {
    /// Percent of edging that is cut off beside the edges' own length.
    pub roll_waste_percent: Money,
    /// By how much a strip of solid wood is wider than the sheet is thick.
    pub lipping_over: Length,
    /// By how much it is longer than its edge.
    pub lipping_longer: Length,
}

impl Default for Shop {
    /// The documented defaults: an inch shop with a full-kerf blade.
    fn default() -> Shop {
        let ticks = Length::inch_128ths;
        Shop {
            unit: Unit::Inch,
            name: String::new(),
            currency: "USD".to_string(),
            saw: Saw {
                rip_kerf: ticks(16),
                crosscut_kerf: ticks(16),
                max_rip_width: Length::inches(24),
                max_crosscut_length: Length::inches(96),
                standoff_block: Length::inches(1),
                stages: 2,
                beyond_reach: BeyondReach::OtherTool,
                stations: Stations::default(),
            },
            sheet_saw: SheetSaw {
                kind: SheetSawKind::TableSaw,
                kerf: ticks(16),
                trim: ticks(32),
                stages: 2,
                longest_rip: Length::inches(50),
                stack: 1,
                exact: false,
                max_strip_weight: Money::ZERO,
                density: Money::cents(4_200),
            },
            edging: EdgingRules {
                roll_waste_percent: Money::cents(1_000),
                lipping_over: ticks(8),
                lipping_longer: ticks(64),
            },
            milling: Milling {
                end_trim: Length::inches(1),
                edge_trim: ticks(32),
                length_allowance: Length::ZERO,
                width_allowance: Length::ZERO,
                creep_allowance: ticks(8),
                to_work_allowance: Length::inches(1),
                dressed: DressedTable::default(),
            },
            offcuts: Offcuts {
                keep_length: Length::inches(12),
                keep_width: Length::inches(2),
                keep_sheet: Length::inches(12),
                credit_percent: Money::ZERO,
            },
            labour: Labour {
                hourly_rate: Money::ZERO,
                rip_setup_minutes: Money::cents(200),
                stop_setup_minutes: Money::cents(300),
                cut_minutes: Money::cents(50),
                hours: SawHours::default(),
            },
            safety: Safety { min_machined_length: Length::inches(12), narrowest_rip: ticks(128) },
            matching: Matching { percent: Money::cents(200), panel_percent: Money::ZERO },
            glue: Glue {
                panels: true,
                laminate: false,
                narrowest_strip: Length::inches(2),
                widest_strip: Length::inches(6),
                joint_allowance: ticks(4),
                where_cheaper: false,
                joint_percent: Money::cents(200),
            },
            resaw: Resaw { blanks: 1, kerf: ticks(8), cleaning: ticks(4) },
            // A heated house swings from about 6 to 10 percent around 8 over the year (common practice).
            wood: Wood {
                defects: WoodDefects::ByGrade,
                seen: None,
                gravities: BTreeMap::new(),
                movement_over: Length::inches(6),
                moisture_now: Money::cents(800),
                moisture_low: Money::cents(600),
                moisture_high: Money::cents(1000),
            },
            at_yard: AtYard { lengths: BareLength::Asked },
            labels: LabelSheet::of(Unit::Inch),
            grades: BTreeMap::new(),
            statuses: BTreeMap::new(),
        }
    }
}

impl Shop {
    /// How stock of a class is cut.
    pub fn sawing(&self, quarter: Quarter) -> Sawing {
        if quarter.is_sheet() {
            let SheetSaw { kerf, trim, stages, .. } = self.sheet_saw;
            return Sawing { end_trim: trim, edge_trim: trim, rip_kerf: kerf, crosscut_kerf: kerf, stages };
        }
        let Milling { end_trim, edge_trim, .. } = self.milling;
        let Saw { rip_kerf, crosscut_kerf, stages, .. } = self.saw;
        Sawing { end_trim, edge_trim, rip_kerf, crosscut_kerf, stages }
    }

    /// How a board is cut: nothing is trimmed off one whose ends and edges are sawn already.
    pub fn sawing_of(&self, quarter: Quarter, trimmed: bool) -> Sawing {
        let sawing = self.sawing(quarter);
        if trimmed { Sawing { end_trim: Length::ZERO, edge_trim: Length::ZERO, ..sawing } } else { sawing }
    }

    /// A board's size less the trims: what pieces may be cut from; `None` if nothing is left.
    pub fn usable(&self, board: &Offered<'_>) -> Option<(Length, Length)> {
        self.sawing_of(board.quarter, board.trimmed).usable(board.length, board.width)
    }

    /// The largest strip of a class that one person lifts, by its area; none where there is no limit, and for lumber.
    pub fn largest_strip(&self, quarter: Quarter) -> Option<Area> {
        let SheetSaw { max_strip_weight, density, .. } = self.sheet_saw;
        if !quarter.is_sheet() || max_strip_weight.is_zero() || density.is_zero() {
            return None;
        }
        // Pounds a cubic foot, or kilograms a cubic metre.
        let side = match self.unit {
            Unit::Inch => Length::inches(12),
            Unit::Millimetre => Length::millimetres(1_000),
        };
        let cube = BigInt::from(side.base()).pow(3);
        let volume = max_strip_weight.to_ratio() / density.to_ratio() * cube;
        let area = volume / BigInt::from(quarter.rough().base());
        Some(Area::from_base(area.floor().to_integer().to_i128().unwrap_or(i128::MAX)))
    }

    /// What a piece of a class and a length dresses to. Clear stock of fixed size is bought dressed and does not bow.
    pub fn dressed(&self, quarter: Quarter, length: Length) -> Length {
        match (self.milling.dressed.own(quarter), self.wood.defects) {
            (Some(own), _) => own.of(length),
            (None, WoodDefects::ByGrade) => standard_dressed_of(quarter, length),
            (None, WoodDefects::None) => standard_dressed(quarter),
        }
    }

    /// Blanks of a finished thickness that a piece of a class and a length gives: 0 where it is too thin, more than 1
    /// where it is resawn. The outer faces are dressed first, so two blanks share what the class dresses to.
    pub fn blanks(&self, quarter: Quarter, thickness: Length, length: Length) -> u32 {
        if quarter.is_sheet() {
            return 1;
        }
        let dressed = self.dressed(quarter, length);
        let lost = self.resaw.kerf + self.resaw.cleaning * 2;
        let fits = |blanks: &u32| {
            let (blanks, cuts) = (i64::from(*blanks), i64::from(*blanks) - 1);
            thickness * blanks + lost * cuts <= dressed
        };
        (1..=self.resaw.blanks).take_while(fits).last().unwrap_or(0)
    }

    /// Does a leftover of a class and this size go back on the rack? Of a sheet either side may be the long one.
    pub fn keeps(&self, quarter: Quarter, length: Length, width: Length) -> bool {
        let Offcuts { keep_length, keep_width, keep_sheet, .. } = self.offcuts;
        if quarter.is_sheet() {
            return length.min(width) >= keep_sheet;
        }
        length >= keep_length && width >= keep_width
    }
}
