//! Faults in the CSV files that a scenario names.

use super::fault::{Fault, fault_with, program, scenario};
use jiff::ToSpan;
use jiff::civil::date;
use tempfile::TempDir;

const STATION: &str = "  weather: (\n    source: Station(\"station.csv\")),";
const STEMS: &str =
    "  site: (\n    treated: (density_per_m2: 0.5, placement: FromCsv(\"stems.csv\"))),";

fn station_fault(text: &str) -> Fault {
    fault_with(
        scenario(STATION).as_bytes(),
        &[("station.csv", text.as_bytes())],
    )
}

fn stems_fault(text: &str) -> Fault {
    fault_with(
        scenario(STEMS).as_bytes(),
        &[("stems.csv", text.as_bytes())],
    )
}

/// A year of days; `minimum` and `maximum` name the columns.
fn year(minimum: &str, maximum: &str, low: f64, high: f64) -> Vec<String> {
    let mut lines = vec![format!("date,{minimum},{maximum}")];
    let first = date(2026, 1, 1);
    lines.extend((0..365).map(|day: i64| format!("{},{low},{high}", first + day.days())));
    lines
}

#[test]
fn exact_data_files_must_be_there() {
    fault_with(scenario(STATION).as_bytes(), &[]).says(
        "tried.ron, line 5 (weather.source)",
        "station.csv cannot be read",
        "a CSV file",
    );
    fault_with(scenario(STEMS).as_bytes(), &[]).says(
        "tried.ron, line 5 (site.treated.placement)",
        "stems.csv cannot be read",
        "a CSV file",
    );
    station_fault("").says(
        "tried.ron, line 5 (weather.source)",
        "no rows",
        "a CSV file",
    );
    stems_fault("x_m,y_m\n").says(
        "tried.ron, line 5 (site.treated.placement)",
        "no rows",
        "a CSV file",
    );
}

#[test]
fn exact_data_files_must_have_their_columns() {
    stems_fault("x_m,z_m\n1,2\n").says("stems.csv, line 1", "column `y_m` is missing", "x_m, y_m");
    stems_fault("# a survey\n\nx,y_m\n1,2\n").says(
        "stems.csv, line 3",
        "column `x_m` is missing",
        "x_m, y_m",
    );
    station_fault("date,min_c\n2026-01-01,3\n").says(
        "station.csv, line 1",
        "`max_c` is missing",
        "max_c",
    );
    station_fault("date,min_f,max_c\n2026-01-01,3,4\n").says(
        "station.csv, line 1",
        "`max_f` is missing",
        "max_f",
    );
    station_fault("datetime,celsius\n2026-01-01T00:00,3\n").says(
        "station.csv, line 1",
        "`temp_c` is missing",
        "temp_c",
    );
}

#[test]
fn exact_cells_that_are_no_numbers_are_refused_at_their_line() {
    stems_fault("x_m,y_m\n0,0\n1,one\n").says(
        "stems.csv, line 3",
        "`one` is not a number",
        "a finite number",
    );
    stems_fault("x_m,y_m\n0,0\n\n# note\n1,NaN\n").says(
        "stems.csv, line 5",
        "`NaN` is not a number",
        "a finite number",
    );
    stems_fault("x_m,y_m\r\n0,0\r\n1,\r\n").says(
        "stems.csv, line 3",
        "`` is not a number",
        "a finite number",
    );
    stems_fault("x_m,y_m\n0,0\n1,2,3\n").says(
        "stems.csv, line 3",
        "3 cells, the header 2",
        "a CSV file",
    );
    let fault = fault_with(
        scenario(STEMS).as_bytes(),
        &[("stems.csv", b"x_m,y_m\n0,0\n1,\xff\n")],
    );
    fault.says("stems.csv, line 3", "not text in UTF-8", "a CSV file");
    station_fault("date,min_c,max_c\n2026-01-01,3,warm\n").says(
        "station.csv, line 2",
        "`warm` is not a number",
        "finite",
    );
    station_fault("date,min_c,max_c\n2026-02-30,3,4\n").says(
        "station.csv, line 2",
        "`2026-02-30` is not a date",
        "year",
    );
    station_fault("date,min_c,max_c\n2026-01-01,3,999\n").says(
        "station.csv, line 2",
        "no air temperature",
        "Celsius",
    );
    station_fault("date,min_c,max_c\n2026-01-01,9,3\n").says(
        "station.csv, line 2",
        "above the maximum",
        "minimum, then",
    );
}

#[test]
fn exact_stems_outside_their_patch_are_refused_at_their_line() {
    // Four stems at 0.5 per square metre: a square of 8 m2, 1.414 m to each side of its middle.
    stems_fault("x_m,y_m\n0,0\n1.4,1.4\n-1,1\n0,1.5\n").says(
        "stems.csv, line 5",
        "the stem at (0, 1.5) stands outside its patch",
        "2.8 m by 2.8 m",
    );
}

#[test]
fn exact_a_station_must_cover_the_season_without_gaps() {
    let mut lines = year("min_c", "max_c", 12.0, 24.0);
    lines.remove(100);
    station_fault(&lines.join("\n")).says(
        "station.csv, line 101",
        "does not follow the day before",
        "without gaps",
    );
    let lines = year("min_c", "max_c", 12.0, 24.0);
    station_fault(&lines[..200].join("\n")).says(
        "tried.ron, line 5 (weather.source)",
        "covers 199 days from 2026-01-01, not the season",
        "21 days before cutting to 70 days after",
    );
    station_fault("datetime,temp_c\n2026-01-01T00:00,3\n2026-01-01T02:00,3\n").says(
        "station.csv, line 3",
        "does not follow the hour before",
        "one row an hour",
    );
}

/// A season with a station's record; returns the table of fates.
fn fates_with(lines: &[String]) -> String {
    let folder = TempDir::new().expect("a folder");
    let path = folder.path();
    std::fs::write(path.join("tried.ron"), scenario(STATION)).expect("a file");
    std::fs::write(path.join("station.csv"), lines.join("\n")).expect("a file");
    program(path)
        .args(["season", "tried.ron", "--out", "results"])
        .assert()
        .success();
    std::fs::read_to_string(path.join("results/tried/fates.csv")).expect("a table of fates")
}

#[test]
fn exact_fahrenheit_columns_give_the_same_season_as_celsius() {
    // 50 F and 77 F are 10 C and 25 C without rounding.
    let celsius = fates_with(&year("min_c", "max_c", 10.0, 25.0));
    let fahrenheit = fates_with(&year("min_f", "max_f", 50.0, 77.0));
    assert!(celsius.lines().count() > 5, "{celsius}");
    assert_eq!(celsius, fahrenheit);
    let warmer = fates_with(&year("min_f", "max_f", 59.0, 86.0));
    assert_ne!(celsius, warmer, "the temperature must matter at all");
}
