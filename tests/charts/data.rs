//! Invented data for the chart tests; no simulation behind it.

use crawlspan::output::charts::style::{
    self, CUT_HALF, REFUGE_HALF, TREATED, UNTOUCHED, series_mark,
};
use crawlspan::output::charts::*;

pub fn around(value: f64, half: f64) -> Option<Estimate> {
    Some(Estimate {
        value,
        low: (value - half).max(0.0),
        high: value + half,
    })
}

pub fn gap() -> GapChart {
    let gaps = [1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 14.0, 20.0, 28.0, 40.0];
    let line = |name: &str, mark, start: f64, reach: f64| GapLine {
        name: name.to_owned(),
        mark,
        points: gaps
            .iter()
            .map(|&gap_m| GapPoint {
                gap_m,
                share: around(start * (-gap_m / reach).exp(), 0.006 + 0.02 / gap_m),
            })
            .collect(),
    };
    GapChart {
        title: "Patches at least 9.2 m apart keep stray larvae below 5 % of the late-stage counts"
            .to_owned(),
        note: "Bands: 95 % intervals from 400 simulated seasons. Invented data.".to_owned(),
        share_label: "Stray share: late-stage larvae found outside the patch they were laid in"
            .to_owned(),
        lines: vec![
            line("treated patch", TREATED, 0.32, 5.0),
            line("untouched patch", UNTOUCHED, 0.22, 5.6),
        ],
        tolerance: Some(Tolerance {
            share: 0.05,
            name: "tolerance 5 %".to_owned(),
        }),
        clear_gap: ClearGap::Reached {
            gap_m: 9.2,
            low_m: Some(8.7),
            high_m: Some(9.8),
        },
        plausible: Some(PlausibleGap {
            low_m: Some(6.1),
            high_m: Some(14.3),
            tried_m: (0.5, 36.0),
        }),
    }
}

pub fn gap_not_reached() -> GapChart {
    let mut chart = gap();
    chart.title = "No gap up to 40 m keeps stray larvae below 1 % of the late-stage counts, so \
                   two patches on one field cannot be counted as separate sites in this study"
        .to_owned();
    chart.clear_gap = ClearGap::NotReached {
        largest_gap_m: 40.0,
    };
    chart.plausible = None;
    chart.tolerance = Some(Tolerance {
        share: 0.01,
        name: "tolerance 1 %".to_owned(),
    });
    chart.lines[1].points[4].share = None;
    chart
}

pub fn refuge() -> RefugeChart {
    let shares = [0.0, 0.1, 0.25, 0.33, 0.5, 0.67, 0.75, 1.0];
    let series = |standing, laid, mean: fn(f64) -> Option<f64>| RefugeSeries {
        standing,
        laid,
        points: shares
            .iter()
            .map(|&refuge_share| RefugePoint {
                refuge_share,
                larvae: mean(refuge_share).and_then(|mean| around(mean, 0.15 + 0.07 * mean)),
            })
            .collect(),
    };
    RefugeChart {
        title: "With half the patch left standing, every fourth late-stage larva in the refuge \
                half was laid in the cut half"
            .to_owned(),
        note: "Bands: 95 % intervals of the mean over 400 simulated seasons. Invented data."
            .to_owned(),
        count_label: "Late-stage larvae present at the surveys (mean number per season)".to_owned(),
        series: vec![
            series(Half::Refuge, NatalPlace::RefugeHalf, |s| {
                (s > 0.0).then_some(7.0 * s)
            }),
            series(Half::Refuge, NatalPlace::CutHalf, |s| {
                (s > 0.0 && s < 1.0).then_some(4.6 * s * (1.0 - s))
            }),
            series(Half::Refuge, NatalPlace::OtherPatch, |s| {
                (s > 0.0).then_some(0.3 * s)
            }),
            series(Half::Cut, NatalPlace::CutHalf, |s| {
                (s < 1.0).then_some(3.2 * (1.0 - s))
            }),
            series(Half::Cut, NatalPlace::RefugeHalf, |s| {
                (s > 0.0 && s < 1.0).then_some(1.4 * s * (1.0 - s))
            }),
            series(Half::Cut, NatalPlace::OtherPatch, |s| {
                (s < 1.0).then_some(0.25 * (1.0 - s))
            }),
        ],
    }
}

/// Numbers that look random but are the same everywhere.
struct Scatter(u64);

impl Scatter {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

fn rectangle(left: f64, bottom: f64, right: f64, top: f64) -> Vec<(f64, f64)> {
    vec![(left, bottom), (right, bottom), (right, top), (left, top)]
}

/// A patch: name, look, and its edges west, south, east and north (m).
type Patch = (&'static str, style::Mark, (f64, f64, f64, f64));

const PATCHES: [Patch; 3] = [
    (
        "treated patch: refuge half",
        REFUGE_HALF,
        (6.0, 8.0, 9.0, 14.0),
    ),
    ("treated patch: cut half", CUT_HALF, (9.0, 8.0, 12.0, 14.0)),
    ("untouched patch", UNTOUCHED, (20.0, 8.0, 26.0, 14.0)),
];

fn inside(scatter: &mut Scatter, patch: usize) -> (f64, f64) {
    let (left, bottom, right, top) = PATCHES[patch].2;
    (
        left + (right - left) * scatter.next(),
        bottom + (top - bottom) * scatter.next(),
    )
}

fn stem(scatter: &mut Scatter, patch: usize) -> MapStem {
    let (x_m, y_m) = inside(scatter, patch);
    let condition = match (patch, scatter.next()) {
        (_, draw) if draw < 0.12 => StemCondition::EatenOut,
        (1, draw) if draw < 0.4 => StemCondition::Stubble,
        (1, _) => StemCondition::Fresh,
        _ => StemCondition::Mature,
    };
    MapStem {
        x_m,
        y_m,
        condition,
    }
}

fn walk(scatter: &mut Scatter, group: usize) -> Walk {
    let (mut x, mut y) = inside(scatter, group);
    let mut heading = scatter.next() * std::f64::consts::TAU;
    let mut points_m = vec![(x, y)];
    for _ in 0..(5 + (scatter.next() * 60.0) as usize) {
        heading += (scatter.next() - 0.5) * 2.2;
        x += heading.cos() * 0.3;
        y += heading.sin() * 0.3;
        points_m.push((x, y));
    }
    let end = match scatter.next() {
        draw if draw < 0.6 => WalkEnd::OnStem,
        draw if draw < 0.85 => WalkEnd::DiedOffPlant,
        _ => WalkEnd::Lost,
    };
    Walk {
        points_m,
        group,
        end,
    }
}

pub fn map(stems: usize, walks: usize) -> SeasonMap {
    let mut scatter = Scatter(7);
    let stems = (0..stems)
        .map(|number| stem(&mut scatter, number % 3))
        .collect();
    let walks = (0..walks)
        .map(|number| walk(&mut scatter, number % 3))
        .collect();
    SeasonMap {
        title: "Most late-stage larvae stay within two metres of the stem they were laid on; a \
                few cross from the cut half to the refuge half"
            .to_owned(),
        note: "Season 17 of 400, seed 20. Invented data.".to_owned(),
        arena: Bounds {
            min_x_m: 0.0,
            min_y_m: 0.0,
            max_x_m: 32.0,
            max_y_m: 22.0,
        },
        view: None,
        patches: PATCHES
            .iter()
            .map(|(label, mark, (left, bottom, right, top))| PatchOutline {
                label: (*label).to_owned(),
                mark: *mark,
                corners_m: rectangle(*left, *bottom, *right, *top),
            })
            .collect(),
        stems,
        groups: vec![
            WalkGroup {
                label: "laid in the refuge half".to_owned(),
                mark: REFUGE_HALF,
            },
            WalkGroup {
                label: "laid in the cut half".to_owned(),
                mark: CUT_HALF,
            },
            WalkGroup {
                label: "laid in the untouched patch".to_owned(),
                mark: UNTOUCHED,
            },
        ],
        walks,
    }
}

pub fn curve() -> CurveChart {
    let names = [
        "10 sites",
        "20 sites",
        "30 sites, half of them with two patches each",
        "40 sites",
    ];
    CurveChart {
        title: "Twenty sites find a drop of a third four times out of five".to_owned(),
        note: "Bands: 95 % intervals from 1000 simulated studies per point. Invented data."
            .to_owned(),
        x_label: "True drop in late-stage larvae on treated patches (%)".to_owned(),
        y_label: "Power: studies that find the drop (%)".to_owned(),
        series: names
            .iter()
            .enumerate()
            .map(|(index, name)| CurveSeries {
                name: (*name).to_owned(),
                mark: series_mark(index, names.len()),
                points: (0..=12)
                    .map(|step| {
                        let x = f64::from(step) * 5.0;
                        let steep = 0.0005 * (index + 1) as f64;
                        let power = 5.0 + 95.0 * (1.0 - (-steep * x * x).exp());
                        CurvePoint {
                            x,
                            y: around(power, 3.0),
                        }
                    })
                    .collect(),
            })
            .collect(),
        thresholds: vec![Threshold {
            value: 80.0,
            name: "wanted power 80 %".to_owned(),
        }],
        crossings: vec![],
        across: Across::Numbers,
        upward: Upward::Amounts,
        strokes: false,
    }
}

pub fn net_yield() -> YieldChart {
    YieldChart {
        title: "Cutting pays off once fresh stems draw 1.8 times as many eggs as mature ones"
            .to_owned(),
        note: "Band: 95 % interval from 400 simulated seasons. Invented data.".to_owned(),
        compared: "treated over untouched patch".to_owned(),
        points: (0..=9)
            .map(|step| {
                let x = 0.5 + f64::from(step) * 0.5;
                CurvePoint {
                    x,
                    y: around(0.52 + 0.27 * x, 0.05 + 0.02 * x),
                }
            })
            .collect(),
        break_even: Some(Crossing {
            value: 1.78,
            low: Some(1.42),
            high: Some(2.3),
            name: "break-even".to_owned(),
        }),
    }
}
