"""The base class of every settings model."""

from pydantic import BaseModel, ConfigDict

__all__ = ["Strict"]


class Strict(BaseModel):
    """Base of every settings model: frozen, unknown keys are faults, text is never taken for a number.

    Models are filled from TOML by :func:`pipeline.settings.read_settings`, which validates them the way
    pydantic's strict mode treats JSON: a list fills a tuple or a set, a word fills an enum, a whole number
    fills a float, a TOML date or an ISO text fills a date; nothing else is converted. Fields therefore need no
    ``Field(strict=False)``. Numbers must be finite.
    """

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        use_attribute_docstrings=True,
    )
