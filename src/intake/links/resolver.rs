//! Finds the row that counts for a shop and key.

use super::super::chunk::key_field;
use super::super::keys::{KeyIndex, row_hash};
use super::LinkedTable;
use super::index::Index;
use super::stack::Stack;

/// Finds rows of a table by shop and key.
#[derive(Debug)]
pub(in super::super) struct Resolver<'s, 'a> {
    stack: &'s Stack<'a>,
    shop: usize,
    key: usize,
    with_shop: Option<&'s Index>,
    /// By key alone, for tables that carry no shop where this one does, or
    /// the other way round; `None` where nobody needs it.
    alone: Option<KeyIndex>,
    /// Rows whose key stands in several shops.
    several: Vec<bool>,
}

/// What a key stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in super::super) enum Answer {
    /// This row.
    Row(u32),
    /// No row.
    None,
    /// Rows of several shops, and none was named.
    Several,
}

impl<'s, 'a> Resolver<'s, 'a> {
    /// A resolver over the rows that count for their keys.
    pub(in super::super) fn new(table: &'s LinkedTable<'a>) -> Self {
        let stack = &table.stack;
        Self {
            stack,
            shop: stack.field("shop"),
            key: stack.field(key_field(stack.table)),
            with_shop: table.index.as_ref(),
            alone: None,
            several: Vec::new(),
        }
    }

    /// Makes it find rows by their key alone too.
    pub(in super::super) fn by_key_alone(&mut self, counts: impl Fn(u32) -> bool) {
        let mut alone = KeyIndex::with_rows(self.stack.len as usize);
        self.several = vec![false; self.stack.len as usize];
        for global in (0..self.stack.len).filter(|g| counts(*g)) {
            let key = self
                .stack
                .locate(global)
                .text(self.key)
                .unwrap_or("")
                .to_string();
            let is = |other| self.stack.locate(other).text(self.key) == Some(key.as_str());
            if let Some(before) = alone.put_new(row_hash("", &key), global, is) {
                self.several[global as usize] = true;
                self.several[before as usize] = true;
            }
        }
        self.alone = Some(alone);
    }

    /// The row of a shop and key. Where no shop is named, one of any shop
    /// serves; where one is, only its own, or one of a file that names none.
    pub(in super::super) fn find(&self, shop: &str, key: &str) -> Answer {
        let found = |shop| {
            let fields = (self.shop, self.key);
            self.with_shop?.find(self.stack, fields, (shop, key))
        };
        if let Some(row) = found(shop) {
            return Answer::Row(row);
        }
        let Some(alone) = &self.alone else {
            return Answer::None;
        };
        if !shop.is_empty() {
            let names_none = |row: &u32| {
                let at = self.stack.locate(*row);
                at.segment.column(self.shop).is_none()
            };
            return found("")
                .filter(names_none)
                .map_or(Answer::None, Answer::Row);
        }
        let is = |row| self.stack.locate(row).text(self.key) == Some(key);
        match alone.find(row_hash("", key), is) {
            None => Answer::None,
            Some(row) if self.several[row as usize] => Answer::Several,
            Some(row) => Answer::Row(row),
        }
    }
}

/// True where some file of one table carries a shop and some file of the
/// other does not, so that their keys meet without it.
pub(in super::super) fn meet_without_shop(a: &Stack<'_>, b: &Stack<'_>) -> bool {
    let at = |s: &Stack<'_>| s.field("shop");
    let without = |s: &Stack<'_>| s.segments.iter().any(|x| x.column(at(s)).is_none());
    (a.has("shop") && without(b)) || (b.has("shop") && without(a))
}
