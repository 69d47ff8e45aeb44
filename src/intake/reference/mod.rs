//! What every file and every setting means: what `ripwright new` writes into a job and `ripwright reference` prints.
//!
//! The columns are those of the readers, and a test reads every setting back.

use super::table::Columns;
use crate::measure::Unit;

/// A file of a job.
#[derive(Debug, Clone, Copy)]
pub struct FileReference {
    /// Its name, relative to the job folder.
    pub name: &'static str,
    /// What it holds.
    pub what: &'static str,
    /// Is a job nothing without it?
    pub needed: bool,
    required: &'static [&'static str],
    columns: &'static [(&'static str, &'static str)],
}

impl FileReference {
    const fn of(
        name: &'static str,
        what: &'static str,
        needed: bool,
        columns: &Columns,
        meanings: &'static [(&'static str, &'static str)],
    ) -> FileReference {
        FileReference { name, what, needed, required: columns.required, columns: meanings }
    }

    /// Columns in the order of the file: name, is it required, meaning.
    pub fn columns(&self) -> impl Iterator<Item = (&'static str, bool, &'static str)> {
        self.columns.iter().map(|(name, meaning)| (*name, self.required.contains(name), *meaning))
    }
}

/// The file of parts.
pub const PARTS: FileReference = FileReference::of(
    "parts.csv",
    "what a product is made of; sizes are finished, length is along the grain",
    true,
    &super::parts::PARTS,
    &[
        ("product", "the product it belongs to"),
        ("part", "its name within the product"),
        ("pieces", "how many one product has"),
        ("length", "finished length, along the grain"),
        ("width", "finished width"),
        ("thickness", "finished thickness"),
        ("species", "the wood"),
        (
            "grade",
            "lowest grade that will do: FAS, F1F, SEL, 1C, 2A, 3A; of a sheet both or one good face; empty takes any",
        ),
        (
            "fit",
            "stop: cut to the stop; creep: a little long, then crept up to the line; to-work: left long and marked from the work",
        ),
        ("glue_up", "yes: may be glued from strips"),
        (
            "clear",
            "yes; face: sound defects may be in the back; no: hidden or painted, so sound defects may stay",
        ),
        ("captured", "room that a panel has across its width in its frame, such as 1/8"),
        (
            "match",
            "name of a set: parts of one product with the same name come from one board, one after the other",
        ),
        ("material", "lumber (empty) or sheet"),
        ("core", "of a part of a sheet: what must lie under the face; empty takes any"),
        ("grain", "of a part of a sheet: along its length (empty), across, or any, which may be turned"),
        (
            "edges",
            "of a part of a sheet: thickness glued on its edges, one for all or four (front; back; left; right)",
        ),
        ("lipping", "wood that the edges are sawn from, as parts of their own; empty where edging is bought"),
    ],
);

/// Every file with its columns.
pub const FILES: [FileReference; 10] = [
    FileReference::of(
        "orders.csv",
        "what is ordered; an order book has the same columns",
        true,
        &super::orders::ORDERS,
        &[
            ("order", "number or name of the order"),
            ("product", "a product of parts.csv"),
            ("quantity", "how many of it"),
            ("due", "a day such as 2027-03-31"),
            (
                "status",
                "empty or open is planned; done, held, cancelled and closed are not; or a word of [statuses]",
            ),
            ("done", "how many of them are made already"),
            ("priority", "1 is served first, 9 last; empty is 5"),
            ("customer", "who ordered it, for the sheets"),
            ("note", "what to remember of it, for the sheets"),
        ],
    ),
    PARTS,
    FileReference::of(
        "prices/NAME.csv",
        "what a dealer sells, one file a dealer",
        true,
        &super::prices::PRICES,
        &[
            ("species", "the wood"),
            ("quarter", "thickness class: 4/4, 5/4, 8/4, or 27mm; of a sheet its nominal thickness"),
            ("grade", "FAS, F1F, SEL, 1C, 2A, 3A, or a name of [grades]; of a sheet both or one good face"),
            ("width", "a size, or a range such as 5..9 for random widths"),
            ("length", "a size, or a range"),
            ("price", "money"),
            ("per", "bf (empty), piece, ft or m3; of a sheet piece (empty), ft2 or m2"),
            ("available", "boards that can be had; empty is no limit"),
            ("mix", "whole weights of equal parts of the width range, such as 1;3;2"),
            ("material", "lumber (empty) or sheet"),
            ("core", "what lies under a sheet's face: ply, mdf, as you like"),
            ("grain", "how the grain of a sheet runs: along its length (empty), across, or none"),
            (
                "real",
                "what a sheet really measures; empty: 1/32 less than a nominal size in inches from 3/8 on",
            ),
        ],
    ),
    FileReference::of(
        "suppliers.csv",
        "terms of the dealers",
        false,
        &super::prices::SUPPLIERS,
        &[
            ("supplier", "name of the price sheet"),
            ("delivery", "charge if anything is bought there"),
            ("minimum_order", "least money of an order"),
            ("tally", "how board feet are counted: exact, whole-foot, surface-measure"),
        ],
    ),
    FileReference::of(
        "breaks.csv",
        "quantity breaks",
        false,
        &super::prices::BREAKS,
        &[
            ("supplier", "name of the price sheet"),
            ("from_bf", "board feet from which it holds"),
            ("percent_off", "off the whole order"),
        ],
    ),
    FileReference::of(
        "rack.csv",
        "boards and offcuts on hand; a tally at the yard has the same columns",
        false,
        &super::rack::RACK,
        &[
            ("board", "its name on the rack"),
            ("species", "the wood"),
            ("quarter", "thickness class"),
            ("grade", "grade"),
            ("width", "rough width"),
            ("length", "rough length"),
            ("value", "money that using it up costs the job; empty is nothing"),
            (
                "defects",
                "boxes x0..x1@y0..y1 from the left end and the lower edge, parted by semicolons; then sound or sound back where the wood holds",
            ),
            ("material", "lumber (empty) or sheet"),
            ("core", "what lies under a sheet's face"),
            ("grain", "how the grain of a sheet runs: along its length (empty), across, or none"),
            ("real", "what a sheet really measures"),
            ("place", "where it lies in the shop"),
            ("trimmed", "yes or no (empty): ends and edges are sawn already, so nothing is trimmed off"),
        ],
    ),
    FileReference::of(
        "holes.csv",
        "holes to drill",
        false,
        &super::work::HOLES,
        &[
            ("product", "a product of parts.csv"),
            ("part", "a part of it"),
            ("holes", "how many one piece has"),
            ("kind", "lead or clearance (of a screw), plain"),
            ("gauge", "of a wood screw, 0 to 24"),
            ("screw", "diameter of a metric screw, in mm"),
            ("diameter", "of a plain hole"),
            ("depth", "empty goes through"),
            ("countersink", "yes or no"),
            ("plug", "diameter of the plug that covers the screw's head"),
            ("plug_depth", "how deep the head is sunk under it; 1/4 in or 6 mm"),
        ],
    ),
    FileReference::of(
        "finish.csv",
        "how products are finished",
        false,
        &super::work::FINISHES,
        &[
            ("product", "a product of parts.csv"),
            ("finish", "film or oil"),
            ("surface", "as it comes to the bench: rough, machined, smooth"),
            ("coats", "2 where it is empty"),
            ("coverage", "of the label: square feet a quart, or square metres a litre"),
            ("finish_faces", "show: the face that shows and all edges; all; top"),
        ],
    ),
    FileReference::of(
        "edging.csv",
        "edging as it is sold, by the roll",
        false,
        &super::rolls::ROLLS,
        &[
            ("species", "of its face: that of the parts"),
            ("sheet", "thickness of the sheets that it is wide enough for, by their name"),
            ("thickness", "its own thickness, as edges says it in parts.csv"),
            ("length", "of a roll"),
            ("price", "of a roll"),
        ],
    ),
    FileReference::of(
        "scenarios.csv",
        "what if: rows of one name are one scenario",
        false,
        &super::scenarios::SCENARIOS,
        &[
            ("scenario", "its name"),
            ("price_percent", "prices of the lines meant rise or fall"),
            ("dealer", "whose prices are meant; empty is all"),
            ("species", "of which wood; empty is all"),
            ("quarter", "of which class; empty is all"),
            ("kerf", "another blade for lumber, of both saws"),
            ("demand_percent", "more or fewer pieces"),
            ("closed", "a dealer who sells nothing"),
            ("replaced_by", "the wood that is taken in place of species"),
            ("yield_loss_percent", "share of the pieces that is lost and cut again"),
            ("sheet_kerf", "another blade for sheets"),
        ],
    ),
];

/// A key of `shop.toml`.
#[derive(Debug, Clone, Copy)]
pub struct SettingReference {
    /// Section; empty for the keys above all sections.
    pub section: &'static str,
    /// Key.
    pub key: &'static str,
    /// Default as TOML: in an inch shop, and what a metric shop would round it to.
    default: (&'static str, &'static str),
    /// What it is for, and why one would change it.
    pub why: &'static str,
}

impl SettingReference {
    /// The default as TOML writes it; in a metric shop a round one.
    pub fn default_in(&self, unit: Unit) -> &'static str {
        match unit {
            Unit::Inch => self.default.0,
            Unit::Millimetre => self.default.1,
        }
    }
}

const fn alike(
    section: &'static str,
    key: &'static str,
    default: &'static str,
    why: &'static str,
) -> SettingReference {
    SettingReference { section, key, default: (default, default), why }
}

const fn sized(
    section: &'static str,
    key: &'static str,
    inch: &'static str,
    metric: &'static str,
    why: &'static str,
) -> SettingReference {
    SettingReference { section, key, default: (inch, metric), why }
}

/// Every setting, by section. A section that changes something by being there comes last and is left out of a new job.
pub const SETTINGS: [SettingReference; 74] = [
    sized("", "unit", "\"in\"", "\"mm\"", "in or mm: what a bare number means"),
    alike("", "currency", "\"USD\"", "named once on every page"),
    alike("", "name", "\"\"", "the shop's name, for printed pages"),
    sized("saw", "rip_kerf", "\"1/8\"", "\"3.2\"", "what the blade takes on a rip; a thin blade takes 3/32"),
    sized("saw", "crosscut_kerf", "\"1/8\"", "\"3.2\"", "the same for a crosscut"),
    sized("saw", "max_rip_width", "\"24\"", "\"610\"", "how far the rip fence goes"),
    sized(
        "saw",
        "max_crosscut_length",
        "\"96\"",
        "\"2400\"",
        "how far the stop goes, where [stations] names none",
    ),
    sized("saw", "standoff_block", "\"1\"", "\"25\"", "block clamped to the fence when it serves as a stop"),
    alike("saw", "stages", "2", "2 or 3: may a cell of a strip hold a stack of pieces?"),
    alike(
        "saw",
        "beyond_reach",
        "\"other-tool\"",
        "other-tool marks cuts that fence and stop do not reach; refuse plans no such part",
    ),
    alike(
        "sheet_saw",
        "kind",
        "\"table-saw\"",
        "table-saw (set by its fence), track-saw (by a track on a mark) or panel-saw (by a stop)",
    ),
    sized("sheet_saw", "kerf", "\"1/8\"", "\"3.2\"", "of the saw that sheets are cut with, either way"),
    sized(
        "sheet_saw",
        "trim",
        "\"1/4\"",
        "\"6\"",
        "off each edge of a sheet: factory edges are not straight enough",
    ),
    alike("sheet_saw", "stages", "2", "2 or 3: may a cell of a strip hold a stack of pieces?"),
    alike(
        "sheet_saw",
        "exact",
        "false",
        "true: no piece is trimmed once its strip is cut up, so a strip has parts of one width",
    ),
    sized(
        "sheet_saw",
        "max_strip_weight",
        "\"0\"",
        "\"0\"",
        "heaviest strip that one person lifts to cut it up, in pounds or kilograms; 0 is no limit",
    ),
    sized(
        "sheet_saw",
        "density",
        "\"42\"",
        "\"680\"",
        "what your densest sheets weigh, in pounds a cubic foot or kilograms a cubic metre",
    ),
    alike(
        "sheet_saw",
        "stack",
        "1",
        "sheets that are laid on each other and cut at once, where they are cut alike",
    ),
    sized("sheet_saw", "longest_rip", "\"50\"", "\"1300\"", "how far its fence or stop goes"),
    alike(
        "edging",
        "roll_waste_percent",
        "\"10\"",
        "of edging by the roll that is cut off at the ends of edges",
    ),
    sized(
        "edging",
        "lipping_over",
        "\"1/16\"",
        "\"1.5\"",
        "a strip of solid wood is so much wider than the sheet is thick, to be planed flush",
    ),
    sized("edging", "lipping_longer", "\"1/2\"", "\"12\"", "and so much longer than its edge"),
    sized("milling", "end_trim", "\"1\"", "\"25\"", "off each end of a rough board: end checks"),
    sized("milling", "edge_trim", "\"1/4\"", "\"6\"", "off each edge: the first straight edge"),
    alike(
        "milling",
        "length_allowance",
        "\"0\"",
        "every piece is cut so much too long; 1/16 to trim an end square",
    ),
    alike(
        "milling",
        "width_allowance",
        "\"0\"",
        "every piece is cut so much too wide; 1/16 to joint the saw's edge",
    ),
    sized("milling", "creep_allowance", "\"1/16\"", "\"1.5\"", "more on a part that is crept up to its line"),
    sized("milling", "to_work_allowance", "\"1\"", "\"25\"", "more on a part that is marked from the work"),
    alike(
        "milling",
        "dressed",
        "{}",
        "what a class dresses to where yours differs: { \"4/4\" = [\"13/16\", \"3/4 over 72\"] }",
    ),
    sized("offcuts", "keep_length", "\"12\"", "\"300\"", "a leftover as long as this"),
    sized("offcuts", "keep_width", "\"2\"", "\"50\"", "and as wide goes back on the rack"),
    sized(
        "offcuts",
        "keep_sheet",
        "\"12\"",
        "\"300\"",
        "what is left of a sheet goes back if it is so long and so wide",
    ),
    alike(
        "offcuts",
        "credit_percent",
        "\"0\"",
        "of its share of the board's price that a kept leftover is worth to this job",
    ),
    alike("labour", "hourly_rate", "\"0\"", "money an hour for setting up; 0 leaves it out of the cost"),
    alike("labour", "rip_setup_minutes", "\"2\"", "minutes to set the rip fence"),
    alike("labour", "stop_setup_minutes", "\"3\"", "minutes to set a stop"),
    alike(
        "labour",
        "cut_minutes",
        "\"0.5\"",
        "minutes of a cut with the handling of its wood, for the hours at the saws; no part of the cost",
    ),
    sized(
        "safety",
        "min_machined_length",
        "\"12\"",
        "\"300\"",
        "a shorter piece is milled as part of a longer one; the machine's manual comes first",
    ),
    sized(
        "safety",
        "narrowest_rip",
        "\"1\"",
        "\"25\"",
        "a narrower strip falls off the far side of the blade",
    ),
    alike("glue", "panels", "true", "wide parts with glue_up = yes may be glued from strips"),
    alike("glue", "laminate", "false", "thick parts may be glued from layers"),
    alike("glue", "where_cheaper", "false", "glue also what a board gives whole, where that is cheaper"),
    alike("glue", "joint_percent", "\"2\"", "of a part's wood that each joint must then save"),
    sized("glue", "narrowest_strip", "\"2\"", "\"50\"", "no narrower strip in a panel"),
    sized("glue", "widest_strip", "\"6\"", "\"150\"", "a wider one cups"),
    sized("glue", "joint_allowance", "\"1/32\"", "\"1\"", "off each edge that is jointed or cleaned of glue"),
    alike(
        "matching",
        "percent",
        "\"2\"",
        "percent more, within the gap, for plans in which the sets of parts.csv (match) come whole from one board",
    ),
    alike("matching", "panel_percent", "\"0\"", "the same for the strips of each panel"),
    alike(
        "wood",
        "defects",
        "\"by-grade\"",
        "by-grade draws bought boards as their grade says; none: they are clear; boards-seen.csv: as yours came",
    ),
    sized("wood", "movement_over", "\"6\"", "\"150\"", "how much a wider part moves is told"),
    alike("wood", "moisture_now", "\"8\"", "percent, of the wood in the shop"),
    alike("wood", "moisture_low", "\"6\"", "percent, the driest in the room"),
    alike("wood", "moisture_high", "\"10\"", "percent, the wettest in the room"),
    alike(
        "wood",
        "gravity",
        "{}",
        "specific gravity of species that the program does not know: { sapele = 0.62 }",
    ),
    sized("labels", "paper", "\"letter\"", "\"A4\"", "letter or A4"),
    alike("labels", "columns", "2", "labels side by side on a sheet"),
    alike("labels", "rows", "5", "labels one above the other"),
    sized("labels", "width", "\"4\"", "\"99\"", "width of one, with the gap to the next"),
    sized("labels", "height", "\"2\"", "\"57\"", "height of one, with the gap to the next"),
    alike("stations", "chop_saw", "\"0\"", "longest piece that the chop saw's stop holds; 0: there is none"),
    alike(
        "stations",
        "sled",
        "\"0\"",
        "the same of the sled on the table saw; crosscuts go to the first that holds them, else to the block at the fence",
    ),
    alike("stations", "jointer", "\"0\"", "widest board that the jointer takes; 0: not said"),
    alike("stations", "planer", "\"0\"", "widest board that the planer takes; 0: not said"),
    alike(
        "stations",
        "table_saw_hours",
        "\"0\"",
        "hours a week at the table saw, which nights keep to by cutting early; 0: not said",
    ),
    alike("stations", "chop_saw_hours", "\"0\"", "the same of the chop saw"),
    alike("stations", "sheet_saw_hours", "\"0\"", "the same of the saw that sheets are cut with"),
    alike("grades", "A", "\"FAS\"", "grades by the names that your dealers use, one line a name"),
    alike("grades", "B", "\"1C\"", "another one"),
    alike(
        "statuses",
        "shipped",
        "\"done\"",
        "states of an order by the words of your order book, one line a word",
    ),
    alike("statuses", "in-work", "\"open\"", "another one"),
    sized(
        "yard",
        "lengths",
        "\"ft\"",
        "\"mm\"",
        "what a bare length means in a tally; without it a small number in an inch shop is asked about",
    ),
    alike(
        "resaw",
        "blanks",
        "2",
        "blanks that one thick piece is resawn into at most; a shop with this section has a bandsaw",
    ),
    sized("resaw", "kerf", "\"1/16\"", "\"1.5\"", "what the bandsaw takes"),
    sized("resaw", "cleaning", "\"1/32\"", "\"1\"", "planed off each sawn face"),
];

/// Sections whose being there changes something: a new job has them as a comment, in a metric shop as well.
const OFF: [&str; 4] = ["grades", "yard", "resaw", "statuses"];

/// A `shop.toml` with every key at its default and why: comments in an inch shop, round sizes in a metric one.
pub fn shop_toml(unit: Unit) -> String {
    let mut text =
        "# The settings of your shop. A key behind a # is at its default: take the # away to change it.\n"
            .to_string();
    let mut section = "";
    for setting in &SETTINGS {
        let default = setting.default_in(unit);
        let is_off = OFF.contains(&setting.section);
        // In a metric shop a default that is a size is set to a round number.
        let is_set = !is_off && (setting.key == "unit" || default != setting.default_in(Unit::Inch));
        if setting.section != section {
            section = setting.section;
            text.push_str(&format!("\n{}[{section}]\n", if is_off { "# " } else { "" }));
        }
        let mark = if is_set { "" } else { "# " };
        let line = format!("{mark}{} = {default}", setting.key);
        text.push_str(&format!("{line:<36}  # {}\n", setting.why));
    }
    text
}

#[cfg(test)]
mod tests;
