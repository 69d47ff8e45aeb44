//! The weeks of a night on a page: what is cut when, and how busy the saws are.

use serde::Serialize;

use super::RenderError;
use super::page::render;
use crate::plan::Saws;

const TEMPLATE: &str = include_str!("calendar.html");

/// Width of a bar in the units of the drawing.
const WIDTH: f64 = 200.0;

/// A batch as the page shows it.
#[derive(Debug, Clone)]
pub struct CalendarRow {
    /// Its name.
    pub name: String,
    /// The week in which it is cut.
    pub first: String,
    /// The last week that it is for.
    pub last: String,
    /// Products.
    pub products: u64,
    /// Boards.
    pub boards: u64,
    /// What it costs, or a word where it has no plan.
    pub total: String,
    /// Its hours at each saw, with the most that the shop can do.
    pub saws: Vec<(Saws, f64, Option<f64>)>,
    /// Its status in a word or two.
    pub state: String,
}

/// The page.
#[derive(Debug, Clone)]
pub struct Calendar {
    /// Of all costs.
    pub currency: String,
    /// The batches in their order.
    pub rows: Vec<CalendarRow>,
    /// What a person must know of them.
    pub notes: Vec<String>,
}

#[derive(Serialize)]
struct CalendarView<'c> {
    currency: &'c str,
    has_limits: bool,
    rows: Vec<RowView<'c>>,
    notes: &'c [String],
}

#[derive(Serialize)]
struct RowView<'c> {
    name: &'c str,
    first: &'c str,
    last: &'c str,
    products: u64,
    boards: u64,
    total: &'c str,
    saws: Vec<SawView>,
    state: &'c str,
}

#[derive(Serialize)]
struct SawView {
    name: &'static str,
    hours: String,
    /// Empty where the shop does not say.
    most: String,
    is_over: bool,
    bar: f64,
    mark: Option<f64>,
}

impl Calendar {
    /// Name of its file.
    pub const FILE_NAME: &str = "calendar.html";

    /// The page as HTML.
    ///
    /// # Errors
    /// If the template cannot be filled.
    pub fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let all = self.rows.iter().flat_map(|row| &row.saws);
        let longest = all.clone().map(|(_, hours, most)| hours.max(most.unwrap_or(0.0))).fold(0.1, f64::max);
        let tenth = |number: f64| (number * 10.0).round() / 10.0;
        let saw = |(saw, hours, most): &(Saws, f64, Option<f64>)| SawView {
            name: saw.words(),
            hours: format!("{hours:.1}"),
            most: most.map_or(String::new(), |most| format!("{most:.1}")),
            is_over: most.is_some_and(|most| *hours > most),
            bar: tenth(hours / longest * WIDTH),
            mark: most.map(|most| tenth(most / longest * WIDTH)),
        };
        let rows = self.rows.iter().map(|row| RowView {
            name: &row.name,
            first: &row.first,
            last: &row.last,
            products: row.products,
            boards: row.boards,
            total: &row.total,
            saws: row.saws.iter().map(saw).collect(),
            state: &row.state,
        });
        let has_limits = all.clone().any(|(_, _, most)| most.is_some());
        let view =
            CalendarView { currency: &self.currency, has_limits, rows: rows.collect(), notes: &self.notes };
        render(TEMPLATE, view)
    }
}
