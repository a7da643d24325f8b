"""Why an estimate is refused. Each refusal says what is wrong, where, and what to do."""


class WeldingRefusal(ValueError):
    """The estimate cannot be made from what was given; the message is a sentence for people."""


class NoProcedure(WeldingRefusal):
    """No welding procedure covers this steel, component or day."""


class CavityRefusal(WeldingRefusal):
    """The zone cannot be gouged and rebuilt as described."""


class OutsideValidity(WeldingRefusal):
    """A formula was asked for a value outside the range its source gives for it."""


class RowRefusal(WeldingRefusal):
    """A row in a TOML file is missing, misspelt or out of its range."""
