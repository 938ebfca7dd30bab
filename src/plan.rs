//! A scenario made ready to run: everything that is the same in all of its seasons.

use crate::life::laying::Laying;
use crate::life::{Clock, Traits};
use crate::scenario::Scenario;
use crate::trouble::Outcome;
use crate::walk::Movement;
use crate::world::{Ground, Layout};

/// What all seasons of a scenario share: layout, clock, traits, movement, bare ground.
#[derive(Debug, Clone)]
pub struct Plan {
    /// The scenario.
    pub scenario: Scenario,
    /// Layout of patches.
    pub layout: Layout,
    /// Dates and weather.
    pub clock: Clock,
    /// Traits of the larvae.
    pub traits: Traits,
    /// How they walk.
    pub movement: Movement,
    /// How eggs are laid.
    pub laying: Laying,
    /// Ground without stems.
    pub ground: Ground,
}

impl Plan {
    /// Makes a scenario ready.
    ///
    /// # Errors
    /// When its patches overlap.
    pub fn of(scenario: Scenario) -> Outcome<Self> {
        let clock = Clock::of(&scenario);
        Self::with_clock(scenario, clock)
    }

    /// Makes a scenario ready with a clock that was worked out for the same dates, weather and larvae before.
    ///
    /// # Errors
    /// When its patches overlap.
    pub fn with_clock(scenario: Scenario, clock: Clock) -> Outcome<Self> {
        let layout = Layout::of(&scenario)?;
        let traits = Traits::of(&scenario);
        Ok(Self {
            clock,
            movement: Movement::of(&scenario, &traits),
            laying: Laying::of(&scenario),
            ground: Ground::of(&scenario, &layout),
            traits,
            layout,
            scenario,
        })
    }
}
