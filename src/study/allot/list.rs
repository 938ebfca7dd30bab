//! The list of sites among which a draw is made.

use crate::scenario::data::sha256;
use crate::scenario::files::Sheet;
use crate::trouble::shown::is_unseen;
use crate::trouble::{Outcome, Trouble};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Most sites of a list: beyond it a file of the wrong kind was named.
const MOST_SITES: usize = 10_000;
/// Longest name of a site or patch, characters: one line of a printed sheet.
const LONGEST_NAME: usize = 60;

const COLUMNS: &str = "site; and if need be use, first_name, second_name and any to balance within";

/// Name of the example as it stands in records.
pub const EXAMPLE: &str = "tansey-accepted.csv";
/// Sites of an invented valley, for those who have no list yet.
const EXAMPLE_TEXT: &str = include_str!("../../../scenarios/tansey-accepted.csv");

/// What a site is used for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SiteUse {
    /// Two patches, one of them treated.
    Pair,
    /// One patch, one half of it cut.
    OnePatch,
}

impl SiteUse {
    /// Word in tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Pair => "pair",
            Self::OnePatch => "one_patch",
        }
    }
}

/// A site of the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ListedSite {
    /// Line in the file.
    pub line: u64,
    /// Its name, which no other site of the list has.
    pub name: String,
    /// What it is used for.
    pub used_as: SiteUse,
    /// Names of its patches; a site of one patch has the first alone.
    pub patches: [String; 2],
    /// Its stratum in words: its use, and its values in the columns to balance within.
    pub stratum: String,
}

/// A list of sites as read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SiteList {
    /// Name of the file as given.
    pub name: String,
    /// Hexadecimal SHA-256 of the file.
    pub sha256: String,
    /// Length of the file, bytes.
    pub bytes: u64,
    /// Columns within which the draw is balanced, besides the use.
    pub within: Vec<String>,
    /// The sites, in the order of the file.
    pub sites: Vec<ListedSite>,
}

/// The example of an invented valley.
///
/// # Errors
/// When a column to balance within is not there.
pub fn example(within: &[String]) -> Outcome<SiteList> {
    let text = EXAMPLE_TEXT.as_bytes().to_vec();
    read_list(EXAMPLE, within, (EXAMPLE.to_owned(), text))
}

/// Reads a list from the contents of a file, which messages call by its label.
///
/// # Errors
/// With file and line: a missing column, a site that is listed twice or has no name, an unknown use, patches that
/// cannot be told apart, an empty cell in a column to balance within.
pub fn read_list(
    name: &str,
    within: &[String],
    (label, bytes): (String, Vec<u8>),
) -> Outcome<SiteList> {
    let digest = sha256(&bytes);
    let length = bytes.len() as u64;
    let sheet = Sheet::read((label.clone(), bytes))?;
    check_within(within)?;
    let strata = within
        .iter()
        .map(|column| Ok((column.as_str(), sheet.need(column, COLUMNS)?)))
        .collect::<Outcome<Vec<_>>>()?;
    let columns = Columns {
        site: sheet.need("site", COLUMNS)?,
        used_as: sheet.column("use"),
        patches: [sheet.column("first_name"), sheet.column("second_name")],
        strata,
    };
    if sheet.rows.len() > MOST_SITES {
        return Err(
            Trouble::new(format!("the list has {} sites", sheet.rows.len()))
                .at(label)
                .expected(format!("at most {MOST_SITES}"))
                .remedy("name the list of sites, not a table of counts"),
        );
    }
    let mut seen: BTreeMap<String, u64> = BTreeMap::new();
    let mut sites = Vec::with_capacity(sheet.rows.len());
    for row in &sheet.rows {
        let site = columns.site(&sheet, row)?;
        // Two spellings of one name would be two sites to the draw and one to everybody else.
        if let Some(before) = seen.insert(site.name.to_lowercase(), site.line) {
            return Err(sheet.fault(
                site.line,
                format!(
                    "the site `{}` is listed twice, first on line {before}",
                    site.name
                ),
                "every site once",
            ));
        }
        sites.push(site);
    }
    Ok(SiteList {
        name: name.to_owned(),
        sha256: digest,
        bytes: length,
        within: within.to_vec(),
        sites,
    })
}

fn check_within(within: &[String]) -> Outcome<()> {
    let wrong = |what: String| {
        Trouble::new(what)
            .at("the option --within")
            .expected("columns of the list that several sites share, each once, such as surroundings,size")
            .remedy("mend the option; pairs and single patches are balanced apart in any case")
    };
    for (index, column) in within.iter().enumerate() {
        if column == "site" {
            return Err(wrong("no two sites share their name".to_owned()));
        }
        if column == "use" || within[..index].contains(column) {
            return Err(wrong(format!("`{column}` is balanced within already")));
        }
    }
    Ok(())
}

/// Where things stand in the sheet.
struct Columns<'a> {
    site: usize,
    used_as: Option<usize>,
    patches: [Option<usize>; 2],
    strata: Vec<(&'a str, usize)>,
}

type Line = (u64, csv::StringRecord);

impl Columns<'_> {
    fn site(&self, sheet: &Sheet, row: &Line) -> Outcome<ListedSite> {
        let name = named(sheet, row, Some(self.site), "site")?.ok_or_else(|| {
            sheet.fault(row.0, "the site has no name".to_owned(), "a name in `site`")
        })?;
        let used_as = match cell(row, self.used_as) {
            "" | "pair" => SiteUse::Pair,
            "one_patch" => SiteUse::OnePatch,
            other => {
                return Err(sheet.fault(
                    row.0,
                    format!("`{other}` is no use of a site"),
                    "pair or one_patch",
                ));
            }
        };
        let first = named(sheet, row, self.patches[0], "first_name")?;
        let second = named(sheet, row, self.patches[1], "second_name")?;
        let patches = match used_as {
            SiteUse::Pair => [
                first.unwrap_or_else(|| "first patch".to_owned()),
                second.unwrap_or_else(|| "second patch".to_owned()),
            ],
            SiteUse::OnePatch => [
                first.unwrap_or_else(|| "the patch".to_owned()),
                String::new(),
            ],
        };
        if patches[0].to_lowercase() == patches[1].to_lowercase() {
            return Err(sheet.fault(
                row.0,
                format!("both patches are called `{}`", patches[0]),
                "two names that cannot be mixed up",
            ));
        }
        Ok(ListedSite {
            line: row.0,
            name,
            used_as,
            patches,
            stratum: self.stratum(sheet, row, used_as)?,
        })
    }

    fn stratum(&self, sheet: &Sheet, row: &Line, used_as: SiteUse) -> Outcome<String> {
        let mut words = used_as.word().to_owned();
        for (column, at) in &self.strata {
            let value = named(sheet, row, Some(*at), column)?.ok_or_else(|| {
                sheet.fault(
                    row.0,
                    format!("`{column}` is empty, and the draw is to be balanced within it"),
                    "a value for every site",
                )
            })?;
            words += &format!("; {column}={value}");
        }
        Ok(words)
    }
}

fn cell(row: &Line, column: Option<usize>) -> &str {
    column.and_then(|at| row.1.get(at)).unwrap_or("")
}

/// A name in a cell, if there is one.
fn named(
    sheet: &Sheet,
    row: &Line,
    column: Option<usize>,
    heading: &str,
) -> Outcome<Option<String>> {
    let text = cell(row, column);
    if text.is_empty() {
        return Ok(None);
    }
    let length = text.chars().count();
    if length > LONGEST_NAME || text.chars().any(is_unseen) {
        return Err(sheet.fault(
            row.0,
            format!("`{heading}` is no name: it has {length} characters, or more than one line"),
            &format!("at most {LONGEST_NAME} characters on one line"),
        ));
    }
    Ok(Some(text.to_owned()))
}
