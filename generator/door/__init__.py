"""The door that every step of a build asks through, and its memory between builds.

In: steps, each a function of what it asks for. Out: answers, made again only where something they asked for changed.
Must not know journals, pages or how anything is calculated.
"""
