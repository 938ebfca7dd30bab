//! Properties that hold whatever the site: random sites, the same in every run.

mod common;

use common::{BOUND_SE, NO_WALKING, each_season, plan, ratio_se};
use crawlspan::plan::Plan;
use crawlspan::season::{Fate, State};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};
use std::collections::BTreeMap;

/// Random sites in each test, and seasons of each.
const SITES: u32 = 40;
const SEASONS: u64 = 4;

fn runner() -> TestRunner {
    let config = Config {
        cases: SITES,
        failure_persistence: None,
        ..Config::default()
    };
    TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha))
}

/// Settings of a site as a designer might draw it.
fn site() -> impl Strategy<Value = Vec<(&'static str, String)>> {
    let side = prop::sample::select(vec!["Towards", "Away", "Left", "Right", "Coin"]);
    let placement = prop::sample::select(vec![
        "Regular",
        "Random",
        "Clustered(stems_per_cluster: 5, spread_m: 0.3)",
    ]);
    let outline = prop::sample::select(vec!["Rectangle", "Ellipse"]);
    (
        (0.0..12.0, 0.0..=1.0, 5u32..60, 5u32..60, 0.2..8.0),
        (side, placement, outline),
        (0.05..1.5, 0.0..0.9, 0.05..0.8, 0.02..0.4),
    )
        .prop_map(|(size, kind, ways)| {
            let (gap_m, refuge_share, treated, untouched, density) = size;
            vec![
                ("site.gap_m", format!("{gap_m:.3}")),
                ("site.refuge_share", format!("{refuge_share:.3}")),
                ("site.treated.stems", treated.to_string()),
                ("site.untouched.stems", untouched.to_string()),
                ("site.treated.density_per_m2", format!("{density:.3}")),
                ("site.cut_side", kind.0.to_owned()),
                ("site.treated.placement", kind.1.to_owned()),
                ("site.untouched.outline", kind.2.to_owned()),
                ("leaving.per_day.l5", format!("{:.3}", ways.0)),
                ("cutting.moved_share", format!("{:.3}", ways.1)),
                ("laying.eggs_per_stem_week", format!("{:.3}", ways.2)),
                ("walking.perceptual_range_m", format!("{:.3}", ways.3)),
            ]
        })
}

fn plan_of(settings: &[(&'static str, String)]) -> Plan {
    let settings: Vec<(&str, &str)> = settings
        .iter()
        .map(|(path, value)| (*path, &value[..]))
        .collect();
    plan("verge-pair", &settings)
}

#[test]
fn exact_fates_sum_to_the_eggs_of_any_site() {
    let outcome = runner().run(&site(), |settings| {
        each_season(&plan_of(&settings), 5, SEASONS, |season| {
            let mut fates: BTreeMap<Fate, usize> = BTreeMap::new();
            let mut never = 0;
            for larva in &season.larvae {
                match larva.state {
                    State::Ended(fate) => *fates.entry(fate).or_default() += 1,
                    State::NeverLaid => never += 1,
                    other => panic!("{other:?} at the end of a season"),
                }
                assert!(larva.ended_at >= larva.laid_at || larva.state == State::NeverLaid);
            }
            let ended: usize = fates.values().sum();
            assert_eq!(ended + never, season.larvae.len());
        });
        Ok(())
    });
    assert!(outcome.is_ok(), "{outcome:?}");
}

#[test]
fn exact_nobody_strays_on_any_site_without_walking() {
    let outcome = runner().run(&site(), |mut settings| {
        settings
            .retain(|(path, _)| *path != "leaving.per_day.l5" && *path != "cutting.moved_share");
        settings.extend(NO_WALKING.map(|(path, value)| (path, value.to_owned())));
        // A stem without a leaf drives its larvae away by itself.
        settings.push(("feeding.lifetime_intake_cm", "0.01".to_owned()));
        each_season(&plan_of(&settings), 7, SEASONS, |season| {
            assert_eq!(season.strides, 0);
            for sighting in &season.sightings {
                assert_eq!(sighting.stands, sighting.natal);
            }
        });
        Ok(())
    });
    assert!(outcome.is_ok(), "{outcome:?}");
}

/// Under common random numbers the stray share falls with the gap: a rise between neighbouring gaps beyond five standard
/// errors of either would be a fault of the model (false alarm below one in a million a pair).
#[test]
fn stat_stray_share_falls_with_the_gap() {
    let share = |gap_m: &str| {
        let settings = [
            ("site.gap_m", gap_m),
            ("site.treated.stems", "40"),
            ("site.untouched.stems", "40"),
            ("laying.eggs_per_stem_week", "0.4"),
        ];
        let mut pairs = Vec::new();
        each_season(&plan("verge-pair", &settings), 9, 400, |season| {
            let late = season
                .sightings
                .iter()
                .filter(|sighting| sighting.stage == 5);
            let (mut all, mut strays) = (0.0, 0.0);
            for sighting in late {
                all += 1.0;
                strays += f64::from(u8::from(sighting.stands.patch() != sighting.natal.patch()));
            }
            pairs.push((strays, all));
        });
        ratio_se(&pairs)
    };
    let shares = ["0.5", "2", "6", "18"].map(share);
    for pair in shares.windows(2) {
        let rise = pair[1].0 - pair[0].0;
        assert!(rise < BOUND_SE * pair[0].1.max(pair[1].1), "{shares:?}");
    }
    assert!(
        shares[0].0 > shares[3].0 + BOUND_SE * shares[0].1,
        "{shares:?}"
    );
}
