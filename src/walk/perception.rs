//! Which stems a stride meets.

/// Where along a stride a stem is met: the share of the stride walked when the stem first lies within the
/// perceptual range, or `None` when it never does.
///
/// The stride runs from `from` by `step` (metres); the whole segment counts, not only its end.
#[inline]
#[must_use]
pub fn met_at(from: (f64, f64), step: (f64, f64), stem: (f64, f64), range2: f64) -> Option<f64> {
    let to_stem = (stem.0 - from.0, stem.1 - from.1);
    let length2 = step.0 * step.0 + step.1 * step.1;
    let ahead = to_stem.0 * step.0 + to_stem.1 * step.1;
    let away2 = to_stem.0 * to_stem.0 + to_stem.1 * to_stem.1;
    // Most stems are passed by: told without a division.
    let beyond_range = if ahead <= 0.0 {
        away2 > range2
    } else if ahead >= length2 {
        away2 - 2.0 * ahead + length2 > range2
    } else {
        (away2 - range2) * length2 > ahead * ahead
    };
    if beyond_range {
        return None;
    }
    let along = ahead / length2;
    let off2 = away2 - along * ahead;
    let half_chord = ((range2 - off2).max(0.0) / length2).sqrt();
    Some((along - half_chord).clamp(0.0, 1.0))
}
