//! A local page for people who do not use a terminal: the job, the plan, the rack, and the yard on a phone.
//!
//! What lives here: addresses, what may ask for them, pages and their scripts, one search at a time in the
//! background. What never does: a rule of the trade or a figure. Every table goes through the readers of `intake`,
//! every plan comes from `planning`.

mod changes;
mod desk;
mod documents;
mod error;
mod guard;
mod home;
mod refusal;
mod run;
mod search;
mod settings;
mod stack;
mod tables;
mod yard;

use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware::from_fn_with_state;
use axum::routing::{get, post};

pub use self::desk::Desk;
pub use self::error::ServeError;
use self::guard::Guard;
use crate::solve::Options;

/// Bytes of a request: more than any cell or setting of a shop.
const LARGEST_REQUEST: usize = 1 << 18;

/// Requests that are worked on side by side; others wait.
const SIDE_BY_SIDE: usize = 4;

/// How long those that are worked on have when the page is closed.
const CLOSING: Duration = Duration::from_secs(2);

/// What is served, where, to whom.
#[derive(Debug, Clone)]
pub struct Serving {
    /// The job.
    pub job: PathBuf,
    /// Address and port to listen on.
    pub listen: SocketAddr,
    /// Seed, threads and solver of every search; each has its own time and gap.
    pub options: Options,
}

/// Serves a job until `stop` is set. `ready` is told the address that a browser opens.
///
/// # Errors
/// If the job cannot be opened or the address cannot be listened on.
pub fn serve(serving: &Serving, stop: &AtomicBool, ready: impl FnOnce(&str)) -> Result<(), ServeError> {
    let job = |why| ServeError::Job { path: serving.job.clone(), why };
    let desk = Arc::new(Desk::open(&serving.job, serving.options.clone()).map_err(job)?);
    // Whoever is on the same machine may look at the job's files as well; others need the key.
    let key = if serving.listen.ip().is_loopback() { String::new() } else { guard::random_key()? };
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .max_blocking_threads(SIDE_BY_SIDE)
        .build()
        .map_err(ServeError::Server)?;
    let served = runtime.block_on(async {
        let listen = |why| ServeError::Listen { listen: serving.listen, why };
        let listener = tokio::net::TcpListener::bind(serving.listen).await.map_err(listen)?;
        let bound = listener.local_addr().map_err(listen)?;
        ready(&guard::address(bound, &key));
        let closed = async {
            while !stop.load(Ordering::Relaxed) {
                tokio::time::sleep(Duration::from_millis(100)).await;
            }
        };
        let server = axum::serve(listener, routes(&key, &desk));
        tokio::select! {
            served = server => served.map_err(ServeError::Server),
            () = closed => Ok(()),
        }
    });
    desk.stop();
    runtime.shutdown_timeout(CLOSING);
    served
}

/// Every address. A key is the first part of each.
fn routes(key: &str, desk: &Arc<Desk>) -> Router {
    let before = if key.is_empty() { String::new() } else { format!("/{key}") };
    let at = |path: &str| format!("{before}{path}");
    Router::new()
        .route(&at("/"), get(home::page))
        .route(&at("/page.css"), get(documents::style))
        .route(&at("/page.js"), get(documents::script))
        .route(&at("/yard.js"), get(documents::yard_script))
        .route(&at("/file"), get(documents::file))
        .route(&at("/table"), get(tables::page))
        .route(&at("/table/cell"), post(tables::cell))
        .route(&at("/table/row"), post(tables::row))
        .route(&at("/table/remove"), post(tables::remove))
        .route(&at("/table/column"), post(tables::column))
        .route(&at("/table/undo"), post(tables::undo))
        .route(&at("/table/begin"), post(tables::begin))
        .route(&at("/settings"), get(settings::page).post(settings::set))
        .route(&at("/plan"), get(run::plan_page))
        .route(&at("/compare"), get(run::compare_page))
        .route(&at("/scenarios"), get(run::scenarios_page))
        .route(&at("/rack"), get(home::rack))
        .route(&at("/run"), get(run::state).post(run::start))
        .route(&at("/run/stop"), post(run::stop))
        .route(&at("/yard"), get(yard::page))
        .route(&at("/yard/list"), get(yard::list))
        .route(&at("/yard/board"), post(yard::board))
        .route(&at("/yard/finish"), post(yard::finish))
        .layer(DefaultBodyLimit::max(LARGEST_REQUEST))
        .layer(from_fn_with_state(Arc::new(Guard::new(key)), guard::guard))
        .with_state(desk.clone())
}
