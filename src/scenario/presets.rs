//! Presets and ready scenarios, embedded so that the program runs alone.

/// A ready file: its name and its text.
#[derive(Debug, Clone, Copy)]
pub struct Ready {
    /// Name by which a scenario extends it or a command names it.
    pub name: &'static str,
    /// RON text.
    pub text: &'static str,
}

macro_rules! ready {
    ($name:literal, $file:literal) => {
        Ready {
            name: $name,
            text: include_str!(concat!("../../scenarios/", $file)),
        }
    };
}

/// Species presets that a scenario may extend.
pub const PRESETS: [Ready; 2] = [
    ready!("monarch-on-milkweed", "presets/monarch-on-milkweed.ron"),
    ready!("cinnabar-on-ragwort", "presets/cinnabar-on-ragwort.ron"),
];

/// Scenarios that can be named on the command line; the first is the default.
pub const SCENARIOS: [Ready; 9] = [
    ready!("verge-pair", "verge-pair.ron"),
    ready!("one-patch", "one-patch.ron"),
    ready!("unequal-pair", "unequal-pair.ron"),
    ready!("near-pair", "near-pair.ron"),
    ready!("late-summer", "late-summer.ron"),
    ready!("cinnabar-strip", "cinnabar-strip.ron"),
    ready!("marked-release", "marked-release.ron"),
    ready!("teaching-plots", "teaching-plots.ron"),
    ready!("tansey-network", "tansey-network.ron"),
];

/// Tables that ready scenarios name, found where no file of that name lies.
pub const TABLES: [Ready; 1] = [ready!("tansey-sites.csv", "tansey-sites.csv")];

/// The ready table of that name.
#[must_use]
pub fn table(name: &str) -> Option<Ready> {
    TABLES.iter().copied().find(|ready| ready.name == name)
}

/// Lists of variants that `compare` knows by name; the first is the default.
pub const LISTS: [Ready; 1] = [ready!("layouts", "layouts.ron")];

/// The ready list of variants of that name.
#[must_use]
pub fn find_list(name: &str) -> Option<Ready> {
    LISTS.iter().copied().find(|ready| ready.name == name)
}

/// The ready file of that name, scenario or preset.
#[must_use]
pub fn find(name: &str) -> Option<Ready> {
    SCENARIOS
        .iter()
        .chain(&PRESETS)
        .copied()
        .find(|ready| ready.name == name)
}

/// All names, for messages.
#[must_use]
pub fn names() -> String {
    let names: Vec<&str> = SCENARIOS
        .iter()
        .chain(&PRESETS)
        .map(|ready| ready.name)
        .collect();
    names.join(", ")
}
