//! How many sites must be recruited? Simulated studies made of simulated seasons.
pub mod effects;
pub mod pool;
pub mod power;
pub mod sites;
