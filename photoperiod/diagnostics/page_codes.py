"""The codes of the page of a tank: a library that is missing, and a page that can't be served."""

from __future__ import annotations

from photoperiod.diagnostics.code import Code, Severity

_ERROR = Severity.ERROR

PAGE_CODES = (
    Code("PHO515", "page-library-missing", _ERROR,
         "a library that the page needs, and that is not installed",
         "The page of a tank is put together by jinja2, which makes sure that no name in a schedule can"
         " become a part of the page. It comes with the extra `report`: `pip install '.[report]'` in the"
         " checkout, or `'photoperiod[report]'` if the program was installed by that name. Nothing but"
         " `report` and `watch` needs it. Exit code 4."),
    Code("PHO516", "port-not-free", _ERROR, "a port on which the page can't be served",
         "`watch` serves the page to a browser of the same machine, on a port. Another program listens there,"
         " often another `watch`, or you may not use the port. Stop the other one, or name another port with"
         " `--port`; `--port 0` takes one that is free. Exit code 4."),
)  # fmt: skip
