//! Does the owner's letter hold two pages whatever the record says, give text as text, and say nothing it must not?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod command;

use command::{Ran, ferrowane, file, folder};
use ferrowane::report::provenance::without;
use lopdf::Document;
use std::path::{Path, PathBuf};

const DAY: &str = "2026-03-10";
const HOSTILE: &str = "<script>alert(\"x\")</script> & </main> 'quoted' \u{5e9}\u{5dc}\u{5d5}\u{5dd}";

/// Runs `record` on the record of a folder, which has to go well.
fn record(folder: &Path, more: &[&str]) {
    let db = folder.join("shop.db");
    let ran = ferrowane(&[&["record", "--file", db.to_str().unwrap()], more].concat());
    assert_eq!(ran.code, 0, "{}", ran.notes);
}

/// A record with one car of the demo.
fn with_car(name: &str, owner: &str) -> PathBuf {
    let folder = folder(&format!("letter_{name}"));
    let case = "demo/cases/street_daily.toml";
    record(&folder, &["car", "add", "--ref", "A-1", "--case", case, "--owner", owner]);
    folder
}

fn letter(folder: &Path, car: &str, more: &[&str]) -> Ran {
    let (db, out) = (folder.join("shop.db"), folder.join("out"));
    let first = ["letter", "--record", db.to_str().unwrap(), car, "--out", out.to_str().unwrap()];
    ferrowane(&[&first, &["--histories", "1"][..], more].concat())
}

/// The letter of a folder as HTML and as the text of each page of its PDF, without blanks.
fn written(folder: &Path, more: &[&str]) -> (String, Vec<String>) {
    let ran = letter(folder, "A-1", &[&["--as-of", DAY], more].concat());
    assert_eq!(ran.code, 0, "{}", ran.notes);
    let html = std::fs::read_to_string(folder.join("out/letter.html")).unwrap();
    let pdf = Document::load(folder.join("out/letter.pdf")).unwrap();
    let pages = pdf.get_pages();
    let text = |page: &u32| pdf.extract_text(&[*page]).unwrap().split_whitespace().collect();
    (html, pages.keys().map(text).collect())
}

fn squeezed(words: &str) -> String {
    words.split_whitespace().collect()
}

#[test]
fn property_two_pages_of_selectable_text_and_the_same_bytes_again() {
    let folder = with_car("plain", "M. of the boat shed");
    let table =
        "car,date,location,grade,wall_mm\nA-1,2022-04-03,run,Ri 1,\nA-1,2024-03-30,node 2,Ri 3,1.86\n";
    record(&folder, &["inspection", "import", &file(&folder, "in.csv", table)]);
    record(&folder, &["quote", "add", "--car", "A-1", "--date", "2025-01-05", "--amount", "1450"]);
    let head = file(&folder, "head.txt", "Cradle Loft\nShore Road 3\n");
    let more = ["--letterhead", &head, "--costs", "demo/costs.toml"];
    let (html, pages) = written(&folder, &more);
    assert_eq!(pages.len(), 2);
    for words in
        ["Cradle Loft", "for: M. of the boat shed", "The wall was last read on 2024-03-30 at node 2: 1.86 mm"]
    {
        assert!(html.contains(words) && pages[0].contains(&squeezed(words)), "no `{words}` in {}", pages[0]);
    }
    for words in
        ["dehumidified tent", "wax film, renewed yearly", "1450", "node 2 Ri 3", "licensed inspector decide"]
    {
        assert!(html.contains(words) && pages[1].contains(&squeezed(words)), "no `{words}` in {}", pages[1]);
    }
    for (number, page) in pages.iter().enumerate() {
        let foot = format!("page {} of 2", number + 1);
        for words in [foot.as_str(), DAY, "seed 1", "32768 histories", env!("CARGO_PKG_VERSION")] {
            assert!(page.contains(&squeezed(words)), "no `{words}` in {page}");
        }
    }
    let first = std::fs::read(folder.join("out/letter.pdf")).unwrap();
    let (again, _) = written(&folder, &[&more[..], &["--threads", "1"]].concat());
    assert_eq!(std::fs::read(folder.join("out/letter.pdf")).unwrap(), first);
    assert_eq!(again, html);
}

/// Fonts inside, no bitmap, title and language, and nobody named as author.
#[test]
fn property_the_pdf_is_self_contained() {
    let folder = with_car("inside", "X");
    written(&folder, &[]);
    let pdf = Document::load(folder.join("out/letter.pdf")).unwrap();
    let dictionaries: Vec<_> = pdf
        .objects
        .values()
        .filter_map(|object| {
            object.as_dict().ok().or_else(|| object.as_stream().ok().map(|stream| &stream.dict))
        })
        .collect();
    let named = |key: &[u8], name: &[u8]| {
        dictionaries
            .iter()
            .filter(|dict| dict.get(key).and_then(lopdf::Object::as_name).is_ok_and(|n| n == name))
            .count()
    };
    assert_eq!(named(b"Subtype", b"Image"), 0);
    let fonts = named(b"Type", b"FontDescriptor");
    let embedded =
        dictionaries.iter().filter(|dict| dict.has(b"FontFile2") || dict.has(b"FontFile3")).count();
    assert!(fonts >= 2 && embedded == fonts, "{embedded} of {fonts} fonts embedded");
    assert!(named(b"Type", b"StructElem") > 50);
    let catalog = pdf.catalog().unwrap();
    assert_eq!(catalog.get(b"Lang").unwrap().as_str().unwrap(), b"en");
    let info = pdf.trailer.get(b"Info").and_then(|info| pdf.dereference(info)).unwrap().1.as_dict().unwrap();
    assert!(info.has(b"Title") && !info.has(b"Author") && !info.has(b"CreationDate"), "{info:?}");
}

#[test]
fn property_hostile_and_endless_text_is_text_and_two_pages() {
    let owner = format!("{HOSTILE} {}", "W".repeat(400));
    let folder = with_car("hostile", &owner);
    let long = format!("{HOSTILE} {}", "mud and flakes ".repeat(60));
    let unbroken = "W".repeat(1000);
    let row = |year: i32, place: usize| {
        let remark = if place.is_multiple_of(2) { long.replace('"', "\"\"") } else { unbroken.clone() };
        let location = ["run", "node 1", "node 2", "node 3", "node 4", "bottom"][place];
        format!("A-1,{year}-05-0{},{location},Ri 3,\"{remark}\"\n", 1 + place / 3)
    };
    let rows: Vec<String> = (2015..=2025)
        .flat_map(|year| (0..6).map(move |place| (year, place)))
        .map(|(y, p)| row(y, p))
        .collect();
    let table = "car,date,location,grade,remark\n".to_owned() + &rows.concat();
    record(&folder, &["inspection", "import", &file(&folder, "in.csv", &table)]);
    let quote = |day| format!("A-1,2025-06-{day:02},999999999.25,{}\n", "W".repeat(900));
    let quotes = (1..=30).map(quote).collect::<Vec<String>>().concat();
    let quotes = file(&folder, "quotes.csv", &format!("car,date,amount,remark\n{quotes}"));
    record(&folder, &["quote", "import", &quotes]);
    let head = file(&folder, "head.txt", &vec!["W".repeat(90); 6].join("\n"));
    let (html, pages) = written(&folder, &["--letterhead", &head, "--costs", "demo/costs.toml"]);
    assert_eq!(pages.len(), 2);
    assert!(!html.contains("<script") && html.contains("&lt;script&gt;alert(&quot;x&quot;)"), "{html}");
    assert!(pages[0].contains(&squeezed("<script>alert(\"x\")</script> &")), "{}", pages[0]);
    for words in ["earlier dates are left out here", "earlier quotes are left out here"] {
        assert!(html.contains(words) && pages[1].contains(&squeezed(words)), "no `{words}` in {}", pages[1]);
    }
    // the cautions stand at the very end, so nothing was cut off
    assert!(pages[1].contains(&squeezed("check brakes and wheel alignment afterwards")));
    assert_eq!(html.matches("<main>").count() + html.matches("</main>").count(), 2);
}

#[test]
fn property_a_wiped_owner_is_in_no_letter() {
    let folder = with_car("forget", "phone 555");
    let (html, pages) = written(&folder, &[]);
    assert!(html.contains("for: phone 555") && pages[0].contains("for:phone555"));
    record(&folder, &["forget", "A-1"]);
    let (html, pages) = written(&folder, &[]);
    assert!(!html.contains("555") && !html.contains("for: ") && !pages[0].contains("555"));
}

#[test]
fn property_what_comes_after_the_day_is_not_told() {
    let folder = with_car("day", "X");
    record(&folder, &["note", "add", "--car", "A-1", "--date", "2020-01-01", "--remark", "dry"]);
    let seen = ["--location", "run", "--grade", "Ri 4"];
    record(&folder, &[&["inspection", "add", "--car", "A-1", "--date", "2026-06-01"], &seen[..]].concat());
    let (html, _) = written(&folder, &[]);
    assert!(html.contains("No grade is on record yet.") && !html.contains("2026-06-01"));
    let ran = letter(&folder, "A-1", &["--as-of", "2026-06-02", "--format", "json"]).json();
    assert!(ran["pages"][1].to_string().contains("2026-06-01") && ran["pages"][0].is_array());
}

#[test]
fn property_bad_input_is_told_and_writes_nothing() {
    let folder = with_car("bad", "X");
    let head = file(&folder, "head.txt", &"a line\n".repeat(7));
    let tabs = file(&folder, "tabs.txt", "a\tb");
    let refused: [(&str, &[&str], &[&str]); 8] = [
        ("A-2", &[], &["A-2", "did you mean `A-1`?"]),
        ("A-1", &["--as-of", "10.03.2026"], &["--as-of", "`10.03.2026`", "YYYY-MM-DD"]),
        ("A-1", &["--as-of", "2026-02-30"], &["--as-of", "YYYY-MM-DD"]),
        ("A-1", &["--as-of", "2014-04-30"], &["--as-of", "from first registration, 2014-05-01"]),
        ("A-1", &["--as-of", "2090-01-01"], &["--as-of", "to 50 years after it"]),
        ("A-1", &["--letterhead", &head], &["head.txt", "at most 6 lines of 90 letters"]),
        ("A-1", &["--letterhead", &tabs], &["tabs.txt", "plain text"]),
        ("A-1", &["--costs", "nowhere.toml"], &["nowhere.toml"]),
    ];
    for (car, more, words) in refused {
        letter(&folder, car, more).assert_refused(2, words);
    }
    assert!(!folder.join("out").exists());
}

/// Every way to store, wash and coat the car stands in one small file that asks nobody; the letter itself is the same.
#[test]
fn property_a_letter_to_play_with_holds_every_answer() {
    let folder = folder("letter_interactive");
    let case = "demo/cases/tight_garage_fair_weather.toml";
    record(&folder, &["car", "add", "--ref", "A-1", "--case", case]);
    let (plain, pages) = written(&folder, &[]);
    let (html, same_pages) = written(&folder, &["--interactive"]);
    assert_eq!(pages, same_pages);
    assert!(html.len() < 2_000_000, "{} bytes", html.len());
    let templates = html.matches("<template data-place=").count();
    let options = ["storage", "wash", "coat"].map(|name| html.matches(&format!("name=\"{name}\"")).count());
    assert_eq!(templates, options.iter().product::<usize>());
    assert!(options.iter().all(|count| *count >= 3), "{options:?}");
    for outside in ["src=", "href=", "@import", "url(", "fetch(", "innerHTML"] {
        assert!(!html.contains(outside), "{outside}");
    }
    // what both rest on is not the same: one question names the choices
    let bare = |html: &str| String::from_utf8(without(html.as_bytes())).unwrap();
    let plain = bare(&plain);
    let (before, _) = plain.split_once("<footer>").unwrap();
    assert!(bare(&html).starts_with(before), "the letter stands above the choices as it is without them");
    assert!(html.contains("no structural or roadworthiness assessment"));
}
