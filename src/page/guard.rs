//! Who may ask, and what every answer says to the browser.

use std::net::{IpAddr, SocketAddr, UdpSocket};
use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::error::ServeError;

/// What a page may load and do: its own files, and nothing of anybody else.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; \
                      connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

const HEADERS: [(HeaderName, &str); 6] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (header::CACHE_CONTROL, "no-store"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
];

/// Bytes of a key: nobody guesses 128 bits.
const KEY_BYTES: usize = 16;

/// What is asked of every request.
#[derive(Debug)]
pub struct Guard {
    has_key: bool,
}

impl Guard {
    /// With a key in every address, or without.
    pub fn new(key: &str) -> Guard {
        Guard { has_key: !key.is_empty() }
    }

    /// Why a request is not answered, if it is not.
    fn refuses(&self, method: &Method, headers: &HeaderMap) -> Option<&'static str> {
        let text = |name: HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
        let host = text(header::HOST).unwrap_or("");
        // Without a key, a name that somebody else lets point to this machine would open the page to his own pages.
        if !self.has_key && !is_this_machine(host) {
            return Some("open the page by the address that the program printed");
        }
        let origin = text(header::ORIGIN);
        let own = origin.is_none_or(|origin| origin.strip_prefix("http://") == Some(host));
        if method != Method::GET && !own {
            return Some("another page asked for this change");
        }
        None
    }
}

fn is_this_machine(host: &str) -> bool {
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
        _ => host,
    };
    let name = name.trim_start_matches('[').trim_end_matches(']');
    name.eq_ignore_ascii_case("localhost") || name.parse::<IpAddr>().is_ok()
}

/// Refuses what others ask for, and puts the headers on every answer.
pub async fn guard(State(guard): State<Arc<Guard>>, request: Request, next: Next) -> Response {
    let mut response = match guard.refuses(request.method(), request.headers()) {
        Some(why) => (StatusCode::FORBIDDEN, why).into_response(),
        None => next.run(request).await,
    };
    for (name, value) in HEADERS {
        response.headers_mut().insert(name, HeaderValue::from_static(value));
    }
    response
}

/// A key for the address.
pub fn random_key() -> Result<String, ServeError> {
    let mut bytes = [0; KEY_BYTES];
    getrandom::fill(&mut bytes).map_err(|error| ServeError::Key(error.to_string()))?;
    Ok(crate::intake::hex(&bytes))
}

/// The address to open in a browser. A server that listens on every address of the machine is shown by the
/// one at which others on the network reach it.
pub fn address(bound: SocketAddr, key: &str) -> String {
    let mut shown = bound;
    if bound.ip().is_unspecified() {
        // No packet is sent: the system only says which of its addresses it would send it from.
        let outward = UdpSocket::bind((bound.ip(), 0)).and_then(|socket| {
            socket.connect(if bound.is_ipv4() { "192.0.2.1:9" } else { "[2001:db8::1]:9" })?;
            socket.local_addr()
        });
        shown.set_ip(outward.map_or(IpAddr::from([127, 0, 0, 1]), |address| address.ip()));
    }
    if key.is_empty() { format!("http://{shown}/") } else { format!("http://{shown}/{key}/") }
}

#[cfg(test)]
mod tests {
    use super::is_this_machine;

    #[test]
    fn only_addresses_and_the_machine_itself_are_known() {
        for host in ["localhost:4404", "127.0.0.1:4404", "[::1]:4404", "192.168.1.7:80", "LOCALHOST"] {
            assert!(is_this_machine(host), "{host}");
        }
        for host in ["", "shop.example:4404", "localhost.example", "127.0.0.1.example:4404"] {
            assert!(!is_this_machine(host), "{host}");
        }
    }
}
