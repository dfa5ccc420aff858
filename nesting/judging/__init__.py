"""Judging an old boat before she is taken apart: what is worth pulling, and in which order.

``old_boat`` is she as members and joints, ``read_old_boat`` reads her from a file with the usual
joints of her build; ``ways`` are those of parting a joint, ``clear_runs`` and ``yields`` what a
member then gives, ``choice`` what to save, by an exact programme; ``order`` when, ``forecast`` what
the pile will come to. Nothing here needs the packer but the forecast.
"""
