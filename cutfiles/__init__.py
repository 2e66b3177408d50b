"""cutfiles: from an order of sewn caps to cut files that have been read back and proved.

The data flows one way, and the packages stand in its order::

    job -> pieces -> lay -> cuts -> files -> verdict -> preview

``pipeline`` is the one place that wires them; ``cli`` is the one place that prints.
"""

from cutfiles.errors import CutfilesError

__version__ = "0.1.0"
__all__ = ["CutfilesError", "__version__"]
