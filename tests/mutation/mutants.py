"""Small mistakes that someone could make in a function of the program, and how to make one in a running process."""

import ast
import copy
import gc
from collections import defaultdict
from collections.abc import Collection, Iterator
from pathlib import Path
from types import CodeType, FunctionType

from msgspec import Struct

OTHER: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.And: ast.Or,
    ast.Or: ast.And,
}


class Mutant(Struct, frozen=True):
    """One changed place: the function it is in (as `co_qualname`), and its place among the function's own mutants."""

    file: str
    function: str
    line: int
    number: int
    was: str
    now: str

    @property
    def draw(self) -> str:
        """What it is drawn by: the same wherever its function moves to in the file."""
        return f"{self.file} {self.function} {self.number} {self.now}"

    @property
    def said(self) -> str:
        """What it changes, in words that stay where lines move."""
        return f"{self.file} {self.function}: {self.was} → {self.now}"

    @property
    def id(self) -> str:
        """The same in each run of the same source."""
        return f"{self.file}:{self.line} {self.was} → {self.now} ({self.number})"


def mutants_of(root: Path, file: str) -> Iterator[Mutant]:
    """Every mutant of a file, function by function."""
    for name, function in _functions(ast.parse((root / file).read_text(encoding="utf-8"))):
        for number, (node, _, new) in enumerate(_changes(function)):
            yield Mutant(file, name, node.lineno, number, _said(node), _said(new))


def code_of(root: Path, mutant: Mutant) -> CodeType:
    """The code of a mutant's function with the mistake in it."""
    codes = _compiled(root, mutant.file, _tree(root, mutant))
    return next(code for code in codes if code.co_qualname == mutant.function)


def source_of(root: Path, mutant: Mutant) -> str:
    """The text of a mutant's file with the mistake in it, without comments."""
    return ast.unparse(_tree(root, mutant))


def _tree(root: Path, mutant: Mutant) -> ast.Module:
    tree = ast.parse((root / mutant.file).read_text(encoding="utf-8"))
    function = dict(_functions(tree))[mutant.function]
    node, swap, new = list(_changes(function))[mutant.number]
    swap(ast.copy_location(new, node))
    return tree


def marked_codes(root: Path, file: str) -> list[CodeType]:
    """The code of each function of a file as it is, except that it says that it was called."""
    tree = ast.parse((root / file).read_text(encoding="utf-8"))
    functions = dict(_functions(tree))
    for name, function in functions.items():
        mark = ast.parse(f"__called__({f'{file}:{name}'!r})").body[0]
        for node in ast.walk(mark):
            ast.copy_location(node, function.body[0])
        # After a docstring, which a function keeps.
        function.body.insert(1 if ast.get_docstring(function) else 0, mark)
    return [code for code in _compiled(root, file, tree) if code.co_qualname in functions]


Functions = dict[tuple[str, str], list[FunctionType]]


def functions_of(files: Collection[str]) -> Functions:
    """Every function made of these files' lines, by its name and file: there may be several of the same lines."""
    # The tests freeze what is loaded before they begin; nobody would see it among the objects.
    gc.unfreeze()
    found = defaultdict(list)
    for each in gc.get_objects():
        if isinstance(each, FunctionType) and each.__code__.co_filename in files:
            found[each.__code__.co_qualname, each.__code__.co_filename].append(each)
    gc.freeze()
    return found


def put_in(functions: Functions, *codes: CodeType) -> int:
    """Have every function that was made of the same lines run this code from now on; how many there are."""
    same = [(each, code) for code in codes for each in functions.get((code.co_qualname, code.co_filename), [])]
    for function, code in same:
        function.__code__ = code
    return len(same)


def _compiled(root: Path, file: str, tree: ast.Module) -> Iterator[CodeType]:
    return _codes(compile(ast.fix_missing_locations(tree), str(root / file), "exec"))


def _codes(code: CodeType) -> Iterator[CodeType]:
    for each in code.co_consts:
        if isinstance(each, CodeType):
            yield each
            yield from _codes(each)


def _functions(node: ast.AST, within: str = "") -> Iterator[tuple[str, ast.FunctionDef]]:
    """The functions of a module and the methods of its classes. Two of one name: the last, as when it runs."""
    for each in ast.iter_child_nodes(node):
        if isinstance(each, ast.FunctionDef):
            yield within + each.name, each
        elif isinstance(each, ast.ClassDef):
            yield from _functions(each, f"{within}{each.name}.")


def _changes(function: ast.FunctionDef) -> Iterator[tuple[ast.stmt | ast.expr, "Swap", ast.stmt | ast.expr]]:
    """Every place of a function that may be changed: the node, how to put another there, and the other."""
    # What is outside its body, such as a default, is not in the function's code. Types are not calculated with.
    inside = (node for statement in function.body for node in ast.walk(statement))
    for parent in (function, *inside):
        if isinstance(parent, ast.keyword) and parent.arg == "strict":
            continue  # It only stops what never happens.
        for field, value in ast.iter_fields(parent):
            if (parent is function and field != "body") or field in ("annotation", "returns"):
                continue
            for place, node in enumerate(value if isinstance(value, list) else [value]):
                if isinstance(node, ast.stmt | ast.expr):
                    swap = Swap(parent, field, place if isinstance(value, list) else None)
                    yield from ((node, swap, new) for new in _others(node))


class Swap(Struct, frozen=True):
    """Where a node is."""

    parent: ast.AST
    field: str
    place: int | None

    def __call__(self, new: ast.AST) -> None:
        if self.place is None:
            setattr(self.parent, self.field, new)
        else:
            getattr(self.parent, self.field)[self.place] = new


def _others(node: ast.stmt | ast.expr) -> Iterator[ast.stmt | ast.expr]:
    new = copy.deepcopy(node)
    match new:
        case ast.Compare(ops=ops):
            for place, op in enumerate(ops):
                changed = copy.deepcopy(new)
                changed.ops[place] = OTHER[type(op)]()  # type: ignore[call-overload]
                yield changed
        case ast.BinOp(op=op) | ast.BoolOp(op=op) | ast.AugAssign(op=op) if type(op) in OTHER:
            new.op = OTHER[type(op)]()  # type: ignore[assignment]
            yield new
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield operand
        case ast.Constant(value=bool(value)):
            yield ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield ast.Constant(value + 1)
        case ast.Constant(value=float(value)):
            yield ast.Constant(value * 1.5 + (value == 0.0))
        case ast.Return(value=ast.expr() as value) if not (isinstance(value, ast.Constant) and value.value is None):
            yield ast.Return(ast.Constant(None))
        case ast.If(test=test):
            new.test = ast.UnaryOp(ast.Not(), test)
            yield new
        case ast.Expr(value=ast.Call()) | ast.Continue() | ast.Break():
            yield ast.Pass()


def _said(node: ast.AST) -> str:
    """A node on one line."""
    said = ast.unparse(node.test if isinstance(node, ast.If) else node).replace("\n", " ")
    return said if len(said) <= 90 else f"{said[:87]}..."
