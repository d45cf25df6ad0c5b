"""Where a speech model is looked for, and how a damaged one is recognised."""

from __future__ import annotations

import os
import tomllib
from pathlib import Path

import pytest

from offbook.errors import ModelError
from offbook.models import store as models
from offbook.models.listing import manifest_path, read_manifest
from tests.model_parts import EAR_PARTS, PARTS, entry, lay_out, second_entry


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of the test's own, with one made-up model added to the manifest."""
    monkeypatch.setenv("OFFBOOK_HOME", str(tmp_path / "home"))
    monkeypatch.delenv("OFFBOOK_MODEL", raising=False)
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "models.toml").write_text(entry("toy", []))
    return tmp_path / "home"


def test_the_manifest_names_the_model_of_the_project_with_its_licence_size_and_hashes() -> None:
    known = read_manifest()
    spec = known.models[known.default]
    assert (spec.licence, spec.language, spec.grammar) == ("Apache-2.0", "en-us", True)
    maven = next(s for s in spec.sources if s.kind == "maven")
    assert maven.address == "com.alphacephei:vosk-model-en:0.3.45:aar"
    assert maven.sha256 == "8a5792fccaf873b4745dbd1b3fe19d8a77a15898e806674020eea820424771cd"
    assert [s.kind for s in spec.sources] == ["zip", "maven"]
    assert sum(f.bytes for f in spec.files.values()) == pytest.approx(spec.unpacked, rel=0.01)


def test_every_entry_of_the_manifest_says_whether_its_model_takes_a_grammar_and_where_it_is() -> None:
    data = tomllib.loads(manifest_path().read_text(encoding="utf-8"))
    for model in data["model"]:
        assert isinstance(model["grammar"], bool)
        assert model["sources"] and model["licence"] and model["unpacked"]


def test_the_error_for_a_missing_model_says_how_to_fetch_it() -> None:
    with pytest.raises(ModelError) as caught:
        models.model_folder()
    assert "not on this machine" in caught.value.what
    assert caught.value.do == "fetch it: offbook setup"
    with pytest.raises(ModelError) as caught:
        models.model_folder("toy")
    assert caught.value.do == "fetch it: offbook setup --model toy"


def test_a_complete_model_is_found_by_its_name(home: Path) -> None:
    folder = lay_out(home / "models" / "toy")
    assert models.model_folder("toy") == folder


def test_offbook_model_may_name_a_model_or_a_folder_and_the_option_has_priority(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    named, own = lay_out(home / "models" / "toy"), lay_out(tmp_path / "own")
    monkeypatch.setenv("OFFBOOK_MODEL", "toy")
    assert models.model_folder() == named
    monkeypatch.setenv("OFFBOOK_MODEL", str(own))
    assert models.model_folder() == own
    assert models.model_folder("toy") == named


def second_ear(folder: Path) -> Path:
    """A folder with the files of a second ear."""
    folder.mkdir(parents=True)
    for name in ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"):
        (folder / name).write_bytes(b"?")
    return folder


def test_the_manifest_names_a_second_ear_with_its_licence_size_and_hashes() -> None:
    known = read_manifest()
    spec = known.models[known.second or ""]
    assert (spec.role, spec.licence) == ("second", "MIT")
    [wheel] = spec.sources
    assert wheel.address == "moonshine-voice==0.0.49"
    assert wheel.sha256 == "03edc378e5236832421ccd382b267e43b95af8008137ad6643f5baf5ba31b579"
    assert sum(f.bytes for f in spec.files.values()) == pytest.approx(spec.unpacked, rel=0.01)


def test_a_missing_second_ear_causes_no_error(home: Path) -> None:
    assert models.second_folder() is None
    with pytest.raises(ModelError) as caught:
        models.second_folder("tiny-en")
    assert (
        "tiny-en is not on this machine" in caught.value.what and caught.value.do == "fetch it: offbook setup"
    )


def test_one_or_two_names_can_choose_both_models(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each goes to the model of its role, whichever comes first; "none" asks for no second ear."""
    named, ear = lay_out(home / "models" / "toy"), second_ear(tmp_path / "ear")
    monkeypatch.setenv("OFFBOOK_MODEL", f"{ear},toy")
    assert (models.model_folder(), models.second_folder()) == (named, ear)
    assert models.second_folder("toy,none") is None
    assert models.named_roles(f"toy,{ear}") == ("first", "second")
    assert models.named_roles("toy") == ("first",) and models.named_roles() == ("first", "second")
    monkeypatch.setenv("OFFBOOK_MODEL", "toy,none")
    assert (models.model_folder(), models.second_folder()) == (named, None)
    assert models.second_folder(str(ear)) == ear


@pytest.mark.parametrize("part", sorted(PARTS))
def test_the_error_names_a_damaged_file_of_a_model(part: str, home: Path) -> None:
    folder = lay_out(home / "models" / "toy")
    (folder / part).write_bytes(PARTS[part][:-1])
    with pytest.raises(ModelError) as caught:
        models.model_folder("toy")
    assert f"{part} has" in caught.value.what
    (folder / part).unlink()
    with pytest.raises(ModelError, match=f"{part} is missing"):
        models.model_folder("toy")


def test_a_file_changed_at_the_same_length_is_found_by_the_full_check(home: Path) -> None:
    folder = lay_out(home / "models" / "toy")
    (folder / "am/final.mdl").write_bytes(bytes(len(PARTS["am/final.mdl"])))
    spec = models.manifest().models["toy"]
    assert models.damage(spec, folder) is None
    found = models.damage(spec, folder, every_byte=True)
    assert found is not None and found.startswith("am/final.mdl is not what was published")


ROLES = (models.FIRST, models.SECOND)
PART_OF = {models.FIRST: ("am/final.mdl", PARTS), models.SECOND: ("tokenizer.bin", EAR_PARTS)}


@pytest.fixture
def at_hand(home: Path) -> dict[str, Path]:
    """A model of each role, laid out whole, with an entry in the manifest."""
    (home / "models.toml").write_text(entry("toy", []) + second_entry("ear", b""))
    laid = {models.FIRST: lay_out(home / "models" / "toy"), models.SECOND: home / "models" / "ear"}
    for at, data in EAR_PARTS.items():
        (laid[models.SECOND] / at).parent.mkdir(parents=True, exist_ok=True)
        (laid[models.SECOND] / at).write_bytes(data)
    return laid


@pytest.mark.parametrize("role", ROLES)
def test_a_file_changed_at_the_same_length_is_found_at_its_next_use(
    role: str, at_hand: dict[str, Path]
) -> None:
    """Even if its time of writing was set back, because the time at which its entry changed was not."""
    folder = at_hand[role]
    assert models.model_folder(folder.name, role) == folder
    file = folder / PART_OF[role][0]
    before = file.stat()
    file.write_bytes(bytes(before.st_size))
    os.utime(file, ns=(before.st_atime_ns, before.st_mtime_ns))
    for _ in range(2):
        with pytest.raises(ModelError, match="not what was published"):
            models.model_folder(folder.name, role)


@pytest.mark.parametrize("role", ROLES)
def test_the_bytes_of_a_model_are_compared_once_after_each_change_and_not_at_each_use(
    role: str, at_hand: dict[str, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, (part, parts) = at_hand[role], PART_OF[role]
    read: list[str] = []
    whole = models.sha256_of

    def counted(path: Path) -> str:
        read.append(path.name)
        return whole(path)

    monkeypatch.setattr(models, "sha256_of", counted)
    for _ in range(3):
        models.model_folder(folder.name, role)
    assert sorted(read) == sorted(Path(p).name for p in parts)
    (folder / part).write_bytes(parts[part])  # the same again, and yet a change
    for _ in range(2):
        models.model_folder(folder.name, role)
    assert len(read) == 2 * len(parts)


def test_a_folder_that_is_no_model_is_refused(tmp_path: Path) -> None:
    (tmp_path / "own").mkdir()
    with pytest.raises(ModelError, match="is not a speech model that takes grammars"):
        models.model_folder(str(tmp_path / "own"))


def test_a_model_without_grammars_is_refused_before_it_is_fetched() -> None:
    with pytest.raises(ModelError, match="cannot be given the words"):
        models.chosen_model("big-us")


def test_the_error_for_an_unknown_model_lists_the_known_ones() -> None:
    with pytest.raises(ModelError) as caught:
        models.chosen_model("nosuch")
    assert "--model names 'nosuch'" in caught.value.what
    assert "small-us" in caught.value.do and "toy" in caught.value.do


@pytest.mark.parametrize("text", ["[[model]]\nname = 'a'\n", "[[model]]\nname = '../a'\n", "not toml"])
def test_the_error_for_an_invalid_entry_of_the_manifest_names_the_file(text: str, home: Path) -> None:
    (home / "models.toml").write_text(text)
    with pytest.raises(ModelError) as caught:
        models.manifest()
    assert "models.toml" in caught.value.what
