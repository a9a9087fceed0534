import json

from studio import checks


def codes(check) -> list[str]:
    return [message.id for message in check(None)]


def test_a_face_that_is_not_installed_is_named(settings, tmp_path):
    settings.HOME = tmp_path
    (tmp_path / "package.json").write_text(json.dumps({"dependencies": {"@faces/one": "1", "@faces/two": "1"}}))
    one = tmp_path / "node_modules" / "@faces" / "one"
    one.mkdir(parents=True)
    (one / "package.json").write_text("{}")
    (message,) = checks.check_faces(None)
    assert message.id == "studio.W002"
    assert "@faces/two" in message.msg
    assert "@faces/one" not in message.msg


def test_the_faces_that_this_place_needs_are_installed():
    assert codes(checks.check_faces) == []


def test_an_address_without_https_is_named(settings):
    settings.SITE_URL = "http://studio.example.org"
    assert codes(checks.check_site_url) == ["studio.W001"]
    settings.SITE_URL = "https://studio.example.org"
    assert codes(checks.check_site_url) == []
