//! One request over a plain connection: enough for WebDriver and for playing the stranger.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

/// An answer.
#[derive(Debug)]
pub struct Answer {
    /// The status code.
    pub status: u16,
    /// Everything before the body.
    pub head: String,
    /// The body.
    pub body: String,
}

/// Sends a request to `address` and reads the answer to its end.
pub fn request(
    address: &str,
    method: &str,
    path: &str,
    headers: &[(&str, &str)],
    body: &str,
) -> std::io::Result<Answer> {
    let mut stream = TcpStream::connect(address)?;
    stream.set_read_timeout(Some(Duration::from_secs(60)))?;
    let mut text =
        format!("{method} {path} HTTP/1.1\r\nConnection: close\r\nContent-Length: {}\r\n", body.len());
    if !headers.iter().any(|(name, _)| name.eq_ignore_ascii_case("host")) {
        text.push_str(&format!("Host: {address}\r\n"));
    }
    for (name, value) in headers {
        text.push_str(&format!("{name}: {value}\r\n"));
    }
    text.push_str("\r\n");
    text.push_str(body);
    stream.write_all(text.as_bytes())?;
    // Not every server closes the connection when asked to, so the length decides where the body ends.
    let mut bytes = Vec::new();
    let mut piece = [0; 16 * 1024];
    while !is_whole(&bytes) {
        match stream.read(&mut piece)? {
            0 => break,
            count => bytes.extend_from_slice(&piece[..count]),
        }
    }
    let text = String::from_utf8_lossy(&bytes);
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let status = head.split(' ').nth(1).and_then(|code| code.parse().ok()).unwrap_or(0);
    Ok(Answer { status, head: head.to_owned(), body: body.to_owned() })
}

fn is_whole(bytes: &[u8]) -> bool {
    let Some(end) = bytes.windows(4).position(|four| four == b"\r\n\r\n") else { return false };
    let head = String::from_utf8_lossy(&bytes[..end]).to_lowercase();
    let length =
        head.lines().find_map(|line| line.strip_prefix("content-length:")?.trim().parse::<usize>().ok());
    length.is_some_and(|length| bytes.len() >= end + 4 + length)
}
