"""The exported state chart beside our own machine."""
