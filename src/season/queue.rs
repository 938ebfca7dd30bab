//! The event queue: what is to happen in each step, in linked lists inside one vector, so that nothing is allocated
//! once it has grown.

const END: u32 = u32::MAX;
const LANES: usize = 3;

/// What an entry is about.
#[derive(Debug, Clone, Copy)]
pub(super) enum Lane {
    /// The next event of a larva.
    Larvae,
    /// Regrowth of a stem.
    Stems,
    /// A look at how much of a stem's leaves is left.
    Leaves,
}

/// Ids by step and lane; the one entered last is taken first.
#[derive(Debug, Default)]
pub(super) struct Queue {
    heads: Vec<[u32; LANES]>,
    entries: Vec<(u32, u32)>,
    busy: Vec<u64>,
}

impl Queue {
    /// Empties the queue and makes room for a number of steps.
    pub fn reset(&mut self, steps: usize) {
        self.heads.clear();
        self.heads.resize(steps, [END; LANES]);
        self.entries.clear();
        self.busy.clear();
        self.busy.resize(steps / 64 + 1, 0);
    }

    /// Enters an id at a time in steps; times beyond the last step never come.
    pub fn enter(&mut self, lane: Lane, time: f64, id: usize) {
        let step = time as u32 as usize;
        let Some(heads) = self.heads.get_mut(step) else {
            return;
        };
        let head = &mut heads[lane as usize];
        self.entries.push((id as u32, *head));
        *head = (self.entries.len() - 1) as u32;
        self.busy[step / 64] |= 1 << (step % 64);
    }

    /// Keeps a step from being passed over although no id is entered.
    pub fn mark(&mut self, time: f64) {
        let step = time as u32 as usize;
        if step < self.heads.len() {
            self.busy[step / 64] |= 1 << (step % 64);
        }
    }

    /// Takes an id out of a step.
    pub fn take(&mut self, lane: Lane, step: usize) -> Option<usize> {
        let head = &mut self.heads.get_mut(step)?[lane as usize];
        let (id, next) = *self.entries.get(*head as usize)?;
        *head = next;
        Some(id as usize)
    }

    /// First step from `step` on for which something was ever entered.
    pub fn next_busy(&self, step: usize) -> usize {
        let from = step / 64;
        let mut passed = u64::MAX << (step % 64);
        for (word, bits) in self.busy.iter().enumerate().skip(from) {
            let bits = bits & passed;
            if bits != 0 {
                return word * 64 + bits.trailing_zeros() as usize;
            }
            passed = u64::MAX;
        }
        usize::MAX
    }

    /// Whether nothing is left of a lane in a step.
    pub fn is_empty(&self, lane: Lane, step: usize) -> bool {
        self.heads
            .get(step)
            .is_none_or(|heads| heads[lane as usize] == END)
    }
}
