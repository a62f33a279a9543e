"""Damages to a file of parts that tanks share, and to the schedule that names it."""

from __future__ import annotations

from tests.codes.damage import BASE, Case

#: A change that lets BASE name a file of parts, and what of BASE may come from there.
NAMED = ("title: Test bench\n", "title: Test bench\nparts: p.yaml\n")
CONTROLLER = BASE[BASE.index("controller:\n") : BASE.index("ballasts:\n")]
PAIR = BASE[BASE.index("  pair:\n") : BASE.index("  bench:\n")]
IN_P = {"file": "p.yaml"}
SHARED = f"parts: 1\nballasts:\n{PAIR}"
KINDS = "parts: 1\ntube_kinds:\n  t5: {watts: 54}\nzone_kinds:\n  sps: {dli: [3, 9], dark_hours_min: 8}\n"

# fmt: off
PARTS_CASES = [
    # PHO370 on: parts that tanks share
    Case("PHO370", [("title: Test bench\n", "title: Test bench\nparts: none/p.yaml\n"), (PAIR, "")],
         3, 8, "none/p.yaml", "can't read 'none/p.yaml': no such file or folder",
         help="from the folder of the schedule"),
    Case("PHO371", [NAMED], 21, 3, "pair", "'pair' stands here and in 'p.yaml'", help="remove one",
         parts=SHARED),
    Case("PHO371", [NAMED], 6, 1, "controller", "'controller' stands here and in 'p.yaml'",
         parts=f"parts: 1\n{CONTROLLER}"),
    Case("PHO371", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5, watts: 54}")], 41, 22, "watts",
         "'watts' stands here and in 'p.yaml'", parts=KINDS),
    Case("PHO371", [NAMED, ("crest: {dli: [3, 9], ppfd_max", "crest: {like: sps, ppfd_max")], 43, 37,
         "dark_hours_min", "'dark_hours_min' stands here and in 'p.yaml'", parts=KINDS),
    Case("PHO372", [NAMED], 1, 1, "schedule", "this is a schedule, not a file of parts",
         help="begins with `parts: 1`", parts="schedule: 1\ntank: other\nparts: 1\n", **IN_P),
    Case("PHO372", [NAMED], 1, 8, "other.yaml", "a file of parts names no other file of parts",
         help="into one file", parts="parts: other.yaml\n", **IN_P),
    Case("PHO203", KINDS.encode(), 1, 1, "parts", "this is a file of parts, not a schedule",
         help="parts are checked with the schedules that take them"),
    Case("PHO203", [("title: Test bench\n", "title: Test bench\nparts: 1\n")], 3, 8, "1",
         "expected text, got 1", help="a path from the folder of this file"),
    Case("PHO206", [("title: Test bench\n", "title: Test bench\nparts: /etc/p.yaml\n"), (PAIR, "")], 3, 8,
         "/etc/p.yaml", "'/etc/p.yaml' does not have the right form", help="not from the root"),
    Case("PHO201", [("title: Test bench\n", "title: Test bench\npart: p.yaml\n"), (CONTROLLER, "")], 3, 1,
         "part", "unknown key 'part'", help="did you mean 'parts'?"),
    Case("PHO202", [NAMED, (CONTROLLER, "")], 3, 8, "p.yaml",
         "neither the schedule nor 'p.yaml' has 'controller'", parts="parts: 1\n"),
    Case("PHO100", [NAMED, (CONTROLLER, "")], 1, 1, "", "the file holds no parts",
         parts="# none yet\n", **IN_P),
    Case("PHO202", [NAMED, (PAIR, "")], 1, 1, "b", "the file of parts lacks 'parts'",
         parts=SHARED.removeprefix("parts: 1\n"), **IN_P),
    Case("PHO203", [NAMED, (PAIR, "")], 1, 1, "-", "expected a mapping, got a list",
         parts="- pair\n", **IN_P),
    Case("PHO210", [NAMED, (PAIR, "")], 1, 8, "2", "this is version 2 of the language, not 1",
         parts=SHARED.replace("parts: 1", "parts: 2"), **IN_P),
    Case("PHO201", [NAMED, (PAIR, "")], 2, 1, "balasts", "unknown key 'balasts'",
         help="did you mean 'ballasts'?", parts=SHARED.replace("ballasts", "balasts"), **IN_P),
    Case("PHO102", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5}")], 5, 1, "parts",
         "the key 'parts' stands twice here",
         parts="parts: 1\ntube_kinds:\n  t5: {watts: 54}\n  t8: {watts: 36}\nparts: 1\n", **IN_P),
    Case("PHO308", [NAMED, (PAIR, "")], 5, 20, "1.0", "the floor at 1 V is not below full at 0.9 V",
         parts=SHARED.replace("full_volts: 10.0", "full_volts: 0.9"), **IN_P),
    Case("PHO301", [NAMED, (PAIR, ""), ("ballast: pair", "ballast: piar")], 40, 14, "piar",
         "there is no ballast 'piar'", help="did you mean 'pair'?", parts=SHARED),
    Case("PHO301", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t6}")], 41, 18, "t6",
         "there is no tube kind 't6'", help="allowed here: t5", parts=KINDS),
    Case("PHO301", [NAMED, ("crest: {dli: [3, 9],", "crest: {like: lps,")], 43, 17, "lps",
         "there is no zone kind 'lps'", help="sps", parts=KINDS),
    Case("PHO301", [("blue-b: {watts: 54}", "blue-b: {like: t5}")], 40, 18, "t5",
         "there is no tube kind 't5': the schedule names no file of parts", help="`parts: …`"),
    Case("PHO205", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5}")], 3, 15, "0",
         "0 is out of range: more than 0 W", parts=KINDS.replace("watts: 54", "watts: 0"), **IN_P),
    Case("PHO202", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5}")], 3, 3, "t5", "'t5' lacks 'watts'",
         parts=KINDS.replace("watts: 54", "price: 9"), **IN_P),
    Case("PHO319", [NAMED, ("crest: {dli: [3, 9], ppfd_max: 400, dark_hours_min: 8}",
                            "crest: {like: sps, ppfd_max: 400}")], 5, 14, "[9, 3]", "9 is above 3",
         parts=KINDS.replace("[3, 9]", "[9, 3]"), **IN_P),
    Case("PHO327", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5, burn_in_full_hours: 12}")], 41,
         42, "12", "a burn-in of 12 h does not fit into the 10 h",
         parts=KINDS.replace("watts: 54", "watts: 54, replace_after_hours: 10")),
]
# fmt: on
