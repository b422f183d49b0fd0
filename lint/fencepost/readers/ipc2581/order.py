"""Which copper layer lies where, and between which of them holes go."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fencepost.frozen import dataclass
from fencepost.readers.ipc2581.layers import Layer
from fencepost.readers.ipc2581.stackup import Sheet, Stack

_SIDES = {"TOP": 0, "BOTTOM": 2}
"""Every other side lies between them."""


@dataclass(frozen=True)
class Order:
    """Copper layers from the top; sheets and thickness (mm) of the stackup that gave their order, if one did."""

    names: tuple[str, ...]
    sheets: tuple[Sheet, ...] = ()
    thickness: float | None = None

    def between(self, span: tuple[str, str], layers: Mapping[str, Layer]) -> tuple[int, int]:
        """The first and last copper layer of a Span, 1-based. An end that is not named is the board's surface.

        An end that is no copper layer stands for the surface on its side. Raises KeyError with the name of one that is
        unknown or inside the board.
        """
        ends = []
        for name, surface in zip(span, (1, len(self.names)), strict=True):
            layer = layers.get(name)
            if name in self.names:
                ends.append(self.names.index(name) + 1)
            elif not name:
                ends.append(surface)
            elif layer is not None and layer.side in _SIDES:
                ends.append(1 if layer.side == "TOP" else len(self.names))
            else:
                raise KeyError(name)
        return min(ends), max(ends)


def copper_order(copper: Sequence[Layer], stacks: Sequence[Stack], named: str, claimed: Mapping[str, int]) -> Order:
    """The order of all copper layers. `named` is the stackup that the step names, `claimed` are positions that are set.

    It is that of the stackup that holds all of them, else from the sides: top, the rest as in the file, bottom. Raises
    ValueError, its text what is wrong, where claims or sides contradict one another.
    """
    by_side = sorted(copper, key=lambda layer: _SIDES.get(layer.side, 1))
    order = Order(tuple(layer.name for layer in by_side))
    for stack in sorted(stacks, key=lambda stack: stack.name != named):
        found = [sheet.layer for sheet in stack.sheets if sheet.layer in order.names]
        if len(found) == len(copper) == len(set(found)):
            sheets = stack.sheets
            sides = {layer.name: layer.side for layer in copper}
            if sides[found[0]] == "BOTTOM" or (sides[found[-1]] == "TOP" and len(found) > 1):
                found, sheets = found[::-1], sheets[::-1]
            order = Order(tuple(found), sheets, stack.thickness)
            break
    else:
        for side in _SIDES:
            same = [layer.name for layer in by_side if layer.side == side]
            if len(same) > 1 and not claimed:
                raise ValueError(f"{' and '.join(same)} both have the side {side}")
    if not claimed:
        return order
    free = iter([name for name in order.names if name not in claimed])
    at = {position: name for name, position in claimed.items()}
    if len(at) < len(claimed) or any(not 1 <= position <= len(copper) for position in at):
        listed = ", ".join(f"{name} as L{position}" for name, position in claimed.items())
        raise ValueError(f"of {len(copper)} copper layers, the settings name {listed}")
    names = tuple(at.get(position) or next(free) for position in range(1, len(copper) + 1))
    return order if names == order.names else Order(names, thickness=order.thickness)
