"""The second ear's arithmetic, with a made-up model whose every score is known."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from offbook.errors import ModelError
from offbook.recognise.onnx_scorer import DECODER, ENCODER, FILES, PIECES, OnnxScorer
from offbook.recognise.word_pieces import BEGIN, END, SPACE

# The pieces of the model: the full stop first, then a blank, letters and what they are joined to.
LISTED = (".", SPACE, "a", "b", "c", "ab", f"{SPACE}ab", f"{SPACE}c", f"{SPACE}2", f"{SPACE}b", f"{SPACE}B")
STOP, BLANK, A, B, C, AB, _AB, _C, _2, _B, _LARGE_B = range(259, 259 + len(LISTED))
COUNT = 259 + len(LISTED)
Scores = Callable[[tuple[int, ...]], Sequence[float]]
QUIET = bytes(2 * 8_000)
QUIETEST = 1.0  # what the encoder makes of silence


def varied(history: tuple[int, ...]) -> list[float]:
    """Scores that hang on all the pieces before, and on how many they are."""
    return [math.sin(0.1 * n * sum(history) + len(history)) for n in range(COUNT)]


def table(wanted: Mapping[tuple[int, ...], Mapping[int, float]]) -> Scores:
    """Scores by the last pieces: 0, but for those in the table of the longest ending that it has."""

    def scores(history: tuple[int, ...]) -> list[float]:
        ends = [history[k:] for k in range(len(history)) if history[k:] in wanted]
        row = [0.0] * COUNT
        for n, score in (wanted[ends[0]] if ends else {}).items():
            row[n] = score
        return row

    return scores


def logarithm(scores: Scores, history: tuple[int, ...], piece: int) -> float:
    """The log probability of a piece, by the definition of softmax."""
    row = scores(history)
    return row[piece] - math.log(sum(math.exp(s) for s in row))


class Encoder:
    """Makes one number of a sound: 1, and 100 times its mean."""

    def __init__(self) -> None:
        self.given: list[dict[str, Any]] = []

    def run(self, names: None, given: dict[str, Any]) -> list[Any]:
        self.given.append(given)
        assert given["attention_mask"].shape == given["input_values"].shape
        assert given["attention_mask"].all() and given["attention_mask"].dtype == np.int64
        return [np.full((1, 1, 1), QUIETEST + 100 * given["input_values"].mean(), np.float32)]


class Decoder:
    """Gives the scores of a function; what it keeps between two runs are the numbers of the pieces."""

    def __init__(self, scores: Scores) -> None:
        self.scores, self.runs, self.fed = scores, 0, list[int]()

    def get_outputs(self) -> list[Any]:
        sides = ("decoder", "encoder")
        names = [f"present.0.{side}.{part}" for side in sides for part in ("key", "value")]
        return [SimpleNamespace(name=name) for name in ("logits", *names)]

    def run(self, names: list[str] | None, given: dict[str, Any]) -> list[Any]:
        self.runs += 1
        (ids,) = given["input_ids"].tolist()
        self.fed.append(len(ids))
        again = bool(given["use_cache_branch"][0])
        kept = given["past_key_values.0.decoder.key"][0, 0, :, 0].astype(int).tolist()
        sound = given["encoder_hidden_states"][0, 0, 0]
        known = given["past_key_values.0.encoder.key"]
        assert known.shape[2] == (1 if again else 0)
        assert not again or known[0, 0, 0, 0] == sound
        history = [*kept, *ids]
        made = [self.scores(tuple(history[: k + 1])) for k in range(len(kept), len(history))]
        logits = np.array([made], np.float32) * sound
        before = np.broadcast_to(np.array(history, np.float32)[None, None, :, None], (1, 8, len(history), 36))
        heard = np.full((1, 8, 1, 36), sound, np.float32)
        return [logits, before, before, heard, heard] if names is None else [logits]


def write_model(folder: Path) -> Path:
    """A folder with the files of a model; only the list of pieces is read."""
    folder.mkdir(exist_ok=True)
    for name in (ENCODER, DECODER):
        (folder / name).write_bytes(b"model")
    coded = [piece.encode() for piece in LISTED]
    (folder / PIECES).write_bytes(bytes(259) + b"".join(bytes([len(c)]) + c for c in coded))
    return folder


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, Any, Any]]:
    """Puts the made-up model in the place of the library's; lists what was opened and how."""
    asked: list[tuple[str, Any, Any]] = []

    def session(path: str, options: Any, providers: Any) -> Any:
        asked.append((Path(path).name, options, providers))
        return Encoder() if Path(path).name == ENCODER else Decoder(varied)

    library = SimpleNamespace(SessionOptions=SimpleNamespace, InferenceSession=session)
    monkeypatch.setitem(sys.modules, "onnxruntime", library)
    return asked


@pytest.fixture
def ear(tmp_path: Path, opened: list[Any]) -> OnnxScorer:
    return OnnxScorer(write_model(tmp_path / "tiny"))


def told(ear: OnnxScorer, scores: Scores) -> Decoder:
    """Lets the ear's decoder give these scores."""
    ear.decoder = made = Decoder(scores)
    return made


def test_the_model_runs_on_one_thread_and_has_the_name_of_its_folder(
    ear: OnnxScorer, opened: list[tuple[str, Any, Any]]
) -> None:
    assert ear.name == "tiny" and [name for name, _, _ in opened] == [ENCODER, DECODER]
    for _, options, providers in opened:
        assert (options.intra_op_num_threads, options.inter_op_num_threads) == (1, 1)
        assert options.log_severity_level == 4 and providers == ["CPUExecutionProvider"]
    assert ear.outputs[0] == "logits" and len(ear.outputs) == 5


@pytest.mark.parametrize("missing", FILES)
def test_a_model_without_one_of_its_files_is_refused_and_the_file_is_named(
    tmp_path: Path, opened: list[Any], missing: str
) -> None:
    folder = write_model(tmp_path / "tiny")
    (folder / missing).unlink()
    with pytest.raises(ModelError) as caught:
        OnnxScorer(folder)
    assert caught.value.what == f"{folder} cannot be the second ear: {missing} is missing"
    assert caught.value.do == "fetch it with: offbook setup" and opened == []


def test_the_error_for_a_model_that_cannot_be_read_says_to_fetch_it_again(
    tmp_path: Path, opened: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = write_model(tmp_path / "tiny")
    (folder / PIECES).write_bytes(b"nothing of the kind")
    with pytest.raises(ModelError) as caught:
        OnnxScorer(str(folder))
    assert caught.value.what == f"the second ear's model at {folder} cannot be read"
    assert caught.value.do == "fetch it again with: offbook setup"
    write_model(folder)

    def broken(*given: Any, **named: Any) -> None:
        raise RuntimeError("protobuf parsing failed")

    monkeypatch.setattr(sys.modules["onnxruntime"], "InferenceSession", broken)
    with pytest.raises(ModelError, match="cannot be read"):
        OnnxScorer(folder)


def test_samples_are_scaled_to_full_scale_and_short_sound_is_filled_up_with_silence(
    ear: OnnxScorer,
) -> None:
    """A fifth of a second is the least: 3,200 samples. Half a sample at the end is left out."""
    samples = np.array([16_384, -32_768] * 1_600, "<i2").tobytes()
    ear.follow(samples, ["ab"])
    ear.follow(samples[:-2] + b"\x07", ["ab"])
    ear.follow(samples + b"\x00\x40\x07", ["ab"])
    whole, short, long = (given["input_values"] for given in ear.encoder.given)
    assert whole.shape == (1, 3_200) and whole.dtype == np.float32
    assert whole[0, :3].tolist() == [0.5, -1.0, 0.5]
    assert short.shape == (1, 3_200) and short[0, -3:].tolist() == [-1.0, 0.5, 0.0]
    assert long.shape == (1, 3_201) and long[0, -1] == 0.5


def test_the_log_probability_of_a_word_is_the_sum_over_its_pieces(ear: OnnxScorer) -> None:
    """Of the text "ab cab c." the word cab is written with two pieces."""
    passage = ear.follow(QUIET, ["ab", "cab", "c"])
    text = (BEGIN, _AB, _C, AB, _C, STOP, END)
    each = [logarithm(varied, text[:k], text[k]) for k in range(1, 5)]
    assert passage.log_probabilities == pytest.approx((each[0], each[1] + each[2], each[3]), abs=1e-4)
    assert ear.decoder.fed == [6]
    assert ear.follow(QUIET, []).log_probabilities == ()


def test_the_probabilities_depend_on_the_sound(ear: OnnxScorer) -> None:
    loud = ear.follow(np.full(8_000, 328, "<i2").tobytes(), ["ab"]).log_probabilities
    wanted = [s * (QUIETEST + 100 * 328 / 32_768) for s in varied((BEGIN,))]
    assert loud == pytest.approx((wanted[_AB] - math.log(sum(map(math.exp, wanted))),), abs=1e-4)


def test_a_wording_is_scored_in_its_place_together_with_what_follows_it(ear: OnnxScorer) -> None:
    """With the next five pieces, no more; only the new pieces are computed, the text before is kept."""
    words = ["c", "ab", "c", "ab", "ab", "c", "c", "c"]
    passage = ear.follow(QUIET, words)
    before = (BEGIN, _C)
    after = (_C, _AB, _AB, _C, _C)

    def by_hand(pieces: tuple[int, ...]) -> float:
        all_of = (*before, *pieces, *after)
        return sum(logarithm(varied, all_of[:k], all_of[k]) for k in range(2, len(all_of)))

    weighed = passage.weigh(1, 2, [["ab"], ["cab"], [], ["c", "ab"]])
    wanted = [by_hand(p) for p in ((_AB,), (_C, AB), (), (_C, _AB))]
    assert weighed == pytest.approx(wanted, abs=1e-3)
    assert ear.decoder.fed[1:] == [6, 7, 5, 7]


def test_a_wording_at_the_end_of_a_text_is_scored_with_the_full_stop_and_the_end(ear: OnnxScorer) -> None:
    passage = ear.follow(QUIET, ["c", "ab"])
    (weighed,) = passage.weigh(0, 2, [["c"]])
    all_of = (BEGIN, _C, STOP, END)
    assert weighed == pytest.approx(
        sum(logarithm(varied, all_of[:k], all_of[k]) for k in range(1, 4)), abs=1e-4
    )


def test_rewording_a_text_does_not_process_the_sound_again(ear: OnnxScorer) -> None:
    passage = ear.follow(QUIET, ["ab", "c", "ab"])
    changed = passage.reworded(1, 2, ["cab", "c"])
    assert changed.log_probabilities == ear.follow(QUIET, ["ab", "cab", "c", "ab"]).log_probabilities
    assert len(ear.encoder.given) == 2  # the sound was taken in once for each `follow`


def test_rivals_are_the_likeliest_word_beginnings_and_the_next_word_stands_for_no_word(
    ear: OnnxScorer,
) -> None:
    """Of "ab c": what is no beginning of a word of letters is no rival. At the same lead the list decides."""
    told(ear, table({(BEGIN,): {_AB: 3.0, _C: 4.0, _B: 2.5, _LARGE_B: 2.5, _2: 5.0, AB: 5.0, BLANK: 5.0}}))
    passage = ear.follow(QUIET, ["ab", "c"])
    found = passage.rivals(0, 3)
    assert [r.word for r in found] == ["", "b", "B"]
    assert [r.lead for r in found] == pytest.approx([1.0, -0.5, -0.5], abs=1e-5)
    assert [r.word for r in passage.rivals(0, 2)] == ["", "b"]
    assert passage.rivals(0, 0) == ()


def test_only_the_twelve_likeliest_pieces_can_be_rivals(ear: OnnxScorer) -> None:
    """Ten pieces that begin no word and the word itself are likelier than "b", and in the end an eleventh."""
    for more, words in ((0, ["b"]), (1, [])):
        likely: dict[int, float] = dict.fromkeys(range(10, 20), 9.0) | {_B: 3.0, _AB: 5.0}
        likely |= dict.fromkeys(range(30, 30 + more), 9.0)
        told(ear, table({(BEGIN,): likely}))
        assert [r.word for r in ear.follow(QUIET, ["ab", "c"]).rivals(0, 9)] == words


def test_at_the_last_word_a_likely_full_stop_means_that_the_word_may_be_missing(ear: OnnxScorer) -> None:
    told(ear, table({(_AB,): {_C: 3.0, STOP: 1.0, _AB: 2.0}}))
    found = ear.follow(QUIET, ["ab", "c"]).rivals(1, 9)
    assert [r.word for r in found] == ["ab", ""]
    assert [r.lead for r in found] == pytest.approx([-1.0, -2.0], abs=1e-5)


def test_a_word_that_occurs_twice_in_a_row_is_not_its_own_rival(ear: OnnxScorer) -> None:
    told(ear, table({(BEGIN,): {_AB: 3.0, _C: 1.0}}))
    assert [r.word for r in ear.follow(QUIET, ["ab", "ab"]).rivals(0, 9)] == ["c"]


def spelt(*pieces: int) -> dict[tuple[int, ...], dict[int, float]]:
    """A table in which each of these pieces follows those before it, from the beginning of the text."""
    return {(BEGIN, *pieces[:k]): {piece: 9.0} for k, piece in enumerate(pieces)}


def test_free_words_end_where_the_text_continues_and_another_word_begins(ear: OnnxScorer) -> None:
    """Of "ab c b ab": the ear writes "c ab" for the first word, then the next two words and one more."""
    decoder = told(ear, table(spelt(_C, _AB, _C, _B, _AB)))
    passage = ear.follow(QUIET, ["ab", "c", "b", "ab"])
    assert passage.free_words(0, 1, 4) == ("c", "ab")
    assert decoder.fed[1:] == [1] * 5
    told(ear, table(spelt(_C, _B, _AB)))
    assert ear.follow(QUIET, ["ab", "c", "b", "ab"]).free_words(0, 1, 4) == ()  # it was left out


def test_free_words_begin_after_the_words_before_them(ear: OnnxScorer) -> None:
    """The text before is not computed again."""
    decoder = told(ear, table(spelt(_C, AB, _B, _C, _AB, _B)))
    passage = ear.follow(QUIET, ["cab", "ab", "c", "ab", "ab"])
    assert passage.free_words(1, 2, 4) == ("b",)
    assert decoder.fed == [8, *[1] * 4]


def test_free_words_without_words_after_them_continue_to_the_end_of_the_text(ear: OnnxScorer) -> None:
    told(ear, table(spelt(_C, _AB, _B, STOP, END)))
    passage = ear.follow(QUIET, ["ab"])
    assert passage.free_words(0, 1, 4) == ("c", "ab", "b")
    assert passage.free_words(0, 1, 2) == ("c", "ab")


def test_free_words_that_never_return_to_the_text_are_discarded(ear: OnnxScorer) -> None:
    """A text that ends too early, and one that repeats itself: three pieces for each word that may come."""
    told(ear, table(spelt(_C, _AB, END)))
    assert ear.follow(QUIET, ["ab", "c", "b"]).free_words(0, 1, 4) is None
    decoder = told(ear, table({(_B,): {_B: 9.0}, (BEGIN,): {_B: 9.0}}))
    assert ear.follow(QUIET, ["ab", "c", "c"]).free_words(0, 1, 4) is None
    assert decoder.fed[1:] == [1] * 18
    decoder = told(ear, table({(_B,): {_B: 9.0}, (BEGIN,): {_B: 9.0}}))
    assert ear.follow(QUIET, ["ab"]).free_words(0, 1, 1) is None
    assert decoder.fed[1:] == [1] * 3
