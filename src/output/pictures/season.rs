//! One season recorded and drawn as a map.

use super::super::charts::{
    self, Bounds, MapStem, PatchOutline, Rendered, SeasonMap, StemCondition, Walk, WalkEnd,
    WalkGroup, style,
};
use crate::ids::{LarvaId, StemId};
use crate::plan::Plan;
use crate::season::Season;
use crate::season::record::{RecordedWalk, Recorder};
use crate::trouble::Trouble;
use crate::walk::End;
use crate::world::Condition;

/// Map of one season: stems as they are at one survey, walks of late larvae up to the end.
///
/// # Errors
/// When the chart cannot be drawn.
pub fn season_map(
    season: &Season<'_>,
    recorder: &Recorder,
    replicate: u64,
) -> Result<Rendered, Trouble> {
    let plan = season.plan;
    let middle = plan
        .clock
        .surveys
        .get(plan.clock.surveys.len() / 2)
        .copied()
        .unwrap_or(plan.clock.cutting);
    let home = |larva: LarvaId| season.stems[season.larvae[larva].natal].half.patch();
    // Walks cut short by pupation or by the end of the season have no end to draw.
    let late: Vec<&RecordedWalk> = recorder
        .walks
        .iter()
        .filter(|walk| plan.scenario.is_late(walk.stage) && walk.end != End::Walking)
        .collect();
    let drawn = late.len().div_ceil(MOST_WALKS).max(1);
    let walks: Vec<Walk> = late
        .iter()
        .step_by(drawn)
        .map(|walk| Walk {
            points_m: walk.points_m.clone(),
            group: home(walk.larva).min(GROUPS - 1),
            end: match walk.end {
                End::Settled(_) | End::Walking => WalkEnd::OnStem,
                End::Died => WalkEnd::DiedOffPlant,
                End::Lost => WalkEnd::Lost,
            },
        })
        .collect();
    let (width, height) = plan.layout.arena_m;
    Ok(charts::season_map(&SeasonMap {
        title: title(season, &late),
        note: format!(
            "Replicate {replicate}. Stems as they stand on {}; walks of the whole season.{}",
            plan.clock.date(middle),
            if drawn > 1 {
                format!(
                    " One walk in {drawn} is drawn, {} in all, and the key counts these.",
                    walks.len()
                )
            } else {
                String::new()
            }
        ),
        arena: Bounds {
            min_x_m: 0.0,
            min_y_m: 0.0,
            max_x_m: width,
            max_y_m: height,
        },
        view: view(plan, &walks),
        patches: outlines(plan),
        stems: season
            .stems
            .iter()
            .map(|stem| MapStem {
                x_m: stem.x_m,
                y_m: stem.y_m,
                condition: condition(stem.condition_at(middle, plan.clock.cutting)),
            })
            .collect(),
        groups: groups(plan),
        walks,
    })?)
}

/// What came of the walks. In a single patch the line to watch is the one between its halves.
fn title(season: &Season<'_>, late: &[&RecordedWalk]) -> String {
    let halves = season.plan.layout.patches.len() == 1;
    let place = |stem: StemId| season.stems[stem].half;
    let strays = late
        .iter()
        .filter(|walk| {
            let natal = place(season.larvae[walk.larva].natal);
            matches!(walk.end, End::Settled(stem) if if halves {
                place(stem) != natal
            } else {
                place(stem).patch() != natal.patch()
            })
        })
        .count();
    let strays = if strays == 0 {
        "none".to_owned()
    } else {
        strays.to_string()
    };
    let elsewhere = if halves {
        "in the other half than the larva's own"
    } else {
        "on another patch than the larva's own"
    };
    format!(
        "{} walks of late-stage larvae in one season; {strays} ended {elsewhere}",
        late.len()
    )
}

/// More walks than this hide each other and the stems.
const MOST_WALKS: usize = 160;

/// Ground drawn around the patches and the walks, metres.
const AROUND_M: f64 = 2.0;
/// A part of the arena smaller than this is drawn alone: the rest of it is empty.
const SMALLER_PART: f64 = 0.8;

/// The part of the arena in which something is; `None` where that is nearly all of it.
fn view(plan: &Plan, walks: &[Walk]) -> Option<Bounds> {
    let (width, height) = plan.layout.arena_m;
    let patches = plan.layout.patches.iter().flat_map(|patch| {
        let corners = patch.shape.corners();
        let (x, y) = patch.origin_m;
        corners.into_iter().map(move |c| (c.0 + x, c.1 + y))
    });
    let places = patches.chain(walks.iter().flat_map(|walk| walk.points_m.iter().copied()));
    let mut bounds = Bounds {
        min_x_m: width,
        min_y_m: height,
        max_x_m: 0.0,
        max_y_m: 0.0,
    };
    for (x, y) in places {
        bounds.min_x_m = bounds.min_x_m.min((x - AROUND_M).max(0.0));
        bounds.min_y_m = bounds.min_y_m.min((y - AROUND_M).max(0.0));
        bounds.max_x_m = bounds.max_x_m.max((x + AROUND_M).min(width));
        bounds.max_y_m = bounds.max_y_m.max((y + AROUND_M).min(height));
    }
    let area = (bounds.max_x_m - bounds.min_x_m) * (bounds.max_y_m - bounds.min_y_m);
    (area > 0.0 && area < SMALLER_PART * width * height).then_some(bounds)
}

/// Patches that get a colour of their own on the map; the rest share the last.
const GROUPS: usize = 3;

fn marks() -> [style::Mark; GROUPS] {
    [style::TREATED, style::UNTOUCHED, style::OTHER_PATCH]
}

fn groups(plan: &Plan) -> Vec<WalkGroup> {
    plan.layout
        .patches
        .iter()
        .zip(marks())
        .map(|(patch, mark)| WalkGroup {
            label: format!("laid in the {} patch", patch.settings.name),
            mark,
        })
        .collect()
}

fn outlines(plan: &Plan) -> Vec<PatchOutline> {
    let marks = marks();
    plan.layout
        .patches
        .iter()
        .enumerate()
        .map(|(index, patch)| PatchOutline {
            label: format!("{} patch", patch.settings.name),
            mark: marks[index.min(GROUPS - 1)],
            corners_m: patch
                .shape
                .corners()
                .iter()
                .map(|c| (c.0 + patch.origin_m.0, c.1 + patch.origin_m.1))
                .collect(),
        })
        .collect()
}

pub(in super::super) fn condition(condition: Condition) -> StemCondition {
    match condition {
        Condition::Mature => StemCondition::Mature,
        Condition::Stubble => StemCondition::Stubble,
        Condition::Fresh => StemCondition::Fresh,
        Condition::EatenOut => StemCondition::EatenOut,
    }
}
