"""Job files: quantities with units become a job, and what cannot be used is said with its place."""

from __future__ import annotations

import pytest

from decay.errors import CriterionError
from decay.quantities import MICRON
from decay.simulation import Gas, Place, StepKind, read_job_file, run
from decay.simulation.job_file import EXAMPLE, job_from_table

FULL = """
name = "all of it"
volume = "6 L"
seed = 7
initial_pressure = "800 mbar"
[rig]
volume = "200 mL"
hose_bore = "8 mm"
isolate_at = "system"
[pump]
speed = "120 L/min"
ultimate = "15 micron"
[ambient]
temperature = "20 degC"
drift_k_per_h = 1.8
humidity = "55 %"
[gauge]
unit = "mTorr"
interval = "5 s"
steps = [["1000 mTorr", "1 mTorr"], ["1000 Torr", "10 mTorr"]]
[[leak]]
rate = "6 micron/min"
opens_at = "20 min"
[[surface]]
rate_after_hour = "2e-6 Pa*m3/s"
[[pool]]
rise = "500 micron"
time_constant = "8 min"
gas = "refrigerant"
[[water]]
mass = "3 g"
area_cm2 = 5
[[step]]
do = "pump"
until = "500 micron"
at_most = "10 min"
[[step]]
do = "hold"
for = "5 min"
[log]
dialect = "tab"
started = 2026-03-14T08:30:00
[expected]
result = "fail"
"""


def written(tmp_path, text):
    path = tmp_path / "job.toml"
    path.write_text(text)
    return path


def test_a_full_file_becomes_the_job_it_says(tmp_path):
    file = read_job_file(written(tmp_path, FULL))
    job = file.job
    assert job.volume == pytest.approx(6e-3)
    assert job.rig.volume == pytest.approx(2e-4)
    assert job.rig.isolate_at is Place.SYSTEM
    assert job.pump.speed == pytest.approx(2e-3)
    assert job.ambient.drift == pytest.approx(1.8 / 3600)
    assert job.ambient.humidity == pytest.approx(0.55)
    assert job.leaks[0].rate == pytest.approx(6 * MICRON / 60)
    assert job.leaks[0].opens_at == 1200.0
    assert job.surfaces[0].rate_after_hour == pytest.approx(2e-6)
    assert job.pools[0].amount == pytest.approx(500 * MICRON * 6e-3)
    assert job.pools[0].gas is Gas.REFRIGERANT
    assert job.waters[0].mass == pytest.approx(3e-3)
    assert job.waters[0].area == pytest.approx(5e-4)
    assert [(s.kind, s.duration) for s in job.steps] == [(StepKind.PUMP, 600.0), (StepKind.HOLD, 300.0)]
    assert file.log["dialect"] == "tab"
    assert file.expected == {"result": "fail"}


def test_the_example_in_the_message_works(tmp_path):
    job = read_job_file(written(tmp_path, EXAMPLE)).job
    assert run(job).leak_rate == pytest.approx(4 * MICRON / 60)


@pytest.mark.parametrize(("text", "words"), [
    ("volume = 3", "volume: expected text with a unit"),
    ('volume = "3"', "no unit"),
    ('volume = "-3 L"', "volume"),
    ('colour = "red"', 'colour: there is no "colour"'),
    ("[rig]\nbore = 1", 'rig, bore: there is no "bore". Did you mean "hose_bore"'),
    ('[[leak]]\nplace = "rig"', "leak 1: incomplete, missing rate"),
    ('[[leak]]\nrate = "3 g/yr"', "leak 1, rate"),
    ('[[step]]\ndo = "dance"\nfor = "1 min"', "step 1, do: 'dance' is none of rest, pump"),
    ('[[step]]\ndo = "hold"', "step 1: incomplete, missing duration"),
    ('[[step]]\ndo = "sweep"\nfor = "1 min"', "sweep needs the pressure"),
    ('leak = "3 micron/min"', "leak: expected tables"),
    ("[gauge]\njitter = \"80 %\"", "jitter"),
    ("seed = true", "seed: expected a whole number"),
    ("step = []", "at least one step"),
    ("volume = ", "not a TOML file"),
    ("[log]\nstarted = \"now\"", "log, started"),
    ("log = 3", "log: expected a table"),
])
def test_what_cannot_be_used_is_said_with_its_place(tmp_path, text, words):
    with pytest.raises(CriterionError) as problem:
        read_job_file(written(tmp_path, text))
    assert words in str(problem.value)
    assert str(problem.value).startswith(str(tmp_path))
    assert "A job that works" in str(problem.value)


def test_an_empty_table_is_the_default_job():
    assert job_from_table({}).volume == 3e-3
