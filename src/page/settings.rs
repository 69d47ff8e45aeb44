//! The shop's settings at the page: the text of `shop.toml`, changed as a whole.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::response::Html;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::desk::Desk;
use super::documents::made;
use super::refusal::{Answer, Refusal, apart, page as on_page};
use super::tables::{SETTINGS, judged};
use crate::intake::version;
use crate::report::write_file;

#[derive(Serialize)]
struct SettingsPage {
    title: &'static str,
    here: &'static str,
    text: String,
    version: String,
    editable: bool,
    faults: Vec<String>,
    undo: usize,
    known: BTreeMap<&'static str, Vec<(&'static str, &'static str)>>,
}

/// The settings of the shop, as text.
pub async fn page(State(desk): State<Arc<Desk>>) -> Answer<Html<Vec<u8>>> {
    on_page(move || {
        let text = std::fs::read_to_string(desk.folder().join(SETTINGS)).unwrap_or_default();
        let faults = judged(&desk).faults.into_iter().filter(|fault| fault.file == SETTINGS);
        let mut known: BTreeMap<&str, Vec<(&str, &str)>> = BTreeMap::new();
        for setting in &crate::intake::SETTINGS {
            known.entry(setting.section).or_default().push((setting.key, setting.why));
        }
        let page = SettingsPage {
            title: "Settings of the shop",
            here: "job",
            version: version(text.as_bytes()),
            text,
            editable: !desk.is_workbook(),
            faults: faults.map(|fault| fault.to_string()).collect(),
            undo: desk.changes().of(SETTINGS),
            known,
        };
        Ok(made(include_str!("html/settings.html"), page)?)
    })
    .await
}

/// New settings, and the version that they were written from.
#[derive(Debug, Deserialize)]
pub struct NewSettings {
    text: String,
    version: String,
}

/// The settings are stored, unless somebody has changed them since.
pub async fn set(State(desk): State<Arc<Desk>>, Json(asked): Json<NewSettings>) -> Answer<Json<Value>> {
    apart(move || {
        let mut changes = desk.changes();
        if desk.is_workbook() {
            return Err(Refusal::bad("the job is a workbook: change its sheet shop there"));
        }
        let path = desk.folder().join(SETTINGS);
        let before = std::fs::read(&path).unwrap_or_default();
        if version(&before) != asked.version {
            return Err(Refusal::conflict(
                "shop.toml was changed elsewhere: copy your text, load the page again, and change it there",
            ));
        }
        let text = asked.text.replace("\r\n", "\n");
        write_file(&desk.folder(), SETTINGS, text.as_bytes())?;
        changes.keep(SETTINGS, before, text.as_bytes());
        drop(changes);
        let faults = judged(&desk).faults.into_iter().filter(|fault| fault.file == SETTINGS);
        let faults: Vec<String> = faults.map(|fault| fault.to_string()).collect();
        Ok(Json(json!({ "version": version(text.as_bytes()), "faults": faults })))
    })
    .await
}
