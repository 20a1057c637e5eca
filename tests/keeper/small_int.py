"""An integer that refuses to leave what the board keeps without memory: 31 bits."""

LOWEST, HIGHEST = -(1 << 30), (1 << 30) - 1


def _checked(operation):
    def apply(self, *others):
        result = operation(self, *others)
        if result is NotImplemented:
            return result
        if not LOWEST <= result <= HIGHEST:
            raise OverflowError(f"{operation.__name__} of {int(self)} and {others}: {result}")
        return SmallInt(result)

    return apply


class SmallInt(int):
    """Stays a SmallInt through arithmetic; OverflowError outside of 31 bits."""


for _name in ("add", "sub", "mul", "floordiv", "mod", "and", "or", "lshift", "rshift"):
    for _kind in (f"__{_name}__", f"__r{_name}__"):
        setattr(SmallInt, _kind, _checked(getattr(int, _kind)))
for _kind in ("__neg__", "__pos__", "__abs__"):
    setattr(SmallInt, _kind, _checked(getattr(int, _kind)))
