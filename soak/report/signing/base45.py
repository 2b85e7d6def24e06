"""Bytes as the 45 characters that a QR code packs tightest.

References
----------
RFC 9285, The Base45 Data Encoding.
"""

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"


def encode(data: bytes) -> str:
    """Return the text of some bytes: two bytes become three characters, a last one two."""
    parts = []
    for at in range(0, len(data), 2):
        pair = data[at : at + 2]
        number = int.from_bytes(pair, "big")
        digits = len(pair) + 1
        for _ in range(digits):
            number, digit = divmod(number, 45)
            parts.append(ALPHABET[digit])
    return "".join(parts)


def decode(text: str) -> bytes:
    """Return the bytes of a text.

    Raises
    ------
    ValueError
        If it is not Base45.
    """
    data = bytearray()
    for at in range(0, len(text), 3):
        part = text[at : at + 3]
        number = sum(ALPHABET.index(sign) * 45**place for place, sign in enumerate(part))
        size = len(part) - 1
        if size < 1 or number >= 256**size:
            raise ValueError(f"{part!r} is not Base45")
        data += number.to_bytes(size, "big")
    return bytes(data)
