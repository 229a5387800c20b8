"""Loading a trial: what the user names, checked and handed to the core.

``load``
    the one function that is called
``arguments``, ``wide_names``, ``earlier``
    each argument, looked at; names of a wide sheet's columns; what earlier trials hand on
``planned``
    a record sheet joined with its plan
``going_on``
    the line that goes on after an error
"""

from rootling._loading.load import load_trial

__all__ = ["load_trial"]
