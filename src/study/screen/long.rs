//! Long lists: surfaces fitted to some sites, tested on others, and direct simulation where a verdict hangs on their error.

use super::features::extremes;
use super::figures::{Figures, Origin, PairFigures, figures};
use super::fit::{Anchor, Fitted, Misfit};
use super::grounds::{Grounds, Setup};
use super::pooled::{Job, Pooled, Ranged, simulated};
use super::verdict::{Thresholds, do_strays_decide, judged};
use super::{ScreenQuestion, direct, pools_of, seasons_at};
use crate::random::{Key, Purpose};
use crate::runner::Runner;
use crate::study::StudyError;
use std::collections::{BTreeMap, BTreeSet};

/// Pairs that are simulated for the surfaces, held-out ones included.
const PAIRS: usize = 320;
/// Single patches that are simulated besides.
const SINGLES: usize = 40;
/// One in so many is held out to test the surfaces.
const HELD_OUT: usize = 6;
/// Seasons of a site to which surfaces are fitted, as a part of those of a site that is simulated for itself.
const PART_OF_FIT: f64 = 0.3;
/// Fewest pairs to which surfaces with forty features can be fitted.
const FEWEST_PAIRS: usize = 100;
/// Fewest strays of a held-out site from which the logarithm of their odds can be judged.
const FEWEST_STRAYS: f64 = 5.0;

/// A held-out site: simulated, and read off surfaces that know nothing of it.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldOut {
    /// Index of the site.
    pub site: usize,
    /// Largest stray share, simulated.
    pub simulated: Option<Ranged>,
    /// The same share (of the same patch under the same assignment) off the surface.
    pub fitted: Option<Ranged>,
    /// Whether both give the same verdict, permission aside.
    pub verdicts_agree: bool,
}

/// What is known of the surfaces.
#[derive(Debug, Clone, PartialEq)]
pub struct SurfaceReport {
    /// Indices of the sites to which they were fitted.
    pub anchors: Vec<usize>,
    /// Sites held out.
    pub held_out: Vec<HeldOut>,
    /// What the surfaces miss beyond the errors stated.
    pub misfit: Misfit,
    /// Sites that were simulated for themselves because the surfaces leave their verdict open, or do not reach them.
    pub simulated_after: usize,
}

impl SurfaceReport {
    /// Median and largest difference between surface and simulation in the largest stray share of held-out pairs.
    #[must_use]
    pub fn differences(&self) -> Option<(f64, f64)> {
        let mut all: Vec<f64> = self
            .held_out
            .iter()
            .filter_map(|site| Some((site.simulated?.value - site.fitted?.value).abs()))
            .collect();
        all.sort_by(f64::total_cmp);
        Some((*all.get(all.len() / 2)?, *all.last()?))
    }

    /// Held-out sites on whose verdict both agree, and held-out sites.
    #[must_use]
    pub fn agreement(&self) -> (usize, usize) {
        let agree = self.held_out.iter().filter(|site| site.verdicts_agree);
        (agree.count(), self.held_out.len())
    }
}

/// What a long list is answered with.
pub(super) struct Long {
    pub figures: Vec<Figures>,
    pub report: SurfaceReport,
    /// Surfaces, and the widest gap that they know, metres.
    pub fitted: (Fitted, f64),
}

/// Whether a list has enough sites to fit surfaces.
pub(super) fn is_enough(grounds: &Grounds) -> bool {
    let pairs = grounds.sites.iter().filter(|site| site.gap_m.is_some());
    pairs.count() >= FEWEST_PAIRS
}

/// Sites in an order that has nothing to do with the list's, of those with a gap or of those without.
fn shuffled(grounds: &Grounds, with_gap: bool, runner: &Runner<'_>) -> Vec<usize> {
    let root = Key::apart(runner.seed, Purpose::Screening);
    let mut sites: Vec<usize> = (0..grounds.sites.len())
        .filter(|site| grounds.sites[*site].gap_m.is_some() == with_gap)
        .filter(|site| !grounds.has_corners(*site))
        .collect();
    sites.sort_by_key(|site| (grounds.key(*site, root).seed(), *site));
    sites
}

/// Sites to simulate for the surfaces, and those among them that are held out.
fn chosen(grounds: &Grounds, runner: &Runner<'_>) -> (Vec<usize>, BTreeSet<usize>) {
    let (mut sites, mut held_out) = (Vec::new(), BTreeSet::new());
    for (with_gap, most) in [(true, PAIRS), (false, SINGLES)] {
        let all = shuffled(grounds, with_gap, runner);
        let ends = extremes(grounds, &all);
        let others = all.into_iter().filter(|site| !ends.contains(site));
        for (at, site) in others.take(most).enumerate() {
            sites.push(site);
            if at % HELD_OUT == HELD_OUT - 1 {
                held_out.insert(site);
            }
        }
        sites.extend(ends);
    }
    (sites, held_out)
}

pub(super) fn answered(
    grounds: &Grounds,
    thresholds: &Thresholds,
    question: &ScreenQuestion,
    runner: &Runner<'_>,
) -> Result<Long, StudyError> {
    let (sites, held_out_sites) = chosen(grounds, runner);
    let asked: BTreeMap<usize, u64> = sites
        .iter()
        .map(|site| {
            let part = if held_out_sites.contains(site) {
                1.0
            } else {
                PART_OF_FIT
            };
            (*site, (question.seasons as f64 * part).ceil() as u64)
        })
        .collect();
    let seasons = |site: usize| seasons_at(grounds, site, asked[&site]);
    let pools = pools_of(grounds, &sites, seasons, runner)?;
    let (mut anchors, mut tests) = (Vec::new(), Vec::new());
    for (site, pools) in sites.into_iter().zip(pools) {
        let into = if held_out_sites.contains(&site) {
            &mut tests
        } else {
            &mut anchors
        };
        into.push(Anchor { site, pools });
    }
    let mut fitted = Fitted::to(grounds, &anchors)?;
    fitted.misfit = misfit(grounds, &fitted, &tests);
    let widest_m = anchors
        .iter()
        .filter_map(|anchor| grounds.gap_m(anchor.site))
        .fold(0.0, f64::max);
    let mut all: Vec<Figures> = (0..grounds.sites.len())
        .map(|site| read_off(grounds, &fitted, site))
        .collect();
    let held_out = tests
        .iter()
        .filter_map(|test| held_out(grounds, test, &mut all, thresholds))
        .collect();
    let open = left_open(grounds, &fitted, &tests, &all, thresholds);
    for (site, figures) in
        open.beyond
            .iter()
            .zip(direct(grounds, &open.beyond, question.seasons, runner)?)
    {
        all[*site] = figures;
    }
    let strays = stray_shares(grounds, &open.by_strays, question.seasons, runner)?;
    for (site, strays) in open.by_strays.iter().zip(strays) {
        if let Some(pair) = &mut all[*site].pair {
            pair.strays = strays;
            pair.origin = Origin::Simulated;
        }
    }
    Ok(Long {
        figures: all,
        report: SurfaceReport {
            anchors: anchors.iter().map(|anchor| anchor.site).collect(),
            held_out,
            misfit: fitted.misfit,
            simulated_after: open.beyond.len() + open.by_strays.len(),
        },
        fitted: (fitted, widest_m),
    })
}

fn read_off(grounds: &Grounds, fitted: &Fitted, site: usize) -> Figures {
    let pair = match grounds.gap_m(site) {
        Some(_) => fitted.pair(grounds, site),
        None => None,
    };
    Figures {
        pair,
        halves: fitted.halves(grounds, site),
    }
}

/// Compares what the surfaces say of a held-out site with its simulation, which then takes their place.
fn held_out(
    grounds: &Grounds,
    test: &Anchor,
    all: &mut [Figures],
    thresholds: &Thresholds,
) -> Option<HeldOut> {
    let site = test.site;
    let own = figures(grounds, site, &test.pools)?;
    let read = std::mem::replace(&mut all[site], own.clone());
    let worst = own.pair.as_ref().map(PairFigures::worst);
    let fitted =
        worst.and_then(|worst| Some(read.pair.as_ref()?.strays[worst.treated][worst.patch]));
    let patches: Vec<_> = (0..grounds.sites[site].patches.len())
        .map(|patch| grounds.patch(site, patch))
        .collect();
    let permission = grounds.sites[site].permission;
    let use_by = |figures: &Figures| judged(&patches, permission, figures, thresholds).if_permitted;
    Some(HeldOut {
        site,
        simulated: worst.map(|worst| worst.share),
        fitted,
        verdicts_agree: use_by(&own) == use_by(&read),
    })
}

/// Sites that the surfaces leave open.
struct Open {
    /// Beyond the reach of the surfaces.
    beyond: Vec<usize>,
    /// Whose stray share lies within the surface's error of the tolerated one, and decides. Counts, false ratios and
    /// drift are left to the surfaces: pooled over all anchors they are known better than from one site's seasons.
    by_strays: Vec<usize>,
}

fn left_open(
    grounds: &Grounds,
    fitted: &Fitted,
    tests: &[Anchor],
    all: &[Figures],
    thresholds: &Thresholds,
) -> Open {
    let mut open = Open {
        beyond: Vec::new(),
        by_strays: Vec::new(),
    };
    let known: BTreeSet<usize> = tests.iter().map(|test| test.site).collect();
    for (site, figures) in all.iter().enumerate() {
        if known.contains(&site) {
            continue;
        }
        let patches: Vec<_> = (0..grounds.sites[site].patches.len())
            .map(|patch| grounds.patch(site, patch))
            .collect();
        if !fitted.covers(grounds, site) {
            open.beyond.push(site);
        } else if do_strays_decide(&patches, figures.pair.as_ref(), thresholds) {
            open.by_strays.push(site);
        }
    }
    open
}

/// Stray shares of some pairs, simulated with each patch treated in turn.
fn stray_shares(
    grounds: &Grounds,
    sites: &[usize],
    seasons: u64,
    runner: &Runner<'_>,
) -> Result<Vec<[[Ranged; 2]; 2]>, StudyError> {
    let jobs: Vec<Job> = sites
        .iter()
        .flat_map(|site| {
            [0, 1].map(|treated| Job {
                site: *site,
                setup: Setup::Treated(treated),
                seasons: seasons_at(grounds, *site, seasons),
            })
        })
        .collect();
    let total: u64 = jobs.iter().map(|job| job.seasons).sum();
    runner.watch.begin("sites left open", total);
    let pools = simulated(grounds, &jobs, runner);
    runner.watch.end();
    Ok(pools?
        .chunks(2)
        .map(|pair| PairFigures::stray_shares([&pair[0], &pair[1]]))
        .collect())
}

/// Variance that differences show beyond the variances stated for them, as an SD. It is known from few sites, so it is
/// taken one standard error above what they show.
fn beyond(differences: &[(f64, f64)]) -> f64 {
    let n = differences.len() as f64;
    if n < 2.0 {
        return 0.0;
    }
    let over = |(difference, stated): &(f64, f64)| difference * difference - stated;
    let mean = differences.iter().map(over).sum::<f64>() / n;
    let square: f64 = differences
        .iter()
        .map(|one| (over(one) - mean).powi(2))
        .sum();
    let error = (square / (n - 1.0) / n).sqrt();
    (mean + error).max(0.0).sqrt()
}

/// What the surfaces miss at held-out sites.
fn misfit(grounds: &Grounds, fitted: &Fitted, tests: &[Anchor]) -> Misfit {
    let (mut strays, mut ratios, mut counts) = (Vec::new(), Vec::new(), Vec::new());
    let (mut drifts, mut halves_counts) = (Vec::new(), Vec::new());
    let plain = Fitted {
        misfit: Misfit::default(),
        ..fitted.clone()
    };
    for test in tests {
        let site = test.site;
        if let (Some((treated, uncut)), Some(surfaces)) = (test.pair(), fitted.pair.as_ref()) {
            for (which, pool) in treated.iter().enumerate() {
                for role in [0, 1] {
                    let patch = if role == 0 { which } else { 1 - which };
                    let read = fitted.log_strays(surfaces, grounds, site, (patch, role));
                    strays.extend(stray_difference(pool, role, read));
                }
            }
            if let Some(figures) = plain.pair(grounds, site) {
                let own = PairFigures::of(grounds, site, treated, uncut);
                ratios.push(log_difference(own.standing_ratio, figures.standing_ratio));
                counts.push(log_difference(own.counted, figures.counted));
            }
        }
        if let Some(pool) = test.halves() {
            let read = plain.halves(grounds, site);
            let log = (read.drift.value / (1.0 - read.drift.value)).ln();
            let error = log_error(odds(read.drift));
            drifts.extend(stray_difference(pool, 0, (log, error)));
            halves_counts.push(log_difference(pool.counted_a_season(), read.counted));
        }
    }
    let finite = |differences: Vec<(f64, f64)>| {
        let sound =
            |(difference, variance): &(f64, f64)| difference.is_finite() && variance.is_finite();
        beyond(&differences.into_iter().filter(sound).collect::<Vec<_>>())
    };
    Misfit {
        strays: finite(strays),
        false_ratio: finite(ratios),
        counted: finite(counts),
        drift: finite(drifts),
        halves_counted: finite(halves_counts),
    }
}

/// Difference of log odds with its stated variance, where enough strays tell it.
fn stray_difference(pool: &Pooled, part: usize, (log, error): (f64, f64)) -> Option<(f64, f64)> {
    if pool.strayed(part) < FEWEST_STRAYS {
        return None;
    }
    let (own, own_error) = pool.log_stray_odds(part)?;
    Some((own - log, own_error * own_error + error * error))
}

fn odds(share: Ranged) -> Ranged {
    let odds = |share: f64| share / (1.0 - share);
    Ranged {
        value: odds(share.value),
        low: odds(share.low),
        high: odds(share.high),
    }
}

/// Standard error of the logarithm of a positive value by its 95 % interval.
fn log_error(value: Ranged) -> f64 {
    const ENDS_APART: f64 = 2.0 * 1.96;
    (value.high / value.low).ln() / ENDS_APART
}

fn log_difference(own: Ranged, read: Ranged) -> (f64, f64) {
    let stated = log_error(own).powi(2) + log_error(read).powi(2);
    ((own.value / read.value).ln(), stated)
}
