//! A run that is cut short goes on where it was and ends byte for byte as if nothing had happened.

#[path = "resume/damage.rs"]
mod damage;
#[path = "resume/disk.rs"]
mod disk;
#[path = "resume/folder.rs"]
mod folder;
#[path = "resume/kills.rs"]
mod kills;
#[path = "resume/obstacles.rs"]
mod obstacles;
#[path = "resume/records.rs"]
mod records;
#[path = "resume/two.rs"]
mod two;
