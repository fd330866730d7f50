//! A number -> a row of random choices, the same in every run: a small generator (xorshift64*).

pub struct Dice(u64);

impl Dice {
    pub fn new(number: u64) -> Self {
        // zero is the one state that the generator never leaves
        Self((number + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 16
    }

    /// One of `0..most`.
    pub fn below(&mut self, most: usize) -> usize {
        (self.next() % most as u64) as usize
    }

    /// One of `low..=high`.
    pub fn between(&mut self, low: u32, high: u32) -> u32 {
        low + self.below((high - low + 1) as usize) as u32
    }

    pub fn chance(&mut self, percent: usize) -> bool {
        self.below(100) < percent
    }

    pub fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())]
    }

    /// One of them, if there is one.
    pub fn any<T: Copy>(&mut self, from: &[T]) -> Option<T> {
        (!from.is_empty()).then(|| self.pick(from))
    }

    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for at in (1..list.len()).rev() {
            list.swap(at, self.below(at + 1));
        }
    }
}
