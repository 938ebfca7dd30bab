//! Events by tick, in linked lists inside one vector: nothing is allocated once it has grown.

const END: u32 = u32::MAX;

/// Buckets of ids by tick.
#[derive(Debug, Default)]
pub(super) struct Buckets {
    heads: Vec<u32>,
    entries: Vec<(u32, u32)>,
}

impl Buckets {
    /// Empties the buckets and makes room for a number of ticks.
    pub fn reset(&mut self, ticks: usize) {
        self.heads.clear();
        self.heads.resize(ticks, END);
        self.entries.clear();
    }

    /// Enters an id at a time in ticks; times beyond the last tick never come.
    pub fn enter(&mut self, time: f64, id: u32) {
        let Some(head) = self.heads.get_mut(time as usize) else {
            return;
        };
        self.entries.push((id, *head));
        *head = (self.entries.len() - 1) as u32;
    }

    /// Takes an id out of a tick's bucket.
    pub fn take(&mut self, tick: usize) -> Option<u32> {
        let head = self.heads.get_mut(tick)?;
        let (id, next) = *self.entries.get(*head as usize)?;
        *head = next;
        Some(id)
    }

    /// Whether nothing is left at a tick.
    pub fn is_empty(&self, tick: usize) -> bool {
        self.heads.get(tick).is_none_or(|head| *head == END)
    }
}
