"""Publishing: write the finished site to disk. No other room writes a site.

In: addresses with their bytes, a folder of assets, a folder of photos. Out: the whole new site in place, or
the old one unchanged and the reasons; a finished site shown on this computer. Must not know: records,
calculation.
"""
