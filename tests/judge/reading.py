"""The small checks that every reader of a plan's JSON uses; what does not fit raises ShapeError."""


class ShapeError(Exception):
    """The plan cannot be judged: its message says what was found and where."""


def need(condition, text):
    """Raises ShapeError with this text unless the condition holds."""
    if not condition:
        raise ShapeError(text)


def is_int(value):
    return isinstance(value, int) and not isinstance(value, bool)


def is_number(value):
    return is_int(value) or (isinstance(value, float) and abs(value) < 1e9)


def hundredths(value, where):
    """Minutes as an integer of hundredths; more than two decimals is a wrong shape."""
    need(is_number(value) and abs(value) < 1e9, f"{where}: {value!r} is not a number of minutes")
    exact = round(value * 100)
    need(abs(exact - value * 100) < 1e-6 * max(1.0, abs(value)), f"{where}: {value!r} has more than two decimals")
    return exact


def mapping(value, where):
    need(isinstance(value, dict), f"{where} is not an object")
    return value


def sequence(value, where):
    need(isinstance(value, list), f"{where} is not a list")
    return value


def text(value, where):
    need(isinstance(value, str) and value != "", f"{where} is not a text")
    return value


def choice(value, allowed, where):
    need(isinstance(value, str) and value in allowed, f"{where}: {value!r} is none of {', '.join(allowed)}")
    return value


def texts(value, where):
    return [text(item, where) for item in sequence(value, where)]


def split_end(end):
    """The two parts of `unit:port` or `far:uplink`."""
    name, _, rest = end.partition(":")
    return name, rest


def read_ends(value, where):
    """A cable's two ends, sorted; both `far`, or one end twice, is a wrong shape."""
    ends = texts(value, where)
    need(len(ends) == 2 and ends[0] != ends[1], f"{where} does not hold two different ends")
    for end in ends:
        need(all(split_end(end)), f"{where}: {end!r} is neither unit:port nor far:uplink")
    need(not all(split_end(end)[0] == "far" for end in ends), f"{where}: both ends are far")
    return tuple(sorted(ends))


def read_range(value, where):
    pair = sequence(value, where)
    need(len(pair) == 2 and all(is_int(n) for n in pair) and pair[0] <= pair[1], f"{where} is not a range")
    return tuple(pair)
