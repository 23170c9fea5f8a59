"""Strict settings: TOML into frozen models, every fault with its file and line."""

from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ConfigDict

__all__ = ["Strict", "read_settings"]


class Strict(BaseModel):
    """Base of every settings model: frozen, unknown keys are faults, no coercion of text to numbers."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, use_attribute_docstrings=True)


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
    raise NotImplementedError
