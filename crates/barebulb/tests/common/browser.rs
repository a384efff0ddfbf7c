//! A real Chromium, driven through its driver: what the browser tests share.
//!
//! [`Driver::start`] starts `chromedriver` on a free port of this machine and ends it when dropped;
//! [`Driver::open`] opens a browser with its own or a kept profile. Everything waits: no async in tests.
//! Screenshots go to the folder that `BAREBULB_SCREENSHOTS` names, or nowhere.
#![allow(dead_code, reason = "each test file uses its own part")]

use serde_json::{Value, json};
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use thirtyfour::common::capabilities::chromium::ChromiumLikeCapabilities as _;
use thirtyfour::prelude::*;
use tokio::runtime::Runtime;

/// What every browser here is started with: nothing drawn on a screen, nothing fetched behind our back.
const FLAGS: [&str; 11] = [
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
    "--autoplay-policy=no-user-gesture-required",
];

/// How long anything is waited for.
const PATIENCE: Duration = Duration::from_secs(60);

/// A running `chromedriver`.
pub struct Driver {
    child: Child,
    port: u16,
    runtime: Runtime,
}

impl Driver {
    /// Starts one; `None`, said aloud, where there is none. Where it must be (`BAREBULB_REQUIRE_CHROMIUM=1`),
    /// its absence fails.
    pub fn start() -> Option<Self> {
        let started = Command::new("chromedriver")
            .arg("--port=0")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn();
        let Ok(mut child) = started else {
            assert!(
                std::env::var_os("BAREBULB_REQUIRE_CHROMIUM").is_none(),
                "chromedriver is required here and was not found"
            );
            eprintln!("skipped: this test needs chromium and chromedriver");
            return None;
        };
        let out = BufReader::new(child.stdout.take().expect("its output"));
        // `ChromeDriver was started successfully on port 40123.`
        let mut lines = out.lines().map_while(Result::ok);
        let port = lines
            .find_map(|line| {
                let (_, port) = line.split_once("successfully on port ")?;
                port.trim_end_matches('.').parse().ok()
            })
            .expect("chromedriver says its port");
        // What it says later must not fill the pipe.
        std::thread::spawn(move || lines.for_each(drop));
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(1)
            .enable_all()
            .build()
            .expect("a runtime");
        Some(Self {
            child,
            port,
            runtime,
        })
    }

    /// Opens a browser whose page is `width` by `height` CSS pixels, with the profile in `profile`.
    pub fn open(&self, profile: &Path, width: u32, height: u32) -> Browser<'_> {
        let mut wanted = DesiredCapabilities::chrome();
        for flag in FLAGS {
            wanted.add_arg(flag).expect("a flag");
        }
        let folder = format!("--user-data-dir={}", profile.display());
        wanted.add_arg(&folder).expect("a flag");
        wanted
            .set_browser_log_level(thirtyfour::LoggingPrefsLogLevel::All)
            .expect("a log level");
        let address = format!("http://127.0.0.1:{}", self.port);
        let driver = self
            .runtime
            .block_on(WebDriver::new(&address, wanted))
            .expect("a browser opens");
        let browser = Browser {
            runtime: &self.runtime,
            driver: Some(driver),
        };
        browser.size(width, height);
        browser
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// An open browser, closed when dropped.
pub struct Browser<'a> {
    runtime: &'a Runtime,
    driver: Option<WebDriver>,
}

impl Browser<'_> {
    fn driver(&self) -> &WebDriver {
        self.driver.as_ref().expect("an open browser")
    }

    /// Makes the page `width` by `height` CSS pixels, as on a phone where it is narrow.
    pub fn size(&self, width: u32, height: u32) {
        self.cdp(
            "Emulation.setDeviceMetricsOverride",
            json!({"width": width, "height": height, "deviceScaleFactor": 2, "mobile": width < 700}),
        );
    }

    /// A command of the browser's own protocol.
    pub fn cdp(&self, method: &str, parameters: Value) -> Value {
        self.runtime
            .block_on(self.driver().cdp().send_raw(method, parameters))
            .unwrap_or_else(|error| panic!("{method}: {error}"))
    }

    /// What the page saves goes into `folder` instead of to the person's own files.
    pub fn downloads(&self, folder: &Path) {
        std::fs::create_dir_all(folder).expect("a folder can be made");
        self.cdp(
            "Browser.setDownloadBehavior",
            json!({"behavior": "allow", "downloadPath": folder.display().to_string()}),
        );
    }

    /// Ends the browser where it stands, as when a phone runs empty: nothing is tidied up.
    pub fn crash(mut self) {
        let driver = self.driver.take().expect("an open browser");
        self.runtime.block_on(async {
            let _ = driver.cdp().send_raw("Browser.crash", json!({})).await;
            let _ = driver.quit().await;
        });
    }

    /// Opens an address and waits until it is loaded.
    pub fn goto(&self, address: &str) {
        self.runtime
            .block_on(self.driver().goto(address))
            .unwrap_or_else(|error| panic!("{address}: {error}"));
    }

    /// Runs a function body in the page; what it returns. Beyond the page's own policy, as from its console.
    pub fn run(&self, script: &str) -> Value {
        self.runtime
            .block_on(self.driver().execute(script, Vec::new()))
            .unwrap_or_else(|error| panic!("{script}: {error}"))
            .json()
            .clone()
    }

    /// As [`Browser::run`], for a body that awaits.
    pub fn run_async(&self, script: &str) -> Value {
        let script = format!(
            "const done = arguments[arguments.length - 1]; (async () => {{ {script} }})().then(done, (error) => done({{ failed: String(error) }}));"
        );
        let answer = self
            .runtime
            .block_on(self.driver().execute_async(&script, Vec::new()))
            .unwrap_or_else(|error| panic!("{script}: {error}"))
            .json()
            .clone();
        assert!(answer["failed"].is_null(), "{script}: {answer}");
        answer
    }

    /// Waits until a function body returns something true.
    pub fn wait(&self, script: &str) {
        let until = Instant::now() + PATIENCE;
        while self.run(script) != json!(true) {
            assert!(
                Instant::now() < until,
                "waited in vain for {script}\n{}",
                self.run("return `${location.pathname}: ${[...document.querySelectorAll('small.bad, .faults, .refused p, .work')].map((one) => one.innerText).join(' | ')}\\n${document.body.innerText.slice(0, 1500)}`")
            );
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    /// What a function body returns once it is `right`; the last of it where it never was.
    pub fn until(&self, script: &str, right: impl Fn(&Value) -> bool) -> Value {
        let until = Instant::now() + PATIENCE;
        loop {
            let found = self.run(script);
            if right(&found) || Instant::now() > until {
                return found;
            }
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    /// Presses what `css` selects, scrolled into view, as a person does.
    pub fn press(&self, css: &str) {
        // Into the middle, as a person does, so that no bar at an edge lies over it.
        self.run(&format!(
            "document.querySelector({})?.scrollIntoView({{ block: 'center', behavior: 'instant' }})",
            json!(css)
        ));
        self.runtime
            .block_on(async {
                let found = self.driver().find(By::Css(css)).await?;
                found.click().await
            })
            .unwrap_or_else(|error| panic!("press {css}: {error}"));
    }

    /// Presses the element that a function body returns, as a person who looks again when the page changed under
    /// the hand.
    pub fn press_found(&self, script: &str) {
        self.with_found(script, async |found| found.click().await);
    }

    /// Types over what stands in the element that a function body returns.
    pub fn type_over_found(&self, script: &str, text: &str) {
        self.with_found(script, async |found| found.send_keys(text).await);
    }

    fn with_found(&self, script: &str, does: impl AsyncFn(WebElement) -> WebDriverResult<()>) {
        let until = Instant::now() + PATIENCE;
        let once = async || {
            let found = self.driver().execute(script, Vec::new()).await?.element()?;
            does(found).await
        };
        while let Err(error) = self.runtime.block_on(once()) {
            assert!(Instant::now() < until, "in vain for {script}: {error}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Types into what `css` selects.
    pub fn type_into(&self, css: &str, text: &str) {
        self.runtime
            .block_on(async {
                let found = self.driver().find(By::Css(css)).await?;
                found.send_keys(text).await
            })
            .unwrap_or_else(|error| panic!("type into {css}: {error}"));
    }

    /// The text a person reads of what `css` selects.
    pub fn text(&self, css: &str) -> String {
        self.runtime
            .block_on(async { self.driver().find(By::Css(css)).await?.text().await })
            .unwrap_or_else(|error| panic!("read {css}: {error}"))
    }

    /// Writes what is in view as a PNG.
    pub fn screenshot(&self, path: &Path) {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).expect("a folder can be made");
        }
        self.runtime
            .block_on(self.driver().screenshot(path))
            .unwrap_or_else(|error| panic!("screenshot: {error}"));
    }

    /// As [`Browser::screenshot`], into the folder for people to look at; nothing where none is named.
    pub fn show(&self, name: &str) {
        if let Some(folder) = std::env::var_os("BAREBULB_SCREENSHOTS") {
            self.screenshot(&PathBuf::from(folder).join(format!("{name}.png")));
        }
    }

    /// What the console has said that is an error, since last asked.
    pub fn console_errors(&self) -> Vec<String> {
        let said = self
            .runtime
            .block_on(self.driver().browser_log())
            .expect("the console can be read");
        said.into_iter()
            .filter(|line| line.level == "SEVERE")
            .map(|line| line.message)
            .collect()
    }

    /// What axe-core finds wrong with the page as it now stands, a sentence each; the whole of its rules.
    pub fn axe(&self, axe: &str) -> Vec<String> {
        if self.run("return typeof axe === 'undefined'") == json!(true) {
            // Evaluated by the browser's own protocol: the page's policy rightly refuses new scripts.
            self.cdp("Runtime.evaluate", json!({"expression": axe}));
        }
        let found = self.run_async(
            "const { violations } = await axe.run(document); return violations.flatMap(({ id, nodes }) => nodes.map((node) => `${id}: ${node.target} ${node.failureSummary}`));",
        );
        let found = found.as_array().expect("a list");
        found
            .iter()
            .map(|one| one.as_str().unwrap_or_default().to_owned())
            .collect()
    }

    /// Closes it as a person closes a window.
    pub fn close(mut self) {
        self.end();
    }

    fn end(&mut self) {
        if let Some(driver) = self.driver.take() {
            let _ = self.runtime.block_on(driver.quit());
        }
    }
}

impl Drop for Browser<'_> {
    fn drop(&mut self) {
        self.end();
    }
}

/// The text of axe-core: where `BAREBULB_AXE` says, or in the checks' environment; `None`, said aloud, where
/// there is none. Where it must be (`BAREBULB_REQUIRE_CHROMIUM=1`), its absence fails.
pub fn axe_core() -> Option<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let named = std::env::var_os("BAREBULB_AXE").map(PathBuf::from);
    let installed = ["lib", "Lib"].iter().flat_map(|lib| {
        let versions = std::fs::read_dir(root.join(".venv").join(lib));
        let versions = versions
            .into_iter()
            .flatten()
            .flatten()
            .map(|entry| entry.path());
        versions.map(|path| match path.ends_with("site-packages") {
            true => path,
            false => path.join("site-packages"),
        })
    });
    let found = named
        .into_iter()
        .chain(installed.map(|packages| packages.join("axe_playwright_python/axe.min.js")))
        .find_map(|path| std::fs::read_to_string(path).ok());
    if found.is_none() {
        assert!(
            std::env::var_os("BAREBULB_REQUIRE_CHROMIUM").is_none(),
            "axe-core is required here and was not found in .venv; `cargo xtask test` makes it"
        );
        eprintln!(
            "skipped: axe-core was not found; `cargo xtask test` makes .venv, which holds it"
        );
    }
    found
}
