//! Does a case become the scenario it describes, and do TOML and JSON say the same?

use ferrowane::case::{from_json, read_str, template};

#[test]
fn template_resolves() {
    let s = read_str(template(), "template.toml", None).unwrap();
    println!("{:?}", s.stretches);
    println!("{:?} {:?} {:?} {:?}", s.member, s.coating, s.conditions, s.air);
    for bad in [
        "",
        "a",
        "a =",
        "[storage",
        "x = 1\nx = 2",
        "a = [1,",
        "a = 2023-02-30",
        "a = \"x",
        "\u{0}",
        "title = 5",
        "title = nan",
        "a=99999999999999999999",
        "[a]\n[a]",
        "a.b.c = 1\na.b = 2",
        "x = 0x1g",
        "d = 12:61:00",
    ] {
        println!("{bad:?} -> {}", read_str(bad, "a.toml", None).unwrap_err());
    }
    let _ = from_json(&serde_json::json!({})).unwrap_err();
}
