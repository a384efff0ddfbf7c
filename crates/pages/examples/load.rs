//! How long the server takes for every page of a project, and how large the first load is.
//!
//! ```text
//! cargo run --package pages --example load -- out/demo
//! ```
//!
//! Each page is asked for 1,000 times by 4 clients over loopback, after it was asked for until everything on it
//! had been worked out. Prints a line per page and one of JSON for `cargo xtask bench`. Without a folder it
//! takes `out/demo`.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

const REQUESTS: usize = 1000;
const CLIENTS: usize = 4;
const PAGES: [&str; 11] = [
    "/",
    "/brief",
    "/song",
    "/places",
    "/kit",
    "/setups",
    "/day",
    "/takes",
    "/assembly",
    "/history",
    "/devices",
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let dir = std::env::args()
        .nth(1)
        .map_or_else(|| PathBuf::from("out/demo"), PathBuf::from);
    let stop = AtomicBool::new(false);
    let address: Mutex<Option<String>> = Mutex::new(None);
    std::thread::scope(|scope| {
        let server = scope.spawn(|| {
            let options = pages::Options {
                dir: dir.clone(),
                port: Some(0),
                share: false,
            };
            let ready = |at: &pages::Address| {
                if let Ok(mut held) = address.lock() {
                    *held = Some(at.open.clone());
                }
            };
            pages::serve(&options, || !stop.load(Ordering::Relaxed), ready)
        });
        let open = loop {
            if let Some(open) = address.lock().ok().and_then(|held| held.clone()) {
                break Some(open);
            }
            if server.is_finished() {
                break None;
            }
            std::thread::sleep(Duration::from_millis(20));
        };
        if let Some(open) = open {
            measure(&open);
        }
        stop.store(true, Ordering::Relaxed);
        match server.join() {
            Ok(Err(error)) => Err(error.into()),
            _ => Ok(()),
        }
    })
}

fn measure(open: &str) {
    let rest = open.trim_start_matches("http://");
    let (host, path) = rest.split_at(rest.find('/').unwrap_or(rest.len()));
    let entered = ask(host, path, "").head;
    let cookie = entered
        .lines()
        .find_map(|line| line.strip_prefix("set-cookie: "))
        .and_then(|line| line.split(';').next())
        .unwrap_or_default()
        .to_owned();
    let mut worst: f64 = 0.0;
    println!(
        "{:<12} {:>8} {:>8} {:>8} {:>10} {:>14} {:>12}",
        "page", "median", "p99", "most", "page kB", "first load kB", "as sent kB"
    );
    for page in PAGES {
        // What is worked out beside the request is waited for.
        let until = Instant::now() + Duration::from_secs(180);
        while Instant::now() < until && ask(host, page, &cookie).body.contains("Working out ") {
            std::thread::sleep(Duration::from_millis(300));
        }
        let first = ask(host, page, &cookie);
        let files = assets(&first.body);
        let whole: [usize; 2] = [PLAIN, SHORT].map(|as_sent| {
            let each = files
                .iter()
                .map(|path| load_of(host, path, &cookie, as_sent));
            ask_as(host, page, &cookie, as_sent).bytes + each.sum::<usize>()
        });
        let took = Mutex::new(Vec::with_capacity(REQUESTS));
        std::thread::scope(|scope| {
            for _ in 0..CLIENTS {
                scope.spawn(|| {
                    for _ in 0..REQUESTS / CLIENTS {
                        let began = Instant::now();
                        let answer = ask_as(host, page, &cookie, SHORT);
                        let ms = began.elapsed().as_secs_f64() * 1e3;
                        if answer.head.starts_with("HTTP/1.1 200")
                            && let Ok(mut all) = took.lock()
                        {
                            all.push(ms);
                        }
                    }
                });
            }
        });
        let mut took = took.into_inner().unwrap_or_default();
        took.sort_by(f64::total_cmp);
        if took.len() < REQUESTS {
            println!("{page:<12} only {} of {REQUESTS} answered", took.len());
            continue;
        }
        let p99 = took[REQUESTS * 99 / 100];
        worst = worst.max(p99);
        println!(
            "{page:<12} {:>8.2} {p99:>8.2} {:>8.2} {:>10.1} {:>14.1} {:>12.1}",
            took[REQUESTS / 2],
            took[REQUESTS - 1],
            first.bytes as f64 / 1e3,
            whole[0] as f64 / 1e3,
            whole[1] as f64 / 1e3
        );
    }
    println!(
        r#"{{"bench": "the slowest page, p99 of 1,000 requests by 4 clients", "unit": "ms", "figure": {worst:.2}, "reference": 30.0, "against": "the time it should keep to"}}"#
    );
}

/// Whether a request asks for the answer as it is, or shortened as every browser does.
const PLAIN: &str = "identity";
const SHORT: &str = "gzip";

struct Answer {
    head: String,
    body: String,
    /// The body's length as it was sent.
    bytes: usize,
}

fn ask(host: &str, path: &str, cookie: &str) -> Answer {
    ask_as(host, path, cookie, PLAIN)
}

fn ask_as(host: &str, path: &str, cookie: &str, as_sent: &str) -> Answer {
    let exchange = || -> std::io::Result<Vec<u8>> {
        let mut stream = TcpStream::connect(host)?;
        write!(
            stream,
            "GET {path} HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\naccept-encoding: {as_sent}\r\nconnection: close\r\n\r\n"
        )?;
        let mut all = Vec::new();
        stream.read_to_end(&mut all)?;
        Ok(all)
    };
    let all = exchange().unwrap_or_default();
    let end = all.windows(4).position(|four| four == b"\r\n\r\n");
    let (head, body) = all.split_at(end.map_or(all.len(), |end| end + 4));
    Answer {
        head: String::from_utf8_lossy(head).into_owned(),
        body: String::from_utf8_lossy(body).into_owned(),
        bytes: body.len(),
    }
}

/// The style, scripts and drawings a page loads first.
fn assets(page: &str) -> Vec<String> {
    let mut all: Vec<String> = page
        .split(['"', '\''])
        .filter(|text| text.starts_with("/assets/"))
        .map(str::to_owned)
        .collect();
    all.sort();
    all.dedup();
    all
}

/// The size of an asset with all that it imports.
fn load_of(host: &str, path: &str, cookie: &str, as_sent: &str) -> usize {
    let mut todo = vec![path.to_owned()];
    let mut seen: Vec<String> = Vec::new();
    let mut size = 0;
    while let Some(path) = todo.pop() {
        if seen.contains(&path) {
            continue;
        }
        let body = ask(host, &path, cookie).body;
        size += ask_as(host, &path, cookie, as_sent).bytes;
        if path.ends_with(".js") && !path.contains("/vendor/") {
            let folder = path.rsplit_once('/').map_or("", |(folder, _)| folder);
            let imports = body.lines().filter(|line| line.starts_with("import "));
            todo.extend(
                imports
                    .filter_map(|line| line.split('"').nth(1))
                    .map(|name| format!("{folder}/{}", name.trim_start_matches("./"))),
            );
        }
        seen.push(path);
    }
    size
}
