"""All rows of evidence, by topic."""

from pingwright.validation.row import Row


def rows() -> list[Row]:
    """Return every row, topic by topic."""
    from pingwright.validation.rows import (
        absorption,
        arrays,
        beam,
        bottomecho,
        budget,
        deadzone,
        detection,
        fish,
        noise,
        pulse,
        roughness,
        seabed,
        shapes,
        smallslope,
        sphere,
        water,
        wind,
    )

    topics = (
        absorption,
        arrays,
        beam,
        bottomecho,
        budget,
        deadzone,
        detection,
        fish,
        noise,
        pulse,
        roughness,
        seabed,
        shapes,
        smallslope,
        sphere,
        water,
        wind,
    )
    return [row for topic in topics for row in topic.ROWS]
