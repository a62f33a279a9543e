"""Print pip constraints that pin every dependency to its lower bound in pyproject.toml."""

import re
import tomllib
from pathlib import Path

project = tomllib.loads(Path("pyproject.toml").read_text(encoding="utf-8"))["project"]
wanted = [*project["dependencies"], *project["optional-dependencies"]["test"]]
for requirement in wanted:
    found = re.fullmatch(r"([A-Za-z0-9_.-]+)>=([0-9.]+)(?:; .*)?", requirement)
    if found is None:
        raise SystemExit(f"{requirement!r} has no lower bound")
    print(f"{found[1]}=={found[2]}")  # noqa: T201
