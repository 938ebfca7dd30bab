//! The paired comparison of counts per stem: n = (z_a + z_b)^2 V / (ln R)^2, and what exchange of
//! larvae between the patches does to the ratio.

use super::{
    DesignError, Level, log_effect, normal_probability, normal_quantile, not_negative, positive,
    share,
};

/// What unequal stems do to the variance, 1 for equal patches of standard size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StemSpread {
    /// Factor on the variance from counting: standard over mean information per site.
    pub counting: f64,
    /// Factor on the variance from noise between patches: mean square of a site's information over
    /// its squared mean.
    pub noise: f64,
}

impl Default for StemSpread {
    /// Equal patches of standard size.
    fn default() -> Self {
        Self {
            counting: 1.0,
            noise: 1.0,
        }
    }
}

/// Stems of the two patches of a site.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StemPair {
    /// Stems of the treated patch.
    pub treated: f64,
    /// Stems of the untouched patch.
    pub untouched: f64,
}

impl StemSpread {
    /// Factors for sites with these stems at a `ratio`, the mean count referring to a patch of
    /// `standard` stems.
    ///
    /// A site's information on ln R is proportional to w = R s_t s_c / (R s_t + s_c), the
    /// conditional variance of its treated count; the noise adds 2 w^2 / k to it.
    ///
    /// # Errors
    /// [`DesignError`] without sites or when a number is not positive.
    pub fn of(pairs: &[StemPair], ratio: f64, standard: f64) -> Result<Self, DesignError> {
        positive("ratio", ratio)?;
        positive("standard stems", standard)?;
        positive("number of sites", pairs.len() as f64)?;
        let (mut sum, mut squares) = (0.0, 0.0);
        for pair in pairs {
            let treated = ratio * positive("stems", pair.treated)?;
            let untouched = positive("stems", pair.untouched)?;
            let weight = treated * untouched / (treated + untouched);
            sum += weight;
            squares += weight * weight;
        }
        let number = pairs.len() as f64;
        let mean = sum / number;
        Ok(Self {
            counting: ratio / (1.0 + ratio) * standard / mean,
            noise: squares / number / (mean * mean),
        })
    }
}

/// A paired study.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairedDesign {
    /// Mean count on an untouched patch of standard size (above 0).
    pub mean: f64,
    /// Ratio of counts per stem, treated over untouched (above 0).
    pub ratio: f64,
    /// 1/k of the negative-binomial noise between patches, 0 for none.
    pub inverse_k: f64,
    /// Squared coefficient of variation of site quality.
    pub site_variation: f64,
    /// What unequal stems do.
    pub stems: StemSpread,
}

impl PairedDesign {
    /// Variance of the log ratio times the number of sites:
    /// V = counting (1 + 1/R) / mean + noise (2/k) (1 + CV^2).
    ///
    /// The first part is the counts' own, the second the noise between the two patches of a site,
    /// which heavier sites carry with more weight.
    ///
    /// # Errors
    /// [`DesignError`] for numbers out of range.
    pub fn variance(&self) -> Result<f64, DesignError> {
        let mean = positive("mean", self.mean)?;
        let ratio = positive("ratio", self.ratio)?;
        let inverse_k = not_negative("1/k", self.inverse_k)?;
        let variation = not_negative("squared variation of sites", self.site_variation)?;
        let counting = positive("stem factor", self.stems.counting)? * (1.0 + ratio.recip()) / mean;
        let noise = positive("stem factor", self.stems.noise)? * 2.0 * inverse_k;
        Ok(counting + noise * (1.0 + variation))
    }

    /// Number of sites, not rounded, for a power.
    ///
    /// # Errors
    /// [`DesignError`] for numbers out of range or a ratio of 1.
    pub fn sites(&self, level: Level, power: f64) -> Result<f64, DesignError> {
        let log = log_effect(self.ratio)?;
        let reach = level.critical()? + normal_quantile(share("power", power)?);
        Ok(reach * reach * self.variance()? / (log * log))
    }

    /// Power with a number of sites (the far tail of a two-sided test left out, as usual).
    ///
    /// # Errors
    /// [`DesignError`] for numbers out of range or a ratio of 1.
    pub fn power(&self, sites: f64, level: Level) -> Result<f64, DesignError> {
        let log = log_effect(self.ratio)?;
        let error = (self.variance()? / positive("sites", sites)?).sqrt();
        Ok(normal_probability(log.abs() / error - level.critical()?))
    }
}

/// The ratio observed when a share `exchange` (0 to 1) of each patch's larvae is counted on the
/// other, patches having equal stems.
///
/// # Errors
/// [`DesignError`] for numbers out of range.
pub fn diluted_ratio(ratio: f64, exchange: f64) -> Result<f64, DesignError> {
    diluted_ratio_of_stems(ratio, exchange, 1.0)
}

/// The same with `stems` times as many stems on the treated patch as on the untouched one.
///
/// # Errors
/// [`DesignError`] for numbers out of range.
pub fn diluted_ratio_of_stems(ratio: f64, exchange: f64, stems: f64) -> Result<f64, DesignError> {
    positive("ratio", ratio)?;
    positive("ratio of stems", stems)?;
    if !(0.0..=1.0).contains(&exchange) {
        return Err(DesignError::Range {
            name: "exchange",
            range: "between 0 and 1",
            value: exchange,
        });
    }
    let stay = 1.0 - exchange;
    // Larvae per stem: those of a patch that stay, and those that come from the other.
    let treated = ratio * stay + exchange / stems;
    let untouched = stay + ratio * exchange * stems;
    Ok(treated / untouched)
}

/// Factor by which exchange multiplies the number of sites, the variance being unchanged.
///
/// # Errors
/// [`DesignError`] for numbers out of range, or where no effect is left.
pub fn dilution_factor(ratio: f64, exchange: f64) -> Result<f64, DesignError> {
    let full = log_effect(ratio)?;
    let left = log_effect(diluted_ratio(ratio, exchange)?)?;
    Ok((full / left).powi(2))
}
