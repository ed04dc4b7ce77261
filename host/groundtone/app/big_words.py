"""Large letters for a terminal, three lines high, of half blocks: readable while kneeling beside the mat."""

from __future__ import annotations

# Five rows of three dots a letter; each row is one digit: 4 left + 2 middle + 1 right.
_DOTS = {
    "A": "25755", "B": "65656", "C": "34443", "D": "65556", "E": "74647", "F": "74644", "G": "34553", "H": "55755",
    "I": "72227", "J": "11152", "K": "55655", "L": "44447", "M": "57755", "N": "65555", "O": "25552", "P": "65644",
    "Q": "25573", "R": "65655", "S": "34216", "T": "72222", "U": "55557", "V": "55552", "W": "55775", "X": "55255",
    "Y": "55222", "Z": "71247", "0": "75557", "1": "26227", "2": "61247", "3": "61216", "4": "55711", "5": "74616",
    "6": "34757", "7": "71122", "8": "75757", "9": "75716", ".": "00002", ",": "00024", "-": "00700", "+": "02720",
    " ": "00000", "/": "11244", ":": "02020",
}  # fmt: skip
_HALF = {(0, 0): " ", (1, 0): "▀", (0, 1): "▄", (1, 1): "█"}


def big(text: str) -> list[str]:
    r"""Three lines of text; what has no letter here is left out.

    Examples
    --------
    >>> print("\n".join(line.rstrip() for line in big("5 kg")))
    █▀▀     █ █ ▄▀▀
    ▀▀▄     █▀▄ █ █
    ▀▀      ▀ ▀  ▀▀
    """
    lines = []
    for top in (0, 2, 4):
        line = ""
        for letter in text.upper():
            dots = _DOTS.get(letter)
            if dots is None:
                continue
            upper, lower = int(dots[top]), int(dots[top + 1]) if top < 4 else 0
            line += "".join(_HALF[upper >> shift & 1, lower >> shift & 1] for shift in (2, 1, 0)) + " "
        lines.append(line)
    return lines
