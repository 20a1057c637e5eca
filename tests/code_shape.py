"""Reads a source file's imports and sizes from its syntax tree, without running it."""

import ast
import functools
import io
import pathlib
import tokenize

_NOT_CODE = {
    tokenize.COMMENT,
    tokenize.NL,
    tokenize.NEWLINE,
    tokenize.INDENT,
    tokenize.DEDENT,
    tokenize.ENCODING,
    tokenize.ENDMARKER,
}
_WITH_DOCSTRING = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)


class SourceFile:
    """One Python file. Attributes: path, module (its dotted name)."""

    def __init__(self, path: pathlib.Path, top: pathlib.Path):
        """path: the file. top: the folder from which its dotted name counts."""
        text = path.read_text(encoding="utf-8")
        parts = path.relative_to(top).with_suffix("").parts
        self.path = path
        self.is_package = parts[-1] == "__init__"
        self.module = ".".join(parts[:-1] if self.is_package else parts)
        self._text = text

    @functools.cached_property
    def tree(self) -> ast.Module:
        """The syntax tree: made at the first use, as most who collect the tests need none."""
        return ast.parse(self._text, str(self.path))

    @functools.cached_property
    def _code_lines(self) -> set[int]:
        return _token_lines(self._text) - _docstring_lines(self.tree)

    def imports(self) -> list[tuple[int, str]]:
        """Returns (line, dotted name) of everything imported, relative names resolved.

        `from a import b` counts as `a.b`: b may be a module of the package a.
        """
        found = []
        for node in ast.walk(self.tree):
            if isinstance(node, ast.Import):
                found += [(node.lineno, alias.name) for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                source = self._origin(node)
                found += [(node.lineno, f"{source}.{alias.name}") for alias in node.names]
        return found

    def functions(self, above: int = -1) -> list[tuple[str, int]]:
        """Returns (name, code lines) of each function: docstring, comments, blanks apart.

        above: only of those with more code lines; what has no more lines of any kind is not
        looked at closer.
        """
        spans = [
            (node.name, range(node.lineno, (node.end_lineno or 0) + 1))
            for node in ast.walk(self.tree)
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        ]
        counts = [(name, len(self._code_lines & set(span)))
                  for name, span in spans if len(span) > above]
        return [(name, count) for name, count in counts if count > above]

    def _origin(self, node: ast.ImportFrom) -> str:
        if not node.level:
            return node.module or ""
        climbed = node.level - 1 if self.is_package else node.level
        parents = self.module.split(".")
        package = parents[: len(parents) - climbed]
        return ".".join([*package, *([node.module] if node.module else [])])


def _token_lines(text: str) -> set[int]:
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _NOT_CODE:
            lines.update(range(token.start[0], token.end[0] + 1))
    return lines


def _docstring_lines(tree: ast.Module) -> set[int]:
    lines: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, _WITH_DOCSTRING) and ast.get_docstring(node, clean=False) is not None:
            first = node.body[0]
            lines.update(range(first.lineno, (first.end_lineno or first.lineno) + 1))
    return lines
