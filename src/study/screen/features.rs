//! What the surfaces know of a site.

use super::figures::{home_ratio, larger_patch};
use super::grounds::{Grounds, PatchFacts};
use crate::scenario::CoverKind;

/// Covers other than short grass, the reference.
const OTHER_COVERS: [CoverKind; 3] = [CoverKind::Mown, CoverKind::TallGrass, CoverKind::Paved];

fn cover_marks(cover: CoverKind) -> [f64; 3] {
    OTHER_COVERS.map(|other| f64::from(u8::from(other == cover)))
}

/// Logarithms of area and density of a patch.
fn size_of(facts: &PatchFacts) -> [f64; 2] {
    let area = facts.stems / facts.density_per_m2;
    [area.ln(), facts.density_per_m2.ln()]
}

/// The gap on a scale on which the log odds of strays are nearly straight: even at small gaps, logarithmic at large ones.
fn gap_scale(gap_m: f64) -> f64 {
    gap_m.ln_1p()
}

/// Features of a patch `own` of a pair: gap, areas, densities and their products, shapes, covers, daylight.
pub(super) fn pair_features(grounds: &Grounds, site: usize, own: usize) -> Vec<f64> {
    let (here, there) = (grounds.patch(site, own), grounds.patch(site, 1 - own));
    let gap = gap_scale(grounds.gap_m(site).unwrap_or_default());
    let [own_area, own_density] = size_of(&here);
    let [other_area, other_density] = size_of(&there);
    let main = [gap, own_area, other_area, own_density, other_density];
    let mut features = main.to_vec();
    for (at, one) in main.iter().enumerate() {
        features.extend(main[at..].iter().map(|other| one * other));
    }
    features.push(gap.powi(3));
    features.extend([own_area * gap * gap, other_area * gap * gap]);
    features.extend([here.aspect.ln(), there.aspect.ln()]);
    let (between, around) = grounds.covers(site);
    for mark in cover_marks(between) {
        features.extend([mark, mark * gap]);
    }
    features.extend(cover_marks(around));
    features.push(grounds.daylight_h(site));
    features
}

/// Features of the false ratio: all change sign when the patches change places.
pub(super) fn contrast_features(grounds: &Grounds, site: usize) -> Vec<f64> {
    let gap = gap_scale(grounds.gap_m(site).unwrap_or_default());
    let [first, second] = [0, 1].map(|patch| grounds.patch(site, patch));
    let ([area, density], [other_area, other_density]) = (size_of(&first), size_of(&second));
    let eggs = (first.eggs / second.eggs).ln();
    let home = home_ratio(grounds, site).ln();
    let (area, density) = (area - other_area, density - other_density);
    let shape = first.aspect.ln() - second.aspect.ln();
    vec![
        area,
        density,
        shape,
        eggs,
        home,
        area * gap,
        density * gap,
        eggs * gap,
        home * gap,
        eggs * gap * gap,
    ]
}

pub(super) fn halves_features(grounds: &Grounds, site: usize) -> Vec<f64> {
    let facts = grounds.patch(site, larger_patch(grounds, site));
    let [area, density] = size_of(&facts);
    let shape = facts.aspect.ln();
    let mut features = vec![
        area,
        density,
        area * area,
        density * density,
        area * density,
        shape,
        shape * shape,
        grounds.daylight_h(site),
    ];
    features.extend(cover_marks(grounds.covers(site).1));
    features
}

/// Features of a pair that are no products: gap, two areas and two densities first; covers and daylight last.
pub(super) const PLAIN_OF_PAIRS: [usize; 2] = [5, 10];
/// The same of one patch: area and density first; daylight and cover last.
pub(super) const PLAIN_OF_HALVES: [usize; 2] = [2, 4];

/// Sites at the ends of the plain features, of `sites`: with them as anchors nearly all others lie within reach.
pub(super) fn extremes(grounds: &Grounds, sites: &[usize]) -> Vec<usize> {
    let features = |site: usize| -> Vec<f64> {
        if grounds.gap_m(site).is_some() {
            let mut plain = pair_features(grounds, site, 0);
            plain.truncate(PLAIN_OF_PAIRS[0]);
            plain.extend(&halves_features(grounds, site)[..PLAIN_OF_HALVES[0]]);
            plain.push(grounds.daylight_h(site));
            plain
        } else {
            halves_features(grounds, site)[..PLAIN_OF_HALVES[0]].to_vec()
        }
    };
    let all: Vec<(usize, Vec<f64>)> = sites.iter().map(|site| (*site, features(*site))).collect();
    let columns = all.first().map_or(0, |(_, features)| features.len());
    let mut found = Vec::new();
    for column in 0..columns {
        let by = |one: &&(usize, Vec<f64>), other: &&(usize, Vec<f64>)| {
            one.1[column].total_cmp(&other.1[column])
        };
        let ends = [all.iter().min_by(by), all.iter().max_by(by)];
        for (site, _) in ends.into_iter().flatten() {
            if !found.contains(site) {
                found.push(*site);
            }
        }
    }
    found
}
