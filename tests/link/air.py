"""A simulated mat with a radio, and a Bluetooth of this process that hears it."""

import contextlib
import dataclasses
import json

from groundtone.link.radio import radio_running
from groundtone.twin.central import virtual_backends
from groundtone.twin.mat_process import MatProcess


@contextlib.contextmanager
def mat_on_air(scenario, mtu=247, **options):
    """(process, radio): the firmware with its radio, and what a link is handed to reach it."""
    text = json.dumps(scenario) if isinstance(scenario, dict) else scenario
    with MatProcess(text, radio=True, **options) as process, radio_running() as bare:
        ends = bare.do(virtual_backends(process.radio_socket, mtu), 10.0, "the virtual central does not start")
        try:
            yield process, dataclasses.replace(bare, scanner=ends.scanner, client=ends.client)
        finally:
            bare.do(ends.close(), 5.0, "the virtual central does not end")
