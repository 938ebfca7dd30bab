//! Lists of an analysis: sites used, and what was left out.

use super::analysis::Analysis;
use super::analysis_text::{capital, figures, item, number_of};
use super::text::heading;
use crate::study::analyse::{Comparison, Dropped, UsedSite, shown, shown_within};
use textwrap::core::display_width;

/// Sites and drops that are listed before the rest is left to the tables.
const MOST_LISTED: usize = 40;
/// Width of a site's name in the table; the rest is cut off.
const NAME_WIDTH: usize = 24;

/// The sites that are used.
pub(super) fn sites(lines: &mut Vec<String>, analysis: &Analysis) {
    let all = &analysis.prepared.sites;
    let names = match analysis.question.comparison {
        Comparison::Patches => ["treated", "untouched"],
        Comparison::Halves => ["cut", "refuge"],
    };
    heading(
        lines,
        &format!("{} used", capital(&number_of(all.len(), "site"))),
    );
    lines.push(format!(
        "  {:<NAME_WIDTH$} {:>9} {:>7} {:>9} {:>7} {:>6} {:>8}",
        "site", names[0], "stems", names[1], "stems", "weeks", "dropped"
    ));
    for site in all.iter().take(MOST_LISTED) {
        lines.push(site_line(site));
    }
    if all.len() > MOST_LISTED {
        lines.push(format!(
            "  ... and {} more in sites.csv",
            all.len() - MOST_LISTED
        ));
    }
}

fn site_line(site: &UsedSite) -> String {
    let counts = &site.counts;
    format!(
        "  {} {:>9} {:>7} {:>9} {:>7} {:>6} {:>8}",
        padded_name(&site.name),
        counts.treated,
        short_stems(counts.stems_treated),
        counts.untouched,
        short_stems(counts.stems_untouched),
        site.weeks.len(),
        site.weeks_dropped
    )
}

fn short_stems(stems: f64) -> String {
    if stems.fract() == 0.0 && stems < 1e7 {
        format!("{stems:.0}")
    } else {
        figures(stems)
    }
}

/// A name that fills its column, whatever the width of its signs.
fn padded_name(name: &str) -> String {
    let mut name = shown_within(name, NAME_WIDTH);
    while display_width(&name) > NAME_WIDTH {
        name.pop();
    }
    let missing = NAME_WIDTH - display_width(&name);
    name + &" ".repeat(missing)
}

/// What was left out, and why.
pub(super) fn left_out(lines: &mut Vec<String>, analysis: &Analysis) {
    let dropped = &analysis.prepared.dropped;
    if dropped.is_empty() {
        heading(lines, "Nothing was left out");
        return;
    }
    let (sites, weeks): (Vec<&Dropped>, Vec<&Dropped>) =
        dropped.iter().partition(|drop| drop.week.is_none());
    heading(
        lines,
        &format!(
            "Left out: {}, {}",
            number_of(sites.len(), "site"),
            number_of(weeks.len(), "week")
        ),
    );
    let groups = grouped(&sites, &weeks);
    for (site, weeks, lines_of, reason) in groups.iter().take(MOST_LISTED) {
        let weeks = match weeks.len() {
            0 => String::new(),
            1 => format!(", week {}", weeks[0]),
            _ => format!(", weeks {}", weeks.join(", ")),
        };
        let line = if lines_of.len() == 1 { "line" } else { "lines" };
        lines.push(item(&format!(
            "{}{weeks} ({line} {}): {reason}.",
            shown(site),
            lines_of.join(", ")
        )));
    }
    if groups.len() > MOST_LISTED {
        lines.push("  ... and more in dropped.csv".to_owned());
    }
}

/// A site with weeks that were left out for one reason, and their lines.
type Group<'a> = (&'a str, Vec<String>, Vec<String>, String);

/// Drops in their order, weeks of a site that follow each other with the same reason taken together.
fn grouped<'a>(sites: &[&'a Dropped], weeks: &[&'a Dropped]) -> Vec<Group<'a>> {
    let mut groups: Vec<Group<'a>> = Vec::new();
    for drop in sites.iter().chain(weeks) {
        let reason = drop.reason.to_string();
        let week = drop.week.map(|week| week.to_string());
        match groups.last_mut() {
            Some(last) if last.0 == drop.site && last.3 == reason && week.is_some() => {
                last.1.extend(week);
                last.2.push(drop.line.to_string());
            }
            _ => groups.push((
                drop.site.as_str(),
                week.into_iter().collect(),
                vec![drop.line.to_string()],
                reason,
            )),
        }
    }
    groups
}
