//! `plan.xlsx`: the plan as tables that can be sorted: what to buy, what to cut, settings, and where the wood goes.

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, Table, TableColumn, Workbook, Worksheet, XlsxError,
};

use super::measured::{unit_of_area, unit_of_volume};
use super::{RenderError, Report};
use crate::job::Job;
use crate::measure::{Length, Money, Unit, Volume};
use crate::plan::{BoardSource, Plan};
use crate::planning::Checked;

/// The plan as a workbook.
pub struct PlanWorkbook<'p>(pub &'p Checked);

/// A cell.
enum TableCell {
    Text(String),
    Number(f64),
    /// Nothing is to be told.
    Empty,
}

impl From<&str> for TableCell {
    fn from(text: &str) -> TableCell {
        TableCell::Text(text.to_string())
    }
}

impl From<String> for TableCell {
    fn from(text: String) -> TableCell {
        TableCell::Text(text)
    }
}

impl From<f64> for TableCell {
    fn from(number: f64) -> TableCell {
        TableCell::Number(number)
    }
}

impl From<u64> for TableCell {
    fn from(number: u64) -> TableCell {
        TableCell::Number(number as f64)
    }
}

impl Report for PlanWorkbook<'_> {
    fn file_name(&self) -> &'static str {
        "plan.xlsx"
    }

    fn bytes(&self) -> Result<Vec<u8>, RenderError> {
        let (plan, job) = (self.0.plan(), self.0.job());
        let mut workbook = Workbook::new();
        // The same plan gives the same bytes on every day.
        let day = ExcelDateTime::from_ymd(2000, 1, 1)?;
        workbook.set_properties(&DocProperties::new().set_creation_datetime(&day));
        for (name, (heads, rows)) in [
            ("Buy", buy(plan)),
            ("Cut list", cut_list(plan, job)),
            ("Boards", boards(plan, job)),
            ("Settings", settings(plan)),
            ("Wood", wood(plan)),
            ("Sheets", sheets(plan)),
            ("Edging", edging(plan)),
        ] {
            if matches!(name, "Sheets" | "Edging") && rows.is_empty() {
                continue;
            }
            let sheet = workbook.add_worksheet();
            sheet.set_name(name)?;
            fill(sheet, &heads, &rows)?;
        }
        Ok(workbook.save_to_buffer()?)
    }
}

type TableSheet = (Vec<String>, Vec<Vec<TableCell>>);

/// Writes a table with its heads; texts stay texts, whatever they begin with.
fn fill(sheet: &mut Worksheet, heads: &[String], rows: &[Vec<TableCell>]) -> Result<(), XlsxError> {
    let bold = Format::new().set_bold();
    for (column, head) in heads.iter().enumerate() {
        sheet.write_string_with_format(0, column as u16, head, &bold)?;
    }
    for (number, row) in rows.iter().enumerate() {
        for (column, cell) in row.iter().enumerate() {
            let (number, column) = (number as u32 + 1, column as u16);
            match cell {
                TableCell::Text(text) => sheet.write_string(number, column, text)?,
                TableCell::Number(value) => sheet.write_number(number, column, *value)?,
                TableCell::Empty => sheet,
            };
        }
    }
    if !rows.is_empty() {
        let columns: Vec<TableColumn> =
            heads.iter().map(|head| TableColumn::new().set_header(head)).collect();
        let table = Table::new().set_columns(&columns);
        sheet.add_table(0, 0, rows.len() as u32, heads.len() as u16 - 1, &table)?;
    }
    sheet.set_freeze_panes(1, 0)?;
    sheet.autofit();
    Ok(())
}

fn heads(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_string()).collect()
}

/// A length as a number of the shop's unit.
fn length(length: Length, unit: Unit) -> TableCell {
    length.to_f64(unit).into()
}

/// A volume in the shop's unit.
fn volume(volume: Volume, unit: Unit) -> TableCell {
    let text = super::measured::volume(volume.board_feet_f64(), unit);
    text.parse::<f64>().map_or(TableCell::Empty, TableCell::Number)
}

/// Square feet in the shop's unit.
fn area(square_feet: f64, unit: Unit) -> TableCell {
    let text = super::measured::area(square_feet, unit);
    text.parse::<f64>().map_or(TableCell::Empty, TableCell::Number)
}

fn buy(plan: &Plan) -> TableSheet {
    let unit = plan.unit;
    let mut names = heads(&["Dealer", "Species", "Class", "Grade"]);
    names
        .extend(["Width", "Width to", "Length", "Length to"].map(|name| format!("{name} ({})", unit.name())));
    names.extend(heads(&["Boards", unit_of_volume(unit)]));
    // Where there are sheets, they have columns of their own.
    let sheets = plan.has_sheets();
    if sheets {
        names.extend(heads(&[unit_of_area(unit), "Grain", "Core"]));
    }
    names.extend(heads(&["Price", "Per", "Off (%)"]));
    names.push(format!("Cost ({})", plan.currency));
    let row = |row: &crate::plan::Buy| {
        let [(width, width_to), (long, long_to)] = row.ranges();
        let mut cells: Vec<TableCell> = vec![
            row.supplier.as_str().into(),
            row.species.as_str().into(),
            row.quarter.to_string().into(),
            row.grade.to_string().into(),
            length(width, unit),
            length(width_to, unit),
            length(long, unit),
            length(long_to, unit),
            row.boards.into(),
            if row.sheet.is_some() { TableCell::Empty } else { volume(row.board_feet, unit) },
        ];
        match (&row.sheet, sheets) {
            (Some(sheet), _) => {
                cells.extend([area(row.square_feet(), unit), sheet.grain.name().into()]);
                cells.push(sheet.core.as_str().into());
            }
            (None, true) => cells.extend([TableCell::Empty, TableCell::Empty, TableCell::Empty]),
            (None, false) => {}
        }
        let money = [row.price.to_f64().into(), row.per.name().into(), row.percent_off.to_f64().into()];
        cells.extend(money);
        cells.push(row.cost.to_f64().into());
        cells
    };
    (names, plan.buy.iter().map(row).collect())
}

fn cut_list(plan: &Plan, job: &Job) -> TableSheet {
    let unit = plan.unit;
    let mut names = heads(&["Product", "Part", "Species", "Finished parts", "Made as", "Pieces cut"]);
    let sizes = ["Cut length", "Cut width", "Length", "Width", "Thickness"];
    names.extend(sizes.map(|name| format!("{name} ({})", unit.name())));
    names.push("Fit".to_string());
    let rows = plan.parts.iter().map(|count| {
        let part = &job.parts[count.part];
        let blank = &part.blank;
        let made = match blank.make.name() {
            None => "whole".to_string(),
            Some(_) => format!("{} {}", blank.make.pieces(), blank.make.words().1),
        };
        vec![
            part.product.as_str().into(),
            part.part.as_str().into(),
            part.species.as_str().into(),
            part.required.into(),
            made.into(),
            count.cut.into(),
            length(blank.cut_length, unit),
            length(blank.cut_width, unit),
            length(part.length, unit),
            length(part.width, unit),
            length(part.thickness, unit),
            part.fit.name().into(),
        ]
    });
    (names, rows.collect())
}

fn boards(plan: &Plan, job: &Job) -> TableSheet {
    let unit = plan.unit;
    let mut names =
        heads(&["Board", "Copies", "From", "Species", "Class", "Grade", "Product", "Part", "Pieces"]);
    names.extend(["Cut length", "Cut width"].map(|name| format!("{name} ({})", unit.name())));
    let mut rows: Vec<Vec<TableCell>> = Vec::new();
    for board in &plan.boards {
        let from = match &board.source {
            BoardSource::Buy(row) => plan.buy[*row].supplier.clone(),
            BoardSource::Rack(_, name) => format!("rack: {name}"),
        };
        for (index, count) in board.pieces_by_part() {
            let part = &job.parts[index];
            rows.push(vec![
                board.id.as_str().into(),
                u64::from(board.copies).into(),
                from.as_str().into(),
                board.species.as_str().into(),
                board.quarter.to_string().into(),
                board.grade.to_string().into(),
                part.product.as_str().into(),
                part.part.as_str().into(),
                count.into(),
                length(part.blank.cut_length, unit),
                length(part.blank.cut_width, unit),
            ]);
        }
    }
    (names, rows)
}

fn settings(plan: &Plan) -> TableSheet {
    let unit = plan.unit;
    let names = ["Cut to", "Scale reads"].map(|name| format!("{name} ({})", unit.name()));
    let names = ["At".to_string()].into_iter().chain(names).chain(heads(&["Cuts", "Boards", "Beyond reach"]));
    let rows = plan.setups.iter().map(|setup| {
        vec![
            setup.at().into(),
            length(setup.setting, unit),
            setup.reading.map_or(TableCell::Empty, |reading| length(reading, unit)),
            setup.cuts.into(),
            setup.boards.join(", ").into(),
            if setup.beyond_reach { "yes" } else { "no" }.into(),
        ]
    });
    (names.collect(), rows.collect())
}

fn wood(plan: &Plan) -> TableSheet {
    let waste = &plan.waste;
    let rows = waste.shares().into_iter().chain([("All boards", waste.stock)]);
    let row = |(name, part): (&'static str, Volume)| {
        vec![name.into(), volume(part, plan.unit), ((waste.percent(part) * 10.0).round() / 10.0).into()]
    };
    (heads(&["Part of the wood", unit_of_volume(plan.unit), "Percent"]), rows.map(row).collect())
}

fn sheets(plan: &Plan) -> TableSheet {
    let waste = &plan.sheet_waste;
    let shares = waste.shares().into_iter().chain([("All sheets", waste.stock)]);
    let row = |(name, part): (&'static str, Volume)| {
        // A sheet counts as an inch thick there.
        let feet = area(part.board_feet_f64(), plan.unit);
        vec![name.into(), feet, ((waste.percent(part) * 10.0).round() / 10.0).into()]
    };
    let rows = if plan.has_sheets() { shares.map(row).collect() } else { Vec::new() };
    (heads(&["Part of the sheets", unit_of_area(plan.unit), "Percent"]), rows)
}

fn edging(plan: &Plan) -> TableSheet {
    let unit = plan.unit;
    let mut names = heads(&["Species", "Edges"]);
    names.extend(["Sheet", "Thickness", "Length"].map(|name| format!("{name} ({})", unit.name())));
    names.extend(heads(&["Rolls", "Cost of the rolls"]));
    let row = |edging: &crate::plan::Edging| {
        vec![
            edging.species.as_str().into(),
            edging.edges.into(),
            length(edging.sheet, unit),
            length(edging.thickness, unit),
            length(edging.length, unit),
            edging.rolls.iter().map(|rolls| rolls.rolls).sum::<u64>().into(),
            edging.rolls.iter().map(|rolls| rolls.cost).sum::<Money>().to_f64().into(),
        ]
    };
    (names, plan.edging.iter().map(row).collect())
}
