"""What a script calls: packing, referee, account and files, with usual values and no command line.

The package's own first file names what stands here; nothing of ours imports from here.
"""
