//! Going on until something is known well enough, without spoiling the interval that is reported.
//!
//! Batches of seasons double in size until one is precise enough. A batch that happens to look precise ends the search,
//! so its own interval would be too narrow; a further batch of the same size, which had no part in the decision, is the
//! one reported (two-stage sampling with an independent second stage, after Stein 1945, Annals of Mathematical
//! Statistics 16: 243-258).

/// Most doublings in search of a precision.
pub const MOST_DOUBLINGS: u32 = 8;

/// A batch of replicates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Batch {
    /// Number of the batch, from 0.
    pub number: u32,
    /// First replicate.
    pub first: u64,
    /// Number of replicates.
    pub count: u64,
}

/// Runs batches until one has a half-width of at most `asked`, then the final one, whose result is given back.
/// `half_width` is `None` where no interval could be formed. A first batch with nothing in it by `is_empty` is given back
/// as it is: twice nothing is nothing. `goes_on` is told the half-width of each batch that was looked at, and the batch
/// that comes next; it may refuse it.
///
/// # Errors
/// Those of `run` and `goes_on`.
pub fn until_precise<T, E>(
    (first, count): (u64, u64),
    asked: f64,
    mut run: impl FnMut(Batch) -> Result<T, E>,
    half_width: impl Fn(&T) -> Option<f64>,
    is_empty: impl Fn(&T) -> bool,
    mut goes_on: impl FnMut(Option<f64>, Batch) -> Result<(), E>,
) -> Result<T, E> {
    let mut batch = Batch {
        number: 0,
        first,
        count,
    };
    for _ in 0..MOST_DOUBLINGS {
        let result = run(batch)?;
        if batch.number == 0 && is_empty(&result) {
            return Ok(result);
        }
        let width = half_width(&result);
        let precise = width.is_some_and(|width| width <= asked);
        batch = Batch {
            number: batch.number + 1,
            first: batch.first + batch.count,
            count: if precise {
                batch.count
            } else {
                2 * batch.count
            },
        };
        goes_on(width, batch)?;
        if precise {
            break;
        }
    }
    run(batch)
}

/// Count of a batch that a half-width is expected to take, when one of `count` has a half-width of `width`: intervals
/// narrow with the root of the count.
#[must_use]
pub fn expected_count(count: u64, width: f64, asked: f64) -> f64 {
    count as f64 * (width / asked).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_batches_double_follow_each_other_and_end_with_a_fresh_one() {
        let mut batches = Vec::new();
        let mut told = Vec::new();
        let result = until_precise(
            (7, 100),
            0.1,
            |batch| {
                batches.push((batch.first, batch.count));
                Ok::<_, ()>(batch.count)
            },
            |count| (*count > 100).then(|| 30.0 / *count as f64),
            |_| false,
            |width, next| {
                told.push((width, next.count));
                Ok(())
            },
        );
        assert_eq!(result, Ok(400));
        assert_eq!(batches, [(7, 100), (107, 200), (307, 400), (707, 400)]);
        assert_eq!(told, [(None, 200), (Some(0.15), 400), (Some(0.075), 400)]);
    }

    #[test]
    fn exact_nothing_is_not_asked_twice() {
        let mut batches = 0;
        let run = |batch: Batch| {
            batches += 1;
            Ok::<_, ()>(batch.count)
        };
        let result = until_precise((0, 5), 0.1, run, |_| None, |_| true, |_, _| Ok(()));
        assert_eq!((result, batches), (Ok(5), 1));
    }

    #[test]
    fn exact_what_is_never_precise_ends_all_the_same() {
        let mut batches = 0;
        let result = until_precise(
            (0, 1),
            0.0,
            |batch| {
                batches += 1;
                Ok::<_, ()>(batch.count)
            },
            |_| Some(1.0),
            |_| false,
            |_, _| Ok(()),
        );
        assert_eq!(
            (result, batches),
            (Ok(1 << MOST_DOUBLINGS), MOST_DOUBLINGS + 1)
        );
    }
}
