//! The server as the real program serves it: slow connections by the thousand, uploads without end, heads that
//! are no heads. It refuses, stays up, and stays small.

mod common;
#[path = "common/serving.rs"]
mod serving;

use serving::Serving;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::Duration;
use tempfile::TempDir;

/// An empty project, served, with the key and token of the person at the machine.
struct Raw {
    serving: Serving,
    cookie: String,
    token: String,
    _folder: TempDir,
}

impl Raw {
    fn begin() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let mut raw = Self {
            serving: Serving::of(&folder.path().join("video")),
            cookie: String::new(),
            token: String::new(),
            _folder: folder,
        };
        let entered = raw.get(raw.serving.enter());
        let cookie = entered.split("set-cookie: ").nth(1).expect("a cookie");
        raw.cookie = cookie.split(';').next().unwrap_or_default().to_owned();
        let page = raw.get("/");
        let token = page.split("data-token=\"").nth(1).expect("a token");
        raw.token = token.split('"').next().unwrap_or_default().to_owned();
        raw
    }

    fn connect(&self) -> std::io::Result<TcpStream> {
        let stream = TcpStream::connect(self.serving.host())?;
        stream.set_read_timeout(Some(Duration::from_secs(30)))?;
        stream.set_write_timeout(Some(Duration::from_secs(30)))?;
        Ok(stream)
    }

    /// What the server says to `bytes`, as far as it says anything.
    fn say(&self, bytes: &[u8]) -> String {
        let mut stream = self.connect().expect("connected");
        let _ = stream.write_all(bytes);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        String::from_utf8_lossy(&all).into_owned()
    }

    fn get(&self, path: &str) -> String {
        let (host, cookie) = (self.serving.host(), &self.cookie);
        self.say(format!("GET {path} HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\nconnection: close\r\n\r\n").as_bytes())
    }

    fn head_of_upload(&self, path: &str, more: &str) -> String {
        let (host, cookie, token) = (self.serving.host(), &self.cookie, &self.token);
        format!(
            "POST {path} HTTP/1.1\r\nhost: {host}\r\norigin: http://{host}\r\ncookie: {cookie}\r\nx-barebulb-token: {token}\r\ncontent-type: multipart/form-data; boundary=b\r\n{more}\r\n"
        )
    }

    fn is_up(&self) -> bool {
        self.get("/").starts_with("HTTP/1.1 200")
    }

    /// The most memory it has held, megabytes; where the system tells.
    fn most_mb(&self) -> Option<f64> {
        let status =
            std::fs::read_to_string(format!("/proc/{}/status", self.serving.process())).ok()?;
        let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
        Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
    }
}

#[test]
fn ten_thousand_slow_connections_keep_nobody_out() {
    let raw = Raw::begin();
    let mut held: Vec<TcpStream> = Vec::new();
    let mut refused = 0;
    for nth in 0..10_000 {
        match raw.connect() {
            Ok(mut stream) => {
                // The beginning of a request that never goes on.
                let _ = stream.write_all(b"GET / HTTP/1.1\r\nhost: ");
                held.push(stream);
            }
            Err(_) => refused += 1,
        }
        // A machine that allows fewer open files holds as many as it can.
        if held.len() > 4_000 {
            held.drain(..1_000);
        }
        if nth % 2_500 == 2_499 {
            assert!(raw.is_up(), "after {nth} slow connections");
        }
    }
    assert!(refused < 5_000, "{refused} were not even taken");
    if let Some(mb) = raw.most_mb() {
        println!("10,000 slow connections: {mb:.0} MB at most");
        assert!(mb < 300.0, "{mb} MB");
    }
}

#[test]
fn an_upload_without_end_is_refused() {
    let raw = Raw::begin();
    let said = raw.say(
        raw.head_of_upload("/take-in/song", "content-length: 1073741824\r\n")
            .as_bytes(),
    );
    assert!(said.starts_with("HTTP/1.1 413"), "{said}");
    assert!(
        said.contains("is larger than the 400 MB a page takes in"),
        "{said}"
    );
    // One that does not say how long it is, and goes on.
    let mut stream = raw.connect().expect("connected");
    let head = raw.head_of_upload("/take-in/photos", "transfer-encoding: chunked\r\n");
    stream.write_all(head.as_bytes()).expect("sent");
    let first = b"--b\r\ncontent-disposition: form-data; name=\"photos\"; filename=\"a.jpg\"\r\n\r\n\xFF\xD8\xFF\xE0";
    let chunk =
        |bytes: &[u8]| [format!("{:x}\r\n", bytes.len()).as_bytes(), bytes, b"\r\n"].concat();
    stream.write_all(&chunk(first)).expect("sent");
    let more = chunk(&[0; 1 << 20]);
    let sent = (0..1024)
        .take_while(|_| stream.write_all(&more).is_ok())
        .count();
    assert!(sent < 200, "{sent} MB were taken");
    let mut said = Vec::new();
    let _ = stream.read_to_end(&mut said);
    assert!(raw.is_up());
    if let Some(mb) = raw.most_mb() {
        println!("uploads without end: {mb:.0} MB at most");
        assert!(mb < 300.0, "{mb} MB");
    }
}

#[test]
fn heads_that_are_no_heads_are_refused() {
    let raw = Raw::begin();
    let long = format!(
        "GET / HTTP/1.1\r\nhost: {}\r\nx: {}\r\n\r\n",
        raw.serving.host(),
        "y".repeat(1 << 20)
    );
    let many = format!(
        "GET / HTTP/1.1\r\nhost: {}\r\n{}\r\n",
        raw.serving.host(),
        "a: b\r\n".repeat(5_000)
    );
    for bytes in [
        &b"\0\0\0\0\0\0\0\0\r\n\r\n"[..],
        b"GET\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
        b"POST / HTTP/1.1\r\ncontent-length: -1\r\n\r\n",
        b"POST / HTTP/1.1\r\ncontent-length: 5\r\ntransfer-encoding: chunked\r\n\r\nhello",
        b"GET / HTTP/1.1\r\nhost: a\r\nhost: b\r\n\r\n",
        long.as_bytes(),
        many.as_bytes(),
    ] {
        let mut stream = raw.connect().expect("connected");
        let _ = stream.write_all(bytes);
        let _ = stream.shutdown(std::net::Shutdown::Write);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let said = String::from_utf8_lossy(&all);
        assert!(!said.starts_with("HTTP/1.1 2"), "{said}");
    }
    assert!(raw.is_up());
}
