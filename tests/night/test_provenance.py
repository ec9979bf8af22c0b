"""What provenance says of the packages is what Python itself says of them."""

from importlib.metadata import distributions

from aftersit.night.provenance import _packages


def test_packages_are_those_that_python_names():
    named = {d.metadata["Name"]: d.version for d in distributions()}
    assert _packages() == named
    assert list(_packages()) == sorted(named, key=str.lower)
