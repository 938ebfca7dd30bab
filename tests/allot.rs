//! The draw of treated patches and cut halves: even, fair, independent of the order of the list, on record.

use crawlspan::scenario::Scenario;
use crawlspan::study::allot::{
    Allotment, Arms, Cut, SiteList, allot, coin_text, read_list, ticket_text,
};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Output};
use tempfile::TempDir;

const WITHIN: [&str; 1] = ["size"];

fn read(text: &str) -> SiteList {
    let within = WITHIN.map(str::to_owned);
    read_list(
        "sites.csv",
        &within,
        ("sites.csv".to_owned(), text.as_bytes().to_vec()),
    )
    .unwrap()
}

/// A list of so many sites of each size, all pairs, and single patches besides.
fn text_of(large: usize, small: usize, single: usize) -> String {
    let mut text = "site,use,size\n".to_owned();
    for (count, size, used_as) in [
        (large, "large", "pair"),
        (small, "small", "pair"),
        (single, "large", "one_patch"),
    ] {
        for number in 0..count {
            text += &format!("{used_as} {size} {number},{used_as},{size}\n");
        }
    }
    text
}

fn arms() -> Arms {
    // Read once: thousands of draws ask for them.
    static ARMS: std::sync::OnceLock<Arms> = std::sync::OnceLock::new();
    ARMS.get_or_init(|| Arms::of(&Scenario::open("verge-pair").unwrap()))
        .clone()
}

/// Counts of sites by stratum and something about their arm.
fn counts<K: Ord>(drawn: &Allotment, of: impl Fn(usize, Cut) -> K) -> BTreeMap<(String, K), usize> {
    let mut counts = BTreeMap::new();
    for site in &drawn.sites {
        let key = (site.stratum.clone(), of(site.arm.treated, site.arm.cut));
        *counts.entry(key).or_insert(0) += 1;
    }
    counts
}

/// Whether all counts of a stratum, none of `kinds` missing, differ by one at most.
fn is_even<K: Ord>(counts: &BTreeMap<(String, K), usize>, stratum: &str, kinds: usize) -> bool {
    let mut of: Vec<usize> = counts
        .iter()
        .filter(|((label, _), _)| label == stratum)
        .map(|(_, n)| *n)
        .collect();
    of.resize(of.len().max(kinds), 0);
    of.iter().max().unwrap() - of.iter().min().unwrap() <= 1
}

#[test]
fn exact_patches_halves_and_both_together_are_even_in_every_stratum() {
    for (large, small, single) in [(1, 2, 1), (3, 4, 2), (5, 6, 3), (7, 9, 11), (40, 13, 7)] {
        let list = read(&text_of(large, small, single));
        for seed in 0..40 {
            let drawn = allot(&list, &arms(), seed);
            assert_eq!(drawn.sites.len(), large + small + single);
            for stratum in &drawn.strata {
                let label = &stratum.label;
                let (patches, halves) = if label.starts_with("pair") {
                    (2, 4)
                } else {
                    (1, 2)
                };
                assert!(
                    is_even(&counts(&drawn, |patch, _| patch), label, patches),
                    "{label}"
                );
                assert!(is_even(&counts(&drawn, |_, cut| cut), label, 2), "{label}");
                assert!(
                    is_even(&counts(&drawn, |patch, cut| (patch, cut)), label, halves),
                    "{label}"
                );
            }
        }
    }
}

#[test]
fn exact_a_sampler_that_tosses_for_each_site_is_seen_to_be_uneven() {
    // What this test's own bounds would let through: a coin for each of 40 sites is even to one in a quarter of draws.
    let list = read(&text_of(40, 0, 0));
    let uneven = (0..40)
        .filter(|seed| {
            let mut drawn = allot(&list, &arms(), *seed);
            for site in &mut drawn.sites {
                site.arm.treated = usize::from(site.ticket.as_bytes()[0].is_multiple_of(2));
            }
            !is_even(&counts(&drawn, |patch, _| patch), "pair; size=large", 2)
        })
        .count();
    assert!(uneven > 0);
}

#[test]
fn stat_every_site_gets_every_arm_with_the_same_chance() {
    // For each number of sites, so that every kind of remainder occurs. Under theory a site's arm is uniform over four
    // and draws are independent: each count is binomial, and lies within five standard errors of its mean.
    const SEEDS: u64 = 4_000;
    for sites in [1, 2, 3, 4, 5, 6, 7] {
        let list = read(&text_of(sites, 0, 0));
        let mut found: BTreeMap<(String, usize, Cut), u64> = BTreeMap::new();
        for seed in 0..SEEDS {
            for site in allot(&list, &arms(), seed).sites {
                *found
                    .entry((site.name, site.arm.treated, site.arm.cut))
                    .or_insert(0) += 1;
            }
        }
        assert_eq!(found.len(), 4 * sites);
        let mean = SEEDS as f64 / 4.0;
        let se = (SEEDS as f64 * 0.25 * 0.75).sqrt();
        for (arm, count) in found {
            let off = (count as f64 - mean) / se;
            assert!(
                off.abs() < 5.0,
                "{sites} sites, {arm:?}: {count}, {off:.1} SE"
            );
        }
    }
}

#[test]
fn stat_two_sites_share_an_arm_as_often_as_theory_says() {
    // Eight sites, two an arm: a given pair of sites shares its arm with chance 1/7, whatever their names.
    const SEEDS: u64 = 7_000;
    let list = read(&text_of(8, 0, 0));
    let mut together = [0u64; 7];
    for seed in 0..SEEDS {
        let drawn = allot(&list, &arms(), seed);
        for (other, count) in together.iter_mut().enumerate() {
            *count += u64::from(drawn.sites[0].arm == drawn.sites[other + 1].arm);
        }
    }
    let share = 1.0 / 7.0;
    let se = (SEEDS as f64 * share * (1.0 - share)).sqrt();
    for count in together {
        let off = (count as f64 - SEEDS as f64 * share) / se;
        assert!(off.abs() < 5.0, "{together:?}");
    }
}

#[test]
fn exact_the_order_of_the_list_does_not_matter() {
    let text = text_of(7, 6, 5);
    let (header, rows) = text.split_once('\n').unwrap();
    let mut rows: Vec<&str> = rows.lines().collect();
    let drawn = |rows: &[&str]| {
        allot(
            &read(&format!("{header}\n{}\n", rows.join("\n"))),
            &arms(),
            77,
        )
    };
    let arms_of = |drawn: &Allotment| -> Vec<_> {
        drawn
            .sites
            .iter()
            .map(|site| (site.name.clone(), site.arm, site.place))
            .collect()
    };
    let wanted = arms_of(&drawn(&rows));
    rows.reverse();
    assert_eq!(arms_of(&drawn(&rows)), wanted);
    rows.rotate_left(5);
    assert_eq!(arms_of(&drawn(&rows)), wanted);
}

#[test]
fn exact_a_site_more_changes_no_other_stratum() {
    let before = allot(&read(&text_of(7, 6, 5)), &arms(), 77);
    let after = allot(&read(&text_of(8, 6, 5)), &arms(), 77);
    let others = |drawn: &Allotment| -> Vec<_> {
        let kept = drawn
            .sites
            .iter()
            .filter(|site| site.stratum != "pair; size=large");
        kept.map(|site| (site.name.clone(), site.arm, site.place))
            .collect()
    };
    assert_eq!(others(&before), others(&after));
    assert_eq!(others(&before).len(), 11);
}

fn hexadecimal(text: &str) -> String {
    Sha256::digest(text.as_bytes())
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

#[test]
fn published_the_digest_is_that_of_fips_180() {
    // FIPS 180-4, appendix of examples: SHA-256 of "abc" (from memory).
    assert_eq!(
        hexadecimal("abc"),
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    );
}

#[test]
fn exact_the_draw_is_the_one_that_the_words_describe() {
    // The words of the record, followed by somebody else: tickets sorted, arms in turn, remainder by the coin's digit.
    for (sites, seed) in [
        (4, 4711),
        (5, 4711),
        (6, 4711),
        (6, 4712),
        (7, 4711),
        (9, 3),
        (10, 4),
    ] {
        let list = read(&text_of(sites, 0, 0));
        let drawn = allot(&list, &arms(), seed);
        let mut order: Vec<(String, String)> = (0..sites)
            .map(|number| format!("pair large {number}"))
            .map(|name| (hexadecimal(&format!("{seed}:site:{name}")), name))
            .collect();
        order.sort();
        let coin = hexadecimal(&format!("{seed}:stratum:pair; size=large"));
        let digit = u32::from_str_radix(&coin[..1], 16).unwrap() as usize;
        let mut numbers: Vec<usize> = (0..sites / 4).flat_map(|_| [1, 2, 3, 4]).collect();
        match sites % 4 {
            1 => numbers.push(1 + digit % 4),
            2 if digit.is_multiple_of(2) => numbers.extend([1, 4]),
            2 => numbers.extend([2, 3]),
            3 => numbers.extend([1, 2, 3, 4].iter().filter(|arm| **arm != 1 + digit % 4)),
            _ => {}
        }
        for ((ticket, name), number) in order.into_iter().zip(numbers) {
            let site = drawn.sites.iter().find(|site| site.name == name).unwrap();
            let wanted = [
                (0, Cut::Towards),
                (0, Cut::Away),
                (1, Cut::Towards),
                (1, Cut::Away),
            ];
            assert_eq!(
                (site.arm.treated, site.arm.cut),
                wanted[number - 1],
                "{sites} {seed} {name}"
            );
            assert_eq!(site.ticket, ticket);
        }
    }
    assert_eq!(ticket_text(4711, "Mill Bank"), "4711:site:Mill Bank");
    assert_eq!(coin_text(4711, "pair"), "4711:stratum:pair");
}

#[test]
fn exact_what_the_scenario_settles_is_not_drawn() {
    let arms_with = |settings: &[&str]| {
        let mut layered = crawlspan::Layered::open("verge-pair").unwrap();
        for setting in settings {
            let (path, value) = setting.split_once('=').unwrap();
            layered.set(path, value).unwrap();
        }
        Arms::of(&Scenario::from_layers(&layered).unwrap())
    };
    let cuts = |arms: &Arms| arms.pair.iter().map(|arm| arm.cut).collect::<Vec<_>>();
    assert_eq!(cuts(&arms_with(&["site.cut_side=Away"])), [Cut::Away; 2]);
    assert_eq!(
        cuts(&arms_with(&["site.layout=PairWholeCut"])),
        [Cut::Whole; 2]
    );
    assert_eq!(
        arms_with(&["site.cut_side=Left"]).one_patch[0].cut,
        Cut::Left
    );
    assert_eq!(arms().one_patch.len(), 2);
}

/// A folder with a list in it.
struct Desk(TempDir);

impl Desk {
    fn with(text: &str) -> Self {
        let folder = TempDir::new().unwrap();
        std::fs::write(folder.path().join("sites.csv"), text).unwrap();
        Self(folder)
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn run(&self, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_crawlspan"))
            .current_dir(self.path())
            .args(arguments)
            .output()
            .unwrap()
    }

    #[track_caller]
    fn fine(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        let errors = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {errors}");
        String::from_utf8(output.stdout).unwrap()
    }

    /// Expects exit code 2 and all of some words in the message.
    #[track_caller]
    fn refused(&self, arguments: &[&str], words: &[&str]) {
        let output = self.run(arguments);
        let errors = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {errors}");
        for word in words.iter().chain(&["where:", "expected:", "to do:"]) {
            assert!(errors.contains(word), "{word}: {errors}");
        }
    }

    fn file(&self, name: &str) -> String {
        std::fs::read_to_string(self.path().join(name)).unwrap()
    }
}

#[test]
fn exact_a_draw_is_recorded_and_made_again() {
    let text = text_of(5, 4, 2);
    let desk = Desk::with(&text);
    desk.fine(&["allot", "sites.csv", "--seed", "4711", "--within", "size"]);
    let record = desk.file("output/allot-sites/allotment-record.json");
    assert!(record.contains(&hexadecimal(&text)), "{record}");
    let table = desk.file("output/allot-sites/allotment.csv");
    assert!(record.contains(&hexadecimal(&table)), "{record}");
    assert_eq!(table.lines().count(), 12);
    let page = desk.file("output/allot-sites/allotment.html");
    assert_eq!(page.matches("<h1>").count(), 22);
    assert_eq!(
        page.matches("This is planning evidence, not permission.")
            .count(),
        11
    );
    // The list is gone: what was drawn travels with the record.
    std::fs::remove_file(desk.path().join("sites.csv")).unwrap();
    let again = [
        "replay",
        "output/allot-sites/provenance-allot.json",
        "--threads",
    ];
    for more in [["1", "--out", "again"], ["2", "--out", "twice"]] {
        let said = desk.fine(&[&again[..], &more[..]].concat());
        assert!(said.contains("byte for byte as recorded"));
    }
    assert_eq!(table, desk.file("again/allot-sites/allotment.csv"));
    assert_eq!(page, desk.file("twice/allot-sites/allotment.html"));
}

#[test]
fn exact_a_draw_is_never_drawn_over() {
    let desk = Desk::with(&text_of(5, 4, 2));
    let draw = ["allot", "sites.csv", "--seed"];
    desk.fine(&[&draw[..], &["4711"]].concat());
    let before = desk.file("output/allot-sites/allotment.csv");
    desk.fine(&[&draw[..], &["4711"]].concat());
    desk.refused(
        &[&draw[..], &["4712"]].concat(),
        &["a draw with seed 4711", "--replaces"],
    );
    desk.refused(
        &[&draw[..], &["4711", "--within", "size"]].concat(),
        &["balanced otherwise"],
    );
    desk.refused(
        &[&draw[..], &["4711", "--set", "site.cut_side=Away"]].concat(),
        &["something else"],
    );
    std::fs::write(desk.path().join("sites.csv"), text_of(6, 4, 2)).unwrap();
    desk.refused(&[&draw[..], &["4711"]].concat(), &["another list"]);
    assert_eq!(before, desk.file("output/allot-sites/allotment.csv"));
    let earlier = "output/allot-sites/allotment-record.json";
    let because = [
        "9",
        "--out",
        "second",
        "--replaces",
        earlier,
        "--because",
        "a site was lost",
    ];
    let said = desk.fine(&[&draw[..], &because[..]].concat());
    assert!(said.contains("It replaces a draw with seed 4711"), "{said}");
    let record = desk.file("second/allot-sites/allotment-record.json");
    assert!(record.contains("a site was lost"));
}

#[test]
fn exact_an_announced_draw_is_held_to_its_announcement() {
    let desk = Desk::with(&text_of(5, 4, 2));
    let announce = ["allot", "sites.csv", "--within", "size", "--announce"];
    let said = desk.fine(&[&announce[..], &["the gauge at noon"]].concat());
    let json = desk.file("output/allot-sites/announcement.json");
    assert!(said.contains(&hexadecimal(&json)), "{said}");
    desk.fine(&[&announce[..], &["the gauge at noon"]].concat());
    desk.refused(
        &[&announce[..], &["the gauge at one"]].concat(),
        &["has been announced"],
    );
    desk.refused(
        &["allot", "sites.csv", "--seed", "5"],
        &["not balanced as announced"],
    );
    desk.fine(&["allot", "sites.csv", "--within", "size", "--seed", "5"]);
    let record = desk.file("output/allot-sites/allotment-record.json");
    assert!(record.contains(&hexadecimal(&json)) && record.contains("the gauge at noon"));
    desk.refused(
        &[&announce[..], &["the gauge at noon"]].concat(),
        &["too late"],
    );
    // Made again elsewhere, it was still announced.
    let made = desk.fine(&[
        "replay",
        "output/allot-sites/provenance-allot.json",
        "--out",
        "x",
    ]);
    assert!(made.contains("byte for byte"));
    std::fs::remove_file(desk.path().join("output/allot-sites/announcement.json")).unwrap();
    desk.refused(
        &["allot", "sites.csv", "--within", "size", "--seed", "5"],
        &["no longer there"],
    );
}

#[test]
fn exact_faults_of_a_list_are_named_with_their_line() {
    for (text, words) in [
        (
            "site\nA\nB\n# note\na\n",
            vec!["sites.csv, line 5", "listed twice, first on line 2"],
        ),
        ("name\nA\n", vec!["sites.csv, line 1", "`site` is missing"]),
        ("site\n", vec!["no rows"]),
        ("", vec!["sites.csv"]),
        (
            "site,use\nA,trio\n",
            vec!["sites.csv, line 2", "`trio`", "pair or one_patch"],
        ),
        (
            "site,first_name,second_name\nA,bank,Bank\n",
            vec!["line 2", "both patches"],
        ),
        ("site,use\n,pair\n", vec!["line 2", "no name"]),
        ("site,use\nA,pair,x\n", vec!["line 2", "3 cells"]),
    ] {
        let desk = Desk::with(text);
        desk.refused(&["allot", "sites.csv", "--seed", "1"], &words);
        assert!(!desk.path().join("output").exists());
    }
    let desk = Desk::with("site,size\nA,large\nB,\n");
    let within = |columns: &'static str| ["allot", "sites.csv", "--seed", "1", "--within", columns];
    desk.refused(&within("size"), &["line 3", "`size` is empty"]);
    desk.refused(
        &within("cover"),
        &["line 1", "`cover` is missing", "site, size"],
    );
    desk.refused(&within("site"), &["--within", "no two sites"]);
    desk.refused(&within("size,size"), &["balanced within already"]);
    desk.refused(&["allot", "sites.csv"], &["no seed is given", "--announce"]);
    desk.refused(&["allot", "none.csv", "--seed", "1"], &["none.csv"]);
}

#[test]
fn exact_the_example_says_that_it_is_one() {
    let desk = Desk::with("site\nA\n");
    let said = desk.fine(&["allot"]);
    assert!(said.contains("the sites are invented"));
    assert!(
        said.lines().all(|line| line.chars().count() <= 80),
        "{said}"
    );
    let page = desk.file("output/allot-tansey-accepted/allotment.html");
    assert!(page.contains("EXAMPLE: the site is invented"));
}
