//! The keys of the saws and of the milling.

use toml::Value;

use super::WIDEST_KERF;
use crate::intake::keys::{Keys, Zero, path};
use crate::job::{BeyondReach, EdgingRules, Milling, Saw, SheetSaw, SheetSawKind};
use crate::measure::{Length, Money};
use crate::trade::{Dressed, Quarter};

/// Heaviest strip and densest sheet that are read.
const HEAVIEST: i64 = 5_000;

/// Sheets laid on each other above which no blade of a shop reaches through.
const MOST_STACKED: u32 = 6;

impl Keys<'_> {
    pub(super) fn saw(&mut self, saw: &mut Saw) {
        for (key, field) in [("rip_kerf", &mut saw.rip_kerf), ("crosscut_kerf", &mut saw.crosscut_kerf)] {
            if let Some(kerf) = self.length_up_to("saw", key, Zero::Allowed, WIDEST_KERF) {
                *field = kerf;
            }
        }
        for (key, zero, field) in [
            ("max_rip_width", Zero::Refused, &mut saw.max_rip_width),
            ("max_crosscut_length", Zero::Refused, &mut saw.max_crosscut_length),
            ("standoff_block", Zero::Allowed, &mut saw.standoff_block),
        ] {
            if let Some(length) = self.length("saw", key, zero) {
                *field = length;
            }
        }
        for (key, field) in [
            ("chop_saw", &mut saw.stations.chop_saw),
            ("sled", &mut saw.stations.sled),
            ("jointer", &mut saw.stations.jointer),
            ("planer", &mut saw.stations.planer),
        ] {
            if let Some(longest) = self.length("stations", key, Zero::Allowed) {
                *field = (longest > Length::ZERO).then_some(longest);
            }
        }
        self.stages("saw", &mut saw.stages);
        if let Some(text) = self.text("saw", "beyond_reach") {
            match text.as_str() {
                "other-tool" => saw.beyond_reach = BeyondReach::OtherTool,
                "refuse" => saw.beyond_reach = BeyondReach::Refuse,
                _ => self.bad("saw.beyond_reach", text, "other-tool or refuse", None),
            }
        }
    }

    fn stages(&mut self, section: &str, stages: &mut u8) {
        let Some(text) = self.text(section, "stages") else { return };
        match text.as_str() {
            "2" => *stages = 2,
            "3" => *stages = 3,
            _ => self.bad(&path(section, "stages"), text, "2 or 3", None),
        }
    }

    pub(super) fn sheet_saw(&mut self, saw: &mut SheetSaw) {
        if let Some(text) = self.text("sheet_saw", "kind") {
            match SheetSawKind::ALL.into_iter().find(|kind| kind.name() == text) {
                Some(kind) => saw.kind = kind,
                None => self.bad("sheet_saw.kind", text, "table-saw, track-saw or panel-saw", None),
            }
        }
        if let Some(kerf) = self.length_up_to("sheet_saw", "kerf", Zero::Allowed, WIDEST_KERF) {
            saw.kerf = kerf;
        }
        if let Some(trim) = self.length("sheet_saw", "trim", Zero::Allowed) {
            saw.trim = trim;
        }
        if let Some(longest) = self.length("sheet_saw", "longest_rip", Zero::Refused) {
            saw.longest_rip = longest;
        }
        self.stages("sheet_saw", &mut saw.stages);
        self.yes_or_no("sheet_saw", "exact", &mut saw.exact);
        for (key, field) in [("max_strip_weight", &mut saw.max_strip_weight), ("density", &mut saw.density)] {
            if let Some(number) = self.money("sheet_saw", key, Some(Money::cents(HEAVIEST * 100))) {
                *field = number;
            }
        }
        if let Some(text) = self.text("sheet_saw", "stack") {
            match text.parse().ok().filter(|stack| (1..=MOST_STACKED).contains(stack)) {
                Some(stack) => saw.stack = stack,
                None => self.bad("sheet_saw.stack", text, "1 to 6 sheets", None),
            }
        }
    }

    pub(super) fn edging(&mut self, edging: &mut EdgingRules) {
        if let Some(percent) = self.money("edging", "roll_waste_percent", Some(Money::cents(10_000))) {
            edging.roll_waste_percent = percent;
        }
        for (key, field) in
            [("lipping_over", &mut edging.lipping_over), ("lipping_longer", &mut edging.lipping_longer)]
        {
            if let Some(length) = self.length_up_to("edging", key, Zero::Allowed, Length::inches(6)) {
                *field = length;
            }
        }
    }

    pub(super) fn milling(&mut self, milling: &mut Milling) {
        for (key, field) in [
            ("end_trim", &mut milling.end_trim),
            ("edge_trim", &mut milling.edge_trim),
            ("length_allowance", &mut milling.length_allowance),
            ("width_allowance", &mut milling.width_allowance),
            ("creep_allowance", &mut milling.creep_allowance),
            ("to_work_allowance", &mut milling.to_work_allowance),
        ] {
            if let Some(length) = self.length("milling", key, Zero::Allowed) {
                *field = length;
            }
        }
        match self.take("milling", "dressed") {
            None => {}
            Some(Value::Table(table)) => {
                for (class, value) in table {
                    self.dressed(milling, &class, &value);
                }
            }
            Some(other) => {
                self.bad("milling.dressed", other.to_string(), "a table of classes", None);
            }
        }
    }

    fn dressed(&mut self, milling: &mut Milling, class: &str, value: &Value) {
        let key = format!("milling.dressed.{class}");
        let Some(quarter) = Quarter::parse(class) else {
            return self.bad(&key, class.to_string(), "a class such as 4/4 or 27mm", None);
        };
        let as_text = |value: &Value| value.as_str().map_or_else(|| value.to_string(), str::to_string);
        let (first, steps) = match value {
            Value::Array(steps) => match steps.split_first() {
                Some((first, steps)) => (as_text(first), steps.iter().map(as_text).collect()),
                None => return self.bad(&key, "[]".to_string(), "a length such as 13/16", None),
            },
            other => (as_text(other), Vec::new()),
        };
        let Some(thickness) = self.dressed_thickness(&key, &first, quarter.rough()) else { return };
        let mut dressed = Dressed { thickness, over: Vec::new() };
        for step in steps {
            let Some((thinner, over)) = step.split_once("over") else {
                return self.bad(&key, step, "a step such as 3/4 over 72", None);
            };
            let (least, most) = match dressed.over.last() {
                Some((over, thickness)) => (*over, *thickness),
                None => (Length::ZERO, thickness),
            };
            let Some(thickness) = self.dressed_thickness(&key, thinner, most) else { return };
            match Length::parse(over, self.unit) {
                Ok(over) if over > least => dressed.over.push((over, thickness)),
                _ => return self.bad(&key, step, "a step over a length above that of the step before", None),
            }
        }
        milling.dressed.set(quarter, dressed);
    }

    fn dressed_thickness(&mut self, key: &str, text: &str, most: Length) -> Option<Length> {
        match Length::parse(text, self.unit) {
            Ok(length) if length > Length::ZERO && length <= most => return Some(length),
            Ok(_) => {
                let expected = "more than 0 and no more than the rough thickness or the step before";
                self.bad(key, text.to_string(), expected, None);
            }
            Err(error) => {
                self.bad(key, text.to_string(), "a length such as 13/16", Some(error.to_string()));
            }
        }
        None
    }
}
