"""Large letters for a terminal: three lines high, readable while kneeling beside the mat, or as large as it goes."""

from __future__ import annotations

# Five rows of three dots a letter; each row is one digit: 4 left + 2 middle + 1 right.
_DOTS = {
    "A": "25755", "B": "65656", "C": "34443", "D": "65556", "E": "74647", "F": "74644", "G": "34553", "H": "55755",
    "I": "72227", "J": "11152", "K": "55655", "L": "44447", "M": "57755", "N": "65555", "O": "25552", "P": "65644",
    "Q": "25573", "R": "65655", "S": "34216", "T": "72222", "U": "55557", "V": "55552", "W": "55775", "X": "55255",
    "Y": "55222", "Z": "71247", "Ä": "52575", "Ö": "50757", "Ü": "50557",
    "0": "75557", "1": "26227", "2": "61247", "3": "61216", "4": "55711", "5": "74616",
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


def huge(text: str, width: int, height: int) -> list[str]:
    """Text in letters as large as fit, a word or more a line, for reading from the ball.

    Parameters
    ----------
    width, height : int
        Columns and lines that there are.

    Returns
    -------
    list of str
        Lines of full blocks; of half blocks as `big` makes them where there is no room for more.
    """
    words = text.split()
    for size in range(max(1, height // 5), 0, -1):
        # A dot is two columns wide and one line high, so that letters keep their shape; a letter has four with its gap.
        lines = _filled(words, width // (8 * size))
        if lines is not None and len(lines) * 6 * size - size <= height:
            return [row for i, line in enumerate(lines) for row in [""] * size * (i > 0) + _blocks(line, size)]
    lines = _filled(words, max(1, width // 4)) or [text]
    return [row for line in lines for row in big(line)]


def _filled(words: list[str], letters: int) -> list[str] | None:
    """Words on lines of so many letters; None where a word is longer."""
    lines: list[str] = []
    for word in words:
        if len(word) > letters:
            return None
        if lines and len(lines[-1]) + 1 + len(word) <= letters:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _blocks(line: str, size: int) -> list[str]:
    dots = [_DOTS[letter] for letter in line.upper() if letter in _DOTS]
    rows = []
    for row in range(5):
        drawn = "".join(
            "".join(("██" if int(letter[row]) >> shift & 1 else "  ") * size for shift in (2, 1, 0)) + "  " * size
            for letter in dots
        )
        rows += [drawn] * size
    return rows
