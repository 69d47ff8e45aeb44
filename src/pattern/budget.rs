//! How long a search of patterns may go on.

/// Steps between two looks at the clock.
const STEPS_BETWEEN_LOOKS: usize = 1 << 14;

/// Steps that are left of a search, and whoever may end it sooner.
pub struct StepBudget<'a> {
    left: usize,
    /// Asked now and then: is it time to give up?
    is_late: &'a (dyn Fn() -> bool + Sync),
}

impl<'a> StepBudget<'a> {
    pub fn new(left: usize, is_late: &'a (dyn Fn() -> bool + Sync)) -> StepBudget<'a> {
        StepBudget { left, is_late }
    }

    pub fn left(&self) -> usize {
        self.left
    }

    /// Takes a step; `None` if it is time to give up.
    pub fn step(&mut self) -> Option<()> {
        self.take(1)?;
        let late = self.left.is_multiple_of(STEPS_BETWEEN_LOOKS) && (self.is_late)();
        (!late).then_some(())
    }

    /// Takes so many steps without a look at the clock; `None` if they are not left.
    pub fn take(&mut self, steps: usize) -> Option<()> {
        self.left = self.left.checked_sub(steps)?;
        Some(())
    }
}
