"""Letters of five by seven dots, for pictures that are drawn without a font."""

from __future__ import annotations

import unicodedata

import numpy as np
from numpy.typing import NDArray

Dots = NDArray[np.bool_]

HEIGHT, WIDTH, STEP = 7, 5, 6
# Seven rows a letter, each row's dots as the bits of a number from 0 to 31 written in base 32.
_ROWS = {
    "A": "EHHVHHH", "B": "UHHUHHU", "C": "EHGGGHE", "D": "UHHHHHU", "E": "VGGUGGV", "F": "VGGUGGG", "G": "EHGNHHF",
    "H": "HHHVHHH", "I": "E44444E", "J": "72222IC", "K": "HIKOKIH", "L": "GGGGGGV", "M": "HRLLHHH", "N": "HPLJHHH",
    "O": "EHHHHHE", "P": "UHHUGGG", "Q": "EHHHLID", "R": "UHHUKIH", "S": "FGGE11U", "T": "V444444", "U": "HHHHHHE",
    "V": "HHHHHA4", "W": "HHHLLRH", "X": "HHA4AHH", "Y": "HHA4444", "Z": "V1248GV",
    "0": "EHJLPHE", "1": "4C4444E", "2": "EH1248V", "3": "V2421HE", "4": "26AIV22", "5": "VGU11HE", "6": "68GUHHE",
    "7": "V124888", "8": "EHHEHHE", "9": "EHHF12C",
    ".": "00000CC", ",": "0000C48", "-": "000V000", "−": "000V000", "+": "044V440", "±": "44V440V", "/": "1122488",
    "'": "4480000", ":": "0CC0CC0", "&": "CIK8LID", "(": "2488842", ")": "8422248", "%": "OP2481J",
}  # fmt: skip


def _glyph(letter: str) -> Dots:
    rows = _ROWS.get(letter, "0000000")
    return np.array([[int(row, 32) >> (WIDTH - 1 - dot) & 1 for dot in range(WIDTH)] for row in rows], dtype=np.bool_)


def known(text: str) -> str:
    """Return a text in the letters that there are: upper case, without accents, blanks for what is left."""
    bare = (letter for letter in unicodedata.normalize("NFKD", text.upper()) if not unicodedata.combining(letter))
    return "".join(letter if letter in _ROWS else " " for letter in bare)


def dots(text: str) -> Dots:
    """Return a line of text as dots, shape (7, 6 · letters)."""
    found: Dots = np.zeros((HEIGHT, STEP * max(1, len(text))), dtype=np.bool_)
    for place, letter in enumerate(known(text)):
        found[:, place * STEP : place * STEP + WIDTH] = _glyph(letter)
    return found
