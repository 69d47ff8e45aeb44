//! One row of a table: its cells as what they mean, or a fault that names them.

use std::ops::RangeInclusive;

use jiff::civil::Date;

use super::cells::{self, Manner};
use super::log::Log;
use super::names::{Found, Names};
use super::records::Cells;
use super::sheet::{is_sheet, letters};
use crate::job::{FaultKind, Per, Sheet, Shop};
use crate::measure::{Length, Money, Unit};
use crate::trade::{Grade, Quarter, SheetGrain};

/// One row of a file.
#[derive(Clone, Copy)]
pub struct Row<'t> {
    pub file: &'t str,
    pub header: &'t [String],
    /// Line in the file; the header is 1.
    pub line: u64,
    pub cells: &'t Cells,
    pub manner: Manner,
}

impl<'t> Row<'t> {
    /// The trimmed text of a cell; empty where the column is absent.
    pub fn cell(&self, column: &str) -> &'t str {
        let place = self.header.iter().position(|name| name == column);
        place.and_then(|place| self.cells.get(place)).unwrap_or("")
    }

    /// Records a fault of this row.
    pub fn fault(&self, column: &str, kind: FaultKind, log: &mut Log) {
        let place = self.header.iter().position(|name| name == column).filter(|_| is_sheet(self.file));
        let lettered = place.map(|place| format!("{column} ({})", letters(place)));
        let column = (!column.is_empty()).then_some(lettered.as_deref().unwrap_or(column));
        log.fault(self.file, Some(self.line), column, kind);
    }

    /// Records a bad value.
    pub fn bad<T>(&self, column: &str, expected: &str, why: Option<String>, log: &mut Log) -> Option<T> {
        let text = self.cell(column).to_string();
        self.fault(column, FaultKind::Value { text, expected: expected.to_string(), why }, log);
        None
    }

    /// The same, where the reason is empty if what is expected says enough.
    fn refused<T>(&self, column: &str, expected: &str, why: String, log: &mut Log) -> Option<T> {
        self.bad(column, expected, (!why.is_empty()).then_some(why), log)
    }

    /// A cell that must not be empty.
    pub fn name(&self, column: &str, log: &mut Log) -> Option<String> {
        /// A longer name is a file gone wrong, and would break every report.
        const LONGEST_NAME: usize = 200;
        let text = self.cell(column);
        if text.is_empty() {
            return self.bad(column, "a name", Some("it is empty".to_string()), log);
        }
        if text.chars().count() > LONGEST_NAME || text.chars().any(char::is_control) {
            return self.bad(column, "a name of one line, of at most 200 characters", None, log);
        }
        Some(text.to_string())
    }

    /// A positive length of at most `most`.
    pub fn length(&self, column: &str, unit: Unit, most: Length, log: &mut Log) -> Option<Length> {
        self.length_of(self.cell(column), column, unit, most, log)
    }

    /// The same from a text that stands for the cell's.
    pub fn length_of(
        &self,
        text: &str,
        column: &str,
        unit: Unit,
        most: Length,
        log: &mut Log,
    ) -> Option<Length> {
        let strict = |text: &str| read_size(text, unit, most);
        match self.as_meant(column, text, strict, |text| cells::length(text, self.manner), log) {
            Ok(length) => Some(length),
            Err(why) => self.bad(column, "a length above 0, such as 7 1/4 or 184mm", Some(why), log),
        }
    }

    /// A size, or the two ends of a range.
    pub fn range(
        &self,
        column: &str,
        unit: Unit,
        most: Length,
        log: &mut Log,
    ) -> Option<(Length, Option<Length>)> {
        let text = self.cell(column);
        let expected = "a length above 0, or a range such as 5..9";
        let read = |end: &str| read_size(end, unit, most);
        let strict = |text: &str| {
            let ends: Vec<&str> = text.split("..").collect();
            match ends[..] {
                [one] => read(one).map(|length| (length, None)),
                [low, high] => {
                    let (low, high) = (read(low)?, read(high)?);
                    if high < low {
                        return Err("its upper end is below its lower end".to_string());
                    }
                    Ok((low, (high > low).then_some(high)))
                }
                _ => Err("it is not a range".to_string()),
            }
        };
        let plain = |text: &str| Ok(cells::range(text, self.manner)?.join(".."));
        // `6..8 ft` is two lengths for a strict reader, but nobody means 6 in and 8 ft.
        let as_it_stands = |text: &str| match cells::lacks_a_unit(text) {
            true => Err("its lower end has no unit and its upper end has one".to_string()),
            false => strict(text),
        };
        let result = self.as_meant(column, text, as_it_stands, plain, log);
        match result {
            Ok(range) => Some(range),
            Err(why) => self.bad(column, expected, Some(why), log),
        }
    }

    /// Money; an empty cell takes `default` where there is one.
    pub fn money(&self, column: &str, default: Option<Money>, log: &mut Log) -> Option<Money> {
        let text = self.cell(column);
        if let (true, Some(default)) = (text.is_empty(), default) {
            return Some(default);
        }
        let strict = |text: &str| Money::parse(text).map_err(|error| error.to_string());
        match self.as_meant(column, text, strict, |text| cells::amount(text, self.manner), log) {
            Ok(money) => Some(money),
            Err(error) => self.bad(column, "an amount such as 4.10, at most 4 decimals", Some(error), log),
        }
    }

    /// A whole number between `least` and `most`.
    pub fn whole(&self, column: &str, least: u64, most: u64, log: &mut Log) -> Option<u64> {
        let text = self.cell(column);
        let strict = |text: &str| {
            let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
            let count = text.parse::<u64>().ok().filter(|count| digits && (least..=most).contains(count));
            count.ok_or_else(String::new)
        };
        match self.as_meant(column, text, strict, |text| cells::whole(text, self.manner), log) {
            Ok(count) => Some(count),
            Err(why) => self.refused(column, &format!("a whole number from {least} to {most}"), why, log),
        }
    }

    /// The same, where an empty cell means `usual`.
    pub fn whole_or(
        &self,
        column: &str,
        usual: u64,
        range: RangeInclusive<u64>,
        log: &mut Log,
    ) -> Option<u64> {
        match self.cell(column) {
            "" => Some(usual),
            _ => self.whole(column, *range.start(), *range.end(), log),
        }
    }

    /// One of a fixed set of words; an empty cell takes `default` where there is one.
    pub fn choice<T>(
        &self,
        column: &str,
        parse: impl Fn(&str) -> Option<T>,
        default: Option<T>,
        expected: &str,
        log: &mut Log,
    ) -> Option<T> {
        let plain = |text: &str| Ok(cells::tidy(text).to_lowercase().replace([' ', '_'], "-"));
        self.word(column, parse, plain, default, expected, log)
    }

    /// The same, where `plain` knows other names for the words.
    fn word<T>(
        &self,
        column: &str,
        parse: impl Fn(&str) -> Option<T>,
        plain: impl Fn(&str) -> Result<String, String>,
        default: Option<T>,
        expected: &str,
        log: &mut Log,
    ) -> Option<T> {
        let text = self.cell(column);
        if let (true, Some(default)) = (text.is_empty(), default) {
            return Some(default);
        }
        let strict = |text: &str| parse(text).ok_or_else(String::new);
        match self.as_meant(column, text, strict, plain, log) {
            Ok(value) => Some(value),
            Err(why) => self.refused(column, expected, why, log),
        }
    }

    /// A yes or a no.
    pub fn yes_no(&self, column: &str, default: bool, log: &mut Log) -> Option<bool> {
        let parse = |text: &str| match text.to_ascii_lowercase().as_str() {
            "yes" => Some(true),
            "no" => Some(false),
            _ => None,
        };
        let plain = |text: &str| Ok(cells::yes_no(text).unwrap_or(text).to_string());
        self.word(column, parse, plain, Some(default), "yes or no", log)
    }

    /// A grade, by the shop's own names for them or the trade's.
    pub fn grade(&self, shop: &Shop, default: Option<Grade>, log: &mut Log) -> Option<Grade> {
        let own = |text: &str| shop.grades.get(&cells::key(text)).copied();
        let parse = |text: &str| own(text).or_else(|| Grade::parse(text));
        let plain =
            |text: &str| Ok(cells::grade(text).map_or_else(|| text.to_string(), |grade| grade.to_string()));
        let expected = "FAS, F1F, SEL, 1C, 2A or 3A; both or one (good faces) for a sheet";
        self.word("grade", parse, plain, default, expected, log)
    }

    /// A thickness class.
    pub fn quarter(&self, unit: Unit, log: &mut Log) -> Option<Quarter> {
        let plain = |text: &str| cells::class(text, unit == Unit::Millimetre);
        self.word("quarter", Quarter::parse, plain, None, "a class such as 4/4, or 27mm", log)
    }

    /// Is the row of a sheet? Its material says so, or its class.
    pub fn is_sheet(&self, log: &mut Log) -> Option<bool> {
        if self.cell("quarter").ends_with("sheet") {
            return Some(true);
        }
        let parse = |text: &str| match text.to_ascii_lowercase().as_str() {
            "lumber" => Some(false),
            "sheet" => Some(true),
            _ => None,
        };
        let plain = |text: &str| Ok(cells::material(text).unwrap_or(text).to_string());
        self.word("material", parse, plain, Some(false), "lumber or sheet", log)
    }

    /// The class of lumber, or of sheets by their nominal thickness.
    pub fn class(&self, is_sheet: bool, unit: Unit, log: &mut Log) -> Option<Quarter> {
        if !is_sheet || self.cell("quarter").ends_with("sheet") {
            return self.quarter(unit, log);
        }
        let nominal = self.length("quarter", unit, Quarter::quarters(32).rough(), log)?;
        Quarter::of_sheets(nominal)
    }

    /// What a sheet has beyond its class; nothing for lumber.
    pub fn sheet(&self, is_sheet: bool, unit: Unit, log: &mut Log) -> Option<Sheet> {
        if !is_sheet {
            for column in ["core", "grain", "real"] {
                if !self.cell(column).is_empty() {
                    return self.bad(column, "nothing: lumber has none", None, log);
                }
            }
            return Some(Sheet::default());
        }
        let grain = self.choice(
            "grain",
            SheetGrain::parse,
            Some(SheetGrain::Along),
            "along, across or none: how the grain runs on the sheet",
            log,
        );
        let real = match self.cell("real") {
            "" => Some(None),
            _ => self.length("real", unit, Quarter::quarters(32).rough(), log).map(Some),
        };
        let core = self.cell("core").to_string();
        Some(Sheet { core, grain: grain?, real: real? })
    }

    /// What a price is for.
    pub fn per(&self, default: Per, log: &mut Log) -> Option<Per> {
        let parse = |text: &str| Per::ALL.into_iter().find(|per| per.name().eq_ignore_ascii_case(text));
        let plain = |text: &str| Ok(cells::per(text).unwrap_or(text).to_string());
        self.word("per", parse, plain, Some(default), "bf, piece, ft or m3; piece, ft2 or m2 for sheets", log)
    }

    /// A day; an empty cell is none.
    pub fn date(&self, column: &str, log: &mut Log) -> Option<Option<Date>> {
        let text = self.cell(column);
        if text.is_empty() {
            return Some(None);
        }
        let strict = |text: &str| text.parse::<Date>().map_err(|_| String::new());
        let plain = |text: &str| cells::date(text).map(|date| date.to_string());
        match self.as_meant(column, text, strict, plain, log) {
            Ok(date) => Some(Some(date)),
            Err(why) => self.refused(column, "a date such as 2027-03-31", why, log),
        }
    }

    /// A name that another file describes. `what` makes the fault's sentence where no file does. If a row of
    /// that file cannot be read, it may have described the name, so this row has no fault; nor has it where the whole file cannot
    /// be read.
    pub fn known<'n>(
        &self,
        column: &str,
        names: &Names<'n>,
        what: impl Fn(&str) -> String,
        expected: &str,
        log: &mut Log,
    ) -> Option<&'n str> {
        let text = self.cell(column);
        match names.find(text) {
            Found::Exact(name) => Some(name),
            Found::Alike(name) => {
                log.read_as(self.file, self.line, column, text, name);
                Some(name)
            }
            Found::Unknown(_) if log.unread.contains(&cells::key(text)) => None,
            // Nothing is described, since the whole file cannot be read.
            Found::Unknown(_) if names.is_empty() && !log.faults.is_empty() => None,
            Found::Unknown(near) => {
                let near = near.map_or(String::new(), |near| format!(" (did you mean {near}?)"));
                let kind = FaultKind::Unknown { what: what(text), expected: format!("{expected}{near}") };
                self.fault(column, kind, log);
                None
            }
        }
    }

    /// The value of a text as it stands, or else of what it seems to mean, which is then told.
    fn as_meant<T>(
        &self,
        column: &str,
        text: &str,
        strict: impl Fn(&str) -> Result<T, String>,
        plain: impl Fn(&str) -> Result<String, String>,
        log: &mut Log,
    ) -> Result<T, String> {
        let why = match strict(text) {
            Ok(value) => return Ok(value),
            Err(why) => why,
        };
        if text.is_empty() {
            return Err(why);
        }
        let plain = plain(text)?;
        match strict(&plain) {
            Ok(value) => {
                log.read_as(self.file, self.line, column, text, &plain);
                Ok(value)
            }
            // Of a cell that means something else the first reason is the better one.
            Err(_) => Err(why),
        }
    }
}

/// A positive length of at most `most`, or the reason why not.
pub fn read_size(text: &str, unit: Unit, most: Length) -> Result<Length, String> {
    let length = Length::parse(text, unit).map_err(|error| error.to_string())?;
    if length == Length::ZERO {
        return Err("it is zero".to_string());
    }
    if length > most {
        return Err(format!("it is longer than {}, the most that is read", most.display_feet(unit)));
    }
    Ok(length)
}
