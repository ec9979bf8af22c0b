"""Whether a protocol's regions are among those that a clinic measures."""

from difflib import get_close_matches

from aftersit.errors import InvalidFileError
from aftersit.head.region_set import SIDES, RegionSet
from aftersit.protocol import Protocol, RegionPlace


def check_regions(protocol: Protocol, regions: RegionSet) -> None:
    """Refuse a protocol that asks for a region that is not measured.

    Raises
    ------
    InvalidFileError
        One line for each such condition, with the nearest name.
    """
    asked = [
        (number, condition.where.region)
        for number, condition in enumerate(protocol.conditions, 1)
        if isinstance(condition.where, RegionPlace)
    ]
    problems = [
        f"conditions.{number}.where.region: there is no region '{name}'{_hint(name, regions)}; "
        "`scripts/aftersit regions` lists them"
        for number, name in asked
        if name not in regions.parts
    ]
    if problems:
        raise InvalidFileError(f"protocols/{protocol.name}/v{protocol.version}.yaml", problems)


def _hint(name: str, regions: RegionSet) -> str:
    region, _, side = name.rpartition("-")
    if side in SIDES and region in regions.parts:
        return f"; write region: {region} and hemisphere: {side}"
    near = get_close_matches(name, regions.parts, n=1)
    return f"; did you mean '{near[0]}'?" if near else ""
