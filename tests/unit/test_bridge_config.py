"""Settings: file < environment < flags, and an unknown one is an error that names the known ones."""

from pathlib import Path

import pytest

from bridge.config import Config, build
from bridge.errors import BadInput


def settings_file(folder: Path, text: str) -> dict[str, str]:
    """An environment whose settings file holds that text."""
    path = folder / "settings.toml"
    path.write_text(text, encoding="utf-8")
    return {"HOME": str(folder), "WITNESSMARK_CONFIG": str(path)}


def test_defaults_lie_under_home(tmp_path: Path) -> None:
    """Without any setting the trail lies in the person's data folder."""
    assert build({"HOME": str(tmp_path)}) == Config(trail=tmp_path / ".local/share/witnessmark/trail.db")


def test_data_folder_of_the_desktop_is_used(tmp_path: Path) -> None:
    """XDG_DATA_HOME moves it; a relative one is ignored, as the XDG base directory rules ask."""
    given = {"HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path / "data")}
    assert build(given).trail == tmp_path / "data/witnessmark/trail.db"
    assert build(given | {"XDG_DATA_HOME": "data"}).trail == tmp_path / ".local/share/witnessmark/trail.db"


def test_file_then_environment_then_flag(tmp_path: Path) -> None:
    """The later one wins; a flag that was not given changes nothing."""
    environment = settings_file(tmp_path, 'trail = "from-file.db"')
    assert build(environment).trail == Path("from-file.db")
    environment["WITNESSMARK_TRAIL"] = "from-environment.db"
    assert build(environment, trail=None).trail == Path("from-environment.db")
    assert build(environment, trail="from-flag.db").trail == Path("from-flag.db")


def test_settings_file_of_the_person_is_found(tmp_path: Path) -> None:
    """Without WITNESSMARK_CONFIG it is looked for in the settings folder."""
    folder = tmp_path / ".config" / "witnessmark"
    folder.mkdir(parents=True)
    (folder / "witnessmark.toml").write_text('trail = "mine.db"', encoding="utf-8")
    assert build({"HOME": str(tmp_path)}).trail == Path("mine.db")


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ('tail = "x.db"', "screen.config-unknown"),
        ("trail = 3", "screen.config-not-text"),
        ("trail = ", "screen.config-unreadable"),
    ],
)
def test_wrong_file_is_refused(tmp_path: Path, text: str, code: str) -> None:
    """Each fault has its own sentence, which names the file."""
    with pytest.raises(BadInput, match=r"settings\.toml") as found:
        build(settings_file(tmp_path, text))
    assert found.value.code == code


def test_named_file_must_be_there(tmp_path: Path) -> None:
    """A file that was asked for and is missing is not passed over."""
    with pytest.raises(BadInput, match=r"nowhere\.toml: No such file"):
        build({"HOME": str(tmp_path), "WITNESSMARK_CONFIG": str(tmp_path / "nowhere.toml")})


def test_unknown_variable_is_refused(tmp_path: Path) -> None:
    """A mistyped variable would otherwise send a job to the wrong trail in silence; the traceback switch is none."""
    build({"HOME": str(tmp_path), "WITNESSMARK_TRACEBACK": "1", "PATH": "x"})
    with pytest.raises(BadInput, match="settings are WITNESSMARK_TRAIL") as found:
        build({"HOME": str(tmp_path), "WITNESSMARK_TRIAL": "x.db"})
    assert found.value.words[0] == "WITNESSMARK_TRIAL"
