//! `sheets.html`: one self-contained printable page, every board drawn to scale, in each direction its own.

use std::io::Write;

use jiff::civil::Date;
use serde::Serialize;

use self::work::{
    MovementView, by_hand, drilling, final_sizes, finishing, glued, movement, plugs, purpose, resawn,
    reserved, sets, short_pieces,
};

mod boards;
mod cover;
mod money;
mod numbers;
mod sizes;
mod steps;
mod ticked;
mod work;

pub use self::boards::NextStep;
use self::boards::{DrawingView, drawing, shown_boards};
pub use self::cover::title;
use self::cover::{DealerView, OrderView, PulledView, SettingView, SheetsView, WoodView};
use self::cover::{
    MOST_ORDERS, as_css_text, buy_rows, cost_lines, edging, order, orders, proof, pulled, sheets, wood,
};
use self::money::{AmountView, classes, money};
pub use self::sizes::shown;
use self::ticked::Table;
use super::bought::{asked_for, heading_of_measures};
use super::curve::Curve;
use super::measured::{unit_of_volume, volume};
use super::needed::Needed;
use super::page::{render, render_to};
use super::text::{confidence, cost_of_sets};
use super::words::{hours_at_saws, times, trimmed};
use super::{RenderError, Report};
use crate::intake::digest;
use crate::job::Fault;
use crate::plan::saw_loads;
use crate::planning::Checked;
use crate::trade::finish::{Film, RAGS};

/// Printable sheets, with the day that the cover names.
pub struct Sheets<'p>(pub &'p Checked, pub Option<Date>);

/// Digits of a plan's fingerprint.
const FINGERPRINT: usize = 8;

const TEMPLATE: &str = include_str!("sheets.html");

impl Report for Sheets<'_> {
    fn file_name(&self) -> &'static str {
        "sheets.html"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        render(TEMPLATE, self.page())
    }

    fn write(&self, to: &mut dyn Write) -> Result<(), RenderError> {
        render_to(to, TEMPLATE, self.page())
    }
}

impl Sheets<'_> {
    fn page(&self) -> Page {
        let (plan, job) = (self.0.plan(), self.0.job());
        Page {
            currency: plan.currency.clone(),
            volume: unit_of_volume(plan.unit),
            measure: heading_of_measures(plan),
            cost: cost_lines(plan),
            total: plan.cost.total.to_string(),
            proof: proof(plan),
            drawn: plan.has_drawn_boards(),
            confidence: plan.confidence.as_ref().map(confidence),
            curve: plan.confidence.as_ref().and_then(|of| Curve::of(of, plan.unit)),
            header: as_css_text(&title(job)),
            title: title(job),
            shop: job.shop.name.clone(),
            dated: self.1.map_or(String::new(), |date| date.to_string()),
            fingerprint: digest(self.0.text().as_bytes())[..FINGERPRINT].to_string(),
            orders: orders(job),
            more_orders: job.orders.len().saturating_sub(MOST_ORDERS),
            buy: buy_rows(plan),
            money: money(plan),
            classes: classes(plan),
            pulled: pulled(plan, job),
            asked_for: asked_for(plan, job),
            still_needed: Needed::of(plan, job),
            left_out: job.left_out.iter().map(Fault::to_string).collect(),
            lumber: plan.tells_lumber(),
            wood: wood(&plan.waste, &|feet| volume(feet, plan.unit)),
            sheets: sheets(plan),
            edging: edging(plan),
            finished: [
                volume(plan.waste.finished.board_feet_f64(), plan.unit),
                format!("{:.0}", plan.waste.percent(plan.waste.finished)),
            ],
            stock: volume(plan.waste.stock.board_feet_f64(), plan.unit),
            order: order(plan, job),
            made: times(plan.settings_made),
            hours: hours_at_saws(&saw_loads(self.0.document(), &job.shop)),
            made_by_layout: times(plan.settings_by_layout),
            block: shown(job.shop.saw.standoff_block, plan.unit),
            narrow: plan
                .setups
                .iter()
                .any(|setup| setup.narrow)
                .then(|| shown(job.shop.safety.narrowest_rip, plan.unit)),
            by_hand: by_hand(plan, job),
            short: short_pieces(plan, job),
            least: shown(job.shop.safety.min_machined_length, plan.unit),
            boards: shown_boards(plan).map(|board| drawing(plan, job, board)).collect(),
            not_shown: plan.boards.len() - shown_boards(plan).count(),
            resawn: resawn(plan, job),
            every_way: job.parts.iter().all(|part| part.blank.of_all_ways || !part.blank.make.is_glued()),
            glued_where_cheaper: job.shop.glue.where_cheaper,
            glued: glued(plan, job),
            sets: sets(plan),
            cost_of_sets: cost_of_sets(plan),
            final_sizes: final_sizes(plan, job),
            drilling: drilling(plan),
            plugs: plugs(plan, job),
            movement: movement(plan, job),
            moisture: [job.shop.wood.moisture_now, job.shop.wood.moisture_low, job.shop.wood.moisture_high]
                .map(|percent| trimmed(&percent.price()).to_string()),
            finishing: finishing(plan),
            oil: plan.work.finishing.iter().any(|finishing| finishing.film == Film::Oil),
            rags: RAGS,
            reserved: reserved(plan),
            lacking: plan.work.lacking.iter().map(purpose).collect(),
        }
    }
}

#[derive(Serialize)]
struct Page {
    currency: String,
    /// What volumes are counted in.
    volume: &'static str,
    measure: &'static str,
    cost: Vec<(&'static str, String)>,
    total: String,
    proof: String,
    /// Are there boards that nobody has seen?
    drawn: bool,
    confidence: Option<String>,
    curve: Option<Curve>,
    /// What the stack is for.
    title: String,
    /// The shop's name, if it has told one.
    shop: String,
    dated: String,
    /// The title as a text of a style sheet, for the margin of every page.
    header: String,
    fingerprint: String,
    /// (order with a colon, quantity and product, due)
    orders: Vec<OrderView>,
    more_orders: usize,
    buy: Vec<DealerView>,
    money: Vec<AmountView>,
    classes: Vec<AmountView>,
    pulled: Vec<PulledView>,
    /// Random widths, in words.
    asked_for: Vec<String>,
    still_needed: Vec<Needed>,
    /// Rows that cannot be read.
    left_out: Vec<String>,
    /// Is lumber in it?
    lumber: bool,
    wood: Vec<WoodView>,
    sheets: Option<SheetsView>,
    edging: Table,
    stock: String,
    /// Board feet of the finished parts, and percent of the stock.
    finished: [String; 2],
    order: Vec<SettingView>,
    made: String,
    /// Of all settings and cuts, saw by saw.
    hours: String,
    made_by_layout: String,
    block: String,
    narrow: Option<String>,
    by_hand: Table,
    short: Table,
    least: String,
    boards: Vec<DrawingView>,
    /// Layouts of drawn boards that the page leaves out.
    not_shown: usize,
    /// Does what is proven hold for every way to glue?
    every_way: bool,
    glued_where_cheaper: bool,
    resawn: Table,
    glued: Table,
    sets: Table,
    cost_of_sets: Option<String>,
    final_sizes: Table,
    drilling: Table,
    plugs: Table,
    movement: Vec<MovementView>,
    /// Percent now, lowest and highest.
    moisture: [String; 3],
    finishing: Table,
    /// Is anything finished with oil?
    oil: bool,
    rags: &'static str,
    reserved: Table,
    lacking: Vec<String>,
}
