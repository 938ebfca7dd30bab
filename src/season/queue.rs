//! What is to happen in each tick, in linked lists inside one vector: nothing is allocated once it has grown.

const END: u32 = u32::MAX;
const KINDS: usize = 3;

/// What an entry is about.
#[derive(Debug, Clone, Copy)]
pub(super) enum Matter {
    /// The next event of a larva.
    Larva,
    /// Regrowth of a stem.
    Stem,
    /// A look at how much of a stem's leaves is left.
    Leaves,
}

/// Ids by tick and matter; the one entered last is taken first.
#[derive(Debug, Default)]
pub(super) struct Calendar {
    heads: Vec<[u32; KINDS]>,
    entries: Vec<(u32, u32)>,
    busy: Vec<u64>,
}

impl Calendar {
    /// Empties the calendar and makes room for a number of ticks.
    pub fn reset(&mut self, ticks: usize) {
        self.heads.clear();
        self.heads.resize(ticks, [END; KINDS]);
        self.entries.clear();
        self.busy.clear();
        self.busy.resize(ticks / 64 + 1, 0);
    }

    /// Enters an id at a time in ticks; times beyond the last tick never come.
    pub fn enter(&mut self, matter: Matter, time: f64, id: u32) {
        let tick = time as u32 as usize;
        let Some(heads) = self.heads.get_mut(tick) else {
            return;
        };
        let head = &mut heads[matter as usize];
        self.entries.push((id, *head));
        *head = (self.entries.len() - 1) as u32;
        self.busy[tick / 64] |= 1 << (tick % 64);
    }

    /// Keeps a tick from being passed over although no id is entered.
    pub fn mark(&mut self, time: f64) {
        let tick = time as u32 as usize;
        if tick < self.heads.len() {
            self.busy[tick / 64] |= 1 << (tick % 64);
        }
    }

    /// Takes an id out of a tick.
    pub fn take(&mut self, matter: Matter, tick: usize) -> Option<u32> {
        let head = &mut self.heads.get_mut(tick)?[matter as usize];
        let (id, next) = *self.entries.get(*head as usize)?;
        *head = next;
        Some(id)
    }

    /// First tick from `tick` on for which something was ever entered.
    pub fn next_busy(&self, tick: usize) -> usize {
        let from = tick / 64;
        let mut passed = u64::MAX << (tick % 64);
        for (word, bits) in self.busy.iter().enumerate().skip(from) {
            let bits = bits & passed;
            if bits != 0 {
                return word * 64 + bits.trailing_zeros() as usize;
            }
            passed = u64::MAX;
        }
        usize::MAX
    }

    /// Whether nothing is left of a matter in a tick.
    pub fn is_empty(&self, matter: Matter, tick: usize) -> bool {
        self.heads
            .get(tick)
            .is_none_or(|heads| heads[matter as usize] == END)
    }
}
