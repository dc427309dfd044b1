"""The network that reads beside the rules in this process; while there is none the rules decide alone."""

from __future__ import annotations

from grammar.judge.network import Network

_IN_USE: list[Network] = []


def active() -> Network | None:
    """The network in use."""
    return _IN_USE[0] if _IN_USE else None


def use(network: Network | None) -> None:
    """Puts a network to use, or none."""
    _IN_USE[:] = [] if network is None else [network]


def load() -> bool:
    """Loads the shipped network and puts it to use; False where onnxruntime or the files aren't there."""
    try:
        network = Network()
    except Exception:  # onnxruntime's own errors share no base class, and it may be missing
        return False
    network.right("", "nothing")
    use(network)
    return True
