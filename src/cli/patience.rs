//! Statistics that may take long: said to be under way, and left at once when the run is to end.

use super::context::is_stopped;
use super::say::tell;
use super::stopped::Stopped;
use crate::runner::Interrupted;
use crate::study::StudyError;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// How often it is seen whether the run is to end.
const LOOK: Duration = Duration::from_millis(100);
/// After this time it is said that the work is under way, and then whenever it has taken twice as long.
const FIRST_WORD: Duration = Duration::from_secs(5);

/// Does work that cannot be told how far it is, in a thread that nobody waits for once the run is to end.
pub fn patiently<T: Send + 'static>(
    purpose: &str,
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Stopped> {
    let (done, result) = channel();
    std::thread::spawn(move || {
        // Nobody listens any more when the run has ended.
        let _ = done.send(work());
    });
    let began = Instant::now();
    let mut next_word = FIRST_WORD;
    loop {
        match result.recv_timeout(LOOK) {
            Ok(value) => return Ok(value),
            Err(RecvTimeoutError::Disconnected) => {
                return Err(Stopped::Failed(format!("{purpose} came to no end")));
            }
            Err(RecvTimeoutError::Timeout) => {}
        }
        if is_stopped() {
            return Err(StudyError::from(Interrupted).into());
        }
        if began.elapsed() >= next_word {
            tell(format!(
                "{purpose}: under way for {:.0} s",
                began.elapsed().as_secs_f64()
            ));
            next_word *= 2;
        }
    }
}
