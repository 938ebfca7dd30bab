//! The commands as they are typed: what they write, what they print, that they repeat, and that they can be stopped.

#[path = "commands/headlines.rs"]
mod headlines;
#[path = "support/hostile.rs"]
#[allow(dead_code)]
mod hostile;
#[path = "commands/hostile_tables.rs"]
mod hostile_tables;
#[path = "commands/nothing.rs"]
mod nothing;
#[path = "commands/printed.rs"]
mod printed;
#[path = "commands/ready.rs"]
mod ready;
#[path = "commands/repeated.rs"]
mod repeated;
#[path = "commands/run.rs"]
mod run;
#[path = "commands/stopped.rs"]
mod stopped;
