//! Whatever is given to the program: one clear message with its place, exit code 2, and nothing written; never a
//! panic, a hang or a blow-up.

#[path = "bad_input/data_files.rs"]
mod data_files;
#[path = "bad_input/fault.rs"]
mod fault;
#[path = "bad_input/inputs.rs"]
mod inputs;
#[path = "bad_input/mutated.rs"]
mod mutated;
#[path = "bad_input/names.rs"]
mod names;
#[path = "bad_input/options.rs"]
mod options;
#[path = "bad_input/scenarios.rs"]
mod scenarios;
#[path = "bad_input/volume.rs"]
mod volume;
#[path = "bad_input/words.rs"]
mod words;
