"""What every product must say about the set-ups it shows, such as maker's figures on a modified vehicle."""

from collections.abc import Collection

from pipeline.products.facts import Facts
from pipeline.products.plain import clean

__all__ = ["setup_warnings"]


def setup_warnings(facts: Facts, setups: Collection[str] | None = None) -> tuple[str, ...]:
    """List the warnings of the set-ups, each behind the name of its set-up.

    Parameters
    ----------
    facts
        What the build found out.
    setups
        Names of the set-ups that are shown; ``None`` for all.
    """
    return tuple(
        clean(f"{envelope.setup}: {warning}")
        for envelope in facts.envelopes
        if setups is None or envelope.setup in setups
        for warning in envelope.warnings
    )
