//! Headlines: what survives our ignorance first, what the central numbers say second and called that.
//!
//! Every answer that rests on guesses is told by [`headline`], in the terminal, on pages and in titles of charts alike.

use super::words::NO_BREAK;
use crate::stats::{Crossing, CrossingReport, GridInterval};
use crate::study::measures::Measured;
use crate::study::uncertain::{BAND_SETS, Band};

/// What is said of a value that nothing defines.
pub const UNDEFINED: &str = "undefined";

/// A quantity as a headline writes it.
pub struct Quantity<'a> {
    /// What it is, as a sentence begins: `Clear gap`.
    pub what: &'a str,
    /// Writes one value without its unit; 0 and infinity may stand for what lies outside the values tried.
    pub show: &'a dyn Fn(f64) -> String,
    /// Unit behind the last number; empty for a pure number.
    pub unit: &'a str,
}

impl Quantity<'_> {
    fn with_unit(&self, numbers: &str) -> String {
        if self.unit.is_empty() {
            numbers.to_owned()
        } else {
            format!("{numbers}{NO_BREAK}{}", self.unit)
        }
    }

    /// A value with its unit and, in brackets, its 95 % interval.
    #[must_use]
    pub fn central(&self, value: f64, interval: Option<(f64, f64)>) -> String {
        let value = self.with_unit(&(self.show)(value));
        interval.map_or(value.clone(), |(low, high)| {
            let ends = span(&(self.show)(low), &(self.show)(high));
            format!("{value} ({ends})")
        })
    }

    /// A crossing as [`Self::central`] writes it: 0 stands for one below the values tried, infinity for one beyond.
    #[must_use]
    pub fn crossing(&self, report: &CrossingReport) -> String {
        let Some(crossing) = report.crossing else {
            return UNDEFINED.to_owned();
        };
        let value = match crossing {
            Crossing::At(value) => value,
            Crossing::BelowGrid => 0.0,
            Crossing::NotReached => f64::INFINITY,
        };
        // Where every resample lies on one side of the values tried, an interval would say nothing more.
        let is_outside = report.below == report.defined || report.beyond == report.defined;
        let interval = report.interval.filter(|_| !is_outside);
        let ends =
            |ends: GridInterval| (ends.low.unwrap_or(0.0), ends.high.unwrap_or(f64::INFINITY));
        self.central(value, interval.map(ends))
    }

    /// A measure as [`Self::central`] writes it.
    #[must_use]
    pub fn measured(&self, measured: &Measured) -> String {
        measured.value.map_or_else(
            || UNDEFINED.to_owned(),
            |value| self.central(value, measured.interval),
        )
    }
}

/// The headline of an answer, without a full stop: the band over plausible parameter sets first, then `central`, the
/// value with the central numbers. Where no parameter set was asked, the sentence says what it lacks and how to get it.
#[must_use]
pub fn headline(quantity: &Quantity<'_>, band: Option<&Band>, central: &str) -> String {
    let what = quantity.what;
    let Some(band) = band.filter(|band| band.sets > 0) else {
        return format!(
            "{what}, with the central numbers only: {central}; what the guesses leave open is not in it (add \
             --uncertain{NO_BREAK}{BAND_SETS})"
        );
    };
    let Some([low, middle, high]) = band.percentiles else {
        let all = format!(
            "{what}: undefined in all of {} plausible parameter sets",
            band.sets
        );
        return if central == UNDEFINED {
            format!("{all}, and with the central numbers")
        } else {
            format!("{all}; with the central numbers {central}")
        };
    };
    let [low, middle, high] = [low, middle, high].map(quantity.show);
    let (held, inner) = if low == high {
        (low, String::new())
    } else {
        let inner = format!(" (middle {})", quantity.with_unit(&middle));
        (format!("{low} to {high}"), inner)
    };
    let sets = match band.undefined {
        0 => format!("{} plausible parameter sets", band.sets),
        undefined => format!(
            "those {} of {} plausible parameter sets that define it",
            band.sets - undefined,
            band.sets
        ),
    };
    format!(
        "{what}: {} in 90{NO_BREAK}% of {sets}{inner}; with the central numbers {central}",
        quantity.with_unit(&held)
    )
}

/// Two ends of a span: `1.6-2.0`, or with words `below 0.5 to 2.0`.
#[must_use]
pub fn span(low: &str, high: &str) -> String {
    let is_number = |end: &str| end.starts_with(|first: char| first.is_ascii_digit());
    if is_number(low) && is_number(high) {
        format!("{low}-{high}")
    } else {
        format!("{low} to {high}")
    }
}

/// A share in percent without its sign, with figures as suit its size.
#[must_use]
pub fn plain_percent(share: f64) -> String {
    let percent = 100.0 * share;
    if percent != 0.0 && percent.abs() < 1.0 {
        format!("{percent:.2}")
    } else {
        format!("{percent:.1}")
    }
}

/// A ratio to two decimals.
#[must_use]
pub fn plain_ratio(value: f64) -> String {
    format!("{value:.2}")
}

/// Writes a value of which 0 and infinity stand for what lies outside the values tried.
pub fn within(tried: &[f64], show: impl Fn(f64) -> String) -> impl Fn(f64) -> String {
    let first = tried.first().copied().unwrap_or(0.0);
    let last = tried.last().copied().unwrap_or(0.0);
    move |value| {
        if value <= 0.0 {
            format!("below {}", show(first))
        } else if value.is_infinite() {
            format!("beyond {}", show(last))
        } else {
            show(value)
        }
    }
}

/// How headlines are read, with a band and without.
#[must_use]
pub fn reading(has_bands: bool) -> String {
    let first = if has_bands {
        "each answer leads with the span that holds it in 90 % of plausible parameter sets, drawn from the ranges of the numbers \
         that are not known; the few seasons of each set widen the span a little. What the central numbers alone give comes \
         second; its brackets hold"
    } else {
        "no parameter set was drawn, so that every answer rests on the central numbers only. Brackets hold"
    };
    format!(
        "How to read: {first} the 95 % interval of the simulation, which says how well it knows its own answer, not how well \
         those numbers are known."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn metres(gap_m: f64) -> String {
        within(&[0.5, 36.0], |gap_m| format!("{gap_m:.1}"))(gap_m)
    }

    fn said(values: &[Option<f64>]) -> String {
        let quantity = Quantity {
            what: "Clear gap",
            show: &metres,
            unit: "m",
        };
        let central = quantity.central(1.8, Some((1.6, 2.0)));
        headline(&quantity, Some(&Band::of(values)), &central).replace(NO_BREAK, " ")
    }

    #[test]
    fn exact_the_band_leads_and_the_central_numbers_follow() {
        let values: Vec<Option<f64>> = (0..40).map(|set| Some(f64::from(set) / 2.0)).collect();
        assert_eq!(
            said(&values),
            "Clear gap: 1.0 to 19.0 m in 90 % of 40 plausible parameter sets (middle 10.0 m); with the central numbers 1.8 m (1.6-2.0)"
        );
        assert_eq!(
            said(&[Some(0.0), Some(2.0), Some(f64::INFINITY), None]),
            "Clear gap: below 0.5 to beyond 36.0 m in 90 % of those 3 of 4 plausible parameter sets that define it (middle 2.0 m); with \
             the central numbers 1.8 m (1.6-2.0)"
        );
        assert_eq!(
            said(&[Some(0.0); 8]),
            "Clear gap: below 0.5 m in 90 % of 8 plausible parameter sets; with the central numbers 1.8 m (1.6-2.0)"
        );
        assert_eq!(
            said(&[None, None]),
            "Clear gap: undefined in all of 2 plausible parameter sets; with the central numbers 1.8 m (1.6-2.0)"
        );
        for none in [None, Some(&Band::of(&[]))] {
            let quantity = Quantity {
                what: "Clear gap",
                show: &metres,
                unit: "m",
            };
            assert_eq!(
                headline(&quantity, none, "1.8 m").replace(NO_BREAK, " "),
                "Clear gap, with the central numbers only: 1.8 m; what the guesses leave open is not in it (add --uncertain 40)"
            );
        }
    }

    #[test]
    fn exact_spans_with_words_are_spelt_out() {
        assert_eq!(span("1.6", "2.0"), "1.6-2.0");
        assert_eq!(span("below 0.5", "2.0"), "below 0.5 to 2.0");
        assert_eq!(span("30.0", "beyond 34.0"), "30.0 to beyond 34.0");
    }
}
