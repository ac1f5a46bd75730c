//! Places that are links, lie within the input, or have names that few have.

use super::{Two, content, done, names, not_done, review};
use std::fs;

#[cfg(unix)]
#[test]
fn a_link_to_a_review_stays_a_link() {
    use std::os::unix::fs::symlink;
    let two = Two::new();
    let real = two.dir.path().join("real");
    fs::create_dir(&real).unwrap();
    let link = two.dir.path().join("link");
    symlink(&real, &link).unwrap();
    for shop in [0, 1] {
        done(&review(&two.shops[shop], &link).output().unwrap());
        assert!(content(&real) == two.reviews[shop]);
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    }
    let lost = two.dir.path().join("lost");
    symlink(two.dir.path().join("nothing"), &lost).unwrap();
    let said = not_done(&review(&two.shops[0], &lost).output().unwrap());
    assert!(said.contains("a link to nothing"), "{said}");
}

#[test]
fn a_review_within_the_input_is_never_input() {
    let two = Two::new();
    let shop = &two.shops[0];
    let wild = ["jobs", "coatings", "surfaces", "bottles", "callbacks"];
    let wild = wild.map(|t| format!("{t} = [\"**/{t}.csv\"]"));
    fs::write(
        shop.join("shop.toml"),
        format!("[files]\n{}\n", wild.join("\n")),
    )
    .unwrap();
    let place = shop.join("mine");
    done(&review(shop, &place).output().unwrap());
    let first = content(&place);
    // Were tables of the review read, they would be jobs with other headings.
    fs::write(place.join("tables/jobs.csv"), "no,jobs,at,all\n").unwrap();
    fs::create_dir_all(shop.join(".mine.tallycoat-new-a/tables")).unwrap();
    fs::write(shop.join(".mine.tallycoat-new-a/tables/jobs.csv"), "no\n").unwrap();
    done(&review(shop, &place).output().unwrap());
    assert!(content(&place) == first);
    assert!(names(shop).iter().all(|n| !n.starts_with('.')));
}

/// `--out .` within an earlier review, `..`, and a trailing slash.
#[test]
fn places_without_a_name_of_their_own_are_found() {
    let two = Two::new();
    let place = two.place();
    let shop = fs::canonicalize(&two.shops[0]).unwrap();
    fs::create_dir_all(&place).unwrap();
    let within = |out: &str| {
        let mut command = review(&shop, out.as_ref());
        done(&command.current_dir(&place).output().unwrap());
        two.holds(0);
    };
    within(".");
    within("tables/..");
    within("../r/");
    let said = not_done(&review(&shop, "/".as_ref()).output().unwrap());
    assert!(said.contains("/: "), "{said}");
}

#[test]
fn names_may_hold_spaces_and_need_not_be_text() {
    let two = Two::new();
    let place = two.dir.path().join("a  place, \"quoted\"\nand broken");
    done(&review(&two.shops[0], &place).output().unwrap());
    assert!(content(&place) == two.reviews[0]);
    #[cfg(target_os = "linux")]
    {
        use std::ffi::OsStr;
        use std::os::unix::ffi::OsStrExt;
        let odd = |name: &'static [u8]| two.dir.path().join(OsStr::from_bytes(name));
        let shop = odd(b"shop \xff");
        fs::rename(&two.shops[0], &shop).unwrap();
        fs::write(shop.join("shop.toml"), "[files]\njobs = \"*jobs.csv\"\n").unwrap();
        // Two places whose names look alike once they are made text.
        let places = [odd(b"r \xfe"), odd(b"r \xfd")];
        for place in &places {
            done(&review(&shop, place).output().unwrap());
        }
        let [a, b] = places.map(|p| content(&p));
        assert!(a.len() > 10 && a == b);
    }
}
