"""What the program is built from: bill of materials, licences, and the rules for packages.

    tests/packages.py DIR

writes DIR/sbom.cdx.json (CycloneDX 1.5) and DIR/licences.csv from `cargo metadata`, and fails where a package has a licence
that is not in the list, comes from elsewhere than crates.io, where the default features need 250 packages or more, or where
a direct dependency stands in Cargo.toml without its reason.
"""

import csv
import json
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
MOST = 250
REGISTRY = "registry+https://github.com/rust-lang/crates.io-index"
ALLOWED = re.findall(r'"(.+?)"', re.search(r"allow = \[(.*?)\]", (ROOT / "deny.toml").read_text(), re.S)[1])


def cargo(*arguments):
    return subprocess.run(["cargo", *arguments], cwd=ROOT, check=True, capture_output=True, text=True).stdout


def is_allowed(licence):
    """Whether one way through an expression of licences is in the list: AND needs each, OR and / any."""
    licence = licence.replace("(", " ").replace(")", " ") if " AND " not in licence else licence
    if " AND " in licence:
        return all(is_allowed(part.strip("() ")) for part in licence.split(" AND "))
    return any(part.strip() in ALLOWED for part in re.split(r" OR |/", licence))


def shipped():
    """Name and version of the packages that default features build on this platform."""
    lines = cargo("tree", "--locked", "--edges", "normal,build", "--prefix", "none", "--format", "{p}").splitlines()
    return {tuple(line.replace(" (*)", "").split(" ")[:2]) for line in lines if line}


def without_reason(manifest):
    """Direct dependencies whose line in a Cargo.toml has no comment."""
    table = manifest.read_text().split("[dependencies]")[1].split("\n[dev-dependencies]")[0].split("\n[lints]")[0]
    lines = [line for line in table.splitlines() if "=" in line and not line.startswith("#")]
    return [line.split(" ")[0] for line in lines if "#" not in line]


def component(package):
    return {
        "type": "library",
        "name": package["name"],
        "version": package["version"],
        "purl": f"pkg:cargo/{package['name']}@{package['version']}",
        "licenses": [{"expression": (package["license"] or "NOASSERTION").replace("/", " OR ").replace("  ", " ")}],
    }


def main(folder):
    packages = json.loads(cargo("metadata", "--format-version", "1", "--locked"))["packages"]
    # the program, and the Python package over it, which plain cargo does not build
    members = [package for package in packages if package["source"] is None]
    own = next(package for package in members if package["name"] == "ferrowane")
    used = shipped()
    others = [package for package in packages if (package["name"], "v" + package["version"]) in used and package is not own]
    others.sort(key=lambda package: (package["name"], package["version"]))
    bill = {
        "bomFormat": "CycloneDX",
        "specVersion": "1.5",
        "metadata": {"component": {"type": "application", "name": own["name"], "version": own["version"]}},
        "components": [component(package) for package in others],
    }
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "sbom.cdx.json").write_text(json.dumps(bill, indent=2) + "\n")
    with (folder / "licences.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["package", "version", "licence"])
        rows.writerows([package["name"], package["version"], package["license"]] for package in others)
    faults = [f"{p['name']}: licence {p['license']}" for p in packages if not is_allowed(p["license"] or "")]
    faults += [f"{p['name']}: source {p['source']}" for p in packages if p["source"] not in (None, REGISTRY)]
    for manifest in (Path(package["manifest_path"]) for package in members):
        names = without_reason(manifest)
        faults += [f"{name}: no reason beside it in {manifest.relative_to(ROOT)}" for name in names]
    if len(others) >= MOST:
        faults.append(f"{len(others)} packages, allowed: fewer than {MOST}")
    print(f"{len(others)} packages by default, {len(packages) - len(members)} with those of tests, of the Python package and of other platforms")
    print("\n".join(faults) or "no fault")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
