//! The server as the real program serves it: slow connections by the thousand, uploads without end, heads that
//! are no heads. It refuses, stays up, and stays small.

mod common;

use common::barebulb;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// The program, serving an empty project; ended with this.
struct Serving {
    child: Child,
    host: String,
    cookie: String,
    token: String,
    _folder: TempDir,
}

impl Drop for Serving {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Serving {
    fn begin() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let mut child = barebulb()
            .args(["open", "--no-browser", "--port", "0"])
            .arg(folder.path().join("video"))
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("its output"))
            .read_line(&mut line)
            .expect("an address");
        let open = line.trim().trim_start_matches("http://").to_owned();
        let (host, path) = open.split_at(open.find('/').expect("a path"));
        let mut serving = Self {
            child,
            host: host.to_owned(),
            cookie: String::new(),
            token: String::new(),
            _folder: folder,
        };
        let entered = serving.get(path);
        let cookie = entered.split("set-cookie: ").nth(1).expect("a cookie");
        serving.cookie = cookie.split(';').next().unwrap_or_default().to_owned();
        let page = serving.get("/");
        let token = page.split("data-token=\"").nth(1).expect("a token");
        serving.token = token.split('"').next().unwrap_or_default().to_owned();
        serving
    }

    fn connect(&self) -> std::io::Result<TcpStream> {
        let stream = TcpStream::connect(&self.host)?;
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
        let (host, cookie) = (&self.host, &self.cookie);
        self.say(format!("GET {path} HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\nconnection: close\r\n\r\n").as_bytes())
    }

    fn head_of_upload(&self, path: &str, more: &str) -> String {
        let (host, cookie, token) = (&self.host, &self.cookie, &self.token);
        format!(
            "POST {path} HTTP/1.1\r\nhost: {host}\r\norigin: http://{host}\r\ncookie: {cookie}\r\nx-barebulb-token: {token}\r\ncontent-type: multipart/form-data; boundary=b\r\n{more}\r\n"
        )
    }

    fn is_up(&self) -> bool {
        self.get("/").starts_with("HTTP/1.1 200")
    }

    /// The most memory it has held, megabytes; where the system tells.
    fn most_mb(&self) -> Option<f64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
        Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
    }
}

#[test]
fn ten_thousand_slow_connections_keep_nobody_out() {
    let serving = Serving::begin();
    let mut held: Vec<TcpStream> = Vec::new();
    let mut refused = 0;
    for nth in 0..10_000 {
        match serving.connect() {
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
            let began = Instant::now();
            assert!(serving.is_up(), "after {nth} slow connections");
            assert!(
                began.elapsed() < Duration::from_secs(20),
                "answered after {:?}",
                began.elapsed()
            );
        }
    }
    assert!(refused < 5_000, "{refused} were not even taken");
    if let Some(mb) = serving.most_mb() {
        println!("10,000 slow connections: {mb:.0} MB at most");
        assert!(mb < 300.0, "{mb} MB");
    }
}

#[test]
fn an_upload_without_end_is_refused() {
    let serving = Serving::begin();
    let said = serving.say(
        serving
            .head_of_upload("/take-in/song", "content-length: 1073741824\r\n")
            .as_bytes(),
    );
    assert!(said.starts_with("HTTP/1.1 413"), "{said}");
    assert!(
        said.contains("is larger than the 400 MB a page takes in"),
        "{said}"
    );
    // One that does not say how long it is, and goes on.
    let mut stream = serving.connect().expect("connected");
    let head = serving.head_of_upload("/take-in/photos", "transfer-encoding: chunked\r\n");
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
    assert!(serving.is_up());
    if let Some(mb) = serving.most_mb() {
        println!("uploads without end: {mb:.0} MB at most");
        assert!(mb < 300.0, "{mb} MB");
    }
}

#[test]
fn heads_that_are_no_heads_are_refused() {
    let serving = Serving::begin();
    let long = format!(
        "GET / HTTP/1.1\r\nhost: {}\r\nx: {}\r\n\r\n",
        serving.host,
        "y".repeat(1 << 20)
    );
    let many = format!(
        "GET / HTTP/1.1\r\nhost: {}\r\n{}\r\n",
        serving.host,
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
        let mut stream = serving.connect().expect("connected");
        let _ = stream.write_all(bytes);
        let _ = stream.shutdown(std::net::Shutdown::Write);
        let mut all = Vec::new();
        let _ = stream.read_to_end(&mut all);
        let said = String::from_utf8_lossy(&all);
        assert!(!said.starts_with("HTTP/1.1 2"), "{said}");
    }
    assert!(serving.is_up());
}
