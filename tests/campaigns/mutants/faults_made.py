"""Small faults for a module's text: each changes one thing, and each has a name that lasts.

Most kinds are mutmut's (BSD-3-Clause), used as a library; ours are those that a person
makes: a check left out, a branch never taken, an argument forgotten. What the type
checker refuses anyway (None in place of a value) is not made, and neither is other wording of a
sentence: the tests look for the words that matter. Annotations, docstrings and `__all__`
stay as they are. A fault's name holds neither file nor line, so it survives a move.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import libcst as cst
from libcst.metadata import MetadataWrapper, PositionProvider
from mutmut.mutation import mutators

from tests.campaigns.mutants.fault import Fault

SHORT = 200  # signs of a fault's name on each side


def in_files(files: Iterable[Path], root: Path) -> list[Fault]:
    """Every fault that can be made in these files, in their order."""
    seen: Counter[str] = Counter()
    found = []
    for file in sorted(files):
        for fault in in_text(file.read_text(), str(file.relative_to(root))):
            seen[fault.name] += 1
            found.append(replace(fault, name=f"{fault.name} #{seen[fault.name]}"))
    return found


def in_text(text: str, file: str) -> Iterator[Fault]:
    """Every fault of one module's text; equal ones of a function bear equal names."""
    wrapper = MetadataWrapper(cst.parse_module(text))
    visitor = _Visitor()
    wrapper.visit(visitor)
    module = wrapper.module
    for made in visitor.made:
        name = f"{made.function}: {_words(module, made.node, made.instead)}"
        yield Fault(name, file, made.line, made.lines, partial(_with_it, module, made))


def _with_it(module: cst.Module, made: _Made) -> str:
    return module.deep_replace(made.node, made.instead).code  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class _Made:
    node: cst.CSTNode
    instead: cst.CSTNode
    function: str
    line: int
    lines: tuple[int, int]


class _Visitor(cst.CSTVisitor):
    """Goes through a module and notes each fault with the function and statement it lies in."""

    METADATA_DEPENDENCIES = (PositionProvider,)

    def __init__(self) -> None:
        self.made: list[_Made] = []
        self._names: list[str] = []
        self._statements: list[tuple[int, int]] = []

    def on_visit(self, node: cst.CSTNode) -> bool:
        if _is_left_alone(node):
            return False
        if isinstance(node, (cst.FunctionDef, cst.ClassDef)):
            self._names.append(node.name.value)
        lines = self._lines(node)
        if lines:
            self._statements.append(lines)
        for kind, make in KINDS:
            if isinstance(node, kind):
                self._note(node, make(node))
        return True

    def on_leave(self, original_node: cst.CSTNode) -> None:
        if isinstance(original_node, (cst.FunctionDef, cst.ClassDef)):
            self._names.pop()
        if self._lines(original_node):
            self._statements.pop()

    def _lines(self, node: cst.CSTNode) -> tuple[int, int] | None:
        """First and last line of a statement, or of the head of one that has a body."""
        if isinstance(node, cst.SimpleStatementLine):
            at = self.get_metadata(PositionProvider, node)
            return at.start.line, at.end.line
        if isinstance(node, cst.BaseCompoundStatement):
            start = self.get_metadata(PositionProvider, node).start.line
            body = self.get_metadata(PositionProvider, node.body).start.line
            return start, max(start, body - 1)
        return None

    def _note(self, node: cst.CSTNode, instead: Iterable[cst.CSTNode]) -> None:
        at = self.get_metadata(PositionProvider, node, None)
        lines = self._statements[-1] if self._statements else (1, 1)
        line = at.start.line if at else lines[0]
        function = ".".join(self._names) or "module"
        self.made += [_Made(node, other, function, line, lines) for other in instead]


def _is_left_alone(node: cst.CSTNode) -> bool:
    if isinstance(node, (cst.Annotation, cst.Import, cst.ImportFrom)):
        return True
    if isinstance(node, cst.Call) and isinstance(node.func, cst.Name):
        return node.func.value in ("len", "isinstance", "TypeVar", "cast", "dataclass")
    if isinstance(node, cst.Subscript):  # words of a type, as an annotation's
        return isinstance(node.value, cst.Name) and node.value.value == "Literal"
    if isinstance(node, cst.Assign):
        target = node.targets[0].target
        return isinstance(target, cst.Name) and target.value == "__all__"
    return isinstance(node, cst.Assert)  # they say what a type checker cannot see


# kinds that are ours


def _branch(node: cst.If) -> Iterator[cst.CSTNode]:
    """A branch that is never taken, and one that always is."""
    yield node.with_changes(test=cst.Name("False"))
    yield node.with_changes(test=cst.Name("True"))


def _condition(node: cst.CompIf) -> Iterator[cst.CSTNode]:
    yield node.with_changes(test=cst.Name("True"))


def _left_out(node: cst.Expr) -> Iterator[cst.CSTNode]:
    """A call for its effect, or a yield, left out."""
    if isinstance(node.value, (cst.Call, cst.Yield)):
        yield cst.Pass()


def _not_raised(_: cst.Raise) -> Iterator[cst.CSTNode]:
    yield cst.Pass()


def _argument(node: cst.Call) -> Iterator[cst.CSTNode]:
    """An argument left out: a named one, or the last of several."""
    for n, arg in enumerate(node.args):
        last = len(node.args) > 1 and n == len(node.args) - 1
        if (arg.keyword is not None or last) and not arg.star:
            kept = [*node.args[:n], *node.args[n + 1 :]]
            if kept and n == len(kept):
                kept[-1] = kept[-1].with_changes(comma=cst.MaybeSentinel.DEFAULT)
            yield node.with_changes(args=kept)


def _string(node: cst.SimpleString) -> Iterator[cst.CSTNode]:
    """Another key, name or mark; a sentence stays as it is."""
    if not re.search(r"\s|^.?\"\"\"", node.value):
        yield from list(mutators.operator_string(node))[:1]


KINDS = (
    (cst.If, _branch),
    (cst.CompIf, _condition),
    (cst.Expr, _left_out),
    (cst.Raise, _not_raised),
    (cst.Call, _argument),
    (cst.SimpleString, _string),
    (cst.BaseNumber, mutators.operator_number),
    (cst.Name, mutators.operator_name),
    (cst.AugAssign, mutators.operator_augmented_assignment),
    (cst.UnaryOperation, mutators.operator_remove_unary_ops),
    (cst.Call, mutators.operator_symmetric_string_methods_swap),
    (cst.Call, mutators.operator_unsymmetrical_string_methods_swap),
    (cst.CSTNode, mutators.operator_keywords),
    (cst.CSTNode, mutators.operator_swap_op),
    (cst.IfExp, mutators.operator_if_exp),
)


def _words(module: cst.Module, node: cst.CSTNode, instead: cst.CSTNode) -> str:
    """What changes, on one line; of a branch its condition."""
    if isinstance(node, cst.If) and isinstance(instead, cst.If):
        return _words(module, node.test, instead.test)
    was, now = (" ".join(module.code_for_node(n).split()) for n in (node, instead))
    return f"{was[:SHORT]} -> {now[:SHORT] or 'nothing'}"
