//! Moments of recorded seasons as pictures: four stills for slides, and the frames of the moving picture.

use super::super::charts::{
    Bounds, Days, MapStem, PatchOutline, Rendered, TeachingAnimal, TeachingChart, TeachingPanel,
    WalkGroup, style, teaching_chart, teaching_frame,
};
use super::super::pictures::condition;
use super::super::text::{length, percent};
use super::moving::{Frame, moving_picture};
use crate::season::Fate;
use crate::study::lesson::{Lesson, Take};
use crate::trouble::{Outcome, Trouble};
use crate::world::HalfId;
use rayon::prelude::*;

/// Ground drawn around the patches, metres: as far as a person would look for a stray.
const SURROUND_M: f64 = 3.0;
/// How far back trails are drawn, hours.
const TRAIL_H: f64 = 24.0;
/// Time between frames of the moving picture, hours.
const FRAME_H: f64 = 12.0;
/// How long a frame is shown, hundredths of a second; and the last one.
const FRAME_CS: u16 = 12;
const LAST_FRAME_CS: u16 = 400;
/// The moving picture begins so long before the cutting and ends so long after the last count, hours.
const BEFORE_H: f64 = 48.0;
const AFTER_H: f64 = 24.0;

/// What is compared with what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Compared {
    Patches,
    Halves,
}

/// The two places that are compared: name, look, and which halves belong to it.
struct Place {
    name: &'static str,
    mark: style::Mark,
    halves: fn(HalfId) -> bool,
}

impl Compared {
    fn places(self) -> [Place; 2] {
        match self {
            Self::Patches => [
                Place {
                    name: "treated patch",
                    mark: style::TREATED,
                    halves: |half| half.patch() == 0,
                },
                Place {
                    name: "untouched patch",
                    mark: style::UNTOUCHED,
                    halves: |half| half.patch() == 1,
                },
            ],
            Self::Halves => [
                Place {
                    name: "cut half",
                    mark: style::CUT_HALF,
                    halves: |half| half == HalfId::new(0, true),
                },
                Place {
                    name: "refuge half",
                    mark: style::REFUGE_HALF,
                    halves: |half| half == HalfId::new(0, false),
                },
            ],
        }
    }
}

/// A still with its file name.
pub struct Still {
    /// Name without ending.
    pub name: &'static str,
    /// The picture.
    pub picture: Rendered,
}

/// Four stills at the last count day: near pair, far pair, halves of one patch, no refuge.
///
/// # Errors
/// When a picture cannot be drawn.
pub fn stills(lesson: &Lesson) -> Outcome<Vec<Still>> {
    let question = &lesson.question;
    let (near, far) = (0, question.gaps_m.len() - 1);
    let half = halved(lesson);
    let surveys = &lesson.plan.clock.surveys;
    let last = surveys.last().copied().unwrap_or_default();
    let still = |name, (gap, share), compared: Compared, title: &dyn Fn(&Take) -> String| {
        let take = find(lesson, gap, share)?;
        let chart = TeachingChart {
            title: title(take),
            note: note(lesson, take),
            panels: vec![panel(lesson, take, last, compared)],
            groups: groups(compared),
            stray_label: stray_label(compared),
            days: days(lesson, last),
        };
        Ok::<Still, Trouble>(Still {
            name,
            picture: teaching_chart(&chart)?,
        })
    };
    let apart = |take: &Take| {
        let (counted, elsewhere) = counted(lesson, take, last, Compared::Patches)[1];
        format!(
            "{} apart: of {counted} late-stage larvae counted on the untouched patch {elsewhere} hatched on the treated one",
            length(question.gaps_m[take.gap]).replace(' ', "\u{a0}")
        )
    };
    Ok(vec![
        still("lesson-near-pair", (near, half), Compared::Patches, &apart)?,
        still("lesson-far-pair", (far, half), Compared::Patches, &apart)?,
        still("lesson-halves", (far, half), Compared::Halves, &|take| {
            let (counted, elsewhere) = counted(lesson, take, last, Compared::Halves)[1];
            format!(
                "Halves of one patch: of {counted} late-stage larvae counted in the refuge half {elsewhere} hatched in the cut half"
            )
        })?,
        still("lesson-no-refuge", (far, 0), Compared::Patches, &|take| {
            let with_refuge = find(lesson, far, half).map_or(0, destroyed);
            format!(
                "No refuge: the cutting destroyed {} eggs and larvae of the patch; with {} left as refuge it destroyed {with_refuge}",
                destroyed(take),
                percent(question.shares[half]).replace(' ', "\u{a0}")
            )
        })?,
    ])
}

/// The moving picture: the nearest and the farthest pair in the same season, one below the other.
///
/// # Errors
/// When a frame cannot be drawn or the picture cannot be packed.
pub fn animation(lesson: &Lesson) -> Outcome<Vec<u8>> {
    let clock = &lesson.plan.clock;
    let half = halved(lesson);
    let takes = [
        find(lesson, 0, half)?,
        find(lesson, lesson.question.gaps_m.len() - 1, half)?,
    ];
    let from = (clock.cutting - BEFORE_H / clock.tick_h).max(0.0);
    let last = clock.surveys.last().copied().unwrap_or(clock.cutting);
    let until = (last + AFTER_H / clock.tick_h).min(clock.ticks as f64);
    let step = FRAME_H / clock.tick_h;
    let count = ((until - from) / step).floor() as u32;
    let frames = (0..=count)
        .into_par_iter()
        .map(|index| {
            let time = from + f64::from(index) * step;
            let chart = TeachingChart {
                title: "The same two patches, near and far apart: whose larvae are counted?"
                    .to_owned(),
                note: note(lesson, takes[0]),
                panels: takes
                    .iter()
                    .map(|take| TeachingPanel {
                        heading: format!("{} apart", length(lesson.question.gaps_m[take.gap])),
                        ..panel(lesson, take, time, Compared::Patches)
                    })
                    .collect(),
                groups: groups(Compared::Patches),
                stray_label: stray_label(Compared::Patches),
                days: days(lesson, time),
            };
            let (width, height, pixels) = teaching_frame(&chart)?;
            Ok(Frame {
                width,
                height,
                pixels,
                shown_cs: if index == count {
                    LAST_FRAME_CS
                } else {
                    FRAME_CS
                },
            })
        })
        .collect::<Outcome<Vec<Frame>>>()?;
    moving_picture(&frames)
}

/// Index of the refuge share nearest to one half.
fn halved(lesson: &Lesson) -> usize {
    let shares = &lesson.question.shares;
    (0..shares.len())
        .min_by(|a, b| {
            (shares[*a] - 0.5)
                .abs()
                .total_cmp(&(shares[*b] - 0.5).abs())
        })
        .unwrap_or_default()
}

fn find(lesson: &Lesson, gap: usize, share: usize) -> Outcome<&Take> {
    lesson
        .takes
        .iter()
        .find(|take| take.gap == gap && take.share == share && take.side == 0 && take.season == 0)
        .ok_or_else(|| Trouble::new("a season of the lesson was not recorded"))
}

fn destroyed(take: &Take) -> usize {
    let destroyed = |life: &&crate::study::lesson::Life| life.fate == Fate::Destroyed;
    take.lives.iter().filter(destroyed).count()
}

/// Counted by a time in each place, and how many of those were laid elsewhere.
fn counted(lesson: &Lesson, take: &Take, time: f64, compared: Compared) -> [(u64, u64); 2] {
    let surveys = &lesson.plan.clock.surveys;
    let tally = take.tally(surveys.partition_point(|survey| *survey <= time));
    compared.places().map(|place| {
        let all = tally.of(place.halves, |_| true);
        (all, all - tally.of(place.halves, place.halves))
    })
}

fn groups(compared: Compared) -> Vec<WalkGroup> {
    let mut groups: Vec<WalkGroup> = compared
        .places()
        .iter()
        .map(|place| WalkGroup {
            label: format!("from the {}", place.name),
            mark: place.mark,
        })
        .collect();
    if compared == Compared::Halves {
        groups.push(WalkGroup {
            label: "from the other patch".to_owned(),
            mark: style::OTHER_PATCH,
        });
    }
    groups
}

fn stray_label(compared: Compared) -> String {
    match compared {
        Compared::Patches => "late stage, not on its own patch",
        Compared::Halves => "late stage, not in its own half",
    }
    .to_owned()
}

fn note(lesson: &Lesson, take: &Take) -> String {
    format!(
        "One simulated season of the scenario {}, replicate {}; large signs: late stage, small signs: eggs and young larvae; trails of the last day. Other seasons differ.",
        lesson.plan.scenario.name, take.season
    )
}

fn days(lesson: &Lesson, time: f64) -> Days {
    let clock = &lesson.plan.clock;
    let share = |time: f64| time / clock.ticks as f64;
    Days {
        now: share(time),
        cutting: share(clock.cutting),
        counts: clock.surveys.iter().map(|time| share(*time)).collect(),
        date: clock.date(time).strftime("%-d %B %Y").to_string(),
    }
}

fn panel(lesson: &Lesson, take: &Take, time: f64, compared: Compared) -> TeachingPanel {
    let places = compared.places();
    let counts = counted(lesson, take, time, compared);
    let lines = [0, 1].map(|index| {
        let (all, elsewhere) = counts[index];
        let words = format!(
            "{}: late-stage larvae counted so far {all}, from elsewhere {elsewhere}",
            places[index].name
        );
        (index, words)
    });
    let seen = |half: HalfId| places.iter().position(|place| (place.halves)(half));
    let clock = &lesson.plan.clock;
    let late_from = lesson.plan.scenario.late_from;
    // Of a pair only the treated patch is drawn when its halves are compared.
    let drawn = match compared {
        Compared::Patches => &take.patches_m[..],
        Compared::Halves => &take.patches_m[..1],
    };
    let other = places.len();
    TeachingPanel {
        heading: String::new(),
        view: around(drawn),
        patches: outlines(take, drawn, &places, compared),
        stems: take
            .stems
            .iter()
            .map(|stem| MapStem {
                x_m: stem.x_m,
                y_m: stem.y_m,
                condition: condition(stem.condition_at(time, clock.cutting)),
            })
            .filter(|stem| inside(&around(drawn), (stem.x_m, stem.y_m)))
            .collect(),
        animals: take
            .animals(time)
            .into_iter()
            .filter(|animal| inside(&around(drawn), animal.at_m))
            .map(|animal| {
                let laid = seen(take.half(take.lives[animal.life].natal));
                let late = animal.stage >= late_from;
                let stands = animal.stem.and_then(|stem| seen(take.half(stem)));
                TeachingAnimal {
                    at_m: animal.at_m,
                    group: laid.unwrap_or(other),
                    late,
                    stray: late && stands.is_some() && stands != laid,
                }
            })
            .collect(),
        trails: take
            .trails(time - TRAIL_H / clock.tick_h, time, late_from)
            .into_iter()
            .map(|(life, points)| {
                let laid = seen(take.half(take.lives[life].natal));
                (points, laid.unwrap_or(other))
            })
            .filter(|(_, group)| *group < other)
            .collect(),
        counts: lines.to_vec(),
    }
}

fn inside(view: &Bounds, (x, y): (f64, f64)) -> bool {
    (view.min_x_m..=view.max_x_m).contains(&x) && (view.min_y_m..=view.max_y_m).contains(&y)
}

fn around(patches: &[(f64, f64, f64, f64)]) -> Bounds {
    let edge = |pick: fn(&(f64, f64, f64, f64)) -> f64, worst: fn(f64, f64) -> f64| {
        patches.iter().map(pick).reduce(worst).unwrap_or_default()
    };
    Bounds {
        min_x_m: edge(|patch| patch.0, f64::min) - SURROUND_M,
        min_y_m: edge(|patch| patch.1, f64::min) - SURROUND_M,
        max_x_m: edge(|patch| patch.2, f64::max) + SURROUND_M,
        max_y_m: edge(|patch| patch.3, f64::max) + SURROUND_M,
    }
}

/// Boxes around the stems of each place, so that halves are drawn as they fell.
fn outlines(
    take: &Take,
    drawn: &[(f64, f64, f64, f64)],
    places: &[Place; 2],
    compared: Compared,
) -> Vec<PatchOutline> {
    let rectangle = |(left, bottom, right, top): (f64, f64, f64, f64)| {
        vec![(left, bottom), (right, bottom), (right, top), (left, top)]
    };
    let of = |place: &Place, bounds| PatchOutline {
        label: place.name.to_owned(),
        mark: place.mark,
        corners_m: rectangle(bounds),
    };
    if compared == Compared::Patches {
        return places
            .iter()
            .zip(drawn)
            .map(|(place, bounds)| of(place, *bounds))
            .collect();
    }
    places
        .iter()
        .filter_map(|place| {
            let own = take.stems.iter().filter(|stem| (place.halves)(stem.half));
            own.map(|stem| (stem.x_m, stem.y_m, stem.x_m, stem.y_m))
                .reduce(|a, b| (a.0.min(b.0), a.1.min(b.1), a.2.max(b.2), a.3.max(b.3)))
                .map(|bounds| of(place, bounds))
        })
        .collect()
}
