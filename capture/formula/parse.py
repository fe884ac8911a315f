"""From the text of a formula to its tree.

The grammar, plain arithmetic with the usual order of precedence::

    sum     = product { ("+" | "-") product }
    product = signed { ("*" | "/") signed }
    signed  = [ "-" ] signed | power
    power   = atom [ "^" [ "-" ] whole-number ]
    atom    = number | "pi" | name [ "[" point "]" ] | call | "(" sum ")"
    call    = function "(" sum { "," sum } ")"

So ``-bore ^ 2`` is the negative of a square. A name holds letters, digits, ``-`` and ``_`` and
begins with a letter: a minus behind a name needs a space before it.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from capture.formula.problem import FormulaError
from capture.formula.token import END, Token, tokens
from capture.formula.tree import Call, Formula, Literal, Name, Node, Operation

PI: Final = Fraction("3.14159265358979323846264338327950288419716939937510")
"""To 50 decimals: exact enough for any size, and the same on every platform."""
FUNCTIONS: Final = ("mean", "min", "max", "range", "abs")
DEEPEST: Final = 60
"""Levels of operations within each other; nothing measured on an engine needs more."""
HIGHEST_POWER: Final = 9
_LARGEST: Final = 2_000
"""Factors a formula may come to when its powers are written out: digits grow with them."""


def parse(text: str) -> Formula:
    """The formula in ``text``. Raises FormulaError at the first thing that will not do."""
    parser = _Parser(text)
    root = parser.whole()
    return Formula(text, root, tuple(parser.names))


class _Parser:
    def __init__(self, text: str) -> None:
        self.names: list[Name] = []
        self._tokens = tokens(text)
        self._next = next(self._tokens)
        self._depth = 0
        self._sizes: dict[int, tuple[int, int]] = {}
        """Depth and number of factors of every node made so far, by its ``id``."""
        self._kept: list[Node] = []
        """Every node made, so that no ``id`` is used twice."""

    def whole(self) -> Node:
        if self._next.text == END:
            raise FormulaError(0, "the formula is empty", 'write one, as "bore - piston"')
        root = self._sum()
        if self._next.text != END:
            raise self._unexpected(self._next)
        return root

    def _sum(self) -> Node:
        left = self._product()
        while self._next.kind == "sign" and self._next.text in ("+", "-"):
            sign = self._take()
            left = self._joined(sign, left, self._product())
        return left

    def _product(self) -> Node:
        left = self._signed()
        while self._next.kind == "sign" and self._next.text in ("*", "/"):
            sign = self._take()
            left = self._joined(sign, left, self._signed())
        return left

    def _signed(self) -> Node:
        if self._next.kind == "sign" and self._next.text == "-":
            sign = self._take()
            self._deeper(sign.at)
            right = self._signed()
            self._depth -= 1
            return self._joined(sign, None, right)
        return self._power()

    def _power(self) -> Node:
        base = self._atom()
        if not self._is("^"):
            return base
        sign = self._take()
        negative = self._is("-")
        if negative:
            self._take()
        exponent = self._take()
        if exponent.kind != "number" or not exponent.text.isdecimal():
            mend = "write a whole number behind it, as bore ^ 2"
            raise FormulaError(sign.at, "^ takes a whole number", mend)
        power = int(exponent.text)
        if power > HIGHEST_POWER:
            message = f"a power of {exponent.text} is too high"
            raise FormulaError(sign.at, message, f"write at most {HIGHEST_POWER}")
        if self._is("^"):
            raise FormulaError(
                self._next.at, "a power of a power", "put parentheses round the first"
            )
        right = self._keep(Literal(Fraction(-power if negative else power)), 0, 1, sign.at)
        depth, size = self._sizes[id(base)]
        node = Operation("^", base, right, sign.at)
        return self._keep(node, depth + 1, max(1, size * power), sign.at)

    def _atom(self) -> Node:
        token = self._take()
        if token.kind == "number":
            return self._keep(Literal(Fraction(token.text)), 0, 1, token.at)
        if token.kind == "name":
            if self._is("("):
                return self._call(token)
            if token.text == "pi":
                return self._keep(Literal(PI), 0, 1, token.at)
            return self._name(token)
        if token.text == "(":
            self._deeper(token.at)
            inner = self._sum()
            self._depth -= 1
            self._close(")", token)
            return inner
        raise self._unexpected(token)

    def _name(self, token: Token) -> Node:
        point = None
        if self._is("["):
            bracket = self._take()
            point = self._point(token)
            self._close("]", bracket)
        name = Name(token.text, point, token.at)
        self.names.append(name)
        return self._keep(name, 0, 1, token.at)

    def _point(self, token: Token) -> str:
        point = self._take()
        if point.kind != "name":
            mend = f"write one, as {token.text}[top]"
            raise FormulaError(point.at, "there is no point in the brackets", mend)
        return point.text

    def _call(self, token: Token) -> Node:
        if token.text not in FUNCTIONS:
            from difflib import get_close_matches

            near = get_close_matches(token.text.lower(), FUNCTIONS, n=1, cutoff=0.6)
            mend = f"write {near[0]}(…)" if near else "write * between a name and a parenthesis"
            known = f"functions are {', '.join(FUNCTIONS)}"
            raise FormulaError(token.at, f'"{token.text[:64]}" is no function; {known}', mend)
        opened = self._take()
        self._deeper(token.at)
        arguments = [self._sum()]
        while self._is(","):
            self._take()
            arguments.append(self._sum())
        self._depth -= 1
        self._close(")", opened)
        if token.text == "abs" and len(arguments) > 1:
            message = f"abs takes one argument, not {len(arguments)}"
            raise FormulaError(token.at, message, "take the absolute value of each")
        depth = max(self._sizes[id(one)][0] for one in arguments)
        size = sum(self._sizes[id(one)][1] for one in arguments)
        return self._keep(Call(token.text, tuple(arguments), token.at), depth + 1, size, token.at)

    def _joined(self, sign: Token, left: Node | None, right: Node) -> Node:
        depth, size = self._sizes[id(right)]
        if left is not None:
            depth, size = max(depth, self._sizes[id(left)][0]), size + self._sizes[id(left)][1]
        return self._keep(Operation(sign.text, left, right, sign.at), depth + 1, size, sign.at)

    def _keep(self, node: Node, depth: int, size: int, at: int) -> Node:
        if depth > DEEPEST:
            raise _too_deep(at)
        if size > _LARGEST:
            message = "written out, the powers of this formula come to too many factors"
            raise FormulaError(at, message, "use lower powers")
        self._kept.append(node)
        self._sizes[id(node)] = depth, size
        return node

    def _deeper(self, at: int) -> None:
        self._depth += 1
        if self._depth > DEEPEST:
            raise _too_deep(at)

    def _is(self, sign: str) -> bool:
        return self._next.kind == "sign" and self._next.text == sign

    def _take(self) -> Token:
        token = self._next
        if token.text != END:
            self._next = next(self._tokens)
        return token

    def _close(self, sign: str, opened: Token) -> None:
        if self._is(sign):
            self._take()
        elif self._next.text == END:
            raise FormulaError(
                opened.at, f'"{opened.text}" is never closed', f"write {sign} behind it"
            )
        else:
            raise self._unexpected(self._next)

    @staticmethod
    def _unexpected(found: Token) -> FormulaError:
        if found.text == END:
            return FormulaError(found.at, "the formula stops short", "write what comes next")
        if found.text == ",":
            mend = "write a decimal point; a comma only parts the arguments of a function"
            return FormulaError(found.at, "a comma does not stand here", mend)
        if found.kind == "sign":
            return FormulaError(found.at, f'"{found.text}" does not stand here', "take it out")
        message = f'no sign stands before "{found.text[:64]}"'
        return FormulaError(found.at, message, "write + - * or / before it")


def _too_deep(at: int) -> FormulaError:
    message = f"more than {DEEPEST} operations stand within each other"
    mend = "split it: a formula may name other derived quantities; mean(…) takes many arguments"
    return FormulaError(at, message, mend)
