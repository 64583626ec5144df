"""The errors a user can mend: each message is one line that says what, where and what to do."""


class PuttvisionError(Exception):
    """Input that is not fit for the step; shown to the user as one line, exit code 1."""


class ClipError(PuttvisionError):
    """The file is no clip that can be read, or holds too little to measure."""


class GreenError(PuttvisionError):
    """The sheets, the hole or the gate cannot be placed in this clip."""


class HoleNotFoundError(GreenError):
    """Sheets and camera are known, but no hole is seen."""


class PuttsFileError(PuttvisionError):
    """A putts.json that cannot be read or does not hold to its format."""


class SceneFileError(PuttvisionError):
    """A scene.json that cannot be read or does not hold to its format."""


class DrillError(PuttvisionError):
    """A drill that is not known, or rules or options that do not fit it."""


class JournalError(PuttvisionError):
    """A journal that cannot be opened, or something asked of it that is not there."""


class ConflictError(JournalError):
    """Someone else changed the same thing in the meantime: look again before changing it."""


class CardError(PuttvisionError):
    """A score card that cannot be opened, or a drill that cannot be scored by eye."""
