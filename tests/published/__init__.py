"""Checks against the world outside: published tables, certified values, reference libraries.

What is calculated, from what, the value expected, how near, from which source and how that value is known: all this is
in the chapters of generator/nature/published/, which the methods page of every site shows. The other tables of this
folder have the numbers of nature a second time, each as its source gives it.
"""
