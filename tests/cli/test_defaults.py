"""Defaults of a shop: where they are found, that each one used is said, and what is refused."""

from __future__ import annotations

import json
import shutil

import pytest
from click.testing import CliRunner

from decay_cli import defaults
from decay_cli.console import ExitCode
from decay_cli.main import decay
from tests.readme.shown import ROOT

LOG = ROOT / "sample_logs" / "leaking_slowly.csv"


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """Return a folder with a log and defaults."""
    for name in defaults.KNOWN:
        monkeypatch.delenv(defaults.PREFIX + name.upper(), raising=False)
    shutil.copyfile(LOG, tmp_path / "log.csv")
    (tmp_path / "decay.toml").write_text('volume = "12 L"\nrefrigerant = "R134a"\nambient = "23 degC"\n')
    return tmp_path


def judged(*args, environment=None):
    result = CliRunner().invoke(decay, ["analyze", *map(str, args), "--json", "--no-plot"], env=environment)
    assert result.exit_code == ExitCode.FAIL, result.output
    return json.loads(result.stdout)["holds"][0]["leak"], result.stderr


def test_a_file_beside_the_log_gives_the_facts_and_each_is_said(shop):
    leak, said = judged(shop / "log.csv")
    told, _ = judged(LOG, "--volume", "12 L", "--refrigerant", "R134a", "--ambient", "23 degC")
    assert leak["throughput_pa_m3_per_s"] == told["throughput_pa_m3_per_s"]
    for option in ('--volume "12 L"', '--refrigerant "R134a"', '--ambient "23 degC"'):
        assert f"From {shop / 'decay.toml'}: {option}" in said


def test_the_command_line_goes_before_the_environment_and_that_before_the_file(shop):
    def volume(*args, environment=None):
        leak, said = judged(shop / "log.csv", *args, environment=environment)
        return leak["throughput_pa_m3_per_s"]["value"] / leak["rate_micron_per_min"]["value"], said

    of_file, _ = volume()
    of_environment, said = volume(environment={"DECAY_VOLUME": "6 L"})
    assert of_environment == pytest.approx(of_file / 2, rel=1e-3)
    assert 'From the environment (DECAY_VOLUME): --volume "6 L"' in said
    of_line, said = volume("--volume", "3 L", environment={"DECAY_VOLUME": "6 L"})
    assert of_line == pytest.approx(of_file / 4, rel=1e-3)
    assert "--volume" not in said


def test_quiet_keeps_them_said(shop):
    _, said = judged(shop / "log.csv", "-q")
    assert '--volume "12 L"' in said


def test_a_project_file_does_as_well_and_is_left_alone_otherwise(shop):
    (shop / "decay.toml").unlink()
    (shop / "pyproject.toml").write_text("not toml at all [")
    assert judged(shop / "log.csv")[0]["throughput_pa_m3_per_s"] is None
    (shop / "pyproject.toml").write_text('[tool.decay]\nvolume = "12 L"\n')
    assert judged(shop / "log.csv")[0]["throughput_pa_m3_per_s"] is not None


def test_a_criterion_of_one_s_own_is_looked_for_beside_its_defaults(shop):
    (shop / "own.toml").write_text('title = "Own"\nsource = "page 1"\ntarget = "300 micron"\nhold = "20 min"\n'
                                   'pass_up_to = "500 micron"\n')
    (shop / "decay.toml").write_text('criterion = "own.toml"\n')
    result = CliRunner().invoke(decay, ["analyze", str(shop / "log.csv"), "--json", "--no-plot"])
    assert json.loads(result.stdout)["verdict"]["criterion"]["source"].startswith("page 1")


def test_folders_with_different_defaults_are_not_mixed(shop, tmp_path):
    other = tmp_path / "other"
    other.mkdir()
    shutil.copyfile(LOG, other / "log.csv")
    (other / "decay.toml").write_text('volume = "3 L"\n')
    result = CliRunner().invoke(decay, ["analyze", str(shop / "log.csv"), str(other / "log.csv"), "--no-plot"])
    assert result.exit_code == ExitCode.USAGE
    assert "different defaults" in result.stderr


@pytest.mark.parametrize(("text", "says"), [
    ('volum = "3 L"', 'Did you mean "volume"?'),
    ('force = "yes"', 'there is no "force"'),
    ("volume = 3.2", "must be text"),
    ("volume = ", "cannot be read"),
    ("x = " + "[" * 5000, "cannot be read"),
    ("#" * 70_000, "larger than"),
])
def test_what_cannot_be_meant_is_refused(shop, text, says):
    (shop / "decay.toml").write_text(text)
    result = CliRunner().invoke(decay, ["analyze", str(shop / "log.csv"), "--no-plot"])
    assert result.exit_code == ExitCode.USAGE
    assert says in result.stderr


def test_a_bad_value_is_refused_as_on_the_command_line(shop):
    (shop / "decay.toml").write_text('volume = "3.2"')
    result = CliRunner().invoke(decay, ["analyze", str(shop / "log.csv"), "--no-plot"])
    assert result.exit_code == ExitCode.USAGE
    assert "--volume" in result.stderr


def test_an_option_s_value_is_no_log(shop, monkeypatch):
    elsewhere = shop / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "decay.toml").write_text('volume = "3 L"\n')
    (elsewhere / "own.toml").write_text('title = "Own"\nsource = "page 1"\nhold = "20 min"\n'
                                        'pass_up_to = "500 micron"\n')
    _, said = judged(shop / "log.csv", "--criterion", elsewhere / "own.toml")
    assert '--volume "12 L"' in said
