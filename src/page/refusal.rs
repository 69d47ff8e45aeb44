//! What is said where something cannot be done.

use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};

use crate::intake::EditError;
use crate::job::JobError;
use crate::planning::PlanningError;
use crate::rack::RackError;
use crate::report::{RenderError, WriteError};

/// A sentence with its status.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    status: StatusCode,
    text: String,
}

/// What a handler gives.
pub type Answer<T> = Result<T, Refusal>;

impl Refusal {
    /// What was asked for cannot be used.
    pub fn bad(text: impl Into<String>) -> Refusal {
        Refusal { status: StatusCode::UNPROCESSABLE_ENTITY, text: text.into() }
    }

    /// There is nothing of that name.
    pub fn missing(text: impl Into<String>) -> Refusal {
        Refusal { status: StatusCode::NOT_FOUND, text: text.into() }
    }

    /// It was changed elsewhere, or something else is being done.
    pub fn conflict(text: impl Into<String>) -> Refusal {
        Refusal { status: StatusCode::CONFLICT, text: text.into() }
    }

    fn failed(text: impl ToString) -> Refusal {
        Refusal { status: StatusCode::INTERNAL_SERVER_ERROR, text: text.to_string() }
    }

    /// The sentence.
    pub fn text(&self) -> &str {
        &self.text
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        (self.status, self.text).into_response()
    }
}

impl From<JobError> for Refusal {
    fn from(error: JobError) -> Refusal {
        Refusal::bad(error.to_string())
    }
}

impl From<PlanningError> for Refusal {
    fn from(error: PlanningError) -> Refusal {
        Refusal::bad(error.to_string())
    }
}

impl From<RackError> for Refusal {
    fn from(error: RackError) -> Refusal {
        Refusal::bad(error.to_string())
    }
}

impl From<EditError> for Refusal {
    fn from(error: EditError) -> Refusal {
        match error {
            EditError::Changed(_) => Refusal::conflict(error.to_string()),
            _ => Refusal::bad(error.to_string()),
        }
    }
}

impl From<RenderError> for Refusal {
    fn from(error: RenderError) -> Refusal {
        Refusal::failed(error)
    }
}

impl From<WriteError> for Refusal {
    fn from(error: WriteError) -> Refusal {
        Refusal::failed(error)
    }
}

impl From<std::io::Error> for Refusal {
    fn from(error: std::io::Error) -> Refusal {
        Refusal::failed(error)
    }
}

/// Does what may take a while where it holds nobody else up.
pub async fn apart<T: Send + 'static>(work: impl FnOnce() -> Answer<T> + Send + 'static) -> Answer<T> {
    tokio::task::spawn_blocking(work).await.unwrap_or_else(|error| Err(Refusal::failed(error)))
}

/// A page, made where it holds nobody else up.
pub async fn page(work: impl FnOnce() -> Answer<Vec<u8>> + Send + 'static) -> Answer<Html<Vec<u8>>> {
    apart(work).await.map(Html)
}
