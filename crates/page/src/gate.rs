//! Who may come in: whoever knows the address, from a page of our own, by a name that is ours.
//!
//! The address carries a random token, which is changed for a cookie that scripts cannot read and other
//! sites cannot send. The `Host` of every request must be one that this page was opened under, so that a
//! foreign name pointed at this machine reaches nothing; the `Origin` of every change must be the same.

use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use std::net::SocketAddr;

/// How a page may be reached.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Access {
    /// The address that it is served at.
    pub address: SocketAddr,
    /// The secret in the address.
    pub token: String,
}

/// The checks on every request.
#[derive(Clone, Debug)]
pub struct Gate {
    token: String,
    cookie: String,
    hosts: Vec<String>,
}

impl Access {
    /// Access by an address with a fresh token.
    pub fn new(address: SocketAddr) -> Self {
        Self { address, token: crate::work::random_key() }
    }

    /// The address to open.
    pub fn url(&self) -> String {
        format!("http://{}/enter/{}", self.address, self.token)
    }

    /// That address as a QR code (ISO/IEC 18004) of half blocks for a terminal.
    pub fn qr(&self) -> String {
        let Ok(code) = qrcode::QrCode::new(self.url()) else { return String::new() };
        code.render::<qrcode::render::unicode::Dense1x2>()
            .dark_color(qrcode::render::unicode::Dense1x2::Dark)
            .light_color(qrcode::render::unicode::Dense1x2::Light)
            .build()
    }
}

impl Gate {
    /// The gate of an address.
    pub fn new(access: &Access) -> Self {
        let port = access.address.port();
        let mut hosts = vec![access.address.to_string()];
        if access.address.ip().is_loopback() {
            hosts.push(format!("localhost:{port}"));
        }
        // A browser leaves the usual port out of the name.
        if port == 80 {
            hosts.extend(hosts.clone().iter().filter_map(|host| host.strip_suffix(":80")).map(str::to_owned));
        }
        // Cookies do not tell ports apart, so each page has a name of its own for it.
        Self { token: access.token.clone(), cookie: format!("dryjoint-{port}"), hosts }
    }

    /// Whether a token from an address is ours.
    pub fn knows(&self, token: &str) -> bool {
        // Every byte is looked at, so that the time taken tells nothing.
        let differences = token.bytes().zip(self.token.bytes()).filter(|(a, b)| a != b).count();
        token.len() == self.token.len() && differences == 0
    }

    /// The cookie that whoever knows the address gets.
    pub fn cookie(&self) -> String {
        format!("{}={}; Path=/; HttpOnly; SameSite=Strict; Max-Age=604800", self.cookie, self.token)
    }

    /// Why a request is refused; `entering` is one that brings the token in its address.
    pub fn refusal(
        &self,
        method: &Method,
        headers: &HeaderMap,
        entering: bool,
    ) -> Option<(StatusCode, &'static str)> {
        let text = |name| headers.get(name).and_then(|value: &HeaderValue| value.to_str().ok());
        let host = text(header::HOST).unwrap_or_default();
        if !self.hosts.iter().any(|known| known == host) {
            return Some((
                StatusCode::MISDIRECTED_REQUEST,
                "This page is not served under that name. Open the address that the terminal shows.",
            ));
        }
        if method != Method::GET && method != Method::HEAD {
            let origin = text(header::ORIGIN).and_then(|origin| origin.strip_prefix("http://"));
            if origin != Some(host) {
                return Some((StatusCode::FORBIDDEN, "Changes are taken from this page only."));
            }
        }
        if entering {
            return None;
        }
        let cookies = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
        let known = cookies
            .flat_map(|all| all.split(';'))
            .filter_map(|one| one.trim().split_once('='))
            .any(|(name, token)| name == self.cookie && self.knows(token));
        let stranger = "Open the address that the terminal shows: it carries the token that lets you in.";
        (!known).then_some((StatusCode::FORBIDDEN, stranger))
    }
}

/// What goes with every answer: nothing from elsewhere, nothing inside other pages, nothing kept.
pub const HEADERS: [(&str, &str); 6] = [
    (
        "content-security-policy",
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; \
         form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    // With `no-referrer` browsers send `Origin: null` with our own forms too.
    ("referrer-policy", "same-origin"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    ("cache-control", "no-store"),
];

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&str, &str)]) -> HeaderMap {
        let pair = |(name, value): &(&str, &str)| {
            (name.parse::<header::HeaderName>().unwrap(), HeaderValue::from_str(value).unwrap())
        };
        pairs.iter().map(pair).collect()
    }

    #[test]
    fn only_our_own_page_changes_anything() {
        let access = Access::new(SocketAddr::from(([127, 0, 0, 1], 4000)));
        let gate = Gate::new(&access);
        let cookie = format!("a=b; dryjoint-4000={}", access.token);
        let host = ("host", "127.0.0.1:4000");
        let refused = |method: Method, pairs: &[(&str, &str)], entering| {
            gate.refusal(&method, &headers(pairs), entering).map(|(status, _)| status.as_u16())
        };
        let get = |pairs: &[(&str, &str)]| refused(Method::GET, pairs, false);
        assert_eq!(get(&[host, ("cookie", &cookie)]), None);
        assert_eq!(get(&[("host", "localhost:4000"), ("cookie", &cookie)]), None);
        assert_eq!(get(&[host]), Some(403), "a stranger");
        assert_eq!(get(&[host, ("cookie", "dryjoint-4000=")]), Some(403));
        assert_eq!(get(&[("host", "bench.example:4000"), ("cookie", &cookie)]), Some(421));
        assert_eq!(get(&[("cookie", &cookie)]), Some(421), "no host at all");
        assert_eq!(refused(Method::GET, &[host], true), None, "whoever brings the token");
        let post =
            |origin: &str| refused(Method::POST, &[host, ("cookie", &cookie), ("origin", origin)], false);
        assert_eq!(post("http://127.0.0.1:4000"), None);
        assert_eq!(post("http://localhost:4000"), Some(403), "another origin than the host");
        assert_eq!(post("null"), Some(403));
        assert_eq!(refused(Method::POST, &[host, ("cookie", &cookie)], false), Some(403));
        assert_eq!(
            refused(Method::POST, &[host, ("origin", "http://127.0.0.1:4000")], false),
            Some(403),
            "no change without the cookie"
        );
    }

    #[test]
    fn tokens_are_long_and_never_the_same() {
        let address = SocketAddr::from(([127, 0, 0, 1], 1));
        let (one, other) = (Access::new(address), Access::new(address));
        assert_eq!(one.token.len(), 32);
        assert_ne!(one.token, other.token);
        assert!(!Gate::new(&one).knows(&other.token) && !Gate::new(&one).knows(""));
        assert!(one.qr().lines().count() > 10);
    }
}
