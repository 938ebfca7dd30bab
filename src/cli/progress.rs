//! Progress on standard error: a bar with time left on a terminal, plain lines when piped.

use super::say::tell;
use crate::runner::Watch;
use crate::trouble::shown::visible;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::IsTerminal;
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Draws progress.
pub struct Progress {
    state: Mutex<State>,
    on_terminal: bool,
}

#[derive(Default)]
struct State {
    bar: Option<ProgressBar>,
    purpose: String,
    began: Option<Instant>,
    done: u64,
    total: u64,
    told: u64,
    /// Whether it was said, or need not be said, how long the work will take.
    estimated: bool,
}

/// Plain lines are written at these steps of the work, in shares of a hundred.
const PLAIN_STEP: u64 = 25;

impl Progress {
    /// Progress for this process.
    #[must_use]
    pub fn new() -> Self {
        Self {
            state: Mutex::new(State::default()),
            on_terminal: std::io::stderr().is_terminal(),
        }
    }
}

/// After this time it is seen how long the work will take.
const FIRST_LOOK: Duration = Duration::from_secs(5);
/// Work that takes longer than this is announced.
const LONG: Duration = Duration::from_secs(120);

impl State {
    /// Says early, once, how long long work is going to take, so that nobody waits for what is too much.
    fn say_how_long(&mut self) {
        let Some(elapsed) = self.began.map(|began| began.elapsed()) else {
            return;
        };
        if self.estimated || elapsed < FIRST_LOOK || self.done == 0 {
            return;
        }
        self.estimated = true;
        let left = elapsed.as_secs_f64() * (self.total as f64 / self.done as f64 - 1.0);
        if left > LONG.as_secs_f64() {
            tell(format!(
                "{}: about {} left for {} seasons",
                self.purpose,
                in_words(left),
                self.total
            ));
        }
    }
}

/// A time in the unit that fits it.
fn in_words(seconds: f64) -> String {
    const MINUTE: f64 = 60.0;
    const HOUR: f64 = 60.0 * MINUTE;
    const DAY: f64 = 24.0 * HOUR;
    const TWO: f64 = 2.0;
    if seconds < TWO * HOUR {
        format!("{:.0} minutes", seconds / MINUTE)
    } else if seconds < TWO * DAY {
        format!("{:.0} hours", seconds / HOUR)
    } else {
        format!("{:.0} days", seconds / DAY)
    }
}

impl Watch for Progress {
    fn begin(&self, purpose: &str, seasons: u64) {
        let Ok(mut state) = self.state.lock() else {
            return;
        };
        *state = State {
            purpose: purpose.to_owned(),
            began: Some(Instant::now()),
            total: seasons,
            ..State::default()
        };
        if self.on_terminal {
            let style = ProgressStyle::with_template(
                "{msg:28} {wide_bar:.cyan/white} {percent:>3} %  {eta} left",
            );
            let bar = ProgressBar::new(seasons);
            if let Ok(style) = style {
                bar.set_style(style.progress_chars("=> "));
            }
            bar.set_message(visible(purpose).into_owned());
            state.bar = Some(bar);
        }
    }

    fn advance(&self, seasons: u64) {
        let Ok(mut state) = self.state.lock() else {
            return;
        };
        state.done += seasons;
        if let Some(bar) = &state.bar {
            bar.inc(seasons);
            return;
        }
        state.say_how_long();
        let share = state.done * 100 / state.total.max(1);
        if share >= state.told + PLAIN_STEP && share < 100 {
            state.told = share / PLAIN_STEP * PLAIN_STEP;
            tell(format!(
                "{}: {} % of {} seasons",
                state.purpose, state.told, state.total
            ));
        }
    }

    fn goes_on(&self, known: &str, seasons: u64) {
        let Ok(mut state) = self.state.lock() else {
            return;
        };
        state.total = state.done + seasons;
        state.told = 0;
        match &state.bar {
            Some(bar) => {
                bar.set_length(state.total);
                bar.set_message(visible(&format!("{}: {known}", state.purpose)).into_owned());
            }
            None => tell(format!(
                "{}: {known} after {} seasons; {seasons} more",
                state.purpose, state.done
            )),
        }
    }

    fn end(&self) {
        let Ok(mut state) = self.state.lock() else {
            return;
        };
        if let Some(bar) = state.bar.take() {
            bar.finish_and_clear();
        }
        if let Some(began) = state.began.take() {
            tell(format!(
                "{}: {} seasons in {:.1} s",
                state.purpose,
                state.done,
                began.elapsed().as_secs_f64()
            ));
        }
    }
}
