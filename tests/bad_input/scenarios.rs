//! Faults in scenario files.

use super::fault::{fault_in, fault_of, fault_with, scenario};
use tempfile::TempDir;

/// What the message says of a value in `site` that makes no sense.
#[track_caller]
fn gap_is_refused(value: &str, shown: &str) {
    fault_in(&format!("  site: (\n    gap_m: {value},\n  ),")).says(
        "tried.ron, line 5 (site.gap_m)",
        &format!("`site.gap_m` is {shown}"),
        "a number from 0 to 100000 m",
    );
}

#[test]
fn exact_values_that_make_no_sense_are_refused_at_their_line() {
    gap_is_refused("-0.5", "-0.5");
    gap_is_refused("1e9", "1000000000");
    gap_is_refused("NaN", "NaN");
    gap_is_refused("inf", "inf");
    gap_is_refused("-inf", "-inf");
    gap_is_refused("Yards(-1)", "-0.9144");
    gap_is_refused("About(value: NaN)", "NaN");
    fault_in("  survival: (mature: (\n    l3: 1.01,\n  )),").says(
        "tried.ron, line 5 (survival.mature.l3)",
        "is 1.01",
        "0.0001 to 1",
    );
}

#[test]
fn exact_unknown_names_are_refused_with_the_known_ones() {
    fault_in("  site: (\n    gpa_m: 5,\n  ),").says(
        "tried.ron, line 5, column 5",
        "unknown name `gpa_m` in the group Site",
        "gap_m, refuge_share",
    );
    fault_in("  sight: (),").says(
        "tried.ron, line 4, column 3",
        "unknown name `sight`",
        "answers, site",
    );
    fault_in("  walking: (\n    speed_cm_per_s: (\n      l6: 3)),").says(
        "tried.ron, line 6, column 7",
        "unknown name `l6` among the stages",
        "egg, l1, l2",
    );
    fault_in("  site: (cut_side: Sideways),").says(
        "tried.ron, line 4, column 20",
        "unknown choice `Sideways`",
        "Towards, Away, Left, Right, Coin",
    );
    fault_in("  site: (\n    gap_m: About(value: 2,\n      hgh: 3)\n\n  ),").says(
        "tried.ron, line 6",
        "unknown name `hgh`",
        "low: .., high: ..",
    );
}

#[test]
fn exact_values_of_the_wrong_type_are_refused_at_their_line() {
    let place = "tried.ron, line 5";
    fault_in("  site: (\n    gap_m: \"far\",\n  ),").says(
        place,
        "`\"far\"` is not a number",
        "Yards(10)",
    );
    fault_in("  site: (\n    gap_m: \"far\"\n\n  ),").says(place, "`\"far\"` is not", "a number");
    fault_in("  site: (\n    gap_m: [1] // far\n  ),").says(place, "`[1]", "a number");
    fault_in("  site: (\n    gap_m: Miles(3),\n  ),").says(place, "`Miles(3)` is not", "Feet(30)");
    fault_in("  site: (\n    gap_m: Yards(\"3\"),\n  ),").says(
        place,
        "is not a number",
        "Yards(10)",
    );
    fault_in("  site: (\n    layout: 5,\n  ),").says(
        "tried.ron, line 5, column 13",
        "no word",
        "a name or a choice",
    );
    fault_in("  site: 5,").says("tried.ron, line 4, column 8", "no group", "in parentheses");
    fault_in("  purpose: 5,").says(
        "tried.ron, line 4, column 11",
        "no text",
        "in double quotes",
    );
    fault_in("  dates: (cutting: \"1 July\"),").says(
        "tried.ron, line 4 (dates.cutting)",
        "`1 July` is not a date",
        "year-month-day",
    );
}

#[test]
fn exact_units_of_the_wrong_kind_are_refused() {
    fault_in("  weather: (\n    night_c: Yards(3)),").says(
        "tried.ron, line 5 (weather.night_c)",
        "a unit that does not fit",
        "a value in C",
    );
    fault_in("  survival: (\n    site_logit_sd: Feet(1)),").says(
        "tried.ron, line 5 (survival.site_logit_sd)",
        "a unit that does not fit",
        "a pure number",
    );
}

#[test]
fn exact_ranges_upside_down_are_refused() {
    let place = "tried.ron, line 5";
    let words = "low <= value <= high";
    fault_in("  site: (\n    gap_m: About(value: 2, low: 3,\n  high: 1),\n  ),")
        .says(place, "3 to 1", words);
    fault_in("  site: (\n    gap_m: About(value: 9, low: 3, high: 4)\n  ),").says(
        place,
        "around the value 9",
        words,
    );
    fault_in("  site: (\n    gap_m: About(value: 9, low: 3)\n  ),").says(
        place,
        "both ends",
        "`low` and `high`",
    );
    fault_in("  site: (\n    gap_m: About(value: 9, low: -3, high: 20)\n  ),").says(
        "tried.ron, line 5 (site.gap_m)",
        "the range of `site.gap_m` is -3 to 20",
        "from 0",
    );
    fault_in("  development: (\n    lower_threshold_c: 20,\n    upper_threshold_c: 12,\n  ),")
        .says(
            "tried.ron, line 6 (development.upper_threshold_c)",
            "upside down",
            "`development.lower_threshold_c` below",
        );
    fault_in("  weather: (sunrise_h: 20,\n    sunset_h: 5),").says(
        "tried.ron, line 5 (weather.sunset_h)",
        "upside down",
        "below",
    );
}

#[test]
fn exact_counts_must_be_whole() {
    fault_in("  site: (\n    treated: (\n      stems: 10.5)),").says(
        "tried.ron, line 6 (site.treated.stems)",
        "is 10.5",
        "a whole number",
    );
    fault_in("  dates: (\n    surveys: 4.5,\n  ),").says(
        "tried.ron, line 5 (dates.surveys)",
        "is 4.5",
        "whole",
    );
    fault_in("  laying: (\n\n    batch_largest: 4.5,\n  ),").says(
        "tried.ron, line 6 (laying.batch_largest)",
        "is 4.5",
        "whole",
    );
}

#[test]
fn exact_too_much_is_refused_with_the_memory_it_would_need() {
    fault_in("  site: (\n    untouched: (stems: 1000000000)),").says(
        "tried.ron, line 5 (site.untouched.stems)",
        "GiB of memory",
        "4 GiB",
    );
    fault_in("  site: (\n    cell_m: 0.01,\n    margin_m: 900),").says(
        "tried.ron, line 5 (site.cell_m)",
        "GiB of memory",
        "4 GiB",
    );
    fault_in("  site: (\n    cell_m: 0.1,\n    margin_m: 500),").says(
        "tried.ron, line 5 (site.cell_m)",
        "cells",
        "at most",
    );
    fault_in("  laying: (\n    attraction_peak: 1000,\n    eggs_per_stem_week: 1000),").says(
        "tried.ron, line 6 (laying.eggs_per_stem_week)",
        "eggs a season would need",
        "4 GiB",
    );
    fault_in("  site: (\n    treated: (outline: Polygon([(0, 0), (1e300, 0), (0, 1e300)]))),")
        .says(
            "tried.ron, line 5 (site.treated.outline)",
            "polygon",
            "three corners",
        );
}

#[test]
fn exact_patches_that_overlap_are_refused() {
    let site = "  site: (layout: ByCoordinates, patches: [\n\
                \x20   (name: \"a\", centre_m: (0, 0), treatment: Untouched),\n\
                \x20   (name: \"b\", centre_m: (5, 0), treatment: HalfCut),\n  ]),";
    fault_in(site).says(
        "tried.ron, line 6 (site.patches.2.centre_m)",
        "`a` and `b` overlap",
        "do not touch",
    );
    let apart = site.replace("(5, 0)", "(50, 0)");
    fault_in(&apart.replace("\"b\"", "\"a\"")).says(
        "tried.ron, line 6 (site.patches.2.name)",
        "two patches are called `a`",
        "a name of its own",
    );
    fault_in(&apart.replace("HalfCut)", "HalfCut,\n  patch: (\n stems: 7.5))")).says(
        "tried.ron, line 8 (site.patches.2.patch.stems)",
        "7.5",
        "whole",
    );
    fault_in(&apart.replace("(50, 0)", "(NaN, 0)")).says(
        "tried.ron, line 6 (site.patches.2.centre_m)",
        "NaN",
        "two numbers",
    );
    fault_in("  site: (layout: ByCoordinates),").says(
        "tried.ron, line 4 (site.layout)",
        "no patches",
        "at least one",
    );
}

#[test]
fn exact_a_season_must_hold_its_surveys() {
    fault_in("  dates: (\n    surveys: 30,\n  ),").says(
        "tried.ron, line 5 (dates.surveys)",
        "the last survey is on day 217, after the season ends on day 70",
        "within the season",
    );
    fault_in("  dates: (\n    run_out_days: 365,\n  ),").says(
        "tried.ron, line 5 (dates.run_out_days)",
        "428",
        "400 days",
    );
    fault_in("  dates: (tick_h: 0.7),").says(
        "tried.ron, line 4 (dates.tick_h)",
        "0.7",
        "divides a day",
    );
}

#[test]
fn exact_syntax_errors_have_line_and_column() {
    fault_in("  site: (\n    gap_m: 5\n    refuge_share: 0.5\n  ),").says(
        "tried.ron, line 6, column 5",
        "a comma or a closing bracket is missing",
        "before this place",
    );
    fault_in("  site: (\n    gap_m: 5,\n").says(
        "tried.ron, line 7, column 2",
        "a comma or a closing bracket is missing",
        "a closing bracket before",
    );
    fault_in("  site: (gap_m: 5)),").says(
        "tried.ron, line 4, column 20",
        "after the end",
        "nothing",
    );
    fault_in("  site: (gap_m 5),").says("tried.ron, line 4, column 15", "colon", "name: value");
    fault_in("  name: \"again\",").says("tried.ron, line 4, column 3", "set twice", "once");
    fault_in("  purpose: \"endless").says(
        "tried.ron, line 4, column 12",
        "not closed",
        "double quote",
    );
    fault_in("  /* endless").says("tried.ron, line 4, column 5", "comment is not closed", "*/");
}

#[test]
fn exact_files_that_are_no_scenarios_are_refused() {
    fault_with(b"", &[]).says("tried.ron, line 1", "empty", "in parentheses");
    fault_with(b" \n\t\n", &[]).says("tried.ron, line 1", "empty", "in parentheses");
    fault_with(b"(\n  name: \"\xff\",\n)", &[]).says(
        "tried.ron, line 2",
        "not text in UTF-8",
        "a RON file",
    );
    let garbage: Vec<u8> = (0..=253u8).rev().cycle().take(5000).collect();
    fault_with(&garbage, &[]).says("tried.ron, line 1", "not text in UTF-8", "a RON file");
    let folder = TempDir::new().expect("a folder");
    fault_of(folder.path(), &["check", "."]).says(".", "it is a folder", "a RON file");
    fault_of(folder.path(), &["check", "nowhere.ron"]).says(
        "nowhere.ron",
        "cannot be read",
        "verge-pair",
    );
}

#[test]
fn exact_deep_nesting_does_not_end_the_stack() {
    const DEEP: usize = 100_000;
    fault_with("(".repeat(DEEP).as_bytes(), &[]).says(
        "tried.ron, line 1, column 33",
        "nest too deeply",
        "32",
    );
    let lists = format!("(\n  site: (gap_m: {}", "[\n".repeat(DEEP));
    fault_with(lists.as_bytes(), &[]).says("tried.ron, line 32, column 1", "nest too deeply", "32");
    let comment = scenario(&format!(
        "  {}{} gpa: 3,",
        "/*".repeat(DEEP),
        "*/".repeat(DEEP)
    ));
    let fault = fault_with(comment.as_bytes(), &[]);
    assert!(fault.what.contains("unknown name `gpa`"), "{fault:?}");
}

#[test]
fn exact_very_long_files_are_read_or_refused_without_delay() {
    let long = format!("  purpose: \"{}\",\n  gpa: 3,", "word ".repeat(700_000));
    fault_in(&long).says("tried.ron, line 5, column 3", "unknown name `gpa`", "site");
    let corners = "(1, 2), ".repeat(300_000);
    fault_in(&format!(
        "  site: (treated: (outline: Polygon([{corners}]))),"
    ))
    .says(
        "tried.ron, line 4 (site.treated.outline)",
        "300000 corners",
        "at most",
    );
    let too_long = " ".repeat(5 << 20);
    fault_with(too_long.as_bytes(), &[]).says(
        "tried.ron",
        "it has 5242880 bytes, and at most 4 MiB are read",
        "a RON file",
    );
}

#[test]
fn exact_extending_must_lead_to_a_preset() {
    let place = "tried.ron, line 2 (extends)";
    fault_with(b"(\n  extends: \"no-such-preset\",\n)", &[]).says(
        place,
        "cannot be read",
        "monarch-on-milkweed",
    );
    fault_with(b"(\n  extends: \"tried.ron\",\n)", &[]).says(place, "circle", "preset");
    let other = b"(\n\n  extends: \"tried.ron\",\n)".as_slice();
    fault_with(b"(\n  extends: \"other.ron\",\n)", &[("other.ron", other)]).says(
        "other.ron, line 3 (extends)",
        "circle",
        "preset",
    );
    let broken = b"(\n site: (gap_m: 5\n)".as_slice();
    fault_with(b"(\n  extends: \"other.ron\",\n)", &[("other.ron", broken)]).says(
        "other.ron, line 3, column 1",
        "a closing bracket is missing",
        "a closing bracket",
    );
    fault_with(b"(name: \"alone\")", &[]).says(
        "tried.ron (answers.stray_tolerance)",
        "no value",
        "0.0001",
    );
}

#[test]
fn exact_names_cannot_leave_the_output_folder() {
    for name in ["../../evil", "a/b", "", "..", "a b", "\\u{1b}[31m"] {
        let text = format!("(\n  name: \"{name}\",\n  extends: \"monarch-on-milkweed\",\n)");
        let fault = fault_with(text.as_bytes(), &[]);
        assert!(fault.place.starts_with("tried.ron, line 2"), "{fault:?}");
    }
    fault_in("  purpose: \"\\u{1b}[31m\",").says(
        "tried.ron, line 4 (purpose)",
        "control characters",
        "plain text",
    );
}
