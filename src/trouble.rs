//! The one error type of the library: what is wrong, where, what was expected, what to do.

pub mod shown;

use std::fmt;

/// A fault in what the user gave or asked for, told so that it can be mended.
///
/// Every field is a plain sentence or phrase; [`fmt::Display`] prints the ones that are known, one
/// a line. Text that somebody gave stands in it as it was given, between backticks unless it is a path: what may be
/// shown of it is decided where it is printed (see [`shown`]). The program ends with exit code 2 on any of these that is not [`Trouble::by_machine`].
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct Trouble {
    /// What is wrong.
    pub what: String,
    /// Where: a file and, when known, the line; or the option.
    pub place: Option<String>,
    /// What would have been right.
    pub expected: Option<String>,
    /// What to do about it.
    pub remedy: Option<String>,
    /// Whether the machine failed, such as a full disk, and the input is sound: exit code 1.
    pub by_machine: bool,
}

/// Result with [`Trouble`] as its error.
pub type Outcome<T> = Result<T, Trouble>;

impl Trouble {
    /// A fault with nothing but its description yet.
    pub fn new(what: impl Into<String>) -> Self {
        Self {
            what: what.into(),
            place: None,
            expected: None,
            remedy: None,
            by_machine: false,
        }
    }

    /// Adds the place: a file and line, or an option.
    #[must_use]
    pub fn at(mut self, place: impl Into<String>) -> Self {
        self.place = Some(place.into());
        self
    }

    /// Adds what was expected.
    #[must_use]
    pub fn expected(mut self, expected: impl Into<String>) -> Self {
        self.expected = Some(expected.into());
        self
    }

    /// Says that the machine failed, not the input.
    #[must_use]
    pub fn by_machine(mut self) -> Self {
        self.by_machine = true;
        self
    }

    /// Adds what to do.
    #[must_use]
    pub fn remedy(mut self, remedy: impl Into<String>) -> Self {
        self.remedy = Some(remedy.into());
        self
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", shown::told(&self.what))?;
        let told = |text: &Option<String>| text.as_deref().map(shown::told);
        let lines = [
            ("where", self.place.as_deref().map(shown::told_place)),
            ("expected", told(&self.expected)),
            ("to do", told(&self.remedy)),
        ];
        for (label, text) in lines {
            if let Some(text) = text {
                write!(f, "\n  {:<10}{text}", format!("{label}:"))?;
            }
        }
        Ok(())
    }
}
