"""Publishing: the finished site onto the disk, and the only room that writes there.

In: addresses with their bytes, a folder of assets, a folder of photos. Out: a site swapped in whole, or
the old one untouched and the reasons. Must not know: records, reckoning.
"""
