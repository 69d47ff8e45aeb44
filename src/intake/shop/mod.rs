//! `shop.toml`: every key with its default.

use std::io::Read;

use toml::{Table, Value};

mod saws;

use super::cells;
use super::keys::{FILE, Keys, Zero, path};
use super::log::Log;
use super::source::Source;
use crate::job::{
    AtYard, BareLength, FaultKind, Glue, LabelSheet, Labour, Matching, Offcuts, Paper, Resaw, Shop, Standing,
    Wood, WoodDefects,
};
use crate::measure::{Length, Money, Unit};
use crate::trade::movement::{DRIEST, WETTEST};
use crate::trade::{Grade, species_key};

/// Bytes of the file that are read.
const LARGEST: u64 = 1 << 20;
/// No blade of a shop takes more.
pub const WIDEST_KERF: Length = Length::inches(1);
/// Highest hourly rate, in any currency.
const MOST_AN_HOUR: i64 = 1_000_000;
/// Longest set-up: a day.
const MOST_MINUTES: i64 = 1_440;
/// Hours of a week.
const HOURS_OF_A_WEEK: i64 = 168;

/// Letters of a shop's name.
const MOST_NAME: usize = 80;
/// Labels side by side or one above the other.
const MOST_LABELS_ACROSS: u32 = 40;

/// Blanks of one piece above which resawing is veneer work.
const MOST_BLANKS: u32 = 8;

/// Reads the shop's file, or takes the defaults where it is missing.
pub fn read_shop(source: &dyn Source, log: &mut Log) -> Shop {
    let read = source.open(FILE).and_then(|reader| {
        let mut text = String::new();
        // Settings of more than a megabyte are another file.
        if reader.take(LARGEST + 1).read_to_string(&mut text)? as u64 > LARGEST {
            return Err(std::io::Error::other("it is larger than a megabyte: is it the right file?"));
        }
        Ok(text)
    });
    match read {
        Ok(text) => parse_shop(&text, log),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Shop::default(),
        Err(error) => {
            log.fault(FILE, None, None, FaultKind::Unreadable(error.to_string()));
            Shop::default()
        }
    }
}

/// Reads the text of a `shop.toml`.
pub fn parse_shop(text: &str, log: &mut Log) -> Shop {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let root = match text.parse::<Table>() {
        Ok(root) => root,
        Err(error) => {
            let row = error.span().map(|span| 1 + text[..span.start].matches('\n').count() as u64);
            log.fault(FILE, row, None, FaultKind::NotATable(error.message().to_string()));
            return Shop::default();
        }
    };
    let mut keys = Keys { root, log, unit: Unit::Inch };
    let mut shop = Shop::default();
    keys.top(&mut shop);
    keys.saw(&mut shop.saw);
    keys.sheet_saw(&mut shop.sheet_saw);
    keys.edging(&mut shop.edging);
    keys.milling(&mut shop.milling);
    keys.offcuts(&mut shop.offcuts);
    keys.labour(&mut shop.labour);
    keys.glue(&mut shop.glue);
    keys.matching(&mut shop.matching);
    keys.resaw(&mut shop.resaw);
    for (key, field) in [
        ("min_machined_length", &mut shop.safety.min_machined_length),
        ("narrowest_rip", &mut shop.safety.narrowest_rip),
    ] {
        if let Some(least) = keys.length("safety", key, Zero::Allowed) {
            *field = least;
        }
    }
    keys.wood(&mut shop.wood);
    keys.at_yard(&mut shop.at_yard);
    keys.labels(&mut shop.labels);
    keys.grades(&mut shop);
    keys.statuses(&mut shop);
    keys.warn_of_the_rest();
    shop
}

impl Keys<'_> {
    fn top(&mut self, shop: &mut Shop) {
        if let Some(text) = self.text("", "unit") {
            match text.as_str() {
                "in" => shop.unit = Unit::Inch,
                "mm" => shop.unit = Unit::Millimetre,
                _ => self.bad("unit", text, "in or mm", None),
            }
        }
        self.unit = shop.unit;
        if shop.unit == Unit::Millimetre {
            shop.labels = LabelSheet::of(Unit::Millimetre);
            // A round block; the saw's other sizes are converted.
            shop.saw.standoff_block = Length::millimetres(25);
            shop.sheet_saw.density = Money::cents(68_000);
        }
        if let Some(text) = self.text("", "name") {
            if text.chars().count() > MOST_NAME || text.chars().any(char::is_control) {
                self.bad("name", text, "the shop's name on one line", None);
            } else {
                shop.name = text.trim().to_string();
            }
        }
        if let Some(text) = self.text("", "currency") {
            let is_bad = |one: char| one.is_control() || one.is_numeric();
            if text.trim().is_empty() || text.chars().count() > 8 || text.chars().any(is_bad) {
                self.bad("currency", text, "a short currency code such as USD", None);
            } else {
                shop.currency = text.trim().to_string();
            }
        }
    }

    fn offcuts(&mut self, offcuts: &mut Offcuts) {
        for (key, field) in [
            ("keep_length", &mut offcuts.keep_length),
            ("keep_width", &mut offcuts.keep_width),
            ("keep_sheet", &mut offcuts.keep_sheet),
        ] {
            if let Some(least) = self.length("offcuts", key, Zero::Allowed) {
                *field = least;
            }
        }
        if let Some(percent) = self.money("offcuts", "credit_percent", Some(Money::cents(10_000))) {
            offcuts.credit_percent = percent;
        }
    }

    fn labour(&mut self, labour: &mut Labour) {
        for (key, most, field) in [
            ("hourly_rate", MOST_AN_HOUR, &mut labour.hourly_rate),
            ("rip_setup_minutes", MOST_MINUTES, &mut labour.rip_setup_minutes),
            ("stop_setup_minutes", MOST_MINUTES, &mut labour.stop_setup_minutes),
            ("cut_minutes", MOST_MINUTES, &mut labour.cut_minutes),
        ] {
            if let Some(amount) = self.money("labour", key, Some(Money::cents(most * 100))) {
                *field = amount;
            }
        }
        for (key, field) in [
            ("table_saw_hours", &mut labour.hours.table_saw),
            ("chop_saw_hours", &mut labour.hours.chop_saw),
            ("sheet_saw_hours", &mut labour.hours.sheet_saw),
        ] {
            if let Some(hours) = self.money("stations", key, Some(Money::cents(HOURS_OF_A_WEEK * 100))) {
                *field = (!hours.is_zero()).then_some(hours);
            }
        }
    }

    fn glue(&mut self, glue: &mut Glue) {
        for (key, field) in [
            ("panels", &mut glue.panels),
            ("laminate", &mut glue.laminate),
            ("where_cheaper", &mut glue.where_cheaper),
        ] {
            self.yes_or_no("glue", key, field);
        }
        for (key, zero, field) in [
            ("narrowest_strip", Zero::Refused, &mut glue.narrowest_strip),
            ("widest_strip", Zero::Refused, &mut glue.widest_strip),
            ("joint_allowance", Zero::Allowed, &mut glue.joint_allowance),
        ] {
            if let Some(length) = self.length("glue", key, zero) {
                *field = length;
            }
        }
        if let Some(percent) = self.money("glue", "joint_percent", Some(Money::cents(10_000))) {
            glue.joint_percent = percent;
        }
        if glue.narrowest_strip > glue.widest_strip {
            let text = glue.narrowest_strip.display(self.unit).to_string();
            self.bad("glue.narrowest_strip", text, "no more than glue.widest_strip", None);
        }
    }

    fn matching(&mut self, matching: &mut Matching) {
        for (key, field) in
            [("percent", &mut matching.percent), ("panel_percent", &mut matching.panel_percent)]
        {
            if let Some(percent) = self.money("matching", key, Some(Money::cents(10_000))) {
                *field = percent;
            }
        }
    }

    fn resaw(&mut self, resaw: &mut Resaw) {
        // A shop that says how it resaws has a bandsaw.
        if matches!(self.root.get("resaw"), Some(Value::Table(_))) {
            resaw.blanks = 2;
        }
        if let Some(text) = self.text("resaw", "blanks") {
            match text.parse::<u32>() {
                Ok(blanks) if (1..=MOST_BLANKS).contains(&blanks) => resaw.blanks = blanks,
                _ => self.bad("resaw.blanks", text, "a whole number from 1 (resaw nothing) to 8", None),
            }
        }
        for (key, field) in [("kerf", &mut resaw.kerf), ("cleaning", &mut resaw.cleaning)] {
            if let Some(length) = self.length_up_to("resaw", key, Zero::Allowed, WIDEST_KERF) {
                *field = length;
            }
        }
    }

    fn wood(&mut self, wood: &mut Wood) {
        if let Some(text) = self.text("wood", "defects") {
            match text.as_str() {
                "by-grade" => wood.defects = WoodDefects::ByGrade,
                "none" => wood.defects = WoodDefects::None,
                // Boards that the shop has not seen enough of are drawn by grade.
                file if is_file_name(file) => {
                    (wood.defects, wood.seen) = (WoodDefects::ByGrade, Some(file.to_string()));
                }
                _ => {
                    let expected = "by-grade, none, or a file of the job folder such as boards-seen.csv";
                    self.bad("wood.defects", text, expected, None);
                }
            }
        }
        if let Some(width) = self.length("wood", "movement_over", Zero::Allowed) {
            wood.movement_over = width;
        }
        for (key, field) in [
            ("moisture_now", &mut wood.moisture_now),
            ("moisture_low", &mut wood.moisture_low),
            ("moisture_high", &mut wood.moisture_high),
        ] {
            if let Some(percent) = self.money("wood", key, None) {
                let (driest, wettest) = (Money::cents(DRIEST * 100), Money::cents(WETTEST * 100));
                if (driest..=wettest).contains(&percent) {
                    *field = percent;
                } else {
                    let expected = "from 6 to 14 percent, where the change of width is known";
                    self.bad(&path("wood", key), percent.price(), expected, None);
                }
            }
        }
        if wood.moisture_low > wood.moisture_high {
            let text = wood.moisture_low.price();
            self.bad("wood.moisture_low", text, "no more than wood.moisture_high", None);
        }
        self.gravities(wood);
    }

    /// A table of species and their specific gravities.
    fn gravities(&mut self, wood: &mut Wood) {
        for (species, text) in self.entries("wood", "gravity", "a table of species, such as sapele = 0.62") {
            let hundredths = text.parse::<f64>().ok().filter(|gravity| (0.1..=1.5).contains(gravity));
            match hundredths {
                Some(gravity) => {
                    wood.gravities.insert(species_key(&species), (gravity * 100.0).round() as u16);
                }
                None => {
                    let key = format!("wood.gravity.{species}");
                    self.bad(&key, text, "a specific gravity from 0.1 to 1.5", None);
                }
            }
        }
    }

    fn at_yard(&mut self, at_yard: &mut AtYard) {
        if let Some(text) = self.text("yard", "lengths") {
            match text.as_str() {
                "ft" => at_yard.lengths = BareLength::Feet,
                unit if unit == self.unit.name() => at_yard.lengths = BareLength::ShopUnit,
                _ => self.bad("yard.lengths", text, "ft, or the shop's unit", None),
            }
        }
    }

    /// Grades by the names that dealers use for them.
    fn grades(&mut self, shop: &mut Shop) {
        for (name, text) in self.entries("", "grades", "a table such as A = \"FAS\"") {
            match Grade::parse(&text).or_else(|| cells::grade(&text)) {
                Some(grade) => {
                    shop.grades.insert(cells::key(&name), grade);
                }
                None => self.bad(&format!("grades.{name}"), text, "FAS, F1F, SEL, 1C, 2A or 3A", None),
            }
        }
    }

    fn statuses(&mut self, shop: &mut Shop) {
        let words = "open, done, held, cancelled or closed";
        for (name, text) in self.entries("", "statuses", "a table such as shipped = \"done\"") {
            let (key, own) = (cells::key(&name), format!("statuses.{name}"));
            match Standing::of(&cells::key(&text)) {
                _ if Standing::of(&key).is_some() => {
                    let why = "it has its own meaning already".to_string();
                    self.bad(&own, name, "a word of your order book", Some(why));
                }
                Some(standing) if !text.is_empty() => {
                    shop.statuses.insert(key, standing);
                }
                _ => self.bad(&own, text, words, None),
            }
        }
    }

    fn labels(&mut self, sheet: &mut LabelSheet) {
        if let Some(text) = self.text("labels", "paper") {
            match text.to_ascii_lowercase().as_str() {
                "letter" => sheet.paper = Paper::Letter,
                "a4" => sheet.paper = Paper::A4,
                _ => self.bad("labels.paper", text, "letter or A4", None),
            }
        }
        for (key, field) in [("columns", &mut sheet.columns), ("rows", &mut sheet.rows)] {
            if let Some(text) = self.text("labels", key) {
                match text.parse::<u32>() {
                    Ok(count) if (1..=MOST_LABELS_ACROSS).contains(&count) => *field = count,
                    _ => self.bad(&path("labels", key), text, "a whole number from 1 to 40", None),
                }
            }
        }
        for (key, field) in [("width", &mut sheet.width), ("height", &mut sheet.height)] {
            if let Some(length) = self.length("labels", key, Zero::Refused) {
                *field = length;
            }
        }
        if !sheet.fits() {
            let [width, height] = [sheet.width, sheet.height].map(|side| side.display(self.unit).to_string());
            let text = format!("{} x {} of {width} x {height}", sheet.columns, sheet.rows);
            self.bad("labels", text, "labels that lie on the paper", None);
        }
    }

    fn warn_of_the_rest(&mut self) {
        for (key, value) in &self.root {
            let left: Vec<String> = match value {
                Value::Table(table) => table.keys().map(|inner| path(key, inner)).collect(),
                _ => vec![key.clone()],
            };
            for name in left {
                let text = format!("the key {name} is not known and is ignored");
                self.log.warn(FILE, text);
            }
        }
    }
}

/// A file beside the others, and no path to another place.
fn is_file_name(text: &str) -> bool {
    text.to_ascii_lowercase().ends_with(".csv") && !text.contains(['/', '\\'])
}
