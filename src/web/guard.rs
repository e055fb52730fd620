//! Who has access: pages and programs of this machine under the server's own name, and the record only with the token.
//!
//! A page of somebody else can send requests to this machine from the visitor's browser, also under a name of its own
//! that points here. Such requests carry that page's origin or that name, and are refused.

use super::problem::Problem;
use super::state::{ServerState, Shared};
use axum::extract::{Request, State};
use axum::http::header::{AUTHORIZATION, HOST, HeaderName, ORIGIN};
use axum::http::{HeaderMap, HeaderValue};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use std::net::{IpAddr, SocketAddr};

/// Minimum length of a token [characters].
pub(super) const MIN_TOKEN: usize = 16;

/// What a page of this server may do: show its own files and pictures, send requests to its own server, nothing else.
const CONTENT_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; \
    connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// Headers of every response.
const HEADERS: [(HeaderName, &str); 6] = [
    (HeaderName::from_static("content-security-policy"), CONTENT_POLICY),
    (HeaderName::from_static("x-content-type-options"), "nosniff"),
    (HeaderName::from_static("referrer-policy"), "no-referrer"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("cache-control"), "no-store"),
];

/// A response with these headers, where it does not have them already.
pub(super) async fn with_safety_headers(mut response: Response) -> Response {
    for (name, value) in HEADERS {
        response.headers_mut().entry(name).or_insert(HeaderValue::from_static(value));
    }
    response
}

/// Refuses requests to a name that is not the server's, or from a page of another origin.
pub(super) async fn own_pages_only(State(state): State<Shared>, request: Request, next: Next) -> Response {
    match foreign(request.headers(), state.address).or_else(|| from_elsewhere(&request)) {
        Some(problem) => problem.into_response(),
        None => next.run(request).await,
    }
}

/// Refuses what a page of another site asks of the interface: a browser says so even where it sends no origin, as with
/// the address of a picture. A link from elsewhere to the page itself is fine.
fn from_elsewhere(request: &Request) -> Option<Problem> {
    let mut sites = request.headers().get_all("sec-fetch-site").iter();
    let is_elsewhere = sites.any(|site| ![&b"same-origin"[..], b"none"].contains(&site.as_bytes()));
    (is_elsewhere && request.uri().path().starts_with("/api"))
        .then(|| Problem::forbidden("only pages of this server may send it requests"))
}

/// Why a request of these headers is refused, if it is.
fn foreign(headers: &HeaderMap, address: SocketAddr) -> Option<Problem> {
    let mut hosts = headers.get_all(HOST).iter().map(|host| host.to_str().unwrap_or_default());
    let (host, more) = (hosts.next().unwrap_or_default(), hosts.next());
    if more.is_some() || !is_own(host, address) {
        return Some(Problem::forbidden(
            "requests go to the address that the server printed when it started",
        ));
    }
    let own = format!("http://{host}");
    let is_foreign = headers.get_all(ORIGIN).iter().any(|origin| origin.as_bytes() != own.as_bytes());
    is_foreign.then(|| Problem::forbidden("only pages of this server may send it requests"))
}

/// Whether a `Host` is one of the names of a server on that address. A name can be pointed here by somebody else's page,
/// a number cannot, so a server on all addresses of a machine accepts any number.
fn is_own(host: &str, address: SocketAddr) -> bool {
    let (name, port) = match host.rsplit_once(':') {
        Some((name, port)) if !port.ends_with(']') => (name, port.parse().ok()),
        _ => (host, Some(80)),
    };
    if port != Some(address.port()) {
        return false;
    }
    let literal: Option<IpAddr> = name.trim_start_matches('[').trim_end_matches(']').parse().ok();
    match literal {
        None => name.eq_ignore_ascii_case("localhost"),
        Some(ip) => ip.is_loopback() || address.ip().is_unspecified() || ip == address.ip(),
    }
}

/// Refuses requests without the token, where there is one.
pub(super) fn check_token(state: &ServerState, headers: &HeaderMap) -> Result<(), Problem> {
    let Some(token) = &state.options.token else { return Ok(()) };
    let shown = headers.get(AUTHORIZATION).and_then(|shown| shown.as_bytes().strip_prefix(b"Bearer "));
    if shown.is_some_and(|shown| same(shown, token.as_bytes())) {
        Ok(())
    } else {
        Err(Problem::unauthorized())
    }
}

/// Whether two texts are the same, in a time that does not depend on how much of them is.
fn same(a: &[u8], b: &[u8]) -> bool {
    let differing = a.iter().zip(b).fold(0, |sum, (a, b)| std::hint::black_box(sum | (a ^ b)));
    a.len() == b.len() && differing == 0
}

#[cfg(test)]
mod tests {
    use super::{is_own, same};

    #[test]
    fn property_only_own_names_with_the_port_are_own() {
        let local = "127.0.0.1:4628".parse().unwrap();
        for host in ["127.0.0.1:4628", "localhost:4628", "LOCALHOST:4628", "[::1]:4628"] {
            assert!(is_own(host, local), "{host}");
        }
        for host in
            ["", "localhost", "127.0.0.1:80", "evil.example:4628", "192.0.2.7:4628", "localhost:x", "a"]
        {
            assert!(!is_own(host, local), "{host}");
        }
        let (one, all) = ("192.0.2.7:80".parse().unwrap(), "0.0.0.0:80".parse().unwrap());
        assert!(is_own("192.0.2.7", one) && !is_own("192.0.2.8", one));
        assert!(is_own("192.0.2.8", all) && is_own("[2001:db8::1]", all) && !is_own("evil.example", all));
    }

    #[test]
    fn closed_form_tokens_are_the_same_or_not() {
        assert!(same(b"abc", b"abc"));
        assert!(!same(b"abc", b"abd") && !same(b"ab", b"abc") && !same(b"abc", b"ab") && !same(b"", b"a"));
    }
}
