//! What several simulations share: roots of covariances and normal draws.

use nalgebra::{DMatrix, DVector};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Share of the largest eigenvalue under which one is rounding.
const ROUNDING: f64 = 1e-12;

/// The columns r_k of a root of the symmetric `table`: Σ r_k r_k' = table.
/// A singular table has fewer of them than rows; one of zeros has none.
pub(crate) fn root(table: &DMatrix<f64>) -> Vec<DVector<f64>> {
    let eigen = table.clone().symmetric_eigen();
    let least = ROUNDING * eigen.eigenvalues.iter().copied().fold(0.0, f64::max);
    let pairs = eigen
        .eigenvalues
        .iter()
        .zip(eigen.eigenvectors.column_iter());
    pairs
        .filter(|(value, _)| **value > least)
        .map(|(value, vector)| vector * value.sqrt())
        .collect()
}

/// A draw of the standard normal.
pub(crate) fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// `centre` plus `scale` times a draw with the covariance that `root` is of.
pub(crate) fn around(
    centre: &DVector<f64>,
    root: &[DVector<f64>],
    scale: f64,
    rng: &mut ChaCha8Rng,
) -> DVector<f64> {
    let mut draw = centre.clone();
    for column in root {
        draw.axpy(scale * normal(rng), column, 1.0);
    }
    draw
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    #[test]
    fn a_root_gives_its_table_back_singular_or_not() {
        let full = DMatrix::from_row_slice(2, 2, &[2.0, 0.6, 0.6, 1.0]);
        let flat = DMatrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 4.0]);
        for (table, rank) in [(full, 2), (flat, 1), (DMatrix::zeros(2, 2), 0)] {
            let columns = root(&table);
            assert_eq!(columns.len(), rank);
            let sum = columns
                .iter()
                .fold(DMatrix::zeros(2, 2), |s, c| s + c * c.transpose());
            assert!((sum - table).amax() < 1e-12);
        }
    }

    #[test]
    fn draws_have_the_mean_and_spread_asked_for() {
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let table = DMatrix::from_row_slice(2, 2, &[2.0, 0.6, 0.6, 1.0]);
        let (centre, columns) = (DVector::from_vec(vec![3.0, -1.0]), root(&table));
        let mut sum = DVector::zeros(2);
        let mut square = DMatrix::zeros(2, 2);
        let draws = 40_000;
        for _ in 0..draws {
            let away = around(&centre, &columns, 2.0, &mut rng) - &centre;
            square += &away * away.transpose() / f64::from(draws);
            sum += away / f64::from(draws);
        }
        // Four standard errors of a mean and of a variance at 40,000 draws.
        assert!(sum.amax() < 0.06, "{sum}");
        assert!((square - table * 4.0).amax() < 0.24);
    }
}
