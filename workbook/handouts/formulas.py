"""Simple mathematics as Lab shows it between dollars: words with raised and lowered parts, no more than lessons need.

Fractions come out with a slash, roots with √ and brackets where they are needed. What is not in the tables stays as it
was typed, and is told.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any

Block = dict[str, Any]
LONGEST = 2000  # signs of a formula
_DEEPEST = 20

# Commands of LaTeX that are a sign (ISO 80000-2 for their meaning; names by LaTeX's own list of symbols).
_SIGNS = {
    "times": "×", "cdot": "·", "div": "÷", "pm": "±", "mp": "∓", "le": "≤", "leq": "≤", "ge": "≥", "geq": "≥",
    "ne": "≠", "neq": "≠", "approx": "≈", "equiv": "≡", "sim": "∼", "to": "→", "rightarrow": "→", "leftarrow": "←",
    "Rightarrow": "⇒", "leftrightarrow": "↔", "infty": "∞", "sum": "∑", "prod": "∏", "int": "∫", "partial": "∂",
    "degree": "°", "circ": "°", "ldots": "…", "dots": "…", "cdots": "⋯", "quad": "\u2003", "qquad": "\u2003\u2003",
    "sharp": "♯", "flat": "♭", "natural": "♮", "in": "∈", "cup": "∪", "cap": "∩", "subset": "⊂", "emptyset": "∅",
    "forall": "∀", "exists": "∃", "neg": "¬", "land": "∧", "lor": "∨", "prime": "′", "ell": "ℓ", "propto": "∝",
    "alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "epsilon": "ε", "varepsilon": "ε", "zeta": "ζ", "eta": "η",
    "theta": "θ", "iota": "ι", "kappa": "κ", "lambda": "λ", "mu": "μ", "nu": "ν", "xi": "ξ", "pi": "π", "rho": "ρ",
    "sigma": "σ", "tau": "τ", "phi": "φ", "varphi": "φ", "chi": "χ", "psi": "ψ", "omega": "ω", "Gamma": "Γ",
    "Delta": "Δ", "Theta": "Θ", "Lambda": "Λ", "Xi": "Ξ", "Pi": "Π", "Sigma": "Σ", "Phi": "Φ", "Psi": "Ψ", "Omega": "Ω",
    ",": "\u2009", ";": "\u2005", ":": "\u2005", " ": " ", "!": "", "{": "{", "}": "}", "%": "%", "$": "$", "&": "&",
    "#": "#", "_": "_", "|": "‖", "left": "", "right": "", "big": "", "Big": "", "displaystyle": "", "limits": "",
}
_NAMES = frozenset(("log", "ln", "sin", "cos", "tan", "exp", "min", "max", "lim", "mod", "gcd"))
_UPRIGHT = frozenset(("text", "mathrm", "operatorname", "textrm", "mbox", "mathbf", "mathit"))
_TOKEN = re.compile(r"\\(?:[A-Za-z]+|.)|\s+|.", re.DOTALL)
_SPACED = frozenset("=<>≤≥≠≈≡→←⇒↔×÷±∓∼∝∈")


class NoFormula(ValueError):
    """A formula with something in it that is not known here; its text is that something."""


def formula(text: str) -> list[Block]:
    """A formula as inline blocks; raises NoFormula."""
    if len(text) > LONGEST:
        raise NoFormula(f"more than {LONGEST} signs")
    reader = _Formula(_TOKEN.findall(text.strip()))
    found = list(reader.row())
    if reader.left:
        raise NoFormula(reader.left[-1])
    return list(_joined(found))


class _Formula:
    """Reads tokens from the front; a group, a fraction, a root and a power read theirs in turn."""

    def __init__(self, tokens: list[str]) -> None:
        self.left = tokens[::-1]
        self.deep = 0

    def row(self) -> Iterator[Block]:
        """Everything up to the end, or to the brace that closes the group."""
        while self.left and self.left[-1] != "}":
            yield from self.one()

    def one(self) -> list[Block]:
        """The next thing, with its commands carried out."""
        token = self.left.pop()
        if token.isspace():
            return []
        if token in ("^", "_"):
            return [{"t": "sup" if token == "^" else "sub", "c": list(_joined(self.argument()))}]
        if token == "{":
            return self._group()
        if token == "}" or token == "&" or token == "\\\\":
            raise NoFormula(token)
        if not token.startswith("\\"):
                return _word("−" if token == "-" else f" {token} " if token in _SPACED else token)
        return self._command(token[1:])

    def _command(self, name: str) -> list[Block]:
        if name in _SIGNS:
            sign = _SIGNS[name]
            return _word(f" {sign} " if sign in _SPACED else sign) if sign else []
        if name in _NAMES:
            return _word(f"{name}\u2009")
        if name in _UPRIGHT:
            return _word(self._words())
        if name in ("frac", "tfrac", "dfrac"):
            above, below = self.argument(), self.argument()
            return [*_bracketed(above), *_word("/"), *_bracketed(below)]
        if name == "sqrt":
            root = self._root()
            return [*([{"t": "sup", "c": root}] if root else []), *_word("√"), *_bracketed(self.argument())]
        raise NoFormula(f"\\{name}")

    def argument(self) -> list[Block]:
        while self.left and self.left[-1].isspace():
            self.left.pop()
        if not self.left:
            raise NoFormula("the end, where something should follow")
        self._go_deeper()
        found = self.one()
        self.deep -= 1
        return found

    def _go_deeper(self) -> None:
        self.deep += 1
        if self.deep > _DEEPEST:
            raise NoFormula(f"parts more than {_DEEPEST} deep")

    def _group(self) -> list[Block]:
        self._go_deeper()
        found = list(self.row())
        if not self.left:
            raise NoFormula("a brace that nothing closes")
        self.left.pop()
        self.deep -= 1
        return found

    def _words(self) -> str:
        """The words in the braces that follow, as they are."""
        if not self.left or self.left.pop() != "{":
            raise NoFormula("words without braces")
        found = []
        while self.left and self.left[-1] != "}":
            found.append(self.left.pop())
        if not self.left:
            raise NoFormula("a brace that nothing closes")
        self.left.pop()
        return "".join(found)

    def _root(self) -> list[Block]:
        """Which root: the number in square brackets, if there is one."""
        if not self.left or self.left[-1] != "[":
            return []
        self.left.pop()
        found: list[Block] = []
        while self.left and self.left[-1] != "]":
            found += self.one()
        if not self.left:
            raise NoFormula("a bracket that nothing closes")
        self.left.pop()
        return list(_joined(found))


def _word(text: str) -> list[Block]:
    return [{"t": "text", "text": text}]


def _bracketed(found: list[Block]) -> list[Block]:
    """A part of a fraction or what stands under a root: in brackets where it is more than one number or letter."""
    whole = list(_joined(found))
    simple = len(whole) == 1 and whole[0]["t"] == "text" and whole[0]["text"].replace(".", "").isalnum()
    return whole if simple else [*_word("("), *whole, *_word(")")]


def _joined(found: Iterable[Block]) -> Iterator[Block]:
    """The blocks with words side by side made one."""
    words = ""
    for one in found:
        if one["t"] == "text":
            words += one["text"]
            continue
        if words:
            yield {"t": "text", "text": words}
        words = ""
        yield one
    if words:
        yield {"t": "text", "text": re.sub(r" {2,}", " ", words)}
