"""The shipped procedures, read once in each process of the tests."""

from functools import cache

from sidecue.assets import data_folder
from sidecue.procedure.library import Library
from sidecue.procedure.loading import load_library


@cache
def shipped() -> Library:
    """Return the shipped library. Nothing in it can be changed."""
    return load_library(data_folder("flows"))
