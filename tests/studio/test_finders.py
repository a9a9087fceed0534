"""Single files out of packages, under names that an address can carry."""

import json

from django.conf import settings
from django.contrib.staticfiles import finders
from django.core.management import call_command

from tests.studio.test_safety import PRODUCTION, manage


def test_the_named_files_of_packages_are_found_and_no_others():
    assert finders.find("sound/piano/66.mp3") == str(settings.PIANO_KEYS[66])
    assert settings.PIANO_KEYS[66].name == "F#4v10.mp3"
    assert finders.find("sound/piano/67.mp3") is None
    assert finders.find("sound/Tone.js", find_all=True) == [str(settings.TONE / "Tone.js")]


def test_a_served_site_gathers_them_under_names_of_their_content(tmp_path):
    gathered = manage("collectstatic", "--no-input", "-v0", var=tmp_path, **PRODUCTION)
    assert gathered.returncode == 0, gathered.stderr
    names = json.loads((tmp_path / "static" / "staticfiles.json").read_text())["paths"]
    recorded = [name for name in names if name.startswith("sound/piano/")]
    assert len(recorded) == 30
    for name in [*recorded, "sound/Tone.js"]:
        assert (tmp_path / "static" / names[name]).is_file()
        assert "#" not in names[name]


def test_what_is_left_out_is_not_gathered(tmp_path, settings):
    settings.STATIC_ROOT = tmp_path
    call_command("collectstatic", interactive=False, verbosity=0, ignore_patterns=["*.mp3"])
    assert (tmp_path / "sound" / "Tone.js").is_file()
    assert not list(tmp_path.rglob("*.mp3"))
