//! A small WebDriver client (W3C WebDriver) for a real Chromium.

use super::PATIENCE;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// A browser with one window. Closed when dropped.
pub(super) struct Browser {
    driver: Child,
    port: u16,
    session: String,
}

fn found(names: &[&str]) -> Option<String> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let folders: Vec<_> = std::env::split_paths(&path).collect();
    let there = |n: &&&str| folders.iter().any(|f| f.join(n).is_file());
    names.iter().find(there).map(|n| (*n).to_owned())
}

impl Browser {
    /// Starts Chromium; `None`, with a word about it, where there is none. In CI that is an error.
    pub(super) fn start(microphone: Option<&Path>, size: (u32, u32)) -> Option<Self> {
        let (Some(driver), Some(chromium)) = (
            found(&["chromedriver"]),
            found(&["chromium", "chromium-browser", "google-chrome"]),
        ) else {
            let word =
                "passed over: no chromium with chromedriver; ./setup.sh --test installs them";
            assert!(std::env::var_os("CI").is_none(), "{word}");
            println!("{word}");
            return None;
        };
        let port = TcpListener::bind("127.0.0.1:0")
            .unwrap()
            .local_addr()
            .unwrap()
            .port();
        let driver = Command::new(driver)
            .args([format!("--port={port}"), "--log-level=OFF".to_owned()])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut browser = Self {
            driver,
            port,
            session: String::new(),
        };
        let mut args = vec![
            "--headless=new".to_owned(),
            "--no-sandbox".to_owned(), // CI runs as root
            "--disable-dev-shm-usage".to_owned(),
            "--disable-gpu".to_owned(),
            "--hide-scrollbars".to_owned(),
            "--use-fake-ui-for-media-stream".to_owned(),
            "--use-fake-device-for-media-stream".to_owned(),
            format!("--window-size={},{}", size.0, size.1),
        ];
        if let Some(file) = microphone {
            args.push(format!(
                "--use-file-for-fake-audio-capture={}",
                file.display()
            ));
        }
        let wanted = json!({ "capabilities": { "alwaysMatch": {
            "acceptInsecureCerts": true,
            "goog:chromeOptions": { "binary": chromium_path(&chromium), "args": args },
        } } });
        let begun = Instant::now();
        let answer = loop {
            match browser.send("POST", "/session", &wanted) {
                Ok(answer) => break answer,
                Err(_) if begun.elapsed() < Duration::from_secs(30) => {
                    std::thread::sleep(Duration::from_millis(200));
                }
                Err(error) => panic!("chromedriver: {error}"),
            }
        };
        let session = answer["value"]["sessionId"].as_str();
        browser.session = session.unwrap_or_else(|| panic!("{answer}")).to_owned();
        // The inner size, whatever the window's frame takes.
        browser.devtools(
            "Emulation.setDeviceMetricsOverride",
            &json!({
            "width": size.0, "height": size.1, "deviceScaleFactor": 1, "mobile": false }),
        );
        Some(browser)
    }

    fn send(&self, method: &str, path: &str, body: &Value) -> Result<Value, String> {
        let fail = |e: &dyn std::fmt::Display| e.to_string();
        let mut tcp = TcpStream::connect(("127.0.0.1", self.port)).map_err(|e| fail(&e))?;
        tcp.set_read_timeout(Some(Duration::from_mins(10)))
            .map_err(|e| fail(&e))?;
        let body = if method == "POST" {
            body.to_string()
        } else {
            String::new()
        };
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        );
        tcp.write_all(request.as_bytes()).map_err(|e| fail(&e))?;
        // chromedriver keeps the connection open: the head says how much is to come.
        let mut answer = BufReader::new(tcp);
        let mut length = 0;
        loop {
            let mut line = String::new();
            if answer.read_line(&mut line).map_err(|e| fail(&e))? == 0 {
                return Err("no answer".to_owned());
            }
            let line = line.trim().to_lowercase();
            if let Some(value) = line.strip_prefix("content-length:") {
                length = value.trim().parse().map_err(|e| fail(&e))?;
            }
            if line.is_empty() {
                break;
            }
        }
        let mut body = vec![0; length];
        answer.read_exact(&mut body).map_err(|e| fail(&e))?;
        serde_json::from_slice(&body).map_err(|e| fail(&e))
    }

    fn ask(&self, method: &str, path: &str, body: &Value) -> Value {
        let path = format!("/session/{}{path}", self.session);
        let answer = self.send(method, &path, body).unwrap();
        assert!(answer["value"].get("error").is_none(), "{path}: {answer}");
        answer["value"].clone()
    }

    /// Goes to a page, and past the one that draws a ticket for it.
    pub(super) fn open(&self, url: &str) {
        self.ask("POST", "/url", &json!({ "url": url }));
        self.until("document.title !== 'Opening'", PATIENCE);
    }

    pub(super) fn url(&self) -> String {
        self.ask("GET", "/url", &Value::Null)
            .as_str()
            .unwrap()
            .to_owned()
    }

    /// Runs a function body in the page and gives what it returns.
    pub(super) fn run(&self, script: &str) -> Value {
        self.ask(
            "POST",
            "/execute/sync",
            &json!({ "script": script, "args": [] }),
        )
    }

    /// Runs a body that calls its last argument with the result.
    pub(super) fn wait_for(&self, script: &str) -> Value {
        self.wait_within(script, PATIENCE)
    }

    /// The same, for so long.
    pub(super) fn wait_within(&self, script: &str, time: Duration) -> Value {
        let most = json!({ "script": time.as_millis() as u64 });
        self.ask("POST", "/timeouts", &most);
        self.ask(
            "POST",
            "/execute/async",
            &json!({ "script": script, "args": [] }),
        )
    }

    /// Waits until an expression of the page is true.
    pub(super) fn until(&self, expression: &str, patience: Duration) {
        let begun = Instant::now();
        // Between two pages what it is about may not be there yet.
        let script = format!("try {{ return Boolean({expression}) }} catch {{ return false }}");
        while self.run(&script) != true {
            assert!(
                begun.elapsed() < patience,
                "{expression} did not come true; the page says: {}",
                self.run("return document.body.innerText")
            );
            std::thread::sleep(Duration::from_millis(100));
        }
    }

    /// Waits until the page says that it shows what there is.
    pub(super) fn ready(&self) {
        self.until("document.body.dataset.ready", PATIENCE);
    }

    /// How far the page stands out of the window.
    pub(super) fn overhang(&self) -> Value {
        self.run("return document.documentElement.scrollWidth - innerWidth")
    }

    pub(super) fn reload(&self) {
        self.goes("/refresh");
    }

    pub(super) fn back(&self) {
        self.goes("/back");
    }

    pub(super) fn forward(&self) {
        self.goes("/forward");
    }

    fn goes(&self, how: &str) {
        self.ask("POST", how, &json!({}));
        self.until("document.title !== 'Opening'", PATIENCE);
    }

    fn element(&self, css: &str) -> String {
        let found = self.ask(
            "POST",
            "/element",
            &json!({ "using": "css selector", "value": css }),
        );
        let id = found.as_object().unwrap().values().next().unwrap();
        id.as_str().unwrap().to_owned()
    }

    pub(super) fn click(&self, css: &str) {
        let id = self.element(css);
        self.ask("POST", &format!("/element/{id}/click"), &json!({}));
    }

    /// Points at the middle of an element, with a `mouse` or by `touch`, and presses.
    pub(super) fn point(&self, css: &str, with: &str) {
        self.run(&format!(
            "document.querySelector({css:?}).scrollIntoView({{ block: 'center', behavior: 'instant' }})"
        ));
        // The name of an element in W3C WebDriver.
        let at = json!({ "element-6066-11e4-a52e-4f735466cecf": self.element(css) });
        let actions = json!([
            { "type": "pointerMove", "duration": 0, "origin": at, "x": 0, "y": 0 },
            { "type": "pointerDown", "button": 0 }, { "type": "pointerUp", "button": 0 },
        ]);
        let hand = json!({ "type": "pointer", "id": with, "parameters": { "pointerType": with }, "actions": actions });
        self.ask("POST", "/actions", &json!({ "actions": [hand] }));
    }

    /// Presses a key, wherever the focus is.
    pub(super) fn key(&self, key: &str) {
        let actions =
            json!([{ "type": "keyDown", "value": key }, { "type": "keyUp", "value": key }]);
        let keys = json!({ "type": "key", "id": "keys", "actions": actions });
        self.ask("POST", "/actions", &json!({ "actions": [keys] }));
    }

    /// Types into an element, or presses keys on it.
    pub(super) fn keys(&self, css: &str, text: &str) {
        let id = self.element(css);
        self.ask(
            "POST",
            &format!("/element/{id}/value"),
            &json!({ "text": text }),
        );
    }

    pub(super) fn devtools(&self, command: &str, params: &Value) -> Value {
        let body = json!({ "cmd": command, "params": params });
        self.ask("POST", "/goog/cdp/execute", &body)
    }

    /// Gives the page a size in CSS pixels.
    pub(super) fn resize(&self, width: u32, height: u32) {
        let size =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.devtools("Emulation.setDeviceMetricsOverride", &size);
    }

    /// The page is shown as one who prefers this wants it: `prefers-color-scheme`, `forced-colors`.
    pub(super) fn prefer(&self, feature: &str, value: &str) {
        let media = json!({ "features": [{ "name": feature, "value": value }] });
        self.devtools("Emulation.setEmulatedMedia", &media);
    }

    /// The page as it looks, as a PNG of ten colours.
    pub(super) fn picture(&self, to: &Path) {
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        let taken = self.devtools("Page.captureScreenshot", &json!({ "format": "png" }));
        let body = json!({ "script": include_str!("palette.js"), "args": [taken["data"]] });
        let small = self.ask("POST", "/execute/async", &body);
        let png = STANDARD.decode(small.as_str().unwrap()).unwrap();
        std::fs::write(to, png).unwrap();
    }
}

fn chromium_path(name: &str) -> String {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let all = std::env::split_paths(&path).map(|f| f.join(name));
    let file = all.into_iter().find(|f| f.is_file()).unwrap();
    file.display().to_string()
}

impl Drop for Browser {
    fn drop(&mut self) {
        if !self.session.is_empty() {
            let _ = self.send(
                "DELETE",
                &format!("/session/{}", self.session),
                &Value::Null,
            );
        }
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}
