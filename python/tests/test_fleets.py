"""A fleet with a known truth, what its grades say, and how well grades are forecast: the digits of the command line."""

import json

import ferrowane
import pandas
import polars
import pyarrow
import pytest
from conftest import HISTORIES

#: The least work there is.
SMALL = {"runs": 1, "particles": 64, "hourly": 32, "sets": 1, "seed": 3}
CARS, YEARS, SEED = 3, 3, 5


@pytest.fixture(scope="module")
def fleet():
    return ferrowane.simulate(CARS, YEARS, seed=SEED)


@pytest.fixture(scope="module")
def heard():
    """What a progress callback heard while the posterior was found."""
    return []


@pytest.fixture(scope="module")
def posterior(fleet, heard):
    return ferrowane.tune(fleet, **SMALL, progress=lambda done, total: heard.append((done, total)))


@pytest.fixture(scope="module")
def folder(tmp_path_factory, command_line):
    """Fleet and posterior as the command line writes them."""
    folder = tmp_path_factory.mktemp("fleet")
    command_line("simulate", "--cars", CARS, "--years", YEARS, "--seed", SEED, "--out", folder / "fleet", answers=False)
    words = [word for key, value in SMALL.items() for word in (f"--{key}", value)]
    command_line("tune", folder / "fleet", "--out", folder / "posterior", *words)
    return folder


def test_reference_fleet_and_posterior_are_the_command_lines_files(folder, fleet, posterior, tmp_path):
    fleet.save(tmp_path / "fleet")
    posterior.save(tmp_path / "posterior")
    for name in ("fleet/cars.csv", "fleet/observations.csv", "fleet/truth.csv", "posterior/posterior.csv"):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name
    assert posterior.to_json() == (folder / "posterior" / "summary.json").read_text()


def test_reference_scores(command_line, folder, fleet, posterior):
    options = {"draws": 16, "seed": 2}
    expected = command_line("score", folder / "fleet", "--posterior", folder / "posterior", "--draws", 16, "--seed", 2)
    found = ferrowane.score(folder / "fleet", folder / "posterior", **options)
    assert json.loads(found.to_json()) == expected and found.cars_in_posterior == CARS
    # what was never written down is called otherwise, and scores alike
    alike = ferrowane.score(fleet, posterior, **options)
    assert alike.by_car.to_pydict() == found.by_car.to_pydict()
    by_way = found.by_car.to_pandas().set_index("name")
    for way in ("model", "prior", "age_only"):
        assert by_way["crps"][way] == pytest.approx(expected["crps"][way], rel=1e-5)
        assert by_way["coverage_90"][way] == pytest.approx(expected["coverage"]["90"][way], rel=1e-5)


def test_property_tables_of_a_fleet_make_the_same_fleet(fleet, tmp_path):
    frames = (fleet.cars.to_pandas(), polars.DataFrame(fleet.observations))
    again = ferrowane.Fleet(pyarrow.Table.from_pandas(frames[0]), frames[1])
    assert len(again) == len(fleet) == CARS and again.truth is None
    again.save(tmp_path / "again")
    fleet.save(tmp_path / "first")
    for name in ("cars.csv", "observations.csv"):
        rows = [pandas.read_csv(tmp_path / which / name, dtype=str) for which in ("again", "first")]
        assert rows[0].equals(rows[1]) and len(rows[0]) >= CARS
    assert not (tmp_path / "again" / "truth.csv").exists()


def test_property_the_truth_has_numbers_with_units(fleet):
    truth = fleet.truth.to_pandas()
    assert set(truth["scope"]) == {"shared", "inspector", "car"}
    reworks = truth[truth["name"] == "rework_a"]
    assert len(reworks) == CARS and (reworks["value"] > 0).all() and (reworks["unit"] == "a").all()
    missing = truth[truth["value"].isna()]
    assert list(missing["name"]) == ["dose_response_choice"] and fleet.true_dose_response


def test_property_a_posterior_is_tables(posterior):
    draws = posterior.draws.to_pandas()
    assert len(draws) == posterior.to_dict()["draws"] and draws["log_likelihood"].notna().all()
    assert abs(sum(posterior.dose_response["weight"]) - 1) < 1e-9
    parameters = posterior.parameters.to_pandas().set_index("name")
    one = parameters.loc["growth_exponent"]
    assert one["prior_p05"] < one["prior_p50"] < one["prior_p95"]
    assert one["posterior_p50"] == pytest.approx(draws["growth_exponent"].median(), abs=0.02)
    assert set(draws.columns) >= {name for name in parameters.index}
    for shown in (posterior.words, repr(posterior), posterior._repr_html_()):
        assert len(shown) > 80
    assert "no structural or roadworthiness" in repr(posterior)


def test_property_progress_of_tuning_ends_at_the_whole(posterior, heard):
    assert heard[-1][0] == heard[-1][1] > 0
    assert [done for done, _ in heard] == sorted(done for done, _ in heard)


def test_property_a_stopped_tuning_is_no_answer(fleet):
    with pytest.raises(ferrowane.Error):
        ferrowane.tune(fleet, **SMALL, progress=lambda done, total: False)

    def fails(done, total):
        raise LookupError("from the callback")

    with pytest.raises(LookupError, match="from the callback"):
        ferrowane.tune(fleet, **SMALL, progress=fails)


@pytest.mark.parametrize(
    ("question", "field"),
    [
        (lambda fleet: ferrowane.simulate(0, 3), "cars"),
        (lambda fleet: ferrowane.simulate(3, 90), "years"),
        (lambda fleet: ferrowane.tune(fleet, particles=1), "particles"),
        (lambda fleet: ferrowane.tune(fleet, runs=17), "runs"),
        (lambda fleet: ferrowane.tune(3), "fleet"),
        (lambda fleet: ferrowane.score(fleet, 3), "posterior"),
        (lambda fleet: ferrowane.Fleet(pyarrow.table({"ref": ["A"]}), fleet.observations), "cars"),
    ],
)
def test_property_what_does_not_fit_is_named(fleet, question, field):
    with pytest.raises(ferrowane.Error) as caught:
        question(fleet)
    assert field in str(caught.value) and caught.value.allowed


def test_property_cars_are_like_the_cases(street):
    case = ferrowane.read_case(street)
    fleets = [ferrowane.simulate(1, 1, cases=one, seed=2) for one in (street, street.read_text(), case, [street])]
    assert all(fleet.truth.to_pydict() == fleets[0].truth.to_pydict() for fleet in fleets)
    assert "thin_factory_coat" in fleets[0].cars["case_toml"][0]


def test_reference_a_forecast_with_what_was_learned(command_line, folder, street, tmp_path, posterior):
    with pytest.raises(ferrowane.Error, match="single run"):
        ferrowane.forecast(street, posterior=posterior)
    # as if runs had agreed
    agreed = tmp_path / "agreed"
    posterior.save(agreed)
    summary = json.loads((agreed / "summary.json").read_text())
    for one in summary["parameters"]:
        one["r_hat"] = 1.0
    (agreed / "summary.json").write_text(json.dumps(summary))
    options = ["--histories", HISTORIES, "--posterior", agreed, "--whole-life"]
    expected = command_line("forecast", street, *options)
    found = ferrowane.forecast(street, histories=HISTORIES, posterior=agreed)
    rests_on = found.to_dict()["provenance"]["inputs"]
    assert [(one["kind"], one["name"]) for one in rests_on] == [("posterior", "agreed")]
    assert rests_on[0]["sha256"] in json.dumps(expected["provenance"])
    shown = json.loads(found.to_json())
    assert {**shown, "provenance": 0} == {**expected, "provenance": 0}
    assert found.median_a != ferrowane.forecast(street, histories=HISTORIES).median_a
    rows = pyarrow.table({"ref": ["street"]})
    answers = ferrowane.batch(rows, base=street, histories=HISTORIES, posterior=agreed).read_all()
    assert answers["median_a"] == [found.median_a]
