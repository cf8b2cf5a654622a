"""Where a parameter value or an expression ends; nothing here is ever worked out.

All text here is upper case and without blanks, as `words.squeeze` leaves it,
and every function returns an index into that text. Nothing recurses: a line of
a thousand `#` or `[` costs no more than its length.

Source: NISTIR 6556, 3.3.2 (numbers, parameter values, expressions, unary
operations; the section from memory). Expressions without brackets such as
`#1=#2+1`, and IF, WHILE, GOTO, DO and END: common practice, no source.
"""

from __future__ import annotations

import re

NUMBER = re.compile(r"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_PREFIX = re.compile(r"[-+#]*")
_PLAIN = re.compile(r"[0-9]+\.?[0-9]*|\.[0-9]+")
_NAME = re.compile(r"<[^<>\n]*>")
_FUNCTION = re.compile(
    r"(?:ABS|ACOS|ASIN|ATAN|COS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN|EXISTS|BIN|BCD)(?=\[)"
)
_OPERATOR = re.compile(r"\*\*|[-+*/]|MOD|AND|OR|XOR")
# Words of flow and output: they stand where a word's letter would, and no legal
# word can look like one, since a letter must be followed by a value.
_FLOW = re.compile(
    r"GOTO|WHILE|THEN|ELSE|DO(?=[0-9#])|END(?=[0-9#]|IF|WHILE|FOR|LOOP)|FOR(?=[#(\[A-Z])"
    r"|REPEAT|DPRNT|BPRNT|POPEN|PCLOS|SETVN"
)
_NAMED_FLOW = re.compile(
    r"(?:END)?(?:SUB|IF|WHILE|REPEAT)|CALL|DO|RETURN|BREAK|CONTINUE|ELSE(?:IF)?"
)


def closing_bracket(text: str, start: int) -> int:
    """Index after the `]` that closes the `[` at `start`; the text's length if none does."""
    depth = 0
    for index in range(start, len(text)):
        if text[index] == "[":
            depth += 1
        elif text[index] == "]":
            depth -= 1
            if depth == 0:
                return index + 1
    return len(text)


def value_end(text: str, start: int) -> int:
    """Index after one value (number, `#1`, `#<name>`, `[..]`, `SIN[..]`); `start` if there is none.

    Signs and `#` may stand before it, any number of them (NISTIR 6556, 3.3.2.2).
    """
    begin = _PREFIX.match(text, start)
    at = begin.end() if begin else start
    found = _PLAIN.match(text, at) or (_NAME.match(text, at) if at > start else None)
    if found:
        return found.end()
    function = _FUNCTION.match(text, at)
    if function:
        at = function.end()
    if at >= len(text) or text[at] != "[":
        return start
    end = closing_bracket(text, at)
    if function and function.group() == "ATAN" and text.startswith("/[", end):
        end = closing_bracket(text, end + 1)
    return end


def expression_end(text: str, start: int) -> int:
    """Index after a value and what is joined to it by operators; `start` if there is none."""
    end = value_end(text, start)
    while end > start:
        operator = _OPERATOR.match(text, end)
        if operator is None:
            break
        further = value_end(text, operator.end())
        if further == operator.end():
            break
        end = further
    return end


def setting_end(text: str, start: int) -> int:
    """Index after `#..=expression` at `start`; after the `#..` alone if no `=` follows it.

    Returns `start` if no parameter stands there (NISTIR 6556, 3.3.3, parameter setting).
    """
    end = value_end(text, start)
    if end == start or end >= len(text) or text[end] != "=":
        return end
    further = expression_end(text, end + 1)
    return further if further > end + 1 else end + 1


def flow_at(text: str, start: int) -> bool:
    """Whether a word of flow or of output (GOTO, WHILE, DO1, DPRNT..) starts there."""
    return _FLOW.match(text, start) is not None


def named_flow_at(text: str, start: int) -> bool:
    """Whether SUB, CALL, IF and the like stand there, as after an O word: common practice."""
    return _NAMED_FLOW.match(text, start) is not None
