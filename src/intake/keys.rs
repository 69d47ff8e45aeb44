//! Keys of shop.toml, each taken as what it must be, or told as a fault.

use toml::{Table, Value};

use super::log::Log;
use crate::job::{FaultKind, MAX_BOARD_LENGTH};
use crate::measure::{Length, Money, Unit};

/// Name of the file.
pub const FILE: &str = "shop.toml";

/// May a length be nothing at all?
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zero {
    /// It may.
    Allowed,
    /// It must be more.
    Refused,
}

/// Takes keys out of the file one by one, so that what is left at the end is unknown.
pub struct Keys<'l> {
    /// What is not taken yet.
    pub root: Table,
    /// Where faults go.
    pub log: &'l mut Log,
    /// The unit of lengths without one.
    pub unit: Unit,
}

impl Keys<'_> {
    /// A key of a section, or of none.
    pub fn take(&mut self, section: &str, key: &str) -> Option<Value> {
        if section.is_empty() {
            return self.root.remove(key);
        }
        match self.root.get_mut(section) {
            None => None,
            Some(Value::Table(table)) => table.remove(key),
            Some(other) => {
                let text = other.to_string();
                self.root.remove(section);
                self.bad(section, text, "a section with keys", None);
                None
            }
        }
    }

    /// Notes that a key is not what it must be.
    pub fn bad(&mut self, key: &str, text: String, expected: &str, why: Option<String>) {
        let kind = FaultKind::Value { text, expected: expected.to_string(), why };
        self.log.fault(FILE, None, Some(key), kind);
    }

    /// A value as the text a table's cell would hold.
    pub fn text(&mut self, section: &str, key: &str) -> Option<String> {
        match self.take(section, key)? {
            Value::String(text) => Some(text),
            Value::Integer(number) => Some(number.to_string()),
            Value::Float(number) => Some(number.to_string()),
            other => {
                self.bad(&path(section, key), other.to_string(), "a text or a number", None);
                None
            }
        }
    }

    /// Names of the maker's own and what each stands for: the text of every entry of a table.
    pub fn entries(&mut self, section: &str, key: &str, expected: &str) -> Vec<(String, String)> {
        match self.take(section, key) {
            None => Vec::new(),
            Some(Value::Table(table)) => {
                let text = |value: Value| value.as_str().map_or_else(|| value.to_string(), str::to_string);
                table.into_iter().map(|(name, value)| (name, text(value))).collect()
            }
            Some(other) => {
                self.bad(&path(section, key), other.to_string(), expected, None);
                Vec::new()
            }
        }
    }

    /// A length; nothing at all only where that is allowed.
    pub fn length(&mut self, section: &str, key: &str, zero: Zero) -> Option<Length> {
        self.length_up_to(section, key, zero, MAX_BOARD_LENGTH)
    }

    /// A length of at most so much.
    pub fn length_up_to(&mut self, section: &str, key: &str, zero: Zero, most: Length) -> Option<Length> {
        let text = self.text(section, key)?;
        let why = match Length::parse(&text, self.unit) {
            Ok(length) if length > most => format!("it is more than {}", most.display(self.unit)),
            Ok(Length::ZERO) if zero == Zero::Refused => "it is zero".to_string(),
            Ok(length) => return Some(length),
            Err(error) => error.to_string(),
        };
        self.bad(&path(section, key), text, "a length such as 1/8 or 3.2mm", Some(why));
        None
    }

    /// A key that is true or false.
    pub fn yes_or_no(&mut self, section: &str, key: &str, field: &mut bool) {
        match self.take(section, key) {
            None => {}
            Some(Value::Boolean(value)) => *field = value,
            Some(other) => self.bad(&path(section, key), other.to_string(), "true or false", None),
        }
    }

    /// An amount of at most so much, none of it below nothing.
    pub fn money(&mut self, section: &str, key: &str, most: Option<Money>) -> Option<Money> {
        let text = self.text(section, key)?;
        let why = match Money::parse(&text) {
            Ok(amount) if most.is_some_and(|most| amount > most) => {
                format!("it is more than {}", most.unwrap_or_default().price())
            }
            Ok(amount) => return Some(amount),
            Err(error) => error.to_string(),
        };
        self.bad(&path(section, key), text, "a number such as 12.50, at most 4 decimals", Some(why));
        None
    }
}

/// A key with its section, as a fault names it.
pub fn path(section: &str, key: &str) -> String {
    if section.is_empty() { key.to_string() } else { format!("{section}.{key}") }
}
