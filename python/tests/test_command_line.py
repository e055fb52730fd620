"""The package and the command line give the same digits for the same question."""

import json
from datetime import date

import ferrowane
import pytest
from conftest import HISTORIES

#: Demo cases of each kind: new, with a change of storage, with an unknown past, with grades.
CASES = ["street_daily", "tight_garage_fair_weather", "unknown_past_carport", "square_tube_zinc"]


def without_provenance(answer):
    """An answer without what it rests on: the question is put in other words."""
    return {key: value for key, value in answer.items() if key != "provenance"}


def same(answer, expected):
    """Asserts that an answer of the package has the digits of the command line's JSON."""
    found = without_provenance(json.loads(answer.to_json()))
    assert found == without_provenance(expected)
    assert found, "an empty answer"


@pytest.mark.parametrize("name", CASES)
def test_reference_forecast(command_line, cases, name):
    path = cases / f"{name}.toml"
    expected = command_line("forecast", path, "--histories", HISTORIES, "--seed", 5, "--whole-life")
    same(ferrowane.forecast(path, histories=HISTORIES, seed=5), expected)


def test_reference_forecast_on_a_day_with_levels_of_a_country(command_line, street):
    options = ["--as-of", "2026-11-25", "--criteria", "nl", "--horizon", 30]
    expected = command_line("forecast", street, "--histories", HISTORIES, *options)
    found = ferrowane.forecast(street, histories=HISTORIES, as_of="2026-11-25", criteria="nl", horizon_a=30)
    same(found, expected)


def test_reference_forecast_of_a_car_that_was_looked_at(command_line, cases, tmp_path):
    text = (cases / "street_daily.toml").read_text()
    text += '\n[[coating.condition]]\ndate = 2022-05-01\npart = "run"\ngrade = "Ri 3"\n'
    path = tmp_path / "graded.toml"
    path.write_text(text)
    expected = command_line("forecast", path, "--histories", HISTORIES, "--whole-life")
    found = ferrowane.forecast(text, histories=HISTORIES)
    same(found, expected)
    seen = {"date": date(2022, 5, 1), "part": "run", "grade": "Ri 3"}
    same(ferrowane.update(cases / "street_daily.toml", [seen], histories=HISTORIES), expected)
    assert "evidence" in found.to_dict() and "<svg" in found.svg("updated")


def test_reference_comparison(command_line, street):
    expected = command_line("compare", street, "--vary", "treatment", "--from", "2021-04-01", "--histories", HISTORIES)
    same(ferrowane.compare(street, vary="treatment", start="2021-04-01", histories=HISTORIES), expected)


def test_reference_comparison_of_two_cars(command_line, cases):
    two = [cases / "street_daily.toml", cases / "heated_garage_daily.toml"]
    same(ferrowane.compare(two, histories=HISTORIES), command_line("compare", *two, "--histories", HISTORIES))


def test_reference_explanation(command_line, cases):
    two = [cases / "street_daily.toml", cases / "heated_garage_daily.toml"]
    expected = command_line("explain", *two, "--histories", HISTORIES, "--by", "2026-05-01")
    found = ferrowane.explain(*two, histories=HISTORIES, by="2026-05-01")
    same(found, expected)
    assert sum(found.contributions["years"]) == pytest.approx(found.difference_a, abs=1e-9)


def test_reference_exposure(command_line, cases):
    case = cases / "heated_garage_daily.toml"
    same(ferrowane.exposure(case), command_line("exposure", case))


def test_reference_hand_calculations(command_line):
    conditions = ["--temperature", 10, "--humidity", 75, "--so2", 10, "--chloride", 10]
    expected = command_line("rate", *conditions)
    found = ferrowane.rate(temperature_c=10, humidity_pct=75, so2_mg_m2_d=10, chloride_mg_m2_d=10)
    assert rounded(found.to_dict()) == expected
    all_forms = ferrowane.rates(temperature_c=10, humidity_pct=75, so2_mg_m2_d=10, chloride_mg_m2_d=10)
    assert [rounded(one.to_dict()) for one in all_forms] == command_line("rate", "--form", "all", *conditions)
    growth = ferrowane.kinetics(50, 20)
    assert rounded(growth.to_dict()) == command_line("growth", "--rate", 50, "--years", 20)
    worn = ferrowane.section(round="48.3x3.2", loss_mm=(0.3, 0.1))
    assert rounded(worn.to_dict()) == command_line("section", "--round", "48.3x3.2", "--loss", "0.3/0.1")


def test_published_hand_calculations():
    # ISO 9223:2012 equation 1 by hand: 26.27 + 7.54; ISO 9224:2012 prints 240 µm after 20 years at the top of C3
    found = ferrowane.rate(temperature_c=10, humidity_pct=75, so2_mg_m2_d=10, chloride_mg_m2_d=10)
    assert found.rate_um_per_a == pytest.approx(33.81, abs=0.01) and found.category == "C3"
    assert ferrowane.kinetics(50, 20).loss_um == pytest.approx(240, abs=0.5)


def rounded(value):
    """Numbers with the six digits of the command line's JSON."""
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    if isinstance(value, list):
        return [rounded(item) for item in value]
    return float(f"{value:.5e}") if isinstance(value, float) else value
