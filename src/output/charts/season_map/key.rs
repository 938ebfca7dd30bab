//! The column beside the map that explains its signs.

use std::collections::BTreeMap;

use super::super::ChartError;
use super::super::scene::{Lettering, Scene, ink, wrap};
use super::super::sheet::Area;
use super::super::style::{
    BACKGROUND, LABEL_SIZE, LINE_WIDTH, Mark, SMALL_SIZE, Stroke, TEXT, stem_mark,
};
use super::{END_RADIUS, SeasonMap, StemCondition, WalkEnd, end_shape};

/// Width of the samples left of the words.
const SAMPLE: f64 = 37.0;
/// Space between sample and words.
const SAMPLE_GAP: f64 = 10.0;
/// Space between two groups of entries.
const BETWEEN: f64 = 16.0;
/// Space between a heading and its first entry.
const BELOW_HEADING: f64 = 8.0;
/// Space between two entries.
const BETWEEN_ENTRIES: f64 = 2.0;
/// An entry runs over at most this many lines.
const ENTRY_LINES: usize = 3;
/// Distance from a text's baseline up to the middle of its small letters.
const LETTER_MIDDLE: f64 = 0.3;

/// A sample beside an entry.
enum Sample {
    Line(Mark),
    Sign(Mark),
}

/// Height that the key of this map needs.
pub(super) fn height(width: f64, map: &SeasonMap) -> Result<f64, ChartError> {
    let room = Area {
        left: 0.0,
        top: 0.0,
        right: width,
        bottom: 0.0,
    };
    let mut draft = Scene::new(width, 0.0, BACKGROUND);
    draw_key(&mut draft, room, width, map)
}

/// Draws the key into the right-hand `width` of the room; gives back where
/// it ends.
pub(super) fn draw_key(
    scene: &mut Scene,
    room: Area,
    width: f64,
    map: &SeasonMap,
) -> Result<f64, ChartError> {
    let mut key = Key {
        scene,
        left: room.right - width,
        width,
        top: room.top,
        y: room.top,
    };
    let stems = counted(map.stems.iter().map(|stem| stem.condition));
    if !stems.is_empty() {
        key.heading("Stems")?;
    }
    for (condition, count) in stems {
        let text = format!("{} ({count})", stem_name(condition));
        key.entry(&Sample::Sign(stem_mark(condition)), &text)?;
    }
    let groups = counted(map.walks.iter().map(|walk| walk.group));
    if !groups.is_empty() {
        key.heading("Walks of late-stage larvae")?;
    }
    for (&group, count) in &groups {
        let text = format!("{} ({count})", map.groups[group].label);
        key.entry(&Sample::Line(map.groups[group].mark), &text)?;
    }
    let ends = counted(map.walks.iter().map(|walk| walk.end));
    if !ends.is_empty() {
        key.heading("Where the walks ended")?;
    }
    for (end, count) in ends {
        let sign = Mark {
            colour: TEXT,
            shape: end_shape(end),
            stroke: Stroke::Solid,
        };
        key.entry(&Sample::Sign(sign), &format!("{} ({count})", end_name(end)))?;
    }
    Ok(key.y)
}

fn counted<K: Ord>(items: impl Iterator<Item = K>) -> BTreeMap<K, usize> {
    let mut counts = BTreeMap::new();
    for item in items {
        *counts.entry(item).or_insert(0) += 1;
    }
    counts
}

fn stem_name(condition: StemCondition) -> &'static str {
    match condition {
        StemCondition::Mature => "mature",
        StemCondition::Stubble => "stubble",
        StemCondition::Fresh => "fresh",
        StemCondition::EatenOut => "eaten out",
    }
}

fn end_name(end: WalkEnd) -> &'static str {
    match end {
        WalkEnd::OnStem => "on a stem",
        WalkEnd::DiedOffPlant => "died off-plant",
        WalkEnd::Lost => "lost",
    }
}

struct Key<'a> {
    scene: &'a mut Scene,
    left: f64,
    width: f64,
    top: f64,
    y: f64,
}

impl Key<'_> {
    fn heading(&mut self, text: &str) -> Result<(), ChartError> {
        let style = Lettering::new(LABEL_SIZE).bold();
        if self.y > self.top {
            self.y += BETWEEN;
        }
        let (lines, _) = wrap(text, style, self.width, ENTRY_LINES)?;
        let next = self
            .scene
            .lines(&lines, (self.left, self.y + style.size), style);
        self.y = next - style.size + BELOW_HEADING;
        Ok(())
    }

    fn entry(&mut self, sample: &Sample, text: &str) -> Result<(), ChartError> {
        let style = Lettering::new(SMALL_SIZE);
        let words = self.left + SAMPLE + SAMPLE_GAP;
        let (lines, _) = wrap(text, style, self.width - SAMPLE - SAMPLE_GAP, ENTRY_LINES)?;
        let baseline = self.y + style.size;
        let middle = baseline - style.size * LETTER_MIDDLE;
        let centre = (self.left + SAMPLE / 2.0, middle);
        match sample {
            Sample::Line(mark) => {
                let (from, to) = ((self.left, middle), (self.left + SAMPLE, middle));
                self.scene.line(from, to, ink(mark.colour), LINE_WIDTH);
            }
            Sample::Sign(mark) => {
                self.scene.marker(*mark, centre, END_RADIUS);
            }
        }
        let next = self.scene.lines(&lines, (words, baseline), style);
        self.y = next - style.size + BETWEEN_ENTRIES;
        Ok(())
    }
}
