//! The groups of settings that a scenario is made of, with unit, limits and meaning of each number.
//!
//! The limits here are those beyond which a value makes no sense at all; the plausible range of a
//! value travels with it in the preset.

use super::choices::{
    CoverArea, CoverKind, CutSide, CuttingMethod, LateFrom, LayoutKind, Outline, Placement,
    Treatment, WeatherSource,
};
use super::draft::settings;
use serde::{Deserialize, Serialize};

settings! {
    /// How fast eggs and larvae develop.
    Development => DevelopmentNumbers {
        numbers {
            lower_threshold_c: "C", -10.0, 30.0, "temperature below which nothing develops";
            upper_threshold_c: "C", 0.0, 60.0, "temperature above which development gets no faster";
            rate_log_sd: "", 0.0, 1.0, "spread of individual development rate, SD of its logarithm";
        }
        stages {
            degree_days: "degree-days C", 0.1, 2000.0, "degree-days that a stage takes";
        }
    }
}

settings! {
    /// Who survives.
    Survival => SurvivalNumbers {
        numbers {
            site_logit_sd: "", 0.0, 3.0, "site effect on stage survival, SD on the logit";
            pupation_departure: "", 0.05, 1.0, "share of the last instar after which a larva leaves its stem to pupate";
        }
        stages {
            mature: "", 0.0001, 1.0, "share that survives the stage on mature stems";
            fresh_hazard: "", 0.0, 20.0, "hazard on fresh stems relative to mature stems";
        }
    }
}

settings! {
    /// What larvae eat.
    Feeding => FeedingNumbers {
        numbers {
            lifetime_intake_cm: "cm", 0.0, 10000.0, "stem with its leaves eaten in a whole larval life";
        }
        stages {
            intake_share: "", 0.0, 1.0, "share of the lifetime intake eaten in the stage";
        }
    }
}

settings! {
    /// When larvae leave a stem.
    Leaving => LeavingNumbers {
        numbers {
            active_hours_per_day: "h", 1.0, 24.0, "active hours in the day that the daily hazards are stated for";
            falls_per_day: "per day", 0.0, 100.0, "hazard of falling off the stem";
        }
        stages {
            per_day: "per day", 0.0, 1000.0, "hazard of leaving the stem while it has food";
        }
    }
}

settings! {
    /// How larvae walk off a stem.
    Walking => WalkingNumbers {
        numbers {
            stride_m: "m", 0.005, 1.0, "length of one stride";
            mean_cosine: "", 0.0, 0.999, "mean cosine of the turn between strides";
            perceptual_range_m: "m", 0.001, 5.0, "distance from its path at which a larva meets a stem";
            q10: "", 1.0, 10.0, "factor on speed for 10 C more";
            q10_reference_c: "C", 0.0, 50.0, "temperature at which the speed is stated";
            active_above_c: "C", -10.0, 40.0, "temperature below which larvae do not walk";
            walking_share: "", 0.001, 1.0, "share of active time spent walking while off a stem";
            death_per_active_hour: "per h", 0.0, 100.0, "hazard of dying while off a stem";
            acceptance: "", 0.001, 1.0, "share of met stems that are climbed";
            mature_preference: "odds ratio", 0.001, 1000.0, "late-stage preference for mature over fresh stems (1 is none)";
        }
        stages {
            speed_cm_per_s: "cm/s", 0.0, 50.0, "speed while walking";
        }
    }
}

settings! {
    /// How eggs are laid.
    Laying => LayingNumbers {
        numbers {
            eggs_per_stem_week: "per week", 0.0, 1000.0, "eggs on a mature stem per week, mean over sites, at full flight";
            batch_smallest: "", 1.0, 1000.0, "smallest batch of eggs";
            batch_largest: "", 1.0, 1000.0, "largest batch of eggs";
            attraction_peak: "", 0.0, 1000.0, "eggs on a fresh stem at its peak relative to a mature stem";
            attraction_from_weeks: "weeks", 0.0, 52.0, "weeks after cutting before which a stem attracts nothing";
            attraction_peak_weeks: "weeks", 0.0, 52.0, "weeks after cutting at the peak of attraction";
            attraction_to_weeks: "weeks", 0.0, 104.0, "weeks after cutting at which a fresh stem has aged into a mature one";
            size_exponent: "", -3.0, 3.0, "exponent of eggs per stem on the number of stems in the patch (100 stems: factor 1)";
            site_log_sd: "", 0.0, 3.0, "site effect on egg-laying, SD of its logarithm";
            patch_log_sd: "", 0.0, 3.0, "patch-within-site effect on egg-laying, SD of its logarithm";
            stem_dispersion_k: "", 0.01, 1000.0, "negative-binomial k of eggs per stem within a patch";
            full_shade_factor: "", 0.0, 10.0, "eggs in full shade relative to full sun";
        }
        choices {
            flight: Vec<(String, f64)>, "flight season: knots of (month-day, relative egg-laying), joined by straight lines";
        }
    }
}

settings! {
    /// The host plant.
    Plant => PlantNumbers {
        numbers {
            mature_stem_cm: "cm", 1.0, 10000.0, "stem with leaves that a mature stem offers";
            eaten_out_share: "", 0.0, 0.99, "share of a mature stem's leaves at which a stem counts as eaten out";
        }
    }
}

settings! {
    /// Cutting and regrowth. Each method brings its own values; a number given here overrides it.
    Cutting => CuttingNumbers {
        numbers {
            height_cm: "cm", 0.0, 200.0, "height at which stems are cut";
            regrowth_lag_weeks: "weeks", 0.0, 20.0, "time from cutting at 7.5 cm to fresh growth";
            lag_weeks_per_cm: "weeks/cm", -1.0, 1.0, "change of that time for every centimetre cut higher";
            regrowth_lag_sd_weeks: "weeks", 0.0, 5.0, "spread of that time between stems";
            regrown_share: "", 0.0, 1.0, "share of cut stems that regrow";
            regrowth_rate_per_week: "per week", 0.01, 50.0, "logistic growth rate of the leaves of a fresh stem";
            first_leaf_share: "", 0.001, 1.0, "share of a mature stem's leaves that a stem has when it turns fresh";
            moved_share: "", 0.0, 1.0, "share of eggs and larvae on cut stems that volunteers move to uncut stems";
        }
        choices {
            method: CuttingMethod, "how stems are cut";
        }
    }
}

settings! {
    /// What a volunteer sees.
    Surveying => SurveyingNumbers {
        numbers {
            misread_early: "", 0.0, 0.5, "share of L1-L3 whose stage is read one too low or too high";
            misread_late: "", 0.0, 0.5, "share of L4-L5 whose stage is read one too low or too high";
            fresh_detection: "odds ratio", 0.01, 100.0, "odds of finding a larva on a fresh stem relative to a mature stem";
            missed_share: "", 0.0, 1.0, "share of weeks that a volunteer misses";
            drop_out: "", 0.0, 1.0, "share of volunteers who drop out over a season";
            stem_miscount_sd: "", 0.0, 2.0, "error of the stem count, SD of its logarithm";
        }
        stages {
            found: "", 0.0, 1.0, "share of those present that are found";
        }
        choices {
            late_from: LateFrom, "youngest stage that counts as late stage";
        }
    }
}

settings! {
    /// One kind of ground cover, relative to short grass.
    Cover => CoverNumbers {
        numbers {
            speed_factor: "", 0.001, 20.0, "walking speed relative to short grass";
            straightness_factor: "", 0.0, 2.0, "mean cosine of the turn between strides relative to short grass";
            hazard_factor: "", 0.0, 100.0, "off-plant hazard relative to short grass";
        }
    }
}

settings! {
    /// The ground covers.
    Ground => GroundNumbers {
        groups {
            mown: Cover => CoverNumbers, "bare or mown ground";
            short_grass: Cover => CoverNumbers, "short grass";
            tall_grass: Cover => CoverNumbers, "tall grass";
            paved: Cover => CoverNumbers, "paved ground";
        }
    }
}

settings! {
    /// One patch.
    Patch => PatchNumbers {
        numbers {
            stems: "", 1.0, 2.0e9, "number of stems";
            density_per_m2: "per m2", 0.001, 1000.0, "stems per square metre";
            aspect: "", 0.01, 100.0, "length along the line between the patches over width across it";
            shade_share: "", 0.0, 1.0, "share of the day in shade";
        }
        choices {
            outline: Outline, "outline";
            placement: Placement, "how stems stand";
            cover: CoverKind, "ground cover inside the patch";
        }
    }
}

/// One patch of a site that is given by coordinates; what it leaves out is taken from `site.treated`
/// or `site.untouched`, by its treatment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlacedPatch {
    /// Name in tables and on maps.
    pub name: String,
    /// Centre, metres.
    pub centre_m: (f64, f64),
    /// What is done to it.
    pub treatment: Treatment,
    /// Its own settings.
    #[serde(default)]
    pub patch: Patch,
}

settings! {
    /// The site: its patches and the ground around them.
    Site => SiteNumbers {
        numbers {
            gap_m: "m", 0.0, 100000.0, "edge-to-edge distance between two patches";
            refuge_share: "", 0.0, 1.0, "share of the treated patch's stems that is left as a refuge";
            margin_m: "m", 1.0, 100000.0, "ground around the patches; a larva that walks beyond it is lost";
            cell_m: "m", 0.01, 10.0, "side of a cell of the ground grid";
        }
        choices {
            layout: LayoutKind, "layout family";
            cut_side: CutSide, "which side of the treated patch is cut";
            surroundings: CoverKind, "ground cover around the patches";
            between: CoverKind, "ground cover on the strip between two patches";
            areas: Vec<CoverArea>, "further rectangles of cover, the later on top";
            patches: Vec<PlacedPatch>, "patches of a site by coordinates";
        }
        groups {
            treated: Patch => PatchNumbers, "the patch that is cut";
            untouched: Patch => PatchNumbers, "the patch that is left alone";
        }
    }
}

settings! {
    /// Dates and lengths.
    Dates => DatesNumbers {
        numbers {
            lead_in_days: "days", 0.0, 365.0, "days simulated before cutting, so that eggs and larvae stand on the stems";
            laying_until_day: "days", 0.0, 365.0, "day after cutting on which egg-laying is no longer followed";
            run_out_days: "days", 0.0, 365.0, "days for which the last larvae are followed after that";
            first_survey_day: "days", 0.0, 365.0, "day of the first survey, after cutting";
            surveys: "", 1.0, 60.0, "number of surveys";
            days_between_surveys: "days", 0.25, 60.0, "days between surveys";
            survey_hour: "h", 0.0, 23.5, "hour of the day at which surveys are held";
            tick_h: "h", 0.05, 3.0, "length of the time step of life processes";
        }
        choices {
            cutting: String, "date of cutting, year-month-day";
        }
    }
}

settings! {
    /// Temperature and daylight.
    Weather => WeatherNumbers {
        numbers {
            mean_c: "C", -30.0, 60.0, "constant temperature";
            night_c: "C", -40.0, 60.0, "daily minimum";
            day_c: "C", -40.0, 60.0, "daily maximum";
            sunrise_h: "h", 0.0, 24.0, "hour of sunrise";
            sunset_h: "h", 0.0, 24.0, "hour of sunset";
        }
        choices {
            source: WeatherSource, "where temperatures come from";
        }
    }
}

settings! {
    /// What the answers are held against.
    Answers => AnswersNumbers {
        numbers {
            stray_tolerance: "", 0.0001, 0.9, "stray share that is still tolerable";
            decline_flight: "", 0.001, 1.0, "share of its highest below which the flight season is in decline";
            finished_share: "", 0.5, 0.999, "share of the larvae of a round of regrowth that must have pupated for it to be finished";
        }
    }
}

settings! {
    /// The sites that volunteers offer, one pair of patches each.
    Recruitment => RecruitmentNumbers {
        numbers {
            least_gap_m: "m", 0.0, 1000.0, "siting rule: smallest gap with which a pair is taken";
            stem_split_sd: "", 0.0, 3.0, "imbalance of stems within a pair, SD of the log ratio of the two patches";
            weather_sd_c: "degrees C", 0.0, 15.0, "spread of temperature between sites, SD of a shift of every hour";
            second_kind_share: "", 0.0, 1.0, "share of sites in a second kind of surroundings";
            second_kind_factor: "", 0.01, 100.0, "home ratio at sites of the second kind over that at the first";
        }
        choices {
            gap_m: super::recruitment::Spread, "gaps of the pairs offered, metres";
            stems: super::recruitment::Spread, "stems of both patches of a pair together";
            density_per_m2: super::recruitment::Spread, "stems per square metre, the same in both patches of a pair";
            shade_share: super::recruitment::Spread, "share of the day in shade, drawn for each patch";
            cover: Vec<(CoverKind, f64)>, "ground cover around and between the patches, with weights";
            offered: String, "CSV file of real sites offered, instead of gap_m and stems";
        }
    }
}

settings! {
    /// What an offered site must meet to be taken; the stray share is held against `answers.stray_tolerance`.
    Screening => ScreeningNumbers {
        numbers {
            least_stems: "", 1.0, 20000.0, "fewest stems of a part that is compared: a patch of a pair, a half of one patch";
            largest_size_ratio: "", 1.0, 1000.0, "difference in stems from which two patches make no pair";
            largest_false_ratio: "", 1.0, 100.0, "largest ratio of late-stage larvae per stem that unequal patches may show with nothing cut, as a factor either way";
            largest_half_drift: "", 0.0001, 1.0, "largest share of the late-stage larvae in a refuge half that may come from its cut half, where one patch is compared by halves";
            least_late_counted: "", 0.0, 10000.0, "fewest late-stage larvae that a volunteer can expect to count at a site in a season";
        }
        choices {
            permission: super::choices::PermissionRule, "whether a site needs its owner's permission to be accepted: Needed or Disregarded";
        }
    }
}

settings! {
    /// What a site costs its volunteer in time.
    Hours => HoursNumbers {
        numbers {
            travel_min: "min", 0.0, 1440.0, "travel and preparation for one visit, there and back";
            set_up_min: "min", 0.0, 1440.0, "finding, marking and measuring one patch, once a season";
            count_stem_min: "min", 0.0, 60.0, "counting one stem before cutting, once a season";
            cut_stem_min: "min", 0.0, 60.0, "cutting one stem";
            search_stem_min: "min", 0.0, 60.0, "searching one stem at a survey";
            notes_min: "min", 0.0, 1440.0, "writing down and handing in one survey";
        }
    }
}

settings! {
    /// A whole scenario as typed.
    Draft => Numbers {
        choices {
            name: String, "short name, also of the output folder";
            purpose: String, "what the scenario is for, in a sentence";
            species: String, "the animal";
            host: String, "the plant";
            extends: String, "preset or file that this one builds on";
        }
        groups {
            answers: Answers => AnswersNumbers, "what the answers are held against";
            site: Site => SiteNumbers, "the site";
            dates: Dates => DatesNumbers, "dates and lengths";
            weather: Weather => WeatherNumbers, "temperature and daylight";
            cutting: Cutting => CuttingNumbers, "cutting and regrowth";
            plant: Plant => PlantNumbers, "the host plant";
            laying: Laying => LayingNumbers, "egg-laying";
            development: Development => DevelopmentNumbers, "development";
            survival: Survival => SurvivalNumbers, "survival";
            feeding: Feeding => FeedingNumbers, "feeding";
            leaving: Leaving => LeavingNumbers, "leaving a stem";
            walking: Walking => WalkingNumbers, "walking";
            ground: Ground => GroundNumbers, "ground covers";
            surveying: Surveying => SurveyingNumbers, "surveys and volunteers";
            recruitment: Recruitment => RecruitmentNumbers, "sites that volunteers offer";
            screening: Screening => ScreeningNumbers, "what an offered site must meet";
            hours: Hours => HoursNumbers, "what a site costs its volunteer in time";
        }
    }
}
