use super::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Offers at multiples of the list price of two classes, accepted by
/// logit = 0.2 + slope ln(price / list) + seller, one row an offer.
fn offers(n: u64, slope: f64, spread: f64, seed: u64) -> Vec<PricedOffers> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let one = |_| {
        let van = rng.random_bool(0.4);
        let list = if van { 30_000.0 } else { 20_000.0 };
        let multiple = 1.0 + rng.random_range(-1.0..1.0) * spread;
        let price = (list * multiple / 100.0_f64).round() * 100.0;
        let seller = usize::from(rng.random_bool(0.5));
        let logit = 0.2 + slope * (price / list).ln() + [0.0, 0.5][seller];
        let accepted = u64::from(rng.random_bool(1.0 / (1.0 + (-logit).exp())));
        PricedOffers {
            class: if van { "van" } else { "sedan" }.into(),
            full: Some(true),
            finish: "gloss".into(),
            seller: ["P1", "P2"][seller].into(),
            price: Some(Minor(price as i64)),
            offers: 1,
            accepted,
            area: Some(20.0),
            ..PricedOffers::default()
        }
    };
    (0..n).map(one).collect()
}

/// With today's list and a cost of 100.00.
fn offered(all: &[PricedOffers]) -> Vec<Offered<'_>> {
    all.iter().map(listed).collect()
}

fn listed(o: &PricedOffers) -> Offered<'_> {
    let price = Minor(if o.class == "van" { 30_000 } else { 20_000 });
    Offered {
        offers: o,
        listed: Some(Listed {
            price,
            full: price,
            finish: "gloss".into(),
        }),
        cost: Some(10_000.0),
    }
}

fn find_in(all: &[PricedOffers]) -> Price {
    find(&offered(all), 1.0).unwrap()
}

#[test]
fn a_known_slope_and_the_best_price_are_found() {
    let all = offers(4_000, -4.0, 0.4, 1);
    let found = find_in(&all).said.unwrap();
    assert!(found.slope.holds(-4.0), "{:?}", found.slope);
    assert_eq!(found.effect, Effect::FewerWhenDearer);
    assert_eq!((found.offers, found.in_mix), (4_000, 1_000));
    assert!((found.usual_list - 24_000.0).abs() < 600.0);
    // The best multiple of the known law, by a search over the same mix.
    let left = |x: f64| {
        let of = |list: f64, share: f64, seller: f64| {
            let logit = 0.2 - 4.0 * x.ln() + seller;
            share * (list * x - 10_000.0) / (1.0 + (-logit).exp())
        };
        [0.0, 0.5]
            .map(|s| of(30_000.0, 0.4, s) + of(20_000.0, 0.6, s))
            .iter()
            .sum::<f64>()
    };
    let best = (600..1_400)
        .map(|i| f64::from(i) / 1_000.0)
        .max_by(|a, b| left(*a).total_cmp(&left(*b)))
        .unwrap();
    let Peak::Inside { price } = found.curve.peak else {
        panic!("{:?}", found.curve.peak)
    };
    assert!(price.holds(best), "{price:?} {best}");
    assert!(found.curve.flat_from < best && best < found.curve.flat_to);
}

#[test]
fn a_price_that_hardly_matters_peaks_at_the_top_of_what_was_tried() {
    let all = offers(1_500, -0.3, 0.15, 2);
    let found = find_in(&all).said.unwrap();
    let Peak::AtOrBeyondTop { tried } = found.curve.peak else {
        panic!("{:?}", found.curve.peak)
    };
    let multiple = |o: &PricedOffers| {
        let list = if o.class == "van" { 30_000.0 } else { 20_000.0 };
        o.price.unwrap().as_f64() / list
    };
    let beyond = |least: f64| all.iter().filter(|o| multiple(o) >= least).count();
    assert!(beyond(tried) >= 5 && beyond(tried * 1.0001) < 5, "{tried}");
    assert_eq!(found.curve.points.last().unwrap().price, tried);
}

#[test]
fn prices_of_declined_offers_must_be_written_down() {
    let mut all = offers(300, -2.0, 0.2, 3);
    all.iter_mut()
        .filter(|o| o.accepted == 0)
        .for_each(|o| o.price = None);
    let found = find_in(&all);
    assert_eq!(found.said, Err(Unsaid::NotWritten));
    let r = found.recorded;
    assert_eq!(r.declined_priced, 0);
    assert_eq!(
        (r.accepted_priced, r.accepted + r.declined),
        (r.accepted, 300)
    );
    // Four fifths will do, and a little less will not.
    let mut all = offers(300, -2.0, 0.2, 3);
    let declined: Vec<usize> = (0..300).filter(|i| all[*i].accepted == 0).collect();
    let bare = declined.len() / 5;
    declined[..bare].iter().for_each(|i| all[*i].price = None);
    assert!(find_in(&all).said.is_ok());
    declined[bare..bare + 2]
        .iter()
        .for_each(|i| all[*i].price = None);
    assert_eq!(find_in(&all).said, Err(Unsaid::NotWritten));
}

#[test]
fn too_few_offers_one_answer_and_one_price_are_outcomes() {
    let few = find_in(&offers(59, -2.0, 0.2, 4)).said;
    assert!(matches!(
        few,
        Err(Unsaid::TooFew(NotEnough {
            have: 59,
            need: 60,
            ..
        }))
    ));
    let mut all_yes = offers(100, -2.0, 0.2, 5);
    all_yes.iter_mut().for_each(|o| o.accepted = 1);
    let said = find_in(&all_yes).said;
    assert!(matches!(
        said,
        Err(Unsaid::TooFew(NotEnough {
            have: 0,
            need: 10,
            ..
        }))
    ));
    let same = offers(400, -2.0, 0.0, 6);
    assert_eq!(find_in(&same).said, Err(Unsaid::NeverVaried));
    assert!(find(&[], 1.0).unwrap().said.is_err());
}

#[test]
fn nothing_asked_and_nothing_listed_are_counted_apart() {
    let mut all = offers(400, -2.0, 0.2, 7);
    all[0].price = Some(Minor(0));
    let mut given = offered(&all);
    given[1].listed = None;
    given[2].cost = None;
    let found = find(&given, 1.0).unwrap();
    let r = found.recorded;
    assert_eq!((r.for_nothing, r.without_list), (1, 1));
    let a = found.said.unwrap();
    assert_eq!((a.offers, a.in_mix), (398, 397));
    let lacking = missing(&given, Missing::NoPrice(crate::findings::Lacking::Wage));
    assert!(matches!(lacking.said, Err(Unsaid::Missing(_))));
}

/// What is kept of a price and what a job costs scale the money alone.
#[test]
fn another_currency_changes_the_money_and_nothing_else() {
    let all = offers(500, -2.0, 0.25, 8);
    let mut dear = all.clone();
    let mut given = offered(&all);
    dear.iter_mut()
        .for_each(|o| o.price = o.price.map(|p| Minor(p.0 * 7)));
    let seven = |m: Minor| Minor(m.0 * 7);
    let mut scaled = offered(&dear);
    for o in &mut scaled {
        o.listed
            .iter_mut()
            .for_each(|l| (l.price, l.full) = (seven(l.price), seven(l.full)));
        o.cost = o.cost.map(|c| c * 7.0);
    }
    let a = find(&given, 0.9).unwrap().said.unwrap();
    let b = find(&scaled, 0.9).unwrap().said.unwrap();
    assert!((a.slope.value - b.slope.value).abs() < 1e-8);
    let near = |x: f64, y: f64| (x - y).abs() <= 1e-6 * y.abs().max(1.0);
    assert!(near(
        7.0 * a.curve.best.contribution.value,
        b.curve.best.contribution.value
    ));
    assert!(near(a.curve.best.price, b.curve.best.price));
    // The order of the offers is no part of it either.
    given.reverse();
    let c = find(&given, 0.9).unwrap().said.unwrap();
    assert!(near(a.slope.value, c.slope.value) && near(a.slope.low, c.slope.low));
}
