"""Strict settings: TOML into frozen models, every fault with its file and line.

A model derives from :class:`Strict`; :func:`read_settings` fills it from a file. Messages read
``file:line: key = value; allowed: …; how to mend it``. The items of a list and of ``[[tables]]`` are counted from 1.
"""

import json
from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError

from pipeline.errors import SettingsError
from pipeline.settings.document import Document, load_document, parse_document
from pipeline.settings.mending import model_faults, value_text
from pipeline.settings.overlay import laid_over
from pipeline.settings.strict import Strict
from pipeline.settings.suggest import did_you_mean, near_file, nearest
from pipeline.settings.syntax import path_text

__all__ = [
    "Document",
    "Strict",
    "did_you_mean",
    "fill",
    "laid_over",
    "load_document",
    "near_file",
    "nearest",
    "parse_document",
    "path_text",
    "read_settings",
    "read_settings_text",
    "value_text",
]

Model = TypeVar("Model", bound=Strict)


def read_settings(path: Path, model: type[Model]) -> Model:
    """Read a TOML file into *model*.

    Raises
    ------
    SettingsError
        With every fault of the file: syntax, unknown keys (with the nearest
        known one), wrong types, values outside their bounds, each as
        ``file:line: key = value; allowed: …``.
    InputMissingError
        When the file is missing or unreadable.
    """
    return fill(load_document(path), model)


def read_settings_text(text: str, name: str, model: type[Model]) -> Model:
    """Read TOML *text* into *model*; *name* stands for the file in messages.

    Raises
    ------
    SettingsError
        As for :func:`read_settings`.
    """
    return fill(parse_document(text, name), model)


def fill(document: Document, model: type[Model]) -> Model:
    """Fill *model* with a document that is already read.

    Values pass through pydantic's strict JSON mode: it takes lists for tuples and words for enums, and never text
    for numbers.

    Raises
    ------
    SettingsError
        As for :func:`read_settings`.
    """
    try:
        return model.model_validate_json(json.dumps(document.data, default=str))
    except ValidationError as error:
        raise SettingsError(model_faults(error, document, model)) from error
