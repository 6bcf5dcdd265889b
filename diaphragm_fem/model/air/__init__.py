"""Air around a part in two dimensions, in the gap before a face or free before a baffle.

`section` is the gap with its slots, up to what lies beyond their ends; `open_air` free air up to a hemisphere, beyond
it `spherical_waves`. Both are assembled from the same forms.
"""
