//! Why a page is not served.

use std::net::SocketAddr;
use std::path::PathBuf;

/// Why nothing is served.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The address.
    #[error(
        "{listen} cannot be listened on: {why}; another --listen, such as 127.0.0.1:0, takes a free port"
    )]
    Listen {
        /// The address.
        listen: SocketAddr,
        /// The system's reason.
        why: std::io::Error,
    },
    /// The job.
    #[error("the job {path} cannot be opened: {why}", path = path.display())]
    Job {
        /// The job.
        path: PathBuf,
        /// The system's reason.
        why: std::io::Error,
    },
    /// The system gives no random key.
    #[error("the system gives no random key: {0}")]
    Key(String),
    /// The server itself.
    #[error("the page cannot be served: {0}")]
    Server(std::io::Error),
}
