//! Why linking put records aside: in full for as many records as are kept one
//! by one, by reason alone for more. A file whose every record is put aside
//! must not take many times its own size to say so.

use super::super::intake::REJECTED_KEPT;
use super::super::reason::{Fault, REASONS, Reason};
use super::RecordId;
use std::collections::BTreeMap;

/// The faults of records that linking put aside.
#[derive(Debug)]
pub(in super::super) struct Whys {
    full: BTreeMap<RecordId, Vec<Fault>>,
    /// Reasons, as bits in their order.
    more: BTreeMap<RecordId, u16>,
    /// Records whose faults are kept in full, at most.
    room: usize,
}

impl Default for Whys {
    fn default() -> Self {
        Self {
            full: BTreeMap::new(),
            more: BTreeMap::new(),
            room: REJECTED_KEPT,
        }
    }
}

fn bit(reason: Reason) -> u16 {
    1 << (reason as u16)
}

impl Whys {
    /// Adds a fault, once.
    pub(super) fn add(&mut self, id: RecordId, fault: Fault) {
        let Self { full, more, room } = self;
        if let Some(faults) = full.get_mut(&id) {
            if !faults.contains(&fault) {
                faults.push(fault);
            }
        } else if full.len() < *room && !more.contains_key(&id) {
            full.insert(id, vec![fault]);
        } else {
            *more.entry(id).or_default() |= bit(fault.reason);
        }
    }

    /// Forgets a record, which is not put aside after all.
    pub(super) fn remove(&mut self, id: RecordId) {
        self.full.remove(&id);
        self.more.remove(&id);
    }

    pub(super) fn is_empty(&self) -> bool {
        self.full.is_empty() && self.more.is_empty()
    }

    /// A record's faults; none where only its reasons are kept.
    pub(in super::super) fn of(&self, id: RecordId) -> &[Fault] {
        self.full.get(&id).map_or(&[], Vec::as_slice)
    }

    /// A record's reasons, each once, in order.
    pub(in super::super) fn reasons(&self, id: RecordId) -> Vec<Reason> {
        let full = self.of(id).iter().map(|f| bit(f.reason));
        let more = self.more.get(&id).copied();
        let bits = full.chain(more).fold(0, |all, bit| all | bit);
        let mut reasons = REASONS.to_vec();
        reasons.retain(|r| bits & bit(*r) != 0);
        reasons
    }

    /// True where a record has a fault of this reason.
    pub(super) fn has(&self, id: RecordId, reason: Reason) -> bool {
        let more = self.more.get(&id).is_some_and(|b| b & bit(reason) != 0);
        more || self.of(id).iter().any(|f| f.reason == reason)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn id(record: u32) -> RecordId {
        RecordId { file: 0, record }
    }

    fn fault(reason: Reason, found: &str) -> Fault {
        Fault {
            column: None,
            reason,
            found: found.into(),
            expected: String::new(),
        }
    }

    #[test]
    fn beyond_the_room_reasons_are_kept_and_faults_are_not() {
        let mut all = Whys {
            room: 2,
            ..Whys::default()
        };
        for record in 0..4 {
            all.add(id(record), fault(Reason::ForeignKeyError, "a"));
            all.add(id(record), fault(Reason::ForeignKeyError, "a"));
            all.add(id(record), fault(Reason::UniqueError, "b"));
        }
        let kept: Vec<usize> = (0..5).map(|r| all.of(id(r)).len()).collect();
        assert_eq!(kept, [2, 2, 0, 0, 0]);
        let both = [Reason::UniqueError, Reason::ForeignKeyError];
        for record in 0..4 {
            assert_eq!(all.reasons(id(record)), both);
            assert!(all.has(id(record), Reason::UniqueError));
            assert!(!all.has(id(record), Reason::NulByte));
        }
        assert!(all.reasons(id(4)).is_empty());
        // Room that becomes free again is for records not yet seen.
        all.remove(id(0));
        all.add(id(3), fault(Reason::NulByte, "c"));
        assert_eq!((all.of(id(3)).len(), all.reasons(id(3)).len()), (0, 3));
        (1..4).for_each(|r| all.remove(id(r)));
        assert!(all.is_empty());
    }
}
