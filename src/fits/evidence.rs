//! Which fit a figure comes from, and what it rests on.

/// Which of two fits to read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// The window's jobs (and bottles) alone.
    DataAlone,
    /// With the constants in force as evidence.
    Blended,
}

/// What a blended figure rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Evidence {
    /// Jobs, without a constant in force.
    Jobs,
    /// Jobs and the constant in force.
    JobsAndConstant,
    /// No job: the constant in force as it stands.
    ConstantOnly,
    /// Neither.
    None,
}

impl Evidence {
    /// From whether there are jobs, and a constant in force.
    pub fn of(jobs: bool, constant: bool) -> Self {
        match (jobs, constant) {
            (true, true) => Self::JobsAndConstant,
            (true, false) => Self::Jobs,
            (false, true) => Self::ConstantOnly,
            (false, false) => Self::None,
        }
    }
}
