//! The program, serving a project to a browser: what the tests of the pages share.
#![allow(dead_code, reason = "each test file uses its own part")]

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Child, Stdio};

/// The program, serving; ended with this.
pub struct Serving {
    child: Child,
    /// The address it printed.
    pub open: String,
}

impl Drop for Serving {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Serving {
    /// Serves the project in `dir` on a free port.
    pub fn of(dir: &Path) -> Self {
        let mut child = crate::common::barebulb()
            .args(["open", "--no-browser", "--port", "0"])
            .arg(dir)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the program starts");
        let mut line = String::new();
        BufReader::new(child.stdout.take().expect("its output"))
            .read_line(&mut line)
            .expect("an address");
        Self {
            child,
            open: line.trim().to_owned(),
        }
    }

    /// `host:port`.
    pub fn host(&self) -> &str {
        let rest = self.open.trim_start_matches("http://");
        &rest[..rest.find('/').unwrap_or(rest.len())]
    }

    /// The address of a page.
    pub fn at(&self, path: &str) -> String {
        format!("http://{}{path}", self.host())
    }

    /// The path and query that lets the person at the machine in.
    pub fn enter(&self) -> &str {
        let rest = self.open.trim_start_matches("http://");
        &rest[rest.find('/').unwrap_or(0)..]
    }

    /// The number of its process.
    pub fn process(&self) -> u32 {
        self.child.id()
    }
}
