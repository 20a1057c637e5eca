"""Makes the environment that forebay runs in, from nothing but Python.

Owns the folder `.venv` (or the one that FOREBAY_ENV names): creates it,
installs the packages that a lock file pins by version and hash, then installs
forebay itself as the wheel that a user gets. Each step is done again only
when its input has changed, so a second start costs a few milliseconds.

Must not import anything outside the standard library, nor use syntax newer
than what an old interpreter reads: it is there to tell that interpreter's
user what is missing. Two set-ups at once wait for each other.
"""

import contextlib
import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys

OLDEST_PYTHON = (3, 11)
ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
RUN_LOCK = "requirements.lock"
TEST_LOCK = "requirements-test.lock"
# All that decides what is in the wheel.
WHEEL_SOURCES = ("pyproject.toml", "LICENSE", "host/forebay", "firmware")
# Lines of a failed step's output that are worth reading.
SHOWN_OF_A_FAILURE = 20


class SetupError(Exception):
    """The environment cannot be made; the text says what to do about it."""


def environment_path():
    """Returns the folder of the environment, as an absolute path."""
    return os.path.abspath(os.environ.get("FOREBAY_ENV") or os.path.join(ROOT, ".venv"))


def program(name):
    """Returns the path of a program inside the environment."""
    if os.name == "nt":
        return os.path.join(environment_path(), "Scripts", name + ".exe")
    return os.path.join(environment_path(), "bin", name)


def prepare(lock_name):
    """Brings the environment up to date with a lock file and this source tree.

    Raises SetupError if that cannot be done.
    """
    _check_python()
    wanted = {lock_name: _digest([lock_name]), "source": _digest(WHEEL_SOURCES)}
    if _is_current(wanted):
        return
    try:
        os.makedirs(environment_path(), exist_ok=True)
        with _alone():
            if not _is_current(wanted):
                _update(wanted, lock_name)
    except OSError as error:
        raise SetupError(
            "cannot write the environment: {}\n"
            "Name a folder of your own in FOREBAY_ENV and start again.".format(error)
        ) from error


def become(command):
    """Replaces this process by a command; where there is no exec, waits for it."""
    if os.name != "nt":
        sys.stdout.flush()
        os.execv(command[0], command)
    try:
        sys.exit(subprocess.call(command))
    except KeyboardInterrupt:
        sys.exit(130)


def start(lock_name, command_of):
    """Prepares the environment, then becomes the command that command_of() returns.

    Exits with 1 and one explanation on stderr if the environment cannot be made.
    """
    try:
        prepare(lock_name)
        command = command_of()
    except SetupError as error:
        sys.exit("forebay: {}".format(error))
    except KeyboardInterrupt:
        sys.exit("\nforebay: set-up interrupted; start again to go on.")
    become(command)


def run(label, command, progress=None):
    """Runs one step of the set-up, quietly unless it fails.

    label: what a person reads. progress: maps a line of output to a short
    text to show on a terminal, or to None. Raises SetupError with the end of
    the output if the command fails.
    """
    on_terminal = sys.stderr.isatty()
    _say("  " + label + ("" if on_terminal else "\n"))
    process = subprocess.Popen(
        command,
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        universal_newlines=True,
    )
    lines = []
    for line in process.stdout or ():
        lines.append(line.rstrip())
        shown = progress(line) if progress and on_terminal else None
        if shown:
            _say("\r  {}: {:<40.40}".format(label, shown))
    if process.wait() != 0:
        raise SetupError(
            "could not finish: {}\n{}".format(label, "\n".join(lines[-SHOWN_OF_A_FAILURE:]))
        )
    if on_terminal:
        _say("\r  {}: {:<40}\n".format(label, "done"))


def _check_python():
    if sys.version_info < OLDEST_PYTHON:
        raise SetupError(
            "Python {}.{} or newer is needed; this is {}.{} ({}).\n"
            "Start it with a newer one, e.g. python3.11, or with: uv run --no-project "
            "--python 3.11 {}".format(
                *(OLDEST_PYTHON + tuple(sys.version_info[:2]) + (sys.executable, sys.argv[0]))
            )
        )


def _update(wanted, lock_name):
    python = program("python")
    state = _state()
    if wanted[lock_name] != state.get(lock_name):
        _say("Setting up forebay in {} (once):\n".format(environment_path()))
        run("Python environment", _create_command())
        run(
            "packages of {}".format(lock_name),
            _pip(python) + ["-r", lock_name],
            _counter(lock_name),
        )
        # Lock files of one tree agree; an older one's packages may just have moved.
        stale = [name for name in (RUN_LOCK, TEST_LOCK) if state.get(name) != _digest([name])]
        state = {key: value for key, value in state.items() if key not in stale}
        state[lock_name] = wanted[lock_name]
        _write_state(state)
    if wanted["source"] == state.get("source"):
        return
    offline = ["--no-index", "--no-deps", "--no-build-isolation", "--force-reinstall"]
    run("forebay itself", [*_pip(python), *offline, ROOT])
    state["source"] = wanted["source"]
    _write_state(state)


def _create_command():
    if importlib.util.find_spec("venv") and importlib.util.find_spec("ensurepip"):
        return [sys.executable, "-I", "-m", "venv", environment_path()]
    uv = shutil.which("uv")
    if uv:
        made_by_uv = ["venv", "--seed", "--allow-existing", "--python", sys.executable]
        return [uv, *made_by_uv, environment_path()]
    raise SetupError(
        "this Python comes without its venv module.\n"
        "On Debian and its relatives: apt install python3-venv; or install uv."
    )


def _pip(python):
    # -I: neither PYTHONPATH nor a user's site folder reaches into the environment.
    quiet = ["--disable-pip-version-check", "--no-input", "--progress-bar=off"]
    return [python, "-I", "-m", "pip", "install", "--no-user", *quiet]


def _counter(lock_name):
    """Returns a progress function that counts the packages of a lock file."""
    with open(os.path.join(ROOT, lock_name), encoding="utf-8") as lock:
        total = sum(1 for line in lock if line[:1].isalnum())
    seen = []

    def progress(line):
        if line.startswith("Collecting "):
            seen.append(line)
            return "{} of {}, {}".format(len(seen), total, line.split()[1])
        if line.startswith("Installing "):
            return "unpacking"
        return None

    return progress


def _digest(names):
    """Returns one hash over files and folders below ROOT: names and contents."""
    digest = hashlib.sha256()
    for path in sorted(_files(names)):
        relative = os.path.relpath(path, ROOT).replace(os.sep, "/")
        with open(path, "rb") as file:
            content = hashlib.sha256(file.read()).hexdigest()
        digest.update("{} {}\n".format(relative, content).encode())
    return digest.hexdigest()


def _files(names):
    for name in names:
        path = os.path.join(ROOT, *name.split("/"))
        if os.path.isfile(path):
            yield path
        for folder, _, files in os.walk(path):
            if os.path.basename(folder) != "__pycache__":
                for file in files:
                    yield os.path.join(folder, file)


def _state_path():
    return os.path.join(environment_path(), "forebay.json")


def _state():
    """Returns the hashes of what was installed last, {} if nothing was."""
    try:
        with open(_state_path(), encoding="utf-8") as file:
            return json.load(file)
    except (OSError, ValueError):
        return {}


def _write_state(state):
    with open(_state_path() + ".new", "w", encoding="utf-8") as file:
        json.dump(state, file)
    os.replace(_state_path() + ".new", _state_path())


def _is_current(wanted):
    state = _state()
    return all(state.get(name) == digest for name, digest in wanted.items())


@contextlib.contextmanager
def _alone():
    """Holds a lock on the environment while its contents change."""
    with open(os.path.join(environment_path(), "forebay.lock"), "a") as file:
        if os.name == "nt":
            import msvcrt

            while True:  # LK_LOCK itself gives up after ten seconds
                with contextlib.suppress(OSError):
                    msvcrt.locking(file.fileno(), msvcrt.LK_LOCK, 1)
                    break
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX)
        yield


def _say(text):
    sys.stderr.write(text)
    sys.stderr.flush()
