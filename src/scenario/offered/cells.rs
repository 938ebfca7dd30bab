//! Cells of a list of offered sites, read by the name and the unit of their column.

use crate::scenario::CoverKind;
use crate::scenario::files::Sheet;
use crate::trouble::{Outcome, Trouble};
use std::collections::BTreeMap;

/// Metres in a yard (exact by definition, 1959 agreement).
const METRES_PER_YARD: f64 = 0.9144;

/// Dimension of a column, with the ending of its name in metric units and in yards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Dimension {
    Length,
    Area,
    PerArea,
}

impl Dimension {
    fn endings(self) -> [&'static str; 2] {
        match self {
            Self::Length => ["_m", "_yd"],
            Self::Area => ["_m2", "_yd2"],
            Self::PerArea => ["_per_m2", "_per_yd2"],
        }
    }

    fn metric_per_yard(self) -> f64 {
        match self {
            Self::Length => METRES_PER_YARD,
            Self::Area => METRES_PER_YARD * METRES_PER_YARD,
            Self::PerArea => 1.0 / (METRES_PER_YARD * METRES_PER_YARD),
        }
    }
}

/// Quantities that come with a unit, and their dimension.
const MEASURED: [(&str, Dimension); 12] = [
    ("gap", Dimension::Length),
    ("area_first", Dimension::Area),
    ("area_second", Dimension::Area),
    ("length_first", Dimension::Length),
    ("length_second", Dimension::Length),
    ("width_first", Dimension::Length),
    ("width_second", Dimension::Length),
    ("outline_first", Dimension::Length),
    ("outline_second", Dimension::Length),
    ("density_first", Dimension::PerArea),
    ("density_second", Dimension::PerArea),
    ("density", Dimension::PerArea),
];

/// Columns without a unit that mean something.
const PLAIN: [&str; 12] = [
    "site",
    "stems_first",
    "stems_second",
    "first_name",
    "second_name",
    "shade_first",
    "shade_second",
    "between",
    "surroundings",
    "permission",
    "latitude_deg",
    "use",
];

/// Figures that a screening adds to the sites that it accepts: they are worked out anew, never carried on.
const WORKED_OUT: [&str; 3] = ["stray_share", "false_ratio", "late_counted"];

/// Columns by what they hold.
pub(super) struct Units<'s> {
    sheet: &'s Sheet,
    /// Column and factor to metric units of each measured quantity.
    measured: BTreeMap<&'static str, (usize, f64, String)>,
    carried: Vec<usize>,
}

impl<'s> Units<'s> {
    /// Finds every quantity in one unit.
    pub(super) fn of(sheet: &'s Sheet) -> Outcome<Self> {
        let columns = sheet.columns();
        if let Some(twice) =
            (1..columns.len()).find(|index| columns[..*index].contains(&columns[*index]))
        {
            return Err(heading_fault(
                sheet,
                format!("the column `{}` is there twice", columns[twice]),
                "every column once",
            ));
        }
        let mut measured = BTreeMap::new();
        let mut known: Vec<usize> = Vec::new();
        for (quantity, dimension) in MEASURED {
            let names = dimension
                .endings()
                .map(|ending| format!("{quantity}{ending}"));
            let found = names.clone().map(|name| sheet.column(&name));
            let (index, factor, name) = match found {
                [Some(_), Some(_)] => {
                    return Err(heading_fault(
                        sheet,
                        format!("`{}` and `{}` are both given", names[0], names[1]),
                        "a quantity in metric units or in yards, not in both",
                    ));
                }
                [Some(index), None] => (index, 1.0, &names[0]),
                [None, Some(index)] => (index, dimension.metric_per_yard(), &names[1]),
                [None, None] => continue,
            };
            known.push(index);
            measured.insert(quantity, (index, factor, name.clone()));
        }
        one_system(sheet, &measured)?;
        let named = PLAIN.iter().chain(&WORKED_OUT);
        known.extend(named.filter_map(|name| sheet.column(name)));
        let carried = (0..columns.len())
            .filter(|index| !known.contains(index) && !columns[*index].is_empty())
            .collect();
        Ok(Self {
            sheet,
            measured,
            carried,
        })
    }

    /// Refuses a list without these columns.
    pub(super) fn need(&mut self, names: &[&str], all: &str) -> Outcome<()> {
        for name in names {
            self.sheet.need(name, all)?;
        }
        Ok(())
    }

    /// Refuses a list without a length.
    pub(super) fn length(&mut self, quantity: &str, all: &str) -> Outcome<()> {
        if self.measured.contains_key(quantity) {
            return Ok(());
        }
        self.sheet.need(&format!("{quantity}_m"), all).map(|_| ())
    }

    /// Names of the columns that are carried through.
    pub(super) fn carried(&self) -> Vec<String> {
        self.carried
            .iter()
            .map(|index| self.sheet.columns()[*index].clone())
            .collect()
    }
}

fn heading_fault(sheet: &Sheet, what: String, expected: &str) -> Trouble {
    sheet
        .fault(sheet.heading(), what, expected)
        .remedy("rename or remove one of the columns")
}

/// Refuses a list in which a quantity of the first patch is in metric units and that of the second in yards.
fn one_system(
    sheet: &Sheet,
    measured: &BTreeMap<&'static str, (usize, f64, String)>,
) -> Outcome<()> {
    for (quantity, dimension) in MEASURED {
        let Some(stem) = quantity.strip_suffix("_first") else {
            continue;
        };
        let other = format!("{stem}_second");
        if let (Some(one), Some(two)) = (measured.get(quantity), measured.get(other.as_str()))
            && one.1.to_bits() != two.1.to_bits()
        {
            let [metric, yards] = dimension.endings();
            return Err(heading_fault(
                sheet,
                format!("`{}` and `{}` are in different units", one.2, two.2),
                &format!("both patches in {metric} or both in {yards}"),
            ));
        }
    }
    Ok(())
}

/// One row of the list.
pub(super) struct Row<'a> {
    sheet: &'a Sheet,
    cells: &'a (u64, csv::StringRecord),
    units: &'a Units<'a>,
}

impl<'a> Row<'a> {
    pub(super) fn of(
        sheet: &'a Sheet,
        cells: &'a (u64, csv::StringRecord),
        units: &'a Units<'a>,
    ) -> Self {
        Self {
            sheet,
            cells,
            units,
        }
    }

    pub(super) fn line(&self) -> u64 {
        self.cells.0
    }

    pub(super) fn fault(&self, what: String, expected: &str) -> Trouble {
        self.sheet.fault(self.cells.0, what, expected)
    }

    fn cell(&self, index: usize) -> Option<&'a str> {
        self.cells.1.get(index).filter(|text| !text.is_empty())
    }

    /// Text of a cell, if the column is there and the cell is not empty.
    pub(super) fn text(&self, column: &str) -> Option<&'a str> {
        self.cell(self.sheet.column(column)?)
    }

    pub(super) fn number(&self, column: &str, limits: (f64, f64)) -> Outcome<Option<f64>> {
        match self.sheet.column(column) {
            Some(index) if self.cell(index).is_some() => {
                self.within(index, 1.0, limits, column).map(Some)
            }
            _ => Ok(None),
        }
    }

    fn within(
        &self,
        index: usize,
        factor: f64,
        (low, high): (f64, f64),
        name: &str,
    ) -> Outcome<f64> {
        let given = self.sheet.number(self.cells, index)?;
        let value = given * factor;
        if (low..=high).contains(&value) {
            return Ok(value);
        }
        Err(self.fault(
            format!("`{name}` is {given}"),
            &format!("a number from {} to {}", low / factor, high / factor),
        ))
    }

    fn measured(&self, quantity: &str, limits: (f64, f64)) -> Outcome<Option<f64>> {
        match self.units.measured.get(quantity) {
            Some((index, factor, name)) if self.cell(*index).is_some() => {
                self.within(*index, *factor, limits, name).map(Some)
            }
            _ => Ok(None),
        }
    }

    /// A length in metres.
    pub(super) fn length(&self, quantity: &str, limits: (f64, f64)) -> Outcome<Option<f64>> {
        self.measured(quantity, limits)
    }

    /// An area in square metres.
    pub(super) fn area(&self, quantity: &str, limits: (f64, f64)) -> Outcome<Option<f64>> {
        self.measured(quantity, limits)
    }

    /// A density per square metre.
    pub(super) fn density(&self, quantity: &str, limits: (f64, f64)) -> Outcome<Option<f64>> {
        self.measured(quantity, limits)
    }

    /// Corners of an outline in metres: pairs of numbers separated by semicolons.
    pub(super) fn corners(&self, quantity: &str) -> Outcome<Option<Vec<(f64, f64)>>> {
        let Some((index, factor, name)) = self.units.measured.get(quantity) else {
            return Ok(None);
        };
        let Some(text) = self.cell(*index) else {
            return Ok(None);
        };
        let corner = |pair: &str| -> Option<(f64, f64)> {
            let mut numbers = pair.split_whitespace().map(str::parse::<f64>);
            let (x, y) = (numbers.next()?.ok()?, numbers.next()?.ok()?);
            let sound = x.is_finite() && y.is_finite() && numbers.next().is_none();
            sound.then_some((x * factor, y * factor))
        };
        let corners: Option<Vec<_>> = text.split(';').map(corner).collect();
        corners.map(Some).ok_or_else(|| {
            self.fault(
                format!("`{name}` is `{text}`"),
                "corners in order, such as 0 0; 8 0; 8 6; 0 6",
            )
        })
    }

    /// A ground cover.
    pub(super) fn cover(&self, column: &str) -> Outcome<Option<CoverKind>> {
        let Some(text) = self.text(column) else {
            return Ok(None);
        };
        let plain: String = text
            .chars()
            .filter(char::is_ascii_alphabetic)
            .map(|letter| letter.to_ascii_lowercase())
            .collect();
        match plain.as_str() {
            "mown" => Ok(Some(CoverKind::Mown)),
            "shortgrass" => Ok(Some(CoverKind::ShortGrass)),
            "tallgrass" => Ok(Some(CoverKind::TallGrass)),
            "paved" => Ok(Some(CoverKind::Paved)),
            _ => Err(self.fault(
                format!("`{text}` is no ground cover"),
                "Mown, ShortGrass, TallGrass or Paved",
            )),
        }
    }

    /// Cells that are carried through.
    pub(super) fn carried(&self) -> Vec<String> {
        self.units
            .carried
            .iter()
            .map(|index| self.cells.1.get(*index).unwrap_or_default().to_owned())
            .collect()
    }
}
