//! One pass down a chain of rows whose covariance V = sigma^2 D + K is
//! tridiagonal: Z'V^-1 Z and its first two derivatives in sigma^2.
//!
//! V = L P L' with P diagonal and L having ones on its diagonal, so that with
//! y_i = z_i - l_i y_(i-1)
//!
//! ```text
//! p_i = a_i - b_i l_i       l_i = b_i / p_(i-1)
//! Z'V^-1 Z = sum_i y_i y_i' / p_i        ln det V = sum_i ln p_i
//! ```
//!
//! where a_i and b_i move at the rates D_ii and D_i,i-1. Carrying the first
//! two derivatives of p, l and y along gives all that the REML score and
//! Kenward and Roger's rule ask for without solving for a single column: with
//! G = Z'V^-1 Z, G' = -Z'V^-1 D V^-1 Z and G'' = 2 Z'V^-1 D V^-1 D V^-1 Z.

use nalgebra::DMatrix;

/// Sums over the bottles with V at one sigma^2, all (p+1) x (p+1) over z.
pub(super) struct Tables {
    /// Z'V^-1 Z.
    pub(super) plain: DMatrix<f64>,
    /// -Z'V^-1 D V^-1 Z.
    pub(super) once: DMatrix<f64>,
    /// Z'V^-1 D V^-1 D V^-1 Z.
    pub(super) twice: DMatrix<f64>,
    pub(super) log_determinant: f64,
    /// tr(V^-1 D).
    pub(super) trace: f64,
    /// tr(V^-1 D V^-1 D).
    pub(super) trace2: f64,
}

/// A row's part of V and of D.
#[derive(Debug, Clone, Copy)]
pub(super) struct Link {
    /// V_ii.
    pub(super) diagonal: f64,
    /// V_i,i-1.
    pub(super) before: f64,
    /// D_ii.
    pub(super) rate: f64,
    /// D_i,i-1.
    pub(super) rate_before: f64,
}

/// A number with its first and second derivative in sigma^2.
type Jet = [f64; 3];

/// The sums so far, and the last row's p and y.
pub(super) struct Sums {
    size: usize,
    pivot: Jet,
    /// y and its derivatives, each `size` long.
    y: [Vec<f64>; 3],
    /// Upper triangles, column by column.
    plain: Vec<f64>,
    once: Vec<f64>,
    twice: Vec<f64>,
    /// ln det V.
    log: Jet,
}

impl Sums {
    pub(super) fn new(size: usize) -> Self {
        let table = || vec![0.0; size * size];
        let row = || vec![0.0; size];
        Self {
            size,
            pivot: [1.0, 0.0, 0.0],
            y: [row(), row(), row()],
            plain: table(),
            once: table(),
            twice: table(),
            log: [0.0; 3],
        }
    }

    /// Takes in the next row; `None` where V stops being positive definite.
    pub(super) fn add(&mut self, z: &[f64], link: Link) -> Option<()> {
        let alone = link.before == 0.0 && link.rate_before == 0.0;
        let pivot = if alone {
            [link.diagonal, link.rate, 0.0]
        } else {
            self.carry(z, link)
        };
        if pivot[0].is_nan() || pivot[0] <= 0.0 {
            return None;
        }
        self.pivot = pivot;
        let relative = pivot[1] / pivot[0];
        self.log[0] += pivot[0].ln();
        self.log[1] += relative;
        self.log[2] += pivot[2] / pivot[0] - relative * relative;
        let w = 1.0 / pivot[0];
        let w1 = -relative * w;
        let w2 = (2.0 * relative * relative - pivot[2] * w) * w;
        if alone {
            self.y[0].copy_from_slice(z);
            self.y[1].fill(0.0);
            self.y[2].fill(0.0);
            self.gather_alone([w, w1, w2]);
        } else {
            self.gather([w, w1, w2]);
        }
        Some(())
    }

    /// y of a row from that of the row before, and the row's pivot.
    fn carry(&mut self, z: &[f64], link: Link) -> Jet {
        let [p, p1, p2] = self.pivot;
        let (b, b1) = (link.before, link.rate_before);
        let l = b / p;
        let l1 = (b1 - l * p1) / p;
        let l2 = (-2.0 * l1 * p1 - l * p2) / p;
        let [y, y1, y2] = &mut self.y;
        for (j, z) in z.iter().enumerate() {
            let (v, v1, v2) = (y[j], y1[j], y2[j]);
            y[j] = z - l * v;
            y1[j] = -l1 * v - l * v1;
            y2[j] = -l2 * v - 2.0 * l1 * v1 - l * v2;
        }
        [
            link.diagonal - b * l,
            link.rate - b1 * l - b * l1,
            -2.0 * b1 * l1 - b * l2,
        ]
    }

    /// Adds w y y' and its derivatives.
    fn gather(&mut self, [w, w1, w2]: Jet) {
        let [y, y1, y2] = &self.y;
        for j in 0..self.size {
            let at = j * self.size;
            let by = w * y[j];
            let by1 = w1 * y[j] + w * y1[j];
            let by2 = w2 * y[j] + 2.0 * w1 * y1[j] + w * y2[j];
            let also1 = 2.0 * by1;
            for i in 0..=j {
                self.plain[at + i] += by * y[i];
                self.once[at + i] += by1 * y[i] + by * y1[i];
                self.twice[at + i] += by2 * y[i] + also1 * y1[i] + by * y2[i];
            }
        }
    }

    /// The same for a row that nothing links to the one before.
    fn gather_alone(&mut self, [w, w1, w2]: Jet) {
        let y = &self.y[0];
        for j in 0..self.size {
            let at = j * self.size;
            for (i, v) in y[..=j].iter().enumerate() {
                let square = v * y[j];
                self.plain[at + i] += w * square;
                self.once[at + i] += w1 * square;
                self.twice[at + i] += w2 * square;
            }
        }
    }

    pub(super) fn tables(self) -> Tables {
        let size = self.size;
        let table = |sums: Vec<f64>| {
            let mut table = DMatrix::from_vec(size, size, sums);
            table.fill_lower_triangle_with_upper_triangle();
            table
        };
        Tables {
            plain: table(self.plain),
            once: table(self.once),
            twice: table(self.twice) / 2.0,
            log_determinant: self.log[0],
            trace: self.log[1],
            trace2: -self.log[2],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slow twin: V and D as whole matrices, inverted.
    #[test]
    fn one_pass_agrees_with_whole_matrices() {
        let sigma2 = 0.7;
        // Rows 1 and 2 follow row 0; row 3 stands alone; row 4 follows it.
        let d_diagonal = [8.0, 5.0, 9.5, 4.0, 6.0];
        let d_before = [0.0, 1.2, 0.4, 0.0, 0.9];
        let k_diagonal = [2.0, 3.5, 1.0, 0.0, 2.2];
        let k_before = [0.0, -1.6, -0.8, 0.0, -0.7];
        let z: Vec<f64> = (0..15).map(|i| ((i * 7) % 11) as f64 - 2.5).collect();
        let mut sums = Sums::new(3);
        for i in 0..5 {
            let link = Link {
                diagonal: sigma2 * d_diagonal[i] + k_diagonal[i],
                before: sigma2 * d_before[i] + k_before[i],
                rate: d_diagonal[i],
                rate_before: d_before[i],
            };
            sums.add(&z[3 * i..3 * i + 3], link).unwrap();
        }
        let fast = sums.tables();
        let whole = |diagonal: &[f64], before: &[f64]| {
            DMatrix::from_fn(5, 5, |i, j| match i.abs_diff(j) {
                0 => diagonal[i],
                1 => before[i.max(j)],
                _ => 0.0,
            })
        };
        let d = whole(&d_diagonal, &d_before);
        let v = &d * sigma2 + whole(&k_diagonal, &k_before);
        let z = DMatrix::from_row_slice(5, 3, &z);
        let inverse = v.clone().try_inverse().unwrap();
        let plain = z.transpose() * &inverse * &z;
        let once = -(z.transpose() * &inverse * &d * &inverse * &z);
        let twice = z.transpose() * &inverse * &d * &inverse * &d * &inverse * &z;
        let near = |a: &DMatrix<f64>, b: &DMatrix<f64>| (a - b).amax() < 1e-12 * b.amax();
        assert!(near(&fast.plain, &plain), "{} {plain}", fast.plain);
        assert!(near(&fast.once, &once), "{} {once}", fast.once);
        assert!(near(&fast.twice, &twice), "{} {twice}", fast.twice);
        assert!((fast.log_determinant - v.determinant().ln()).abs() < 1e-12);
        assert!((fast.trace - (&inverse * &d).trace()).abs() < 1e-12);
        let trace2 = (&inverse * &d * &inverse * &d).trace();
        assert!((fast.trace2 - trace2).abs() < 1e-12, "{trace2}");
    }

    #[test]
    fn a_covariance_that_is_none_is_refused() {
        let link = |before| Link {
            diagonal: 1.0,
            before,
            rate: 1.0,
            rate_before: 0.0,
        };
        let mut sums = Sums::new(1);
        assert!(sums.add(&[1.0], link(0.0)).is_some());
        assert!(sums.add(&[1.0], link(1.0)).is_none());
        assert!(Sums::new(1).add(&[1.0], link(f64::NAN)).is_none());
    }
}
