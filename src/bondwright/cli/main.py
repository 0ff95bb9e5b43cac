"""The group of commands, and what is common to them."""

from __future__ import annotations

import click

from bondwright import __version__
from bondwright.cli.choices import choices, words
from bondwright.cli.circuits import circuits
from bondwright.cli.compare import compare
from bondwright.cli.defects import defects
from bondwright.cli.earth import earth
from bondwright.cli.hunt import hunt
from bondwright.cli.ifc import ifc
from bondwright.cli.jobs import jobs
from bondwright.cli.open_neutral import open_neutral
from bondwright.cli.papers import papers
from bondwright.cli.quick import quick
from bondwright.cli.quick_earth import electrode
from bondwright.cli.quick_iec import loop, protective
from bondwright.cli.serve import serve
from bondwright.cli.site import check, faults, netlist, new, schema, size, stray
from bondwright.cli.testing import testing

_CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}


@click.group(
    context_settings=_CONTEXT,
    epilog="Exit codes: 0 nothing falls short, 1 something does, 2 bad input.",
)
@click.version_option(__version__, prog_name="bondwright")
def main() -> None:
    """Grounding and bonding of a building: size it, prove it, print it.

    Describe the site in one YAML file ('bondwright new house.yaml' writes one to start from),
    then ask. 'quick' answers single questions without a file.

    This tool computes; it does not inspect. The local code, the authority having jurisdiction
    and licensed practice decide, and nothing here is a reason to work on live parts.
    """


for command in (
    new,
    check,
    size,
    choices,
    faults,
    stray,
    defects,
    open_neutral,
    hunt,
    papers,
    serve,
    netlist,
    circuits,
    ifc,
    compare,
    jobs,
    quick,
    earth,
    testing,
    words,
    schema,
):
    main.add_command(command)
for question in (protective, loop, electrode):
    quick.add_command(question)
