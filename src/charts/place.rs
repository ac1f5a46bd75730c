//! Room on the sheet: which labels fit where without lying on one another.

/// A rectangle of the view box, px, y downwards.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Room {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

impl Room {
    /// The square of `half` px around a point.
    pub(super) fn around(x: f64, y: f64, half: f64) -> Self {
        Self {
            left: x - half,
            top: y - half,
            right: x + half,
            bottom: y + half,
        }
    }

    pub(super) fn width(&self) -> f64 {
        self.right - self.left
    }

    /// The room with `gap` px more on either side.
    pub(super) fn wider(&self, gap: f64) -> Self {
        Self {
            left: self.left - gap,
            right: self.right + gap,
            ..*self
        }
    }

    /// True where the two share ground.
    pub(super) fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }

    /// True where `other` lies wholly within.
    pub(super) fn holds(&self, other: &Self) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && other.right <= self.right
            && other.bottom <= self.bottom
    }
}

/// Longest piece, px, that a slanting line is cut into to tell where it runs.
const PIECE: f64 = 6.0;

/// The rooms along a line from one point to another: one where it is level or
/// upright, a chain of small ones where it slants.
pub(super) fn along(from: (f64, f64), to: (f64, f64), half: f64) -> Vec<Room> {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let slants = dx.abs() > 1.0 && dy.abs() > 1.0;
    let pieces = if slants {
        (dx.abs().max(dy.abs()) / PIECE).ceil()
    } else {
        1.0
    };
    (0..pieces as usize)
        .map(|i| {
            let (a, b) = (i as f64 / pieces, (i as f64 + 1.0) / pieces);
            let (x0, x1) = (from.0 + a * dx, from.0 + b * dx);
            let (y0, y1) = (from.1 + a * dy, from.1 + b * dy);
            Room {
                left: x0.min(x1) - half,
                top: y0.min(y1) - half,
                right: x0.max(x1) + half,
                bottom: y0.max(y1) + half,
            }
        })
        .collect()
}

/// `wanted` heights moved as little as need be so that neighbours keep `gap`
/// px and all stay within `top..bottom`; the order is kept. Where there is no
/// room for all, they are spread evenly.
pub(super) fn spread(wanted: &[f64], gap: f64, top: f64, bottom: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|&a, &b| wanted[a].total_cmp(&wanted[b]));
    let needed = gap * wanted.len().saturating_sub(1) as f64;
    let gap = if needed > bottom - top {
        (bottom - top) / wanted.len().saturating_sub(1).max(1) as f64
    } else {
        gap
    };
    let mut out = vec![0.0; wanted.len()];
    let mut floor = top;
    for &i in &order {
        out[i] = wanted[i].max(floor);
        floor = out[i] + gap;
    }
    let mut ceiling = bottom;
    for &i in order.iter().rev() {
        out[i] = out[i].min(ceiling);
        ceiling = out[i] - gap;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_keep_their_distance_and_their_order() {
        assert_eq!(spread(&[50.0, 52.0], 14.0, 0.0, 100.0), [50.0, 64.0]);
        assert_eq!(spread(&[99.0, 98.0], 14.0, 0.0, 100.0), [100.0, 86.0]);
        assert_eq!(spread(&[5.0, 5.0, 5.0], 14.0, 0.0, 10.0), [0.0, 5.0, 10.0]);
        assert!(spread(&[], 14.0, 0.0, 10.0).is_empty());
    }

    #[test]
    fn a_slanting_line_leaves_the_corners_of_its_box_free() {
        let chain = along((0.0, 0.0), (100.0, 100.0), 1.0);
        let corner = Room::around(90.0, 10.0, 5.0);
        assert!(chain.iter().all(|piece| !piece.meets(&corner)));
        let middle = Room::around(50.0, 50.0, 2.0);
        assert!(chain.iter().any(|piece| piece.meets(&middle)));
    }
}
