//! The least-squares solution with no coefficient below zero.

use crate::fits::positive::solve_positive;
use nalgebra::{DMatrix, DVector};

/// Minimises b'Ab/2 - b'g over b >= 0 for a positive definite A (p x p): Lawson
/// and Hanson's active set on the normal equations, which for a handful of
/// columns is exact to rounding.
pub(super) fn not_negative(a: &DMatrix<f64>, g: &DVector<f64>) -> DVector<f64> {
    let p = g.len();
    let mut free = vec![false; p];
    let mut x = DVector::zeros(p);
    let tolerance = 1e-12 * g.amax();
    // Each round frees a column for good or shows that it must stay at zero;
    // 3p rounds are Lawson and Hanson's own limit.
    for _ in 0..3 * p.max(1) {
        let pull = g - a * &x;
        let next = (0..p)
            .filter(|j| !free[*j] && pull[*j] > tolerance)
            .max_by(|i, j| pull[*i].total_cmp(&pull[*j]));
        let Some(next) = next else { break };
        free[next] = true;
        step_to_free_solution(a, g, &mut free, &mut x);
    }
    x
}

/// Moves x to the solution in the free columns, holding at zero those that
/// would pass below it on the way.
fn step_to_free_solution(
    a: &DMatrix<f64>,
    g: &DVector<f64>,
    free: &mut [bool],
    x: &mut DVector<f64>,
) {
    while let Some(target) = free_solution(a, g, free) {
        let blocked = (0..free.len())
            .filter(|j| free[*j] && target[*j] <= 0.0)
            .map(|j| (j, x[j] / (x[j] - target[j])))
            .min_by(|i, j| i.1.total_cmp(&j.1));
        let Some((hit, share)) = blocked else {
            *x = target;
            return;
        };
        let share = if share.is_finite() { share } else { 0.0 };
        *x += (target - &*x) * share;
        x[hit] = 0.0;
        free[hit] = false;
    }
}

fn free_solution(a: &DMatrix<f64>, g: &DVector<f64>, free: &[bool]) -> Option<DVector<f64>> {
    let kept: Vec<usize> = (0..free.len()).filter(|j| free[*j]).collect();
    if kept.is_empty() {
        return None;
    }
    let part = DMatrix::from_fn(kept.len(), kept.len(), |i, j| a[(kept[i], kept[j])]);
    let right = DVector::from_fn(kept.len(), |i, _| g[kept[i]]);
    let solved = solve_positive(&part, &right)?;
    let mut whole = DVector::zeros(free.len());
    for (i, j) in kept.into_iter().enumerate() {
        whole[j] = solved[i];
    }
    Some(whole)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// Every subset of free columns, the feasible one of least value.
    fn brute_force(a: &DMatrix<f64>, g: &DVector<f64>) -> DVector<f64> {
        let p = g.len();
        let value = |x: &DVector<f64>| 0.5 * x.dot(&(a * x)) - x.dot(g);
        let mut best = DVector::zeros(p);
        for mask in 1..1u32 << p {
            let free: Vec<bool> = (0..p).map(|j| mask >> j & 1 == 1).collect();
            let x = free_solution(a, g, &free).unwrap();
            if x.iter().all(|v| *v >= 0.0) && value(&x) < value(&best) {
                best = x;
            }
        }
        best
    }

    #[test]
    fn equals_the_best_of_all_subsets() {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        let mut held = 0;
        for _ in 0..500 {
            let rows = DMatrix::from_fn(12, 5, |_, _| rng.random_range(0.0..1.0));
            let y = DVector::from_fn(12, |_, _| rng.random_range(-1.0..1.5));
            let (a, g) = (rows.transpose() * &rows, rows.transpose() * y);
            let (fast, slow) = (not_negative(&a, &g), brute_force(&a, &g));
            assert!((&fast - &slow).amax() < 1e-10, "{fast} {slow}");
            held += fast.iter().filter(|v| **v == 0.0).count();
        }
        // The cases are hard enough to mean something.
        assert!(held > 500, "{held}");
    }
}
