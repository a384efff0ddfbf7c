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
        "{:<12} {:>8} {:>8} {:>8} {:>10} {:>12}",
        "page", "median", "p99", "most", "page kB", "first load kB"
    );
    for page in PAGES {
        // What is worked out beside the request is waited for.
        let until = Instant::now() + Duration::from_secs(180);
        while Instant::now() < until && ask(host, page, &cookie).body.contains("Working out ") {
            std::thread::sleep(Duration::from_millis(300));
        }
        let first = ask(host, page, &cookie);
        let load = first.body.len()
            + assets(&first.body)
                .iter()
                .map(|path| load_of(host, path, &cookie))
                .sum::<usize>();
        let took = Mutex::new(Vec::with_capacity(REQUESTS));
        std::thread::scope(|scope| {
            for _ in 0..CLIENTS {
                scope.spawn(|| {
                    for _ in 0..REQUESTS / CLIENTS {
                        let began = Instant::now();
                        let answer = ask(host, page, &cookie);
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
            "{page:<12} {:>8.2} {p99:>8.2} {:>8.2} {:>10.1} {:>12.1}",
            took[REQUESTS / 2],
            took[REQUESTS - 1],
            first.body.len() as f64 / 1e3,
            load as f64 / 1e3
        );
    }
    println!(
        r#"{{"bench": "the slowest page, p99 of 1,000 requests by 4 clients", "unit": "ms", "figure": {worst:.2}, "reference": 30.0, "against": "the time it should keep to"}}"#
    );
}

struct Answer {
    head: String,
    body: String,
}

fn ask(host: &str, path: &str, cookie: &str) -> Answer {
    let exchange = || -> std::io::Result<Vec<u8>> {
        let mut stream = TcpStream::connect(host)?;
        write!(
            stream,
            "GET {path} HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\nconnection: close\r\n\r\n"
        )?;
        let mut all = Vec::new();
        stream.read_to_end(&mut all)?;
        Ok(all)
    };
    let text = String::from_utf8_lossy(&exchange().unwrap_or_default()).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    Answer {
        head: head.to_owned(),
        body: body.to_owned(),
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
fn load_of(host: &str, path: &str, cookie: &str) -> usize {
    let mut todo = vec![path.to_owned()];
    let mut seen: Vec<String> = Vec::new();
    let mut size = 0;
    while let Some(path) = todo.pop() {
        if seen.contains(&path) {
            continue;
        }
        let body = ask(host, &path, cookie).body;
        size += body.len();
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
