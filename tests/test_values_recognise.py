"""The recogniser's arithmetic by hand: what a phrase costs, the noise, the settings, word pieces."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from offbook.recognise.onnx_scorer import _letters, _log_softmax, _words_in
from offbook.recognise.vosk_recogniser import _PhraseModel, _set, _with_noise, _with_settings, _words
from offbook.recognise.word_pieces import SPACE, WordPieces, read_pieces


def test_the_cost_of_a_phrase_follows_the_estimator_of_word_pairs() -> None:
    """`language_model.cc` of the recogniser: half for the pair by its share, half for falling back, halved
    again. By hand, of "a b" and "a c": six words with the two ends, a and the end twice, b and c once.
    """
    pairs = _PhraseModel(["a b", "a c x"], lambda word: word != "x")
    a, b, end = 0.5 * 2 / 6, 0.5 * 1 / 2, 0.5 * 1 / 1
    assert pairs.cost(["a", "b"]) == pytest.approx(-math.log(a) - math.log(b) - math.log(end))
    fallen = 0.5 * (0.5 * 2 / 6)  # b is followed by a in no phrase
    assert pairs.cost(["b", "a"]) == pytest.approx(
        -math.log(0.5 / 6) - math.log(fallen) - math.log(0.5 * 0.5 * 2 / 6)
    )
    assert pairs.cost([]) == pytest.approx(-math.log(0.5 * 2 / 6))


def test_the_added_noise_is_one_step_strong_repeatable_and_never_overflows() -> None:
    quiet = _with_noise(bytes(64_000))
    samples = np.frombuffer(quiet, "<i2")
    assert len(samples) == 32_000
    assert quiet == _with_noise(bytes(64_000))
    assert 0.9 < samples.std() < 1.2 and np.abs(samples).max() <= 6
    assert (samples[:16_000] == samples[16_000:]).all()
    loud = np.frombuffer(_with_noise(np.full(16_000, 32_767, "<i2").tobytes()), "<i2")
    assert loud.max() == 32_767 and loud.min() >= 32_760
    assert len(_with_noise(b"\x01\x02\x03")) == 2


def test_three_settings_of_a_model_are_changed_in_a_copy(tmp_path: Path) -> None:
    """The folder of the model itself is not changed."""
    (tmp_path / "conf").mkdir()
    (tmp_path / "am").mkdir()
    (tmp_path / "am" / "final.mdl").write_bytes(b"model")
    before = "--beam=13.0\n--lattice-beam=2.0\n"
    (tmp_path / "conf" / "model.conf").write_text(before)
    with _with_settings(tmp_path) as made:
        assert made != tmp_path
        assert (
            made / "conf" / "model.conf"
        ).read_text() == "--beam=13.0\n--lattice-beam=8.0\n--frames-per-chunk=60\n"
        assert (made / "conf" / "mfcc.conf").read_text() == "--dither=0.0\n"
        assert (made / "am" / "final.mdl").read_bytes() == b"model"
    assert not made.exists()
    assert (tmp_path / "conf" / "model.conf").read_text() == before
    (tmp_path / "conf" / "model.conf").unlink()
    with _with_settings(tmp_path) as made:
        assert made == tmp_path


def test_a_setting_that_is_set_again_replaces_the_old_one(tmp_path: Path) -> None:
    file = tmp_path / "a.conf"
    _set(file, "--x", 1.0)
    _set(file, "--xy", 2.0)
    _set(file, "--x", 3.5)
    assert file.read_text() == "--xy=2.0\n--x=3.5\n"


def test_heard_words_have_times_and_a_confidence_of_1_if_none_is_given() -> None:
    found = _words(
        {
            "result": [
                {"word": "lamp", "start": 1, "end": 1.5, "conf": 0.5},
                {"word": "lit", "start": 2, "end": 3},
            ]
        }
    )
    assert [(w.word, w.start, w.end, w.confidence) for w in found] == [
        ("lamp", 1.0, 1.5, 0.5),
        ("lit", 2.0, 3.0, 1.0),
    ]
    assert _words({}) == ()


def test_scores_become_log_probabilities_that_add_up_to_one() -> None:
    rows = _log_softmax(np.array([[0.0, 0.0], [1000.0, 0.0], [0.0, math.log(3)]], np.float32))
    assert np.exp(rows).sum(axis=1) == pytest.approx([1.0, 1.0, 1.0])
    assert rows[0] == pytest.approx([math.log(0.5)] * 2)
    assert rows[2] == pytest.approx([math.log(0.25), math.log(0.75)], abs=1e-6)


def test_words_consist_of_letters_and_apostrophes_and_are_separated_by_spaces() -> None:
    assert _letters("O’er, Heav'n's 2!") == "oerheav'n's2"
    assert _words_in(f"{SPACE}The{SPACE}lamp,{SPACE}…{SPACE}lit.") == ("the", "lamp", "lit")


def pieces_of(*joined: bytes) -> tuple[bytes, ...]:
    """A list of pieces: 259 marks and single bytes, then these."""
    return (*(b"" for _ in range(259)), *joined)


def test_word_pieces_are_joined_in_list_order_and_unknown_letters_become_bytes() -> None:
    space = SPACE.encode()
    found = WordPieces(pieces_of(b".", space, b"t", b"h", b"e", b"th", space + b"th", b"he", b"the"))
    assert found.full_stop == 259
    assert found.numbers_of("the") == (265, 263)  # "th", then the space before it, in the order of the list
    assert found.numbers_of("e") == (260, 263)
    assert found.numbers_of("x") == (260, 3 + ord("x"))
    assert found.text_of(264) == "th"


def test_a_list_of_word_pieces_with_short_and_long_lengths_is_read(tmp_path: Path) -> None:
    file = tmp_path / "pieces"
    long = b"x" * 300
    wanted = pieces_of(b".", long)
    file.write_bytes(bytes(259) + b"\x01." + bytes([128 + 300 % 128, 300 // 128]) + long)
    assert read_pieces(file).pieces == wanted
    for broken in (
        bytes(259) + b"\x02.",
        bytes(259) + b"\x01.\x85",
        bytes(258) + b"\x01.",
        bytes(260) + b"\x01x",
    ):
        file.write_bytes(broken)
        with pytest.raises(ValueError, match="piece"):
            read_pieces(file)
