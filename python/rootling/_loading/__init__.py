"""Loading a trial: what the user names, checked and handed to the core.

``load``
    the one function that is called
``arguments``, ``wide_names``
    each argument, looked at; names of a wide sheet's columns
``measured``
    what else was measured, as the core takes it
``about``
    what is told of the trial beside its counts
``planned``, ``read_back``, ``misfits``, ``cautions``, ``rows``
    a record sheet and its plan: what loading needs of them, the two joined, rows that cannot be of this plan, what to
    warn of, rows as they stand
``of_engine``
    tables that an engine holds: cuttings counted there, rows set aside written there
``going_on``
    the line that goes on after an error
"""

from rootling._loading.load import load_trial

__all__ = ["load_trial"]
