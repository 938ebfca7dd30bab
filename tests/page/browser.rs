//! A page in headless Chromium, with all that it complains of and asks for.

use headless_chrome::browser::tab::Tab;
use headless_chrome::protocol::cdp::types::Event;
use headless_chrome::protocol::cdp::{Emulation, Network};
use headless_chrome::{Browser, LaunchOptions};
use std::ffi::OsStr;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Names under which Chromium is installed.
const PROGRAMS: [&str; 3] = ["chromium", "chromium-browser", "google-chrome"];
/// No page of these tests needs longer, on a busy machine with two cores.
const PATIENCE: Duration = Duration::from_secs(120);
/// Pause between looks at a page that is waited for.
const BETWEEN_LOOKS: Duration = Duration::from_millis(50);

/// The installed browser, or nothing after having said that the test is skipped.
pub fn chromium() -> Option<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&path)
        .flat_map(|folder| PROGRAMS.map(|name| folder.join(name)))
        .find(|program| program.is_file());
    if found.is_none() {
        // Past the capture of passing tests, so that it is seen.
        let _ = writeln!(std::io::stderr(), "skipped: no Chromium is installed");
    }
    found
}

/// How a page is shown.
#[derive(Clone, Copy)]
pub struct Look {
    pub width: u32,
    pub height: u32,
    pub dark: bool,
    pub less_motion: bool,
}

pub const WIDE: Look = Look {
    width: 1440,
    height: 900,
    dark: false,
    less_motion: false,
};
pub const NARROW: Look = Look {
    width: 360,
    height: 740,
    ..WIDE
};

/// An open page.
pub struct Page {
    tab: Arc<Tab>,
    complaints: Arc<Mutex<Vec<String>>>,
    requests: Arc<Mutex<Vec<String>>>,
    _browser: Browser,
    _profile: tempfile::TempDir,
}

impl Page {
    /// Opens a file from disk.
    pub fn open(program: &Path, file: &Path, look: Look) -> Self {
        let profile = tempfile::tempdir().expect("a folder");
        let options = LaunchOptions::default_builder()
            .path(Some(program.to_owned()))
            .user_data_dir(Some(profile.path().to_owned()))
            .sandbox(false)
            .idle_browser_timeout(PATIENCE)
            .args(vec![
                OsStr::new("--disable-quic"),
                OsStr::new("--disable-component-update"),
            ])
            .build()
            .expect("options");
        let browser = Browser::new(options).expect("the browser starts");
        let tab = browser.new_tab().expect("a tab");
        tab.set_default_timeout(PATIENCE);
        tab.enable_log().expect("the log");
        tab.enable_runtime().expect("the runtime");
        tab.call_method(Network::Enable {
            max_total_buffer_size: None,
            max_resource_buffer_size: None,
            max_post_data_size: None,
            report_direct_socket_traffic: None,
            enable_durable_messages: None,
        })
        .expect("the network is watched");
        let (complaints, requests) = (Arc::default(), Arc::default());
        listen(&tab, Arc::clone(&complaints), Arc::clone(&requests));
        show(&tab, look);
        let page = Self {
            tab,
            complaints,
            requests,
            _browser: browser,
            _profile: profile,
        };
        page.tab
            .navigate_to(&format!("file://{}", file.display()))
            .and_then(|tab| tab.wait_until_navigated())
            .expect("the page opens");
        page
    }

    /// What the console and uncaught errors said.
    pub fn complaints(&self) -> Vec<String> {
        self.complaints.lock().expect("complaints").clone()
    }

    /// Addresses that were asked for.
    pub fn requests(&self) -> Vec<String> {
        self.requests.lock().expect("requests").clone()
    }

    /// The value of an expression, by way of JSON; a promise is waited for.
    pub fn value(&self, expression: &str) -> serde_json::Value {
        let wrapped = format!("(async () => JSON.stringify(await ({expression})))()");
        let answer = self.tab.evaluate(&wrapped, true).expect("the page answers");
        match answer.value {
            Some(serde_json::Value::String(text)) => serde_json::from_str(&text).expect("JSON"),
            _ => panic!("{expression}: no value, {:?}", answer.description),
        }
    }

    pub fn text(&self, expression: &str) -> String {
        let value = self.value(expression);
        value
            .as_str()
            .unwrap_or_else(|| panic!("{expression}: {value}"))
            .to_owned()
    }

    pub fn number(&self, expression: &str) -> f64 {
        let value = self.value(expression);
        value
            .as_f64()
            .unwrap_or_else(|| panic!("{expression}: {value}"))
    }

    pub fn truth(&self, expression: &str) -> bool {
        self.value(expression) == serde_json::Value::Bool(true)
    }

    /// Waits until an expression is true.
    pub fn wait(&self, expression: &str) {
        let began = Instant::now();
        while !self.truth(expression) {
            assert!(began.elapsed() < PATIENCE, "never true: {expression}");
            std::thread::sleep(BETWEEN_LOOKS);
        }
    }

    /// Runs a statement.
    pub fn act(&self, statement: &str) {
        self.value(&format!("(() => {{ {statement}; return true; }})()"));
    }

    /// Clicks with the mouse.
    pub fn click(&self, selector: &str) {
        self.tab
            .find_element(selector)
            .and_then(|element| element.click().map(|_| ()))
            .unwrap_or_else(|fault| panic!("{selector}: {fault}"));
    }

    /// Presses a key.
    pub fn press(&self, key: &str) {
        self.tab.press_key(key).expect("a key");
    }

    /// The tab, for what is done by protocol.
    pub fn tab(&self) -> &Tab {
        &self.tab
    }
}

fn listen(tab: &Tab, complaints: Arc<Mutex<Vec<String>>>, requests: Arc<Mutex<Vec<String>>>) {
    let listener = move |event: &Event| match event {
        Event::LogEntryAdded(entry) => {
            complaints
                .lock()
                .expect("complaints")
                .push(entry.params.entry.text.clone());
        }
        Event::RuntimeExceptionThrown(thrown) => {
            let text = format!("{:?}", thrown.params.exception_details);
            complaints.lock().expect("complaints").push(text);
        }
        Event::RuntimeConsoleAPICalled(call) => {
            complaints
                .lock()
                .expect("complaints")
                .push(format!("{:?}", call.params.args));
        }
        Event::NetworkRequestWillBeSent(request) => {
            requests
                .lock()
                .expect("requests")
                .push(request.params.request.url.clone());
        }
        _ => {}
    };
    tab.add_event_listener(Arc::new(listener))
        .expect("a listener");
}

fn show(tab: &Tab, look: Look) {
    tab.call_method(Emulation::SetDeviceMetricsOverride {
        width: look.width,
        height: look.height,
        device_scale_factor: 1.0,
        mobile: false,
        scale: None,
        screen_width: None,
        screen_height: None,
        position_x: None,
        position_y: None,
        dont_set_visible_size: None,
        screen_orientation: None,
        viewport: None,
        display_feature: None,
        device_posture: None,
    })
    .expect("a size");
    let feature = |name: &str, value: &str| Emulation::MediaFeature {
        name: name.to_owned(),
        value: value.to_owned(),
    };
    tab.call_method(Emulation::SetEmulatedMedia {
        media: None,
        features: Some(vec![
            feature(
                "prefers-color-scheme",
                if look.dark { "dark" } else { "light" },
            ),
            feature(
                "prefers-reduced-motion",
                if look.less_motion {
                    "reduce"
                } else {
                    "no-preference"
                },
            ),
        ]),
    })
    .expect("a scheme");
}
