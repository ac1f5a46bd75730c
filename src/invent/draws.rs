//! Random numbers: one stream for each purpose and shop, so that a new column
//! with a purpose of its own shifts no other.

use super::law::Residual;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Exp1, StandardNormal, StudentT};

/// What a stream of random numbers is for. New purposes go at the end.
#[derive(Debug, Clone, Copy)]
pub(super) enum Purpose {
    Season,
    Day,
    People,
    Effects,
    Vehicle,
    Area,
    Offer,
    Sample,
    Price,
    Accept,
    Discount,
    Quote,
    FilmPrice,
    Who,
    Clock,
    MinutesResidual,
    UseResidual,
    Measured,
    Spells,
    Air,
    Release,
    Callback,
    Failure,
    Inspection,
    Bottle,
    Shops,
    Count,
}

/// Streams that a shop may use; far above what there are.
const STREAMS_A_SHOP: u64 = 256;

/// The streams of one shop.
#[derive(Debug)]
pub(super) struct Draws {
    streams: [ChaCha8Rng; Purpose::Count as usize],
    residual: Residual,
    t5: StudentT<f64>,
}

/// One stream.
#[derive(Debug)]
pub(super) struct Stream<'a>(&'a mut ChaCha8Rng);

impl Draws {
    /// The streams of shop number `shop` under a seed.
    pub(super) fn new(seed: u64, shop: u64, residual: Residual) -> Option<Self> {
        let root = ChaCha8Rng::seed_from_u64(seed);
        let streams = std::array::from_fn(|purpose| {
            let mut stream = root.clone();
            stream.set_stream(shop * STREAMS_A_SHOP + purpose as u64 + 1);
            stream
        });
        let t5 = StudentT::new(5.0).ok()?;
        Some(Self {
            streams,
            residual,
            t5,
        })
    }

    /// The stream of a purpose.
    pub(super) fn of(&mut self, purpose: Purpose) -> Stream<'_> {
        Stream(&mut self.streams[purpose as usize])
    }

    /// A residual with mean 0 and sd 1.
    pub(super) fn residual(&mut self, purpose: Purpose) -> f64 {
        let stream = &mut self.streams[purpose as usize];
        match self.residual {
            Residual::Normal => StandardNormal.sample(stream),
            Residual::T5 => self.t5.sample(stream) / (5.0_f64 / 3.0).sqrt(),
        }
    }
}

impl Stream<'_> {
    /// Uniform on 0 (included) to 1 (not).
    pub(super) fn unit(&mut self) -> f64 {
        const STEP: f64 = 1.0 / (1_u64 << 53) as f64;
        (self.0.next_u64() >> 11) as f64 * STEP
    }

    /// Uniform between two ends.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number from 0 to `n` - 1; 0 where `n` is 0.
    pub(super) fn below(&mut self, n: u64) -> u64 {
        ((self.unit() * n as f64) as u64).min(n.saturating_sub(1))
    }

    /// True with chance `p`.
    pub(super) fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// Normal with mean 0 and the given sd.
    pub(super) fn normal(&mut self, sd: f64) -> f64 {
        let z: f64 = StandardNormal.sample(self.0);
        z * sd
    }

    /// Exponential with the given mean.
    pub(super) fn waiting(&mut self, mean: f64) -> f64 {
        let e: f64 = Exp1.sample(self.0);
        e * mean
    }

    /// One of `items`, by weight. The last where rounding leaves none, `None`
    /// only where there are none.
    pub(super) fn one_of<T: Copy>(&mut self, items: &[T], weights: &[f64]) -> Option<T> {
        let total: f64 = weights.iter().sum();
        let mut left = self.unit() * total;
        for (item, weight) in items.iter().zip(weights) {
            left -= weight;
            if left < 0.0 {
                return Some(*item);
            }
        }
        items.last().copied()
    }
}

/// `x` rounded to a number of decimals, as it will stand in the file.
pub(super) fn rounded(x: f64, decimals: u32) -> f64 {
    let scale = f64::from(10_u32.pow(decimals));
    (x * scale).round() / scale
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mean_and_sd(x: &[f64]) -> [f64; 2] {
        let n = x.len() as f64;
        let mean = x.iter().sum::<f64>() / n;
        let var = x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
        [mean, var.sqrt()]
    }

    #[test]
    fn streams_do_not_disturb_each_other() {
        let take = |busy: usize| {
            let mut d = Draws::new(7, 3, Residual::Normal).unwrap();
            for _ in 0..busy {
                d.of(Purpose::Day).unit();
            }
            d.of(Purpose::Area).unit()
        };
        assert_eq!(take(0), take(1000));
        let other = Draws::new(7, 4, Residual::Normal).unwrap();
        let mut other = other;
        assert_ne!(take(0), other.of(Purpose::Area).unit());
    }

    #[test]
    fn residuals_have_mean_0_and_sd_1_whatever_their_shape() {
        for shape in [Residual::Normal, Residual::T5] {
            let mut d = Draws::new(1, 0, shape).unwrap();
            let x: Vec<f64> = (0..200_000)
                .map(|_| d.residual(Purpose::UseResidual))
                .collect();
            let [mean, sd] = mean_and_sd(&x);
            // 4 standard errors of a mean and (t5: kurtosis 9) of an sd.
            assert!(mean.abs() < 4.0 / 200_000_f64.sqrt(), "{shape:?} {mean}");
            let se = (8.0_f64 / 4.0 / 200_000.0).sqrt();
            assert!((sd - 1.0).abs() < 4.0 * se, "{shape:?} {sd}");
        }
    }

    #[test]
    fn weights_are_kept_and_no_items_give_none() {
        let mut d = Draws::new(1, 0, Residual::Normal).unwrap();
        let mut s = d.of(Purpose::Vehicle);
        let hits = (0..10_000)
            .filter(|_| s.one_of(&[false, true], &[3.0, 1.0]) == Some(true))
            .count();
        assert!((2_300..2_700).contains(&hits), "{hits}");
        assert_eq!(s.one_of::<u8>(&[], &[]), None);
    }
}
