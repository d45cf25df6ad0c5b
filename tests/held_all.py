"""Every file of held values with its examples; `python -m tests.held_all` writes all of them again."""

from __future__ import annotations

from tests import (
    held,
    held_bounds,
    held_briefs,
    held_choices,
    held_days,
    held_dice,
    held_documents,
    held_fit,
    held_heard,
    held_json,
    held_learning,
    held_markup,
    held_metre,
    held_partner,
    held_script,
    held_shown,
    held_signals,
    held_sound,
    held_sounds,
    held_texts,
    held_turns,
    held_varied,
    held_weights,
    held_wording,
    held_words,
)
from tests.held import Rows

FILES: dict[str, dict[str, Rows]] = {
    "script": {**held_script.PARTS, **held_varied.PARTS, **held_bounds.PARTS, **held_choices.SCRIPT_PARTS},
    "documents": held_documents.PARTS,
    "words": {
        **held_words.PARTS,
        **held_wording.PARTS,
        **held_dice.WORD_PARTS,
        **held_bounds.WORD_PARTS,
        **held_choices.WORD_PARTS,
    },
    "verse": {**held_texts.VERSE_PARTS, **held_dice.VERSE_PARTS},
    "metre": held_metre.PARTS,
    "thoughts": {
        **held_texts.THOUGHT_PARTS,
        **held_dice.THOUGHT_PARTS,
        **held_bounds.THOUGHT_PARTS,
        **held_signals.PARTS,
        **held_turns.PARTS,
    },
    "sounds": held_sounds.PARTS,
    "timing": held_texts.TIME_PARTS,
    "fit": {**held_texts.FIT_PARTS, **held_fit.PARTS},
    "glossary": held_texts.LOOK_PARTS,
    "hearing": {**held_heard.PARTS, **held_dice.SLIP_PARTS, **held_choices.HEARING_PARTS},
    "decisions": held_heard.DECISIONS,
    "days": held_days.PARTS,
    "briefs": held_briefs.PARTS,
    "learning": held_learning.PARTS,
    "json": held_json.PARTS,
    "partner": held_partner.PARTS,
    "sound": {**held_sound.PARTS, **held_choices.SOUND_PARTS},
    "markup": {**held_markup.PARTS, **held_shown.PARTS},
    "weights": held_weights.PARTS,
    "word_lists": held_weights.WORD_LISTS,
}

if __name__ == "__main__":
    for name, parts in FILES.items():
        held.write(name, parts)
