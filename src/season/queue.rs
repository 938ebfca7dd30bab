//! Events by tick, in linked lists inside one vector: nothing is allocated once it has grown.

const END: u32 = u32::MAX;

/// Buckets of ids by tick.
#[derive(Debug, Default)]
pub(super) struct Buckets {
    heads: Vec<u32>,
    entries: Vec<(u32, u32)>,
    busy: Vec<u64>,
}

impl Buckets {
    /// Empties the buckets and makes room for a number of ticks.
    pub fn reset(&mut self, ticks: usize) {
        self.heads.clear();
        self.heads.resize(ticks, END);
        self.entries.clear();
        self.busy.clear();
        self.busy.resize(ticks / 64 + 1, 0);
    }

    /// Enters an id at a time in ticks; times beyond the last tick never come.
    pub fn enter(&mut self, time: f64, id: u32) {
        let Some(head) = self.heads.get_mut(time as usize) else {
            return;
        };
        self.busy[time as usize / 64] |= 1 << (time as usize % 64);
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

    /// First tick from `tick` on at which something was ever entered.
    pub fn next_busy(&self, tick: usize) -> usize {
        let mut word = tick / 64;
        let mut bits = self.busy.get(word).copied().unwrap_or(0) & (u64::MAX << (tick % 64));
        while bits == 0 {
            word += 1;
            match self.busy.get(word) {
                Some(next) => bits = *next,
                None => return usize::MAX,
            }
        }
        word * 64 + bits.trailing_zeros() as usize
    }

    /// Whether nothing is left at a tick.
    pub fn is_empty(&self, tick: usize) -> bool {
        self.heads.get(tick).is_none_or(|head| *head == END)
    }
}
