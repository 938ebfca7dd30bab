//! Sheets to print and take outdoors: one leaf a site, what to do on its front, what was counted on its back.

use super::super::html::Frame;
use super::super::text::{CAUTIONS, percent};
use super::drawing::drawing;
use super::{Drawn, FieldDates, Part, day, half_words, parts};
use crate::scenario::choices::CuttingMethod;
use crate::scenario::{STAGE_NAMES, Scenario};
use crate::study::allot::{Allotted, Cut, ListedSite, SiteUse};
use maud::{Markup, html};

/// Rules for paper first: a site begins on a page of its own, its table of counts on the next; then for screens down
/// to the width of a telephone.
const STYLE: &str = "\
:root{color-scheme:light}*{box-sizing:border-box}\
body{font:1rem/1.42 Georgia,'DejaVu Serif',serif;max-width:52rem;margin:0 auto;padding:1rem;color:#000;background:#fff;overflow-wrap:break-word}\
h1{font-size:1.6rem;line-height:1.2;margin:.1em 0 .1em}h2{font-size:1.08rem;margin:1.1em 0 .3em}\
p{margin:.3em 0}ul,ol{margin:.3em 0;padding-left:1.4em}li{padding:.1em 0}\
.over{color:#444;font-size:.85rem;display:flex;flex-wrap:wrap;justify-content:space-between;gap:0 1.5em;border-bottom:1px solid #999;padding-bottom:.25em}\
.order{border:2.5px solid #000;padding:.5em .8em;margin:.7em 0;font-size:1.12rem}\
svg{display:block;width:100%;max-width:40rem;height:auto;margin:.6em auto}\
.wide{overflow-x:auto;padding:0 2px 2px 0}table{border-collapse:collapse;width:100%;font-size:.88rem}\
th,td{border:1px solid #777;padding:.25em .4em;text-align:left;vertical-align:middle}\
th{font-weight:600;background:#f1efe8}td.write{min-width:2.6em;height:2.1em}td.wider{min-width:6.5em}th.late{font-weight:700;border:2px solid #000}\
.tick{display:inline-block;width:.95em;height:.95em;border:1.5px solid #000;vertical-align:-.12em;margin-right:.45em}\
.blank{display:inline-block;border-bottom:1px solid #000;min-width:7em}.blank.line{width:100%}ol.steps{list-style:none;padding-left:0}\
section.leaf{border-top:6px solid #000;margin-top:2.5rem;padding-top:.6rem}section.leaf.back{border-top:2px dashed #777}\
.foot{color:#444;font-size:.78rem;margin-top:.8em}\
.columns{columns:2 17rem;column-gap:2rem}.columns li{break-inside:avoid}\
@page{margin:11mm 13mm}@media print{body{font-size:9.3pt;line-height:1.28;max-width:none;padding:0}\
section.leaf{break-before:page;border-top:0;margin:0;padding:0}section.leaf.back{border-top:0}section.leaf.first{break-before:auto}\
h1{font-size:17pt}h2{font-size:11.5pt;break-after:avoid}svg{max-width:108mm;margin:.3em auto}h2{margin:.65em 0 .15em}li{margin:.1em 0}.order{margin:.5em 0;padding:.35em .7em}section.front td.write{height:6mm}.cautions{font-size:8.4pt}tr,li,.order,svg{break-inside:avoid}\
thead{display:table-header-group}.wide{overflow:visible}td.write{height:8.4mm}.foot{font-size:7.5pt}tbody.week{break-inside:avoid}}";

/// The sheets of all sites, as a page that holds all it needs.
#[must_use]
pub fn sheets(drawn: &Drawn<'_>) -> String {
    let dates = FieldDates::of(drawn.scenario);
    let name = &drawn.record.list.name;
    Frame {
        title: &format!("Site sheets: {name}"),
        style: STYLE,
        script: None,
        has_pictures: false,
        body: html! {
            main {
                @for (index, allotted) in drawn.allotment.sites.iter().enumerate() {
                    "\n" (front(drawn, allotted, index, &dates))
                    "\n" (back(drawn, allotted, &dates))
                }
            }
        },
    }
    .page()
}

fn over(drawn: &Drawn<'_>, side: &str, number: usize) -> Markup {
    let mark = if drawn.record.example {
        "EXAMPLE: the site is invented"
    } else {
        side
    };
    html! {
        div.over {
            span { "Study: " (drawn.record.list.name) ", " (drawn.scenario.name) }
            span { "Sheet " (number) " of " (drawn.allotment.sites.len()) }
            span { (mark) }
        }
    }
}

fn front(drawn: &Drawn<'_>, allotted: &Allotted, index: usize, dates: &FieldDates) -> Markup {
    let site = &drawn.list.sites[allotted.site];
    let scenario = drawn.scenario;
    let arm = allotted.arm;
    let cut_share = match arm.cut {
        Cut::Whole => 1.0,
        _ => 1.0 - scenario.numbers.site.refuge_share,
    };
    html! {
        section.leaf.front.first[index == 0] {
            (over(drawn, "front: what to do", index + 1))
            h1 { (site.name) }
            p.order {
                "Patch \u{201c}" strong { (site.patches[arm.treated]) } "\u{201d}: cut the "
                strong { (half_words(arm.cut, site, arm.treated)) } "."
                @if site.used_as == SiteUse::Pair {
                    " Patch \u{201c}" strong { (site.patches[1 - arm.treated]) } "\u{201d}: cut nothing."
                }
            }
            (drawing(site, arm, cut_share))
            h2 { "Before cutting" }
            ol.steps {
                li { span.tick {} "The owner agrees. Name, date: " span.blank {} }
                @if arm.cut != Cut::Whole {
                    li { span.tick {} (border(site, scenario)) }
                }
                li { span.tick {} "All stems are counted, part by part, and never corrected afterwards:" }
            }
            div.wide { (stems(&parts(site, arm))) }
            h2 { "Cutting: " (day(dates.cutting)) }
            ol.steps {
                li { span.tick {} (cutting(scenario)) }
                li { span.tick {} "Cut on: " span.blank {} " by: " span.blank {} }
            }
            h2 { "Counting" }
            p {
                "On the back, " (dates.counts.len()) " times"
                @if let (Some(first), Some(last)) = (dates.counts.first(), dates.counts.last()) {
                    " from " (day(first.0)) " to " (day(last.0))
                }
                ". Every stem of every part, or the same number of stems in each, in the same weeks, by the same person."
            }
            h2 { "To bring" }
            ul.columns { @for thing in to_bring(scenario, arm.cut) { li { (thing) } } }
            h2 { "Cautions" }
            ul.cautions { @for caution in CAUTIONS { li { (caution) } } }
        }
    }
}

fn foot(drawn: &Drawn<'_>, allotted: &Allotted) -> Markup {
    const DIGITS: usize = 16;
    let begin = |text: &str| text.chars().take(DIGITS).collect::<String>();
    html! {
        p.foot {
            "Drawn, not chosen: seed " (drawn.record.seed) ", ticket " (begin(&allotted.ticket))
            ".., list SHA-256 " (begin(&drawn.record.list.sha256)) "... "
            @if drawn.record.announced.is_some() { "The draw was announced before." }
            @else { "The draw was not announced before." }
        }
    }
}

fn border(site: &ListedSite, scenario: &Scenario) -> String {
    let refuge = percent(scenario.numbers.site.refuge_share);
    match site.used_as {
        SiteUse::Pair => {
            format!("The border of the halves is marked: the refuge has {refuge} of the stems.")
        }
        SiteUse::OnePatch => format!(
            "The border of the halves is marked, straight away from where you come: the refuge has {refuge} of the stems."
        ),
    }
}

fn stems(parts: &[Part]) -> Markup {
    html! {
        table {
            thead { tr { th scope="col" { "part" } th scope="col" { "patch" } th scope="col" { "stems" } th scope="col" { "counted on" } th scope="col" { "by" } } }
            tbody {
                @for part in parts {
                    tr { td { (part.name) } td { (part.patch) } td.write {} td.write.wider {} td.write.wider {} }
                }
            }
        }
    }
}

fn cutting(scenario: &Scenario) -> String {
    let numbers = &scenario.numbers.cutting;
    let moved = if numbers.moved_share > 0.0 {
        "Eggs and larvae on them are first moved to uncut stems of the same patch."
    } else {
        "Eggs and larvae on them are not moved: moving them changes what is compared."
    };
    format!(
        "All stems of the hatched part are cut at {} cm; no others. {moved}",
        numbers.height_cm
    )
}

/// What somebody needs on the day of cutting and for the counts.
fn to_bring(scenario: &Scenario, cut: Cut) -> Vec<String> {
    let tool = match scenario.draft.cutting.method {
        Some(CuttingMethod::Scythe) => "scythe or sickle, whetstone, blade guard",
        Some(CuttingMethod::Trimmer) => "string trimmer, face guard, ear protection",
        Some(CuttingMethod::Mower) => "mower set high, ear protection",
        Some(CuttingMethod::Shears) | None => "hand shears or secateurs",
    };
    let mut list = vec![
        "this sheet, a hard board, two pencils".to_owned(),
        "gloves and eye protection".to_owned(),
        "water and soap for hands".to_owned(),
        format!(
            "for cutting: {tool}; a stick marked at {} cm",
            scenario.numbers.cutting.height_cm
        ),
    ];
    if cut != Cut::Whole {
        list.push("for the border: stakes and coloured tape, a measuring tape".to_owned());
    }
    list.push("for counting: a hand lens and a tally counter".to_owned());
    list
}

fn back(drawn: &Drawn<'_>, allotted: &Allotted, dates: &FieldDates) -> Markup {
    let site = &drawn.list.sites[allotted.site];
    let parts = parts(site, allotted.arm);
    let late_from = drawn.scenario.late_from;
    let number = drawn
        .allotment
        .sites
        .iter()
        .position(|other| other == allotted)
        .unwrap_or(0)
        + 1;
    html! {
        section.leaf.back {
            (over(drawn, "back: counts", number))
            h1 { (site.name) }
            p {
                "Eggs and larvae found on stems, by stage. Write 0 where none was found; leave a line empty only if the week was missed. "
                "The late stage is framed."
            }
            div.wide tabindex="0" {
                table {
                    thead {
                        tr {
                            th scope="col" { "week" }
                            th scope="col" { "part" }
                            th scope="col" { "stems looked at" }
                            @for (stage, name) in STAGE_NAMES.iter().enumerate() {
                                th scope="col" class=[(stage >= late_from).then_some("late")] { (stage_word(stage, name)) }
                            }
                        }
                    }
                    @for (date, after) in &dates.counts {
                        tbody.week {
                            @for (index, part) in parts.iter().enumerate() {
                                tr {
                                    @if index == 0 {
                                        th scope="rowgroup" rowspan=(parts.len()) {
                                            span.tick {} (day(*date)) br; "day " (after)
                                        }
                                    }
                                    td { (part.name) }
                                    td.write {}
                                    @for _ in STAGE_NAMES { td.write {} }
                                }
                            }
                        }
                    }
                }
            }
            p { "Weather, damage, mowing by others, anything unusual:" }
            p { span.blank.line { "\u{a0}" } }
            p { span.blank.line { "\u{a0}" } }
            (foot(drawn, allotted))
        }
    }
}

fn stage_word(stage: usize, name: &str) -> String {
    if stage == 0 {
        "eggs".to_owned()
    } else {
        name.to_uppercase()
    }
}
