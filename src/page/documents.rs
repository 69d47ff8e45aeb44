//! Files that are served as they are, and pages as they are made from their templates.

use std::path::PathBuf;
use std::sync::Arc;

use axum::extract::{Query, State};
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use serde::{Deserialize, Serialize};

use super::desk::Desk;
use super::refusal::{Answer, Refusal, apart};
use crate::report::{RenderError, render_with};

const LAYOUT: (&str, &str) = ("layout.html", include_str!("html/layout.html"));
const PLAN: (&str, &str) = ("plan_view.html", include_str!("html/plan_view.html"));

/// A page on the layout that all share.
pub fn made(template: &str, page: impl Serialize) -> Result<Vec<u8>, RenderError> {
    render_with(&[LAYOUT, PLAN, ("page.html", template)], page)
}

fn typed(kind: &'static str, bytes: impl IntoResponse) -> Response {
    let mut response = bytes.into_response();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    response
}

/// The style of all pages.
pub async fn style() -> Response {
    typed("text/css; charset=utf-8", include_str!("html/page.css"))
}

/// The script of the job's pages.
pub async fn script() -> Response {
    typed("text/javascript; charset=utf-8", include_str!("html/page.js"))
}

/// The script of the yard.
pub async fn yard_script() -> Response {
    typed("text/javascript; charset=utf-8", include_str!("html/yard.js"))
}

/// What a plan's folder holds, with what it is to a browser.
const FILES: [(&str, &str); 11] = [
    ("sheets.html", "text/html; charset=utf-8"),
    ("labels.html", "text/html; charset=utf-8"),
    ("compare.html", "text/html; charset=utf-8"),
    ("scenarios.html", "text/html; charset=utf-8"),
    ("plan.json", "application/json"),
    ("plan.xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    ("buy.csv", "text/csv; charset=utf-8"),
    ("cuts.csv", "text/csv; charset=utf-8"),
    ("setups.csv", "text/csv; charset=utf-8"),
    ("take.csv", "text/csv; charset=utf-8"),
    ("bought.csv", "text/csv; charset=utf-8"),
];

/// Which file is asked for.
#[derive(Debug, Deserialize)]
pub struct DocumentAsked {
    name: String,
    #[serde(default)]
    yard: bool,
}

/// A file of the plan, or of the cutting of what was bought at the yard. Only names of the list are known, so that
/// none leads out of the folder.
pub async fn file(State(desk): State<Arc<Desk>>, Query(asked): Query<DocumentAsked>) -> Answer<Response> {
    let known = FILES.iter().find(|(name, _)| *name == asked.name);
    let (name, kind) = *known.ok_or_else(|| Refusal::missing("there is no file of that name"))?;
    let folder = if asked.yard { desk.yard_folder() } else { desk.plan_folder() };
    let bytes = apart(move || read(&folder.join(name))).await?;
    Ok(typed(kind, bytes))
}

fn read(path: &PathBuf) -> Answer<Vec<u8>> {
    std::fs::read(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => Refusal::missing("it is not made yet: plan first"),
        _ => error.into(),
    })
}
