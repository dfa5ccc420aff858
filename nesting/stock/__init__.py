"""The salvaged stock: boards, their keep-outs, and how they are recorded."""
