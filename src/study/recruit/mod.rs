//! How many sites must be recruited? Simulated studies made of simulated seasons.
pub mod pool;
pub mod sites;
