//! A small drawing of what is cut at a site.

use super::super::charts::style::{CUT_HALF, Colour, REFUGE_HALF, UNTOUCHED};
use crate::study::allot::{Arm, Cut, ListedSite, SiteUse};
use maud::{Markup, html};

/// Size of the drawing, its own units.
const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 196.0;
/// Size of a patch.
const PATCH: (f64, f64) = (236.0, 118.0);
/// Upper edge of the patches.
const TOP: f64 = 38.0;
/// Distance of hatching lines: what is cut is hatched, so that it also shows in grey.
const HATCH: f64 = 11.0;

/// A rectangle: left, top, width, height.
#[derive(Debug, Clone, Copy)]
struct Area {
    x: f64,
    y: f64,
    width: f64,
    height: f64,
}

/// The drawing of a site; `cut_share` is the share of the treated patch that is cut.
#[must_use]
pub fn drawing(site: &ListedSite, arm: Arm, cut_share: f64) -> Markup {
    let is_pair = site.used_as == SiteUse::Pair;
    let treated_x = if is_pair {
        2.0
    } else {
        (WIDTH - PATCH.0) / 2.0
    };
    let treated = Area {
        x: treated_x,
        y: TOP,
        width: PATCH.0,
        height: PATCH.1,
    };
    let (cut, refuge) = divided(treated, arm.cut, site.used_as, cut_share);
    let words = match &site.used_as {
        SiteUse::Pair => format!(
            "{}, with the part to cut hatched, and {}, left alone",
            site.patches[arm.treated],
            site.patches[1 - arm.treated]
        ),
        SiteUse::OnePatch => format!("{}, with the part to cut hatched", site.patches[0]),
    };
    html! {
        svg role="img" aria-label=(words) viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } {
            (part(cut, CUT_HALF.colour, "CUT", true))
            @if let Some(refuge) = refuge { (part(refuge, REFUGE_HALF.colour, "REFUGE", false)) }
            (name(treated, &site.patches[arm.treated], "treated patch"))
            @if is_pair {
                @let other = Area { x: WIDTH - PATCH.0 - 2.0, ..treated };
                (part(other, UNTOUCHED.colour, "LEAVE ALONE", false))
                (name(other, &site.patches[1 - arm.treated], "untouched patch"))
            } @else {
                (standing(treated))
            }
        }
    }
}

/// The cut part of a patch and what is left of it.
fn divided(patch: Area, cut: Cut, used_as: SiteUse, share: f64) -> (Area, Option<Area>) {
    let across = |before: f64| {
        let width = patch.width * before;
        let first = Area { width, ..patch };
        let rest = Area {
            x: patch.x + width,
            width: patch.width - width,
            ..patch
        };
        (first, rest)
    };
    let along = |before: f64| {
        let height = patch.height * before;
        let first = Area { height, ..patch };
        let rest = Area {
            y: patch.y + height,
            height: patch.height - height,
            ..patch
        };
        (first, rest)
    };
    let swapped = |(first, rest): (Area, Area)| (rest, Some(first));
    let plain = |(first, rest): (Area, Area)| (first, Some(rest));
    match (cut, used_as) {
        (Cut::Whole, _) => (patch, None),
        // The other patch is drawn on the right of the treated one.
        (Cut::Towards, _) | (Cut::Right, SiteUse::OnePatch) => swapped(across(1.0 - share)),
        (Cut::Away, _) | (Cut::Left, SiteUse::OnePatch) => plain(across(share)),
        (Cut::Left, SiteUse::Pair) => plain(along(share)),
        (Cut::Right, SiteUse::Pair) => swapped(along(1.0 - share)),
    }
}

fn css((red, green, blue): Colour) -> String {
    format!("rgb({red},{green},{blue})")
}

fn part(area: Area, colour: Colour, label: &str, is_cut: bool) -> Markup {
    let Area {
        x,
        y,
        width,
        height,
    } = area;
    let (middle_x, middle_y) = (x + width / 2.0, y + height / 2.0);
    // Letters stand on a plate, or the hatching would run through them.
    let plate = 9.0 * label.len() as f64 + 10.0;
    html! {
        rect x=(x) y=(y) width=(width) height=(height) fill="#fff" stroke=(css(colour)) stroke-width="3" {}
        @if is_cut { path d=(hatching(area)) stroke=(css(colour)) stroke-width="1.6" fill="none" {} }
        rect x=(middle_x - plate / 2.0) y=(middle_y - 12.0) width=(plate) height="24" fill="#fff" {}
        text x=(middle_x) y=(middle_y + 5.0) text-anchor="middle" font-size="14" font-weight="700" fill="#000" { (label) }
    }
}

/// Diagonal lines inside a rectangle.
fn hatching(area: Area) -> String {
    let mut path = String::new();
    let mut offset = HATCH;
    while offset < area.width + area.height {
        // From the left or lower edge up to the upper or right edge.
        let from = (
            area.x + (offset - area.height).max(0.0),
            area.y + offset.min(area.height),
        );
        let to = (
            area.x + offset.min(area.width),
            area.y + (offset - area.width).max(0.0),
        );
        path += &format!("M{:.1} {:.1}L{:.1} {:.1}", from.0, from.1, to.0, to.1);
        offset += HATCH;
    }
    path
}

fn name(patch: Area, name: &str, role: &str) -> Markup {
    /// Letters of a name that fit under a patch; the order above the drawing has it whole.
    const MOST: usize = 30;
    const WIDEST: f64 = 260.0;
    const LETTER: f64 = 0.62;
    let mut shown: String = name.chars().take(MOST).collect();
    if shown.len() < name.len() {
        shown.push('\u{2026}');
    }
    let size = (WIDEST / (LETTER * shown.chars().count().max(1) as f64)).min(15.0);
    let middle = patch.x + patch.width / 2.0;
    let below = patch.y + patch.height + 20.0;
    html! {
        text x=(middle) y=(below) text-anchor="middle" font-size=(format!("{size:.1}")) font-weight="700" fill="#000" { (shown) }
        text x=(middle) y=(patch.y - 10.0) text-anchor="middle" font-size="13" fill="#444" { (role) }
    }
}

/// Where somebody stands who says left and right of a single patch.
fn standing(patch: Area) -> Markup {
    let x = patch.x + patch.width + 30.0;
    let y = patch.y + patch.height;
    html! {
        text x=(x) y=(y - 6.0) font-size="13" fill="#444" { "you come from below," }
        text x=(x) y=(y + 11.0) font-size="13" fill="#444" { "by the way you reach it" }
        path d={ "M" (x - 14.0) " " (y + 12.0) "v-44m-6 9l6 -9l6 9" } stroke="#444" stroke-width="2" fill="none" {}
    }
}
