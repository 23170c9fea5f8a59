"""Writes OpenStreetMap extracts for the tests: XML, and PBF byte by byte (OpenStreetMap wiki, "PBF Format")."""

import struct
import zlib
from collections.abc import Sequence

Node = tuple[int, float, float]
Way = tuple[int, Sequence[int], dict[str, str]]


def varint(value: int) -> bytes:
    """Write a variable-length integer."""
    digits = bytearray()
    while value > 0x7F:
        digits.append(value & 0x7F | 0x80)
        value >>= 7
    return bytes([*digits, value])


def zigzag(value: int) -> int:
    """Put the sign in the lowest bit."""
    return value << 1 if value >= 0 else (-value << 1) - 1


def packed(values: Sequence[int]) -> bytes:
    """Write a delta-coded run."""
    return b"".join(varint(zigzag(b - a)) for a, b in zip([0, *values], values, strict=False))


def field(number: int, content: bytes | int) -> bytes:
    """Write a field of a protocol buffer message."""
    if isinstance(content, int):
        return varint(number << 3) + varint(content)
    return varint(number << 3 | 2) + varint(len(content)) + content


def blob(kind: str, content: bytes, *, squeeze: bool = True) -> bytes:
    """Write one blob with its header."""
    body = field(2, len(content)) + field(3, zlib.compress(content)) if squeeze else field(1, content)
    header = field(1, kind.encode()) + field(3, len(body))
    return struct.pack(">I", len(header)) + header + body


def pbf(nodes: Sequence[Node], ways: Sequence[Way], *, dense: bool = True, squeeze: bool = True) -> bytes:
    """Write an extract (OpenStreetMap wiki, "PBF Format")."""
    words = [b"", *sorted({word.encode() for _, _, tags in ways for pair in tags.items() for word in pair})]
    table = b"".join(field(1, word) for word in words)
    groups = b"".join(
        field(
            3,
            field(1, way)
            + field(2, b"".join(varint(words.index(key.encode())) for key in tags))
            + field(3, b"".join(varint(words.index(value.encode())) for value in tags.values()))
            + field(8, packed(refs)),
        )
        for way, refs, tags in ways
    )
    places = [(round(latitude * 1e7), round(longitude * 1e7)) for _, longitude, latitude in nodes]
    if dense:
        run = field(1, packed([node[0] for node in nodes]))
        run += field(8, packed([lat for lat, _ in places])) + field(9, packed([lon for _, lon in places]))
        node_group = field(2, run)
    else:
        node_group = b"".join(
            field(1, field(1, zigzag(node[0])) + field(8, zigzag(lat)) + field(9, zigzag(lon)))
            for node, (lat, lon) in zip(nodes, places, strict=True)
        )
    header = field(4, b"OsmSchema-V0.6") + field(4, b"DenseNodes")
    block = field(1, table) + field(2, node_group) + field(2, groups)
    return blob("OSMHeader", header) + blob("OSMData", block, squeeze=squeeze)


def xml(nodes: Sequence[Node], ways: Sequence[Way]) -> str:
    """Write an extract as XML."""
    text = ["<osm version='0.6' generator='t'>"]
    text += [f"<node id='{node}' lon='{lon}' lat='{lat}' version='1'/>" for node, lon, lat in nodes]
    for way, refs, tags in ways:
        inner = "".join(f"<nd ref='{ref}'/>" for ref in refs)
        inner += "".join(f'<tag k="{key}" v="{value}"/>' for key, value in tags.items())
        text.append(f"<way id='{way}' version='1'>{inner}</way>")
    return "\n".join([*text, "</osm>"])
