"""How many small faults the quick tests notice: a seeded sample of mutants over all stages, run one by one.

Every stage has a part of the sample that goes with the faults that could be made in it, and at least one. For each
mutant those of the quick tests are run that call the changed function, or anything of the module when the fault is
outside functions; quickest first, until one fails. The tests are collected once and each mutant is put into a fork of
that process (`bench/mutant_live.py`); what is missed so and could have been at work when the modules were imported is
run once more from a changed file. A mutant that none notices is missed, unless `bench/mutants_equal.txt` lists it with
the reason why no behaviour hangs on it. Our own, because the kept libraries start pytest again for each mutant (five
seconds here, of which the tests need a tenth) and draw no sample by stage.
Run: python bench/mutants.py [--seed N] [--count N] [--stage NAME] [--module PART] [--tests FILE ...]
    [--list FILE] [--again FILE] [--reach FILE]
"""

from __future__ import annotations

import argparse
import compileall
import hashlib
import importlib
import json
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from mutant_live import CANNOT, LiveServer
from mutant_reach import FAILED_TO_FINISH, WARM, forked
from mutant_sites import Site, all_sites, stage_of

TOP = Path(__file__).resolve().parent.parent
EQUAL = Path(__file__).resolve().parent / "mutants_equal.txt"
QUICK = re.findall(r"^QUICK := (.*)$", (TOP / "Makefile").read_text(encoding="utf-8"), re.M)[
    0
]  # of `make quick`
PROFILE = ("--hypothesis-profile", "quick")  # as `make quick` runs them
COUNT = 120
LEAST_SECONDS = 20.0  # a fork collects its tests in 3 to 6 s on a busy machine; set by hand
TIMES_AS_LONG = (
    10.0  # as the tests took without a fault, before a mutant counts as one that never ends; set by hand
)
LEAST_CPU_SECONDS = 2.0  # of one test where nothing is collected any more; set by hand
FIRST_LOOK_SECONDS = 1800.0
# Of processor time of the tests that are run for one mutant; set by hand: a change in reading a script reaches 1,400
# tests, and with twelve seconds those that hold most of its values were left out.
MOST_SECONDS = 20.0
HELD = "tests/test_held.py"  # its tests hold the values of a whole family of examples each
READS_ALL = "every number that has a name"  # in the name of the test that looks into every module
NO_TESTS = 5  # pytest's status when nothing was collected
PASSED = 0
Key = tuple[str, str, str, str, str, int]


@dataclass(frozen=True)
class Outcome:
    """What became of one mutant: caught, missed, or equal (no behaviour hangs on it)."""

    site: Site
    became: str
    tests: int
    seconds: float


def sample(sites: list[Site], count: int, dice: random.Random) -> list[Site]:
    """`count` of them: each stage by its share of the sites, at least one, by largest remainders."""
    stages: dict[str, list[Site]] = {}
    for site in sites:
        stages.setdefault(stage_of(site), []).append(site)
    exact = {name: count * len(found) / len(sites) for name, found in stages.items()}
    given = {name: max(1, int(share)) for name, share in exact.items()}
    by_rest = sorted(exact, key=lambda name: (int(exact[name]) - exact[name], name))
    at = 0
    while sum(given.values()) < count and at < len(by_rest):
        given[by_rest[at]] += 1
        at += 1
    while sum(given.values()) > count:
        given[max(given, key=lambda name: (given[name], name))] -= 1
    return [
        s for name in sorted(stages) for s in dice.sample(stages[name], min(given[name], len(stages[name])))
    ]


def equal_ones(path: Path) -> dict[Key, str]:
    """The listed mutants that change no behaviour, with the reason; one JSON line each, `[key, reason]`."""
    rows = [json.loads(row) for row in path.read_text(encoding="utf-8").splitlines() if row.strip()]
    return {tuple(key): reason for key, reason in rows}


def _dotted(module: str) -> str:
    """The name by which a module is imported."""
    return module.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


class Bench:
    """A copy of the project in which one file at a time is changed."""

    def __init__(self, folder: Path) -> None:
        self.top = folder / "copy"
        self.told = folder / "told.txt"
        names = subprocess.run(
            ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
            cwd=TOP, capture_output=True, check=True,
        ).stdout.decode().split("\0")  # fmt: skip
        for name in filter(None, names):
            if (TOP / name).is_file():
                (self.top / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(TOP / name, self.top / name)
        for linked in (".git", ".setup", ".venv"):
            (self.top / linked).symlink_to(TOP / linked)
        compileall.compile_dir(self.top / "offbook", quiet=2)
        self.calls: dict[str, tuple[set[str], float]] = {}
        self.early: set[str] = set()
        self.live: LiveServer | None = None

    def look(self, tests: Sequence[str], kept: Path | None, seconds: float = FIRST_LOOK_SECONDS) -> None:
        """Runs the quick tests in these files or folders once without any fault, and remembers what each one calls.

        kept: a file in which that is remembered; test files that have not changed since are not run again.
        """
        known = json.loads(kept.read_text()) if kept and kept.exists() else {"files": {}, "calls": {}}
        files = {
            str(path.relative_to(self.top)): hashlib.sha256(path.read_bytes()).hexdigest()
            for each in tests
            for path in sorted(
                (self.top / each).glob("test_*.py") if (self.top / each).is_dir() else [self.top / each]
            )
        }
        new = [name for name, told in files.items() if known["files"].get(name) != told]
        if new:
            into = self.told.with_name("reach.json")
            forked(self.top, [*PROFILE, "-m", QUICK, *new], self.told, seconds, into)
            found = json.loads(into.read_text())
            for name in found["failed"]:
                print(f"fails without any fault, and is left out: {name}")
            known["calls"] = {
                n: told for n, told in known["calls"].items() if n.partition("::")[0] not in new
            }
            known["calls"] |= {n: told for n, told in found["calls"].items() if n not in found["failed"]}
            known["files"] |= {name: files[name] for name in new}
            known["early"] = sorted({*known.get("early", ()), *found["early"]})
            if kept:
                kept.write_text(json.dumps(known))
        self.early = set(known["early"])
        self.calls = {
            name: (set(ours), took)
            for name, (ours, took) in known["calls"].items()
            if name.partition("::")[0] in files
        }

    def collect(self) -> None:
        """Starts the process in which the mutants are put."""
        files = sorted({name.partition("::")[0] for name in self.calls})
        self.live = LiveServer(self.top, [*PROFILE, "-m", QUICK, *files], self.told.with_name("live.txt"))

    def tests_for(self, site: Site) -> list[str]:
        """The quick tests that call the changed function, or anything of its module; those of its stage first.

        For a value that stands outside functions also the tests whose file imports the module, for such a
        test may look at the value and call nothing. A test is of a stage when half of the functions that it
        calls are; among those, and among the others, held values come first, then the quickest.
        """
        at = f"{site.module}:{site.within}"
        reached = [n for n, (ours, _) in self.calls.items() if site.line and at in ours]
        if not reached:
            whose = {site.module, *(self._importers(site.module) if not site.line else ())}
            files = set() if site.line else self._test_files(site.module)
            reached = [
                n
                for n, (ours, _) in self.calls.items()
                if n.partition("::")[0] in files or whose & {o.partition(":")[0] for o in ours}
            ]
            reached += [n for n in self.calls if not site.line and READS_ALL in n and n not in reached]
        chosen: list[str] = []
        seconds = 0.0
        first = sorted(
            reached,
            key=lambda n: (
                *(READS_ALL not in n, self._elsewhere(n, site), not n.startswith(HELD)),
                self.calls[n][1],
            ),
        )
        for name in first:
            seconds += self.calls[name][1]
            if chosen and seconds > MOST_SECONDS:
                break
            chosen.append(name)
        return chosen

    def _elsewhere(self, name: str, site: Site) -> bool:
        """Whether most of what a test calls belongs to other stages than the site's."""
        ours = self.calls[name][0]
        folder = f"offbook/{stage_of(site)}"
        return 2 * sum(o.startswith((f"{folder}/", f"{folder}.py")) for o in ours) < len(ours)

    def _test_files(self, module: str) -> set[str]:
        """The test files that import a module, by themselves or through a helper beside them."""
        wanted, found = {_dotted(module)}, set()
        paths = {p: p.read_text(encoding="utf-8") for p in sorted((self.top / "tests").glob("*.py"))}
        while wanted:
            name = wanted.pop()
            base, _, last = name.rpartition(".")
            says = re.compile(
                rf"from {re.escape(name)} import|import {re.escape(name)}\b"
                rf"|from {re.escape(base)} import (?:[\w, ]|\([^)]*)*?\b{re.escape(last)}\b"
            )
            for path, text in paths.items():
                if path not in found and says.search(text):
                    found.add(path)
                    wanted.add(f"tests.{path.stem}")
        return {str(path.relative_to(self.top)) for path in found}

    def _importers(self, module: str) -> list[str]:
        """The modules that import this one by its full name, or through its package's face."""
        dotted = _dotted(module)
        names = {dotted, dotted.rpartition(".")[0]} - {"offbook"}
        return [
            str(path.relative_to(self.top))
            for path in sorted((self.top / "offbook").rglob("*.py"))
            if any(f"from {name} import" in path.read_text(encoding="utf-8") for name in names)
        ]

    def tried(self, site: Site) -> tuple[str, int, float]:
        """What becomes of one mutant, how many tests reach it, and the seconds."""
        tests, began = self.tests_for(site), time.monotonic()
        if not tests:
            return "missed", 0, 0.0
        usual = sum(self.calls[name][1] for name in tests)
        limits = [(name, LEAST_CPU_SECONDS + TIMES_AS_LONG * self.calls[name][1]) for name in tests]
        assert self.live is not None
        status = self.live.status(site, limits, LEAST_SECONDS + TIMES_AS_LONG * usual)
        at_import = not site.line or f"{site.module}:{site.within}" in self.early
        if status == CANNOT or (status == PASSED and at_import):
            status = self._from_its_file(site, tests, LEAST_SECONDS + TIMES_AS_LONG * usual)
        became = "missed" if status in (PASSED, NO_TESTS) else "caught"
        if status in (FAILED_TO_FINISH, -signal.SIGPROF):
            became = "caught (never ends)"
        return became, len(tests), time.monotonic() - began

    def _from_its_file(self, site: Site, tests: list[str], limit: float) -> int:
        """pytest's status when everything is imported again, with the mutant in its file."""
        path = self.top / site.module
        whole = path.read_bytes()
        compiled = list((path.parent / "__pycache__").glob(f"{path.stem}.*.pyc"))
        try:
            path.write_bytes(whole[: site.start] + site.then.encode() + whole[site.end :])
            for old in compiled:
                old.unlink()
            return forked(self.top, ["-x", *tests], self.told, limit)
        finally:
            path.write_bytes(whole)
            compileall.compile_file(path, quiet=2, force=True)


def row(outcome: Outcome) -> str:
    """One mutant on one line."""
    site = outcome.site
    now, then = (" ".join(t.split())[:60] for t in (site.now, site.then))
    where = f"{site.module}:{site.within or 'the module itself'}"
    return f"{outcome.became:19} {site.kind:18} {where}  {now!r} -> {then!r}  ({outcome.tests} tests, {outcome.seconds:.1f} s)"


def chosen(args: argparse.Namespace) -> list[Site]:
    """The sample that was asked for."""
    sites = all_sites(TOP)
    if args.again:
        keys = [tuple(json.loads(line)["key"]) for line in Path(args.again).read_text().splitlines()]
        by_key = {s.key: s for s in sites}
        gone = [k for k in keys if k not in by_key]
        if gone:
            print(f"{len(gone)} of the listed places are no longer there: {gone}")
        return [by_key[k] for k in keys if k in by_key]
    if args.stage:
        sites = [s for s in sites if stage_of(s) in args.stage.split(",")]
    if args.module:
        sites = [s for s in sites if args.module in s.module]
    return sample(sites, args.count, random.Random(args.seed))


def main() -> int:
    """The command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1, help="of the sample")
    parser.add_argument("--count", type=int, default=COUNT, help="how many mutants")
    parser.add_argument("--stage", help="only these stages, with commas between")
    parser.add_argument("--module", help="only modules with this in their path")
    parser.add_argument("--reach", type=Path, help="remembers in this file which test calls what")
    parser.add_argument("--list", help="writes what became of each into this file, one JSON line each")
    parser.add_argument("--again", help="the mutants of such a file once more")
    parser.add_argument("--tests", nargs="*", default=["tests"], help="only the quick tests in these files")
    args = parser.parse_args()
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    for name in WARM:
        importlib.import_module(name)
    equal, outcomes = equal_ones(EQUAL), []
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder))
        bench.look(args.tests, args.reach)
        bench.collect()
        print(f"{len(bench.calls)} quick tests, seed {args.seed}", flush=True)
        for site in chosen(args):
            became, tests, seconds = ("equal", 0, 0.0) if site.key in equal else bench.tried(site)
            outcomes.append(Outcome(site, became, tests, seconds))
            print(row(outcomes[-1]), flush=True)
            if args.list:
                with Path(args.list).open("a", encoding="utf-8") as out:
                    out.write(json.dumps({"key": site.key, "became": became}) + "\n")
    counted = Counter(o.became.partition(" ")[0] for o in outcomes)
    judged = counted["caught"] + counted["missed"]
    print(f"\n{counted['caught']} of {judged} caught ({counted['caught'] / max(1, judged):.0%}), "
          f"{counted['missed']} missed, {counted['equal']} that change nothing")  # fmt: skip
    for stage in sorted({stage_of(o.site) for o in outcomes}):
        here = Counter(o.became.partition(" ")[0] for o in outcomes if stage_of(o.site) == stage)
        print(f"  {stage:12} {here['caught']:3} caught {here['missed']:3} missed {here['equal']:3} equal")
    return 0


if __name__ == "__main__":
    sys.exit(main())
