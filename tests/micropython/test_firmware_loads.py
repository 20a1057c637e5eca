"""Every file that lands on a board is read by the interpreter that the board runs."""

from tests.micropython.harness import board_sources, run_micropython

# These need `machine`: here they are only compiled.
HARDWARE_FOLDERS = ("/keeper/boards/", "/keeper/drivers/")


def _needs_hardware(path: str) -> bool:
    return path in ("/boot.py", "/main.py") or path.startswith(HARDWARE_FOLDERS)


def _module_name(path: str) -> str:
    return path.removesuffix(".py").removesuffix("/__init__").lstrip("/").replace("/", ".")


def test_every_file_compiles():
    paths = list(board_sources())
    run = run_micropython(f"""
for path in {paths}:
    with open(path) as source:
        try:
            compile(source.read(), path, "exec")
        except SyntaxError as error:
            print(path, error)
""")
    assert paths
    assert run.lines == []


def test_every_module_without_hardware_can_be_imported():
    names = [_module_name(path) for path in board_sources() if not _needs_hardware(path)]
    run = run_micropython(f"""
for name in {names}:
    try:
        __import__(name)
        print(name, "imported")
    except Exception as error:
        print(name, repr(error))
""")
    assert "keeper" in names
    assert run.lines == [f"{name} imported" for name in names]
