//! Names of a text column, numbered.

use foldhash::fast::RandomState;
use std::collections::HashMap;

/// Names of a text column, numbered in order of first sight.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Names {
    names: Vec<String>,
    index: HashMap<String, u32, RandomState>,
}

impl Names {
    /// The number of a name, new or old.
    pub fn number(&mut self, name: &str) -> u32 {
        if let Some(i) = self.index.get(name) {
            return *i;
        }
        let i = self.names.len() as u32;
        self.names.push(name.to_string());
        self.index.insert(name.to_string(), i);
        i
    }

    /// The number of a name that is there.
    pub fn find(&self, name: &str) -> Option<u32> {
        self.index.get(name).copied()
    }

    /// The name of a number; empty where there is none.
    pub fn name(&self, number: u32) -> &str {
        self.names.get(number as usize).map_or("", String::as_str)
    }

    /// All names, by number.
    pub fn all(&self) -> &[String] {
        &self.names
    }
}
