//! Which shops of a long chain stand on the page: all are in the CSV files.

use crate::findings::shops::Shops;
use std::cmp::Reverse;

/// Shops on the page, at most.
const MOST: usize = 30;

/// The same findings with the shops that the page shows: all where they are no
/// more than [`MOST`]; else those that stand out, then those with most film
/// jobs, up to so many; in their order.
pub(super) fn on_page(x: &Shops) -> Shops {
    let mut places: Vec<usize> = (0..x.shops.len()).collect();
    places.sort_by_key(|i| {
        let shop = &x.shops[*i];
        (shop.said.is_empty(), Reverse(shop.offered.of), *i)
    });
    places.truncate(MOST);
    places.sort_unstable();
    Shops {
        shops: places.iter().map(|i| x.shops[*i].clone()).collect(),
        whole: x.whole.clone(),
        ..*x
    }
}
