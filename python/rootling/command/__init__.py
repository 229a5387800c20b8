"""The command line: ``rootling check``, ``answer``, ``report``, ``decide``, ``verify``, ``plan``, ``steps``, ``demo``.

``run``
    one command from its words to its exit code; Ctrl-C, closed pipes, errors as one sentence
``writing``
    what can be written: the commands with their options and their help
``parser``
    the reader of the words, whose mistakes are told in our own
``roles``
    options that say which column is what, and the trial that follows from them
``guessed``
    columns that bear exactly the name of a role
``asking``
    check, answer, report, verify: what a trial is asked
``deciding``
    decide: levels weighed in money
``planning``
    plan: trays, power and layouts
``stepping``
    steps: takes, yields and starts of a chain
``showing``
    the demo
``told``
    what is printed, at the width of the terminal
``spoken``
    sentences that show options of Python, as options of the command line
``waiting``
    signs of life while something takes long
``mistakes``
    commands that are not understood, and the codes that a command ends with
"""

from rootling.command.run import main

__all__ = ["main"]
