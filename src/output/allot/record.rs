//! What is put on record before and after a draw.

use super::super::provenance::Program;
use crate::scenario::data::sha256;
use crate::study::allot::{Allotment, Arms, IN_WORDS, METHOD, SiteList, Stratum};
use crate::trouble::{Outcome, Trouble};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

/// Name of the file that says what will be drawn, before it is.
pub const ANNOUNCEMENT: &str = "announcement.json";
/// Name of the record of a draw.
pub const RECORD: &str = "allotment-record.json";
/// Version of the form of both.
const FORM: u32 = 1;

/// A list as a record names it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NamedList {
    /// Its file as given.
    pub name: String,
    /// Hexadecimal SHA-256 of the file.
    pub sha256: String,
    /// Number of sites.
    pub sites: usize,
    /// Columns within which the draw is balanced.
    pub within: Vec<String>,
}

impl NamedList {
    /// The record of a list.
    #[must_use]
    pub fn of(list: &SiteList) -> Self {
        Self {
            name: list.name.clone(),
            sha256: list.sha256.clone(),
            sites: list.sites.len(),
            within: list.within.clone(),
        }
    }

    /// Whether two lists hold the same and are balanced alike, whatever their files are called.
    fn is_same(&self, other: &Self) -> bool {
        self.sha256 == other.sha256 && self.within == other.within
    }
}

/// What will be drawn, said before the seed is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Announcement {
    /// Version of this form.
    pub form: u32,
    /// Way of drawing.
    pub method: String,
    /// The list.
    pub list: NamedList,
    /// What can happen to a site.
    pub arms: Arms,
    /// How the seed will come about.
    pub seed_from: String,
    /// The program that wrote it.
    pub program: Program,
}

impl Announcement {
    /// The announcement of a draw.
    #[must_use]
    pub fn of(list: &SiteList, arms: &Arms, seed_from: &str) -> Self {
        Self {
            form: FORM,
            method: METHOD.to_owned(),
            list: NamedList::of(list),
            arms: arms.clone(),
            seed_from: seed_from.to_owned(),
            program: Program::this(),
        }
    }

    /// Reads an announcement from a file's text.
    ///
    /// # Errors
    /// When it is none of this version's form.
    pub fn read(text: &str, label: &str) -> Outcome<Self> {
        read(
            text,
            label,
            "an announcement as `allot --announce` writes it",
        )
    }

    /// Whether another announcement says the same, whichever version of the program wrote it.
    #[must_use]
    pub fn says_the_same(&self, other: &Self) -> bool {
        self.seed_from == other.seed_from && self.check(&other.list, &other.arms, "").is_ok()
    }

    /// Checks that a draw is the one announced.
    ///
    /// # Errors
    /// When list, strata, arms or way of drawing are others.
    pub fn check(&self, list: &NamedList, arms: &Arms, label: &str) -> Outcome<()> {
        let other = if self.list.sha256 != list.sha256 {
            Some(format!(
                "the list is not the one announced, but one with SHA-256 {}",
                list.sha256
            ))
        } else if self.list.within != list.within {
            Some("the draw is not balanced as announced".to_owned())
        } else if self.arms != *arms {
            Some("what can be cut is not what was announced".to_owned())
        } else if self.method != METHOD {
            Some(format!(
                "the draw was announced to be made by {}",
                self.method
            ))
        } else {
            None
        };
        other.map_or(Ok(()), |what| {
            let within = match self.list.within.as_slice() {
                [] => "no --within".to_owned(),
                columns => format!("--within {}", columns.join(",")),
            };
            Err(Trouble::new(what)
                .at(label)
                .expected(format!(
                    "the list with SHA-256 {}, {within}, and a scenario that cuts alike",
                    self.list.sha256
                ))
                .remedy(
                    "draw what was announced; or announce anew in another folder with --out, and say so with --replaces",
                ))
        })
    }
}

/// That a seed was announced.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Announced {
    /// How the seed was to come about.
    pub seed_from: String,
    /// Hexadecimal SHA-256 of the announcement.
    pub sha256: String,
}

/// An earlier draw that this one stands in for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Replaced {
    /// Hexadecimal SHA-256 of its record.
    pub sha256: String,
    /// Its seed.
    pub seed: u64,
    /// Hexadecimal SHA-256 of its list.
    pub list_sha256: String,
    /// Why it was given up.
    pub because: String,
}

/// The record of a draw.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DrawRecord {
    /// Version of this form.
    pub form: u32,
    /// Whether the sites are the invented ones of the example.
    pub example: bool,
    /// Way of drawing.
    pub method: String,
    /// The same in words.
    pub method_in_words: Vec<String>,
    /// The list.
    pub list: NamedList,
    /// What can happen to a site.
    pub arms: Arms,
    /// Seed.
    pub seed: u64,
    /// The announcement that lay in the folder when the draw was made, if there was one.
    pub announced: Option<Announced>,
    /// The draw that this one replaces, if any.
    pub replaces: Option<Replaced>,
}

/// What came out, beside the record of how.
#[derive(Serialize)]
struct WithOutcome<'a> {
    #[serde(flatten)]
    record: &'a DrawRecord,
    strata: &'a [Stratum],
    allotment_sha256: String,
}

impl DrawRecord {
    /// The record of a draw that was neither announced nor replaces another.
    #[must_use]
    pub fn of(list: &SiteList, arms: &Arms, seed: u64, example: bool) -> Self {
        Self {
            form: FORM,
            example,
            method: METHOD.to_owned(),
            method_in_words: IN_WORDS.map(str::to_owned).to_vec(),
            list: NamedList::of(list),
            arms: arms.clone(),
            seed,
            announced: None,
            replaces: None,
        }
    }

    /// The record as JSON, with what came out: strata, and the digest of the table of sites.
    ///
    /// # Errors
    /// When it cannot be written as JSON, which no record should cause.
    pub fn text(&self, allotment: &Allotment, table: &[u8]) -> Outcome<String> {
        text(&WithOutcome {
            record: self,
            strata: &allotment.strata,
            allotment_sha256: sha256(table),
        })
    }

    /// Reads the record of a draw.
    ///
    /// # Errors
    /// When it is none of this version's form.
    pub fn read(text: &str, label: &str) -> Outcome<Self> {
        read(text, label, "a record as `allot` writes it beside a draw")
    }

    /// Refuses to draw again over an earlier draw that was another.
    ///
    /// # Errors
    /// When the earlier draw has another list, other strata, arms or another seed.
    pub fn check_against(&self, earlier: &Self, label: &str) -> Outcome<()> {
        let what = if earlier.seed != self.seed {
            format!("this folder holds a draw with seed {}", earlier.seed)
        } else if !earlier.list.is_same(&self.list) {
            "this folder holds a draw from another list, or balanced otherwise".to_owned()
        } else if earlier.arms != self.arms || earlier.method != self.method {
            "this folder holds a draw of something else".to_owned()
        } else if earlier.replaces != self.replaces {
            "this folder holds a draw that was made for another reason".to_owned()
        } else if earlier.announced != self.announced {
            "the announcement of the draw in this folder is no longer there, or another".to_owned()
        } else {
            return Ok(());
        };
        Err(Trouble::new(what)
            .at(label)
            .expected("one draw for one study: it is never drawn over")
            .remedy(
                "if there is a good reason to draw again, do it in another folder: --out FOLDER --replaces THIS-RECORD --because REASON",
            ))
    }
}

/// Anything as JSON.
///
/// # Errors
/// When it cannot be written as JSON, which no record should cause.
pub fn text(value: &impl Serialize) -> Outcome<String> {
    serde_json::to_string_pretty(value)
        .map(|text| text + "\n")
        .map_err(|fault| Trouble::new(format!("a record as JSON: {fault}")))
}

fn read<T: DeserializeOwned>(text: &str, label: &str, expected: &str) -> Outcome<T> {
    #[derive(Deserialize)]
    struct Form {
        form: u32,
    }
    let broken = |fault: &serde_json::Error| {
        Trouble::new(format!("the file cannot be understood: {fault}"))
            .at(format!("{label}, line {}", fault.line()))
            .expected(expected)
            .remedy("put the file back as it was written")
    };
    let form: Form = serde_json::from_str(text).map_err(|fault| broken(&fault))?;
    if form.form != FORM {
        return Err(Trouble::new(format!("the file has form {}", form.form))
            .at(label)
            .expected(format!("form {FORM}"))
            .remedy("use the version that wrote it"));
    }
    serde_json::from_str(text).map_err(|fault| broken(&fault))
}
