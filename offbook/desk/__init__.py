"""The desk: what a performer or coach can ask for, from a file or a name to the finished act.

Hearing a run-through, logging a take, taking in a piece, planning: each is one call that prints nothing and
knows no terminal. The command line and the page are two fronts of it. Progress and questions are callbacks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from offbook import late

if TYPE_CHECKING:
    from offbook.desk.agendas import Agenda, agenda, items_of
    from offbook.desk.archives import export_to, fits_brief, import_from
    from offbook.desk.as_read import ShownRow, shown_rows
    from offbook.desk.briefs import (
        CONSENT,
        BriefKept,
        brief_by_key,
        brief_for,
        chosen_for,
        correct_brief,
        one_brief,
        read_briefs,
    )
    from offbook.desk.bundle import (
        CHECKLIST,
        Bundle,
        BundledFile,
        note_confirmed,
        note_sent,
        overdue,
        pack_bundle,
        parcel_in_words,
        take_back_sent,
    )
    from offbook.desk.class_list import ClassRow, class_rows, with_forecast
    from offbook.desk.cues import cues_in_words, cues_picked_up
    from offbook.desk.delivery_review import (
        ReviewedTake,
        ShiftBeside,
        delivery_summary,
        review_as_json,
        review_differences,
        review_heard,
    )
    from offbook.desk.differing import Difference, differences, take_other_value
    from offbook.desk.drilling import lay_out_sitting
    from offbook.desk.explain import words_asked
    from offbook.desk.finding import chosen_performer, chosen_piece, day_in, draft_of
    from offbook.desk.heard_before import kept_recording, review_kept, run_named
    from offbook.desk.journal_open import opened_journal, process_clock
    from offbook.desk.learning import confirm_word, correct_word, record_answer, record_run
    from offbook.desk.listening import Heard, Progress, listen, listen_to, reviewed
    from offbook.desk.live_sound import LiveSound, microphone_for
    from offbook.desk.margins import PlacedNote, placed_notes, still_open, write_margin_note
    from offbook.desk.meant_pauses import marked_pauses, pauses_in, usual_pauses
    from offbook.desk.model_loading import Ears, Loading
    from offbook.desk.own_pace import NEWEST, readings_in, readings_of
    from offbook.desk.pieces import (
        Added,
        Revised,
        add_from_file,
        change_part,
        owner_named,
        performers_or_me,
        revise_from_file,
        thought_rows,
        words_and_thoughts,
    )
    from offbook.desk.pile import (
        USUAL_PATTERN,
        NotPlaced,
        PileEntry,
        PileError,
        Placed,
        match_recordings,
        pile_of,
    )
    from offbook.desk.pile_hearing import (
        CountDone,
        PileHeard,
        PileLine,
        UnsurePiece,
        cluster_workers,
        hear_pile,
        local_workers,
        workers_here,
    )
    from offbook.desk.planning import Planned, calendar_file, plans_of
    from offbook.desk.recorded_lines import RecordedVoice, cut_lines, playing_command, spans_of
    from offbook.desk.rehearsals import Front, Rehearsed, Wishes, broken_off, rehearse
    from offbook.desk.review_wording import (
        UNITS_EXPLAINED,
        ReviewedStretch,
        margin_note_in_words,
        other_findings,
        place_in_words,
        review_headline,
        reviewed_stretches,
        speech_name,
        was_measured,
        written_opening,
    )
    from offbook.desk.run_json import PLACES, note_as_json, run_as_json
    from offbook.desk.run_throughs import (
        Saved,
        commit_run,
        hear_and_keep,
        keep_recording_once,
        prompts_kept,
        spoken_at,
    )
    from offbook.desk.serving import Served, Serving, serving_of
    from offbook.desk.sheets import filled_template
    from offbook.desk.speech_of import EVERY_PART, excerpt_of, is_piece, script_of, several_parts, speech
    from offbook.desk.spoken_answers import (
        AnswerListener,
        Done,
        Recorder,
        SpokenAnswer,
        ear_for,
        said_from,
    )
    from offbook.desk.standings import detail, kept_by_piece, standing
    from offbook.desk.take_log import (
        JudgedTake,
        Logged,
        findings_of_take,
        judge_logged,
        log_take,
        logged_take,
        run_notes,
        shifts_heard,
        standing_of,
        unmet_of,
    )
    from offbook.desk.voices import (
        NoVoice,
        ProgramVoice,
        Voice,
        speaking_command,
    )

__all__ = [
    "CHECKLIST",
    "CONSENT",
    "EVERY_PART",
    "NEWEST",
    "PLACES",
    "UNITS_EXPLAINED",
    "USUAL_PATTERN",
    "Added",
    "Agenda",
    "AnswerListener",
    "BriefKept",
    "Bundle",
    "BundledFile",
    "ClassRow",
    "CountDone",
    "Difference",
    "Done",
    "Ears",
    "Front",
    "Heard",
    "JudgedTake",
    "LiveSound",
    "Loading",
    "Logged",
    "NoVoice",
    "NotPlaced",
    "PileEntry",
    "PileError",
    "PileHeard",
    "PileLine",
    "Placed",
    "PlacedNote",
    "Planned",
    "ProgramVoice",
    "Progress",
    "RecordedVoice",
    "Recorder",
    "Rehearsed",
    "ReviewedStretch",
    "ReviewedTake",
    "Revised",
    "Saved",
    "Served",
    "Serving",
    "ShiftBeside",
    "ShownRow",
    "SpokenAnswer",
    "UnsurePiece",
    "Voice",
    "Wishes",
    "add_from_file",
    "agenda",
    "brief_by_key",
    "brief_for",
    "broken_off",
    "calendar_file",
    "change_part",
    "chosen_for",
    "chosen_performer",
    "chosen_piece",
    "class_rows",
    "cluster_workers",
    "commit_run",
    "confirm_word",
    "correct_brief",
    "correct_word",
    "cues_in_words",
    "cues_picked_up",
    "cut_lines",
    "day_in",
    "delivery_summary",
    "detail",
    "differences",
    "draft_of",
    "ear_for",
    "excerpt_of",
    "export_to",
    "filled_template",
    "findings_of_take",
    "fits_brief",
    "hear_and_keep",
    "hear_pile",
    "import_from",
    "is_piece",
    "items_of",
    "judge_logged",
    "keep_recording_once",
    "kept_by_piece",
    "kept_recording",
    "lay_out_sitting",
    "listen",
    "listen_to",
    "local_workers",
    "log_take",
    "logged_take",
    "margin_note_in_words",
    "marked_pauses",
    "match_recordings",
    "microphone_for",
    "note_as_json",
    "note_confirmed",
    "note_sent",
    "one_brief",
    "opened_journal",
    "other_findings",
    "overdue",
    "owner_named",
    "pack_bundle",
    "parcel_in_words",
    "pauses_in",
    "performers_or_me",
    "pile_of",
    "place_in_words",
    "placed_notes",
    "plans_of",
    "playing_command",
    "process_clock",
    "prompts_kept",
    "read_briefs",
    "readings_in",
    "readings_of",
    "record_answer",
    "record_run",
    "rehearse",
    "review_as_json",
    "review_differences",
    "review_headline",
    "review_heard",
    "review_kept",
    "reviewed",
    "reviewed_stretches",
    "revise_from_file",
    "run_as_json",
    "run_named",
    "run_notes",
    "said_from",
    "script_of",
    "serving_of",
    "several_parts",
    "shifts_heard",
    "shown_rows",
    "spans_of",
    "speaking_command",
    "speech",
    "speech_name",
    "spoken_at",
    "standing",
    "standing_of",
    "still_open",
    "take_back_sent",
    "take_other_value",
    "thought_rows",
    "unmet_of",
    "usual_pauses",
    "was_measured",
    "with_forecast",
    "words_and_thoughts",
    "words_asked",
    "workers_here",
    "write_margin_note",
    "written_opening",
]

if not TYPE_CHECKING:  # a name that does not exist stays an error for the type checker
    __getattr__ = late.face(__name__)
