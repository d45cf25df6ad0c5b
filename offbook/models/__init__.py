"""Speech models: which one is used, where it is kept, whether it is undamaged, and how it is fetched."""

from __future__ import annotations

from offbook.models.downloads import (
    fetch,
)
from offbook.models.listing import (
    FIRST,
    SECOND,
)
from offbook.models.store import (
    chosen_model,
    damage,
    manifest,
    model_folder,
    models_folder,
    named_roles,
    names,
    second_folder,
)

__all__ = [
    "FIRST",
    "SECOND",
    "chosen_model",
    "damage",
    "fetch",
    "manifest",
    "model_folder",
    "models_folder",
    "named_roles",
    "names",
    "second_folder",
]
