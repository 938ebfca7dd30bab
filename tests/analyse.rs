//! Reading and comparing real counts: round trip with simulated tables, and every kind of bad input.

mod common;
#[path = "support/samples.rs"]
mod samples;

use common::{each_season, plan};
use crawlspan::output::tables::SurveyTable;
use crawlspan::stats::paired::{Estimator, PairedOptions, PairedSite, RatioEstimate, compare};
use crawlspan::study::analyse::{
    Caution, Comparison, CountedStage, Prepared, Question, Reason, cautions, compare_sites,
    prepare, read_counts,
};
use crawlspan::trouble::Trouble;
use samples::{assert_close, eight_sites};
use std::collections::BTreeMap;

const HEADER: &str = "site,week,patch,stage,count,stems\n";

fn prepared(text: &str, question: &Question) -> Result<Prepared, Trouble> {
    prepare(&read_counts(text.as_bytes(), "counts.csv")?, question)
}

fn ask(text: &str) -> Result<Prepared, Trouble> {
    prepared(text, &Question::default())
}

/// Weekly rows as a volunteer writes them, for two patches in one week.
fn week(site: &str, week: u32, treated: &str, untouched: &str) -> String {
    format!("{site},{week},treated,L5,{treated},20\n{site},{week},untouched,L5,{untouched},25\n")
}

/// The table that `season` writes, of some seasons.
fn season_table(settings: &[(&str, &str)], seasons: u64, seed: u64) -> String {
    let plan = plan("verge-pair", settings);
    let mut table = SurveyTable::new().unwrap();
    let mut replicate = 0;
    each_season(&plan, seed, seasons, |season| {
        table.add(season, replicate).unwrap();
        replicate += 1;
    });
    String::from_utf8(table.taken().unwrap()).unwrap()
}

/// A site as it is added up: its counts, its stems by patch and half, whether any week was counted.
type Sum = (PairedSite, BTreeMap<(String, String), f64>, bool);

/// Late counts and stems of each site of a simulated table, added up with nothing but a loop.
fn added_up(table: &str) -> Vec<PairedSite> {
    let mut sites: BTreeMap<u64, Sum> = BTreeMap::new();
    for line in table.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let empty = PairedSite {
            treated: 0,
            untouched: 0,
            stems_treated: 0.0,
            stems_untouched: 0.0,
        };
        let site = sites
            .entry(cells[1].parse().unwrap())
            .or_insert_with(|| (empty, BTreeMap::new(), false));
        site.1.insert(
            (cells[4].to_owned(), cells[5].to_owned()),
            cells[9].parse().unwrap(),
        );
        if cells[7] == "L5" && !cells[10].is_empty() {
            let count: u32 = cells[10].parse().unwrap();
            site.2 = true;
            match cells[4] {
                "treated" => site.0.treated += count,
                _ => site.0.untouched += count,
            }
        }
    }
    sites
        .into_values()
        .filter(|site| site.2)
        .map(|(mut site, stems, _)| {
            for ((patch, _), stems) in stems {
                match patch.as_str() {
                    "treated" => site.stems_treated += stems,
                    _ => site.stems_untouched += stems,
                }
            }
            site
        })
        .collect()
}

#[test]
fn exact_a_simulated_table_comes_back_as_its_sums() {
    let settings = [
        ("surveying.drop_out", "0.5"),
        ("surveying.missed_share", "0.3"),
    ];
    let table = season_table(&settings, 40, 71);
    let question = Question::default();
    let prepared = prepared(&table, &question).unwrap();
    let direct = added_up(&table);
    assert_eq!(prepared.pairs(), direct);
    let sites_dropped = prepared.dropped.iter().filter(|drop| drop.week.is_none());
    assert_eq!(sites_dropped.count() + direct.len(), 40);
    assert!(direct.len() < 40, "no volunteer dropped out at once");
    let options = PairedOptions::default();
    for estimator in Estimator::ALL {
        let expected = compare(&direct, estimator, &options).unwrap();
        let found = compare_sites(&prepared.pairs(), 1.0, &[estimator], &options).unwrap();
        assert_eq!(found, [expected]);
    }
}

#[test]
fn exact_halves_and_early_stages_of_a_simulated_table() {
    let table = season_table(&[("surveying.drop_out", "0")], 12, 73);
    let question = Question {
        stage: CountedStage::Eggs,
        comparison: Comparison::Halves,
        ..Question::default()
    };
    let sums = |half: &str| -> u64 {
        table
            .lines()
            .map(|line| line.split(',').collect::<Vec<_>>())
            .filter(|cells| cells[5] == half && cells[7] == "egg")
            .map(|cells| cells[10].parse::<u64>().unwrap_or(0))
            .sum()
    };
    let pairs = prepared(&table, &question).unwrap().pairs();
    let found = pairs.iter().fold((0, 0), |sum, site| {
        (
            sum.0 + u64::from(site.treated),
            sum.1 + u64::from(site.untouched),
        )
    });
    assert_eq!(found, (sums("cut"), sums("refuge")));
    assert!(found.0 > 100);
}

/// The eight sites of `tests/estimators.rs` as weekly rows in odd order; values as there, computed with numpy 2.4.6
/// and scipy 1.17.1.
#[test]
fn practice_eight_sites_through_a_table() {
    let mut rows = Vec::new();
    for (at, site) in eight_sites().iter().enumerate() {
        // Counts are split over three weeks.
        for week in 0..3_u32 {
            let part = |count: u32| count / 3 + u32::from(week < count % 3);
            rows.push(format!(
                "{},L5,{week},Treated,\"Site {at}\",{}",
                site.stems_treated,
                part(site.treated)
            ));
            rows.push(format!(
                "{},l5,{week},untouched,\"Site {at}\",{}",
                site.stems_untouched,
                part(site.untouched)
            ));
        }
    }
    rows.reverse();
    let text = format!(
        "\u{feff}Stems,Stage,Week,Patch,Site,Count\r\n# counted by hand\r\n{}\r\n",
        rows.join("\r\n")
    );
    let mut pairs = ask(&text).unwrap().pairs();
    pairs.reverse();
    assert_eq!(pairs, eight_sites());
    let options = PairedOptions::default();
    let result = &compare_sites(&pairs, 1.0, &[Estimator::Flip], &options).unwrap()[0];
    assert_eq!(result.p_value, Some(0.046875));
    assert_close(result.log_ratio.unwrap(), 0.6547722934458016, 1e-9);
    assert_close(
        result.interval.lower.unwrap().ln(),
        0.18232155679201162,
        1e-8,
    );
    assert_close(result.interval.upper.unwrap().ln(), 1.501706225214728, 1e-8);
    // p values at other ratios, from the same source.
    for (log_ratio, expected) in [(0.3, 0.125), (1.0, 0.15625), (1.6, 0.03125)] {
        let ratio = f64::exp(log_ratio);
        let other = &compare_sites(&pairs, ratio, &[Estimator::Flip], &options).unwrap()[0];
        assert_eq!(other.p_value, Some(expected), "at log ratio {log_ratio}");
        // The estimate and its interval do not depend on the ratio that is tested.
        assert_close(other.log_ratio.unwrap(), result.log_ratio.unwrap(), 1e-9);
        assert_close(
            other.interval.upper.unwrap(),
            result.interval.upper.unwrap(),
            1e-7,
        );
    }
}

#[test]
fn exact_faults_of_form_name_their_line() {
    let good = week("a", 1, "2", "1");
    let cases: &[(&str, u64, &str)] = &[
        ("a,1,treated,L5,-1,20\n", 4, "the count -1 is negative"),
        ("a,2,treated,L5,1.5,20\n", 4, "the count 1.5 is not whole"),
        (
            "a,2,treated,L5,two,20\n",
            4,
            "the count `two` is not a number",
        ),
        (
            "a,2,treated,L5,inf,20\n",
            4,
            "the count `inf` is not a number",
        ),
        ("a,2,treated,L5,1e9,20\n", 4, "beyond"),
        ("a,2,treated,L6,1,20\n", 4, "`L6` is no stage"),
        ("a,2,treated,,1,20\n", 4, "`` is no stage"),
        (
            "# note\n\na,2,control,L5,1,20\n",
            6,
            "`control` is no patch",
        ),
        ("a,1,treated,L5,2,20\n", 4, "the row repeats line 2"),
        ("a,1,treated,l5,3,20\n", 4, "the row repeats line 2"),
        ("a,2,treated,L5,1,21\n", 4, "21 stems here, 20 in line 2"),
        ("a,2,treated,L5,1,-3\n", 4, "the stem count -3 is negative"),
        (
            "a,2,treated,L5,1,many\n",
            4,
            "the stem count `many` is not a number",
        ),
        ("a,two,treated,L5,1,20\n", 4, "`two` is no week"),
        ("a,2026,treated,L5,1,20\n", 4, "`2026` is no week"),
        ("a,-1,treated,L5,1,20\n", 4, "`-1` is no week"),
        (",2,treated,L5,1,20\n", 4, "the site has no name"),
        ("a,2,treated,L5,1\n", 4, "the row has 5 cells, the header 6"),
        (
            "a,2,treated,L5,1,20,x\n",
            4,
            "the row has 7 cells, the header 6",
        ),
        (
            "\"a,2,treated,L5,1,20\nb\n",
            4,
            "a quotation mark is opened",
        ),
        ("a,2,treated,L5\rL5,1,20\n", 4, "a carriage return"),
    ];
    for (rows, line, what) in cases {
        let fault = ask(&format!("{HEADER}{good}{rows}")).unwrap_err();
        assert!(fault.what.contains(what), "{rows}: {fault}");
        assert_eq!(
            fault.place.as_deref(),
            Some(format!("counts.csv, line {line}").as_str()),
            "{rows}: {fault}"
        );
        assert!(
            fault.expected.is_some() && fault.remedy.is_some(),
            "{fault}"
        );
    }
}

#[test]
fn exact_faults_of_the_header_name_its_line() {
    for (header, line, what) in [
        (
            "site,week,patch,stage,count",
            1,
            "the column `stems` is missing",
        ),
        (
            "# note\nsite,week,patch,stage,stems",
            2,
            "the column `count` is missing",
        ),
        (
            "site,week,patch,stage,count,stems,Site",
            1,
            "the column `site` stands twice",
        ),
        (
            "site,week,patch,stage,count,stems,counted",
            1,
            "`count` and `counted` both",
        ),
        (
            "site,week,patch,stage,count,stems",
            1,
            "no counts follow the header",
        ),
    ] {
        let fault = ask(&format!("{header}\n")).unwrap_err();
        assert!(fault.what.contains(what), "{header}: {fault}");
        let place = format!("counts.csv, line {line}");
        assert_eq!(fault.place.as_deref(), Some(place.as_str()), "{header}");
    }
    assert!(ask("").unwrap_err().what.contains("empty"));
    let latin = b"site,week,patch,stage,count,stems\nM\xfchle,1,treated,L5,1,20\n";
    let fault = read_counts(&latin[..], "counts.csv").unwrap_err();
    assert_eq!(fault.place.as_deref(), Some("counts.csv, line 2"));
}

#[test]
fn exact_halves_and_dates_that_contradict_each_other() {
    let head = "site,week,patch,half,stage,count,stems,cut_date\n";
    for (rows, what) in [
        (
            "a,1,treated,whole,L5,1,9,\na,1,treated,cut,L5,1,9,\n",
            "both whole and divided",
        ),
        (
            "a,1,treated,,L5,1,9,\na,1,treated,left,L5,1,9,\n",
            "`left` is no half",
        ),
        (
            "a,1,treated,,L5,1,9,2026-07-01\na,2,treated,,L5,1,9,2026-07-02\n",
            "on 2026-07-01 in line 2",
        ),
        (
            "a,1,treated,,L5,1,9,\na,2,treated,,L5,1,9,1 July\n",
            "`1 July` is no date",
        ),
    ] {
        let fault = ask(&format!("{head}{rows}")).unwrap_err();
        assert!(fault.what.contains(what), "{fault}");
        assert_eq!(
            fault.place.as_deref(),
            Some("counts.csv, line 3"),
            "{fault}"
        );
    }
}

/// Week and reasons of what was dropped, with lines.
fn drops(prepared: &Prepared) -> Vec<(String, Option<u32>, u64, &'static str)> {
    let all = prepared.dropped.iter();
    all.map(|drop| (drop.site.clone(), drop.week, drop.line, drop.reason.name()))
        .collect()
}

#[test]
fn exact_gaps_in_the_data_are_dropped_with_their_reason() {
    let text = [
        HEADER,
        &week("a", 1, "2", "1"),                       // 2, 3
        &week("a", 2, "7", ""),                        // 4, 5
        &week("a", 3, "NA", "na"),                     // 6, 7
        "a,4,untouched,L5,9,25\n",                     // 8
        "b,1,treated,L5,3,20\n",                       // 9
        "c,1,treated,L5,3,\nc,1,untouched,L5,3,5\n",   // 10, 11
        "d,1,treated,L5,3,0\nd,1,untouched,L5,3,5\n",  // 12, 13
        &week("e", 1, "", "4"),                        // 14, 15
        "f,1,treated,egg,9,5\nf,1,untouched,L5,1,5\n", // 16, 17
        "f,2,treated,L5,0,\nf,2,untouched,L5,2,\n",    // 18, 19
    ]
    .concat();
    let prepared = ask(&text).unwrap();
    let expected = [
        ("a", Some(2), 4, "one-side"),
        ("a", Some(3), 6, "not-counted"),
        ("a", Some(4), 8, "one-side"),
        ("b", None, 9, "unmatched"),
        ("c", None, 10, "no-stems"),
        ("d", None, 12, "zero-stems"),
        ("e", Some(1), 14, "one-side"),
        ("e", None, 14, "no-common-week"),
        ("f", Some(1), 16, "stage-not-written"),
    ]
    .map(|(site, week, line, reason)| (site.to_owned(), week, line, reason));
    assert_eq!(drops(&prepared), expected);
    let used: Vec<_> = prepared
        .sites
        .iter()
        .map(|site| {
            (
                site.name.as_str(),
                site.counts,
                site.weeks.clone(),
                site.weeks_dropped,
            )
        })
        .collect();
    let pair = |treated, untouched, stems_treated, stems_untouched| PairedSite {
        treated,
        untouched,
        stems_treated,
        stems_untouched,
    };
    assert_eq!(
        used,
        [
            ("a", pair(2, 1, 20.0, 25.0), vec![1], 3),
            ("f", pair(0, 2, 5.0, 5.0), vec![2], 1)
        ]
    );
}

#[test]
fn exact_a_half_that_was_not_counted_drops_the_week() {
    let text = "site,week,patch,half,stage,count,stems\n\
        a,1,treated,cut,L5,2,10\na,1,treated,refuge,L5,1,10\na,1,untouched,,L5,1,20\n\
        a,2,treated,cut,L5,5,10\na,2,untouched,,L5,6,20\n";
    let by_patch = ask(text).unwrap();
    assert_eq!(
        drops(&by_patch),
        [("a".to_owned(), Some(2), 5, "part-of-side")]
    );
    assert_eq!(by_patch.pairs()[0].stems_treated, 20.0);
    assert_eq!(
        (by_patch.pairs()[0].treated, by_patch.pairs()[0].untouched),
        (3, 1)
    );
    let halves = Question {
        comparison: Comparison::Halves,
        ..Question::default()
    };
    let by_half = prepared(text, &halves).unwrap();
    assert_eq!(by_half.pairs()[0].treated, 2);
    assert_eq!(
        by_half.dropped[0].reason,
        Reason::OneSide {
            counted: "cut half"
        }
    );
}

#[test]
fn exact_nothing_left_is_an_error_that_says_why() {
    let fault = ask(&format!("{HEADER}a,1,treated,L5,3,20\n")).unwrap_err();
    assert!(fault.what.contains("no site is left"), "{fault}");
    assert!(
        fault
            .place
            .unwrap()
            .contains("line 2: site a: the site has no untouched patch")
    );
}

#[test]
fn exact_late_stage_is_what_the_scenario_says() {
    let rows =
        "a,1,treated,L4,4,20\na,1,treated,L5,1,20\na,1,untouched,L4,2,20\na,1,untouched,L5,1,20\n";
    let text = format!("{HEADER}{rows}");
    let count = |late_from| {
        let question = Question {
            late_from,
            ..Question::default()
        };
        let site = prepared(&text, &question).unwrap().pairs()[0];
        (site.treated, site.untouched)
    };
    assert_eq!((count(5), count(4)), ((1, 1), (5, 3)));
}

fn all_cautions(text: &str) -> Vec<Caution> {
    let question = Question::default();
    cautions(&prepared(text, &question).unwrap(), &question, 9_999, 1)
}

#[test]
fn exact_stems_counted_after_cutting_are_told() {
    let rows = |treated: u32| -> String {
        (0..8)
            .map(|site| {
                format!(
                    "s{site},1,treated,L5,2,{}\ns{site},1,untouched,L5,2,{}\n",
                    treated + site,
                    40 + site
                )
            })
            .collect()
    };
    // Half of the stems are gone at all of eight sites: 2 of 256 sign patterns are as extreme.
    let found = all_cautions(&format!("{HEADER}{}", rows(20)));
    let expected = matches!(found[..], [Caution::StemsLookCut { once: 128.0, .. }]);
    assert!(expected, "{found:?}");
    assert_eq!(all_cautions(&format!("{HEADER}{}", rows(38))), []);
    // Dates decide where the table has them.
    let dated = |date: &str| -> String {
        rows(20)
            .lines()
            .map(|row| format!("{row},{date},2026-07-01\n"))
            .collect()
    };
    let head = HEADER.replace("stems", "stems,stems_date,cut_date");
    assert_eq!(all_cautions(&format!("{head}{}", dated("2026-06-28"))), []);
    assert_eq!(
        all_cautions(&format!("{head}{}", dated("2026-07-20"))),
        [Caution::StemsAfterCutting { sites: 8 }]
    );
}

#[test]
fn exact_zeros_that_were_not_written_are_told() {
    let text = format!(
        "{HEADER}{}a,2,treated,L5,1,20\na,2,untouched,L3,1,25\n",
        week("a", 1, "2", "1")
    );
    let found = all_cautions(&text);
    assert!(
        found.contains(&Caution::ZerosNotWritten { weeks: 1 }),
        "{found:?}"
    );
}

#[test]
fn exact_one_sided_counts_stay_unbounded_whatever_ratio_is_tested() {
    let text: String = (0..8)
        .map(|site| week(&format!("s{site}"), 1, "2", "0"))
        .collect();
    let pairs = ask(&format!("{HEADER}{text}")).unwrap().pairs();
    let options = PairedOptions::default();
    let bounds = [1.0, 2.0].map(|null| {
        let result = &compare_sites(&pairs, null, &[Estimator::Flip], &options).unwrap()[0];
        assert_eq!(result.estimate, RatioEstimate::UnboundedAbove);
        result.interval.lower.unwrap()
    });
    assert_close(bounds[0], bounds[1], 1e-7);
}
